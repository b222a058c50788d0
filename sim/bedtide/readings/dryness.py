"""Dryness: days on which the plants get less than they ask for, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.readings.arrays import dataset_of, longest_run, per_bed, time_last

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["EMPTY", "NEED_LIMIT", "LimitedDays", "dryness", "limited_days"]

NEED_LIMIT = 0.9
"""Share of the plants' need under which a day is dry [1]; our choice."""

EMPTY = 0.0005
"""Open water that the mix can reach under which the reservoir counts as empty [m]; our choice."""


class LimitedDays(NamedTuple):
    """Which days are dry, by cause.

    Attributes
    ----------
    empty : ndarray of bool, shape (..., time)
        Dry with the reservoir empty [1].
    wick : ndarray of bool, shape (..., time)
        Dry with water in the reservoir: the mix does not lift it fast or far enough [1].
    """

    empty: NDArray[np.bool_]
    wick: NDArray[np.bool_]


def limited_days(season: xr.Dataset, *, need_limit: float = NEED_LIMIT) -> LimitedDays:
    """Dry days, told apart by whether the reservoir was empty.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``uptake_factor`` [1], ``transpiration_potential`` [m d-1], ``open_water`` [m],
        ``dead_storage`` [m].
    need_limit : float, default 0.9
        Share of the need under which a day is dry [1].

    Returns
    -------
    LimitedDays
        Of shape (..., time); a day is in one of them at the most.

    Notes
    -----
    A day is dry when the plants ask for water and get less than `need_limit` of it. The
    reservoir counts as empty when, at the end of that day, less than half a millimetre of open
    water stands above the dead storage. Both limits are our choice.
    """
    dry = (time_last(season, "uptake_factor") < need_limit) & (
        time_last(season, "transpiration_potential") > 0
    )
    within_reach = time_last(season, "open_water") - per_bed(season, "dead_storage")[..., None]
    empty = within_reach < EMPTY
    return LimitedDays(dry & empty, dry & ~empty)


def dryness(season: xr.Dataset, *, need_limit: float = NEED_LIMIT) -> xr.Dataset:
    """Dry days by cause, and how much of their need the plants got over the run.

    Answers: did the plants go short, and was it for want of water or of wicking.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run.
    need_limit : float, default 0.9
        Share of the need under which a day is dry [1].

    Returns
    -------
    Dataset, dims (...)
        ``demand_days``, ``limited_days``, ``empty_days``, ``wick_days``, ``longest_dry_spell``
        [d], ``transpiration_ratio`` [1], NaN where nothing was asked for.
    """
    by_cause = limited_days(season, need_limit=need_limit)
    dry = by_cause.empty | by_cause.wick
    wanted = time_last(season, "transpiration_potential")
    asked, got = wanted.sum(axis=-1), time_last(season, "transpiration").sum(axis=-1)
    ratio = np.divide(got, asked, out=np.full(np.shape(asked), np.nan), where=asked > 0)
    return dataset_of(
        season,
        {
            "demand_days": (wanted > 0).sum(axis=-1),
            "limited_days": dry.sum(axis=-1),
            "empty_days": by_cause.empty.sum(axis=-1),
            "wick_days": by_cause.wick.sum(axis=-1),
            "longest_dry_spell": longest_run(dry).longest,
            "transpiration_ratio": ratio,
        },
    )
