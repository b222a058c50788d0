"""Which years of a record are run: whole ones, all from the same day of the year."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import RangeError

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["MonthDay", "Years", "whole_years"]

MonthDay = tuple[int, int]

_YEAR = 365  # days of a run; the last day of a leap year is left out, so that all are alike


@dataclass(frozen=True)
class Years:
    """Years, or the same season of every year, that a record holds whole.

    Attributes
    ----------
    starts : tuple of date
        First day of each, at least one.
    days : int
        Length of each [d].
    left_out : int
        Days of the record that are in none of them [d].
    """

    starts: tuple[datetime.date, ...]
    days: int
    left_out: int


def whole_years(
    weather: xr.Dataset, *, first: MonthDay | None = None, last: MonthDay | None = None
) -> Years:
    """Every whole year of a record, or the same season of every year.

    Answers: how many years does this record speak for. Without a first and last day a year
    begins in midwinter, on 1 January, or south of the equator on 1 July, so that no summer is cut
    in two; where the record holds more years from its own first day on, they begin there.
    A year is 365 days: the last day of a leap year is left out.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record with ``latitude`` [degree] among its attributes.
    first, last : (month, day), optional
        First and last day of the season, both included; with only one of them the season is the
        whole year from, or to, that day.

    Returns
    -------
    Years
        At least one; no day is in two of them.

    Raises
    ------
    RangeError
        If the record holds no whole one.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    if first is None and last is None:
        south = float(weather.attrs.get("latitude", 0.0)) < 0.0
        own = axis[0].item()
        opening: list[MonthDay] = [(7, 1) if south else (1, 1), (own.month, own.day)]
        found = [_fitting(axis, day, _YEAR) for day in opening]
        starts, days = max(found, key=len), _YEAR  # the first of equals
    else:
        begin, days = _season(first, last)
        starts = _fitting(axis, begin, days)
    if not starts:
        span = "year" if days == _YEAR else f"season of {days} days"
        raise RangeError(
            "weather record",
            f"its {axis.size:,} days from {axis[0]} to {axis[-1]} hold no whole {span}",
            expected="at least one",
            hint="For part of a year give its first and last day, such as  --from 05-01 --to 09-30",
        )
    return Years(tuple(starts), days, axis.size - len(starts) * days)


def _season(first: MonthDay | None, last: MonthDay | None) -> tuple[MonthDay, int]:
    """First day and length [d] of a season, counted in a year without 29 February."""
    if first is not None and last is not None:
        begin, end = datetime.date(2023, *_begin(first)), datetime.date(2023, *_end(last))
        days = (end - begin).days + 1
        return _begin(first), days if days > 0 else days + _YEAR
    if first is not None:
        return _begin(first), _YEAR
    assert last is not None
    after = datetime.date(2023, *_end(last)) + datetime.timedelta(days=1)
    return (after.month, after.day), _YEAR


def _begin(day: MonthDay) -> MonthDay:
    """First day that every year has."""
    return (3, 1) if day == (2, 29) else day


def _end(day: MonthDay) -> MonthDay:
    """Last day that every year has."""
    return (2, 28) if day == (2, 29) else day


def _fitting(axis: NDArray[np.datetime64], begin: MonthDay, days: int) -> list[datetime.date]:
    """First days of all seasons that the record holds whole."""
    first, last = axis[0].item(), axis[-1].item()
    length = datetime.timedelta(days=days - 1)
    all_years = range(first.year, last.year + 1)
    starts = [datetime.date(year, *_begin(begin)) for year in all_years]
    return [day for day in starts if first <= day and day + length <= last]
