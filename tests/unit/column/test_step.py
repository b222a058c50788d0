"""The small functions of a step: each by hand, each slope by differences."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from bedtide.bed import level_of, open_store
from bedtide.column import AIR_DRY, mix_table, node_suctions
from bedtide.column.hydraulics import DK, DS, THETA, F, K
from bedtide.column.step import (
    CARRY,
    CENTRE,
    HEAD_STORAGE,
    HEIGHT,
    HELD,
    MIX,
    NO_LIP,
    OVERFLOW_RATE,
    PATH,
    REACH,
    ROOT,
    TAKE,
    WATER,
    evaporation_capacity,
    exchange,
    face,
    held,
    infiltration_capacity,
    level_at,
    safe_step,
    surface,
    through_ceiling,
)
from bedtide.mix import medium, supply_conductivity
from helpers.beds import bed_with, layered
from helpers.columns import column_of, sky

PIPES = bed_with()
CRATES = layered("crates", wick_foot="3 cm")
MM = 1e-3


# The store


@pytest.mark.parametrize("bed", [PIPES, CRATES, layered("stone", void_share="40 %")])
def test_level_and_store_are_those_of_the_bed(bed):
    store = column_of(bed).store
    levels = np.linspace(0.012, 0.108, 50)
    water = [held(level, store)[0] for level in levels]
    # 256 straight pieces of a circle
    assert water == pytest.approx(open_store(levels, bed), abs=2e-6)
    assert [level_at(each, store) for each in water] == pytest.approx(levels, abs=1e-9)
    assert [level_at(each, store) for each in water] == pytest.approx(
        level_of(np.array(water), bed), abs=1e-4
    )


def test_the_slope_of_the_store_is_its_width():
    store = column_of(CRATES).store
    assert held(0.02, store)[1] == pytest.approx(0.9)  # below the foot of the legs
    assert held(0.10, store)[1] == pytest.approx(0.81)  # beside them


def test_beyond_its_form_a_store_takes_next_to_nothing():
    store = column_of(CRATES).store
    full = float(open_store(np.inf, CRATES))
    assert held(0.15, store)[0] == pytest.approx(full)
    assert held(0.35, store) == pytest.approx((full + 0.20 * HEAD_STORAGE, HEAD_STORAGE))
    assert level_at(full + 0.5, store) == pytest.approx(0.15)
    assert HEAD_STORAGE * 1.0 <= 1e-5  # a metre of head hides a hundredth of a millimetre


def test_an_empty_store_stands_at_its_lowest_point():
    store = column_of(PIPES).store  # the wall of its pipes is 1 cm
    assert level_at(0.0, store) == level_at(-1e-6, store) == pytest.approx(0.01)
    assert held(0.0, store)[0] == pytest.approx(-0.01 * HEAD_STORAGE)


# Between two cells


def integral_mean(mix, low, high):
    return quad(lambda s: supply_conductivity(s, mix), low, high, epsrel=1e-10)[0] / (high - low)


@pytest.mark.parametrize("name", ["peat", "potting mix", "topsoil loam"])
@pytest.mark.parametrize(("low", "high"), [(0.05, 0.10), (0.20, 0.70), (0.3, 50.0), (0.1, 0.1)])
def test_conductivity_between_two_suctions_is_its_mean_over_suction(name, low, high):
    mix = medium(name)
    column = column_of(bed_with({"mix.top.medium": name}))
    suction = np.full(column.n, low)
    suction[:2] = high
    column.put(suction)
    mean = integral_mean(mix, low, high) if high > low else float(supply_conductivity(low, mix))
    expected = mean * ((high - low) / column.g[REACH, 2] - 1.0)
    flux = face(column.mixes.tables, column.g, column.w, 2, False)[0]
    assert flux == pytest.approx(expected, rel=5e-3)


def test_nothing_passes_a_face_at_rest():
    for bed in (PIPES, CRATES, bed_with({"mix.top.medium": "topsoil loam"})):
        column = column_of(bed).put(column_of(bed).cells.centre[0])
        for cell in range(1, column.n):
            flux = face(column.mixes.tables, column.g, column.w, cell, False)[0]
            assert flux == pytest.approx(0.0, abs=1e-12)


def test_water_falls_through_saturated_mix_as_it_conducts():
    column = column_of(CRATES).put(0.0)
    conduct = [medium(name).k_s for name in ("potting mix", "peat")]
    last = column.n - 4
    for cell in range(1, column.n):
        flux = face(column.mixes.tables, column.g, column.w, cell, False)[0]
        expected = conduct[0] if cell < last else conduct[1]
        if cell != last:
            assert flux == pytest.approx(-column.g[PATH, cell] * expected)
    # where they meet, in a row: each over its own part of the way
    part = 0.5 * column.g[HEIGHT, last] / column.g[REACH, last]
    meet = 1.0 / (part / conduct[1] + (1.0 - part) / conduct[0])
    flux = face(column.mixes.tables, column.g, column.w, last, False)[0]
    assert flux == pytest.approx(-column.g[PATH, last] * meet)
    assert conduct[0] != conduct[1]


def test_two_mixes_of_one_kind_are_one_mix():
    """The way of two mixes, on two tables that are alike, gives what the way of one gives."""
    bed = bed_with({"mix.wick.medium": "potting mix"})
    alike, twice = column_of(bed), column_of(bed)
    twice.mixes = twice.mixes._replace(
        tables=np.concatenate([twice.mixes.tables] * 2), bend=np.tile(twice.mixes.bend, 2)
    )
    crown = twice.n - 4
    twice.g[MIX, crown:] = 1
    suction = np.linspace(0.6, 0.02, alike.n)
    for column in (alike, twice):
        column.put(suction)
    one, two = (face(each.mixes.tables, each.g, each.w, crown, False) for each in (alike, twice))
    assert two == pytest.approx(one, rel=1e-9)


@pytest.mark.parametrize("bed", [PIPES, CRATES])
@pytest.mark.parametrize("cell", [1, 5, -4, -1])
def test_slopes_of_a_face_are_its_differences(bed, cell):
    column = column_of(bed)
    suction = column.cells.centre[0] * np.linspace(1.3, 0.7, column.n)
    cell = cell % column.n
    _, here, above = face(column.put(suction).mixes.tables, column.g, column.w, cell, False)
    place = np.interp(suction, node_suctions(), np.arange(301))
    for moved, slope in ((cell, here), (cell - 1, above)):
        fluxes = []
        for side in (-1e-4, 1e-4):
            changed = place.copy()
            changed[moved] += side
            column.put(np.interp(changed, np.arange(301), node_suctions()))
            fluxes.append(face(column.mixes.tables, column.g, column.w, cell, False)[0])
        assert slope == pytest.approx((fluxes[1] - fluxes[0]) / 2e-4, rel=1e-3, abs=1e-9)


# Between mix and open water


@pytest.mark.parametrize(
    ("level", "s", "expected"),
    [
        # A cell of 4 cm with its centre at 6 cm, void from 4 to 8 cm, 200 x 0.04 = 8 a day
        (0.10, 0.05, 8 * 0.09),  # under water: head 10 - 6 + 5 cm
        (0.10, -0.06, 8 * -0.02),  # pressed harder than the water: out
        (0.06, 0.05, 8 * 0.5 * 0.05),  # half of it under water
        (0.06, -0.05, 8 * (0.5 * -0.05 - 0.5 * 0.04)),  # and the half above seeps: 5 less 1 cm
        (0.06, -0.005, 8 * 0.5 * -0.005),  # pressed by less than it stands under: no seep
        (0.03, 0.05, 0.0),  # water below it: none climbs
        (0.03, -0.05, 8 * -0.05),  # but mix under pressure lets go
    ],
)
def test_exchange_by_hand(level, s, expected):
    assert exchange(level, s, 1.0, 0.06, 0.04, 0.08, 8.0)[0] == pytest.approx(expected)


@pytest.mark.parametrize("level", [0.03, 0.05, 0.06, 0.10])
@pytest.mark.parametrize("s", [-0.08, -0.004, 0.05])
def test_slopes_of_the_exchange_are_its_differences(level, s):
    given = (0.06, 0.04, 0.08, 8.0)
    _, by_s, by_h = exchange(level, s, 1.0, *given)
    d = 1e-7
    differences = [
        (exchange(level, s + d, 1.0, *given)[0] - exchange(level, s - d, 1.0, *given)[0]) / (2 * d),
        (exchange(level + d, s, 1.0, *given)[0] - exchange(level - d, s, 1.0, *given)[0]) / (2 * d),
    ]
    assert (by_s, by_h) == pytest.approx(differences, rel=1e-5, abs=1e-6)


def test_water_at_the_foot_of_a_cell_has_a_slope_though_none_flows_yet():
    # 1 mm over the foot puts 1/40 of 4 cm under water, with 5 - 2 cm of head: 8 x 0.03 / 0.04
    found = exchange(0.04, 0.05, 1.0, 0.06, 0.04, 0.08, 8.0)
    assert found == pytest.approx((0.0, 0.0, 6.0))


def test_a_cell_without_void_beside_it_exchanges_nothing():
    assert exchange(0.30, -0.2, 1.0, 0.06, 0.05, 0.05, 0.0) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("level", "s", "expected"),
    [
        # Foot at 15 cm, centre at 18, 100 a day
        (0.17, 0.05, 100 * 0.04),  # the water stands at it: head 17 - 18 + 5 cm
        (0.17, -0.01, 100 * -0.02),
        (0.10, 0.05, 0.0),  # below it, nothing climbs through the air
        (0.10, -0.01, 100 * -0.04),  # but it drips: head 15 - 18 - 1 cm
        (0.10, 0.02, 100 * -0.01),  # and so it does as long as it is wetter than at rest
        (0.10, 0.03, 0.0),
    ],
)
def test_mix_that_lies_bare_over_void_by_hand(level, s, expected):
    assert through_ceiling(level, s, 1.0, 0.18, 0.15, 100.0)[0] == pytest.approx(expected)


# The surface


def test_a_saturated_surface_takes_in_what_it_conducts():
    column = column_of(PIPES).put(0.0)
    table = column.mixes.tables[int(column.cells.mix[0, 0])]
    assert infiltration_capacity(column.g, column.w, table, 0.0)[0] == pytest.approx(table[0, K])


def over_place(function, s, *given):
    """Its difference over a place on the nodes, around a suction."""
    place = np.interp(s, node_suctions(), np.arange(301))
    values = []
    for at in (place - 1e-4, place + 1e-4):
        column = column_of(PIPES).put(np.interp(at, np.arange(301), node_suctions()))
        values.append(function(column.g, column.w, *given)[0])
    return (values[1] - values[0]) / 2e-4


@pytest.mark.parametrize("s", [0.1, 0.4, 3.0])
def test_a_dry_surface_takes_in_more(s):
    """Half a cell of integral mean conductivity from a wet film: pull and fall."""
    column = column_of(PIPES).put(s)
    mix, half = medium("potting mix"), 0.5 * column.cells.height[0, 0]
    table = column.mixes.tables[int(column.cells.mix[0, 0])]
    expected = integral_mean(mix, 0.0, s) * (s / half + 1.0)
    found, slope = infiltration_capacity(column.g, column.w, table, 0.0)
    assert found == pytest.approx(expected, rel=0.01)
    assert slope == pytest.approx(over_place(infiltration_capacity, s, table, 0.0), rel=1e-3)
    assert infiltration_capacity(column.g, column.w, table, 0.02)[0] > found  # under 2 cm of pond


@pytest.mark.parametrize("s", [0.2, 0.8, 100.0])
def test_an_air_dry_surface_is_passed_what_half_a_cell_conducts(s):
    column = column_of(PIPES).put(s)
    mix, half = medium("potting mix"), 0.5 * column.cells.height[0, 0]
    parts = [s, 1.0, 10.0, 100.0, 1000.0, AIR_DRY]
    parts = [part for part in parts if part >= s]
    total = sum(
        quad(lambda x: supply_conductivity(x, mix), low, high, epsrel=1e-9)[0]
        for low, high in pairwise(parts)
    )
    expected = total / (AIR_DRY - s) * ((AIR_DRY - s) / half - 1.0)
    found, slope = evaporation_capacity(column.g, column.w, column.dry)
    assert found == pytest.approx(expected, rel=5e-3)
    assert slope == pytest.approx(over_place(evaporation_capacity, s, column.dry), rel=1e-3)


def test_a_surface_as_dry_as_the_air_passes_nothing():
    column = column_of(PIPES).put(1.1 * AIR_DRY)
    assert evaporation_capacity(column.g, column.w, column.dry) == (0.0, 0.0)


def at_surface(s, *, pond=0.0, dt=0.5, **given):
    column = column_of(PIPES).put(s)
    found = surface(column.mixes.tables, column.g, column.w, column.dry, sky(**given), pond, dt)
    return found[:3]


def test_rain_goes_in_and_energy_takes_out_by_hand():
    # moist mix: all rain goes in, the surface loses all that energy asks for
    assert at_surface(0.3, rain=0.02, energy=0.006) == pytest.approx((0.0, 0.006, 0.02))
    assert at_surface(0.3) == (0.0, 0.0, 0.0)


def test_a_pond_evaporates_before_the_mix():
    # 3 mm for half a day: 6 mm/d to lose, of which energy takes 4 and leaves 2 to go in
    assert at_surface(0.3, pond=3 * MM, energy=0.004) == pytest.approx((0.004, 0.0, 0.002))
    # and where energy asks for 9, the mix has to give the rest
    assert at_surface(0.3, pond=3 * MM, energy=0.009) == pytest.approx((0.006, 0.003, 0.0))


def test_what_the_mix_can_not_take_stays_on_it():
    assert at_surface(0.0, rain=30.0)[2] == pytest.approx(medium("potting mix").k_s)


def test_mix_under_pressure_lets_water_out_upward():
    # 4 cm of pressure in the middle of a cell whose surface is half a cell above it: 5 m/d times
    # (4 cm / half - 1), up
    half = 0.5 * column_of(PIPES).cells.height[0, 0]
    expected = -medium("potting mix").k_s * (0.04 / half - 1.0)
    assert at_surface(-0.04)[2] == pytest.approx(expected, rel=1e-6)


# The steps


def test_uptake_falls_from_h3_to_h4():
    column = column_of(PIPES)
    column.w[ROOT, : column.n] = 1.0 / column.n
    for s, share in ((0.2, 1.0), (5.0, 1.0), (42.5, 0.5), (80.0, 0.0), (200.0, 0.0)):
        assert column.put(s).w[TAKE, : column.n].sum() == pytest.approx(share, abs=1e-3), s


def stored(column, water, pond):
    return (column.g[WATER, : column.n] * column.w[HELD, : column.n]).sum() + water + pond


@pytest.mark.parametrize("bed", [PIPES, CRATES, bed_with({"mix.top.medium": "pine bark fine"})])
@pytest.mark.parametrize(
    ("given", "dt"),
    [({"rain": 0.5}, 0.1), ({"energy": 0.008, "demand": 0.006}, 0.5), ({"rain": 2.0}, 0.005)],
)
def test_an_implicit_step_loses_no_drop(bed, given, dt):
    column = column_of(bed)
    column.w[ROOT, :6] = 1.0 / 6.0
    column.put(column.cells.centre[0] - 0.08)
    water = held(0.08, column.store)[0]
    before = stored(column, water, 0.002)
    done, _, out = column.step(sky(**given), water, 0.08, pond=0.002, lip=0.09, dt=dt)
    assert done > 0
    left, pond, taken, evaporated, over, _, _ = out[:7]
    after = stored(column, left, pond)
    rain = given.get("rain", 0.0) * dt
    assert after == pytest.approx(before + rain - taken - evaporated - over, abs=1e-15)
    if "rain" in given:
        assert pond + after > before  # it came in
    else:
        assert 0.0 < taken <= 0.006 * dt * (1.0 + 1e-6)
        assert 0.0 < evaporated <= 0.008 * dt + 2e-5


def test_a_step_with_few_passes_fails_rather_than_being_accepted():
    column = column_of(PIPES).put(3.0)
    water = held(0.09, column.store)[0]
    assert column.step(sky(rain=1.0), water, 0.09, dt=0.5, passes=1)[0] == 0
    assert column.step(sky(rain=1.0), water, 0.09, dt=0.01, passes=40)[0] > 1


def test_water_over_the_lip_leaves_as_over_a_weir():
    column = column_of(CRATES)
    column.put(column.cells.centre[0] - 0.10)
    water, dt = held(0.10, column.store)[0], 1e-4
    done, level, out = column.step(sky(), water, 0.10, lip=0.09, dt=dt)
    assert done > 0
    assert out[4] == pytest.approx(dt * OVERFLOW_RATE * (level - 0.09), rel=1e-3)
    # 81 % of void: the head of 1 cm falls by a factor of 1 / (1 + 1000 dt / 0.81) in the step
    assert level - 0.09 == pytest.approx(0.01 / (1.0 + 1000 * dt / 0.81), rel=0.05)
    blocked = column_of(CRATES)
    blocked.put(blocked.cells.centre[0] - 0.10)
    assert blocked.step(sky(), water, 0.10, lip=np.inf, dt=dt)[2][4] == 0.0


def safely(column, given, water, level, *, pond=0.0, lip=0.09, dt=0.02):
    out = np.zeros(8)
    new = safe_step(
        column.mixes.tables, column.g, column.w, column.n, column.store, column.ceiling,
        column.dry, sky(**given), water, level, pond, lip, dt, out,
    )  # fmt: skip
    column.w[HELD, : column.n] = column.w[CARRY, : column.n]
    return new, out


@pytest.mark.parametrize("bed", [PIPES, CRATES])
@pytest.mark.parametrize("suction", [-0.05, 0.02, 0.5, 40.0])
@pytest.mark.parametrize(
    "given", [{"rain": 5.0}, {"energy": 0.05, "demand": 0.05}, {"energy": 50.0, "demand": 50.0}, {}]
)
@pytest.mark.parametrize("lip", [0.09, np.inf])
def test_a_safe_step_loses_no_drop_and_overdraws_nothing(bed, suction, given, lip):
    column = column_of(bed)
    column.w[ROOT, :6] = 1.0 / 6.0
    column.put(suction)
    water = held(0.11, column.store)[0]
    for _ in range(20):
        before = column.w[HELD, : column.n].copy()
        begun = stored(column, water, 0.001)
        _, out = safely(column, given, water, 0.11, pond=0.001, lip=lip)
        left, pond, taken, evaporated, over, _, _ = out[:7]
        rain = given.get("rain", 0.0) * 0.02
        end = stored(column, left, pond) + taken + evaporated + over
        assert end == pytest.approx(begun + rain, abs=1e-14)
        now = column.w[HELD, : column.n]
        driest = column.mixes.tables[column.cells.mix[0], -1, THETA]
        fullest = column.mixes.tables[column.cells.mix[0], 0, THETA]
        # five fluxes at most, each of a quarter: a cell is never passed beyond its ends by more
        assert (now > driest - 0.25 * (before - driest) - 1e-12).all()
        assert (
            now < np.maximum(fullest, before) + 0.5 * np.maximum(fullest - before, 0) + 1e-12
        ).all()
        assert left >= 0.0
        assert min(taken, evaporated, over) >= 0.0
        if lip < NO_LIP:
            assert left <= held(lip, column.store)[0] + 1e-15
        water = left


def test_safe_steps_lead_toward_rest():
    column = column_of(PIPES)
    column.put(0.3)
    water = held(0.06, column.store)[0]
    apart = np.abs(column.suction - (column.cells.centre[0] - 0.06)).mean()
    for _ in range(400):
        _, out = safely(column, {}, water, level_at(water, column.store), dt=0.02)
        water = out[0]
    level = level_at(water, column.store)
    assert np.abs(column.suction - (column.cells.centre[0] - level)).mean() < 0.5 * apart
    assert 0.01 <= level < 0.06  # it has fed the mix


def test_rows_of_a_table_have_their_names():
    table = mix_table(medium("peat"))
    assert table[1, F] < 0.0 < table[1, K]
    assert table[1, DS] > 0.0 > table[1, DK]
    assert column_of(PIPES).g[CENTRE, 0] == pytest.approx(column_of(PIPES).cells.centre[0, 0])
