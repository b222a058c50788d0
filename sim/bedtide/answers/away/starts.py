"""From which days of a record a stay away is started."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import RangeError

if TYPE_CHECKING:
    import xarray as xr

SPIN_UP = 30
"""Days with the bed's own watering before each start [d]; ours, see docs/away.md."""

FEW_YEARS = 10
"""Fewer years than this are helped by neighbouring dates [1]; ours."""

NEIGHBOURS = (-10, -5, 5, 10)
"""Neighbouring dates, as days from the date of leaving [d]; ours."""

MOST_FILLED = 0.1
"""Share of the days away that may be filled gaps, above which a year does not count [1]; ours."""


class Starts(NamedTuple):
    """The cases of a stay away: one start each."""

    dates: tuple[datetime.date, ...]  # day of leaving; the years' own dates first, then neighbours
    years: NDArray[np.int64]  # that each belongs to
    offsets: NDArray[np.int64]  # days from the date of leaving, 0 for the date itself [d]
    spin_up: int  # days with the bed's own watering before [d]
    horizon: int  # days that each case is followed [d]
    gaps: tuple[int, ...]  # years left out because too much of their weather was filled in

    @property
    def independent(self) -> int:
        """How many different years there are [1]."""
        return int(np.unique(self.years).size)


def on_that_day(leave: datetime.date, year: int) -> datetime.date:
    """The same day in another year; 28 February where that has no 29th."""
    try:
        return leave.replace(year=year)
    except ValueError:
        return leave.replace(year=year, day=28)


def starts_of(weather: xr.Dataset, leave: datetime.date, *, days: int, horizon: int) -> Starts:
    """Starts in every year that has the days [d], with neighbouring dates where years are few.

    A year counts with all days of the stay in the record; each is followed to the horizon as far
    as the record allows.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = axis[0].item(), axis[-1].item()
    filled = _filled(weather, axis.size)

    def room(day: datetime.date) -> tuple[int, int]:
        """Days of the record before a day, and from it on."""
        return (day - first).days, (last - day).days + 1

    nominal = [on_that_day(leave, year) for year in range(first.year, last.year + 1)]
    nominal = [day for day in nominal if room(day)[0] >= 0 and room(day)[1] >= days]
    if not nominal:
        raise RangeError(
            "leave",
            f"not one year of the weather record has {days} days from {leave:%m-%d} on",
            expected=f"a stay within {first} to {last}, in at least one of its years",
        )
    real = [day for day in nominal if filled(day, days) <= MOST_FILLED]
    gaps = tuple(day.year for day in nominal if day not in real)
    if not real:
        raise RangeError(
            "leave",
            f"zero years are left: in each of the {len(nominal)} years that hold the stay more "
            f"than {MOST_FILLED:.0%} of its days are filled gaps",
            hint="Find weather with fewer gaps; what was filled in says nothing about bad years",
        )
    full = [day for day in real if room(day)[0] >= SPIN_UP and room(day)[1] >= horizon]
    if len(full) >= FEW_YEARS:
        cases = [(day.year, 0, day) for day in full]
        spin_up = SPIN_UP
    else:
        spin_up = min(SPIN_UP, *(room(day)[0] for day in real))
        horizon = min(horizon, *(room(day)[1] for day in real))
        cases = [(day.year, 0, day) for day in real]
        if len(real) < FEW_YEARS:
            cases += _neighbours(real, room, filled, spin_up=spin_up, horizon=horizon, days=days)
    return Starts(
        dates=tuple(day for _, _, day in cases),
        years=np.array([year for year, _, _ in cases]),
        offsets=np.array([offset for _, offset, _ in cases]),
        spin_up=spin_up,
        horizon=horizon,
        gaps=gaps,
    )


def room_for(weather: xr.Dataset, *, before: int, after: int) -> Callable[[datetime.date], bool]:
    """A test of whether a record has the days around a date [d], without long gaps after it."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = axis[0].item(), axis[-1].item()
    filled = _filled(weather, axis.size)

    def fits(day: datetime.date) -> bool:
        if (day - first).days < before or (last - day).days + 1 < after:
            return False
        return filled(day, after) <= MOST_FILLED

    return fits


def _filled(weather: xr.Dataset, size: int) -> Callable[[datetime.date, int], float]:
    """Share of the days from a day on that were gaps."""
    marked = weather["filled"].to_numpy() if "filled" in weather else np.zeros(size, dtype=bool)
    total = np.concatenate([[0], np.cumsum(marked)])
    first = weather["time"].to_numpy().astype("datetime64[D]")[0].item()

    def share(day: datetime.date, days: int) -> float:
        at = (day - first).days
        return float(total[at + days] - total[at]) / days

    return share


def _neighbours(
    nominal: Sequence[datetime.date],
    room: Callable[[datetime.date], tuple[int, int]],
    filled: Callable[[datetime.date, int], float],
    *,
    spin_up: int,
    horizon: int,
    days: int,
) -> Iterable[tuple[int, int, datetime.date]]:
    """Dates near each year's own that the record has room for."""
    for day in nominal:
        for offset in NEIGHBOURS:
            near = day + datetime.timedelta(days=offset)
            before, after = room(near)
            if before >= spin_up and after >= horizon and filled(near, days) <= MOST_FILLED:
                yield day.year, offset, near
