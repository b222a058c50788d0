"""The height of the overflow's lip on every day."""

from __future__ import annotations

import datetime

import numpy as np
from numpy.typing import NDArray

from bedtide.bed.description import Overflow


def lip_on(days: NDArray[np.datetime64], overflow: Overflow) -> NDArray[np.float64]:
    """Height of the overflow's lip on each day.

    Answers: how high can free water stand today. Depends on the date alone, not on where a
    record begins.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates, in any order [d].
    overflow : Overflow
        The outlet and its changes.

    Returns
    -------
    ndarray of float, shape (time,)
        Height above the floor [m]; infinite where the outlet is blocked or there is none.
    """
    dates = np.asarray(days).astype("datetime64[D]")
    if overflow.state != "open" or overflow.height is None:
        return np.full(dates.shape, np.inf)
    if not overflow.changes:
        return np.full(dates.shape, overflow.height)
    heights = np.array([change.height for change in overflow.changes])
    full = [c.start for c in overflow.changes if isinstance(c.start, datetime.date)]
    if full:
        heights = np.concatenate([[overflow.height], heights])
        return heights[np.searchsorted(np.array(full, "datetime64[D]"), dates, side="right")]
    # Month and day go round the year: before the first of them the last one still holds.
    yearly = [c.start for c in overflow.changes if isinstance(c.start, tuple)]
    begins = np.array([month * 100 + day for month, day in yearly])
    months = dates.astype("datetime64[M]")
    today = (months.astype(int) % 12 + 1) * 100 + (dates - months).astype(int) + 1
    return heights[np.searchsorted(begins, today, side="right") - 1]
