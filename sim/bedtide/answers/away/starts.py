"""From which days of a record a stay away is started."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import RangeError
from bedtide.many import MOST_FILLED, SPIN_UP, on_that_day, room_in

if TYPE_CHECKING:
    import xarray as xr

FEW_YEARS = 10
"""Fewer years than this are helped by neighbouring dates [1]; ours."""

NEIGHBOURS = (-10, -5, 5, 10)
"""Neighbouring dates, as days from the date of leaving [d]; ours."""


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


def starts_of(weather: xr.Dataset, leave: datetime.date, *, days: int, horizon: int) -> Starts:
    """Starts in every year that has the days [d], with neighbouring dates where years are few.

    A year counts with all days of the stay in the record; each is followed to the horizon as far
    as the record allows.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = axis[0].item(), axis[-1].item()
    room = room_in(weather)
    found = {
        day: room(day, days)
        for day in (on_that_day(leave, year) for year in range(first.year, last.year + 1))
    }
    found = {day: had for day, had in found.items() if had.before >= 0 and had.after >= days}
    if not found:
        raise RangeError(
            "leave",
            f"not one year of the weather record has {days} days from {leave:%m-%d} on",
            expected=f"a stay within {first} to {last}, in at least one of its years",
        )
    real = {day: had for day, had in found.items() if not had.gappy}
    if not real:
        raise RangeError(
            "leave",
            f"zero years are left: in each of the {len(found)} years that hold the stay more "
            f"than {MOST_FILLED:.0%} of its days are filled gaps",
            hint="Find weather with fewer gaps; what was filled in says nothing about bad years",
        )
    spin_up = SPIN_UP
    own = [day for day, had in real.items() if had.fits(SPIN_UP, horizon)]
    if len(own) < FEW_YEARS:
        own = list(real)
        spin_up = min(SPIN_UP, *(had.before for had in real.values()))
        horizon = min(horizon, *(had.after for had in real.values()))
    cases = [(day.year, 0, day) for day in own]
    for year, _, day in list(cases) if len(own) < FEW_YEARS else ():
        for offset in NEIGHBOURS:
            near = day + datetime.timedelta(days=offset)
            if room(near, days).fits(spin_up, horizon):
                cases.append((year, offset, near))
    return Starts(
        dates=tuple(day for _, _, day in cases),
        years=np.array([year for year, _, _ in cases]),
        offsets=np.array([offset for _, offset, _ in cases]),
        spin_up=spin_up,
        horizon=horizon,
        gaps=tuple(day.year for day in found if day not in real),
    )
