"""What must hold of any bed in any weather.

Beds are drawn from a coarse grid of measures, so that their tables are made once and used often.
"""

import datetime

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from bedtide import run_many, run_season
from bedtide.bed import Bed
from bedtide.errors import InputError
from helpers.beds import LAYER, bed_with
from helpers.plain_weather import plain_weather

QUIET = settings(
    deadline=None,
    max_examples=25,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
DAYS = 60
START = datetime.date(2023, 6, 1)

MIXES = ("peat", "potting mix", "pine bark fine", "topsoil loam")
DEPTHS = ("25 cm", "42 cm", "60 cm")
LIPS = ("4 cm", "9 cm", "14 cm")
FORMS = (
    {"form": "pipes", "inside": "10 cm", "outside": "12 cm", "count": 4},
    {"form": "crates", **LAYER},
    {"form": "crates", **LAYER, "wick_foot": "3 cm"},
    {"form": "stone", **LAYER, "void_share": "40 %", "wick_share": "0 %"},
)
OVERFLOWS = (
    *({"height": height} for height in LIPS),
    {"state": "none"},
    {"height": "9 cm", "state": "blocked"},
    {"height": "9 cm", "change": [{"from": "06-20", "to": "07-10", "height": "4 cm"}]},
)
RULES = (
    {"when": "never"},
    {"when": "below share", "share": "30 %"},
    {"when": "weekdays", "weekdays": ["mon", "thu"], "amount": "30 L"},
    {"when": "every n days", "every": "6 days"},
)
shares = st.sampled_from(("0 %", "30 %", "100 %"))


@st.composite
def changes(draw: st.DrawFn, **fixed: object) -> dict[str, object]:
    """Changes to the plain bed that leave a bed that can be built."""
    change: dict[str, object] = {
        "box.depth": draw(st.sampled_from(DEPTHS)),
        "mix.top.medium": draw(st.sampled_from(MIXES)),
        "reservoir": draw(st.sampled_from(FORMS)),
        "overflow": draw(st.sampled_from(OVERFLOWS)),
        "surface": {"open_share": draw(shares), "mulch_share": draw(shares)},
        "planting.0.area_share": draw(st.sampled_from(("20 %", "100 %"))),
        "watering": draw(st.sampled_from(RULES)),
        "start.level": draw(shares),
    }
    change.update(fixed)
    assume(buildable(change) is not None)
    return change


def buildable(change: dict[str, object]) -> Bed | None:
    try:
        return bed_with(change)
    except InputError:  # the measures exclude one another
        return None


amounts = st.one_of(st.just(0.0), st.floats(0.0, 15.0), st.floats(0.0, 300.0))
rains = st.lists(amounts, min_size=DAYS, max_size=DAYS)


def weather_of(rain, et0_mm):
    weather = plain_weather(str(START), DAYS, et0_mm=et0_mm)
    weather["rain"] = ("time", np.asarray(rain) / 1000)
    return weather


def stores_of(season):
    return season["open_water"] + season["mix_water"] + season["standing_water"]


@QUIET
@given(changes(), rains, st.floats(0.0, 12.0))
def test_water_is_conserved_to_a_millionth_of_a_millimetre(change, rain, et0_mm):
    season = run_season(bed_with(change), weather_of(rain, et0_mm))
    begun = sum(season[f"start_{name}"] for name in ("open_water", "mix_water", "standing_water"))
    into = (season["rain_in"] + season["refill"]).cumsum("time")
    out = sum(
        season[name].cumsum("time")
        for name in ("transpiration", "evaporation", "overflow", "rim_spill")
    )
    assert float(abs(stores_of(season) - begun - into + out).max()) < 1e-9
    for name in season.data_vars:
        assert np.isfinite(season[name]).all(), name


@QUIET
@given(changes(), rains, st.floats(0.0, 12.0))
def test_nothing_leaves_its_bounds(change, rain, et0_mm):
    bed = bed_with(change)
    season = run_season(bed, weather_of(rain, et0_mm))
    for name in (
        "refill", "transpiration", "evaporation", "overflow", "rim_spill", "open_water",
        "mix_water", "standing_water", "surface_depletion", "air_root_zone", "air_top",
    ):  # fmt: skip
        assert float(season[name].min()) >= -1e-12, name
    assert (season["transpiration"] <= season["transpiration_potential"] * (1 + 1e-6)).all()
    assert (season["open_water"] <= season["capacity"] + 1e-9).all()
    assert float(season["standing_water"].max()) <= bed.box.freeboard + 1e-12
    assert float(season["air_top"].max()) <= max(bed.top_mix.theta_s, bed.wick_mix.theta_s)
    assert ((season["store_share"] >= 0) & (season["store_share"] <= 1)).all()


@QUIET
@given(
    changes(watering={"when": "never"}),
    rains,
    st.floats(0.0, 8.0),
    st.lists(st.tuples(st.integers(0, DAYS - 1), st.floats(1.0, 60.0)), min_size=1, max_size=6),
)
def test_more_rain_never_dries_a_bed(change, rain, et0_mm, more):
    wetter = np.array(rain)
    for day, amount in more:
        wetter[day] += amount
    first, second = (
        run_season(bed_with(change), weather_of(each, et0_mm)) for each in (rain, wetter)
    )
    # Between their nodes the tables are off by a millimetre or two.
    assert float((stores_of(second) - stores_of(first)).min()) > -2.5e-3


@QUIET
@given(changes(watering={"when": "never"}, **{"start.level": "100 %"}), rains, st.floats(0.0, 8.0))
def test_a_lower_overflow_never_holds_more(change, rain, et0_mm):
    beds = [buildable({**change, "overflow": {"height": lip}}) for lip in LIPS]
    beds = [bed for bed in beds if bed is not None]
    run = run_many(beds, weather_of(rain, et0_mm), [START], days=DAYS)
    assert (np.diff(run.series.stores[:, 0], axis=1) > -1e-3).all()
    total = run.series.stores.sum(axis=1) + run.series.standing
    assert (np.diff(total, axis=1) > -1e-3).all()


@QUIET
@given(st.sampled_from(MIXES), rains, st.floats(0.0, 4.0), st.sampled_from(("5 cm", "9 cm")))
def test_a_deeper_bed_is_never_wetter_at_the_surface(mix, rain, et0_mm, lip):
    """Filled every morning, on days that end two days after the last rain."""
    common = {
        "mix.top.medium": mix,
        "overflow": {"height": lip},
        "watering": {"when": "every n days", "every": "1 day"},
    }
    beds = [bed_with({**common, "box.depth": depth}) for depth in ("25 cm", "33 cm", "42 cm")]
    run = run_many(beds, weather_of(rain, et0_mm), [START], days=DAYS)
    assert run.readings is not None
    wet = np.array(rain) > 0.0
    settled = ~(wet | np.roll(wet, 1) | np.roll(wet, 2))
    settled[:2] = False
    suction = run.readings.surface_suction[settled]
    assert (np.diff(suction, axis=1) > -0.02).all()


@QUIET
@given(st.lists(changes(), min_size=2, max_size=6), rains, st.randoms(use_true_random=False))
def test_the_order_of_beds_is_irrelevant(many, rain, random):
    beds = [bed_with(change) for change in many]
    order = list(range(len(beds)))
    random.shuffle(order)
    weather = weather_of(rain, 5.0)
    run = run_many(beds, weather, [START], days=DAYS)
    other = run_many([beds[number] for number in order], weather, [START], days=DAYS)
    for name in run.series._fields:
        mine, theirs = getattr(run.series, name), getattr(other.series, name)
        assert np.array_equal(mine[..., order], theirs), name


@pytest.mark.parametrize("depths", [("25 cm", "9.8425197 in"), ("42 cm", "16.535433 in")])
def test_units_in_do_not_matter(depths):
    weather = weather_of([3.0] * DAYS, 5.0)
    one, two = (run_season(bed_with({"box.depth": depth}), weather) for depth in depths)
    np.testing.assert_allclose(one["open_water"], two["open_water"], atol=1e-6)
    np.testing.assert_allclose(one["mix_water"], two["mix_water"], atol=1e-6)
