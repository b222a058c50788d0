"""What the readers of the national formats share."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedtide.checks import choice
from bedtide.errors import FieldError
from bedtide.weather.numbers import numbers
from bedtide.weather.record import Column, Options, Record, days_text
from bedtide.weather.text import Table, Text, split_table

__all__ = [
    "Field",
    "Sheet",
    "failed",
    "find_header",
    "first_number",
    "make_record",
    "one_station",
    "open_sheet",
]


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
