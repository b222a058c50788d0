"""Each mistake in a description: the message names file, key and value, and how to mend it."""

import tomllib
from pathlib import Path

import pytest

from bedtide import errors
from bedtide.bed import bed_from_mapping, bed_from_text, example_text, read_bed, read_mapping
from bedtide.errors import (
    ChoiceError,
    FileError,
    InputError,
    SeveralErrors,
    UnitError,
)
from helpers.beds import bed_with, described

NAMES = {
    "STONE": '{ form = "stone", height = "15 cm", void_share = "90 %", wick_share = "10 %", '
    'wick_foot = "0 cm" }',
    "BENCH": '{ height = "20 cm", total_porosity = "85 %", air_after_draining = "18 %", '
    'like = "peat" }',
    "TOMATO": '{ crop = "tomato", planted = "05-10", area_share = "60 %" }',
    "LETTUCE": '{ crop = "lettuce", planted = "05-20", area_share = "60 %" }',
    "CHANGE": '{ from = "10-15", to = "04-15", height = "4 cm" }',
}


def mistakes():
    """Changes to the plain description, key to leave out, kind of error, parts of its text."""
    text = (Path(__file__).parent / "bad_descriptions.txt").read_text("utf-8")
    lines = [line for line in text.splitlines() if line[0] != "#"]
    for first, second in zip(lines[::2], lines[1::2], strict=True):
        name, _, told = first.partition(": ")
        changes, without = {}, ""
        for change in told.split("; "):
            key, _, value = change.partition(" = ")
            if key.startswith("- "):
                without = key[2:]
                continue
            for word, table in NAMES.items():
                value = value.replace(word, table)
            changes[key] = tomllib.loads(f"value = {value}")["value"]
        kind, *parts = second.strip().split(" | ")
        yield pytest.param(changes, without, getattr(errors, kind), parts, id=name)


@pytest.mark.parametrize(("changes", "without", "kind", "parts"), list(mistakes()))
def test_message(changes, without, kind, parts):
    with pytest.raises(InputError) as caught:
        bed_with(changes, without=without)
    assert type(caught.value) is kind, caught.value
    text = str(caught.value)
    assert text.startswith("bed.toml, ")
    for part in parts:
        assert part in text
    for leak in ("%s", "{problem", "None", "nan", "bedtide.", "pydantic", "float", "Traceback"):
        assert leak not in text
    assert all(line.endswith((".", ":", "?")) for line in text.splitlines())


def test_all_mistakes_together():
    changes = {
        "box.depht": "42 cm",
        "reservoir.count": 9,
        "mix.wick.medium": "pete",
        "planting.0.crop": "tomatoe",
        "watering.share": "130 %",
    }
    with pytest.raises(SeveralErrors) as caught:
        bed_with(changes)
    assert len(caught.value.errors) == len(changes)
    for key in changes:
        assert f"bed.toml, {key}" in str(caught.value)


def test_geometry_is_checked_beside_a_mistake_elsewhere():
    with pytest.raises(SeveralErrors) as caught:
        bed_with({"overflow.height": "61 cm", "planting.0.crop": "tomatoe"})
    assert {error.where.split(" = ")[0] for error in caught.value.errors} == {
        "bed.toml, overflow.height",
        "bed.toml, planting.0.crop",
    }


def test_an_empty_description_lists_what_is_needed():
    with pytest.raises(SeveralErrors) as caught:
        bed_from_text("", where="bed.toml")
    assert [error.where for error in caught.value.errors] == [
        f"bed.toml, {name}"
        for name in ("bed", "box", "reservoir", "overflow", "mix", "planting", "watering")
    ]


@pytest.mark.parametrize("name", ["outside", "inside"])
def test_lip_is_not_judged_by_a_reservoir_that_is_wrong(name):
    with pytest.raises(UnitError):
        bed_with({f"reservoir.{name}": "4"})


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[box]\ndepth = 42 cm\n", ["bed.toml, line 2", "not TOML", "depth = 42 cm"]),
        ("[box\n", ["bed.toml, line 1", "not TOML", "[box"]),
        ("a = 1\na = 2\n", ["bed.toml, line 2", "not TOML"]),
        ('a = "open', ["bed.toml, line 1", "not TOML"]),
    ],
)
def test_broken_toml_names_its_line(text, parts):
    with pytest.raises(FileError) as caught:
        bed_from_text(text, where="bed.toml")
    for part in parts:
        assert part in str(caught.value)


@pytest.mark.parametrize("read", [read_bed, read_mapping])
def test_files_that_are_not_descriptions(read, tmp_path):
    (tmp_path / "bed.toml").write_text(example_text(), encoding="utf-8")
    with pytest.raises(FileError, match=r"no such file") as caught:
        read(tmp_path / "bad.toml")
    assert "bed.toml" in caught.value.hint
    with pytest.raises(FileError, match=r"no such file") as caught:
        read(tmp_path / "nowhere" / "bed.toml")
    assert "nowhere" in caught.value.hint
    with pytest.raises(FileError, match=r"a folder"):
        read(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'[bed]\nname = "Gem\xfcse"\n')
    with pytest.raises(FileError, match=r"line 2: not UTF-8") as caught:
        read(tmp_path / "latin.toml")
    assert "UTF-8" in caught.value.hint


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    def refuse(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.read_bytes", refuse)
    with pytest.raises(FileError, match="can't be read: permission denied"):
        read_bed(tmp_path / "bed.toml")


def test_no_file_nearby(tmp_path):
    with pytest.raises(FileError) as caught:
        read_bed(tmp_path / "bed.toml")
    assert "bedtide new" in caught.value.hint


def test_mistakes_of_a_file_carry_its_name(tmp_path):
    path = tmp_path / "back yard.toml"
    path.write_text(example_text().replace('"17 in"', '"17"'), encoding="utf-8")
    with pytest.raises(UnitError) as caught:
        read_bed(path)
    assert str(caught.value).startswith('back yard.toml, box.depth: "17" has no unit.')


def test_a_long_value_is_cut():
    with pytest.raises(ChoiceError) as caught:
        bed_from_mapping(described({"mix.wick.medium": "x" * 500}))
    assert len(str(caught.value)) < 300
