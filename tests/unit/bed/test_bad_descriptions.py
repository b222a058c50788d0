"""Each mistake in a description: the message names file, key and value, and how to mend it."""

import pytest

from bedtide.bed import bed_from_mapping, bed_from_text, example_text, read_bed, read_mapping
from bedtide.errors import (
    ChoiceError,
    FieldError,
    FileError,
    InputError,
    RangeError,
    SeveralErrors,
    UnitError,
)
from helpers.beds import LAYER, bed_with, described

STONE = {"form": "stone", **LAYER}
BENCH = {"height": "20 cm", "total_porosity": "85 %", "air_after_draining": "18 %", "like": "peat"}
LETTUCE = {"crop": "lettuce", "planted": "05-20", "area_share": "60 %"}
CHANGE = {"from": "10-15", "to": "04-15", "height": "4 cm"}

# changes to the plain description, key to take out, kind of error, parts that the text must hold
CASES = {
    # keys
    "unknown key": ({"box.dpth": "42 cm"}, "", FieldError, ["box.dpth", "no such key", '"depth"']),
    "key of another section": (
        {"box.height": "9 cm"},
        "",
        FieldError,
        ["box.height", "no such key", "overflow"],
    ),
    "key like no other": (
        {"box.zzzzzzzz": "42 cm"},
        "",
        FieldError,
        ["box.zzzzzzzz", "no such key", "length, width, depth, freeboard"],
    ),
    "unknown section": ({"boxes": {}}, "", FieldError, ["boxes", "no such section", '"box"']),
    "unknown mix": ({"mix.side": {}}, "", FieldError, ["mix.side", "[mix.wick]"]),
    "missing key": ({}, "box.depth", FieldError, ["box.depth: missing", 'depth = "42 cm"']),
    "missing section": ({}, "overflow", FieldError, ["overflow: missing", "[overflow]"]),
    "missing mix": ({}, "mix.top", FieldError, ["mix.top: missing", "[mix.top]"]),
    "no plantings stated": ({}, "planting", FieldError, ["planting: missing", "planting = []"]),
    "section is a value": ({"box": "42 cm"}, "", FieldError, ["box", "not a section", "[box]"]),
    "one bracket": (
        {"planting": LETTUCE},
        "",
        FieldError,
        ["planting", "not a list of crops", "[[planting]]"],
    ),
    "change with one bracket": (
        {"overflow.change": CHANGE},
        "",
        FieldError,
        ["overflow.change", "[[overflow.change]]"],
    ),
    "planting is a word": (
        {"planting": ["tomato"]},
        "",
        FieldError,
        ["planting.0", "[[planting]]"],
    ),
    "name is a number": ({"bed.name": 5}, "", FieldError, ["bed.name = 5", "not text"]),
    # numbers
    "missing unit": (
        {"box.depth": "42"},
        "",
        UnitError,
        ["box.depth", '"42" has no unit', "42 cm"],
    ),
    "bare number": ({"box.depth": 42}, "", UnitError, ["box.depth", "42 has no unit", "42 cm"]),
    "wrong unit": ({"box.depth": "42 L"}, "", UnitError, ["box.depth", "42 L", "does not fit"]),
    "no number": ({"box.depth": "deep"}, "", UnitError, ["box.depth", "deep", "42 cm"]),
    "which gallon": (
        {"watering.amount": "5 gal"},
        "",
        UnitError,
        ["watering.amount", "5 gal", "to the lip"],
    ),
    "negative depth": (
        {"box.depth": "-42 cm"},
        "",
        RangeError,
        ['box.depth = "-42 cm"', "negative", "at least 5 cm"],
    ),
    "zero width": ({"box.width": "0 in"}, "", RangeError, ['"0 in"', "too small", "0 in"]),
    "narrower than any bed": (
        {"box.width": "1 mm"},
        "",
        RangeError,
        ['box.width = "1 mm"', "too small", "at least 5 cm"],
    ),
    "shallower than any bed": (
        {"box.depth": "1/2 in"},
        "",
        RangeError,
        ['box.depth = "1/2 in"', "too small", "at least 2 in"],
    ),
    "share over 100": (
        {"surface.open_to_rain": "120 %"},
        "",
        RangeError,
        ['surface.open_to_rain = "120 %"', "too large", "100 %"],
    ),
    "half a pipe": ({"reservoir.count": 3.5}, "", RangeError, ["reservoir.count = 3.5", "whole"]),
    "half a day": (
        {"watering.check_every": "36 h"},
        "",
        RangeError,
        ["watering.check_every", "whole number of days"],
    ),
    "volume": (
        {"watering.amount": "0 L"},
        "",
        RangeError,
        ["watering.amount", "too small", "more than 0 L", "100,000 L"],
    ),
    "thousands or decimals": (
        {"watering.amount": "1,500 US gal"},
        "",
        UnitError,
        ["watering.amount", "1,500 US gal", "may be 1500 or 1.500"],
    ),
    "volume in gallons": (
        {"watering.amount": "99999 US gal"},
        "",
        RangeError,
        ["watering.amount", "too large", "at most 26,417 US gal"],
    ),
    "days": (
        {"watering.check_every": "0 days"},
        "",
        RangeError,
        ["watering.check_every", "too small", "at least 1 days and at most 366 days"],
    ),
    "conductivity": (
        {"mix.wick.k_s": "0 m/d"},
        "",
        RangeError,
        ["mix.wick.k_s", "too small", "m/d"],
    ),
    "shape": ({"mix.wick.n": "steep"}, "", RangeError, ["mix.wick.n", "between 1.01 and 10"]),
    "pipes in words": ({"reservoir.count": "five"}, "", RangeError, ['"five"', "whole number"]),
    "latitude in words": ({"site.latitude": "north"}, "", RangeError, ["site.latitude", "44.5"]),
    "latitude": ({"site.latitude": 95}, "", RangeError, ["site.latitude = 95", "44.5"]),
    "exposure": ({"site.exposure": 9}, "", RangeError, ["site.exposure = 9", "0.3 and 1.5"]),
    # box and reservoir
    "freeboard": (
        {"box.freeboard": "42 cm"},
        "",
        RangeError,
        ["box.freeboard", "no room", "less than 42 cm"],
    ),
    "no form": ({}, "reservoir.form", FieldError, ["reservoir.form: missing", "pipes, crates"]),
    "unknown form": (
        {"reservoir.form": "stones"},
        "",
        ChoiceError,
        ['reservoir.form = "stones"', "no such form", '"stone"'],
    ),
    "saucer": (
        {"reservoir.form": "Saucer"},
        "",
        ChoiceError,
        ['reservoir.form = "Saucer"', "beside the pot, open to sun and wind", '"false floor"'],
    ),
    "inside over outside": (
        {"reservoir.inside": "13 cm"},
        "",
        RangeError,
        ['reservoir.inside = "13 cm"', "12 cm", "Measure both"],
    ),
    "pipes wider than the box": (
        {"reservoir.count": 6},
        "",
        RangeError,
        ["reservoir.count = 6", "72 cm", "60 cm", "at most 5 pipes"],
    ),
    "one pipe wider than the box": (
        {"box.width": "11 cm"},
        "",
        RangeError,
        ["reservoir.outside", "wider than the box, 11 cm"],
    ),
    "pipes touch": (
        {"reservoir.count": 5},
        "",
        RangeError,
        ["reservoir.count = 5", "no mix between them can wick", "one pipe less"],
    ),
    "run over length": (
        {"reservoir.run": "2.1 m"},
        "",
        RangeError,
        ['reservoir.run = "2.1 m"', "longer than the box, 2 m"],
    ),
    "count and gap": (
        {"reservoir.gap": "2 cm"},
        "",
        FieldError,
        ["reservoir", "both count and gap"],
    ),
    "neither count nor gap": ({}, "reservoir.count", FieldError, ["neither count nor gap"]),
    "pipes above the mix": (
        {"box.depth": "14 cm", "box.freeboard": "3 cm"},
        "",
        RangeError,
        ["reservoir.outside", "reaches the mix surface at 11 cm"],
    ),
    "key of another form": (
        {"reservoir": {**STONE, "inside": "10 cm"}},
        "",
        FieldError,
        ["reservoir.inside", "no such key", "pipes"],
    ),
    "layer above the mix": (
        {"reservoir": {**STONE, "height": "39 cm"}},
        "",
        RangeError,
        ["reservoir.height", "reaches the mix surface at 39 cm"],
    ),
    "no foot": (
        {"reservoir": {k: v for k, v in STONE.items() if k != "wick_foot"}},
        "",
        FieldError,
        ["reservoir.wick_foot: missing", "out of the plants' reach"],
    ),
    "foot above the layer": (
        {"reservoir": {**STONE, "wick_foot": "15 cm"}},
        "",
        RangeError,
        ["reservoir.wick_foot", "not below the top", "wick_share"],
    ),
    "all wick": (
        {"reservoir": {**STONE, "wick_share": 1}},
        "",
        RangeError,
        ["reservoir.wick_share"],
    ),
    # overflow
    "above the rim": (
        {"overflow.height": "61 cm"},
        "",
        RangeError,
        ['overflow.height = "61 cm"', "above the rim at 42 cm", "between 0 cm and 39 cm", "liner"],
    ),
    "above the mix": (
        {"overflow.height": "40 cm"},
        "",
        RangeError,
        ['overflow.height = "40 cm"', "above the mix surface at 39 cm", "between 0 cm and 39 cm"],
    ),
    "in inches": (
        {"overflow.height": "24 in"},
        "",
        RangeError,
        ['overflow.height = "24 in"', "above the rim at 16.5 in", "between 0 in and 15.4 in"],
    ),
    "below the bore": (
        {"overflow.height": "1 cm"},
        "",
        RangeError,
        ["overflow.height", "below the inside of the pipes, which begins at 1 cm"],
    ),
    "height and centre": (
        {"overflow.centre": "10 cm", "overflow.bore": "2 cm"},
        "",
        FieldError,
        ["overflow", "both height and centre"],
    ),
    "centre without bore": (
        {"overflow": {"centre": "10 cm"}},
        "",
        FieldError,
        ["overflow.bore", "missing", 'bore = "20 mm"'],
    ),
    "bore under the floor": (
        {"overflow": {"centre": "1 cm", "bore": "2 cm"}},
        "",
        RangeError,
        ["overflow.centre", "below the floor"],
    ),
    "no height": ({"overflow": {"state": "open"}}, "", FieldError, ["overflow", 'state = "none"']),
    "state": (
        {"overflow.state": "opened"},
        "",
        ChoiceError,
        ['overflow.state = "opened"', "open, blocked, none", '"open"'],
    ),
    "change above the mix": (
        {"overflow.change": [{**CHANGE, "height": "40 cm"}]},
        "",
        RangeError,
        ["overflow.change.0.height", "above the mix surface"],
    ),
    "change without end": (
        {"overflow.change": [{"from": "10-15", "height": "4 cm"}]},
        "",
        FieldError,
        ["overflow.change.0", "when the first height comes back", 'to = "04-15"'],
    ),
    "changes mixed": (
        {"overflow.change": [CHANGE, {"from": "2027-07-01", "height": "5 cm"}]},
        "",
        FieldError,
        ["overflow.change", "mixed"],
    ),
    "changes overlap": (
        {"overflow.change": [CHANGE, {"from": "12-01", "to": "12-31", "height": "5 cm"}]},
        "",
        FieldError,
        ["overflow.change.0.to", "another change", "do not overlap"],
    ),
    "centre of a change without bore": (
        {"overflow.change": [{"from": "10-15", "to": "04-15", "centre": "4 cm"}]},
        "",
        FieldError,
        ["overflow.bore", "missing"],
    ),
    "change ends before it begins": (
        {"overflow.change": [{"from": "2027-10-15", "to": "2027-04-15", "height": "4 cm"}]},
        "",
        FieldError,
        ["overflow.change.0.to", "before its own beginning"],
    ),
    "same day twice": (
        {"overflow.change": [CHANGE, {**CHANGE, "height": "5 cm"}]},
        "",
        FieldError,
        ["overflow.change.1.from", "the same day"],
    ),
    "change without outlet": (
        {"overflow": {"state": "none", "change": [CHANGE]}},
        "",
        FieldError,
        ["overflow.change", "no outlet"],
    ),
    # mixes
    "unknown medium": (
        {"mix.top.medium": "pottingmix"},
        "",
        ChoiceError,
        ['mix.top.medium = "pottingmix"', "not in the table of mixes", '"potting mix"', "list "],
    ),
    "medium in a recipe": (
        {"mix.top": {"recipe": {"peet": "60 %", "perlite": "40 %"}}},
        "",
        ChoiceError,
        ["mix.top.recipe.peet", "not in the table of mixes", '"peat"'],
    ),
    "recipe over 100": (
        {"mix.top": {"recipe": {"peat": "70 %", "perlite": "40 %"}}},
        "",
        RangeError,
        ["mix.top.recipe", "add up to 110 %", "100 %"],
    ),
    "empty recipe": ({"mix.top": {"recipe": {}}}, "", FieldError, ["mix.top.recipe", "no medium"]),
    "recipe is a word": ({"mix.top": {"recipe": "peat"}}, "", FieldError, ["mix.top.recipe"]),
    "medium and recipe": (
        {"mix.top.recipe": {"peat": 1}},
        "",
        FieldError,
        ["mix.top", "2 ways (medium, recipe)", "one of"],
    ),
    "no mix": ({"mix.top": {}}, "", FieldError, ["mix.top", "not described", "medium"]),
    "bench without a name to be like": (
        {"mix.top": {"bench": {k: v for k, v in BENCH.items() if k != "like"}}},
        "",
        FieldError,
        ["mix.top.bench.like: missing"],
    ),
    "bench key": (
        {"mix.top": {"bench": {**BENCH, "porosity": "85 %"}}},
        "",
        FieldError,
        ["mix.top.bench.porosity", "no such key", '"total_porosity"'],
    ),
    "bench that no curve fits": (
        {"mix.top": {"bench": {**BENCH, "air_after_draining": "84.9 %"}}},
        "",
        RangeError,
        ["mix.top.bench"],
    ),
    # crops
    "unknown crop": (
        {"planting.0.crop": "tomatoe"},
        "",
        ChoiceError,
        ['planting.0.crop = "tomatoe"', "not in the table of crops", '"tomato"', "list "],
    ),
    "crop is a number": ({"planting.0.crop": 3}, "", FieldError, ["planting.0.crop", "not text"]),
    "shares over 100 together": (
        {"planting": [{"crop": "tomato", "planted": "05-10", "area_share": "60 %"}, LETTUCE]},
        "",
        RangeError,
        ["planting", "05-20", "120%", "at most 100 %"],
    ),
    "two crops in one part": (
        {
            "planting": [
                {"crop": "tomato", "planted": "05-10", "area_share": "30 %", "part": "left"},
                {**LETTUCE, "area_share": "30 %", "part": "left"},
            ]
        },
        "",
        RangeError,
        ['"left"', "tomato (05-10 to 10-01) meets lettuce (05-20 to 08-02)", "removed"],
    ),
    "day first": (
        {"planting.0.planted": "25-05"},
        "",
        FieldError,
        ['planting.0.planted = "25-05"', "month first", "2027-05-10"],
    ),
    "no such day": (
        {"planting.0.planted": "2027-02-30"},
        "",
        FieldError,
        ["planting.0.planted", "no such day"],
    ),
    "leap day": ({"planting.0.planted": "02-29"}, "", FieldError, ["does not come every year"]),
    "not a day": ({"planting.0.planted": "May"}, "", FieldError, ['"May"', "not a day", "05-10"]),
    "removed before planted": (
        {"planting.0.planted": "2027-05-10", "planting.0.removed": "2027-05-01"},
        "",
        RangeError,
        ["planting.0.removed", "2027-05-01"],
    ),
    "three stages": (
        {"planting.0.stages": ["20 days", "30 days", "40 days"]},
        "",
        FieldError,
        ["planting.0.stages", "four"],
    ),
    "stages over a year": (
        {"planting.0.stages": ["100 days", "100 days", "100 days", "100 days"]},
        "",
        RangeError,
        ["planting.0.stages", "365"],
    ),
    # watering
    "rule": (
        {"watering.when": "sometimes"},
        "",
        ChoiceError,
        ['watering.when = "sometimes"', "below share, every n days, weekdays, never"],
    ),
    "share of the rule": (
        {"watering": {"when": "below share"}},
        "",
        FieldError,
        ["watering.share", 'when = "below share" needs it', "30 %"],
    ),
    "weekday": (
        {"watering": {"when": "weekdays", "weekdays": ["someday"]}},
        "",
        ChoiceError,
        ["watering.weekdays", '"someday" is not a day of the week', "mon"],
    ),
    "no weekday": (
        {"watering": {"when": "weekdays", "weekdays": []}},
        "",
        ChoiceError,
        ["watering.weekdays", "no day of the week"],
    ),
}


@pytest.mark.parametrize(("changes", "without", "kind", "parts"), CASES.values(), ids=CASES)
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
