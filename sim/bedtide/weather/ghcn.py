"""What is particular to the global daily set of the US climate data centre.

It comes in five forms, each with an entry in `data/layouts.toml`: the station file and the ordered
daily summaries have one row a day; the lists by year and by station one row an element; the
fixed-width ``.dly`` file and its copies one row a month. All are made to rows of a day. Only the
ordered file may hold other units than tenths, and does not say which.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import FieldError, Option, Pieces, raise_all
from bedtide.weather.columns import heading_of
from bedtide.weather.dates import parse_stamps
from bedtide.weather.layouts import Layout, layouts
from bedtide.weather.options import OPTIONS, Options, RainDay
from bedtide.weather.record import (
    Column,
    Record,
    days_text,
    failed,
    mistake,
    note_traces,
    share_out,
)
from bedtide.weather.text import Table, numbers

_ELEMENTS = (
    "TMAX", "TMIN", "PRCP", "AWND", "TSUN", "ADPT", "RHAV", "RHMX", "RHMN", "MDPR", "DAPR",
)  # fmt: skip
_UNITS = OPTIONS["units_of_file"].choices
_LIST = ("ID", "DATE", "ELEMENT", "DATA_VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_KINDS = ("measurement flag", "quality flag", "source flag", "time of observation")
_FIXED_ROW = re.compile(r"[A-Z]{2}[A-Z0-9_]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]{5}.{240,}")


# --- to rows of a day -------------------------------------------------------------------------


def whole_lines(table: Table) -> Table:
    """Rows of a month of the elements that are used, broken lines told.

    In a line of fixed width DAYS holds the element, then 31 times five figures and three marks.
    """
    elements, days = table.column("ELEMENT"), table.column("DAYS")
    if table.has("DAYS"):
        parts = zip(*map(table.column, ("ID", "YEAR", "MONTH", "DAYS")), strict=True)
        whole = np.asarray([bool(_FIXED_ROW.match("".join(part))) for part in parts], dtype=bool)
        if not whole.all():
            problem = "it is not a whole line of a .dly file"
            wanted = "269 characters: station, year, month, element and 31 days"
            hint, at = "The file may have been cut short", table.lines[~whole]
            table.errors.append(
                mistake(FieldError, table.name, at, problem, expected=wanted, hint=hint)
            )
        elements = [text[:4] if good else "" for text, good in zip(days, whole, strict=True)]
        header, columns = [*table.header, "ELEMENT"], [*table.columns, elements]
        table = replace(table, header=header, columns=columns)
    table.keep(np.flatnonzero(np.isin(elements, _ELEMENTS)))
    return table


def _by_element(table: Table) -> Table:
    """Rows of a month and element made to rows of a day and element."""
    months = [table.lines, *map(table.column, ("ID", "YEAR", "MONTH", "ELEMENT"))]
    rows = [
        (line, station, f"{year}-{month.zfill(2)}-{day:02}", element, *map(str.strip, cell), "", "")
        for day in range(1, 32)
        for (line, station, year, month, element), cell in zip(
            zip(*months, strict=True), _cells(table, day), strict=True
        )
        if cell[0].strip() not in ("-9999", "NA", "")
    ]
    lines, *columns = map(list, zip(*rows, strict=True) if rows else [()] * 9)
    return replace(
        table, header=list(_LIST), columns=[*columns], lines=np.asarray(lines, dtype=np.int64)
    )


def _cells(table: Table, day: int) -> Iterable[tuple[str, ...]]:
    """Value and two marks of a day of each month."""
    if table.has("DAYS"):
        at = 8 * day - 4
        days = table.column("DAYS")
        return ((text[at : at + 5], text[at + 5 : at + 6], text[at + 6 : at + 7]) for text in days)
    return zip(*(table.column(f"{name}{day}") for name in ("VALUE", "MFLAG", "QFLAG")), strict=True)


def _by_day(table: Table) -> Table:
    """Rows of an element made to the shape that is ordered today: one row a day."""
    stamps = parse_stamps(table.column("DATE"), table.lines, source=table.name, name="DATE")
    errors = [*table.errors, *stamps.errors]
    cells = {name: table.column(name) for name in _LIST}
    frame = pd.DataFrame({"time": stamps.times, "line": table.lines, **cells})
    frame = frame[frame["ELEMENT"].isin(_ELEMENTS) & frame["time"].notna()]
    if not len(frame):
        nothing, wanted = "it holds no rain or temperature", "PRCP, TMAX, TMIN"
        raise_all([*errors, FieldError(table.name, nothing, expected=wanted)])
    value, day = frame["DATA_VALUE"], ["time", "ELEMENT"]
    wrong = frame[pd.to_numeric(value, errors="coerce").isna() & (value != "")]
    doubled = frame[frame.duplicated(day) & ~frame.duplicated([*day, "DATA_VALUE"])]
    for bad, problem, wanted in (
        (wrong, '"{DATA_VALUE}" is not a number', "a whole number of tenths"),
        (doubled, "{ELEMENT} of that day is there twice with other values",
         "one value for each day and element"),
    ):  # fmt: skip
        if len(bad):
            problem, at = problem.format(**bad.iloc[0]), bad["line"].to_numpy()
            errors.append(mistake(FieldError, table.name, at, problem, expected=wanted))
    frame = frame.drop(index=wrong.index).drop_duplicates(day)
    marks = frame["M_FLAG"] + "," + frame["Q_FLAG"] + ",," + frame["OBS_TIME"]
    lines = frame.groupby("time")["line"].min().to_numpy(dtype=np.int64)
    whole = frame.assign(marks=marks).set_index(day)[["DATA_VALUE", "marks"]]
    wide = whole.unstack("ELEMENT").fillna("")  # noqa: PD010
    found: dict[str, Sequence[str]] = {
        "STATION": [table.column("ID")[0]] * len(wide), "DATE": wide.index.astype(str).tolist()
    }  # fmt: skip
    for name in dict.fromkeys(wide.columns.get_level_values("ELEMENT")):
        found[name] = wide["DATA_VALUE", name].tolist()
        found[f"{name}_ATTRIBUTES"] = wide["marks", name].tolist()
    return replace(
        table, header=list(found), columns=list(found.values()), lines=lines, errors=errors
    )


# --- units ------------------------------------------------------------------------------------


def in_days(table: Table, layout: Layout, options: Options) -> tuple[Table, Layout]:
    """Rows of a day, and the layout of these in the units in which the file was ordered."""
    units = "tenths"
    if layout.shape == "days":
        units = options.units_of_file or _units_of(table)
    else:
        table = _by_day(_by_element(table) if layout.shape == "months" else table)
        layout = next(each for each in layouts() if each.shape == "days")
    columns = layout.columns
    if units != "tenths":
        table.notes.append(f"The units of {table.name} were found to be {units}.")
        columns = {
            name: heading_of(f"{each.key}, {each.unit.text.removeprefix('0.1 ')}")
            for name, each in columns.items()
            if each.unit
        }
    if units == "standard":
        columns = columns | layout.standard
    return table, layout.model_copy(update={"columns": columns, "standard": {}})


def _units_of(table: Table) -> str:
    """Tenths, metric or standard, from how the numbers are written; refused where uncertain."""
    possible = set(_UNITS)
    reasons = []
    for name, judge in (("PRCP", _by_rain), ("TMAX", _by_heat), ("TMIN", _by_heat)):
        texts = [t for t in table.column(name) if t and t not in ("-9999", "9999", "-9999.0")]
        found = judge([text.replace(",", ".") for text in texts])
        if len(found) < 3:
            reasons.append(f"{name} suggests {' or '.join(sorted(found)) or 'none of them'}")
        possible &= found
    if len(possible) == 1:
        return possible.pop()
    raise FieldError(
        table.name,
        "the file does not say its units, and its numbers do not settle them"
        + (f" ({'; '.join(reasons)})" if reasons else ""),
        expected="tenths (0.1 mm, 0.1 C), metric (mm, C, m/s) or standard (in, F, mph)",
        hint=Pieces(
            "Say what was chosen when the file was ordered, such as  ",
            Option("units_of_file", "standard"),
        ),
    )


def _by_rain(texts: list[str]) -> set[str]:
    """No decimal point: tenths of mm; two decimals: inches; one: mm. All zero says nothing."""
    if not any(character in "123456789" for text in texts for character in text):
        return set(_UNITS)
    decimals = Counter(len(t.partition(".")[2]) for t in texts)
    if set(decimals) == {0}:
        return {"tenths"}
    return {"standard"} if max(decimals) >= 2 else {"metric"}


def _by_heat(texts: list[str]) -> set[str]:
    """Tenths run to hundreds; degrees F are whole and of tens; degrees C have one decimal."""
    try:
        values = np.asarray([float(t) for t in texts])
    except ValueError:
        return set(_UNITS)
    if not len(values):
        return set(_UNITS)
    if any("." in t for t in texts):
        return {"metric"} if np.abs(values).max() <= 60 else {"standard"}
    return {"tenths"} if values.max() > 135 or values.min() < -80 else {"tenths", "standard"}


# --- marks, totals, place ---------------------------------------------------------------------


def finish(record: Record, table: Table, layout: Layout, options: Options) -> None:
    """Leave out what failed a check, share out totals; place, and by what rule its gauge is read.

    Traces and presumed zeros are counted.
    """
    for key, column in list(record.columns.items()):
        doubted = _doubted(table, column.name)
        failed(record, key, doubted, "the service's own checks doubt it")
    if "rain" in record.columns:
        zero, kind = record.columns["rain"].values == 0, _marks(table, "PRCP", 0)
        traces, presumed = (int((zero & (kind == mark)).sum()) for mark in "TP")
        note_traces(record, traces)
        if presumed:
            record.notes.append(
                f"Rain of {days_text(presumed, of=record.source)} is missing and was presumed to "
                "be none by the service."
            )
    _multi_day(record, table, layout, options)
    station = next(iter(table.column("STATION")), "")
    names = (*table.column("NAME")[:1], *table.column("STATION_NAME")[:1], station)
    record.place = next(filter(None, names), "")
    record.rain_day = _rain_day_of(station, _marks(table, "PRCP", 3), record)


def _multi_day(record: Record, table: Table, layout: Layout, options: Options) -> None:
    """Share out the totals of MDPR over the days that DAPR counts."""
    if not (table.has("MDPR") and table.has("DAPR")):
        return
    texts = {name: table.column(name) for name in ("MDPR", "DAPR")}
    missing = dict.fromkeys(texts, (*layout.missing, *options.missing))
    read, errors, _ = numbers(texts, table.lines, source=record.source, missing=missing)
    unit = layout.columns["PRCP"].unit
    amount = read["MDPR"] * (unit.factor if unit else 1.0)
    amount[_doubted(table, "MDPR")] = np.nan
    none = np.full(len(amount), np.nan)
    record.columns.setdefault("rain", Column("MDPR", "mm", none))
    record.errors += [*errors, *share_out(record, amount, read["DAPR"], options.multi_day)]


def _rain_day_of(station: str, observed: NDArray[np.str_], record: Record) -> RainDay:
    """By the hour at which the gauge was read; else by the kind of station."""
    hours = Counter(text.zfill(4) for text in observed.tolist() if text.isdigit())
    if hours:
        hour, _ = hours.most_common(1)[0]
        total = sum(hours.values())
        morning = sum(count for h, count in hours.items() if "0001" <= h <= "1200")
        if morning not in (0, total):
            record.notes.append(
                f"The rain gauge of {record.source} was not read at one time of day throughout; "
                f"most often at {hour}."
            )
        return "to morning" if "0001" <= hour <= "1200" else "midnight"
    return "to morning" if station.startswith(("USC", "US1", "ASN")) else "midnight"


def _marks(table: Table, name: str, which: int) -> NDArray[np.str_]:
    """Marks of an element, row by row, one of the four kinds."""
    if table.has(f"{name}_ATTRIBUTES"):
        texts = table.column(f"{name}_ATTRIBUTES")
        return np.array([f"{text},,,".split(",")[which].strip() for text in texts], dtype=str)
    # orders of before about 2017: flag columns of the same name stand after each element
    at = len(table.header) if (found := table.at(name)) is None else found + 1
    for label, column in zip(table.header[at : at + 4], table.columns[at : at + 4], strict=True):
        if label.lower() == _KINDS[which]:
            return np.array([text.strip() for text in column], dtype=str)
        if label.lower() not in _KINDS:
            break
    return np.full(len(table.lines), "", dtype=str)


def _doubted(table: Table, name: str) -> NDArray[np.bool_]:
    """Where a check of the service failed."""
    return ~np.isin(_marks(table, name, 1), ("", "9999"))
