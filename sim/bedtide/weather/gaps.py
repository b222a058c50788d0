"""One row for each day: short gaps filled by a stated rule and counted, long ones refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, TimeAxisError, raise_all
from bedtide.weather.record import RainDay, Record, days_text, runs

__all__ = ["CORE", "FLAGS", "DailyColumns", "count_text", "fill_gaps"]

CORE = ("tmax", "tmin", "rain")
"""What a day must have; all else has a stand-in."""
_WORDS = {"tmax": "highest temperature", "tmin": "lowest temperature", "rain": "rain"}
_RAIN_DAY = {
    "to morning": "Rain under a date fell in the 24 hours to the morning of that date, so it was "
    "put on the day before.",
    "from morning": "Rain under a date fell in the 24 hours from the morning of that date on; it "
    "was left on that date.",
}
FLAGS = {"temperature": 1, "rain": 2, "humidity": 4, "wind": 8, "radiation": 16}
"""Bits of the variable that says what was measured on a day."""
_NAMES = {
    "tmax": "temperature",
    "tmin": "temperature",
    "temperature": "mean temperature",
    "dew_point": "humidity",
    "vapour_pressure": "humidity",
    "rh_max": "humidity",
    "rh_min": "humidity",
    "rh_mean": "humidity",
    "wind_speed": "wind",
    "solar_radiation": "radiation",
    "sunshine": "sunshine",
    "rain": "rain",
}
_FLAG_OF = _NAMES | {"sunshine": "radiation", "temperature": ""}


@dataclass
class DailyColumns:
    """Columns on strictly consecutive days.

    Attributes
    ----------
    days : ndarray of datetime64[D]
        Consecutive.
    columns : dict of ndarray of float
        By quantity, in the units of `record.UNITS`.
    filled : ndarray of bool
        Days on which a gap was filled.
    measured : ndarray of int8
        Sum of the `FLAGS` of what was measured that day.
    sentences : list of str
        What was filled or cut off, with counts.
    rain_hours : ndarray of float or None, shape (days, 24)
        Share of each hour in the rain of the day, NaN where it is not known; None where it is
        known of no day.
    """

    days: NDArray[np.datetime64]
    columns: dict[str, NDArray[np.float64]]
    filled: NDArray[np.bool_]
    measured: NDArray[np.int8]
    sentences: list[str] = field(default_factory=list)
    rain_hours: NDArray[np.float64] | None = None


def count_text(count: int, total: int) -> str:
    """``on 3 of 365 days`` or ``on all 365 days``.

    Parameters
    ----------
    count, total : int
        Days [1].

    Returns
    -------
    str
        For the end of a sentence.
    """
    if count == total:
        return f"on all {total:,} days"
    return f"on {count:,} of {total:,} days"


def fill_gaps(record: Record, *, max_gap_days: int, rain_day: RainDay) -> DailyColumns:
    """Columns of a record on consecutive days.

    Days before the first and after the last that has both temperatures and rain are cut off.
    Gaps of up to `max_gap_days` are filled: a straight line between the days on either side,
    rain as none. Longer gaps are refused in temperature and rain; in the other columns they stay
    missing, for the stand-ins of `estimate`.

    Parameters
    ----------
    record : Record
        One row a day, in order, no day twice.
    max_gap_days : int
        Longest gap to fill [d].
    rain_day : {"midnight", "to morning", "from morning"}
        Which 24 hours the rain under a date covered, for the sentence; the rain stands on its
        days already.

    Returns
    -------
    DailyColumns
        On consecutive days.

    Raises
    ------
    FieldError
        If there is no temperature or rain.
    TimeAxisError
        If no day is whole, or gaps are too long; all of them are named.
    """
    absent = [_WORDS[key] for key in CORE if key not in record.columns]
    if absent:
        raise FieldError(
            record.source,
            f"there is no {' and no '.join(absent)} in it",
            expected="columns for the highest and the lowest temperature and for rain",
            hint=_found(record),
        )
    days_given = record.times.astype("datetime64[D]")
    if not len(days_given):
        raise TimeAxisError(record.source, "there is not one day in it", expected="daily rows")
    days = np.arange(days_given.min(), days_given.max() + np.timedelta64(1, "D"))
    at = (days_given - days[0]).astype(np.int64)
    columns: dict[str, NDArray[np.float64]] = {}
    for key, column in record.columns.items():
        columns[key] = np.full(len(days), np.nan)
        columns[key][at] = column.values
    lines = np.zeros(len(days), dtype=np.int64)
    lines[at] = record.lines
    hours = np.full((len(days), 24), np.nan)
    if record.rain_hours is not None:
        hours[at] = record.rain_hours
    whole = np.all([~np.isnan(columns[key]) for key in CORE], axis=0)
    if not whole.any():
        raise TimeAxisError(
            record.source, "no day has both temperatures and rain", expected="at least one day"
        )
    first, last = np.flatnonzero(whole)[[0, -1]]
    part = slice(int(first), int(last) + 1)
    sentences = [_RAIN_DAY[rain_day]] if rain_day != "midnight" else []
    sentences += _cut_off(len(days), part, days)
    days, lines, whole, hours = days[part], lines[part], whole[part], hours[part]
    columns = {key: values[part] for key, values in columns.items()}
    _refuse_long(record, days, lines, columns, whole, max_gap_days)
    measured = _measured(columns, len(days))
    filled = np.zeros(len(days), dtype=bool)
    by_name: dict[str, NDArray[np.bool_]] = {}
    for key, values in columns.items():
        flag = _fill(key, values, max_gap_days)
        filled |= flag
        name = _NAMES[key]
        by_name[name] = by_name.get(name, np.zeros(len(days), dtype=bool)) | flag
    np.minimum(columns["tmin"], columns["tmax"], out=columns["tmin"])
    for name, flag in by_name.items():
        if flag.any():
            how = f"{name} filled from the days on either side"
            how = "no rain was assumed" if name == "rain" else how
            sentences.append(f"Gaps in the record: {how} {count_text(int(flag.sum()), len(days))}.")
    unknown = np.isnan(hours).all(axis=1)
    if unknown.all():
        return DailyColumns(days, columns, filled, measured, sentences)
    guessed = unknown & (columns["rain"] > 0.0)
    if guessed.any():
        sentences.append(
            f"The hours of rain are not known {count_text(int(guessed.sum()), len(days))}; it was "
            "taken to fall evenly from 9 to 15 h."
        )
    return DailyColumns(days, columns, filled, measured, sentences, hours)


def _measured(columns: dict[str, NDArray[np.float64]], count: int) -> NDArray[np.int8]:
    flags = np.zeros(count, dtype=np.int8)
    for name, bit in FLAGS.items():
        known = [~np.isnan(values) for key, values in columns.items() if _FLAG_OF[key] == name]
        if known:
            together = np.all(known, axis=0) if name == "temperature" else np.any(known, axis=0)
            flags += np.int8(bit) * together.astype(np.int8)
    return flags


def _found(record: Record) -> str:
    names = [f"{column.name} ({key})" for key, column in record.columns.items()]
    text = f"Found: {', '.join(names) or 'no weather column'}"
    if record.ignored:
        text += f"; not understood: {', '.join(record.ignored[:12])}"
    return text + ". Other names can be given with the option  columns"


def _cut_off(count: int, part: slice, days: NDArray[np.datetime64]) -> list[str]:
    before, after = part.start, count - part.stop
    if not before and not after:
        return []
    lack = days_text(before + after, "lacks", "lack", of="the ends of the record")
    return [
        f"{lack} temperature or rain and {'was' if before + after == 1 else 'were'} left out; "
        f"it is used from {days[part.start]} to {days[part.stop - 1]}."
    ]


def _refuse_long(
    record: Record,
    days: NDArray[np.datetime64],
    lines: NDArray[np.int64],
    columns: dict[str, NDArray[np.float64]],
    whole: NDArray[np.bool_],
    most: int,
) -> None:
    long = [(a, b) for a, b in runs(~whole) if _longest(columns, a, b) > most]
    if not long:
        return
    start, stop = _best_part(long, len(days))
    hint = (
        f"The longest part without such a gap is {days[start]} to {days[stop - 1]}: choose it "
        f"with  start  and  end , or allow longer gaps with  max_gap_days"
    )
    errors: list[InputError] = []
    for a, b in long:
        lacking = [_WORDS[key] for key in CORE if np.isnan(columns[key][a:b]).any()]
        where = record.source
        before = int(lines[:a].max()) if a else 0
        if before:
            where += f", after line {before}"
        span = f"from {days[a]} to {days[b - 1]} ({b - a} days)"
        errors.append(
            TimeAxisError(
                where,
                f"{' and '.join(lacking)} missing {span}",
                expected=f"gaps of at most {most} days",
                hint=hint if (a, b) == long[-1] or (a, b) == long[0] else "",
            )
        )
    raise_all(errors)


def _longest(columns: dict[str, NDArray[np.float64]], a: int, b: int) -> int:
    lengths = [d - c for key in CORE for c, d in runs(np.isnan(columns[key][a:b]))]
    return max(lengths, default=0)


def _best_part(long: Sequence[tuple[int, int]], count: int) -> tuple[int, int]:
    starts = [0, *(b for _, b in long)]
    stops = [*(a for a, _ in long), count]
    return max(zip(starts, stops, strict=True), key=lambda part: part[1] - part[0])


def _fill(key: str, values: NDArray[np.float64], most: int) -> NDArray[np.bool_]:
    """Fill short gaps in place; returns where."""
    missing = np.isnan(values)
    flag = np.zeros(len(values), dtype=bool)
    if not missing.any() or missing.all():
        return flag
    for a, b in runs(missing):
        if b - a <= most and a > 0 and b < len(values):
            flag[a:b] = True
    if key == "rain":
        values[flag] = 0.0
    else:
        known = np.flatnonzero(~missing)
        values[flag] = np.interp(np.flatnonzero(flag), known, values[known])
    return flag
