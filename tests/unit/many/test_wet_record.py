"""The worst days of a record: day by day from a season of the same days, and by hand."""

import datetime

import numpy as np
import pytest

from bedtide import example_bed, read_weather, run_season, sample_weather
from bedtide.bed import brimful_weight, plan_area
from bedtide.many import Wanted, place_spells, wet_record
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

FINE = {"mix.top.medium": "peat fine", "mix.wick.medium": "peat fine", "box.depth": "34 cm"}


@pytest.fixture(scope="module")
def three_years():
    whole = read_weather(sample_weather())
    return whole.sel(time=slice("2018-01-01", "2020-12-31"))


@pytest.mark.parametrize("bed", [example_bed(), bed_with(FINE)], ids=["example", "fine peat"])
def test_it_is_what_a_season_of_the_same_days_shows(bed, three_years):
    (record,), least = wet_record([bed], three_years)
    season = run_season(bed, three_years)
    count, wet, under, runs, now, spills = 0, 0, 0, [0], 0, 0
    airs, depths = {}, {}
    for number, day in enumerate(season["time"].to_numpy().astype("datetime64[D]").tolist()):
        one = {name: float(season[name][number]) for name in (
            "root_depth", "air_root_zone", "aerated_depth", "air_depth_needed", "rim_spill"
        )}  # fmt: skip
        spills += one["rim_spill"] > 0
        bad = False
        if one["root_depth"] > 0:
            count += 1
            airs[day], depths[day] = one["air_root_zone"], one["aerated_depth"]
            under += one["air_root_zone"] < 0.13
            bad = one["air_root_zone"] < 0.10 or (
                one["aerated_depth"] < one["air_depth_needed"] - 1e-9
            )
            assert least[number] == pytest.approx(one["air_root_zone"])
        else:
            assert np.isinf(least[number])
        wet += bad
        now = now + 1 if bad else 0
        runs.append(now)
    assert (record.days, record.rooted_days, record.wet_days) == (1096, count, wet)
    assert (record.low_air_days, record.longest_wet, record.spill_days) == (
        under,
        max(runs),
        spills,
    )
    assert record.air == (pytest.approx(min(airs.values())), min(airs, key=airs.__getitem__))
    assert record.airy_depth.value == pytest.approx(min(depths.values()))
    out = season["overflow"].to_numpy()
    assert record.overflow.value == pytest.approx(out.max())
    assert record.overflow.day == season["time"].to_numpy().astype("datetime64[D]").tolist()[
        int(out.argmax())
    ]  # fmt: skip
    water = season["open_water"] + season["mix_water"] + season["standing_water"]
    parts = brimful_weight(bed)
    heaviest = parts.mix + parts.reservoir + 1000 * plan_area(bed) * float(water.max())
    assert record.weight.value == pytest.approx(heaviest)
    assert record.weight.value < parts.total


def test_a_winter_storm_on_a_bare_bed_counts_for_the_outlet_and_not_for_roots():
    """60 mm on 10 January, when nothing grows, are the most that the overflow must pass."""
    rain = {"2021-01-10": 60.0, "2021-06-20": 30.0}
    weather = plain_weather("2021-01-01", 365, et0_mm=2.0, rain_mm=rain)
    (record,), _ = wet_record([bed_with()], weather)
    assert record.overflow.day == datetime.date(2021, 1, 10)
    assert 0.0 < record.overflow.value < 0.060  # the mix keeps some
    assert record.air.day is not None
    assert datetime.date(2021, 5, 10) <= record.air.day
    assert record.rooted_days == 145  # 30 + 40 + 45 + 30 of a tomato
    (bare,), least = wet_record([bed_with({"planting": []})], weather)
    assert (bare.rooted_days, bare.wet_days, bare.air.day) == (0, 0, None)
    assert np.isinf(least).all()


def test_the_spell_is_that_which_was_hardest_on_roots_of_those_that_rained():
    """Three days with 20 mm early, three with 18 later: air says that the later was harder."""
    rain = {f"2021-06-{d}": 20.0 for d in (11, 12, 13)} | {f"2021-08-0{d}": 18.0 for d in (1, 2, 3)}
    weather = plain_weather("2021-01-01", 365, rain_mm=rain)
    air = np.full(365, 0.30)
    days = weather["time"].to_numpy().astype("datetime64[D]")
    air[(days >= np.datetime64("2021-08-01")) & (days <= np.datetime64("2021-08-03"))] = 0.12
    air[(days >= np.datetime64("2021-07-01")) & (days <= np.datetime64("2021-07-09"))] = 0.01
    (found,) = place_spells([bed_with()], weather, [Wanted(3)], air=air)
    assert found.spell.first == datetime.date(2021, 8, 1)  # July was drier than half of June
    (wettest,) = place_spells([bed_with()], weather, [Wanted(3)])
    assert wettest.spell.first == datetime.date(2021, 6, 11)


def test_beds_of_which_some_have_roots_share_the_least_air():
    weather = plain_weather("2021-01-01", 365, et0_mm=2.0)
    early = bed_with({"planting.0.planted": "03-01", "planting.0.crop": "lettuce"})
    late = bed_with()
    (_, _), both = wet_record([early, late], weather)
    (_,), one = wet_record([early], weather)
    (_,), other = wet_record([late], weather)
    np.testing.assert_array_equal(both, np.minimum(one, other))


def test_half_a_metre_of_rain_on_a_blocked_outlet_goes_over_the_rim_once():
    """All of a box of 42 cm could not hold 500 mm, were it empty; the next day nothing falls."""
    weather = plain_weather("2021-01-01", 365, et0_mm=2.0, rain_mm={"2021-07-10": 500.0})
    (record,), _ = wet_record([bed_with({"overflow.state": "blocked"})], weather)
    assert (record.spill_days, record.rim_spill.day) == (1, datetime.date(2021, 7, 10))
    assert 0.08 < record.rim_spill.value < 0.5
    assert record.overflow == (0.0, None)  # nothing leaves a blocked outlet
    assert record.weight.day == datetime.date(2021, 7, 10)
    assert record.weight.value == pytest.approx(brimful_weight(bed_with()).total, rel=1e-3)
    assert record.air.day == datetime.date(2021, 7, 10)
    assert record.air.value == pytest.approx(0.0, abs=1e-3)


def test_where_no_rain_falls_nothing_overflows_on_any_day():
    (record,), _ = wet_record([bed_with()], plain_weather("2021-01-01", 365))
    assert (record.rim_spill, record.spill_days) == ((0.0, None), 0)
