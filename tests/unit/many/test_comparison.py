"""Comparisons with the model itself: worked by hand, facts of the trade, nothing mixed up."""

import sys

import numpy as np
import pytest

from bedtide import read_weather, sample_weather
from bedtide.balance import readable, run_many, run_season
from bedtide.bed import capacity, level_of, plan_area
from bedtide.errors import FieldError
from bedtide.many import compare_ranges, drawn_beds, drawn_demand, varied_beds, whole_years
from bedtide.many.choice import choose
from bedtide.many.comparison import SPREADS, compare
from bedtide.readings import all_readings
from helpers.beds import PLAIN, bed_with, described, rest_store
from helpers.plain_weather import plain_weather

SUMMER = {"crop": "tomato", "area_share": "100 %"}
LONG_MIDDLE = ["1 day", "1 day", "360 days", "3 days"]


@pytest.fixture(scope="module")
def two_years():
    """Two years: 5 mm a day of demand, a wet month in each, twice as wet in the second."""
    rain = {f"2021-06-{day:02}": 8.0 for day in range(1, 31)}
    rain |= {f"2022-06-{day:02}": 16.0 for day in range(1, 31)}
    return plain_weather("2021-01-01", 730, rain_mm=rain)


def test_a_known_store_is_emptied_to_its_mark_on_a_known_day():
    """5 mm of ET0 times Kcb 1.1 is 5.5 mm a day, under a cover that keeps rain and sun off.

    From rest over a full reservoir to rest at 30 % of it, bed and mix give what lies between the
    two states: peat lifts that at a suction that hardly differs from rest. A fill then goes to the
    lip at once, and the mix drinks its part of it again: from one fill to the next the bed uses
    70 % of the store, to the whole day. No model is needed.
    """
    planting = [{**SUMMER, "planted": "2020-12-28", "stages": LONG_MIDDLE}]
    peat = {"mix.top.medium": "peat", "surface": {"open_to_rain": "0 %", "covered": "100 %"}}
    bed = bed_with({"planting": planting, **peat})
    full = float(capacity(bed, 0.09))
    mark = float(level_of(0.3 * full, bed))
    first = (rest_store(bed, 0.09) - rest_store(bed, mark)) / 5.5e-3
    next_ones = 0.7 * full / 5.5e-3
    for days in (first, next_ones):
        assert 0.2 < days % 1 < 0.95, "too close to a whole day to tell"
    weather = plain_weather("2021-01-01", 365)
    years = whole_years(weather, first=(1, 1), last=(11, 30))  # 334 days
    found = compare([bed], weather, years=years).isel(bed=0, year=0)
    assert float(found["first_refill"]) == np.ceil(first)
    assert float(found["interval_median"]) == np.ceil(next_ones)
    assert float(found["transpiration_total"]) == pytest.approx(334 * 5.5e-3, rel=1e-3)
    assert float(found["evaporation_total"]) == 0


@pytest.mark.parametrize(("share", "mm"), [("100 %", 30.0), ("50 %", 15.0), ("0 %", 0.0)])
def test_a_known_storm_overflows_a_known_volume(share, mm):
    """A bed at rest over a full reservoir can hold nothing more: all that falls in runs out.

    The same year without the storm shows what the model's own rest lets run at its start.
    """
    bed = bed_with({"planting": [], "surface": {"open_to_rain": share}})
    without, storm = (
        compare([bed], plain_weather("2021-01-01", 365, et0_mm=0.0, rain_mm=rain)).isel(bed=0)
        for rain in ({}, {"2021-03-05": 30.0})
    )
    ran = float(storm["overflow_total"][0] - without["overflow_total"][0])
    assert float(storm["rain_in_total"][0]) * 1000 == pytest.approx(mm)
    assert ran * 1000 == pytest.approx(mm, abs=0.01)
    assert float(without["overflow_total"][0]) < 0.001
    assert float(storm["refill_count"][0]) == 0


def test_a_mix_that_conducts_less_well_gives_more_before_the_store_is_at_its_mark():
    """Potting mix is drier than at rest while it lifts as much: the store is drawn on later."""
    planting = [{**SUMMER, "planted": "2020-12-28", "stages": LONG_MIDDLE}]
    bed = bed_with({"planting": planting, "surface": {"open_to_rain": "0 %", "covered": "100 %"}})
    full = float(capacity(bed, 0.09))
    at_rest = rest_store(bed, 0.09) - rest_store(bed, float(level_of(0.3 * full, bed)))
    found = compare([bed], plain_weather("2021-01-01", 365)).isel(bed=0, year=0)
    assert at_rest / 5.5e-3 <= float(found["first_refill"]) < at_rest / 5.5e-3 + 3.0


def test_a_two_year_record_gives_two_cases_and_no_more(two_years):
    found = compare([bed_with()], two_years)
    assert found["year"].to_numpy().tolist() == [2021, 2022]
    rain = found["rain_in_total"].to_numpy()[0]
    np.testing.assert_allclose(rain, [0.24, 0.48])
    told = {"mean": 0.36, "p10": 0.24, "median": 0.36, "p90": 0.48, "min": 0.24, "max": 0.48}
    for name, value in told.items():
        assert float(found[f"rain_in_total_{name}"][0]) == pytest.approx(value), name


def test_each_year_starts_anew(two_years):
    both = compare([bed_with()], two_years)
    second = compare([bed_with()], two_years.sel(time=slice("2022-01-01", None)))
    for name in SPREADS:
        np.testing.assert_array_equal(both[name][0, 1], second[name][0, 0], name)


def test_a_bed_alone_is_the_same_bed_among_others_bit_for_bit(two_years):
    beds = [
        bed_with({"box.depth": "30 cm"}),
        bed_with({"overflow.height": "6 cm"}),
        bed_with({"surface": {"open_to_rain": "40 %", "covered": "60 %"}}),
        bed_with(),
    ]
    together, back = compare(beds, two_years), compare(beds[::-1], two_years)
    for number, bed in enumerate(beds):
        alone = compare([bed], two_years)
        for name in alone.data_vars:
            if name != "year_start":
                own = alone[name].to_numpy()[0]
                np.testing.assert_array_equal(together[name].to_numpy()[number], own, str(name))
                np.testing.assert_array_equal(back[name].to_numpy()[3 - number], own, str(name))


def test_beds_run_a_few_at_a_time_are_the_same(two_years, monkeypatch):
    beds = [bed_with(), bed_with({"overflow.height": "6 cm"}), bed_with({"box.depth": "30 cm"})]
    at_once = compare(beds, two_years)
    monkeypatch.setattr(sys.modules["bedtide.many.comparison"], "_AT_ONCE", 1)
    assert compare(beds, two_years).equals(at_once)


def facts(key: str, *values: str, weather, **changes):
    mapping = described(dict(changes))
    variants = varied_beds(mapping, {key: list(values)})
    return compare([variant.bed for variant in variants], weather)


@pytest.fixture(scope="module")
def showers():
    """A year with a shower every ninth day."""
    days = np.datetime64("2021-01-01") + np.arange(0, 365, 9)
    return plain_weather("2021-01-01", 365, et0_mm=4.0, rain_mm={str(day): 12.0 for day in days})


def test_deeper_beds_are_airier_and_heavier_and_wick_less(showers):
    """Common practice, no source."""
    found = facts("box.depth", "25 cm", "40 cm", "70 cm", weather=showers)
    assert (np.diff(found["air_lowest"].to_numpy()[:, 0]) > 0).all()
    assert (np.diff(found["brimful_weight"].to_numpy()) > 0).all()
    dry = plain_weather("2021-01-01", 365, et0_mm=6.0)
    late = facts("box.depth", "35 cm", "90 cm", weather=dry, **{"planting.0.area_share": "100 %"})
    assert float(late["wick_days"][0, 0]) <= float(late["wick_days"][1, 0])
    assert float(late["transpiration_ratio"][1, 0]) < 0.99


def test_a_higher_overflow_holds_more_and_wets_more(showers):
    """Common practice, no source."""
    found = facts("overflow.height", "4 cm", "7 cm", "10 cm", weather=showers)
    assert (np.diff(found["reservoir_volume"].to_numpy()) > 0).all()
    assert (np.diff(found["air_lowest"].to_numpy()[:, 0]) < 0).all()
    assert (np.diff(found["refill_count"].to_numpy()[:, 0]) < 0).all()


def test_a_roof_loses_rain_and_a_sheet_saves_evaporation(showers):
    """Common practice, no source."""
    roofed = facts("surface.open_to_rain", "0 %", "50 %", "100 %", weather=showers)
    assert (np.diff(roofed["rain_in_total"].to_numpy()[:, 0]) > 0).all()
    shut = facts("surface.covered", "0 %", "50 %", "100 %", weather=showers)
    assert (np.diff(shut["evaporation_total"].to_numpy()[:, 0]) < 0).all()
    assert np.ptp(shut["rain_in_total"].to_numpy()[:, 0]) == 0


def test_more_pipes_hold_more(showers):
    """Common practice, no source."""
    found = facts("reservoir.count", "2", "3", "4", weather=showers)
    assert (np.diff(found["reservoir_volume"].to_numpy()) > 0).all()
    assert (np.diff(found["mix_volume"].to_numpy()) < 0).all()


def test_years_with_fewer_than_two_fills_count_as_the_longest():
    weather = plain_weather("2021-01-01", 365, et0_mm=0.1)
    found = compare([bed_with()], weather).isel(bed=0)
    assert float(found["refill_count"][0]) < 2
    assert np.isnan(float(found["interval_median"][0]))
    assert np.isinf(float(found["interval_median_median"]))
    assert np.isnan(float(found["interval_median_mean"]))


def test_a_bare_bed_has_no_air_to_lack(two_years):
    found = compare([bed_with({"planting": []})], two_years).isel(bed=0)
    assert np.isnan(float(found["air_lowest_mean"]))
    assert float(found["wet_days_mean"]) == 0


def test_names_units_and_what_was_run(two_years):
    bed = bed_with({"box.length": "2 m"})
    found = compare([bed], two_years, labels=["mine"])
    held = float(capacity(bed, bed.overflow.height)) * plan_area(bed)
    assert float(found["reservoir_volume"][0]) == pytest.approx(held)
    assert float(found["mix_depth"][0]) == pytest.approx(0.42 - 0.03 - 0.12)  # freeboard, pipes
    assert found["label"].to_numpy().tolist() == ["mine"]
    for name in found.data_vars:
        assert found[name].attrs["long_name"], name
        if name not in ("year_start",):
            assert found[name].attrs["units"], name
    assert found.attrs["days_left_out"] == 0
    assert found.attrs["balance_error"] < 1e-9
    assert 'depth = "42 cm"' in found.attrs["bed_descriptions"][0]


def test_years_may_be_given(two_years):
    summer = whole_years(two_years, first=(6, 1), last=(6, 30))
    found = compare([bed_with()], two_years, years=summer)
    assert found["days"].to_numpy().tolist() == [[30, 30]]


def test_no_bed_at_all(two_years):
    with pytest.raises(FieldError, match="no bed"):
        compare([], two_years)


def test_described_is_not_changed_by_varying():
    before = described()
    varied_beds(PLAIN, {"box.depth": ["30 cm"]})
    assert before == PLAIN


def test_a_bed_that_nobody_fills_is_poured_nothing_and_is_no_good_bed():
    """By an account of its own: days on which the plants get under 90 % of what they ask for."""
    weather = plain_weather("2021-01-01", 365)
    rules = [{"when": "below share", "share": "30 %"}, {"when": "never"}]
    beds = [bed_with({"watering": rule, "planting.0.area_share": "100 %"}) for rule in rules]
    result = compare(beds, weather)
    season = run_season(beds[1], weather)
    asked, got = (season[n].to_numpy() for n in ("transpiration_potential", "transpiration"))
    short = int(((asked > 0) & (got < 0.9 * asked)).sum())
    assert short > 0.1 * 145  # days of tomato
    assert float(result["limited_days_mean"][1]) == short
    assert float(result["refill_volume_mean"][1]) == 0.0
    found = choose(result)
    assert found.pick == 0
    assert found.fails.tolist() == [False, True]
    assert found.beaten.tolist() == [False, True]


# --- ranges -----------------------------------------------------------------------------------


def test_ranges_are_those_of_ten_years_and_of_what_all_of_them_have_more():
    """Of twelve Junes with known rain, from the readings of every drawn bed in each of them."""
    mm = np.array([12, 3, 9, 1, 7, 11, 5, 2, 10, 4, 8, 6])  # on every second day, by year
    rain = {f"{2010 + at}-06-{day:02}": 1.0 * mm[at] for at in range(12) for day in range(1, 31, 2)}
    weather = plain_weather("2010-01-01", 4383, rain_mm=rain)
    years = whole_years(weather, first=(6, 1), last=(6, 30))
    bed = bed_with({"mix.top.medium": "peat fine", "box.depth": "40 cm"})
    found = compare_ranges([bed], weather, compare([bed], weather, years=years), years=years)
    drawn = drawn_beds(bed)
    demand = drawn_demand(drawn, weather)
    run = run_many(drawn.beds, weather, years.starts, days=30, demand=demand)
    read = all_readings(readable(run, weather))
    ten = (mm != 10) & (mm != 4)  # left out: the third and the ninth from the wettest on
    each, names = {}, ("wet_days", "limited_days", "refill_count", "refill_volume")
    for name in names:
        some, every = read[name].to_numpy()[:, ten].mean(axis=1), read[name].to_numpy()[0].mean()
        each[name] = np.maximum(some + every - some[0], 0.0)
    works = each["wet_days"] + each["limited_days"] <= 0.1 * 30
    kept = works[1:] | ~works[0]
    assert 0 < found.fails["A"] == 64 - works[1:].sum() < 64
    own = found.beds["A"]
    for name, values, these in (
        ("wet_days_mean", each["wet_days"], np.ones(64, bool)),
        ("dry_days_mean", each["limited_days"], np.ones(64, bool)),
        ("refills_mean", each["refill_count"], kept),
        ("refill_litres_mean", each["refill_volume"] * 1000.0, kept),
    ):
        ends = np.quantile(values[1:][these], [0.1, 0.9], method="weibull")
        assert own[name].typical == pytest.approx(values[0]), name
        assert (own[name].low, own[name].high) == pytest.approx(tuple(ends)), name
    assert own["wet_days_mean"].low < own["wet_days_mean"].typical < own["wet_days_mean"].high


def test_the_typical_headlines_are_those_of_the_season_itself():
    """A bed filled every ninth day, too seldom in summer; its dry days by an account of its own."""
    weather = plain_weather("2021-01-01", 365, et0_mm=6.0)
    rule = {"when": "every n days", "every": "9 days"}
    bed = bed_with({"watering": rule, "planting.0.area_share": "100 %"})
    own = compare_ranges([bed], weather, compare([bed], weather)).beds["A"]
    season = run_season(bed, weather)
    asked, got, poured = (
        season[n].to_numpy() for n in ("transpiration_potential", "transpiration", "refill")
    )
    short = int(((asked > 0) & (got < 0.9 * asked)).sum())
    assert short > 0
    assert own["dry_days_mean"].typical == short
    assert own["days_between_refills_median"].typical == 9
    assert own["refills_mean"].typical == (poured > 0).sum()
    assert own["refill_litres_mean"].typical == pytest.approx(poured.sum() * 1.2 * 1000.0)


def test_ranges_do_not_hang_on_the_order_of_the_beds():
    weather = plain_weather("2021-01-01", 365)
    keys = {"surface.mulch_share": ["0 %", "50 %"], "box.depth": ["32 cm", "42 cm"]}
    variants = varied_beds(described(), keys, where="bed.toml")
    beds = [variant.bed for variant in variants]
    there, back = (
        compare_ranges(order, weather, compare(order, weather)) for order in (beds, beds[::-1])
    )
    assert list(there.beds.values()) == list(back.beds.values())[::-1]
    assert list(there.fails.values()) == list(back.fails.values())[::-1]
    alone = compare_ranges(beds[:1], weather, compare(beds[:1], weather))
    assert (alone.beds["A"], alone.choices) == (there.beds["A"], ())


@pytest.mark.slow
def test_ten_years_spread_from_wet_to_dry_give_the_ranges_of_thirty(monkeypatch):
    weather = read_weather(sample_weather())
    bed = bed_with({"planting.0.area_share": "80 %"})
    result = compare([bed], weather)
    some = compare_ranges([bed], weather, result).beds["A"]
    monkeypatch.setattr("bedtide.many.comparison.YEARS_DRAWN", 30)
    every = compare_ranges([bed], weather, result).beds["A"]
    assert every["refills_mean"].typical == pytest.approx(some["refills_mean"].typical)
    for name, near in (("refills_mean", 0.03), ("refill_litres_mean", 0.03)):
        assert some[name].low == pytest.approx(every[name].low, rel=near)
        assert some[name].high == pytest.approx(every[name].high, rel=near)
    assert some["dry_days_mean"].high == pytest.approx(every["dry_days_mean"].high, abs=2.0)
