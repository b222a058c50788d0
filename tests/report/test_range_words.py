"""Headlines as ranges: the numbers are those of the runs, and what matters most is named."""

import datetime

import pytest

from bedtide.answers.compare.ranges import (
    compare_range_figures,
    compare_range_lines,
    compare_ranges,
)
from bedtide.answers.compare.run import compare
from bedtide.answers.compare.tables import compare_summary
from bedtide.answers.season.ranges import season_range_figures, season_range_report, season_ranges
from bedtide.answers.season.tables import season_summary
from bedtide.answers.season.words import season_report
from bedtide.balance import run_season
from bedtide.many import varied_beds, whole_years
from helpers.beds import bed_with, described
from helpers.plain_weather import plain_weather

FIRST, LAST = datetime.date(2021, 1, 1), datetime.date(2021, 12, 31)


@pytest.fixture(scope="module")
def season():
    weather = plain_weather("2021-01-01", 365)
    bed = bed_with({"planting.0.area_share": "100 %"})
    figures = season_summary(run_season(bed, weather, start=FIRST, end=LAST))
    figures["range"] = season_range_figures(season_ranges(bed, weather, FIRST, LAST))
    return figures


def test_the_range_stands_in_the_first_line(season):
    lines = season_range_report(season_report(season), season)
    days, fills, litres = (
        season["range"][key] for key in ("days_between_refills_median", "refills", "refill_litres")
    )
    assert lines[0].startswith(
        f"Fill this bed every {days['low']:.0f} to {days['high']:.0f} days "
        f"({days['typical']:.0f} for typical values) "
    )
    assert f"{fills['low']:.0f} to {fills['high']:.0f} fills" in lines[0]
    assert f"{litres['low']:,.0f} to {litres['high']:,.0f} L in all" in lines[0]
    assert litres["typical"] == pytest.approx(season["refill_litres"])
    assert lines[1].startswith("For typical values: fill this bed")


def test_what_matters_most_is_named_once(season):
    text = "\n".join(season_range_report(season_report(season), season))
    assert text.count("What matters most is ") == 1
    assert "All of it is for typical values" not in text
    assert text.count("check the level in the bed with a stick") == 1


def test_us_units(season):
    line = season_range_report(season_report(season, units="us"), season, units="us")[0]
    assert "US gal in all" in line
    assert " L " not in line


@pytest.fixture(scope="module")
def compared():
    weather = plain_weather("2021-01-01", 365)
    variants = varied_beds(described(), {"box.depth": ["32 cm", "42 cm"]}, where="bed.toml")
    beds = [variant.bed for variant in variants]
    years = whole_years(weather)
    figures = compare_summary(compare(beds, weather, years=years))
    ranges = compare_ranges(beds, weather, years=years)
    figures["range"] = compare_range_figures(ranges, ["A", "B"])
    return figures


def test_every_bed_has_its_ranges_around_the_typical(compared):
    for bed in compared["beds"]:
        found = compared["range"]["beds"][bed["bed"]]
        assert found["refill_litres_mean"]["typical"] == pytest.approx(bed["refill_litres_mean"])
        for doubt in found.values():
            assert doubt["low"] <= doubt["typical"] <= doubt["high"]
    text = "\n".join(compare_range_lines(compared))
    low, high = (
        compared["range"]["beds"]["A"]["refill_litres_mean"][key] for key in ("low", "high")
    )
    assert f"{low:,.0f} to {high:,.0f}" in text


def test_the_choice_under_every_set_of_values(compared):
    assert len(compared["range"]["choices"]) == 11
    assert compared["range"]["choices"][0] == compared["choice"]
    same = {**compared, "range": {**compared["range"], "choices": [compared["choice"]] * 11}}
    assert f"The choice stays {compared['choice']} with all 11 sets of values." in "\n".join(
        compare_range_lines(same)
    )
    other = "A" if compared["choice"] == "B" else "B"
    mixed = [compared["choice"]] * 7 + [other] * 4
    text = "\n".join(
        compare_range_lines({**compared, "range": {**compared["range"], "choices": mixed}})
    )
    assert f"{compared['choice']} with 7 of 11 sets of values, {other} with 4." in text
