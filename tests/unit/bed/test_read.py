"""From a description to the typed objects."""

import datetime
from dataclasses import replace

import pytest
from pydantic import ValidationError

from bedtide.bed import (
    Box,
    Crates,
    FalseFloor,
    Pipes,
    Site,
    Stone,
    Surface,
    Watering,
    bed_from_mapping,
    bed_from_text,
    bed_text,
    example_bed,
    example_text,
    read_bed,
    read_mapping,
)
from bedtide.mix import blend, fit_bench, medium
from helpers.beds import LAYER, bed_with, described


def test_plain_bed():
    bed = bed_with()
    assert bed.name == "plain"
    assert bed.box == Box(2.0, 0.6, 0.42, 0.03)
    assert bed.reservoir == Pipes(0.1, 0.12, 4, 2.0)
    assert (bed.overflow.height, bed.overflow.bore, bed.overflow.state) == (0.09, None, "open")
    assert bed.wick_mix == medium("peat")
    assert bed.top_mix == medium("potting mix")
    assert [(p.crop.name, p.planted, p.area_share) for p in bed.plantings] == [
        ("tomato", (5, 10), 0.6)
    ]


def test_documented_defaults():
    bed = bed_with()
    assert bed.surface == Surface(open_to_rain=1.0, covered=0.0, mulch_share=0.0)
    assert bed.site == Site(None, None, 1.0)
    assert bed.start_level == 1.0
    assert bed.watering == Watering("below share", share=0.3, volume=None, check_every=1)


def test_text_and_file_give_the_same_bed(tmp_path):
    path = tmp_path / "bed.toml"
    path.write_text("\ufeff" + example_text(), encoding="utf-8")
    assert read_bed(path) == example_bed()
    assert bed_from_mapping(read_mapping(path)) == example_bed()


def test_description_reads_back():
    bed = bed_with({"overflow.change": [{"from": "10-15", "to": "04-15", "height": "4 cm"}]})
    assert bed_from_text(bed_text(bed)) == bed
    assert bed_text(example_bed()) == example_text()


def test_example_says_that_it_is_invented():
    assert "invented" in example_text().splitlines()[0]
    assert len(example_bed().plantings) >= 2
    assert example_bed().wick_mix != example_bed().top_mix


@pytest.mark.parametrize(
    ("form", "kind"), [("crates", Crates), ("false floor", FalseFloor), ("stone", Stone)]
)
def test_layers(form, kind):
    bed = bed_with({"reservoir": {"form": form, **LAYER, "wick_foot": "2 cm"}})
    assert bed.reservoir == kind(0.15, 0.9, 0.1, 0.02)


def test_without_legs_no_foot_is_asked_for():
    keys = {"form": "Stone", "height": "15 cm", "void_share": 0.4, "wick_share": 0}
    assert bed_with({"reservoir": keys}).reservoir == Stone(0.15, 0.4, 0.0, 0.0)


@pytest.mark.parametrize(
    ("gap", "count"),
    [("1 mm", 4), ("4 cm", 4), ("4.1 cm", 3), ("12 cm", 3), ("12.1 cm", 2), ("50 cm", 1)],
)
def test_count_from_the_gap(gap, count):
    # 60 cm wide, 12 cm pipes: n pipes and n - 1 gaps must fit. 4 pipes leave 12 cm: 3 gaps of 4.
    mapping = described({"reservoir.gap": gap}, without="reservoir.count")
    assert bed_from_mapping(mapping).reservoir.count == count


def test_recipe_in_shares_and_in_parts():
    shares = bed_with({"mix.top": {"recipe": {"Peat": "60 %", "perlite": 0.4}}}).top_mix
    parts = bed_with({"mix.top": {"recipe": {"peat": 3, "perlite": 2}}}).top_mix
    assert shares == blend({"peat": 0.6, "perlite": 0.4})
    assert (shares.alpha, shares.n) == pytest.approx((parts.alpha, parts.n))


def test_bench_measurement():
    keys = {
        "height": "20 cm",
        "total_porosity": "85 %",
        "air_after_draining": "18 %",
        "like": "peat",
    }
    bed = bed_with({"mix.top": {"bench": keys, "name": "from the shed"}})
    assert bed.top_mix == fit_bench(0.2, 0.85, 0.18, like="peat", name="from the shed")


def test_stated_numbers_replace_those_of_the_table():
    typical = medium("peat")
    stated = {"k_s": "2 m/d", "l": 0.5, "alpha": "0.12 1/cm"}
    mix = bed_with({"mix.wick": {"medium": "peat", **stated}}).wick_mix
    assert (mix.k_s, mix.l, mix.alpha) == (2.0, 0.5, pytest.approx(12.0))
    # The spread of conductivity stays as wide as it was, around the new value.
    assert mix.k_s_low / mix.k_s == pytest.approx(typical.k_s_low / typical.k_s)
    assert mix.l_high - mix.l == pytest.approx(typical.l_high - typical.l)
    assert (mix.alpha_low, mix.alpha_high) == (None, None)
    assert "k_s" in mix.notes[-1]
    assert mix.n == typical.n


def test_named_medium():
    assert bed_with({"mix.wick.name": "bale from 2026"}).wick_mix.name == "bale from 2026"


def test_planting_with_all_keys():
    planting = {
        "crop": "Lettuce",
        "planted": datetime.date(2027, 4, 1),
        "removed": "2027-06-20",
        "area_share": "25 %",
        "canopy": 1.1,
        "stages": ["20 days", "30 days", "15 days", "10 days"],
    }
    (found,) = bed_with({"planting": [planting]}).plantings
    assert found.crop.name == "lettuce"
    assert found.planted == datetime.date(2027, 4, 1)
    assert found.removed == datetime.date(2027, 6, 20)
    assert (found.area_share, found.canopy, found.stages) == (0.25, 1.1, (20, 30, 15, 10))


def test_a_date_with_a_time_of_day():
    planted = datetime.datetime(2027, 4, 1, 12)
    (found,) = bed_with({"planting.0.planted": planted}).plantings
    assert found.planted == datetime.date(2027, 4, 1)


def test_one_crop_after_another_may_share_the_bed():
    first = {"crop": "lettuce", "planted": "03-01", "removed": "05-01", "area_share": 1.0}
    second = {"crop": "tomato", "planted": "05-01", "area_share": 1.0}
    assert len(bed_with({"planting": [first, second]}).plantings) == 2


def test_bare_bed():
    assert bed_with({"planting": []}).plantings == ()


@pytest.mark.parametrize(
    ("keys", "rule"),
    [
        ({"when": "never"}, Watering("never")),
        ({"when": "Every n days", "every": "1 week"}, Watering("every n days", every=7)),
        (
            {"when": "weekdays", "weekdays": ["Thursday", "mon"], "amount": "40 L"},
            Watering("weekdays", weekdays=(0, 3), volume=0.04),
        ),
        (
            {"when": "weekdays", "weekdays": "sat+sun", "amount": "to the lip"},
            Watering("weekdays", weekdays=(5, 6)),
        ),
        (
            {"when": "below share", "share": 0.5, "check_every": "3 days"},
            Watering("below share", share=0.5, check_every=3),
        ),
    ],
)
def test_watering(keys, rule):
    assert bed_with({"watering": keys}).watering == rule


@pytest.mark.parametrize(
    ("given", "degrees"), [(44.5, 44.5), (-33, -33.0), ("33.9 S", -33.9), ("44.5° N", 44.5)]
)
def test_latitude(given, degrees):
    site = bed_with({"site": {"latitude": given, "elevation": "100 ft", "exposure": 1.2}}).site
    assert site == Site(degrees, 30.48, 1.2)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"overflow": {"height": 0.61}}, "above the rim at 42 cm. Expected between 0 cm and 39 cm"),
        ({"box": {"length": 2.0, "width": 0.6, "depth": -0.42, "freeboard": 0.0}}, "negative"),
        ({"watering": {"when": "below share"}}, 'when = "below share" needs it'),
        ({"reservoir": Pipes(0.1, 0.12, 5)}, "side by side|touch one another"),
        ({"start_level": 1.5}, "at most 100 %"),
        ({"plantings": ({"crop": "tomatoe", "planted": (5, 10), "area_share": 0.5},)}, "table of"),
    ],
)
def test_a_bed_changed_in_python_is_checked_in_si_units(changes, said):
    with pytest.raises(ValidationError, match=said):
        replace(bed_with(), **changes)


def test_a_bed_made_in_python_takes_numbers_in_si_units_and_text_with_units():
    assert Box("2 m", "60 cm", 0.42, "3 cm") == Box(2.0, 0.6, 0.42, 0.03)
    pipes = replace(bed_with(), reservoir=Pipes(0.1, 0.12, gap=0.04)).reservoir
    assert (pipes.count, pipes.run, pipes.gap) == (4, 2.0, None)
    with pytest.raises(ValidationError, match="depht"):
        Box(2.0, 0.6, 0.42, 0.03, depht=1.0)


def test_a_bed_is_a_value():
    bed = bed_with()
    assert bed == bed_with()
    assert bed != bed_with({"box.depth": "43 cm"})
    with pytest.raises(AttributeError):
        bed.name = "other"
