"""Figures and tables of a comparison: as in the Dataset, the same in both systems of units."""

import json
from dataclasses import replace

import numpy as np
import pytest

from bedtide.answers.compare.summary import summary_of, table_of_beds, table_of_years
from bedtide.files import json_text, plain
from bedtide.many import compare_ranges, varied_beds
from bedtide.many.comparison import compare
from helpers.beds import described
from helpers.comparisons import comparison
from helpers.plain_weather import plain_weather


@pytest.fixture(scope="module")
def found():
    return comparison()


@pytest.fixture(scope="module")
def summary(found):
    return summary_of(found)


def test_figures_are_those_of_the_dataset(found, summary):
    assert [bed.bed for bed in summary.beds] == ["A", "B", "C", "D"]
    assert summary.years == 2
    assert summary.first_days == ("2021-01-01", "2022-01-01")
    assert (summary.wet_air_limit_percent, summary.room_cm) == (10, 20)
    for number, bed in enumerate(summary.beds):
        one = found.isel(bed=number)
        area = float(one["plan_area"])
        assert bed.refills_mean == pytest.approx(float(one["refill_count"].mean()))
        litres = one["refill_volume"].to_numpy() * 1000
        assert bed.refill_litres_mean == pytest.approx(litres.mean())
        assert bed.refill_litres_p10 == pytest.approx(litres.min())
        assert bed.refill_litres_p90 == pytest.approx(litres.max())
        assert bed.wet_days_max == int(one["wet_days"].max())
        assert bed.lowest_air_percent_min == pytest.approx(100 * float(one["air_lowest"].min()))
        overflow = one["overflow_total"].to_numpy() * area * 1000
        assert bed.overflow_litres_mean == pytest.approx(overflow.mean())
        gaps = one["interval_count"].to_numpy().tolist()
        assert bed.years_with_two_refills == len(gaps) - gaps.count(0)
        assert bed.full_kg == float(one["brimful_weight"])
        assert bed.full_kg == pytest.approx(bed.full_water_kg + bed.dry_mix_kg + bed.reservoir_kg)


def test_figures_are_plain_json_and_endless_ones_have_no_value(found):
    endless = found.copy(deep=True)
    endless["interval_median_p90"][1] = np.inf
    endless["interval_median_median"][2] = np.inf
    parsed = json.loads(json_text(summary_of(endless)))
    assert parsed["beds"][1]["days_between_refills_p90"] is None
    assert parsed["beds"][2]["days_between_refills_median"] is None
    assert "range" not in parsed
    assert "wet_spell" not in parsed


def test_years_with_one_fill_alone_have_no_gap_to_tell(found):
    rare = found.copy(deep=True)
    rare["interval_count"][:] = [[0, 0], [0, 1], [3, 0], [2, 1]]
    assert [bed.years_with_two_refills for bed in summary_of(rare).beds] == [0, 1, 1, 2]


@pytest.mark.parametrize(("cm", "roomy"), [(19.4, False), (19.5, True), (20, True), (30, True)])
def test_roots_have_room_in_20_cm_told_to_the_centimetre(summary, cm, roomy):
    assert replace(summary.beds[0], mix_above_reservoir_cm=cm).roomy == roomy


# Days without air, and without water, of beds of this depth above the reservoir; which fail.
@pytest.mark.parametrize(
    ("wet", "dry", "cm", "fails", "most"),
    [
        ([1, 4, 3, 9], [2, 0, 0, 9], [30] * 4, [False] * 4, 5),
        ([0, 4, 6, 9], [0, 1, 0, 9], [30] * 4, [True, False, False, False], 7),
        ([0, 4, 6, 9], [0, 1, 0, 9], [15, 15, 30, 30], [False] * 4, 8),
        ([0, 4, 6, 9], [0, 1, 0, 9], [15, 30, 15, 15], [False, True, False, False], 2),
        ([60, 70, 80, 90], [0] * 4, [30] * 4, [True] * 4, 62),
    ],
    ids=["all are good", "the best fails", "the best lack room", "none has room", "all fail"],
)
def test_a_bed_may_want_two_days_more_than_the_best(summary, wet, dry, cm, fails, most):
    beds = tuple(
        replace(bed, wet_days_mean=w, dry_days_mean=d, mix_above_reservoir_cm=c, fails=f)
        for bed, w, d, c, f in zip(summary.beds, wet, dry, cm, fails, strict=True)
    )
    assert replace(summary, beds=beds).most_want == most


def test_a_single_bed_is_not_chosen(found):
    assert summary_of(found.isel(bed=[0])).choice is None


def test_tables_hold_the_same_figures_in_both_systems(summary):
    metric, us = table_of_beds(summary), table_of_beds(summary, units="us")
    first = summary.beds[0]
    assert len(metric) == len(us) == 4
    assert list(metric) == list(plain(first))
    assert not [name for name in us if "litres" in name or "_kg" in name or "_m2" in name]
    assert us["refill_US_gal_mean"][0] * 3.785411784 == pytest.approx(first.refill_litres_mean)
    assert us["full_lb_per_ft2"][0] * 4.882428 == pytest.approx(first.full_kg_per_m2, rel=1e-6)
    assert us["mix_above_reservoir_inch"][0] * 2.54 == pytest.approx(15.0)
    assert us["plan_area_ft2"][0] * 0.09290304 == pytest.approx(first.plan_area_m2)


def test_one_row_for_each_bed_and_year(found, summary):
    table = table_of_years(found)
    assert len(table) == 8
    assert table["bed"].tolist() == list("AABBCCDD")
    assert str(table["from"][1].date()) == "2022-01-01"
    first = table[table["bed"] == "A"]
    assert first["refill_L"].mean() == pytest.approx(summary.beds[0].refill_litres_mean)
    assert first["overflow_L"].mean() == pytest.approx(summary.beds[0].overflow_litres_mean)
    gallons = table_of_years(found, units="us")["refill_US_gal"]
    assert gallons[0] * 3.785411784 == pytest.approx(table["refill_L"][0])


def test_every_bed_has_its_ranges_around_the_typical():
    weather = plain_weather("2021-01-01", 365)
    variants = varied_beds(described(), {"box.depth": ["32 cm", "42 cm"]}, where="bed.toml")
    beds = [variant.bed for variant in variants]
    result = compare(beds, weather)
    ranges = compare_ranges(beds, weather, result)
    compared = summary_of(result, ranges)
    assert compared.range is not None
    for bed in compared.beds:
        own = compared.range.beds[bed.bed]
        for name, doubt in own.items():
            assert doubt.typical == pytest.approx(getattr(bed, name))
            assert doubt.low <= doubt.typical <= doubt.high
    assert len(compared.range.choices) == 64
    assert plain(compared)["range"]["choices"] == list(compared.range.choices)
