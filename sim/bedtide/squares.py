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
        while True:  # no further than it gets better
            tried = np.clip(values + step, low, high)
            found = of(tried)
            better = bool(found[0] @ found[0] <= off @ off)
            small = bool(np.linalg.norm(slope @ step) < close)
            if better or small:
                break
            step = step / 3.0
        if better:
            values, (off, slope) = tried, found
        if small:
            break
    return values


def _step(off: Array, slope: Array, low: Array, high: Array) -> Array:
    """The best step where all is straight: what would leave its bounds stops there."""
    step, free = np.zeros(low.size), np.ones(low.size, dtype=bool)
    while free.any():
        rest = -off - slope[:, ~free] @ step[~free]
        step[free] = np.linalg.lstsq(slope[:, free], rest)[0]
        out = free & ((step < low) | (step > high))
        if not out.any():
            break
        step = np.clip(step, low, high)
        free &= ~out
    return step
