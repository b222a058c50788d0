"""What is said where the supply of the surface decides, and where a day was solved coarsely."""

import dataclasses
import re

import numpy as np
import pytest

from bedtide.answers.season.days import table_of_days
from bedtide.answers.season.summary import summary_of
from bedtide.balance import run_season
from bedtide.balance.demand import demand_of
from bedtide.bed import example_bed
from bedtide.readings import surface_supply
from bedtide.report.templates import render
from bedtide.tables import sample_weather
from bedtide.weather import read_weather
from helpers.beds import bed_with
from helpers.seasons import by_hand, drought_by_hand, season_from_mm

CERTAIN = "How well this mix keeps its surface wet is the least certain figure here"


def said(season, **changes):
    summary = dataclasses.replace(summary_of(season), **changes)
    return render("answers/season/text.j2", s=summary).splitlines()


def drying(asked, lost, left):
    """Days without plants: evaporation asked for and got, open water left (2 mm out of reach)."""
    days = len(asked)
    return season_from_mm(
        "2023-07-01",
        before=(left[0], 100.0, 0.0),
        mm={
            "rain_in": [0] * days,
            "refill": [0] * days,
            "transpiration": [0] * days,
            "evaporation": lost,
            "evaporation_potential": asked,
            "rise": [0] * days,
            "open_water": left,
            "mix_water": list(100.0 - np.cumsum(lost)),
        },
    )


def test_supply_counts_the_days_with_water_in_the_reservoir():
    # the third day ends with 0.4 mm within reach, the fourth with none: both are left out
    season = drying([5, 5, 5, 5], [4, 2, 1, 0], [20, 2.5, 2.4, 2])
    found = surface_supply(season)
    assert float(found["evaporation_potential_total"]) == pytest.approx(0.020)
    assert float(found["surface_supply"]) == pytest.approx(0.6)


def test_supply_is_missing_where_nothing_was_asked_for_with_water_at_hand():
    assert np.isnan(float(surface_supply(drying([5, 5], [1, 1], [2, 2]))["surface_supply"]))
    assert np.isnan(float(surface_supply(drying([0, 0], [0, 0], [20, 20]))["surface_supply"]))


def test_supply_keeps_beds_apart():
    wet, dry = drying([5, 5], [5, 5], [20, 20]), drying([5, 5], [1, 0], [20, 20])
    import xarray as xr

    both = xr.concat([wet, dry], dim="bed", data_vars="all")
    assert surface_supply(both)["surface_supply"].to_numpy() == pytest.approx([1.0, 0.1])


def test_a_surface_that_dries_above_water_is_said_to_be_least_certain():
    lines = said(drying([5, 5], [4, 3.9], [20, 20]))
    assert len([line for line in lines if line.startswith(CERTAIN) and "--range" in line]) == 1


def test_a_surface_that_keeps_up_is_not_spoken_of():
    assert CERTAIN not in "\n".join(said(drying([5, 5], [4, 4], [20, 20])))  # four fifths
    assert CERTAIN not in "\n".join(said(by_hand()))


def test_an_empty_reservoir_says_nothing_of_the_surface():
    assert CERTAIN not in "\n".join(said(drying([5, 5], [0.2, 0.1], [2, 2])))


def test_plants_short_above_water_speak_of_the_surface_too():
    season = drought_by_hand()
    assert summary_of(season).dry_days_wick_limited == 1
    assert CERTAIN in "\n".join(said(season))
    assert CERTAIN not in "\n".join(said(season, dry_days_wick_limited=0))


@pytest.mark.parametrize(("days", "start"), [(1, "On 1 day the"), (12, "On 12 days the")])
def test_days_that_were_solved_coarsely_are_counted(days, start):
    season = by_hand()
    season["safe_step_days"] = float(days)
    assert summary_of(season).safe_step_days == days
    lines = said(season)
    assert f"{start} fine solution failed and a coarser one was used." in lines


def test_where_none_was_nothing_is_said():
    assert summary_of(by_hand()).safe_step_days == 0
    assert not re.search("coarser", "\n".join(said(by_hand())))


def test_what_the_weather_asked_stands_in_the_summary_and_last_in_the_table():
    season = drying([5, 4], [4, 3], [20, 20])
    assert summary_of(season).evaporation_asked_mm == pytest.approx(9.0)
    assert summary_of(season).surface_supply_percent == pytest.approx(100 * 7 / 9)
    metric, us = table_of_days(season), table_of_days(season, units="us")
    assert metric.columns[-1] == "evaporation_asked_mm"
    assert list(metric["evaporation_asked_mm"]) == pytest.approx([5.0, 4.0])
    assert us.columns[-1] == "evaporation_asked_inch"
    assert list(us["evaporation_asked_inch"] * 25.4) == pytest.approx([5.0, 4.0])


def test_a_run_carries_what_its_weather_asked():
    weather = read_weather(sample_weather())
    bed = example_bed()
    season = run_season(bed, weather, start="2023-06-01", end="2023-08-31")
    asked = season["evaporation_potential"]
    energy = demand_of(bed, weather).energy
    at = int((season["time"][0] - weather["time"][0]) / np.timedelta64(1, "D"))
    assert (asked.to_numpy() == energy[at : at + 92]).all()
    assert asked.attrs["units"] == "m d-1"
    assert (season["evaporation"] <= asked + 1e-12).all()


def test_a_deep_bare_bed_of_bark_speaks_of_its_surface_and_those_of_peat_and_coir_do_not():
    weather = read_weather(sample_weather())
    changes = {"planting": [], "box.depth": "43 cm", "watering": {"when": "every n days"}}
    changes["watering.every"] = "1 day"

    def year(mix):
        mixes = {"mix.wick.medium": mix, "mix.top.medium": mix}
        bed = bed_with({**changes, **mixes})
        return run_season(bed, weather, start="2023-05-01", end="2023-09-30")

    assert CERTAIN in "\n".join(said(year("pine bark fine")))
    for mix in ("peat", "coir"):
        assert CERTAIN not in "\n".join(said(year(mix)))
