"""Any key of a description can be set to another value."""

import copy

import pytest
import tomlkit

from bedtide.bed import bed_from_mapping, fit_beside, mark_of, with_fit, with_value
from bedtide.bed.vary import varied_keys
from bedtide.errors import FieldError
from helpers.beds import LAYER, bed_with, described


def test_the_original_stays():
    mapping = described()
    before = copy.deepcopy(mapping)
    changed = with_value(mapping, "planting.0.area_share", "25 %")
    assert mapping == before
    assert bed_from_mapping(changed).plantings[0].area_share == 0.25


def test_a_key_left_to_its_default_can_be_set():
    changed = with_value(described(), "site.exposure", "1.2")
    assert bed_from_mapping(changed).site.exposure == 1.2


def test_letter_case_of_the_key():
    assert with_value(described(), "Box.Depth", "50 cm")["box"]["depth"] == "50 cm"


@pytest.mark.parametrize(
    ("start", "key", "value", "gone"),
    [
        ({}, "overflow.centre", "10 cm", ("overflow", "height")),
        ({}, "reservoir.gap", "4 cm", ("reservoir", "count")),
        ({"mix.top": {"recipe": {"peat": 1, "perlite": 1}}}, "mix.top.medium", "coir", None),
    ],
)
def test_another_way_to_say_it_replaces_the_first(start, key, value, gone):
    changed = with_value(described({"overflow.bore": "2 cm", **start}), key, value)
    if gone:
        assert gone[1] not in changed[gone[0]]
    else:
        assert list(changed["mix"]["top"]) == ["medium"]
    bed_from_mapping(changed)


def test_every_key_that_is_listed_can_be_set():
    mapping = described(
        {
            "mix.top": {"recipe": {"peat": "60 %", "perlite": "40 %"}},
            "mix.wick": {
                "bench": {
                    "height": "20 cm",
                    "total_porosity": "85 %",
                    "air_after_draining": "18 %",
                    "like": "peat",
                }
            },
            "overflow.change": [{"from": "10-15", "to": "04-15", "height": "4 cm"}],
        }
    )
    keys = varied_keys(mapping)
    for key in (
        "box.depth",
        "reservoir.count",
        "overflow.change.0.from",
        "mix.top.recipe.perlite",
        "mix.wick.bench.like",
        "planting.0.crop",
        "watering.share",
        "start.level",
    ):
        assert key in keys
    assert len(keys) == len(set(keys))
    for key in keys:
        changed = with_value(mapping, key, "mark")
        inner = changed
        for name in key.split("."):
            inner = inner[int(name)] if isinstance(inner, list) else inner[name]
        assert inner == "mark"


def test_keys_follow_the_form():
    layer = varied_keys(described({"reservoir": {"form": "stone", **LAYER}}))
    assert "reservoir.wick_share" in layer
    assert "reservoir.count" not in layer
    assert "reservoir.count" in varied_keys(described())


def test_a_medium_with_dots_in_a_recipe():
    mapping = described({"mix.top": {"recipe": {"mix no. 2": 1}}})
    assert with_value(mapping, "mix.top.recipe.mix no. 2", 3)["mix"]["top"]["recipe"] == {
        "mix no. 2": 3
    }


@pytest.mark.parametrize(
    ("key", "near"),
    [("box.dept", "box.depth"), ("planting.1.crop", "planting.0.crop"), ("depth", "box.depth")],
)
def test_no_such_key(key, near):
    with pytest.raises(FieldError) as caught:
        with_value(described(), key, "1 m", where="--vary")
    assert caught.value.where == "--vary"
    assert f'"{key}"' in caught.value.problem
    assert near in caught.value.hint


def test_nothing_near_lists_all():
    with pytest.raises(FieldError) as caught:
        with_value(described(), "zzzzzz", "1 m")
    assert "box.depth" in caught.value.expected


FIT = {"demand": 1.1, "surface_supply": 0.9, "lift": 1.2, "readings": 12}


@pytest.mark.parametrize(
    ("key", "value", "problem"),
    [
        ("demand", 9, "demand: no such factor"),
        ("lift", None, "lift: no such factor"),
        ("surface_supply", "much", "surface_supply: no such factor"),
        ("readings", None, "readings: no such number"),
        ("readings", 0, "readings: no such number"),
        ("made_for", "another", "made for another bed than tub.toml describes now"),
    ],
)
def test_a_fit_that_was_tampered_with(tmp_path, key, value, problem):
    bed = bed_with()
    fit = {"bed": bed.name, "made_for": mark_of(bed), **FIT}
    path = fit_beside(tmp_path / "tub.toml")
    path.write_text(tomlkit.dumps(fit), encoding="utf-8")
    told = with_fit(bed, tmp_path / "tub.toml").fitted
    assert told.startswith("plain was fitted to 12 of its own readings (tub.fit.toml)")
    fit = {name: each for name, each in {**fit, key: value}.items() if each is not None}
    path.write_text(tomlkit.dumps(fit), encoding="utf-8")
    with pytest.raises(FieldError, match=problem):
        with_fit(bed, tmp_path / "tub.toml")
