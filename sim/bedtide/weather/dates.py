"""Dates and clock times as files write them."""

from __future__ import annotations

import calendar
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import YEARS
from bedtide.errors import FieldError, InputError, Option, Pieces, shown
from bedtide.weather.record import mistake
from bedtide.weather.text import numbers

_CLOCK = (
    r"(?:(?:T|\s+|\s*,\s*)(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,]\d+)?)?"
    r"\s*(?P<half>[AaPp]\.?[Mm]\.?)?\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2}|[+-]\d{2})?)?"
)
_PATTERNS = (
    re.compile(r"(?P<y>\d{4})([-/.])(?P<m>\d{1,2})\2(?P<d>\d{1,2})" + _CLOCK),
    re.compile(
        r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})"
        r"(?:[T :]?(?P<hour>\d{2}|\d(?=:)):?(?P<minute>\d{2})?)?\s*(?P<zone>Z|UTC)?"
    ),
    re.compile(r"(?P<d>\d{1,2})[ -](?P<m>[A-Za-z]{3,9})\.?[ -](?P<y>\d{4})" + _CLOCK),
)
_LOCAL = {
    order: re.compile(
        rf"(?P<{order[0]}>\d{{1,2}})([-/.])(?P<{order[1]}>\d{{1,2}})\2(?P<y>\d{{4}}|\d{{2}})"
        + _CLOCK
    )
    for order in ("dmy", "mdy")
}
_STRICT = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2})?)?")
_CENTURY = 50  # two figures below it are a year of this century
_FIRST, _LAST = (YEARS[0], 1, 1, 0, 0, 0), (YEARS[1], 12, 31, 24, 59, 59)
MONTHS = {name.lower(): number for number, name in enumerate(calendar.month_abbr) if name}


@dataclass
class Stamps:
    """Times of the rows of a file."""

    times: NDArray[np.datetime64]  # as the clock in the file shows them [s]; NaT where unreadable
    clock: bool  # any row gives a time of day
    offset: NDArray[np.float64] | None  # ahead of universal time [min]; NaN where it is not said
    errors: list[InputError]
    ends: bool = False  # the clock runs from 1 to 24, so that each time ends its hour or day
    order: str = ""  # of day and month, found from a date that can be read in one way alone

    def taken(self, rows: NDArray[np.bool_]) -> Stamps:
        """Those of some rows."""
        offset = None if self.offset is None else self.offset[rows]
        return replace(self, times=self.times[rows], offset=offset)


def parse_stamps(
    values: Sequence[str],
    lines: NDArray[np.int64],
    *,
    source: str,
    name: str,
    order: str | None = None,
) -> Stamps:
    """Times from text: year first, month as a name, or day and month in a declared order."""
    texts = [value.strip() for value in values]
    if texts and all(map(_STRICT.fullmatch, texts)):
        with suppress(ValueError):  # no such date: its line is found below
            times = np.asarray(texts, dtype="datetime64[s]")
            years = times.astype("datetime64[Y]").astype(np.int64) + 1970
            if YEARS[0] <= years.min() and years.max() <= YEARS[1]:
                return Stamps(times, max(map(len, texts)) > 10, None, [])
    found = "" if order else _order_of(texts)
    parts = np.zeros((len(texts), 6), dtype=np.int64)
    offset = np.full(len(texts), np.nan)
    patterns = [*_PATTERNS, *filter(None, [_LOCAL.get(order or found)])]
    bad: dict[str, list[int]] = {"undeclared": [], "unread": [], "wrong": []}
    clock = False
    for i, text in enumerate(texts):
        match = next(filter(None, (pattern.fullmatch(text) for pattern in patterns)), None)
        if match is None:
            bad["undeclared" if _LOCAL["dmy"].fullmatch(text) else "unread"].append(i)
            continue
        said = match.groupdict()
        year, month, hour, half = (
            int(said["y"]),
            said["m"],
            int(said["hour"] or 0),
            said.get("half"),
        )
        if half:
            hour = hour % 12 + 12 * (half[0] in "pP") if 1 <= hour <= 12 else 99
        if len(said["y"]) == 2:
            year += 2000 if year < _CENTURY else 1900
        number = int(month) if month.isdecimal() else MONTHS.get(month[:3].lower(), 0)
        minute, second = int(said["minute"] or 0), int(said.get("second") or 0)
        parts[i] = (year, number, int(said["d"]), hour, minute, second)
        clock = clock or said["hour"] is not None
        if said["zone"]:
            offset[i] = _minutes(said["zone"])
    times, exists = from_parts(*parts.T)
    unknown = [*bad["undeclared"], *bad["unread"]]
    bad["wrong"] = np.setdiff1d(np.flatnonzero(~exists), unknown).tolist()
    both = Pieces("Say  ", Option("date_order", "dmy"), "  or  ", Option("date_order", "mdy"))
    wanted = "a date with the year first, such as 2021-03-04"
    errors = []
    for kind, what, hint in (
        ("undeclared", "can be read as day/month or month/day", both),
        ("unread", "is not a date", ""),
        ("wrong", "does not exist", ""),
    ):
        if rows := bad[kind]:
            problem, at = f'"{shown(texts[rows[0]])}" {what}', lines[np.asarray(rows)]
            errors.append(
                mistake(FieldError, source, at, problem, column=name, expected=wanted, hint=hint)
            )
    zones = None if np.isnan(offset).all() else offset
    return Stamps(times, clock, zones, errors, clock and _ends(parts[:, 3]), found)


def _ends(hours: NDArray[np.int64]) -> bool:
    return bool((hours == 24).any() and not (hours == 0).any())


def _order_of(texts: list[str]) -> str:
    """Day or month first, where the days run on in one of the two readings alone; else nothing."""
    matches = [m for text in texts[:4000] if (m := _LOCAL["dmy"].fullmatch(text))]
    first, second = (any(int(match[name]) > 12 for match in matches) for name in "dm")
    if len(matches) < 2 or first == second:
        return ""  # neither says, or they contradict each other
    return "dmy" if first else "mdy"


def stamps_from_columns(
    columns: Mapping[str, Sequence[str]],
    lines: NDArray[np.int64],
    *,
    source: str,
    day_of_year: Sequence[str] | None = None,
) -> Stamps:
    """Times from columns of year, month, day and perhaps hour and minute, in this order.

    With the day of the year the columns are year and perhaps hour and minute. An hour may be
    written with its minutes, as 1530.
    """
    more = {} if day_of_year is None else {"day of year": day_of_year}
    values, errors, _ = numbers({**columns, **more}, lines, source=source, decimal=".")
    whole = [
        np.where(part == np.floor(part), part, -1).astype(np.int64) for part in values.values()
    ]
    if more:
        of_year = whole.pop()
        first, _ = from_parts(whole[0], 1, 1)
        date = (first + (of_year - 1) * np.timedelta64(86400, "s")).astype("datetime64[D]")
        inside = date.astype("datetime64[Y]") == first.astype("datetime64[Y]")
        month = date.astype("datetime64[M]")
        whole[1:1] = [
            np.where(inside, month.astype(np.int64) % 12 + 1, 0),
            (date - month).astype(np.int64) + 1,
        ]
    if len(whole) == 4 and len(whole[3]) and whole[3].max() > 24:
        whole[3:] = [whole[3] // 100, whole[3] % 100]
    times, exists = from_parts(*whole)
    bad = np.flatnonzero(~exists)
    if len(bad) and not errors:
        parts = [*columns.values(), *more.values()]
        problem = f'the date "{"-".join(texts[bad[0]].strip() for texts in parts)}" does not exist'
        wanted = "year, month and day of a date"
        errors.append(mistake(FieldError, source, lines[bad], problem, expected=wanted))
    clock = len(columns) > (1 if more else 3)
    return Stamps(times, clock, None, errors, clock and _ends(whole[3]))


def from_parts(
    year: NDArray[np.int64],
    month: NDArray[np.int64] | int,
    day: NDArray[np.int64] | int,
    hour: NDArray[np.int64] | int = 0,
    minute: NDArray[np.int64] | int = 0,
    second: NDArray[np.int64] | int = 0,
) -> tuple[NDArray[np.datetime64], NDArray[np.bool_]]:
    """Times [s] from whole numbers, and whether they exist; hour 24 is midnight of the next day."""
    parts = np.array(np.broadcast_arrays(year, month, day, hour, minute, second), dtype=np.int64)
    good = ((parts.T >= _FIRST) & (parts.T <= _LAST)).all(axis=-1)
    # what is out of bounds is any date, and then none
    y, m, d, *clock = np.where(good, parts, [[2000], [1], [1], [0], [0], [0]])
    first = ((y - 1970) * 12 + m - 1).astype("datetime64[M]")
    date = first.astype("datetime64[D]") + (d - 1).astype("timedelta64[D]")
    seconds = clock[0] * 3600 + clock[1] * 60 + clock[2]
    good &= (date.astype("datetime64[M]") == first) & (seconds <= 86400)
    times = date.astype("datetime64[s]") + seconds.astype("timedelta64[s]")
    return np.where(good, times, np.datetime64("NaT", "s")), good


def _minutes(zone: str) -> float:
    if zone in ("Z", "UTC", "GMT"):
        return 0.0
    digits = zone[1:].replace(":", "").ljust(4, "0")
    return (1 if zone[0] == "+" else -1) * (int(digits[:2]) * 60.0 + int(digits[2:]))
