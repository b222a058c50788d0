"""Which days of a record a season covers."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import numpy as np

from bedtide.errors import RangeError

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["dates_in_order", "season_span"]

_WHOLE = 400  # days; a record up to this length is run whole


def dates_in_order(start: datetime.date | None, end: datetime.date | None) -> None:
    """Refuse a last day before the first.

    Parameters
    ----------
    start, end : date, optional
        First and last day wanted.

    Raises
    ------
    RangeError
        If the end is before the start.
    """
    if start is not None and end is not None and end < start:
        raise RangeError("--to", f"{end} is before --from, {start}", expected=f"{start} or later")


def season_span(
    weather: xr.Dataset, *, start: datetime.date | None = None, end: datetime.date | None = None
) -> tuple[datetime.date, datetime.date]:
    """First and last day of a season.

    Without both dates a record of up to 400 days is run whole. Of a longer one the last whole
    year is: from 1 January, or south of the equator from 1 July, so that a summer is not cut in
    two. With one date given, the other end is that of the record.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record with ``latitude`` [degree] among its attributes.
    start, end : date, optional
        First and last day wanted, both of them included.

    Returns
    -------
    tuple of date
        First and last day.

    Raises
    ------
    RangeError
        If a date is outside the record, or the end is before the start.
    """
    dates_in_order(start, end)
    days = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = days[0].astype(object), days[-1].astype(object)
    for name, day in (("--from", start), ("--to", end)):
        if day is None or first <= day <= last:
            continue
        if day < first:
            bound = f"{first} or later, where the weather begins"
        else:
            bound = f"{last} or earlier, where the weather ends"
        raise RangeError(name, f"{day} is outside the weather record", expected=bound)
    if start is not None or end is not None or days.size <= _WHOLE:
        return start or first, end or last
    month = 1 if weather.attrs["latitude"] >= 0 else 7
    for year in range(last.year, first.year - 1, -1):
        opens = datetime.date(year, month, 1)
        closes = datetime.date(year + 1, month, 1) - datetime.timedelta(days=1)
        if first <= opens and closes <= last:
            return opens, closes
    return np.datetime64(last - datetime.timedelta(days=364)).astype(object), last
