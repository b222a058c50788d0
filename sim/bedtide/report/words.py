"""Pieces of sentences that every answer uses."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import Final

import numpy as np

CAUTION: Final = (
    "Take care: a full bed is very heavy, and standing water can harm children, breed mosquitoes "
    "and be sucked back into a hose. Read `bedtide cautions` before you build or fill."
)

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def days_text(days: float) -> str:
    """Number of days in words: ``"1 day"``, ``"12 days"``.

    Parameters
    ----------
    days : float
        Days, shown to the nearest whole one [d].

    Returns
    -------
    str
        Number and word.
    """
    whole = _whole(days)
    return f"{whole:,} {'day' if whole == 1 else 'days'}"


def month_name(number: int) -> str:
    """Name of a month.

    Parameters
    ----------
    number : int
        1 to 12 [1].

    Returns
    -------
    str
        Its English name.
    """
    return _MONTHS[number - 1]


def span_text(first: str, last: str) -> str:
    """From a day to a day, in words.

    Parameters
    ----------
    first, last : str
        Dates as 2023-06-25 [d].

    Returns
    -------
    str
        Such as ``"25 June to 6 July 2023"``.
    """
    start, end = datetime.date.fromisoformat(first), datetime.date.fromisoformat(last)
    if (start.year, start.month) == (end.year, end.month):
        return f"{start.day} to {_date_text(end)}" if start < end else _date_text(end)
    if start.year == end.year:
        return f"{start.day} {month_name(start.month)} to {_date_text(end)}"
    return f"{_date_text(start)} to {_date_text(end)}"


def assumed_lines(assumptions: Sequence[str]) -> list[str]:
    """What was assumed about the weather, a line for each sentence.

    Parameters
    ----------
    assumptions : sequence of str
        As the weather's attributes hold them.

    Returns
    -------
    list of str
        Lines; one that says so where nothing was assumed.
    """
    if not assumptions:
        return ["Assumed: nothing; all days rest on readings."]
    return ["Assumed:", *(f"  {sentence}" for sentence in assumptions)]


def _whole(days: float) -> int:
    """Nearest whole number, a half upward."""
    return int(np.floor(days + 0.5))


def _date_text(day: datetime.date) -> str:
    return f"{day.day} {month_name(day.month)} {day.year}"


def plain_table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table in plain text: the first column to the left, the others to the right.

    Parameters
    ----------
    header : sequence of str
        Column heads.
    rows : sequence of sequence of str
        Cells, as many in each row as there are heads.

    Returns
    -------
    list of str
        One line for the heads and one for each row, without spaces at their ends.
    """
    widths = [max(len(cell) for cell in column) for column in zip(header, *rows, strict=True)]
    lines = []
    for row in (header, *rows):
        cells = [row[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        lines.append("  ".join(cells).rstrip())
    return lines


def for_typical_values(sentence: str) -> str:
    """Say in front of an answer that it holds for typical values of mix and plants.

    Parameters
    ----------
    sentence : str
        The answer.

    Returns
    -------
    str
        The same with the reservation first.
    """
    return f"For typical values: {sentence[:1].lower()}{sentence[1:]}"
