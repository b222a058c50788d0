"""What must hold of any legal bed in any weather; `BEDTIDE_LONG=1` draws thousands of each.

A cell may be a hundredth of a millimetre off its own curve after a step, a store as well, and a
flux of a step two: `SLACK` is that over a bed of some twenty cells. What compares two runs is held
to it, or to what is said; what is counted within one run is exact.
"""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from bedtide import run_many, run_season
from bedtide.bed import Overflow, Watering, crown_height, surface_height
from bedtide.column import AIR_DRY
from helpers.random_beds import DAYS, START, built, descriptions, drawn, weathers

SLACK = 0.5e-3  # [m]
NEVER = Watering("never")
FED = (
    {"form": "pipes", "inside": "10 cm", "outside": "12 cm", "count": 4, "run": "1.9 m"},
    {
        "form": "crates",
        "height": "12 cm",
        "void_share": 0.95,
        "wick_share": 0.2,
        "wick_foot": "0 cm",
    },
)
BOX = {"length": "2 m", "width": "0.6 m", "depth": "50 cm", "freeboard": "2 cm"}
POTTED = {"wick": {"medium": "potting mix"}, "top": {"medium": "potting mix"}}


def total(run):
    series = run.series
    return series.open_water + series.mix_water + series.standing_water


@drawn(12)
@given(descriptions(), weathers())
def test_water_is_conserved_and_stays_in_its_bounds(description, weather):
    bed = built(description)
    season = run_season(bed, weather)
    stores = [season[name].to_numpy() for name in ("open_water", "mix_water", "standing_water")]
    begun = sum(
        float(season[f"start_{name}"]) for name in ("open_water", "mix_water", "standing_water")
    )
    came = np.cumsum(season["rain_in"].to_numpy() + season["refill"].to_numpy())
    names = ("transpiration", "evaporation", "overflow", "rim_spill")
    left = np.cumsum(sum(season[name].to_numpy() for name in names))
    error = np.abs(sum(stores) - begun - came + left).max()
    assert error < max(1e-9, 1e-12 * float(came[-1] + left[-1]))
    for name in season.data_vars:
        assert np.isfinite(season[name].to_numpy()).all(), name
    for name in (*names, "open_water", "mix_water", "standing_water", "refill", "air_root_zone"):
        assert float(season[name].min()) >= 0.0, name
    asked = season["transpiration_potential"].to_numpy()
    assert (season["transpiration"].to_numpy() <= asked * (1 + 1e-9) + 1e-12).all()
    assert stores[2].max() <= bed.box.freeboard + 1e-12
    assert float(season["air_top"].max()) <= max(bed.top_mix.theta_s, bed.wick_mix.theta_s)
    share = season["store_share"].to_numpy()
    assert share.min() >= 0.0
    assert share.max() <= 1.0


@drawn(10)
@given(
    descriptions(odd=False, watering={"when": "never"}),
    weathers(dry=True, hot=8.0),
    st.integers(5, 30),
)
def test_no_fill_lowers_what_the_plants_get(description, weather, day):
    """One fill to the lip on one morning; all days after it, each and together."""
    bed = built(_with_lip_in_form(description))
    given_water = np.zeros((DAYS, 1))
    plain = run_many([bed], weather, [START], days=DAYS)
    given_water[day] = 0.05
    filled = run_many([bed], weather, [START], days=DAYS, given=given_water)
    gained = (filled.series.transpiration - plain.series.transpiration)[:, 0]
    # On a day roots may change cells by a step of the solver: a hundredth of a millimetre or two.
    assert gained.min() > -5e-5
    assert np.cumsum(gained).min() > -1e-4


@drawn(10)
@given(
    descriptions(odd=False, watering={"when": "never"}),
    weathers(hot=8.0),
    st.lists(st.tuples(st.integers(0, DAYS - 1), st.floats(1.0, 60.0)), min_size=1, max_size=5),
)
def test_more_rain_never_dries_a_bed(description, weather, more):
    wetter = weather.copy()
    rain = weather["rain"].to_numpy().copy()
    for day, amount in more:
        rain[day] += amount / 1000
    wetter["rain"] = ("time", rain)
    if "rain_hours" in weather:  # a day that had none has no hours of its own yet
        hours = weather["rain_hours"].to_numpy().copy()
        dry = hours.sum(axis=1) == 0.0
        hours[dry, 9:15] = 1.0 / 6.0
        wetter["rain_hours"] = (("time", "hour"), hours)
    bed = built(description)
    first, second = (run_many([bed], each, [START], days=DAYS) for each in (weather, wetter))
    # Wetter mix conducts better, so the surface and the roots may take a little more at times.
    assert (total(second) - total(first)).min() > -4e-3
    held = [run.series.open_water[:, 0] for run in (first, second)]
    empty = [int(np.argmax(each < 5e-4)) if (each < 5e-4).any() else DAYS for each in held]
    assert empty[1] >= empty[0] - 1


@drawn(10)
@given(descriptions(odd=False, watering={"when": "never"}), weathers(hot=8.0))
def test_a_lower_overflow_never_holds_more(description, weather):
    bed = built(description | {"overflow": {"state": "none"}, "start": {"level": 0.5}})
    crown = crown_height(bed)
    beds = [replace(bed, overflow=Overflow(share * crown)) for share in (0.5, 0.7, 0.95)]
    lowest = [replace(each, start_level=1.0) for each in beds]
    run = run_many(lowest, weather, [START], days=DAYS)
    assert np.diff(run.series.open_water, axis=1).min() > -SLACK
    # The higher store may also feed its surface and roots better, or be too full to take in a
    # cloudburst, which then runs over the rim, and so hold less at times.
    gone = run.series.transpiration + run.series.evaporation + run.series.rim_spill
    kept = total(run) + np.cumsum(gone, axis=0)
    assert np.diff(kept, axis=1).min() > -SLACK


@drawn(10)
@given(
    descriptions(odd=False, mix=POTTED, planting=[], box=BOX),
    st.sampled_from(FED),
    weathers(hot=5.0),
)
def test_a_deeper_bed_is_never_wetter_at_its_surface(description, reservoir, weather):
    """Fed from below and filled every morning, on days that end two days after the last rain.

    One without wicks, or with few, lives on what its mix holds, and more mix holds more.
    """
    bed = built(_with_lip_in_form(description | {"reservoir": reservoir}))
    crown = crown_height(bed)
    daily = replace(bed, watering=Watering("below share", share=1.0))
    beds = [
        replace(daily, box=replace(bed.box, depth=crown + mix + bed.box.freeboard))
        for mix in (0.12, 0.24, 0.40)
    ]
    run = run_many(beds, weather, [START], days=DAYS)
    wet = weather["rain"].to_numpy() > 0.0 if "rain" in weather else np.zeros(DAYS, bool)
    settled = ~(wet | np.roll(wet, 1) | np.roll(wet, 2))
    settled[:2] = False
    suction = run.series.surface_suction[settled]
    assert (np.diff(suction, axis=1) > -0.02).all()


def largest_rise(mix, height):
    """Largest steady flux up to an air-dry surface this high above water [m/d], by quadrature.

    Own formulas: van Genuchten (1980) and Mualem (1976) at `wetting` times the suction, and vapour
    by Fick's law with the diffusivity of Moldrup et al. (2000), as in docs/physics/column.md.
    """
    m = 1.0 - 1.0 / mix.n

    def k(s):
        x = (mix.alpha * mix.wetting * s) ** mix.n
        held = (1.0 + x) ** -m
        liquid = mix.k_s * held**mix.l * (1.0 - (x / (1.0 + x)) ** m) ** 2
        dry = (mix.theta_s - mix.theta_r) * (1.0 - (1.0 + (mix.alpha * s) ** mix.n) ** -m)
        vapour = 2.09 * 1.73e-5 * max(dry, 0.0) ** 2.5 / np.sqrt(mix.theta_s)
        return liquid + vapour / 13_796.0 * np.exp(-s / 13_796.0)

    def reached(log_q):
        q = np.exp(log_q)
        inside = lambda u: np.exp(u) / (1.0 + q / k(np.exp(u)))  # noqa: E731
        ends = (np.log(1e-6), np.log(AIR_DRY))
        middle = np.log(0.3)
        parts = [
            quad(inside, a, b, limit=400)[0] for a, b in ((ends[0], middle), (middle, ends[1]))
        ]
        return sum(parts) - height

    return float(np.exp(brentq(reached, np.log(1e-8), np.log(50.0), xtol=1e-4)))


@drawn(8)
@given(descriptions(odd=False, planting=[]), st.floats(3.0, 12.0))
def test_a_dry_month_evaporates_no_more_than_the_mix_can_lift(description, et0_mm):
    """Kept full to the lip, no rain: what is lost beyond the largest steady flux came out of the
    mix itself. One mix, so that the flux is known."""
    from helpers.plain_weather import plain_weather

    description = _with_lip_in_form(description)
    mix = description["mix"]["top"]
    bed = built(description | {"mix": {"wick": mix, "top": mix}})
    bed = replace(bed, watering=Watering("below share", share=1.0), start_level=1.0)
    run = run_many([bed], plain_weather(str(START), DAYS, et0_mm=et0_mm), [START], days=DAYS)
    height = surface_height(bed) - float(run.series.level[:, 0].max())
    lost = run.series.evaporation[:, 0]
    own = run.start.mix_water[0] - run.series.mix_water[:, 0].min()
    assert lost.sum() <= DAYS * largest_rise(bed.top_mix, height) * 1.10 + own + SLACK


@drawn(8)
@given(st.lists(descriptions(), min_size=2, max_size=5), weathers(), st.randoms())
def test_a_bed_alone_is_the_bed_among_many_in_any_order(many, weather, random):
    beds = [built(each) for each in many]
    order = list(range(len(beds)))
    random.shuffle(order)
    run = run_many(beds, weather, [START], days=DAYS)
    other = run_many([beds[number] for number in order], weather, [START], days=DAYS)
    alone = run_many([beds[0]], weather, [START], days=DAYS)
    for name in run.series._fields:
        mine = getattr(run.series, name)
        assert np.array_equal(mine[:, order], getattr(other.series, name)), name
        assert np.array_equal(mine[:, :1], getattr(alone.series, name)), name


@drawn(8)
@given(descriptions(), weathers(), st.integers(1, DAYS - 1))
def test_a_season_cut_in_two_and_carried_on_is_the_season(description, weather, day):
    bed = built(description)
    if bed.watering.when == "every n days":  # counts from the first day of a run
        bed = replace(bed, watering=NEVER)
    whole = run_many([bed], weather, [START], days=DAYS)
    head = run_many([bed], weather, [START], days=day)
    later = START + datetime.timedelta(days=day)
    tail = run_many([bed], weather, [later], days=DAYS - day, start=head.end)
    for name in whole.series._fields:
        both = np.concatenate([getattr(head.series, name), getattr(tail.series, name)])
        assert np.array_equal(both, getattr(whole.series, name)), name


def test_units_in_do_not_matter():
    from helpers.beds import bed_with
    from helpers.plain_weather import plain_weather

    weather = plain_weather(str(START), DAYS, et0_mm=5.0)
    for metric, us in (("25 cm", "9.8425197 in"), ("42 cm", "16.535433 in")):
        one, two = (run_season(bed_with({"box.depth": depth}), weather) for depth in (metric, us))
        np.testing.assert_allclose(one["open_water"], two["open_water"], atol=1e-6)
        np.testing.assert_allclose(one["mix_water"], two["mix_water"], atol=1e-6)


def _with_lip_in_form(description):
    """The description with an open outlet a little under the top of its form."""
    bed = built(description | {"overflow": {"state": "none"}})
    return description | {"overflow": {"height": f"{0.8 * crown_height(bed)} m"}}
