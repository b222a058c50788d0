"""The headlines of a stay away over the set of doubtful beds."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np

from bedtide.answers.away.leave_dates import away_calendar
from bedtide.answers.away.run import away
from bedtide.bed import Bed
from bedtide.many import PARAMETERS, SELDOM, Doubt, doubtful_beds, percentile, ranges_of
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr


def away_ranges(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, *, days: int, level: float = 1.0
) -> dict[str, Doubt]:
    """Ranges of the headlines of a stay away.

    Answers: how sure is it that the bed lasts that long.

    Parameters
    ----------
    bed : Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    leave : date
        First day away.
    days : int
        Days away [d].
    level : float, default 1.0
        Share of the store on the morning of leaving [1].

    Returns
    -------
    dict of Doubt
        ``days_safe``, ``days_middle``, ``days_to_empty`` (its median) [d], ``cases_lasting`` [1].
        Beds that fail their plants in more than one case of ten even filled every morning stay
        out of the range. Takes eleven times as long as one stay.
    """
    rows, works = [], []
    for case in doubtful_beds(bed):
        stay = away(case, weather, leave, days=days, level=level, measures=[]).isel(measure=0)
        rows.append(
            {
                "days_safe": float(stay["days_safe"]),
                "days_middle": float(stay["days_middle"]),
                "days_to_empty": float(percentile(stay["days_to_empty"].to_numpy(), 0.5)),
                "cases_lasting": float(stay["cases_lasting"]),
            }
        )
        works.append(bool((stay["days_short_anyway"] > 0).mean() <= SELDOM))
    return ranges_of(rows, works=works)


def with_calendar_range(
    calendar: xr.Dataset, bed: Bed, weather: xr.Dataset, *, level: float, year: int | None = None
) -> xr.Dataset:
    """A calendar with the range of its safe days.

    Answers: how sure are the days that each date is safe for.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`away_calendar` gives it for the bed.
    bed : Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    level : float
        Share of the store on the morning of leaving [1].
    year : int, optional
        Year of leaving.

    Returns
    -------
    Dataset, dims (leave, year)
        With ``days_safe_low``, ``days_safe_high`` (leave) [d] over the beds of the set that work,
        one parameter at a time at an end.
    """
    single = doubtful_beds(bed)[1 : 1 + 2 * len(PARAMETERS)]
    found = [calendar, *(away_calendar(case, weather, level=level, year=year) for case in single)]
    if _keeps(calendar):
        found = [each for each in found if _keeps(each)]
    safe = np.stack([each["days_safe"].to_numpy() for each in found])
    values = {"days_safe_low": safe.min(axis=0), "days_safe_high": safe.max(axis=0)}
    return calendar.assign(
        {name: ("leave", array, attributes(name)) for name, array in values.items()}
    )


def _keeps(calendar: xr.Dataset) -> bool:
    """Whether a bed filled every morning keeps its plants in nearly all cases with plants."""
    planted = calendar["plantings_standing"].to_numpy() > 0
    anyway = calendar["days_short_anyway"].to_numpy()[planted]
    cases = anyway[~np.isnan(anyway)]
    return bool(cases.size == 0 or (cases > 0).mean() <= SELDOM)
