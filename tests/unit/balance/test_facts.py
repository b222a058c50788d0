"""Facts that growers know come out of the physics, none of them put in.

All of them: common practice, no source.
"""

import numpy as np
import pytest

from bedtide import run_season
from bedtide.bed import capacity
from bedtide.readings import dryness, limited_days, wetness
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

PLANTED = {"planting.0.area_share": "100 %"}


@pytest.fixture(scope="module")
def showery():
    """A season with 12 mm every fourth day."""
    days = np.datetime64("2023-05-01") + np.arange(2, 150, 4)
    return plain_weather("2023-05-01", 150, et0_mm=3.0, rain_mm={str(day): 12.0 for day in days})


@pytest.fixture(scope="module")
def thirsty():
    """A hot season without a drop."""
    return plain_weather("2023-05-01", 150, et0_mm=7.0)


def mean_air(season):
    return float(season["air_root_zone"].where(season["root_depth"] > 0).mean())


def test_at_the_same_overflow_a_shallow_bed_holds_less_air_than_a_deep_one(showery):
    airs = [
        mean_air(run_season(bed_with({**PLANTED, "box.depth": depth}), showery))
        for depth in ("25 cm", "33 cm", "42 cm", "55 cm")
    ]
    assert (np.diff(airs) > 0.005).all(), airs


def test_its_surface_is_wetter_too_and_evaporates_more(thirsty):
    bare = {"planting": [], "mix.top.medium": "potting mix open"}
    seasons = [
        run_season(bed_with({**bare, "box.depth": depth}), thirsty) for depth in ("25 cm", "60 cm")
    ]
    shallow, deep = (float(season["evaporation"].sum()) for season in seasons)
    assert shallow > 1.2 * deep


def test_topsoil_drowns_and_potting_mix_does_not(showery):
    soil = {"mix.top.medium": "topsoil loam", "mix.wick.medium": "topsoil loam"}
    drowned = wetness(run_season(bed_with({**PLANTED, **soil}), showery))
    fine = wetness(run_season(bed_with(PLANTED), showery))
    assert float(drowned["wet_days"]) > 0.8 * float(drowned["rooted_days"])
    assert float(fine["wet_days"]) == 0


def test_bark_does_not_wick_in_a_deep_bed(thirsty):
    bark = {"mix.top.medium": "pine bark fine", "mix.wick.medium": "pine bark fine"}
    deep = {**PLANTED, **bark, "box.depth": "65 cm", "planting.0.crop": "lettuce"}
    season = run_season(bed_with(deep), thirsty)
    dry = dryness(season)
    assert float(dry["wick_days"]) > 20
    assert float(dry["empty_days"]) == 0  # water stands below all the while
    in_peat = {**deep, "mix.top.medium": "peat", "mix.wick.medium": "peat"}
    assert float(dryness(run_season(bed_with(in_peat), thirsty))["wick_days"]) == 0
    met = [
        float(
            dryness(run_season(bed_with({**deep, "box.depth": depth}), thirsty))[
                "transpiration_ratio"
            ]
        )
        for depth in ("35 cm", "45 cm", "65 cm")
    ]
    assert met[0] > 0.85, "a shallow one is served"
    assert (np.diff(met) < -0.1).all(), met


def test_few_pipes_leave_less_store_and_more_fills(thirsty):
    beds = [bed_with({**PLANTED, "reservoir.count": count}) for count in (1, 2, 3, 4)]
    stores = [float(capacity(bed, 0.09)) for bed in beds]
    np.testing.assert_allclose(np.array(stores) / stores[0], [1, 2, 3, 4])
    fills = [int((run_season(bed, thirsty)["refill"] > 0).sum()) for bed in beds]
    assert (np.diff(fills) < 0).all(), fills


def test_a_narrow_gap_throttles_the_wick(thirsty):
    """Five pipes in 60.1 cm leave 0.2 % of the floor to the wick where they are widest.

    Filled late, so that the water must pass that height.
    """

    def met(width, wick):
        changes = {"box.width": width, "mix.wick.medium": wick, "reservoir.count": 5}
        bed = bed_with({**PLANTED, **changes, "watering.share": "10 %"})
        return float(dryness(run_season(bed, thirsty))["transpiration_ratio"])

    loam = [met(width, "topsoil loam") for width in ("60.1 cm", "60.5 cm", "62 cm")]
    assert loam[0] < 0.6
    assert loam[0] + 0.1 < loam[1] < loam[2] - 0.1
    assert loam[2] > 0.99
    assert met("60.1 cm", "peat") > 0.99  # what conducts well passes a narrow gap


def test_a_higher_overflow_holds_more_lasts_longer_and_wets_more(showery, thirsty):
    beds = [
        bed_with({**PLANTED, "overflow.height": height}) for height in ("5 cm", "8 cm", "11 cm")
    ]
    assert (np.diff([float(capacity(bed, bed.overflow.height)) for bed in beds]) > 0.01).all()
    fills = [int((run_season(bed, thirsty)["refill"] > 0).sum()) for bed in beds]
    assert (np.diff(fills) < 0).all(), fills
    airs = [mean_air(run_season(bed, showery)) for bed in beds]
    assert (np.diff(airs) < 0).all(), airs


def test_a_blocked_overflow_drowns_the_bed():
    wet = plain_weather(
        "2023-06-01", 40, et0_mm=1.0, rain_mm={f"2023-06-{day:02d}": 25.0 for day in range(3, 20)}
    )
    blocked = {"overflow": {"height": "9 cm", "state": "blocked"}}
    season = run_season(bed_with({**PLANTED, **blocked}), wet)
    assert float(season["overflow"].sum()) == 0
    assert float(season["rim_spill"].sum()) > 0.05
    assert float(wetness(season)["wet_days"]) > 15
    assert float(wetness(run_season(bed_with(PLANTED), wet))["wet_days"]) == 0


def test_mulch_saves_water(thirsty):
    evaporated = [
        float(
            run_season(bed_with({"surface": {"mulch_share": share}}), thirsty)["evaporation"].sum()
        )
        for share in ("0 %", "50 %", "100 %")
    ]
    assert (np.diff(evaporated) < 0).all()


def test_dry_days_are_put_down_to_what_caused_them(thirsty):
    forgotten = run_season(bed_with({**PLANTED, "watering": {"when": "never"}}), thirsty)
    cause = limited_days(forgotten)
    dry = np.flatnonzero(cause.empty | cause.wick)
    assert len(dry) > 60
    assert float(dryness(forgotten)["empty_days"]) >= len(dry) - 3
    assert (forgotten["open_water"].to_numpy()[dry[5:]] < 5e-4).all()


# A perennial: its winter is watered and judged as its summer is


@pytest.fixture(scope="module")
def strawberries():
    """Two years; ten days of rain in a January, long after the stages of the strawberries."""
    rain = {f"2022-01-{day:02d}": 12.0 for day in range(10, 20)}
    weather = plain_weather("2021-01-01", 730, et0_mm=2.0, rain_mm=rain)
    planting = [{"crop": "strawberry", "planted": "03-15", "area_share": "100 %"}]
    shallow = {"mix.top.medium": "peat", "box.depth": "25 cm", "overflow.state": "blocked"}
    return run_season(bed_with({"planting": planting, **shallow}), weather)


def test_its_roots_are_there_all_year_and_its_winter_counts(strawberries):
    found = wetness(strawberries)
    assert int(found["rooted_days"]) == 730
    january = strawberries.sel(time=slice("2022-01-10", "2022-02-10"))
    wet = (january["air_root_zone"] < 0.10).to_numpy()
    assert wet.sum() >= 10  # 120 mm on mix that can't let it out
    assert int(found["wet_days"]) >= wet.sum()


def test_it_drinks_little_in_winter_and_is_filled_then_too(strawberries):
    taken = strawberries["transpiration"].to_numpy() * 1000
    assert taken[30] == pytest.approx(2.0 * 0.15, abs=0.02)  # 31 January: dormant, Kcb 0.15
    assert taken[180] == pytest.approx(2.0 * 0.80, abs=0.02)  # 30 June: mid-season, Kcb 0.80
    filled = np.flatnonzero(strawberries["refill"].to_numpy() > 0)
    assert any(290 < day < 365 for day in filled)
