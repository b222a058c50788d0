"""The control of the steps of a day, by what it asks of the step, and a day against its equations.

In the first part the step is one of straw that says how many passes it took; all else is as it
is. The rules are those of docs/physics/column.md.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from bedtide.column import AIR_DRY, day
from bedtide.column.day import Day
from bedtide.column.step import CARRY, HELD, ROOT, WATER, Q, Sky, Store, held, look
from helpers.beds import bed_with, layered
from helpers.columns import H3, H4, column_of
from helpers.one_step import NODES, Equations

PIPES = bed_with()
NO_HOURS = np.zeros(0)
one_day = getattr(day.one_day, "py_func", day.one_day)


def quiet(**given):
    """A day without anything, unless told."""
    given = {"rain": 0.0, "begin": 0.375, "end": 0.625, "demand": 0.0, "energy": 0.0, "h3": H3,
             "h4": H4, "lip": np.inf, "freeboard": 0.03} | given  # fmt: skip
    return Day(**given)


class Straw:
    """A step that moves nothing: what it was asked for, and the passes that it says it took."""

    def __init__(self, monkeypatch, passes, *, out=None):
        self.passes, self.out = passes, out or {}
        self.asked, self.safe = [], []
        monkeypatch.setattr(day, "attempt", self.attempt)
        monkeypatch.setattr(day, "safe_step", self.safe_step)

    def move(self, w, n, water, level, pond, out):
        out[:7] = 0.0
        out[0], out[1] = water, pond
        for place, value in self.out.items():
            out[place] += value
        w[CARRY, :n] = w[HELD, :n]
        return level + 0.001

    def attempt(self, tables, g, w, n, store, ceiling, dry, bends, sky, water, level, pond, lip,
                length, most, damped, out):  # fmt: skip
        self.asked.append((length, most, damped, sky, water, level, pond, lip))
        said = self.passes(len(self.asked)) if callable(self.passes) else self.passes
        self.begun = w[Q, :n].copy()
        if said == 0:
            w[Q, :n] += 7.0
            return 0, level
        return said, self.move(w, n, water, level, pond, out)

    def safe_step(self, tables, g, w, n, store, ceiling, dry, sky, water, level, pond, lip, length,
                  out):  # fmt: skip
        self.safe.append((length, sky, water, level, pond, lip))
        return self.move(w, n, water, level, pond, out)

    def run(self, given=None, *, step=0.5, pond=0.0, hours=NO_HOURS):
        """One day: the lengths asked for, the state and the totals after it."""
        column = column_of(PIPES).put(0.3)
        state, total, out = np.array([0.02, 0.05, pond, step]), np.full(8, 9.0), np.zeros(8)
        self.column = column
        one_day(
            column.mixes.tables, column.g, column.w, column.n, column.store, column.ceiling,
            column.dry, np.zeros(4), given or quiet(), hours, state, total, out,
        )  # fmt: skip
        return [each[0] for each in self.asked], state, total


def test_a_step_of_one_or_two_passes_makes_the_next_two_and_a_half_times_as_long(monkeypatch):
    straw = Straw(monkeypatch, 2)
    lengths, state, total = straw.run(step=0.06)
    # half a day in nine pieces at first, what is left of it in whole numbers, a cut at noon
    sizes = [0.5 / 9]
    for pieces in (4, 2, 1):
        sizes.append((0.5 - sum(sizes)) / pieces)
    assert lengths[:4] == pytest.approx(sizes, abs=1e-12)
    # the last before noon was 1/6 of a day: next 0.4167, so two of a quarter, or rather one and one
    assert lengths[4:] == pytest.approx([0.25, 0.25], abs=1e-12)
    assert state[3] == 0.5
    assert total[5:8].tolist() == [6, 12, 0]


@pytest.mark.parametrize(
    ("passes", "factor"), [(1, 2.5), (2, 2.5), (3, 1.6), (4, 1.6), (5, 1.1), (6, 1.1), (7, 0.6)]
)
def test_the_next_step_by_the_passes_of_the_last(monkeypatch, passes, factor):
    straw = Straw(monkeypatch, passes)
    lengths, state, total = straw.run(step=0.011)
    assert lengths[0] == pytest.approx(0.5 / 46)  # 0.5 / 0.011 is 45.5
    pieces = np.ceil((0.5 - lengths[0]) / (factor * lengths[0]) - 1e-6)
    assert lengths[1] == pytest.approx((0.5 - lengths[0]) / pieces)
    if total[7] == 0:
        assert state[3] == pytest.approx(np.clip(factor * lengths[-1], 1e-3, 0.5))


def test_no_step_is_longer_than_half_a_day_or_shorter_than_a_thousandth_to_begin_with(monkeypatch):
    straw = Straw(monkeypatch, 1)
    lengths, state, _ = straw.run(step=3.0)
    assert lengths == [0.5, 0.5]
    assert state[3] == 0.5
    straw = Straw(monkeypatch, 8)
    _, state, total = straw.run(step=0.03)
    assert state[3] >= 1e-3
    assert total[5] > 40


def test_a_step_that_fits_but_for_a_hair_is_not_cut_in_two(monkeypatch):
    straw = Straw(monkeypatch, 3)
    assert straw.run(step=0.5 - 1e-8)[0] == [0.5, 0.5]
    straw = Straw(monkeypatch, 3)
    assert straw.run(step=0.49)[0][:2] == [0.25, 0.25]


def test_the_day_is_cut_where_the_rain_changes_and_its_first_step_is_short(monkeypatch):
    straw = Straw(monkeypatch, 1)
    _, _, total = straw.run(quiet(rain=0.024), step=0.5)
    ends = np.cumsum([each[0] for each in straw.asked])
    rains = [each[3].rain for each in straw.asked]
    for cut in (0.375, 0.5, 0.625, 1.0):
        assert np.abs(ends - cut).min() < 1e-12
    first = rains.index(max(rains))
    # 0.125 d before noon in pieces of 0.06 at most: three
    assert straw.asked[first][0] == pytest.approx(0.125 / 3)
    assert straw.asked[0][0] == pytest.approx(0.375)
    assert set(np.round(rains, 9)) == {0.0, 0.096}
    fallen = sum(each[0] * each[3].rain for each in straw.asked)
    assert fallen == pytest.approx(0.024)
    assert total[5] == len(straw.asked)
    assert ends[-1] == pytest.approx(1.0)


def test_rain_that_goes_on_does_not_shorten_the_steps_again(monkeypatch):
    hours = np.zeros(24)
    hours[4:9] = [0.1, 0.3, 0.1, 0.3, 0.2]
    straw = Straw(monkeypatch, 1)
    lengths, _, _ = straw.run(quiet(rain=0.024), hours=hours)
    # four hours dry, then an hour each, each shorter than 0.06
    assert lengths[:6] == pytest.approx([4 / 24, *[1 / 24] * 5])
    wet = Straw(monkeypatch, 1)
    hours[4:9] = [0.3, 0.0, 0.3, 0.0, 0.4]
    lengths, _, _ = wet.run(quiet(rain=0.024), hours=hours)
    assert lengths[:6] == pytest.approx([4 / 24, *[1 / 24] * 5])
    # a long wet stretch is begun with a short step
    hours[:] = 0.0
    hours[6:12] = 1.0 / 6.0
    long = Straw(monkeypatch, 1)
    lengths, _, _ = long.run(quiet(rain=0.024), hours=hours)
    assert lengths[0] == pytest.approx(0.25)
    assert lengths[1] == pytest.approx(0.05)  # a quarter of a day in five
    assert lengths[2] == pytest.approx(0.1)  # 0.2 left, and 0.125 would fit


def test_each_step_brings_its_part_of_the_demand_by_the_sun(monkeypatch):
    straw = Straw(monkeypatch, 5)
    straw.run(quiet(demand=0.006, energy=0.004), step=0.13)
    t = 0.0
    for length, _, _, sky, *_ in straw.asked:
        x = np.clip(2.0 * np.array([t, t + length]) - 0.5, 0.0, 1.0)
        passed = np.diff(x - np.sin(2.0 * np.pi * x) / (2.0 * np.pi))[0]
        assert sky.demand * length == pytest.approx(0.006 * passed, abs=1e-15)
        assert sky.energy * length == pytest.approx(0.004 * passed, abs=1e-15)
        assert (sky.h3, sky.h4) == (H3, H4)
        t += length
    assert t == pytest.approx(1.0)
    assert len(straw.asked) > 6


def cuts(s, energy, demand=0.0, h3=H3):
    """Where the steps of a day end at the latest, for mix of this suction."""
    column, t, found = column_of(PIPES).put(s), 0.0, []
    column.w[ROOT, : column.n] = 1.0 / column.n
    for i in range(column.n):
        look(column.mixes.tables, column.g, column.w, i, h3, H4)
    while t < 1.0:
        asked = quiet(energy=energy, demand=demand)
        t = day.next_cut(t, asked, column.g, column.w, column.n, column.dry)
        found.append(t)
    return found


@pytest.mark.parametrize(
    ("lift", "light"), [(3.0, True), (11.8, True), (12.2, False), (100.0, False)]
)
def test_light_is_cut_every_two_hours_where_the_surface_may_dry(lift, light):
    """Where it can lift less than twelve times the mean of what the day asks for."""
    column = column_of(PIPES)
    equations = Equations(PIPES, column, Sky(0.0, 0.0, 1e9, H3, H4), dry=AIR_DRY)
    s = np.full(column.n, 3.0)
    energy = equations.surface(s)[1] / lift
    expected = [6, 8, 10, 12, 14, 16, 18, 24] if light else [12, 24]
    assert cuts(3.0, energy) == pytest.approx(np.array(expected) / 24)


def test_light_is_not_cut_where_nothing_is_asked_of_the_surface():
    assert cuts(300.0, 0.0) == [0.5, 1.0]
    assert len(cuts(300.0, 1e-9)) == 2  # vapour lifts as much
    assert len(cuts(300.0, 0.004)) == 8


@pytest.mark.parametrize(("share", "light"), [(0.985, True), (0.995, False)])
def test_light_is_cut_where_roots_go_short_by_a_hundredth(share, light):
    """Uptake falls in a straight line from h3 to h4: at s it is (h4 - s) / (h4 - h3)."""
    s = 3.0
    h3 = H4 - (H4 - s) / share
    assert (len(cuts(s, 0.0, 0.005, h3)) == 8) is light
    assert cuts(s, 0.0, 0.0, h3) == [0.5, 1.0]  # nothing asked of them


def test_a_failed_step_is_tried_again_at_a_third_or_so_then_damped_then_safe(monkeypatch):
    straw = Straw(monkeypatch, lambda turn: 3 if turn > 5 else 0)
    lengths, _, total = straw.run()
    # a third or so of what failed, in whole pieces of what is left until noon
    expected = [0.5]
    for _ in range(4):
        expected.append(0.5 / np.ceil(0.5 / (0.35 * expected[-1]) - 1e-6))
    assert lengths[:5] == pytest.approx(expected)
    assert [each[1] for each in straw.asked[:6]] == [8, 8, 20, 20, 20, 8]
    assert [each[2] for each in straw.asked[:6]] == [False, False, True, True, True, False]
    # the sixth was a safe one
    assert len(straw.safe) == total[7] == 1
    assert straw.safe[0][0] == pytest.approx(min(0.5, 0.02))
    assert total[5] == len(straw.asked) + len(straw.safe)
    assert total[6] == 5 * 8 + 3 * (len(straw.asked) - 5)
    # a failure leaves the places as they were
    assert straw.begun == pytest.approx(straw.column.w[Q, : straw.column.n])
    # and the step after the safe one is as long as that, more or less
    assert straw.asked[5][0] == pytest.approx(0.48 / 24)


def test_after_failures_a_step_grows_only_if_it_was_easy(monkeypatch):
    hard = Straw(monkeypatch, lambda turn: 0 if turn == 1 else 3 if turn == 2 else 1)
    lengths, _, _ = hard.run()
    # failed at 0.5; three of 1/6 fit; after three passes no growth yet
    assert lengths[1] == pytest.approx(0.5 / 3)
    assert lengths[2] == pytest.approx(0.5 / 3)
    easy = Straw(monkeypatch, lambda turn: 0 if turn == 1 else 2)
    lengths, _, _ = easy.run()
    assert lengths[1] == pytest.approx(0.5 / 3)
    assert lengths[2] == pytest.approx(0.5 - 0.5 / 3)  # 2.5 times a sixth is more than is left


def test_a_day_of_too_many_steps_ends_in_safe_ones(monkeypatch):
    straw = Straw(monkeypatch, 8)
    _, state, total = straw.run(step=0.02)
    assert len(straw.asked) == 150
    assert total[7] == len(straw.safe) > 10
    assert total[5] == 150 + len(straw.safe)
    lengths = [each[0] for each in straw.safe]
    assert max(lengths) == pytest.approx(0.02)
    done = sum(each[0] for each in straw.asked)
    assert done + sum(lengths) == pytest.approx(1.0)
    assert np.sum(np.isclose(lengths, 0.02)) >= len(lengths) - 2  # but before noon and midnight
    assert state[3] == pytest.approx(np.clip(lengths[-1], 1e-3, 0.5))


def test_safe_steps_bring_their_part_of_rain_and_sun(monkeypatch):
    straw = Straw(monkeypatch, 0)
    straw.run(quiet(rain=0.024, demand=0.006, energy=0.004))
    taken = np.array([(each[0] * each[1].demand, each[0] * each[1].energy, each[0] * each[1].rain)
                      for each in straw.safe])  # fmt: skip
    assert taken.sum(axis=0) == pytest.approx([0.006, 0.004, 0.024])
    t, x = 0.0, lambda t: np.clip(2.0 * t - 0.5, 0.0, 1.0)
    for length, sky, *_ in straw.safe:
        low, high = x(t), x(t + length)
        part = high - low - (np.sin(2 * np.pi * high) - np.sin(2 * np.pi * low)) / (2 * np.pi)
        assert sky.demand * length == pytest.approx(0.006 * part, abs=1e-12)
        assert sky.energy * length == pytest.approx(0.004 * part, abs=1e-12)
        t += length
    assert t == pytest.approx(1.0)
    # five failures before each
    assert len(straw.asked) == 5 * len(straw.safe) or len(straw.asked) >= 100


def test_what_is_told_to_a_step_is_the_state(monkeypatch):
    straw = Straw(monkeypatch, 3, out={0: 0.001, 1: 0.0002})
    _, state, _ = straw.run(quiet(lip=0.077), step=0.25, pond=0.004)
    for turn, (_, _, _, _, water, level, pond, lip) in enumerate(straw.asked):
        assert water == pytest.approx(0.02 + 0.001 * turn)
        assert level == pytest.approx(0.05 + 0.001 * turn)
        assert pond == pytest.approx(0.004 + 0.0002 * turn)
        assert lip == 0.077
    turns = len(straw.asked)
    assert state[:3] == pytest.approx(
        [0.02 + 0.001 * turns, 0.05 + 0.001 * turns, 0.004 + 0.0002 * turns]
    )


def test_totals_are_sums_and_what_stands_over_the_rim_spills(monkeypatch):
    moved = {2: 0.001, 3: 0.002, 4: 0.003, 5: 0.004, 1: 0.02}
    straw = Straw(monkeypatch, 3, out=moved)
    lengths, state, total = straw.run(quiet(freeboard=0.03), step=0.5, pond=0.005)
    turns = len(lengths)
    assert turns == 2
    assert total[:4] == pytest.approx([0.001 * turns, 0.002 * turns, 0.003 * turns, 0.004 * turns])
    # 5 and 20 mm stand; 20 more are 15 over the rim
    assert state[2] == pytest.approx(0.03)
    assert total[4] == pytest.approx(0.015)


def test_what_was_taken_too_much_the_mix_gives_back(monkeypatch):
    straw = Straw(monkeypatch, 3, out={0: -0.0201, 1: -0.003, 5: 0.01})
    lengths, state, total = straw.run(step=0.5, pond=0.001)
    column = straw.column
    before = column_of(PIPES).put(0.3).w[HELD, : column.n]
    change = column.g[WATER, : column.n] * (column.w[HELD, : column.n] - before)
    # the pond: 1 mm less 3 is 2 mm short, then 3 more; the store: 20 mm less 20.1, then 20.1
    assert len(lengths) == 2
    assert change[0] == pytest.approx(-0.005)
    assert change[-1] == pytest.approx(-0.0202)
    assert change[1:-1] == pytest.approx(0.0, abs=1e-15)
    assert state[0] == state[2] == 0.0
    assert total[3] == pytest.approx(0.02 - 0.0202)  # it rose by less


# A day against the same equations, solved as they stand


BEDS = {"pipes": PIPES, "legs": layered("crates", wick_foot="3 cm")}
DAYS = {"sun": quiet(demand=0.006, energy=0.004), "rain": quiet(rain=0.020, energy=0.002)}
LEVEL = 0.085


@functools.cache
def integrated(bed_name, day_name):
    """Water at the end of a day, uptake, evaporation and overflow, by a stiff solver."""
    bed, given, level, lip = BEDS[bed_name], DAYS[day_name], LEVEL, np.inf
    column = column_of(bed)
    s = column.cells.centre[0] - level + 0.05
    root = np.zeros(column.n)
    root[:6] = 1.0 / 6.0
    mix = column.cells.water[0]
    quiet_sky = Sky(0.0, 0.0, 0.0, H3, H4)
    equations = Equations(bed, column, quiet_sky, lip=lip, root=root, dry=AIR_DRY)
    fullest = np.array([own.content[0] for own in equations.own])

    def inverse(theta):
        under = [np.interp(-each, -own.content, NODES)
                 for own, each in zip(equations.own, theta, strict=True)]  # fmt: skip
        return np.where(theta > fullest, (fullest - theta) / 1e-4, under)

    def slopes(t, y):
        light = 4.0 * np.sin(np.pi * (2.0 * t - 0.5)) ** 2 if 0.25 < t < 0.75 else 0.0
        rain = given.rain / (given.end - given.begin) if given.begin < t < given.end else 0.0
        equations.sky = Sky(rain, given.demand * light, given.energy * light, H3, H4)
        at = inverse(y[: column.n])
        h = np.interp(y[column.n], equations.c.store, equations.levels)
        gains, gain, over = equations.rates(at, h)
        evaporated = equations.surface(at)[1]
        return np.concatenate([gains / mix, [gain, equations.uptake(at).sum(), evaporated, over]])

    y = np.concatenate([equations.theta(s), [float(equations.store(level)), 0.0, 0.0, 0.0]])
    for low, high in ((0.0, 0.25), (0.25, 0.375), (0.375, 0.625), (0.625, 0.75), (0.75, 1.0)):
        y = solve_ivp(slopes, (low + 1e-9, high - 1e-9), y, method="BDF", rtol=1e-5, atol=1e-8).y[
            :, -1
        ]
    return s, root, y


@pytest.mark.parametrize("bed", BEDS)
@pytest.mark.parametrize("name", DAYS)
def test_a_day_is_that_of_the_equations(bed, name):
    """Within 0.4 mm of water, 0.6 in rain, and in a few dozen passes."""
    start, root, y = integrated(bed, name)
    column, level, given = column_of(BEDS[bed]), LEVEL, DAYS[name]
    bound = 4e-4 if name == "sun" else 6e-4
    column.put(start)
    column.w[ROOT, : column.n] = root
    assert isinstance(column.store, Store)
    state = np.array([held(level, column.store)[0], level, 0.0, 0.06])
    total, out = np.zeros(8), np.zeros(8)
    mix = column.cells.water[0]
    day.one_day(
        column.mixes.tables, column.g, column.w, column.n, column.store, column.ceiling,
        column.dry, np.full(4, -9.0), given, NO_HOURS, state, total, out,
    )  # fmt: skip
    n = column.n
    assert state[0] == pytest.approx(y[n], abs=bound)
    assert (mix * column.w[HELD, :n]).sum() == pytest.approx((mix * y[:n]).sum(), abs=bound)
    assert mix * column.w[HELD, :n] == pytest.approx(mix * y[:n], abs=bound)
    assert total[0] == pytest.approx(y[n + 1], abs=5e-5)
    assert total[1] == pytest.approx(y[n + 2], abs=1e-4)
    assert state[2] == 0.0
    assert total[4] == 0.0
    assert 4 <= total[5] <= 20
    assert total[5] <= total[6] <= 60
    assert total[7] == 0
