"""What the readers of national layouts share."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, choice
from bedtide.weather.dates import parse_stamps
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record, days_text, named_lines
from bedtide.weather.text import Table, Text, numbers, split_table


@dataclass(frozen=True)
class Format:
    """One kind of text file: its name, whether a text is of it by content alone, its record."""

    name: str
    recognise: Callable[[Text, Options], bool]
    read: Callable[[Text, Options], Record]


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

    def marked(self, name: str, *marks: str) -> NDArray[np.bool_]:
        """Rows in which a column holds one of these marks."""
        return np.asarray([text in marks for text in self.column(name)], dtype=bool)

    def keep(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows."""
        self.table.columns = [[column[i] for i in rows] for column in self.table.columns]
        self.table.lines = self.table.lines[rows]


def find_header(text: Text, names: Iterable[str], delimiter: str, *, most: int = 120) -> int | None:
    """Index of the first line that holds all these names as fields, in any case."""
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
    """Keep the rows of one station; refuse to choose among several."""
    stations = sheet.column(column)
    if not stations:
        return ""
    wanted = pick_station(stations, options, where=f"{sheet.table.name}, column {column}")
    if len(set(stations)) > 1:
        sheet.keep(np.flatnonzero([name == wanted for name in stations]))
    return wanted


def pick_station(stations: Iterable[str], options: Options, *, where: str) -> str:
    """The station that is wanted, or the only one; refuse to choose among several."""
    names = sorted(set(stations))
    if options.station is not None:
        return choice(options.station, names, where=where)
    if len(names) > 1:
        raise FieldError(
            where,
            f"it holds {len(names)} stations: {', '.join(names[:8])}"
            + (" ..." if len(names) > 8 else ""),
            expected="one station",
            hint=Pieces("Say which one:  ", Option("station", names[0])),
        )
    return names[0]


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

    `missing` is what stands for "not measured" in this layout beside the person's own words;
    `traces` the columns in which ``T`` is a trace. Rows may be out of order or double.
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
        notes=list(sheet.table.notes),
        errors=[*sheet.table.errors, *errors],
    )
    note_traces(record, count)
    return record


def dated_record(
    sheet: Sheet, kind: str, date: str, fields: Sequence[Field], options: Options, **more: Any
) -> Record:
    """A record of days, which one column dates; `more` is for `make_record`."""
    stamps = parse_stamps(sheet.column(date), sheet.lines, source=sheet.table.name, name=date)
    days = stamps.times.astype("datetime64[D]").astype("datetime64[s]")
    record = make_record(sheet, kind, days, fields, options=options, **more)
    record.errors += stamps.errors
    return record


def note_traces(record: Record, count: int) -> None:
    """Say how often rain was too little to measure."""
    if count:
        record.notes.append(f"Rain marked as a trace counts as none: {count} times.")


def place_from_columns(record: Record, sheet: Sheet) -> None:
    """Place from the columns that services name so."""
    for name, columns in (
        ("latitude", ("LATITUDE", "LAT", "Latitude (y)")),
        ("longitude", ("LONGITUDE", "LON", "Longitude (x)")),
        ("elevation", ("ELEVATION", "ALTI")),
    ):
        setattr(record, name, first_number(sheet, columns))


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


_LONGEST_TOTAL = 60  # of a rain total [d]


def share_out(
    record: Record, amount: NDArray[np.float64], period: NDArray[np.float64], how: str
) -> list[InputError]:
    """Rain totals [mm] of several days, "spread" over these or on the "last"; totals are kept.

    `amount` ends on the day of its row, NaN where there is none, and covers `period` [d]; the rain
    column, changed in place, is blank on those days.
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


def share_totals(record: Record, sheet: Sheet, column: str, options: Options) -> None:
    """Share out rain whose days a column counts; blank beside an amount is one day."""
    periods, wrong, _ = numbers(
        {column or "period": sheet.column(column)}, sheet.lines, source=record.source, decimal="."
    )
    record.errors += wrong
    if not record.errors:
        period = np.nan_to_num(next(iter(periods.values())), nan=1.0)
        amount = np.where(period > 1, record.columns["rain"].values, np.nan)
        record.errors += share_out(record, amount, period, options.multi_day)


def _add_rows(record: Record, days: list[int], rain: list[float], lines: list[int]) -> None:
    count = len(days)
    times = np.asarray(days, dtype="datetime64[D]").astype("datetime64[s]")
    record.times = np.concatenate([record.times, times])
    record.lines = np.concatenate([record.lines, np.asarray(lines, dtype=np.int64)])
    for key, column in record.columns.items():
        more = np.asarray(rain) if key == "rain" else np.full(count, np.nan)
        column.values = np.concatenate([column.values, more])
