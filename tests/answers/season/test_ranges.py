"""Headlines of a season as ranges: those of the runs, and what matters most is named."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from bedtide.answers.season import summary
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
    headline = " ".join(lines).partition(" For a typical")[0]
    assert f"{litres.low:,.0f} to {litres.high:,.0f} L in all, 8 times in 10" in headline
    assert litres.typical == pytest.approx(season.refill_litres)
    assert lines[1].startswith("For a typical mix and plants: Fill this bed about every")


def test_what_matters_most_is_named_once(season):
    text = told(season)
    assert text.count("The water poured in hangs most on how ") == 1
    assert "64 sets of values for mix, plants, place and rain were drawn together" in text
    assert "All of this is for a typical mix" not in text
    assert text.count("Check the level in the bed with a stick") == 1


def test_us_units(season):
    line = told(season, "us").splitlines()[0]
    assert "US gal in all" in line
    assert " L " not in line


def test_days_on_which_plants_go_short_stand_in_the_headline(season):
    ranged = season.range | {"dry_days": replace(season.range["dry_days"], low=0.0, high=46.6)}
    assert "; even so the plants go short on 0 to 47 days." in told(replace(season, range=ranged))
    ranged |= {"wet_days": replace(season.range["wet_days"], low=3.0, high=20.0)}
    assert "47 days; the roots lack air on 3 to 20 days." in told(replace(season, range=ranged))
    none = season.range | {"dry_days": replace(season.range["dry_days"], low=0.0, high=0.0)}
    assert "even so" not in told(replace(season, range=none)).splitlines()[0]


def test_a_set_fails_with_more_dry_days_by_the_wick_than_a_tenth(monkeypatch):
    """Of 64 sets, 13 lift too slowly on 11 of 100 days with demand, six on 10."""
    wick = np.repeat([0.0, 11.0, 10.0, 0.0], [1, 13, 6, 45])  # the first is the bed as described
    asked: list[tuple[list[datetime.date], int]] = []
    names = ("interval_median", "refill_count", "refill_volume", "wet_days", "limited_days")
    read = {name: ("bed", np.arange(65.0)) for name in names}
    found = xr.Dataset({**read, "wick_days": ("bed", wick), "demand_days": 100.0})
    for name, given in {
        "near": lambda weather, *ends: weather,
        "drawn_demand": lambda *given: None,
        "run_many": lambda beds, weather, starts, **words: asked.append((starts, words["days"])),
        "readable": lambda *given: xr.Dataset(coords={"year": [2021]}),
        "all_readings": lambda run: found,
    }.items():
        monkeypatch.setattr(summary, name, given)
    ranges = season_ranges(bed_with(), None, FIRST, LAST)
    assert {each.failing for each in ranges.values()} == {13}
    assert {each.runs for each in ranges.values()} == {64}
    assert asked == [([FIRST], 365)]


def test_sets_that_would_starve_the_plants_are_counted(season):
    own = replace(season.range["refill_litres"], failing=13)
    text = told(replace(season, range=season.range | {"refill_litres": own}))
    assert "In 13 of 64 sets the plants would go short even with the reservoir full" in text
    own = replace(own, failing=0)
    assert "sets the plants" not in told(
        replace(season, range=season.range | {"refill_litres": own})
    )
