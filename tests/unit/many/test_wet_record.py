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


def only(found):
    """The record of a single bed, and the air of its roots."""
    records, air = found
    return records.isel(bed=0), air


def worst(record, name):
    """A figure and the day on which it was so, None where there was none."""
    return float(record[name]), record[f"{name}_day"].to_numpy().astype("datetime64[D]").item()


@pytest.fixture(scope="module")
def three_years():
    whole = read_weather(sample_weather())
    return whole.sel(time=slice("2018-01-01", "2020-12-31"))


@pytest.mark.parametrize("bed", [example_bed(), bed_with(FINE)], ids=["example", "fine peat"])
def test_it_is_what_a_season_of_the_same_days_shows(bed, three_years):
    record, least = only(wet_record([bed], three_years))
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
    names = ("days", "rooted_days", "wet_days", "low_air_days", "longest_wet_spell")
    counts = [int(record[name]) for name in (*names, "rim_spill_days")]
    assert counts == [1096, count, wet, under, max(runs), spills]
    assert worst(record, "air_lowest") == (
        pytest.approx(min(airs.values())),
        min(airs, key=airs.__getitem__),
    )
    assert float(record["aerated_depth_lowest"]) == pytest.approx(min(depths.values()))
    out = season["overflow"].to_numpy()
    day = season["time"].to_numpy().astype("datetime64[D]")[out.argmax()].item()
    assert worst(record, "overflow_largest") == (pytest.approx(out.max() * plan_area(bed)), day)
    water = season["open_water"] + season["mix_water"] + season["standing_water"]
    parts = brimful_weight(bed)
    heaviest = parts.mix + parts.reservoir + 1000 * plan_area(bed) * float(water.max())
    assert float(record["weight_largest"]) == pytest.approx(heaviest)
    assert heaviest < parts.total


def test_a_winter_storm_on_a_bare_bed_counts_for_the_outlet_and_not_for_roots():
    """60 mm on 10 January, when nothing grows, are the most that the overflow must pass."""
    rain = {"2021-01-10": 60.0, "2021-06-20": 30.0}
    weather = plain_weather("2021-01-01", 365, et0_mm=2.0, rain_mm=rain)
    record, _ = only(wet_record([bed_with()], weather))
    litres, day = worst(record, "overflow_largest")
    assert day == datetime.date(2021, 1, 10)
    assert 0.0 < litres / plan_area(bed_with()) < 0.060  # the mix keeps some
    assert datetime.date(2021, 5, 10) <= worst(record, "air_lowest")[1]
    assert int(record["rooted_days"]) == 145  # 30 + 40 + 45 + 30 of a tomato
    bare, least = only(wet_record([bed_with({"planting": []})], weather))
    assert (int(bare["rooted_days"]), int(bare["wet_days"])) == (0, 0)
    assert worst(bare, "air_lowest")[1] is None
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
    both, one, other = (wet_record(beds, weather)[1] for beds in ([early, late], [early], [late]))
    np.testing.assert_array_equal(both, np.minimum(one, other))


def test_half_a_metre_of_rain_on_a_blocked_outlet_goes_over_the_rim_once():
    """All of a box of 42 cm could not hold 500 mm, were it empty; the next day nothing falls."""
    weather = plain_weather("2021-01-01", 365, et0_mm=2.0, rain_mm={"2021-07-10": 500.0})
    bed = bed_with({"overflow.state": "blocked"})
    record, _ = only(wet_record([bed], weather))
    storm = datetime.date(2021, 7, 10)
    spilt, day = worst(record, "rim_spill_largest")
    assert (int(record["rim_spill_days"]), day) == (1, storm)
    assert 0.08 < spilt / plan_area(bed) < 0.5
    assert worst(record, "overflow_largest") == (0.0, None)  # nothing leaves a blocked outlet
    full = brimful_weight(bed_with()).total
    assert worst(record, "weight_largest") == (pytest.approx(full, rel=1e-3), storm)
    assert worst(record, "air_lowest") == (pytest.approx(0.0, abs=1e-3), storm)


def test_where_no_rain_falls_nothing_overflows_on_any_day():
    record, _ = only(wet_record([bed_with()], plain_weather("2021-01-01", 365)))
    assert (worst(record, "rim_spill_largest"), int(record["rim_spill_days"])) == ((0.0, None), 0)
