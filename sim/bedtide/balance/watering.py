"""The days on which the keeper may fill, by the rule of a bed description."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Watering


def due_days(watering: Watering, days: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Days on which a rule lets the keeper fill.

    Parameters
    ----------
    watering : Watering
        The rule.
    days : ndarray of datetime64, shape (time,)
        Consecutive days; counting starts with the first [d].

    Returns
    -------
    ndarray of bool, shape (time,)
        Whether it is one.
    """
    number = np.arange(days.size)
    looks = number % max(watering.check_every, 1) == 0
    if watering.when == "never":
        return np.zeros(days.size, dtype=bool)
    if watering.when == "below share":
        return looks
    if watering.when == "every n days":
        return (number + 1) % max(watering.every or 1, 1) == 0
    # 1970-01-01 was a Thursday: Monday is day 0.
    weekday = (days.astype("datetime64[D]").astype(np.int64) + 3) % 7
    return np.isin(weekday, watering.weekdays)
