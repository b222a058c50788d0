"""Rain totals of several days, as gauges that are not read every day give them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError
from bedtide.weather.record import Record, named_lines

__all__ = ["share_out"]

_LONGEST_TOTAL = 60


def share_out(
    record: Record, amount: NDArray[np.float64], period: NDArray[np.float64], how: str
) -> list[InputError]:
    """Rain totals of several days to the days that they cover; the totals are kept.

    Parameters
    ----------
    record : Record
        With a rain column that is blank on the days of a total; changed in place.
    amount : ndarray of float
        Total that ends on the day of the row [mm]; NaN where there is none.
    period : ndarray of float
        How many days it covers [d].
    how : {"spread", "last"}
        In equal parts, or all on the last day.

    Returns
    -------
    list of InputError
        Totals that overlap measured days, or cover an unlikely number of days.
    """
    broken = np.flatnonzero(~np.isnan(period) & (period != np.floor(period)))
    if len(broken):
        line = record.lines[broken[0]]
        return [
            FieldError(
                f"{record.source}, line {line}",
                f"a rain total of {period[broken[0]]:g} days",
                expected="a whole number of days",
            )
        ]
    rows = np.flatnonzero(~np.isnan(amount) & (period > 1))
    if not len(rows) or np.isnat(record.times).any():
        return []
    rain = record.columns["rain"]
    days = record.times.astype("datetime64[D]").astype(np.int64)
    at = {int(day): i for i, day in enumerate(days)}
    new_days: list[int] = []
    new_rain: list[float] = []
    new_lines: list[int] = []
    clash: list[int] = []
    long: list[int] = []
    for row in rows:
        count = int(period[row])
        if count > _LONGEST_TOTAL:
            long.append(int(row))
            continue
        covered = range(int(days[row]) - count + 1, int(days[row]) + 1)
        known = [at[d] for d in covered if d in at and d != days[row]]
        if any(not np.isnan(rain.values[i]) for i in known):
            clash.append(int(row))
            continue
        for day in covered:
            part = amount[row] / count if how == "spread" else 0.0
            if day == days[row] and how == "last":
                part = float(amount[row])
            if day in at:
                rain.values[at[day]] = part
            else:
                new_days.append(day)
                new_rain.append(part)
                new_lines.append(int(record.lines[row]))
    if new_days:
        _add_rows(record, new_days, new_rain, new_lines)
    done = len(rows) - len(clash) - len(long)
    if done:
        where = "spread evenly over them" if how == "spread" else "put on the last of them"
        record.notes.append(f"{done} rain totals of several days in {record.source} were {where}.")
    errors: list[InputError] = []
    for bad, what in ((clash, "covers days that have rain of their own"), (long, "is too long")):
        if bad:
            lines = record.lines[np.asarray(bad)]
            errors.append(
                FieldError(
                    f"{record.source}, line {lines[0]}",
                    f"the rain total of {int(period[bad[0]])} days {what}{named_lines(lines[1:])}",
                    expected=f"at most {_LONGEST_TOTAL} days, all others of them blank",
                )
            )
    return errors


def _add_rows(record: Record, days: list[int], rain: list[float], lines: list[int]) -> None:
    count = len(days)
    times = np.asarray(days, dtype="datetime64[D]").astype("datetime64[s]")
    record.times = np.concatenate([record.times, times])
    record.lines = np.concatenate([record.lines, np.asarray(lines, dtype=np.int64)])
    for key, column in record.columns.items():
        more = np.asarray(rain) if key == "rain" else np.full(count, np.nan)
        column.values = np.concatenate([column.values, more])
