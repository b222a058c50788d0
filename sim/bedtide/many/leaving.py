"""A bed that is left alone: what stands in it, which days will do, how long it lasts."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Run, State, variables_of
from bedtide.bed import Bed, Watering, capacity, dead_storage, level_of, lip_on
from bedtide.crop import Planting, season_length
from bedtide.many.statistics import percentile
from bedtide.many.years import MOST_FILLED

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

NEVER = Watering("never")
"""Nobody fills."""

EVERY_MORNING = Watering("below share", share=1.0)
"""Somebody fills to the lip every morning."""

SAFE = 0.9
"""Share of the years that "likely to last" stands for [1]: nine in ten, as the headline says."""

SPIN_UP = 30
"""Days with the bed's own watering before each start [d]; ours, see docs/away.md."""


FOLLOWED = 60
"""Days that a bed left alone is followed where no stay is stated [d]; longer than nearly all stays
away, ours."""


class Room(NamedTuple):
    """What a record has around a day."""

    before: int  # days before it [d]
    after: int  # days from it on [d]
    gappy: bool  # whether too many of the days asked for are filled gaps

    def fits(self, before: int, after: int) -> bool:
        """Whether there are that many days [d], and few gaps."""
        return self.before >= before and self.after >= after and not self.gappy


def room_in(weather: xr.Dataset) -> Callable[[datetime.date, int], Room]:
    """Room of a record around a day, and whether that many days from it on will do."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, size = axis[0].item(), axis.size
    marked = weather["filled"].to_numpy() if "filled" in weather else np.zeros(size, dtype=bool)
    total = np.concatenate([[0], np.cumsum(marked)])

    def room(day: datetime.date, days: int) -> Room:
        at = (day - first).days
        whole = at >= 0 and at + days <= size
        filled = total[at + days] - total[at] if whole else 0
        return Room(at, size - at, bool(filled > MOST_FILLED * days))

    return room


# --- what stands in the bed -------------------------------------------------------------------


def standing(bed: Bed, day: datetime.date) -> list[Planting]:
    """Plantings that stand in a bed on a day, all their dates returning every year."""
    return [planting for planting in bed.plantings if begun_on(planting, day) is not None]


def season_left(bed: Bed, leave: datetime.date, horizon: int) -> int:
    """Days until nothing is left of what stands in the bed when one leaves [d].

    Zero where nothing stands, or something does to the horizon [d].
    """
    grows = replace(bed, plantings=tuple(standing(bed, leave)))
    days = (leave + datetime.timedelta(days=at) for at in range(horizon))
    return next((at for at, day in enumerate(days) if not standing(grows, day)), 0)


def begun_on(planting: Planting, day: datetime.date) -> datetime.date | None:
    """When the planting that stands on a day was planted; None where it does not stand."""
    assert isinstance(planting.planted, tuple)
    for year in (day.year, day.year - 1):
        begin = datetime.date(year, *planting.planted)
        if 0 <= (day - begin).days < season_length(planting, begin):
            return begin
    return None


# --- the morning of leaving, and after --------------------------------------------------------


def kept(bed: Bed) -> Bed:
    """The bed as it is kept while somebody is there.

    A rule never to fill is followed by nobody who has plants to come home to: every morning then.
    """
    return replace(bed, watering=EVERY_MORNING) if bed.watering.when == "never" else bed


def morning(bed: Bed, dates: Sequence[datetime.date], eve: State, level: float) -> State:
    """Stores on the morning of leaving, the reservoir set to its level [1]."""
    days = np.array(dates, dtype="datetime64[D]")
    full = capacity(bed, lip_on(days, bed.overflow))
    dead = np.minimum(dead_storage(bed), full)
    water = dead + level * (full - dead)
    return eve._replace(open_water=water, level=level_of(water, bed))


def short(run: Run, share: float) -> NDArray[np.bool_]:
    """Days on which the plants ask for water and get less than a share of it, (time, columns).

    With `NEED_LIMIT` it is the dry day of :func:`bedtide.readings.dryness`.
    """
    values = variables_of(run)
    wanted = values["transpiration_potential"]
    return np.asarray((wanted > 0.0) & (values["transpiration"] < share * wanted))


def first_day(marked: NDArray[np.bool_]) -> Array:
    """Days before the first marked one, infinite where there is none.

    A day counts from morning to morning: a case that lasts 11 days fails its plants on the twelfth.
    """
    return np.where(marked.any(axis=0), marked.argmax(axis=0).astype(np.float64), np.inf)


def safe_days(lasted: Array, horizon: int, share: float = 1.0 - SAFE) -> Array:
    """A percentile of days lasted along the last axis, whole days, rounded down [d].

    Infinite where even that case outlasts the horizon [d]; NaN is left out.
    """
    # A case that outlasts the horizon counts as the horizon, so that what lies between it and one
    # that failed is no more than is known.
    found = np.floor(percentile(np.minimum(lasted, horizon), share) + 1e-9)
    return np.where(found >= horizon, np.inf, found)
