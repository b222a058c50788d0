"""Beds in rainy spells with the model itself: by hand, by facts of the trade, nothing mixed up."""

import datetime

import numpy as np
import pytest

from bedtide.balance import demand_of, run_many, run_season, variables_of
from bedtide.bed import mix_share, plan_area
from bedtide.constants import AIR_LIMIT
from bedtide.errors import FieldError
from bedtide.many import (
    Wanted,
    drawn_beds,
    least_depth,
    place_spells,
    spell_ranges,
    wet_spells,
)
from bedtide.many.wet_spell import in_spells, outlet_of
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

SPELL = {f"2021-06-{day:02}": 25.0 for day in range(11, 18)}
WET_MIX = {
    "mix.top.medium": "peat fine",
    "mix.wick.medium": "peat fine",
    "planting.0.planted": "03-01",  # grown, with all its roots, when the rain comes
}


@pytest.fixture(scope="module")
def weather():
    """A dry year of 3 mm a day with 25 mm on each of the seven days from 11 June."""
    return plain_weather("2021-01-01", 365, et0_mm=3.0, rain_mm=SPELL)


@pytest.fixture(scope="module")
def beds():
    return [bed_with(WET_MIX | {"box.depth": depth}) for depth in ("28 cm", "60 cm")]


@pytest.fixture(scope="module")
def found(beds, weather):
    placed = place_spells(beds, weather, [Wanted(7), Wanted(3)])
    return wet_spells(beds, placed, labels=["shallow", "deep"])


def test_days_are_those_around_the_spell(found):
    assert found["day"].to_numpy()[0] == -7
    assert str(found["spell_start"].to_numpy()[0])[:10] == "2021-06-11"
    assert float(found["spell_rain"][0]) == pytest.approx(0.175)
    rain = found["rain"].sel(day=slice(-1, 7)).isel(spell=0).to_numpy() * 1000
    np.testing.assert_allclose(rain, [0, 25, 25, 25, 25, 25, 25, 25, 0])
    # seven days before, the spell, 28 days after; the shorter spell has four days less
    assert np.isfinite(found["air_root_zone"].isel(bed=0, outlet=0).to_numpy()).sum(
        axis=-1
    ).tolist() == [
        42,
        38,
    ]


def test_the_open_bed_is_the_bed_of_an_ordinary_run(beds, weather, found):
    start = datetime.date(2021, 6, 11) - datetime.timedelta(days=120)
    season = run_season(beds[0], weather, start=start)
    days = slice("2021-06-04", "2021-07-15")
    for name in ("air_root_zone", "overflow", "level"):
        own = season[name].sel(time=days).to_numpy()
        np.testing.assert_array_equal(found[name].isel(spell=0, bed=0, outlet=0), own)


def test_until_the_eve_both_outlets_are_the_same_and_then_nothing_leaves_the_blocked(found):
    before = found.sel(day=slice(None, -1))
    for name in ("air_root_zone", "level", "air"):
        opened, shut = (before[name].sel(outlet=outlet) for outlet in ("open", "blocked"))
        np.testing.assert_array_equal(opened, shut)
    assert float(found["overflow"].sel(outlet="blocked", day=slice(0, None)).max()) == 0
    assert float(found["overflow"].sel(outlet="open").max()) > 0.01
    assert (
        found["air_lowest"].sel(outlet="blocked") <= found["air_lowest"].sel(outlet="open")
    ).all()


def test_a_blocked_overflow_changes_nothing_while_nothing_would_run_out(weather):
    """It takes the bed over as it stands on the eve: here half dry, for nobody waters it."""
    bed = bed_with({"watering": {"when": "never"}, "planting.0.planted": "03-01"})
    placed = place_spells([bed], weather, [Wanted(3, 0.002)])
    result = wet_spells([bed], placed).isel(spell=0, bed=0)
    assert float(result["overflow"].sum()) == 0
    np.testing.assert_allclose(
        result["level"].sel(outlet="blocked"), result["level"].sel(outlet="open"), atol=1e-9
    )


def test_a_full_blocked_bed_spills_all_that_still_falls(weather):
    """Once water stands at the rim, what rains in runs over: 25 mm less what dries off."""
    bed = bed_with({"planting": [], "box.depth": "20 cm", "overflow.height": "12 cm"})
    placed = place_spells([bed], weather, [Wanted(7)])
    spell = wet_spells([bed], placed).isel(spell=0, bed=0).sel(outlet="blocked")
    evaporation = spell["evaporation"].to_numpy()
    stands = spell["standing_water"].to_numpy()
    last = int(np.flatnonzero(spell["day"].to_numpy() == 6)[0])
    # rain ends in the afternoon; what dries off before night is missing from 3 cm in the evening
    assert 0.030 - 0.0036 <= stands[last] <= 0.030
    assert evaporation[last] == pytest.approx(1.2 * 0.003)
    lacking = 0.030 - stands[last - 1]
    expected = 0.025 - lacking - evaporation[last] + (0.030 - stands[last])
    assert float(spell["rim_spill"][last]) == pytest.approx(expected, abs=2e-5)
    assert expected > 0.02


def test_the_mean_of_the_air_by_height_is_the_air_of_the_roots(found):
    """Roots reach down to the lip; above it the slices' mean is what the readings say.

    The lip lies inside a slice and inside a cell, hence the tolerance.
    """
    bed = found.isel(spell=0, bed=1, outlet=0)
    faces = bed["face_height"].to_numpy()
    lip, surface = 0.09, float(bed["surface_height"])
    low = np.clip(faces[:-1], lip, surface)
    width = np.clip(faces[1:], lip, surface) - low
    share = mix_share(0.5 * (faces[1:] + faces[:-1]), bed_with(WET_MIX | {"box.depth": "60 cm"}))
    for day in (-5, 3, 20):
        air = bed["air"].sel(day=day).to_numpy()
        mean = (air * width * share).sum() / (width * share).sum()
        assert float(bed["air_root_zone"].sel(day=day)) == pytest.approx(mean, abs=0.002)


def test_readings_follow_from_the_days(found):
    air = found["air_root_zone"].sel(outlet="open").isel(spell=0).to_numpy()
    days = found["day"].to_numpy()
    for bed in (0, 1):
        seen = air[bed][days >= 0]
        seen = seen[np.isfinite(seen)]
        one = found.isel(spell=0, bed=bed).sel(outlet="open")
        kept = one.isel(day=days >= 0)
        kept = kept.isel(day=np.isfinite(kept["air_root_zone"].to_numpy()))
        shallow = kept["aerated_depth"] < kept["air_depth_needed"]
        wet = (seen < AIR_LIMIT) | shallow.to_numpy()
        assert int(one["wet_days"]) == wet.sum()
        assert float(one["air_lowest"]) == seen.min()
        after = wet[6:]
        expected = np.inf if after.all() else float(np.argmin(after))
        assert float(one["recovery"]) == expected


def test_shallower_beds_are_wetter_and_the_overflow_carries_what_they_can_not_hold(found):
    """Common practice, no source."""
    opened = found.isel(spell=0).sel(outlet="open")
    assert float(opened["air_lowest"][0]) < float(opened["air_lowest"][1])
    assert int(opened["wet_days"][0]) > int(opened["wet_days"][1])
    assert float(opened["overflow_total"][0]) >= float(opened["overflow_total"][1])
    litres = float(opened["overflow_total"][0]) * 1000
    assert 0.7 * 175 < litres < 175


def test_a_bed_alone_is_the_same_bed_among_others_bit_for_bit(beds, weather, found):
    placed = place_spells(beds, weather, [Wanted(7), Wanted(3)])
    for number, bed in enumerate(beds):
        alone = wet_spells([bed], placed)
        for name in alone.data_vars:
            if "bed" in alone[name].dims:
                np.testing.assert_array_equal(
                    alone[name].isel(bed=0), found[name].isel(bed=number), str(name)
                )


def test_a_spell_at_the_edge_of_the_record():
    weather = plain_weather("2021-06-01", 12, rain_mm={"2021-06-02": 30.0, "2021-06-03": 30.0})
    bed = bed_with()
    placed = place_spells([bed], weather, [Wanted(2)], first=datetime.date(2021, 6, 2))
    result = wet_spells([bed], placed)
    assert result["day"].to_numpy().tolist() == list(range(-1, 11))
    first = place_spells([bed], weather, [Wanted(2)], first=datetime.date(2021, 6, 1))
    assert wet_spells([bed], first)["day"].to_numpy()[0] == 0


def test_without_roots_no_roots_lack_air(weather):
    bed = bed_with(WET_MIX | {"planting": [], "box.depth": "28 cm"})
    result = wet_spells([bed], place_spells([bed], weather, [Wanted(7)]))
    assert int(result["wet_days"].max()) == 0
    assert np.isnan(result["air_lowest"].to_numpy()).all()
    assert least_depth(bed, place_spells([bed], weather, [Wanted(7)])).found == "no roots"


def test_nothing_to_run(weather):
    with pytest.raises(FieldError, match="no bed or no spell"):
        wet_spells([], [])


def test_the_least_depth_stands_between_one_that_does_and_one_that_does_not(weather):
    bed = bed_with(WET_MIX)
    placed = place_spells([bed], weather, [Wanted(7)])
    answer = least_depth(bed, placed)
    assert answer.found == "within"
    assert 0 < answer.depth_cm - answer.too_shallow_cm <= 0.5
    assert answer.searched_from_cm == pytest.approx(12 + 3 + 20)  # crown, freeboard, least mix
    assert answer.depths_tried == 10  # both ends; 65 cm halved eight times is 2.5 mm
    depths = (f"{answer.depth_cm!r} cm", f"{answer.too_shallow_cm!r} cm", "80 cm")
    beds = [bed_with(WET_MIX | {"box.depth": depth}) for depth in depths]
    (good, bad, deeper), wet = in_spells(beds, placed)
    airs = (answer.lowest_air_percent, answer.lowest_air_percent_too_shallow)
    assert (100 * good, 100 * bad) == pytest.approx(airs)
    assert (wet > 0).tolist() == [False, True, False]
    assert deeper > good
    # the depth of the bed itself is of no account
    other = least_depth(bed_with(WET_MIX | {"box.depth": "75 cm"}), placed)
    assert other == answer


def test_a_mix_that_no_depth_helps_and_one_that_needs_none(weather):
    clay = {"mix.top.medium": "topsoil clay loam", "mix.wick.medium": "topsoil clay loam"}
    coarse = {"mix.top.medium": "perlite", "mix.wick.medium": "perlite"}
    placed = place_spells([bed_with()], weather, [Wanted(7)])
    never = least_depth(bed_with(clay), placed)
    assert never.found == "none"
    assert never.depth_cm is None
    assert never.lowest_air_percent < 100 * AIR_LIMIT
    always = least_depth(bed_with(coarse), placed)
    assert always.found == "any"
    assert always.depth_cm == always.searched_from_cm


def test_ranges_are_those_of_every_drawn_bed_run_by_itself(weather):
    bed = bed_with(WET_MIX | {"box.depth": "40 cm"})
    placed = place_spells([bed], weather, [Wanted(7), Wanted(3)])
    drawn = drawn_beds(bed)
    least, wet = [], []
    for one, rain, drying in zip(drawn.beds, drawn.rain, drawn.drying, strict=True):
        demand = demand_of(one, weather)
        demand = demand._replace(rain_in=demand.rain_in * rain, energy=demand.energy * drying)
        airs, days = [], []
        for spell in (each.spell for each in placed):
            start = spell.first - datetime.timedelta(days=120)
            run = run_many([one], weather, [start], days=148 + spell.days, demand=[demand])
            rooted = demand.root_depth[run.windows[120:, 0]] > 0
            seen = {name: array[120:, 0][rooted] for name, array in variables_of(run).items()}
            airs.append(seen["air_root_zone"].min())
            shallow = seen["aerated_depth"] < seen["air_depth_needed"] - 1e-9
            days.append(((seen["air_root_zone"] < AIR_LIMIT) | shallow).sum())
        least.append(100 * min(airs))
        wet.append(max(days))
    found = spell_ranges(bed, placed)
    for name, values in (("lowest_air_percent", least), ("wet_days", wet)):
        assert found[name].typical == pytest.approx(values[0], rel=1e-9)
        low, high = np.quantile(values[1:], [0.1, 0.9], method="weibull")
        assert (found[name].low, found[name].high) == pytest.approx((low, high), rel=1e-9)
    assert found["wet_days"].low < found["wet_days"].high


def test_what_the_outlet_carries_by_hand():
    bed = bed_with(
        {"overflow.bore": "20 mm", "surface": {"open_to_rain": "50 %", "covered": "50 %"}}
    )
    found = outlet_of(bed, 0.09)
    # the crown at 12 cm is 2 cm above the centre at 10 cm; the surface at 39 cm is 29 cm above it
    assert found.head_in_reservoir == pytest.approx(0.02)
    assert found.head_at_surface == pytest.approx(0.29)
    area = 0.25 * np.pi * 0.02**2
    flow = 0.6 * area * np.sqrt(2 * 9.80665 * 0.02) * 86400
    assert found.flow_in_reservoir == pytest.approx(flow)
    assert found.rain_in_reservoir == pytest.approx(flow / (0.5 * plan_area(bed)))


@pytest.mark.parametrize("unit", ["in", "cm"])
def test_every_outlet_that_its_mix_covers_is_told(unit):
    """Sixty-three of them at the top of the reservoir and above: head and flow by hand."""
    step, bores = (0.0254, (0.5, 0.75, 1.0)) if unit == "in" else (0.01, (1.3, 2.0, 2.5))
    depth, reservoir = (20, 4) if unit == "in" else (50, 10)
    told = 0
    for lip in range(reservoir, reservoir + 21 if unit == "cm" else 15):
        for bore in bores:
            bed = bed_with(
                {
                    "box.depth": f"{depth} {unit}",
                    "box.freeboard": f"1 {unit}",
                    "reservoir.inside": f"{0.8 * reservoir} {unit}",
                    "reservoir.outside": f"{reservoir} {unit}",
                    "overflow": {"height": f"{lip} {unit}", "bore": f"{bore} {unit}"},
                }
            )
            found = outlet_of(bed, bed.overflow.height)
            assert found.head_in_reservoir == pytest.approx(0.5 * bore * step)
            speed = np.sqrt(2 * 9.80665 * 0.5 * bore * step)
            flow = 0.6 * 0.25 * np.pi * (bore * step) ** 2 * speed * 86400
            assert found.flow_in_reservoir == pytest.approx(flow)
            assert found.flow_at_surface > found.flow_in_reservoir
            told += 1
    assert told == (33 if unit == "in" else 63)


def test_an_outlet_whose_top_is_at_the_surface_is_told_and_one_above_it_is_not():
    touching = bed_with({"overflow": {"height": "37 cm", "bore": "2 cm"}})  # the surface is at 39
    found = outlet_of(touching, touching.overflow.height)
    assert found.head_at_surface == pytest.approx(0.01)
    assert found.flow_at_surface == pytest.approx(found.flow_in_reservoir)
    above = bed_with({"overflow": {"height": "37.5 cm", "bore": "2 cm"}})
    assert np.isnan(outlet_of(above, above.overflow.height).flow_in_reservoir)


@pytest.mark.parametrize(
    "changes",
    [{}, {"overflow": {"state": "none"}}, {"overflow.state": "blocked", "overflow.bore": "2 cm"}],
)
def test_an_outlet_of_which_nothing_can_be_told(changes):
    found = outlet_of(bed_with(changes), 0.09)
    assert np.isnan(found.flow_in_reservoir)
    assert np.isnan(found.rain_at_surface)


def test_no_rain_comes_in_under_a_full_cover():
    bed = bed_with(
        {"overflow.bore": "20 mm", "surface": {"open_to_rain": "0 %", "covered": "100 %"}}
    )
    assert np.isinf(outlet_of(bed, 0.09).rain_in_reservoir)
