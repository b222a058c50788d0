"""What one weather file holds, before it is checked: columns in our units with their lines."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError
from bedtide.tables import cells, read_table
from bedtide.weather.options import RainDay

_LONGEST_TOTAL = 60  # of a rain total [d]


@dataclass(frozen=True)
class Quantity:
    """What a column can be."""

    unit: str  # inside this folder
    kind: str  # of the units that it may come in
    least: float  # that weather on Earth has [unit]
    most: float
    group: str = ""  # what of a day is measured where it is


QUANTITIES = {
    name: Quantity(**cells(Quantity, row))
    for name, row in read_table("weather_quantities.csv").items()
}
"""Every quantity that a record can hold."""
GROUPS = {
    group: tuple(name for name, about in QUANTITIES.items() if about.group == group)
    for group in ("temperature", "rain", "humidity", "wind", "radiation")
}
"""What can be measured of a day, with the quantities that tell it."""


@dataclass
class Column:
    """One column of a file."""

    name: str  # what the file calls it
    unit: str  # the file's own, as people write it
    values: NDArray[np.float64]  # in the unit of QUANTITIES; NaN where nothing was measured
    factor: float = 1.0  # ours = factor x the file's + offset
    offset: float = 0.0
    rate: bool = False  # of several rows a day: to be averaged, not added up

    def given(self, ours: Any) -> Any:
        """Values in the file's own unit from ours."""
        return (ours - self.offset) / self.factor

    def as_written(self, row: int) -> str:
        """The value of a row in the file's own unit, for messages."""
        return f"{self.given(float(self.values[row])):.6g} {self.unit}"


@dataclass
class Record:
    """One file, as far as its format tells."""

    source: str  # name of the file
    format: str
    times: NDArray[np.datetime64]  # midnight of the day, or the clock time [s]
    lines: NDArray[np.int64]  # in the file, for messages
    columns: dict[str, Column]  # by quantity
    daily: bool = True  # one row a day
    latitude: float | None = None  # [degree], as longitude
    elevation: float | None = None  # [m]
    longitude: float | None = None
    place: str = ""
    wind_height: float | None = None  # [m]
    rain_day: RainDay = "midnight"
    rain_day_said: bool = True  # by the file, its layout or the person
    ends: bool = False  # the time of a row is the end of its hour, not the start
    ignored: list[str] = field(default_factory=list)  # columns that are not used
    notes: list[str] = field(default_factory=list)  # sentences on what was done to read it
    errors: list[InputError] = field(default_factory=list)
    fullest: str = ""  # of rows of hours: how full the fullest day is, for a message
    rank: int = 0  # of two records that differ the lower rank is right
    offset: NDArray[np.float64] | None = None  # ahead of universal time [min]; NaN: not said
    # share of each hour in the day's rain, (rows, 24); NaN where only the sum is known
    rain_hours: NDArray[np.float64] | None = None

    def select(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows, in this order."""
        self.times, self.lines = self.times[rows], self.lines[rows]
        if self.offset is not None:
            self.offset = self.offset[rows]
        if self.rain_hours is not None:
            self.rain_hours = self.rain_hours[rows]
        for column in self.columns.values():
            column.values = column.values[rows]

    def on(self, axis: NDArray[np.datetime64]) -> Record:
        """The record on other times, each there once: NaN, and line 0, where it has none."""
        _, there, own = np.intersect1d(axis, self.times, return_indices=True)
        columns = {
            key: replace(column, values=on_rows(column.values[own], there, len(axis)))
            for key, column in self.columns.items()
        }
        lines = np.zeros(len(axis), dtype=np.int64)
        lines[there] = self.lines[own]
        hours = self.rain_hours
        if hours is not None:
            hours = on_rows(hours[own], there, len(axis))
        return replace(
            self, times=axis, lines=lines, columns=columns, rain_hours=hours, offset=None
        )


def on_rows(values: NDArray[np.float64], at: NDArray[np.int64], count: int) -> NDArray[np.float64]:
    """Values put on rows of a longer axis, NaN elsewhere."""
    made = np.full((count, *values.shape[1:]), np.nan)
    made[at] = values
    return made


def mistake(
    kind: type[InputError],
    source: str,
    lines: NDArray[np.int64],
    problem: str,
    *,
    column: str = "",
    expected: str = "",
    hint: str = "",
) -> InputError:
    """A mistake on the first of some lines; the others are named at the end of what is wrong."""
    first, *others = dict.fromkeys(lines.tolist())
    where = f"{source}, line {first}" + (f", column {column}" if column else "")
    if others:
        more = f" and {len(others) - 5} more" if len(others) > 5 else ""
        shown = ", ".join(map(str, others[:5]))
        problem += f" (also {'line' if len(others) == 1 else 'lines'} {shown}{more})"
    return kind(where, problem, expected=expected, hint=hint)


def days_text(count: int, one: str = "", many: str = "", *, of: str = "", at: str = "") -> str:
    """``1 day of garden.csv has`` or ``3 days at the end have``."""
    words = [f"{count:,}", "day" if count == 1 else "days", f"of {of}" if of else at]
    return " ".join(filter(None, [*words, one if count == 1 else many]))


def listed(words: Sequence[str], last: str = "and") -> str:
    """``humidity, wind and radiation``."""
    return f" {last} ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def runs(flag: NDArray[np.bool_], *, least: int = 1) -> Iterator[tuple[int, int]]:
    """First and one-past-last index of each stretch of at least so many days with the flag set."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flag.astype(np.int8), [0]))))
    begin, end = edges[::2], edges[1::2]
    long = end - begin >= least
    yield from zip(begin[long].tolist(), end[long].tolist(), strict=True)


def note_traces(record: Record, count: int) -> None:
    """Say how often rain was too little to measure."""
    if count:
        record.notes.append(f"Traces of rain, which count as none: {count}.")


def failed(record: Record, quantity: str, bad: NDArray[np.bool_], why: str) -> None:
    """Take values that a flag marks out of a record, with a note of how many."""
    column = record.columns.get(quantity)
    if column is None:
        return
    gone = bad & ~np.isnan(column.values)
    if gone.any():
        column.values[gone] = np.nan
        record.notes.append(
            f"{column.name} of {days_text(int(gone.sum()), of=record.source)} left out: {why}."
        )


def share_out(
    record: Record, amount: NDArray[np.float64], period: NDArray[np.float64], how: str
) -> list[InputError]:
    """Rain totals [mm] of several days, "spread" over these or on the "last"; totals are kept.

    `amount` ends on the day of its row, NaN where there is none, and covers `period` [d]; the rain
    column is changed in place. Days among them that have rain of their own keep it, and the rest of
    the total goes to the others.
    """
    broken = ~np.isnan(period) & (period != np.floor(period))
    if broken.any():
        problem, wanted = f"a rain total of {period[broken][0]:g} days", "a whole number of days"
        at = record.lines[broken][:1]
        return [mistake(FieldError, record.source, at, problem, expected=wanted)]
    totals = ~np.isnan(amount) & (period > 1)
    rows = np.flatnonzero(totals & (period <= _LONGEST_TOTAL)).tolist()
    long = totals & (period > _LONGEST_TOTAL)
    if not totals.any() or np.isnat(record.times).any():
        return []
    days = record.times.astype("datetime64[D]").astype(np.int64).tolist()
    before = {row: range(days[row] - int(period[row]) + 1, days[row]) for row in rows}
    absent = set(itertools.chain(*before.values())) - set(days)
    new = {day: record.lines[row] for row, span in before.items() for day in span if day in absent}
    at = {day: i for i, day in enumerate([*days, *new])}
    none, more = np.full(len(new), np.nan), np.asarray(list(new), dtype="datetime64[D]")
    record.times = np.concatenate([record.times, more.astype("datetime64[s]")])
    record.lines = np.concatenate([record.lines, np.asarray(list(new.values()), dtype=np.int64)])
    for column in record.columns.values():
        column.values = np.concatenate([column.values, none])
    rain = record.columns["rain"].values
    mixed: list[int] = []
    for row, span in before.items():
        others = np.asarray([at[day] for day in span])
        known = others[~np.isnan(rain[others])]
        mixed += [row] if len(known) else []
        empty = [*np.setdiff1d(others, known), row]
        rest = max(float(amount[row]) - rain[known].sum(), 0.0)
        rain[empty] = rest / len(empty) if how == "spread" else 0.0
        if how != "spread":
            rain[row] = rest
    if rows:
        where = "spread evenly over its days" if how == "spread" else "put on the last of its days"
        record.notes.append(
            f"Rain totals of several days in {record.source}: {len(rows)}, each {where}."
        )
    if mixed:
        record.notes.append(
            f"Of these cover days that have rain of their own: {len(mixed)}, the first on line "
            f"{record.lines[mixed[0]]} of {record.source}; only what is left of the total went to "
            "the others."
        )
    if not long.any():
        return []
    problem = f"the rain total of {int(period[long][0])} days is too long"
    wanted, lines = f"at most {_LONGEST_TOTAL} days", record.lines[: len(long)][long]
    return [mistake(FieldError, record.source, lines, problem, expected=wanted)]
