"""The water account of a run, closed from its series alone."""

from __future__ import annotations

import numpy as np

from bedtide.balance.day import OPEN, State
from bedtide.balance.simulate import Array, Series
from bedtide.constants import BALANCE_LIMIT
from bedtide.errors import BalanceError

__all__ = ["balance_error", "check_balance"]


def balance_error(series: Series, start: State, rain: Array) -> Array:
    """Water that a run made out of nothing, by bed.

    Parameters
    ----------
    series : Series
        Stores and fluxes, (time, beds) [m].
    start : State
        Stores before the first day, (beds,) [m].
    rain : ndarray of float, shape (time, beds)
        Rain into the beds [m].

    Returns
    -------
    ndarray of float, shape (beds,)
        Largest error over the days of: what is stored, less what was stored at the start, less
        what came in, plus what left [m].
    """
    begun = start.stores.sum(axis=0) + start.standing
    stored = series.stores.sum(axis=1) + series.standing
    came = np.cumsum(rain + series.refill, axis=0)
    left = np.cumsum(
        series.transpiration + series.evaporation + series.overflow + series.rim_spill, axis=0
    )
    whole = np.abs(stored - begun - came + left)
    reservoir = np.cumsum(series.refill - series.rise - series.overflow, axis=0)
    part = np.abs(series.stores[:, OPEN] - start.stores[OPEN] - reservoir)
    return np.asarray(np.maximum(whole, part).max(axis=0))


def check_balance(error: Array, *, where: str) -> None:
    """Refuse a run that made or lost water.

    Parameters
    ----------
    error : ndarray of float, shape (beds,)
        From :func:`balance_error` [m].
    where : str
        What was run, for the message.

    Raises
    ------
    BalanceError
        If any is over a millionth of a millimetre, or not a number.
    """
    bad = ~(error <= BALANCE_LIMIT)
    if bad.any():
        worst = float(np.max(np.where(np.isnan(error), np.inf, error)))
        raise BalanceError(
            where,
            f"the water account of {int(bad.sum())} of {error.size} runs is off by up to "
            f"{worst * 1000:.3g} mm",
            expected="no more than 1e-6 mm",
            hint="This is a fault of bedtide, not of your files; please report it with them.",
        )
