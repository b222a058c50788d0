"""Dates and clock times as files write them."""

from __future__ import annotations

import calendar
import re
from collections.abc import Mapping, Sequence
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
_ISO = re.compile(r"(?P<y>\d{4})([-/.])(?P<m>\d{1,2})\2(?P<d>\d{1,2})" + _CLOCK)
_COMPACT = re.compile(
    r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})(?:[T :]?(?P<hour>\d{2}|\d(?=:)):?(?P<minute>\d{2})?)?"
    r"(?P<second>(?!))?(?P<half>(?!))?\s*(?P<zone>Z|UTC)?"
)
_LOCAL = re.compile(r"(?P<a>\d{1,2})([-/.])(?P<b>\d{1,2})\2(?P<y>\d{4}|\d{2})" + _CLOCK)
_NAMED = re.compile(r"(?P<d>\d{1,2})[ -](?P<name>[A-Za-z]{3,9})\.?[ -](?P<y>\d{4})" + _CLOCK)
_STRICT = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2})?)?")
_CENTURY = 50  # two figures below it are a year of this century
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
        try:
            times = np.asarray(texts, dtype="datetime64[s]")
        except ValueError:
            times = np.full(1, np.datetime64("NaT", "s"))  # no such date: find its line below
        else:
            times = np.where(_in_history(times), times, np.datetime64("NaT", "s"))
        if not np.isnat(times).any():
            return Stamps(times, max(map(len, texts)) > 10, None, [])
    return _one_by_one(texts, lines, source, name, order)


def _in_history(times: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    first, last = np.datetime64(f"{YEARS[0]}-01-01"), np.datetime64(f"{YEARS[1]}-12-31T23:59:59")
    return (times >= first) & (times <= last)


def _one_by_one(
    texts: list[str], lines: NDArray[np.int64], source: str, name: str, order: str | None
) -> Stamps:
    count = len(texts)
    parts = np.zeros((count, 6), dtype=np.int64)
    offset = np.full(count, np.nan)
    unread: list[int] = []
    undeclared: list[int] = []
    clock = False
    found = _order_of(texts) if order is None else None
    order = order or found
    for i, text in enumerate(texts):
        match = _ISO.fullmatch(text) or _COMPACT.fullmatch(text) or _NAMED.fullmatch(text)
        if match is None:
            match = _LOCAL.fullmatch(text)
            if match is None or order is None:
                (unread if match is None else undeclared).append(i)
                continue
            a, b = int(match["a"]), int(match["b"])
            day, month = (a, b) if order == "dmy" else (b, a)
        elif match.re is _NAMED:
            month = MONTHS.get(match["name"][:3].lower(), 0)
            day = int(match["d"])
        else:
            month, day = int(match["m"]), int(match["d"])
        hour = int(match["hour"] or 0)
        if match["half"]:
            hour = hour % 12 + (12 if match["half"][0] in "pP" else 0) if 1 <= hour <= 12 else 99
        clock = clock or match["hour"] is not None
        second = int(match["second"] or 0)
        year = int(match["y"])
        if len(match["y"]) == 2:
            year += 2000 if year < _CENTURY else 1900
        parts[i] = (year, month, day, hour, int(match["minute"] or 0), second)
        if match["zone"]:
            offset[i] = _minutes(match["zone"])
    times, exists = from_parts(*parts.T)
    gone = np.zeros(count, dtype=bool)
    gone[unread + undeclared] = True
    times[gone] = np.datetime64("NaT", "s")
    wrong = np.flatnonzero(~exists & ~gone).tolist()
    both = Pieces("Say  ", Option("date_order", "dmy"), "  or  ", Option("date_order", "mdy"))
    errors = [
        mistake(
            FieldError,
            source,
            lines[np.asarray(bad)],
            f'"{shown(texts[bad[0]])}" {what}',
            column=name,
            expected="a date with the year first, such as 2021-03-04",
            hint=hint,
        )
        for bad, what, hint in (
            (undeclared, "can be read as day/month or month/day", both),
            (unread, "is not a date", ""),
            (wrong, "does not exist", ""),
        )
        if bad
    ]
    zones = None if np.isnan(offset).all() else offset
    return Stamps(times, clock, zones, errors, clock and _ends(parts[:, 3]), found or "")


def _ends(hours: NDArray[np.int64]) -> bool:
    return bool((hours == 24).any() and not (hours == 0).any())


def _order_of(texts: list[str]) -> str | None:
    """Day or month first, where the days run on in one of the two readings alone."""
    matches = [m for text in texts[:4000] if (m := _LOCAL.fullmatch(text))]
    if len(matches) < 2:
        return None
    pairs = np.asarray([(int(m["a"]), int(m["b"]), int(m["y"])) for m in matches])
    if (pairs[:, 0] > 12).any() == (pairs[:, 1] > 12).any():
        return None  # neither says, or they contradict each other
    return "dmy" if (pairs[:, 0] > 12).any() else "mdy"


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
    at = 1 if more else 3  # of the hour
    if more:
        of_year = whole.pop()
        whole[1:1] = [np.ones_like(of_year), np.where(of_year > 0, 1, -1)]
    if len(whole) == 4 and len(whole[3]) and whole[3].max() > 24:
        whole[3:] = [whole[3] // 100, whole[3] % 100]
    times, exists = from_parts(*whole)
    if more:
        length = np.where(
            from_parts(whole[0], np.full_like(of_year, 2), np.full_like(of_year, 29))[1], 366, 365
        )
        exists &= of_year <= length
        times = np.where(exists, times + (of_year - 1) * np.timedelta64(86400, "s"), times)
        times[~exists] = np.datetime64("NaT", "s")
    bad = np.flatnonzero(~exists)
    if len(bad) and not errors:
        parts = [*columns.values(), *more.values()]
        problem = f'the date "{"-".join(texts[bad[0]].strip() for texts in parts)}" does not exist'
        wanted = "year, month and day of a date"
        errors.append(mistake(FieldError, source, lines[bad], problem, expected=wanted))
    clock = len(columns) > at
    return Stamps(times, clock, None, errors, clock and _ends(whole[3]))


def from_parts(
    year: NDArray[np.int64],
    month: NDArray[np.int64],
    day: NDArray[np.int64],
    hour: NDArray[np.int64] | int = 0,
    minute: NDArray[np.int64] | int = 0,
    second: NDArray[np.int64] | int = 0,
) -> tuple[NDArray[np.datetime64], NDArray[np.bool_]]:
    """Times [s] from whole numbers, and whether they exist; hour 24 is midnight of the next day."""
    year, month, day = (np.asarray(part, dtype=np.int64) for part in (year, month, day))
    hour, minute, second = (np.asarray(part, dtype=np.int64) for part in (hour, minute, second))
    good = (year >= YEARS[0]) & (year <= YEARS[1]) & (month >= 1) & (month <= 12) & (day >= 1)
    good &= (hour >= 0) & (hour <= 24) & (minute >= 0) & (minute < 60)
    good &= (second >= 0) & (second < 60)
    good &= (hour < 24) | ((minute == 0) & (second == 0))
    months = (np.where(good, year, 2000) - 1970) * 12 + np.where(good, month, 1) - 1
    first = months.astype("datetime64[M]")
    next_month = (first + np.timedelta64(1, "M")).astype("datetime64[D]")
    length = (next_month - first.astype("datetime64[D]")).astype(np.int64)
    good &= day <= length
    times = first.astype("datetime64[D]").astype("datetime64[s]") + (
        (day - 1) * 86400 + hour * 3600 + minute * 60 + second
    ).astype("timedelta64[s]")
    times = np.where(good, times, np.datetime64("NaT", "s"))
    return times, good


def _minutes(zone: str) -> float:
    if zone in ("Z", "UTC", "GMT"):
        return 0.0
    digits = zone[1:].replace(":", "").ljust(4, "0")
    return (1 if zone[0] == "+" else -1) * (int(digits[:2]) * 60.0 + int(digits[2:]))
