"""When the keeper fills and how much: the rules of a bed description as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed, Watering, plan_area

Array = NDArray[np.float64]


class Rules(NamedTuple):
    """Watering of many beds.

    Attributes
    ----------
    due : ndarray of bool, shape (time, beds)
        Days on which somebody comes who may fill.
    share : ndarray of float, shape (beds,)
        Fill when the store's share is below this; infinite fills on every due day [1].
    volume : ndarray of float, shape (beds,)
        Water of one filling over the plan area; infinite fills to the lip [m].
    given : ndarray of float, shape (time, beds), or None
        Water that is put in whatever the rule says [m].
    """

    due: NDArray[np.bool_]
    share: Array
    volume: Array
    given: Array | None = None


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


def rules_of(beds: Sequence[Bed], days: Sequence[NDArray[np.datetime64]]) -> Rules:
    """Watering of many beds, each with its own days.

    Parameters
    ----------
    beds : sequence of Bed
        Each with its rule.
    days : sequence of ndarray of datetime64, shape (time,)
        The days of each bed, all of one length [d].

    Returns
    -------
    Rules
        One column for each bed.
    """
    due = np.stack([due_days(bed.watering, day) for bed, day in zip(beds, days, strict=True)], 1)
    share = [bed.watering.share if bed.watering.when == "below share" else np.inf for bed in beds]
    volume = [
        np.inf if bed.watering.volume is None else bed.watering.volume / plan_area(bed)
        for bed in beds
    ]
    return Rules(due, np.array(share, dtype=np.float64), np.array(volume, dtype=np.float64))
