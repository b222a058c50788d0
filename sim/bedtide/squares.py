"""Least squares within bounds, on numpy alone: scipy.optimize takes a third of a second to load."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def least_squares(
    of: Callable[[Array], tuple[Array, Array]],
    begin: Array,
    low: Array,
    high: Array,
    *,
    close: float,
    rounds: int = 100,
) -> Array:
    """Values with the least sum of squares of what `of` says, by steps of Gauss and Newton.

    `of` gives what a set of values is off (n,) and its slopes (n, values). It ends where a step
    would change what is off by less than `close`, the root of the sum of squares.
    """
    values = np.clip(begin, low, high)
    off, slope = of(values)
    for _ in range(rounds):
        step = _step(off, slope, low - values, high - values)
        while np.linalg.norm(slope @ step) >= close:  # no further than it gets better
            tried = np.clip(values + step, low, high)
            found = of(tried)
            if found[0] @ found[0] <= off @ off:
                break
            step = step / 3.0
        else:
            break
        values, (off, slope) = tried, found
    return values


def _step(off: Array, slope: Array, low: Array, high: Array) -> Array:
    """The best step between bounds where all is straight, by holding and freeing one at a time.

    Goes towards the best of what is free until a bound is met, which is held from there on. At the
    best of what is free it lets go of the bound that it most wants to leave, until it wants none.
    """
    step, free = np.zeros(low.size), np.ones(low.size, dtype=bool)
    size = np.linalg.norm(slope, axis=0) * np.linalg.norm(off) + 1e-300
    for _ in range(10 * low.size):
        best = step.copy()
        best[free] = np.linalg.lstsq(slope[:, free], -off - slope[:, ~free] @ step[~free])[0]
        change = best - step
        room = np.where(change > 0.0, high - step, low - step)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(np.abs(change) > np.abs(room), room / change, 1.0)
        if (least := share.min()) < 1.0:
            step = np.clip(step + least * change, low, high)
            free &= share > least
            continue
        step = best
        pull = slope.T @ (off + slope @ step) / size  # downhill is against it
        wants = np.where(free, 0.0, np.where(step <= low, -pull, pull))
        if wants.max() < 1e-9:
            break
        free[wants.argmax()] = True
    return step
