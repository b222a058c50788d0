"""Where water goes that is poured in, rained in, or has nowhere to go: by hand, day by day."""

import datetime

import numpy as np
import pytest

from bedtide import run_many, run_season
from bedtide.bed import capacity, dead_storage, mix_below, open_store
from bedtide.mix import medium, supply_conductivity
from helpers.beds import LAYER, bed_with
from helpers.plain_weather import plain_weather

START = datetime.date(2023, 6, 1)
MM = 1e-3
SHUT = {"none": {"state": "none"}, "blocked": {"height": "9 cm", "state": "blocked"}}
NEVER = {"watering": {"when": "never"}}
BARE = {"planting": [], **NEVER}


def poured(bed, amounts, *, days=10, et0_mm=0.0, rain_mm=None):
    """Series of one bed that gets water by hand on some days; no fill of its own."""
    given = np.zeros((days, 1))
    for day, amount in amounts.items():
        given[day] = amount
    weather = plain_weather(str(START), days, et0_mm=et0_mm, rain_mm=rain_mm)
    run = run_many([bed], weather, [START], days=days, given=given)
    return run, {name: values[:, 0] for name, values in run.series._asdict().items()}


def pores():
    """Water that the mix of the plain bed holds when it is full [m]: peat below 12 cm, then potting
    mix up to 39 cm."""
    below = float(mix_below(0.12, bed_with()))
    return below * medium("peat").theta_s + 0.27 * medium("potting mix").theta_s


# What has no way out


@pytest.mark.parametrize("state", SHUT)
def test_water_without_a_way_out_fills_the_pores_then_stands_then_spills(state):
    bed = bed_with({"overflow": SHUT[state], "start.level": "100 %", **BARE})
    full = float(capacity(bed, np.inf))
    run, found = poured(bed, {0: 0.050, 2: 0.200, 5: 0.020})
    begun = float(run.start.open_water[0] + run.start.mix_water[0])
    # day 0: some pores are left; the store is full and nothing stands
    assert found["open_water"][0] == pytest.approx(full, abs=1e-4)
    assert found["mix_water"][0] == pytest.approx(begun + 0.050 - full, abs=1e-4)
    assert found["standing_water"][0] == 0.0
    # day 2: far more than they take; 3 cm stand up to the rim, the rest spills. Saturated mix under
    # 40 cm of water takes up 0.01 mm more.
    assert found["mix_water"][2] == pytest.approx(pores(), abs=3e-5)
    assert found["standing_water"][2] == pytest.approx(0.030, abs=2e-5)
    spilt = begun + 0.250 - full - pores() - 0.030
    assert spilt > 0.05
    assert found["rim_spill"][2] == pytest.approx(spilt, abs=1e-4)
    # day 5: all of it
    assert found["rim_spill"][5] == pytest.approx(0.020, abs=1e-5)
    assert found["level"][5] == pytest.approx(0.39 + 0.030, abs=1e-5)
    assert found["overflow"].sum() == 0.0
    assert found["air_root_zone"][5] == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("state", SHUT)
def test_rain_with_no_room_stands_and_spills_what_the_rim_does_not_hold(state):
    """The pores full and 25 mm on them: of 20 mm of rain 5 find room and 15 spill."""
    bed = bed_with({"overflow": SHUT[state], **BARE})
    run, _ = poured(bed, {})
    lacking = float(capacity(bed, np.inf)) + pores()
    lacking -= float(run.start.open_water[0] + run.start.mix_water[0])
    _, found = poured(bed, {0: lacking + 0.025}, rain_mm={"2023-06-05": 20.0})
    assert found["standing_water"][3] == pytest.approx(0.025, abs=5e-5)
    assert found["rim_spill"][:4].sum() == 0.0
    assert found["rim_spill"][4] == pytest.approx(0.015, abs=5e-5)
    assert found["standing_water"][4] == pytest.approx(0.030, abs=1e-6)


def test_water_that_comes_up_under_a_blocked_outlet_counts_as_rise():
    bed = bed_with({"overflow": SHUT["blocked"], "start.level": "100 %", **BARE})
    _, found = poured(bed, {1: 0.040})
    assert found["rise"][1] == pytest.approx(0.040, abs=1e-4)
    assert found["refill"][1] == 0.040


@pytest.mark.parametrize("state", ["open", "none", "blocked"])
def test_a_fill_that_finds_no_room_is_accounted_for(state):
    overflow = {"height": "9 cm"} if state == "open" else SHUT[state]
    bed = bed_with({"overflow": overflow, "start.level": "100 %", **BARE})
    run, found = poured(bed, {0: 0.030})
    change = found["open_water"][0] - run.start.open_water[0]
    assert change == pytest.approx(0.030 - found["rise"][0] - found["overflow"][0], abs=1e-12)
    if state == "open":  # at rest over a full store: all of it runs off
        assert found["overflow"][0] == pytest.approx(0.030, abs=1e-6)
        assert found["rise"][0] == pytest.approx(0.0, abs=1e-6)
    else:
        assert found["overflow"][0] == 0.0
        assert found["rise"][0] == pytest.approx(0.030, abs=1e-4)


# Over the lip


def test_a_lip_that_is_lowered_lets_go_at_dawn():
    """Crates beside legs of a tenth: 81 % of void, so 4.05 cm of water over 5 cm."""
    elbow = {"height": "9 cm", "change": [{"from": "06-04", "to": "06-20", "height": "4 cm"}]}
    bed = bed_with({"reservoir": {"form": "crates", **LAYER}, "overflow": elbow, **BARE})
    run, found = poured(bed, {}, days=30)
    assert run.lip[:, 0].tolist() == [0.09] * 3 + [0.04] * 16 + [0.09] * 11
    assert found["overflow"][:3].sum() == pytest.approx(0.0, abs=1e-6)
    # what the mix held over the higher level follows on that day and the next
    drained = found["mix_water"][2] - found["mix_water"][3]
    assert found["overflow"][3] == pytest.approx(0.0405 + drained, abs=1e-5)
    assert 0.002 < drained < 0.02
    assert found["level"][2] == pytest.approx(0.09, abs=1e-4)
    assert found["level"][4:] == pytest.approx(np.full(26, 0.04), abs=1e-4)
    # and a lip that is raised again lets nothing go and brings nothing back
    assert found["overflow"][20:].sum() == pytest.approx(0.0, abs=1e-5)


def test_rain_on_a_bed_at_rest_over_a_full_store_runs_off():
    bed = bed_with({"start.level": "100 %", **BARE})
    run, found = poured(bed, {}, days=40, rain_mm={"2023-06-02": 20.0})
    assert found["overflow"].sum() == pytest.approx(0.020, abs=2e-4)
    assert found["overflow"][0] == pytest.approx(0.0, abs=1e-6)
    assert found["rise"][1] < -0.005  # down through the mix into the store
    assert found["rim_spill"].sum() == 0.0
    end = found["open_water"][-1] + found["mix_water"][-1]
    begun = float(run.start.open_water[0] + run.start.mix_water[0])
    assert end == pytest.approx(begun, abs=2e-4)


def test_a_fill_of_a_bed_that_is_not_full_stays_in_it():
    bed = bed_with({"start.level": "20 %", **BARE})
    _, found = poured(bed, {1: 0.010})
    assert found["overflow"].sum() == 0.0
    assert found["refill"].sum() == 0.010
    # the mix takes its part of it, the more the higher the water stands
    assert 0.0 < found["rise"][1:].sum() < 0.005


# Into the air


def drowned(changes=(), **given):
    """A bed without an outlet, its pores full and 10 mm standing on the evening of day 0."""
    bed = bed_with({"overflow": {"state": "none"}, **BARE, **dict(changes)})
    run, _ = poured(bed, {})
    lacking = float(capacity(bed, np.inf)) + pores()
    lacking -= float(run.start.open_water[0] + run.start.mix_water[0])
    days = 4
    weather = plain_weather(str(START), days, et0_mm=0.0)
    weather["et0"][1:] = given.get("et0_mm", 4.0) / 1000
    water = np.zeros((days, 1))
    water[0] = lacking + 0.010
    found = run_many([bed], weather, [START], days=days, given=water).series
    return {name: values[:, 0] for name, values in found._asdict().items()}


def test_standing_water_evaporates_first_and_all_that_the_weather_asks_for():
    found = drowned()
    # bare: 1.2 times 4 mm
    assert found["evaporation"][1] == pytest.approx(0.0048, abs=1e-9)
    assert found["standing_water"][1] == pytest.approx(0.0052, abs=5e-5)
    assert found["mix_water"][1] == pytest.approx(found["mix_water"][0], abs=5e-5)
    assert found["evaporation"][2] == pytest.approx(0.0048, abs=1e-9)


@pytest.mark.parametrize(
    ("surface", "share"),
    [
        ({"mulch_share": "100 %"}, 0.5),
        ({"open_to_rain": "25 %", "covered": "75 %"}, 0.25),
        ({"open_to_rain": "0 %", "covered": "100 %"}, 0.0),
    ],
)
def test_mulch_and_cover_keep_water_in(surface, share):
    found = drowned({"surface": surface})
    assert found["evaporation"][1] == pytest.approx(share * 0.0048, abs=1e-9)


def test_peat_that_is_wetted_from_below_loses_all_that_the_weather_asks_for():
    """Filled every morning: it lifts far more than 6 mm a day through 27 cm."""
    rule = {"watering": {"when": "every n days", "every": "1 day"}}
    bed = bed_with({"planting": [], "mix.top.medium": "peat", **rule})
    season = run_season(bed, plain_weather("2023-06-01", 60, et0_mm=5.0))
    np.testing.assert_allclose(season["evaporation"], 0.0060, rtol=5e-3)


def bark(**changes):
    """Bare coarse bark over a full store: 24 cm of it are above the crates."""
    rule = {"watering": {"when": "every n days", "every": "1 day"}}
    layer = {"form": "crates", **LAYER}
    mix = {"mix.top.medium": "pine bark coarse", "mix.wick.medium": "pine bark coarse"}
    return bed_with({"planting": [], "reservoir": layer, "overflow.height": "14.9 cm",
                     **mix, **rule, **changes})  # fmt: skip


def highest_rise(mix, height):
    """Largest steady flux up to an air-dry surface [m/d], by sums over suction."""
    s = np.concatenate([[0.0], np.geomspace(1e-4, 9562.0, 40_001)])
    k = supply_conductivity(0.5 * (s[1:] + s[:-1]), mix)
    low, high = 1e-6, 1.0
    for _ in range(60):
        middle = np.sqrt(low * high)
        reached = (np.diff(s) / (1.0 + middle / k)).sum()
        low, high = (middle, high) if reached > height else (low, middle)
    return low


def test_a_dry_month_evaporates_no_more_than_the_mix_can_lift():
    """Wetted by 40 mm it loses more at first; then the largest steady flux is what is left."""
    weather = plain_weather("2023-06-01", 120, et0_mm=6.0, rain_mm={"2023-06-01": 40.0})
    lost = run_season(bark(), weather)["evaporation"].to_numpy()
    most = highest_rise(medium("pine bark coarse"), 0.39 - 0.149)
    assert most < 0.0015  # against 7.2 mm that the weather asks for
    assert lost[0] > 2 * most
    assert lost[-30:].max() < 1.1 * most
    assert lost[-30:].mean() > 0.6 * most  # by night none is asked for
    assert (np.diff(lost[1:]) < 1e-6).all()


def test_a_dried_surface_loses_little_until_rain_wets_it():
    weather = plain_weather("2023-06-01", 80, et0_mm=6.0, rain_mm={"2023-07-11": 12.0})
    lost = run_season(bark(), weather)["evaporation"].to_numpy()
    dry = lost[30:40].mean()  # the days before the rain, which falls on day 40
    assert dry < 0.25 * 0.0072
    assert lost[40] > 3 * dry
    assert lost[41] > 1.5 * dry
    assert lost[79] < 1.1 * dry  # and dries again


def test_evaporation_never_passes_what_the_weather_asks_for():
    weather = plain_weather("2023-06-01", 60, et0_mm=5.0, rain_mm={"2023-06-20": 60.0})
    for mix in ("peat", "potting mix", "pine bark fine", "topsoil loam"):
        season = run_season(bed_with({"planting": [], "mix.top.medium": mix}), weather)
        # a step is accepted with a flux that is off by 0.02 mm
        assert float(season["evaporation"].max()) < 0.0060 + 1e-4, mix
        assert float(season["evaporation"].min()) > 0.0, mix
        assert float(season["transpiration"].max()) == 0.0, mix


# Into the plants


def test_plants_in_a_moist_bed_take_what_they_ask_for():
    bed = bed_with({"planting.0.area_share": "100 %"})
    season = run_season(bed, plain_weather("2023-05-01", 100, et0_mm=4.0))
    wanted = season["transpiration_potential"].to_numpy()
    np.testing.assert_allclose(season["transpiration"][9:], wanted[9:], rtol=1e-3)
    assert wanted[9:].min() > 0.0004
    assert wanted.max() == pytest.approx(1.10 * 0.004, rel=1e-6)


def test_plants_draw_on_the_mix_when_the_store_is_gone_and_then_go_short():
    bed = bed_with({"planting.0.area_share": "100 %", "start.level": "0 %", **NEVER})
    season = run_season(bed, plain_weather("2023-07-25", 60, et0_mm=6.0))
    factor = season["uptake_factor"].to_numpy()
    assert factor[:2] == pytest.approx([1.0, 1.0], abs=1e-3)
    assert factor[-1] < 0.1
    assert (np.diff(factor) < 1e-3).all()
    given = float(season["start_mix_water"]) - float(season["mix_water"][-1])
    used = float(season["transpiration"].sum() + season["evaporation"].sum())
    assert used == pytest.approx(given + float(season["start_open_water"]), abs=1e-9)


@pytest.mark.parametrize("share", ["12 %", "20 %", "40 %"])
@pytest.mark.parametrize("mix", ["coir", "peat"])
@pytest.mark.parametrize("foot", ["0 cm", "3 cm"])
def test_the_last_of_a_store_goes_as_the_rest_did(share, mix, foot):
    # Legs of mix that lifted 6 mm a day from the last centimetre lift it to the last drop: what the
    # mix above asks for grows as it dries. Of every 2 mm left, four fifths are gone a day later.
    legs = {"height": "10 cm", "wick_share": share, "wick_foot": foot}
    reservoir = {"form": "crates", **LAYER, **legs}
    medium_of = {"mix.wick.medium": mix, "mix.top.medium": mix}
    bed = bed_with({"reservoir": reservoir, "start.level": "100 %", **NEVER, **medium_of})
    weather = plain_weather("2023-07-15", 40, et0_mm=9.0)
    store = run_season(bed, weather)["open_water"].values - dead_storage(bed)
    last = store[(store < 2 * MM).argmax() :]
    assert last[0] < 2 * MM < store.max()
    assert (last[1:4] <= 0.2 * last[:3] + 1e-6).all(), 1000 * last[:6]


def test_water_stands_in_the_store_while_a_mix_is_full_from_above():
    """20 mm poured on the mix by rain sink into an empty store, and the level tells of it."""
    bed = bed_with({"start.level": "0 %", **BARE})
    _, found = poured(bed, {}, days=30, rain_mm={"2023-06-02": 60.0})
    gained = found["open_water"][-1] - 0.0
    assert gained > 0.010
    assert found["level"][-1] > 0.03
    assert float(open_store(found["level"][-1], bed)) == pytest.approx(gained, abs=1e-5)
