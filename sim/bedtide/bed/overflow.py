"""The height of the overflow's lip on every day."""

from __future__ import annotations

import datetime

import numpy as np
from numpy.typing import NDArray

from bedtide.bed.description import MonthDay, Overflow


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
    if isinstance(overflow.changes[0].start, datetime.date):
        starts = np.array([change.start for change in overflow.changes], dtype="datetime64[D]")
        heights = np.concatenate([[overflow.height], heights])
        return heights[np.searchsorted(starts, dates, side="right")]
    # Month and day go round the year: before the first of them the last one still holds.
    begins = np.array([_key(change.start) for change in overflow.changes])
    months = dates.astype("datetime64[M]")
    today = (months.astype(int) % 12 + 1) * 100 + (dates - months).astype(int) + 1
    return heights[np.searchsorted(begins, today, side="right") - 1]


def _key(start: datetime.date | MonthDay) -> int:
    """Month and day as one number that keeps their order [1]."""
    if isinstance(start, datetime.date):
        return start.month * 100 + start.day
    return start[0] * 100 + start[1]
