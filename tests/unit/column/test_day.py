"""A day's hours, its morning, where roots take and what is read in the evening."""

import numpy as np
import pytest
from scipy.integrate import quad

from bedtide.bed import capacity, crown_height, mix_below, open_store, surface_height
from bedtide.column import FIGURES
from bedtide.column.day import Day, rate_of_rain, sun
from bedtide.column.run import air_above, airy_depth, dawn, read, roots_in
from bedtide.column.step import HELD, ROOT, WATER, held
from bedtide.mix import suction_at, water_content
from helpers.beds import bed_with, layered
from helpers.columns import column_of

PIPES = bed_with()
CRATES = layered("crates")
NO_HOURS = np.zeros(0)
MM = 1e-3


# The hours


def day_of(rain, begin=9 / 24, end=15 / 24):
    return Day(rain, begin, end, 0.0, 0.0, 5.0, 80.0, np.inf, 0.03)


@pytest.mark.parametrize("t", [0.0, 0.2, 0.25, 0.3, 0.45, 0.5, 0.66, 0.75, 0.9, 1.0])
def test_demand_follows_a_squared_sine_from_six_to_eighteen(t):
    def rate(x):
        return 4.0 * np.sin(np.pi * (2.0 * x - 0.5)) ** 2 if 0.25 < x < 0.75 else 0.0

    assert sun(t) == pytest.approx(quad(rate, 0.0, t, points=[0.25, 0.75])[0], abs=1e-9)


def test_half_of_it_has_passed_at_noon_and_all_at_night():
    assert [sun(t) for t in (0.25, 0.5, 0.75)] == pytest.approx([0.0, 0.5, 1.0])


def fallen(day, hours):
    """Rain of a day, piece by piece, and where the pieces end."""
    t, total, ends = 0.0, 0.0, []
    while t < 1.0 - 1e-9:
        rate, change = rate_of_rain(t, day, hours)
        assert change > t
        total += rate * (min(change, 1.0) - t)
        t = change
        ends.append(t)
    return total, ends


def test_rain_falls_evenly_between_its_hours():
    day = day_of(24 * MM)
    assert rate_of_rain(0.1, day, NO_HOURS) == (0.0, 9 / 24)
    assert rate_of_rain(0.4, day, NO_HOURS) == pytest.approx((96 * MM, 15 / 24))  # over 6 hours
    assert rate_of_rain(0.7, day, NO_HOURS) == (0.0, 1.0)
    total, ends = fallen(day, NO_HOURS)
    assert total == pytest.approx(24 * MM)
    assert ends == pytest.approx([9 / 24, 15 / 24, 1.0])


def test_a_dry_day_has_no_hours():
    assert rate_of_rain(0.3, day_of(0.0), NO_HOURS) == (0.0, 1.0)


def test_rain_by_the_hour_falls_when_it_fell():
    hours = np.zeros(24)
    hours[[3, 4]], hours[20] = 0.25, 0.5
    day = day_of(40 * MM)
    assert rate_of_rain(0.0, day, hours) == pytest.approx((0.0, 3 / 24))
    # a quarter of it in an hour: 10 mm; two hours alike are one piece
    assert rate_of_rain(3.5 / 24, day, hours) == pytest.approx((240 * MM, 5 / 24))
    assert rate_of_rain(20.1 / 24, day, hours) == pytest.approx((480 * MM, 21 / 24))
    total, ends = fallen(day, hours)
    assert total == pytest.approx(40 * MM)
    assert ends == pytest.approx([3 / 24, 5 / 24, 20 / 24, 21 / 24, 1.0])


# The roots


def shares(bed, demand, depth, *, floor=0.09, h3=(5.0,), h4=(80.0,)):
    column = column_of(bed)
    found = roots_in(
        column.g, column.w, column.n, surface_height(bed), floor,
        np.array(demand), np.array(depth), np.array(h3), np.array(h4),
    )  # fmt: skip
    return column, column.w[ROOT, : column.n].copy(), found


def test_roots_thin_out_in_a_straight_line_to_their_depth():
    column, share, found = shares(PIPES, [0.004], [0.20])
    assert found == (0.004, 5.0, 80.0)
    assert share.sum() == pytest.approx(1.0)
    faces = np.append(0.39, 0.39 - np.cumsum(column.cells.height[0]))
    for cell in range(column.n):
        top, foot = (max(1.0 - (0.39 - z) / 0.20, 0.0) for z in faces[cell : cell + 2])
        assert share[cell] == pytest.approx(top**2 - foot**2, abs=1e-12), cell


def test_roots_do_not_pass_the_highest_lip():
    _column, share, _ = shares(PIPES, [0.004], [0.70], floor=0.12)
    assert share.sum() == pytest.approx(1.0)
    assert (share[-4:] == 0.0).all()  # the cells between the pipes, under 12 cm
    assert share[-5] > 0.0


def test_plantings_count_by_what_they_ask_for():
    _column, both, found = shares(
        PIPES, [0.003, 0.001], [0.30, 0.10], h3=(8.0, 4.0), h4=(80.0, 40.0)
    )
    assert found == pytest.approx((0.004, 7.0, 70.0))  # three to one
    deep, flat = (shares(PIPES, [1.0], [depth])[1] for depth in (0.30, 0.10))
    assert both == pytest.approx(0.75 * deep + 0.25 * flat, abs=1e-12)


def test_where_nothing_is_asked_for_nothing_roots():
    _column, share, found = shares(PIPES, [0.0, 0.0], [0.0, 0.0], h3=(0.0, 0.0), h4=(80.0, 80.0))
    assert (share == 0.0).all()
    assert found[0] == 0.0
    assert found[1] < found[2]


# The morning


def morning(bed, lip, added, water, *, suction=0.3, standing=0.0, level=None):
    """What left and what climbed, the store and level and pond, and the mix before and after."""
    column = column_of(bed)
    column.put(suction)
    start = float(
        np.interp(water, open_store(np.linspace(0, 0.15, 4001), bed), np.linspace(0, 0.15, 4001))
    )
    state = np.array([water, start if level is None else level, standing, 0.3])
    before = (column.g[WATER, : column.n] * column.w[HELD, : column.n]).sum()
    over, climbed = dawn(
        column.mixes.tables, column.g, column.w, column.n, column.store, lip, added, state
    )
    after = (column.g[WATER, : column.n] * column.w[HELD, : column.n]).sum()
    return over, climbed, state, after - before


def test_a_fill_raises_the_store_and_its_level():
    over, climbed, state, gained = morning(CRATES, 0.09, 0.020, 0.81 * 0.05)
    assert (over, climbed, gained) == (0.0, 0.0, 0.0)
    assert state[0] == pytest.approx(0.81 * 0.05 + 0.020)
    assert state[1] == pytest.approx(0.05 + 0.020 / 0.81, abs=1e-5)
    assert 0.0 < state[3] <= 0.06  # and the first step is short


def test_a_fill_over_the_lip_runs_off_at_once():
    over, climbed, state, _ = morning(CRATES, 0.09, 0.030, 0.81 * 0.08)
    assert over == pytest.approx(0.030 - 0.81 * 0.01)
    assert climbed == 0.0
    assert state[:2] == pytest.approx([0.81 * 0.09, 0.09], abs=1e-5)


def test_a_lip_that_is_lowered_lets_go():
    over, _, state, _ = morning(CRATES, 0.04, 0.0, 0.81 * 0.09)
    assert over == pytest.approx(0.81 * 0.05)
    assert state[0] == pytest.approx(0.81 * 0.04)
    assert state[1] == pytest.approx(0.04, abs=1e-5)


def test_a_morning_without_water_changes_nothing():
    over, climbed, state, gained = morning(CRATES, 0.09, 0.0, 0.81 * 0.07)
    assert (over, climbed, gained) == (0.0, 0.0, 0.0)
    assert state[0] == 0.81 * 0.07
    assert state[3] == 0.3


@pytest.mark.parametrize("bed", [PIPES, CRATES])
def test_what_no_outlet_takes_climbs_into_the_mix_and_then_stands_on_it(bed):
    full = float(capacity(bed, np.inf))
    over, climbed, state, gained = morning(bed, np.inf, 0.030, full - 0.010)
    assert over == 0.0
    assert climbed == pytest.approx(0.020)
    assert state[0] == pytest.approx(full)
    assert state[2] == 0.0
    assert gained == pytest.approx(0.020)
    # far more fills every pore: what all cells lack at that suction is room, the rest stands
    column = column_of(bed).put(0.3)
    top = column.mixes.tables[column.cells.mix[0], 0, 2]
    room = (column.g[WATER, : column.n] * (top - column.w[HELD, : column.n])).sum()
    over, climbed, state, gained = morning(bed, np.inf, 0.500, full)
    assert climbed == pytest.approx(0.500)
    assert gained == pytest.approx(room)
    assert state[2] == pytest.approx(0.500 - room)


def test_the_pores_fill_from_the_floor_up():
    column = column_of(CRATES).put(0.3)
    full = float(capacity(CRATES, np.inf))
    state = np.array([full, 0.15, 0.0, 0.3])
    before = column.w[HELD, : column.n].copy()
    dawn(column.mixes.tables, column.g, column.w, column.n, column.store, np.inf, 0.010, state)
    gained = column.w[HELD, : column.n] - before
    changed = np.flatnonzero(gained > 0.0)
    assert changed[-1] == column.n - 1
    assert (np.diff(changed) == 1).all()
    porosity = column.mixes.tables[column.cells.mix[0], 0, 2]
    assert column.w[HELD, changed[1:]] == pytest.approx(porosity[changed[1:]])
    assert column.w[HELD, changed[0]] < porosity[changed[0]]


# The evening


def evening(bed, level, *, zone=0.25, standing=0.0):
    column = column_of(bed)
    column.put(column.cells.centre[0] - level)
    state = np.array([held(level, column.store)[0], level, standing, 0.3])
    row = np.zeros(len(FIGURES))
    read(column.mixes, column.g, column.w, column.n, surface_height(bed), zone, state, row)
    return column, dict(zip(FIGURES, row, strict=True))


@pytest.mark.parametrize("bed", [PIPES, CRATES, bed_with({"mix.top.medium": "topsoil loam"})])
def test_the_evening_at_rest_by_integrals(bed):
    level = 0.08
    _column, found = evening(bed, level)
    assert found["open_water"] == pytest.approx(open_store(level, bed), abs=2e-6)
    assert found["level"] == level
    assert found["surface_suction"] == pytest.approx(0.39 - level, abs=1e-6)
    z = np.linspace(0.0, 0.39, 39001)
    middle = 0.5 * (z[1:] + z[:-1])
    suction = np.maximum(middle - level, 0.0)
    wick = middle < crown_height(bed)
    content = np.where(
        wick, water_content(suction, bed.wick_mix), water_content(suction, bed.top_mix)
    )
    porosity = np.where(wick, bed.wick_mix.theta_s, bed.top_mix.theta_s)
    mix = np.diff(mix_below(z, bed))
    assert found["mix_water"] == pytest.approx((mix * content).sum(), abs=3e-4)
    for name, depth in (("air_root_zone", 0.25), ("air_top", 0.15)):
        inside = middle > 0.39 - depth
        mean = (mix * (porosity - content))[inside].sum() / mix[inside].sum()
        assert found[name] == pytest.approx(mean, abs=5e-3), name


@pytest.mark.parametrize("name", ["potting mix", "topsoil loam", "peat"])
def test_air_reaches_down_to_where_a_tenth_is_air(name):
    bed = bed_with({"mix.top.medium": name, "mix.wick.medium": name})
    _, found = evening(bed, 0.05)
    wet = float(suction_at(bed.top_mix.theta_s - 0.10, bed.top_mix))
    assert found["aerated_depth"] == pytest.approx(max(0.34 - wet, 0.0), abs=1e-3)


def test_standing_water_is_the_level_and_leaves_no_air():
    _column, found = evening(PIPES, 0.39, standing=0.012)
    assert found["level"] == pytest.approx(0.39 + 0.012)
    assert found["standing_water"] == 0.012
    assert (found["air_root_zone"], found["air_top"], found["aerated_depth"]) == (0.0, 0.0, 0.0)
    assert found["surface_suction"] == 0.0


def test_air_is_weighed_by_the_mix_there_is():
    """Between pipes there is less mix, so that the air there counts for less."""
    column = column_of(PIPES)
    column.put(np.where(np.arange(column.n) < column.n - 4, 0.5, 0.0))
    air = 0.85 - float(water_content(0.5, PIPES.top_mix))
    mix = float(mix_below(0.39, PIPES) - mix_below(0.12, PIPES))
    whole = mix + float(mix_below(0.12, PIPES))
    found = air_above(column.mixes.tables, column.g, column.w, column.n, 0.0)
    assert found == pytest.approx(air * mix / whole, abs=1e-4)
    assert air_above(column.mixes.tables, column.g, column.w, column.n, 0.12) == pytest.approx(
        air, abs=1e-4
    )


def test_a_bed_that_is_airy_to_the_foot_is_so_to_the_foot():
    column = column_of(PIPES).put(2.0)
    depth = airy_depth(column.mixes, column.g, column.w, column.n, 0.39)
    assert depth == pytest.approx(0.39)
