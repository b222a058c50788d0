"""The water account of a run, closed from its series alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import BALANCE_LIMIT, BALANCE_SHARE
from bedtide.errors import BalanceError

if TYPE_CHECKING:
    from bedtide.balance.run import Series, State

Array = NDArray[np.float64]


def balance_error(series: Series, start: State, rain: Array) -> tuple[Array, Array]:
    """Water that a run made out of nothing, and all that flowed, by column.

    Parameters
    ----------
    series : Series
        Stores and fluxes, (time, columns) [m].
    start : State
        Stores before the first day, (columns,) [m].
    rain : ndarray of float, shape (time, columns)
        Rain into the beds [m].

    Returns
    -------
    error : ndarray of float, shape (columns,)
        Largest error over the days of: what is stored, less what was stored at the start, less
        what came in, plus what left [m].
    flowed : ndarray of float, shape (columns,)
        All that came in or left [m].
    """
    begun = start.open_water + start.mix_water + start.standing
    stored = series.open_water + series.mix_water + series.standing_water
    came = np.cumsum(rain + series.refill, axis=0)
    left = np.cumsum(
        series.transpiration + series.evaporation + series.overflow + series.rim_spill, axis=0
    )
    whole = np.abs(stored - begun - came + left)
    reservoir = np.cumsum(series.refill - series.rise - series.overflow, axis=0)
    part = np.abs(series.open_water - start.open_water - reservoir)
    return np.maximum(whole, part).max(axis=0), came[-1] + left[-1]


def check_balance(error: Array, flowed: Array, *, where: str) -> None:
    """Refuse a run that made or lost water.

    Parameters
    ----------
    error, flowed : ndarray of float, shape (columns,)
        From :func:`balance_error` [m].
    where : str
        What was run, for the message.

    Raises
    ------
    BalanceError
        If any is over a millionth of a millimetre, and over a part in 10^12 of what flowed, which
        only beds see that take hundreds of metres of water; or not a number.
    """
    bad = ~(error <= np.maximum(BALANCE_LIMIT, BALANCE_SHARE * flowed))
    if bad.any():
        worst = float(np.max(np.where(np.isnan(error), np.inf, error)))
        raise BalanceError(
            where,
            f"the water account of {int(bad.sum())} of {error.size} runs is off by up to "
            f"{worst * 1000:.3g} mm",
            expected="no more than 1e-6 mm",
            hint="This is a fault of bedtide, not of your files; please report it with them.",
        )
