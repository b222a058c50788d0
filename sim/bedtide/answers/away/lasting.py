"""When a bed that nobody waters first fails its plants: a reading of runs side by side."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Run, variables_of
from bedtide.bed import dead_storage
from bedtide.many import percentile
from bedtide.readings import EMPTY, NEED_LIMIT

__all__ = ["HALF", "SAFE", "Lasting", "lasting", "safe_days", "whole_days"]

Array = NDArray[np.float64]

HALF = 0.5
"""Share of the plants' need under which they are in trouble [1]; our choice."""


SAFE = 0.9
"""Share of the years that "likely to last" stands for [1]: nine in ten, as the headline says."""


class Lasting(NamedTuple):
    """How long each case lasts, all (cases,); infinite where not within the days looked at.

    Attributes
    ----------
    lasted : ndarray of float
        Days before the first on which the plants go short [d].
    half : ndarray of float
        Days before the first on which they get less than half [d].
    empty : ndarray of float
        Days before the first that ends with the reservoir empty [d].
    anyway : ndarray of int
        Days, of those looked at, on which they would go short of their need in a bed that is
        filled every morning: the mix lifts too slowly [d].
    """

    lasted: Array
    half: Array
    empty: Array
    anyway: NDArray[np.int64]


def lasting(run: Run, untended: slice, tended: slice, *, days: int) -> Lasting:
    """How long each case of a run lasts, beside its twin that is filled every morning.

    Answers: after how many days do the plants go short, and would they have anyway.
    A day counts from morning to morning: a case that lasts 11 days fails its plants on the
    twelfth.

    Parameters
    ----------
    run : Run
        Both, from the same day.
    untended, tended : slice
        Columns of the cases, and of their twins.
    days : int
        Days of the stay, in which `anyway` is counted [d].

    Returns
    -------
    Lasting
        One of each for each case.

    Notes
    -----
    The plants go short on a day on which they ask for water and take less than `NEED_LIMIT` of
    what they ask for: the dry day of :func:`bedtide.readings.dryness`. Where their twin goes short
    as well it is not for want of somebody who fills. The reservoir is empty when less than `EMPTY`
    stands above what the mix can't reach.
    """
    values = variables_of(run)
    wanted = values["transpiration_potential"][:, untended]
    took, could = (values["transpiration"][:, columns] for columns in (untended, tended))
    asked = wanted > 0.0
    usable = values["open_water"][:, untended] - _dead(run)[untended]
    return Lasting(
        lasted=_first(asked & (took < NEED_LIMIT * wanted)),
        half=_first(asked & (took < HALF * wanted)),
        empty=_first(usable < EMPTY),
        anyway=(asked & (could < NEED_LIMIT * wanted))[:days].sum(axis=0),
    )


def safe_days(lasted: Array, horizon: int) -> Array:
    """Days that are safe in nine of ten cases along the last axis, whole days.

    Parameters
    ----------
    lasted : ndarray of float, shape (..., cases)
        Days that each case lasted, infinite where longer than `horizon` [d].
    horizon : int
        Days that each was followed [d].

    Returns
    -------
    ndarray of float, shape (...)
        Whole days, rounded down; infinite where even the short cases outlast the horizon.
    """
    return whole_days(lasted, horizon, 1.0 - SAFE)


def whole_days(lasted: Array, horizon: int, share: float) -> Array:
    """A percentile of days lasted along the last axis, whole days.

    Parameters
    ----------
    lasted : ndarray of float, shape (..., cases)
        Days that each case lasted, infinite where longer than `horizon` [d]; NaN is left out.
    horizon : int
        Days that each was followed [d].
    share : float
        Probability [1].

    Returns
    -------
    ndarray of float, shape (...)
        Whole days, rounded down; infinite where it is not within the horizon.
    """
    # A case that outlasts the horizon counts as the horizon, so that what lies between it and one
    # that failed is no more than is known.
    found = np.floor(percentile(np.minimum(lasted, horizon), share) + 1e-9)
    return np.where(found >= horizon, np.inf, found)


def _first(marked: NDArray[np.bool_]) -> Array:
    """Days before the first marked one, infinite where there is none."""
    return np.where(marked.any(axis=0), marked.argmax(axis=0).astype(np.float64), np.inf)


def _dead(run: Run) -> Array:
    return np.repeat([dead_storage(bed) for bed in run.beds], len(run.starts))
