"""A table whose columns are known by name, and what all layouts do with its values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, choice
from bedtide.weather.names import KINDS, Unit, plain, unit_texts, units_of
from bedtide.weather.options import Options
from bedtide.weather.record import Record, days_text, mistake
from bedtide.weather.text import Table, Text, numbers, split_table

_LONGEST_TOTAL = 60  # of a rain total [d]
_SEEN = 60  # values by which a unit is struck off
# bounds of the 2nd and the 98th of 100 values that weather has in its right unit
_USUAL: dict[str, tuple[float, float, float, float]] = {
    "temperature": (-50.0, 30.0, 0.0, 50.0),
    "pressure": (0.0, 3.0, 0.2, 5.0),
    "humidity": (0.0, 99.0, 20.0, 100.0),
    "wind": (0.0, 6.0, 1.0, 20.0),
    "radiation": (0.0, 20.0, 3.0, 45.0),
    "sunshine": (0.0, 6.0, 3.0, 24.0),
    "rain": (0.0, 5.0, 1.0, 150.0),
}


@dataclass
class Sheet:
    """A table with its columns by name, letters and figures only; of columns of one name the first.

    A name may lack what stands in brackets or behind a ``*``: ``Max Temp*`` is ``Max Temp (degC)``.
    A number is the place of a column whose name changes: ``1`` is the first.
    """

    table: Table

    def __post_init__(self) -> None:
        self.by_name: dict[str, int] = {}
        for i, name in enumerate(self.table.header):
            for known in (name, name.split("(")[0], name.split("[")[0]):
                self.by_name.setdefault(plain(known) or known.strip(), i)

    @property
    def lines(self) -> NDArray[np.int64]:
        """Line of each row."""
        return self.table.lines

    def at(self, name: str) -> int | None:
        """Index of a column."""
        if name.endswith("*"):
            start = plain(name)
            return next((i for known, i in self.by_name.items() if known.startswith(start)), None)
        at = self.by_name.get(plain(name) or name.strip())
        return int(name) - 1 if at is None and name.isdecimal() else at

    def has(self, name: str) -> bool:
        """Whether there is such a column."""
        return self.at(name) is not None

    def column(self, name: str) -> list[str]:
        """Text of a column, outer spaces removed; blank where there is no such column."""
        at = self.at(name)
        if at is None:
            return [""] * len(self.lines)
        return [text.strip() for text in self.table.columns[at]]

    def numbers(self, at: int) -> NDArray[np.float64]:
        """The numbers in a column, whatever else is in it."""
        read, _, _ = numbers({"": self.table.columns[at]}, self.lines, source="")
        return read[""][~np.isnan(read[""])]

    def marked(self, name: str, *marks: str) -> NDArray[np.bool_]:
        """Rows in which a column holds one of these marks."""
        return np.asarray([text in marks for text in self.column(name)], dtype=bool)

    def keep(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows."""
        if len(rows) < len(self.lines):
            self.table.columns = [[column[i] for i in rows] for column in self.table.columns]
            self.table.lines = self.table.lines[rows]


def open_sheet(text: Text, header_line: int, delimiter: str, *, last: int | None = None) -> Sheet:
    """The table below a header line."""
    return Sheet(split_table(text, header_line, delimiter, last=last))


def one_station(sheet: Sheet, column: str, options: Options) -> str:
    """Keep the rows of one station; refuse to choose among several."""
    stations = sheet.column(column)
    if not stations:
        return ""
    wanted = pick_station(stations, options, where=f"{sheet.table.name}, column {column}")
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


def place_from_columns(record: Record, sheet: Sheet, columns: Mapping[str, str]) -> None:
    """Place from columns of a table, by what they say."""
    for name, column in columns.items():
        if name == "place":
            record.place = next(filter(None, sheet.column(column)), "") or record.place
        elif (value := _first_number(sheet.column(column))) is not None:
            setattr(record, name, value)


def _first_number(texts: Sequence[str]) -> float | None:
    for text in texts:
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            continue
        if np.isfinite(value) and abs(value) < 9000:
            return value
    return None


def note_traces(record: Record, count: int) -> None:
    """Say how often rain was too little to measure."""
    if count:
        record.notes.append(f"Rain marked as a trace counts as none: {count} times.")


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


def share_totals(record: Record, texts: Sequence[str], name: str, how: str) -> None:
    """Share out rain whose days a column counts; blank beside an amount is one day."""
    periods, wrong, _ = numbers({name: texts}, record.lines, source=record.source, decimal=".")
    record.errors += wrong
    if not record.errors:
        period = np.nan_to_num(periods[name], nan=1.0)
        amount = np.where(period > 1, record.columns["rain"].values, np.nan)
        record.errors += share_out(record, amount, period, how)


def share_out(
    record: Record, amount: NDArray[np.float64], period: NDArray[np.float64], how: str
) -> list[InputError]:
    """Rain totals [mm] of several days, "spread" over these or on the "last"; totals are kept.

    `amount` ends on the day of its row, NaN where there is none, and covers `period` [d]; the rain
    column is changed in place. Days among them that have rain of their own keep it, and the rest of
    the total goes to the others.
    """
    broken = np.flatnonzero(~np.isnan(period) & (period != np.floor(period)))
    if len(broken):
        problem = f"a rain total of {period[broken[0]]:g} days"
        first, wanted = record.lines[broken][:1], "a whole number of days"
        return [mistake(FieldError, record.source, first, problem, expected=wanted)]
    totals = ~np.isnan(amount) & (period > 1)
    rows = np.flatnonzero(totals & (period <= _LONGEST_TOTAL)).tolist()
    long = np.flatnonzero(totals & (period > _LONGEST_TOTAL))
    if not totals.any() or np.isnat(record.times).any():
        return []
    rain = record.columns["rain"]
    days = record.times.astype("datetime64[D]").astype(np.int64).tolist()
    at = {day: i for i, day in enumerate(days)}
    new: dict[int, tuple[float, int]] = {}  # rain and line of days that have no row
    mixed: list[int] = []
    for row in rows:
        last = days[row]
        covered = range(last - int(period[row]) + 1, last + 1)
        held = {day: rain.values[at[day]] for day in covered if day in at and day != last}
        known = {day: value for day, value in held.items() if not np.isnan(value)}
        mixed += [row] if known else []
        rest = max(float(amount[row]) - sum(known.values()), 0.0)
        empty = [day for day in covered if day not in known]
        for day in empty:
            part = rest / len(empty) if how == "spread" else rest * (day == last)
            if day in at:
                rain.values[at[day]] = part
            else:
                new[day] = (part, int(record.lines[row]))
    if new:
        _add_rows(record, new)
    if rows:
        where = "spread evenly over them" if how == "spread" else "put on the last of them"
        note = f"{len(rows)} rain totals of several days in {record.source} were {where}."
        record.notes.append(note)
    if mixed:
        record.notes.append(
            f"{len(mixed)} of them cover days that have rain of their own, the first on line "
            f"{record.lines[mixed[0]]} of {record.source}; only what is left of the total went to "
            "the others."
        )
    if not len(long):
        return []
    problem = f"the rain total of {int(period[long[0]])} days is too long"
    wanted, lines = f"at most {_LONGEST_TOTAL} days", record.lines[long]
    return [mistake(FieldError, record.source, lines, problem, expected=wanted)]


def _add_rows(record: Record, new: Mapping[int, tuple[float, int]]) -> None:
    times = np.asarray(list(new), dtype="datetime64[D]").astype("datetime64[s]")
    record.times = np.concatenate([record.times, times])
    record.lines = np.concatenate([record.lines, [line for _, line in new.values()]])
    for key, column in record.columns.items():
        more = [part if key == "rain" else np.nan for part, _ in new.values()]
        column.values = np.concatenate([column.values, more])


def no_unit(sheet: Sheet, i: int, key: str) -> InputError:
    """What units there are, those that the values contradict struck off."""
    name, values = sheet.table.header[i], sheet.numbers(i)
    possible = [unit.text for unit in units_of(key) if _fits(key, values, unit)]
    asked = possible or unit_texts(key)
    given = f"; its values run from {values.min():g} to {values.max():g}" if len(values) else ""
    return FieldError(
        f"{sheet.table.name}, column {name}",
        f"its unit is not given{given}",
        expected=f'one of {", ".join(asked)} in the header, such as "{name} (UNIT)"',
        hint=Pieces(
            "Or say  ",
            Option("columns", {name: "UNIT"}),
            f"  or put a line  # units: {name} = UNIT  above the header",
        ),
    )


def _fits(key: str, values: NDArray[np.float64], unit: Unit) -> bool:
    """Whether values could be weather in a unit."""
    if len(values) < _SEEN:
        return True
    low, low_most, high_least, high = _USUAL[KINDS[key]]
    few, most = np.percentile(values * unit.factor + unit.offset, (2, 98))
    return bool(low <= few <= low_most and high_least <= most <= high)
