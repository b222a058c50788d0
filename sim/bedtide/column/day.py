"""One day of one column: steps of fitting length from cut to cut, none of which fails."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.column.cells import LONGEST
from bedtide.column.compiled import compiled
from bedtide.column.step import (
    CARRY,
    HELD,
    PER_WATER,
    Q_START,
    TAKE,
    Q,
    Sky,
    Store,
    attempt,
    evaporation_capacity,
    look,
    safe_step,
)

Array = NDArray[np.float64]

PASSES, PASSES_DAMPED = 8, 20
"""Passes before a step is cut, as it is and with lagged conductivities [1]."""

CUT, DAMPED_FROM, SAFE_FROM = 0.35, 2, 5
"""What a failed step is cut to, and from how many failures on it is damped, then safe [1]."""

MOST_STEPS = 150
"""Steps of a day after which the rest is done by safe ones [1]."""

SAFE_LENGTH = 0.02
"""Longest safe step [d]."""

AFTER_RAIN = 0.06
"""First step after rain begins or a fill [d]."""

LIGHT_CUTS = 6
"""Pieces of the hours of light where the surface may fail to lift what they ask [1]."""

LIFT_MARGIN = 12.0
"""It may where it can lift less than this times the mean of the day [1]: three times the rate of
noon, since a surface that is moist at dawn dries by then."""


MET = 0.99
"""Roots go short where they get less than this share of what they ask for [1]."""


class Day(NamedTuple):
    """What one day brings and asks for.

    Attributes
    ----------
    rain : float
        Over the day [m].
    begin, end : float
        Between which it falls evenly, unless `hours` says it [d].
    demand, energy : float
        What plants would take, and what the surface could lose [m].
    h3, h4 : float
        Suction at which uptake starts to fall, and at which it ends [m].
    lip : float
        Height of the overflow's lip [m]; infinite where nothing lets water out.
    freeboard : float
        Water that can stand on the mix [m].
    longest : float
        Longest step [d].
    """

    rain: float
    begin: float
    end: float
    demand: float
    energy: float
    h3: float
    h4: float
    lip: float
    freeboard: float
    longest: float = LONGEST


@compiled
def sun(t: float) -> float:
    """Share of the day's demand that has passed at a time [d]: a squared sine from 6 to 18 h."""
    x = min(max(2.0 * t - 0.5, 0.0), 1.0)
    return x - np.sin(2.0 * np.pi * x) / (2.0 * np.pi)


@compiled
def rate_of_rain(t: float, day: Day, hours: Array) -> tuple[float, float]:
    """Rain at a time [m d-1], and when that changes next [d]."""
    if day.rain <= 0.0:
        return 0.0, 1.0
    if hours.size == 0:
        if t < day.begin - 1e-9:
            return 0.0, day.begin
        if t < day.end - 1e-9:
            return day.rain / (day.end - day.begin), day.end
        return 0.0, 1.0
    first = min(int((t + 1e-9) * 24.0), 23)
    last = first
    while last < 23 and hours[last + 1] == hours[first]:
        last += 1
    return day.rain * hours[first] * 24.0, (last + 1) / 24.0


@compiled
def next_cut(
    t: float, day: Day, g: Array, w: Array, n: int, dry: tuple[float, float, float]
) -> float:
    """Time at which the next step ends at the latest [d].

    Noon and midnight, and where the surface may dry or roots go short, every two hours of light:
    what they get then hangs on the hours, not on their mean.
    """
    short = False
    if day.energy > 0.0:
        most, _ = evaporation_capacity(g, w, dry)
        short = most < LIFT_MARGIN * day.energy
    if day.demand > 0.0 and not short:
        met = 0.0
        for i in range(n):
            met += w[TAKE, i]
        short = met < MET
    if short:
        for k in range(LIGHT_CUTS + 1):
            cut = 0.25 + 0.5 * k / LIGHT_CUTS
            if t < cut - 1e-9:
                return cut
        return 1.0
    return 0.5 if t < 0.5 - 1e-9 else 1.0


@compiled
def one_day(
    tables: Array, g: Array, w: Array, n: int, store: Store, ceiling: tuple[int, float, float],
    dry: tuple[float, float, float], bends: Array, day: Day, hours: Array, state: Array,
    total: Array, out: Array,
) -> None:  # fmt: skip
    """Move one column through a day.

    ``w[HELD]`` and ``w[Q]`` hold the mix; `state` open water, level, pond and the length of the
    next step; `total` gets transpiration, evaporation, overflow, rise, rim spill [m], and how many
    steps, passes and safe steps it took.
    """
    for r in range(total.size):
        total[r] = 0.0
    for i in range(n):
        look(tables, g, w, i, day.h3, day.h4)
    t, dt = 0.0, state[3]
    failures, steps = 0, 0
    raining = False
    while t < 1.0 - 1e-9:
        rain, change = rate_of_rain(t, day, hours)
        if rain > 0.0 and not raining:
            dt = min(dt, AFTER_RAIN)
        raining = rain > 0.0
        cut = min(change, next_cut(t, day, g, w, n, dry))
        left = cut - t
        pieces = np.ceil(left / min(dt, day.longest) - 1e-6)
        length = left / max(pieces, 1.0)
        until = cut if pieces <= 1.0 else t + length
        part = sun(until) - sun(t)
        sky = Sky(rain, day.demand * part / length, day.energy * part / length, day.h3, day.h4)
        for i in range(n):
            w[Q_START, i] = w[Q, i]
        steps += 1
        done = 0
        if failures < SAFE_FROM and steps <= MOST_STEPS:
            damped = failures >= DAMPED_FROM
            done, level = attempt(
                tables, g, w, n, store, ceiling, dry, bends, sky, state[0], state[1], state[2],
                day.lip, length, PASSES_DAMPED if damped else PASSES, damped, out,
            )  # fmt: skip
            total[6] += done if done > 0 else PASSES
            if done == 0:
                failures += 1
                dt = length * CUT
                for i in range(n):
                    w[Q, i] = w[Q_START, i]
                    look(tables, g, w, i, day.h3, day.h4)
                continue
            if failures == 0 or done <= 2:
                dt = length * (
                    2.5 if done <= 2 else 1.6 if done <= 4 else 1.1 if done <= 6 else 0.6
                )
            failures = 0
        else:
            length = min(left, SAFE_LENGTH)
            until = cut if length >= left - 1e-12 else t + length
            part = sun(until) - sun(t)
            sky = Sky(rain, day.demand * part / length, day.energy * part / length, day.h3, day.h4)
            level = safe_step(
                tables, g, w, n, store, ceiling, dry, sky, state[0], state[1], state[2],
                day.lip, length, out,
            )  # fmt: skip
            total[7] += 1.0
            failures = 0
            dt = length
        # A hair too much taken from a pond or a store is given back by the mix beside it.
        if out[1] < 0.0:
            w[CARRY, 0] += out[1] * g[PER_WATER, 0]
            out[1] = 0.0
        if out[0] < 0.0:
            w[CARRY, n - 1] += out[0] * g[PER_WATER, n - 1]
            out[5] += out[0]
            out[0] = 0.0
        for i in range(n):
            w[HELD, i] = w[CARRY, i]
        spill = max(out[1] - day.freeboard, 0.0)
        state[0], state[1], state[2] = out[0], level, out[1] - spill
        total[0] += out[2]
        total[1] += out[3]
        total[2] += out[4]
        total[3] += out[5]
        total[4] += spill
        t = until
    total[5] = steps
    state[3] = min(max(dt, 1e-3), day.longest)
