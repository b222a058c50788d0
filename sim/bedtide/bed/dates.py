"""Days of the bed description: a full date, or a month and day that return every year."""

from __future__ import annotations

import datetime
import re

from bedtide.constants import YEARS

Day = datetime.date | tuple[int, int]

EXPECTED = 'month and day for every year, such as "05-10", or a full date, such as "2027-05-10"'
_MONTH_DAY = re.compile(r"\s*(\d{1,2})-(\d{1,2})\s*")
_FULL = re.compile(r"\s*(\d{4})-(\d{1,2})-(\d{1,2})\s*")


def parse_day(given: object) -> Day:
    """Date, or month and day, from what stands in the description.

    Parameters
    ----------
    given : object
        Text, or a date that TOML has read already.

    Returns
    -------
    date or (month, day)
        The day.

    Raises
    ------
    ValueError
        If it is no day of the calendar; the text says why.
    """
    text = given.isoformat()[:10] if isinstance(given, datetime.date) else str(given)
    if full := _FULL.fullmatch(text):
        year, month, day = (int(part) for part in full.groups())
        if not YEARS[0] <= year <= YEARS[1]:
            raise ValueError(f"the year is not from {YEARS[0]} to {YEARS[1]}")
        try:
            return datetime.date(year, month, day)
        except ValueError:
            raise ValueError("there is no such day") from None
    if short := _MONTH_DAY.fullmatch(text):
        month, day = (int(part) for part in short.groups())
        if (month, day) == (2, 29):
            raise ValueError("29 February does not come every year")
        try:
            datetime.date(2001, month, day)
        except ValueError:
            raise ValueError("there is no such day, month first") from None
        return month, day
    raise ValueError("not a day")
