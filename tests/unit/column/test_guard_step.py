"""The implicit step against the same equations written down anew and solved densely.

What these tests hold is every term of the step, every slope that its passes use, every limit on a
pass and every bound on what is accepted. Expected values come from `helpers/one_step.py` and from
arithmetic here.
"""

from __future__ import annotations

import functools
from typing import NamedTuple

import numpy as np
import pytest

from bedtide.bed import Bed
from bedtide.column import AIR_DRY
from bedtide.column.step import (
    BEND,
    CARRY,
    DQ,
    HELD,
    ROOT,
    S_,
    TAKE,
    TH,
    Q,
    Sky,
    attempt,
    look,
    safe_step,
    through_ceiling,
)
from bedtide.mix import medium
from helpers.beds import bed_with, layered
from helpers.columns import H3, H4, column_of
from helpers.one_step import NODES, Equations, suction

PIPES = bed_with()
CRATES = layered("crates", wick_foot="3 cm")
STONE = layered("stone", void_share="40 %", wick_share="0 %")
FAR = np.full(4, -9.0)  # no bend is near


class Case(NamedTuple):
    """Where a step begins and what it meets."""

    bed: Bed
    level: float
    over: float = 0.0  # how much drier than at rest [m]
    suction: tuple[tuple[int, float], ...] = ()
    rain: float = 0.0
    demand: float = 0.0
    energy: float = 0.0
    pond: float = 0.0
    lip: float = np.inf
    dt: float = 0.05
    h4: float = H4


CASES = {
    "feeding": Case(CRATES, 0.11, over=0.02, demand=0.005, energy=0.004),
    "two mixes far apart": Case(CRATES, 0.07, over=0.3, dt=1e-4),
    "below the legs": Case(CRATES, 0.02, over=0.03, demand=0.004),
    "touching the foot of the mix": Case(CRATES, 0.1504, over=0.0002, demand=0.004, dt=1e-4),
    "foot under water, drinking": Case(CRATES, 0.153, over=0.004, demand=0.002, dt=1e-3),
    "foot under water, draining": Case(CRATES, 0.153, over=-0.01, dt=1e-3),
    "mix dripping on open water": Case(CRATES, 0.08, over=-0.12, dt=1e-3),
    "touched and pressed": Case(CRATES, 0.1504, over=-0.004, dt=1e-4),
    "bare stone": Case(STONE, 0.1505, over=0.0003, dt=1e-4),
    "among pipes": Case(PIPES, 0.075, over=0.01, demand=0.006, energy=0.006),
    "among pipes, seeping": Case(PIPES, 0.031, over=-0.05, dt=1e-3),
    "full pipes": Case(PIPES, 0.13, over=0.01, demand=0.006, dt=1e-3),
    "empty pipes": Case(PIPES, 0.008, over=0.3, demand=0.003),
    "over the lip": Case(CRATES, 0.093, over=0.005, lip=0.09, dt=1e-3),
    "rain that goes in": Case(PIPES, 0.08, rain=0.04, dt=0.02),
    "rain that does not": Case(PIPES, 0.08, over=0.1, rain=600.0, dt=1e-6),
    "a pond": Case(PIPES, 0.09, suction=((0, 0.1),), pond=0.02, energy=0.006, dt=1e-6),
    "a surface pressed from below": Case(PIPES, 0.09, over=-0.35, dt=1e-6),
    "a dry surface": Case(
        PIPES, 0.022, suction=((0, 60.0), (1, 7.0), (2, 2.0)), energy=0.02, dt=1e-4
    ),
    "thirst": Case(PIPES, 0.005, over=20.0, demand=0.006, energy=0.001, dt=0.1),
    "thirst, two mixes": Case(CRATES, 0.02, over=9.0, demand=0.006, dt=0.1, h4=16.0),
    "past thirst": Case(PIPES, 0.005, over=20.0, demand=0.006, dt=0.1, h4=10.0),
}
each = pytest.mark.parametrize("name", CASES)


class Begun:
    """A case ready to step: by the engine, and by the equations."""

    def __init__(self, case: Case):
        self.case, self.column = case, column_of(case.bed)
        column = self.column
        wiggle = 1.0 + 0.03 * np.sin(2.0 * np.arange(column.n) + 0.4)
        s = column.cells.centre[0] - case.level
        s = np.where(s > 0.0, s * wiggle, s) + case.over * wiggle
        for cell, value in case.suction:
            s[cell] = value
        self.column.put(s)
        self.root = np.linspace(2.0, 0.5, column.n) / np.linspace(2.0, 0.5, column.n).sum()
        column.w[ROOT, : column.n] = self.root
        self.sky = Sky(case.rain, case.demand, case.energy, H3, case.h4)
        for cell in range(column.n):
            look(column.mixes.tables, column.g, column.w, cell, H3, case.h4)
        self.theta = column.w[HELD, : column.n].copy()
        # the mismatch that an earlier step left is a part of the next
        self.theta += 1e-7 * np.cos(np.arange(column.n)) / column.cells.water[0]
        column.w[HELD, : column.n] = self.theta
        self.q, self.h = column.w[Q, : column.n].copy(), case.level
        self.equations = Equations(
            case.bed, column, self.sky, lip=case.lip, dt=case.dt, pond=case.pond, root=self.root,
            dry=AIR_DRY,
        )  # fmt: skip
        self.water = self.equations.store(case.level) + 1e-9

    def attempt(self, passes, *, damped=False, bends=FAR):
        """One call of the engine: passes taken, level, what moved."""
        out, column = np.full(8, np.nan), self.column
        done, level = attempt(
            column.mixes.tables, column.g, column.w, column.n, column.store, column.ceiling,
            column.dry, bends, self.sky, self.water, self.h, self.case.pond, self.case.lip,
            self.case.dt, passes, damped, out,
        )  # fmt: skip
        return done, level, out

    def row(self, which):
        """One row of the scratch."""
        return self.column.w[which, : self.column.n].copy()


@functools.cache
def reference(name):
    """First change by Newton's method, the solution, its passes; worked out once."""
    begun = Begun(CASES[name])
    at = (begun.q, begun.h, begun.theta, begun.water)
    return begun.equations.newton(*at), begun.equations.solved(*at)


@each
def test_the_dense_equations_hold_what_the_mix_holds(name):
    """So that the rest compares like with like: the two agree on the water at the start."""
    begun = Begun(CASES[name])
    assert begun.row(TH) == pytest.approx(begun.equations.theta(suction(begun.q)), abs=1e-10)


@each
def test_the_first_pass_is_newtons(name):
    begun = Begun(CASES[name])
    (dq, dh), _ = reference(name)
    start = begun.row(TH)
    _, level, _ = begun.attempt(1)
    scale = np.abs(dq).max()
    assert begun.row(DQ) == pytest.approx(dq, rel=2e-4, abs=2e-5 * scale)
    assert level - begun.h == pytest.approx(dh, rel=2e-4, abs=1e-12)
    # the water carried forward is that of the straight curves
    slopes = (begun.equations.theta(suction(begun.q + 1e-4)) - start) / 1e-4
    carried = begun.row(CARRY) - begun.theta
    assert carried == pytest.approx(
        start + slopes * dq - begun.theta, rel=1e-3, abs=1e-4 * np.abs(carried).max() + 1e-12
    )


@each
def test_a_step_solves_the_implicit_equations(name):
    """Within a hundredth of a millimetre, and in as many passes as Newton's method needs."""
    begun = Begun(CASES[name])
    equations, dt = begun.equations, begun.case.dt
    _, (q, h, turns) = reference(name)
    done, level, out = begun.attempt(8)
    assert 0 < done <= turns
    s = suction(q)
    mix = begun.column.cells.water[0]
    assert mix * begun.row(CARRY) == pytest.approx(mix * equations.theta(s), abs=3e-5)
    assert mix * begun.row(TH) == pytest.approx(mix * begun.row(CARRY), abs=1.0001e-5)
    assert level == pytest.approx(h, abs=5e-5 if h < 0.1499 else 2e-4)
    from_pond, evaporated, infiltrated = equations.surface(s)
    _, gain, over = equations.rates(s, h)
    expected = {
        0: begun.water + dt * gain,
        1: begun.case.pond + dt * (begun.case.rain - infiltrated - from_pond),
        2: dt * equations.uptake(s).sum(),
        3: dt * (evaporated + from_pond),
        4: dt * over,
        5: -dt * (gain + over),
        6: dt * infiltrated,
    }
    for place, value in expected.items():
        assert out[place] == pytest.approx(value, abs=4e-5), place


@each
def test_many_passes_end_in_the_solution(name):
    """Passes that go on from where the last one ended find what the dense equations find."""
    begun = Begun(CASES[name])
    _, (q, h, _) = reference(name)
    for _ in range(12):
        _, begun.h, _ = begun.attempt(1)
    assert begun.h == pytest.approx(h, abs=1e-8 if h < 0.15 else 1e-7)
    assert begun.row(Q) == pytest.approx(q, rel=1e-6, abs=1e-7)
    _, begun.h, out = begun.attempt(1)
    s, dt = suction(q), begun.case.dt
    from_pond, evaporated, infiltrated = begun.equations.surface(s)
    _, gain, over = begun.equations.rates(s, h)
    rain = begun.case.rain
    expected = [
        begun.water + dt * gain,
        begun.case.pond + dt * (rain - infiltrated - from_pond),
        dt * begun.equations.uptake(s).sum(),
        dt * (evaporated + from_pond),
        dt * over,
        -dt * (gain + over),
        dt * infiltrated,
    ]
    assert out[:7] == pytest.approx(expected, rel=1e-6, abs=1e-10)


# Damped passes


@pytest.mark.parametrize("name", ["feeding", "among pipes", "over the lip", "thirst, two mixes"])
def test_a_damped_pass_goes_seven_tenths_of_the_way(name):
    plain, damped = Begun(CASES[name]), Begun(CASES[name])
    _, level, _ = plain.attempt(1)
    _, near, _ = damped.attempt(1, damped=True)
    assert damped.row(DQ) == pytest.approx(0.7 * plain.row(DQ), rel=1e-9)
    assert near - damped.h == pytest.approx(0.7 * (level - plain.h), rel=1e-9)


@pytest.mark.parametrize("name", ["feeding", "among pipes", "over the lip", "thirst, two mixes"])
def test_damped_passes_go_the_same_way_in_the_end(name):
    begun = Begun(CASES[name])
    _, (q, h, _) = reference(name)
    assert 1 < Begun(CASES[name]).attempt(20, damped=True)[0] < 20
    for _ in range(12):
        _, begun.h, _ = begun.attempt(3, damped=True)
    assert begun.h == pytest.approx(h, abs=1e-7)
    assert begun.row(Q) == pytest.approx(q, rel=1e-5)


def test_lagged_conductivity_is_that_of_the_pass_before_and_has_no_slope():
    """Two cells' face by hand: k dt (ds / reach - 1), and slopes of the gradient alone."""
    from bedtide.column.step import DS_, KBAR, PATH, S_, face

    begun = Begun(CASES["among pipes"])
    column = begun.column
    column.w[KBAR, 5] = 0.0123
    flux, here, above = face(column.mixes.tables, column.g, column.w, 5, True)
    low, high = column.w[S_, 5], column.w[S_, 4]
    reach = column.cells.reach[0, 5]
    k = 0.0123 * column.g[PATH, 5]
    assert flux == pytest.approx(k * ((high - low) / reach - 1.0), rel=1e-12)
    assert here == pytest.approx(-k * column.w[DS_, 5] / reach, rel=1e-12)
    assert above == pytest.approx(k * column.w[DS_, 4] / reach, rel=1e-12)
    # and a pass with conductivities of its own leaves them for the next
    fresh, _, _ = face(column.mixes.tables, column.g, column.w, 5, False)
    again, _, _ = face(column.mixes.tables, column.g, column.w, 5, True)
    assert again == pytest.approx(fresh, rel=1e-12)
    assert again != pytest.approx(flux, rel=1e-3)


# Limits on a pass


def test_a_pass_changes_a_suction_by_no_more_than_it_may():
    """Drier by 5 cm and twice the suction, wetter by 5 cm and 95 % of it."""
    thirsty = Begun(Case(PIPES, 0.02, over=0.5, demand=3.0, dt=0.2))
    dq, _ = thirsty.equations.newton(thirsty.q, thirsty.h, thirsty.theta, thirsty.water)
    s, at = suction(thirsty.q), thirsty.q.astype(int)
    ds = NODES[at + 1] - NODES[at]
    most = 0.05 + 2.0 * s
    thirsty.column.g[BEND] = 1e-3  # far from where they are
    thirsty.attempt(1)
    beyond = dq * ds > most
    assert beyond[: thirsty.column.n - 4].all()
    assert (thirsty.row(DQ) * ds)[beyond] == pytest.approx(most[beyond], rel=1e-9)

    wetted = Begun(Case(PIPES, 0.02, over=30.0, rain=3.0, dt=0.2))
    dq, _ = wetted.equations.newton(wetted.q, wetted.h, wetted.theta, wetted.water)
    s, at = suction(wetted.q), wetted.q.astype(int)
    ds = NODES[at + 1] - NODES[at]
    most = 0.05 + 0.95 * s
    wetted.column.g[BEND] = 290.0
    wetted.attempt(1)
    beyond = dq * ds < -most
    assert beyond[0]
    assert wetted.row(DQ)[beyond] * ds[beyond] == pytest.approx(-most[beyond], rel=1e-9)


@pytest.mark.parametrize("side", [-1, 1])
def test_a_pass_stops_at_the_bend_of_the_curve(side):
    """Where retention turns; but not for a change of under 2 cm, and not twice."""
    case = Case(PIPES, 0.02, over=0.5, demand=2.0) if side > 0 else Case(
        PIPES, 0.02, over=0.5, rain=2.0
    )  # fmt: skip
    begun = Begun(case)
    begun.column.g[BEND] = -1e3
    begun.attempt(1)
    free = begun.row(DQ)[0]
    step = suction(begun.q)[0]
    assert free * side > 0.5
    for bend, expected in (
        (begun.q[0] + 0.5 * free, 0.5 * free),  # on the way: there it stops
        (begun.q[0] + 1.5 * free, free),  # beyond
        (begun.q[0] - 0.5 * free, free),  # behind
        (begun.q[0] * (1.0 + 0.005 * side), free),  # left from there, within 1 %
        (begun.q[0] * (1.0 + 0.02 * side), 0.02 * side * begun.q[0]),
    ):
        again = Begun(case)
        again.column.g[BEND] = -1e3
        again.column.g[BEND, 0] = bend
        again.attempt(1)
        assert again.row(DQ)[0] == pytest.approx(expected, rel=1e-6), bend
    assert step > 0.1


def test_a_small_change_does_not_stop_at_the_bend():
    small = Begun(Case(PIPES, 0.02, over=0.5, demand=0.002))
    small.column.g[BEND] = -1e3
    small.attempt(1)
    free, s = small.row(DQ)[0], suction(small.q)[0]
    change = suction(small.q + free)[0] - s
    assert 0.005 < change < 0.02
    again = Begun(Case(PIPES, 0.02, over=0.5, demand=0.002))
    again.column.g[BEND] = again.q[0] + 0.5 * free
    again.attempt(1)
    assert again.row(DQ)[0] == pytest.approx(free, rel=1e-9)


@pytest.mark.parametrize("lip", [0.09, np.inf])
def test_the_level_stops_where_the_form_changes(lip):
    """A pass carries the level to the bend and no farther; from the bend it goes on."""
    case = Case(CRATES, 0.10, over=0.1, lip=lip, dt=0.02)
    free = Begun(case)
    _, end, _ = free.attempt(1)
    assert end < 0.0998
    bends = np.array([-9.0, 0.0999, 0.2, -9.0])
    stopped = Begun(case)
    assert stopped.attempt(1, bends=bends)[1] == 0.0999
    for bend in (0.10, 0.10 + 5e-10, 0.101, end - 1e-3):
        again = Begun(case)
        assert again.attempt(1, bends=np.array([bend, 9.0, 9.0, 9.0]))[1] == pytest.approx(
            end, abs=1e-12
        ), bend


# What is accepted


def test_a_pass_whose_mismatch_is_too_large_is_not_accepted():
    """The bound is a hundredth of a millimetre in a cell; what an earlier step left counts not."""
    seen = {True: 0, False: 0}
    for dt in np.geomspace(1e-4, 0.3, 60):
        begun = Begun(Case(PIPES, 0.06, over=0.25, demand=0.01, energy=0.01, dt=dt))
        done, _, _ = begun.attempt(1)
        mix = begun.column.cells.water[0]
        worst = (mix * np.abs(begun.row(TH) - begun.row(CARRY))).max()
        if done:
            assert worst <= 1e-5
        elif worst > 1e-5:
            seen[False] += 1
        seen[True] += done > 0
    assert min(seen.values()) > 5


def test_a_mismatch_left_by_the_step_before_is_allowed_again():
    begun = Begun(Case(PIPES, 0.06, dt=1e-6))
    mix = begun.column.cells.water[0]
    begun.column.w[HELD, 3] += 5e-5 / mix[3]  # which one pass takes up to within rounding
    begun.theta = begun.row(HELD)
    done, _, _ = begun.attempt(1)
    assert done == 1
    worst = (mix * np.abs(begun.row(TH) - begun.row(CARRY))).max()
    assert worst < 5e-5


@pytest.mark.parametrize("dt", [1e-4, 1e-3, 1e-2])
def test_what_is_accepted_keeps_its_fluxes_and_its_store(dt):
    """Over and over: the store within 0.01 mm of its level, fluxes within 0.02 mm of the end's."""
    taken = 0
    for name in CASES:
        for passes in (1, 2, 3):
            begun = Begun(CASES[name]._replace(dt=dt))
            begun.equations.dt = dt
            done, level, out = begun.attempt(passes)
            if not done:
                continue
            taken += 1
            s = suction(begun.row(Q))
            store = begun.equations.store(level)
            assert out[0] == pytest.approx(store, abs=1.01e-5)
            over = 1000.0 * max(level - begun.case.lip, 0.0)
            assert out[4] == pytest.approx(dt * over, abs=2.01e-5)
            assert out[2] == pytest.approx(dt * begun.equations.uptake(s).sum(), abs=2.01e-5)
            from_pond, evaporated, infiltrated = begun.equations.surface(s)
            assert out[3] == pytest.approx(dt * (evaporated + from_pond), abs=2.01e-5)
            assert out[6] == pytest.approx(dt * infiltrated, abs=2.01e-5)
    assert taken > 5


# Mix that lies bare over open water: its slopes


@pytest.mark.parametrize(
    ("level", "s"),
    [
        (0.1504, 0.0306),  # water touches 0.4 of it, and it drinks
        (0.1504, 0.0100),  # it drains into it
        (0.1600, 0.0500),  # all under water, drinking
        (0.1600, -0.0100),  # draining
        (0.1000, 0.0100),  # dripping through the air
        (0.1000, 0.0500),  # nothing
    ],
)
def test_slopes_over_open_void_are_differences(level, s):
    given = (0.18, 0.15, 100.0)
    value, by_q, by_h = through_ceiling(level, s, 0.3, *given)
    d = 1e-7
    over_s = [through_ceiling(level, s + sign * d, 0.3, *given)[0] for sign in (-1, 1)]
    over_h = [through_ceiling(level + sign * d, s, 0.3, *given)[0] for sign in (-1, 1)]
    assert by_q == pytest.approx(0.3 * (over_s[1] - over_s[0]) / (2 * d), rel=1e-5, abs=1e-9)
    assert by_h == pytest.approx((over_h[1] - over_h[0]) / (2 * d), rel=1e-5, abs=1e-9)
    # by hand: 100 a day, and 0.4 of that where 0.4 mm of the millimetre are covered
    touch = min(max(level - 0.15, 0.0) / 0.001, 1.0)
    head = max(level, 0.15) - 0.18 + s
    assert value == pytest.approx(100.0 * (min(head, 0.0) + touch * max(head, 0.0)))


def test_marks_of_the_mixes_are_there():
    """The cases reach what they name."""
    assert medium("peat") != medium("potting mix")
    dry = Begun(CASES["a dry surface"])
    assert dry.equations.surface(suction(dry.q))[1] < 0.9 * 0.02
    wet = Begun(CASES["rain that does not"])
    assert wet.equations.surface(suction(wet.q))[2] < 600.0
    pressed = Begun(CASES["a surface pressed from below"])
    assert pressed.equations.surface(suction(pressed.q))[2] < 0.0


# Safe steps


MOST_PRESSED = -20.0 * NODES[1]  # water of mix under more pressure is read as if under this [m]


def by_hand(begun):
    """A safe step by its rule: no flux over a quarter of what one side has or the other lacks."""
    equations, column = begun.equations, begun.column
    mix, n, dt = column.cells.water[0], column.n, begun.case.dt
    s, h = np.maximum(suction(begun.q), MOST_PRESSED), begun.h
    theta = begun.theta
    has = 0.25 * mix * (theta - [own.content[-1] for own in equations.own])
    lacks = 0.25 * mix * np.maximum([own.content[0] for own in equations.own] - theta, 0.0)
    gained = np.zeros(n)
    from_pond, evaporated, infiltrated = equations.surface(s)
    evaporated = min(dt * evaporated, has[0])
    infiltrated = min(max(dt * infiltrated, 0.0), lacks[0])
    gained[0] += infiltrated - evaporated
    for cell in range(1, n):
        flux = dt * equations.face(cell, s)
        if flux > 0.0:
            flux = min(flux, has[cell], lacks[cell - 1])
        else:
            flux = max(flux, -has[cell - 1], -lacks[cell])
        gained[cell - 1] += flux
        gained[cell] -= flux
    space = 1e9 if np.isfinite(begun.case.lip) else max(column.store.curve[-1] - begun.water, 0.0)
    rise = 0.0
    for cell in range(n):
        given = dt * equations.exchange(cell, s, h)
        given = min(given, lacks[cell], 0.25 * begun.water / n)
        given = max(given, -has[cell], -0.25 * space / n)
        gained[cell] += given
        rise += given
    taken = np.minimum(dt * equations.uptake(s), has)
    gained -= taken
    left = begun.water - rise
    over = max(left - equations.store(begun.case.lip), 0.0) if np.isfinite(begun.case.lip) else 0.0
    pond = begun.case.pond + dt * (begun.case.rain - from_pond) - infiltrated
    moved = [left - over, pond, taken.sum(), evaporated + dt * from_pond, over, rise, infiltrated]
    return theta + gained / mix, moved


SAFE = {
    "thirsty": Case(PIPES, 0.09, over=0.5, demand=0.2, energy=0.1, lip=0.09, dt=0.02),
    "short": Case(PIPES, 0.09, over=0.02, demand=0.005, energy=0.004, lip=0.085, dt=1e-5),
    "soaked": Case(PIPES, 0.10, over=-0.2, rain=3.0, lip=0.12, dt=0.02),
    "blocked": Case(CRATES, 0.149, over=-0.16, dt=0.02),
    "on legs": Case(CRATES, 0.14, over=0.2, demand=1.5, energy=0.5, lip=0.12, dt=0.02),
    "under water": Case(CRATES, 0.155, over=0.02, rain=5.0, dt=0.01),
    "a pond": Case(CRATES, 0.06, over=0.1, pond=0.01, energy=0.006, rain=0.2, dt=0.01),
    "dry as dust": Case(PIPES, 0.05, over=70.0, demand=9.0, energy=9.0, dt=0.02),
    "little water": Case(CRATES, 0.0301, over=0.3, lip=0.09, dt=0.02),
}


@pytest.mark.parametrize("name", SAFE)
def test_a_safe_step_by_hand(name):
    begun = Begun(SAFE[name])
    column = begun.column
    begun.theta = begun.equations.theta(suction(begun.q))
    column.w[HELD, : column.n] = begun.theta
    theta, moved = by_hand(begun)
    out = np.full(8, np.nan)
    column.w[Q] = -3.0  # it finds the places from the water
    level = safe_step(
        column.mixes.tables, column.g, column.w, column.n, column.store, column.ceiling,
        column.dry, begun.sky, begun.water, begun.h, begun.case.pond, begun.case.lip,
        begun.case.dt, out,
    )  # fmt: skip
    assert out[:7] == pytest.approx(moved, rel=1e-5, abs=1e-10)
    assert begun.row(CARRY) == pytest.approx(theta, rel=1e-7, abs=1e-9)
    at = begun.equations
    assert level == pytest.approx(np.interp(moved[0], at.c.store, at.levels), abs=1e-9)
    # and leaves the curves at what it carried
    wettest = np.array([own.content[0] for own in at.own]) - 1e-4 * MOST_PRESSED
    assert at.theta(suction(begun.row(Q))) == pytest.approx(np.minimum(theta, wettest), abs=1e-9)
    assert at.theta(begun.row(S_)) == pytest.approx(np.minimum(theta, wettest), abs=1e-9)
    shares = begun.root * np.clip((H4 - begun.row(S_)) / (H4 - H3), 0.0, 1.0)
    assert begun.row(TAKE) == pytest.approx(shares, rel=1e-9)


def test_safe_steps_are_bound_by_each_of_their_limits():
    """The cases above reach a quarter of a cell, of its room, of the store and of its space."""
    bound = set()
    for case in SAFE.values():
        begun = Begun(case)
        s, dt = suction(begun.q), case.dt
        mix = begun.column.cells.water[0]
        driest = np.array([own.content[-1] for own in begun.equations.own])
        fullest = np.array([own.content[0] for own in begun.equations.own])
        theta = begun.equations.theta(s)
        has, lacks = 0.25 * mix * (theta - driest), 0.25 * mix * np.maximum(fullest - theta, 0.0)
        faces = dt * np.array([begun.equations.face(i, s) for i in range(1, begun.column.n)])
        given = dt * np.array(
            [begun.equations.exchange(i, s, begun.h) for i in range(begun.column.n)]
        )
        bound |= {"has"} if (faces > has[1:]).any() or (-faces > has[:-1]).any() else set()
        bound |= {"lacks"} if (faces > lacks[:-1]).any() or (-faces > lacks[1:]).any() else set()
        bound |= {"store"} if (given > 0.25 * begun.water / begun.column.n).any() else set()
        if not np.isfinite(case.lip):
            space = max(begun.column.store.curve[-1] - begun.water, 0.0)
            bound |= {"space"} if (-given > 0.25 * space / begun.column.n).any() else set()
        bound |= {"take"} if (dt * begun.equations.uptake(s) > has).any() else set()
        bound |= {"air"} if dt * begun.equations.surface(s)[1] > has[0] else set()
    assert bound >= {"has", "lacks", "store", "space"}
