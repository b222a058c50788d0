"""Headlines of a season as ranges: those of the runs, and what matters most is named."""

import datetime

import pytest

from bedtide.answers.season.summary import season_ranges, summary_of
from bedtide.balance import run_season
from bedtide.report.templates import render
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

FIRST, LAST = datetime.date(2021, 1, 1), datetime.date(2021, 12, 31)


@pytest.fixture(scope="module")
def season():
    weather = plain_weather("2021-01-01", 365)
    bed = bed_with({"planting.0.area_share": "100 %"})
    ranges = season_ranges(bed, weather, FIRST, LAST)
    return summary_of(run_season(bed, weather, start=FIRST, end=LAST), ranges)


def told(season, units: str = "metric") -> str:
    return render("answers/season/text.j2", units=units, s=season)


def test_the_range_stands_in_the_first_line(season):
    lines = told(season).splitlines()
    days, fills, litres = (
        season.range[key] for key in ("days_between_refills_median", "refills", "refill_litres")
    )
    assert lines[0].startswith(f"Fill this bed every {days.low:.0f} to {days.high:.0f} days ")
    assert f"{fills.low:.0f} to {fills.high:.0f} fills" in lines[0]
    assert f"{litres.low:,.0f} to {litres.high:,.0f} L in all" in lines[0]
    assert litres.typical == pytest.approx(season.refill_litres)
    assert lines[1].startswith("For a typical mix and plants: Fill this bed about every")


def test_what_matters_most_is_named_once(season):
    text = told(season)
    assert text.count("What matters most is ") == 1
    assert "All of this is for a typical mix" not in text
    assert text.count("Check the level in the bed with a stick") == 1


def test_us_units(season):
    line = told(season, "us").splitlines()[0]
    assert "US gal in all" in line
    assert " L " not in line
