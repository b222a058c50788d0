"""What the readers of the national formats share."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedtide.checks import choice
from bedtide.errors import FieldError, InputError
from bedtide.weather.record import Column, Options, Record, days_text, named_lines
from bedtide.weather.text import Table, Text, numbers, split_table

__all__ = [
    "Field",
    "Sheet",
    "failed",
    "find_header",
    "first_number",
    "make_record",
    "one_station",
    "open_sheet",
    "share_out",
]

_LONGEST_TOTAL = 60


@dataclass(frozen=True)
class Field:
    """One column of a format: its name there, what it is, and how it becomes ours."""

    name: str
    quantity: str
    unit: str
    factor: float = 1.0
    offset: float = 0.0


@dataclass
class Sheet:
    """A table with its columns by name, lower case; of columns of one name the first."""

    table: Table
    by_name: dict[str, int]

    @property
    def lines(self) -> NDArray[np.int64]:
        """Line of each row."""
        return self.table.lines

    def has(self, name: str) -> bool:
        """Whether there is such a column."""
        return name.lower() in self.by_name

    def column(self, name: str) -> list[str]:
        """Text of a column, outer spaces removed; blank where there is no such column."""
        at = self.by_name.get(name.lower())
        if at is None:
            return [""] * len(self.lines)
        return [text.strip() for text in self.table.columns[at]]

    def keep(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows."""
        self.table.columns = [[column[i] for i in rows] for column in self.table.columns]
        self.table.lines = self.table.lines[rows]


def find_header(text: Text, names: Iterable[str], delimiter: str, *, most: int = 120) -> int | None:
    """Index of the first line that holds all these names as fields, in any case.

    Parameters
    ----------
    text : Text
        The file.
    names : iterable of str
        Names wanted.
    delimiter : str
        What stands between the fields.
    most : int, default 120
        Lines to look at [1].

    Returns
    -------
    int or None
        Counted from 0; None where there is no such line.
    """
    wanted = {name.lower() for name in names}
    for i, line in enumerate(text.lines[:most]):
        if delimiter in line and len(line) < 20_000 and wanted <= _cells(line, delimiter):
            return i
    return None


def _cells(line: str, delimiter: str) -> set[str]:
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return set()
    return {cell.strip().lower() for cell in cells}


def open_sheet(text: Text, header_line: int, delimiter: str, *, last: int | None = None) -> Sheet:
    """The table below a header line, its columns by lower-case name."""
    table = split_table(text, header_line, delimiter, last=last)
    by_name: dict[str, int] = {}
    for i, name in enumerate(table.header):
        by_name.setdefault(name.lower(), i)
    return Sheet(table, by_name)


def one_station(sheet: Sheet, column: str, options: Options) -> str:
    """Keep the rows of one station; refuse to choose among several.

    Parameters
    ----------
    sheet : Sheet
        Changed in place.
    column : str
        Name of the column that holds the station.
    options : Options
        With the station that is wanted.

    Returns
    -------
    str
        The station.

    Raises
    ------
    FieldError
        If there are several and none is chosen.
    ChoiceError
        If the one that is chosen is not there.
    """
    stations = sheet.column(column)
    names = sorted(set(stations))
    where = f"{sheet.table.name}, column {column}"
    if len(names) > 1 or (options.station is not None and names):
        if options.station is None:
            some = ", ".join(names[:8]) + (" ..." if len(names) > 8 else "")
            raise FieldError(
                where,
                f"it holds {len(names)} stations: {some}",
                expected="one station",
                hint=f'Say which one:  station = "{names[0]}"',
            )
        wanted = choice(options.station, names, where=where)
        sheet.keep(np.flatnonzero([name == wanted for name in stations]))
        return wanted
    return names[0] if names else ""


def make_record(
    sheet: Sheet,
    kind: str,
    times: NDArray[np.datetime64],
    fields: Sequence[Field],
    *,
    missing: Sequence[str] = (),
    options: Options,
    traces: Sequence[str] = (),
) -> Record:
    """A record from the columns of a sheet that exist, numbers read and units made ours.

    Parameters
    ----------
    sheet : Sheet
        The table.
    kind : str
        Name of the format.
    times : ndarray of datetime64[s]
        One for each row.
    fields : sequence of Field
        Columns to read where they exist.
    missing : sequence of str
        What stands for "not measured" in this format.
    options : Options
        The person's own words for "not measured" are added.
    traces : sequence of str
        Columns in which ``T`` is a trace.

    Returns
    -------
    Record
        Forgiving: rows may be out of order or double.
    """
    present = [field for field in fields if sheet.has(field.name)]
    texts = {field.name: sheet.column(field.name) for field in present}
    values, errors, count = numbers(
        texts,
        sheet.lines,
        source=sheet.table.name,
        decimal=options.decimal,
        missing=[*missing, *options.missing],
        traces=traces,
    )
    columns = {}
    for field in present:
        if field.quantity in columns:
            continue
        ours = values[field.name] * field.factor + field.offset
        columns[field.quantity] = Column(
            field.quantity, field.name, field.unit, ours, field.factor, field.offset
        )
    record = Record(
        sheet.table.name,
        kind,
        times,
        sheet.lines,
        columns,
        wind_height=10.0,
        forgiving=True,
        notes=list(sheet.table.notes),
        errors=[*sheet.table.errors, *errors],
    )
    if count:
        record.notes.append(f"Rain marked as a trace counts as none: {count} times.")
    return record


def failed(record: Record, quantity: str, bad: NDArray[np.bool_], why: str) -> None:
    """Take values that a flag marks out of a record, with a note of how many.

    Parameters
    ----------
    record : Record
        Changed in place.
    quantity : str
        Which column; nothing is done where it is not there.
    bad : ndarray of bool
        Rows that are marked.
    why : str
        Completes "... were left out: ".
    """
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


def first_number(sheet: Sheet, names: Sequence[str]) -> float | None:
    """The first number in the first of these columns that has one."""
    for name in names:
        for text in sheet.column(name):
            try:
                value = float(text)
            except ValueError:
                continue
            if np.isfinite(value) and abs(value) < 9000:
                return value
    return None
