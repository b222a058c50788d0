"""The global daily set of the US climate data centre, in its five shapes.

Station file and ordered daily summaries (one row a day), by-year and by-station lists (one row an
element), and the fixed-width ``.dly`` file. Only the ordered file may hold other units than tenths,
and does not say which.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, raise_all
from bedtide.weather.dates import from_parts, parse_stamps
from bedtide.weather.layouts import Layout, heading_of
from bedtide.weather.options import OPTIONS, Options, RainDay
from bedtide.weather.preamble import Said
from bedtide.weather.record import (
    Column,
    Record,
    days_text,
    failed,
    mistake,
    note_traces,
    share_out,
)
from bedtide.weather.tables import (
    make_record,
    one_station,
    pick_station,
    place_from_columns,
    wanted_rows,
)
from bedtide.weather.text import Table, Text, numbers, split_table

_TENTHS = {
    "TMAX": "tmax, 0.1 degC", "TMIN": "tmin, 0.1 degC", "PRCP": "rain, 0.1 mm",
    "AWND": "wind_speed, 0.1 m/s", "TSUN": "sunshine, min", "ADPT": "dew_point, 0.1 degC",
    "RHAV": "rh_mean, %", "RHMX": "rh_max, %", "RHMN": "rh_min, %",
}  # fmt: skip
_METRIC = {name: meaning.replace("0.1 ", "") for name, meaning in _TENTHS.items()}
_STANDARD = _METRIC | {
    "TMAX": "tmax, F", "TMIN": "tmin, F", "ADPT": "dew_point, F", "PRCP": "rain, in",
    "AWND": "wind_speed, mph",
}  # fmt: skip
_ELEMENTS_IN = {"tenths": _TENTHS, "metric": _METRIC, "standard": _STANDARD}
_UNITS = OPTIONS["units_of_file"].choices
_ELEMENTS = (*_TENTHS, "MDPR", "DAPR")
_MISSING = ("-9999", "9999")
_AS = Layout(
    name="global daily set (US climate data centre)",
    missing=_MISSING,
    daily=True,
    wind_height=10.0,
)
_PLACE = {"latitude": "LATITUDE", "longitude": "LONGITUDE", "elevation": "ELEVATION"}
_BY_MONTH = ("ID", "YEAR", "MONTH", "ELEMENT", "VALUE1")
_LONG = ("ID", "DATE", "ELEMENT", "DATA_VALUE")
_LIST_NAMES = ("ID", "DATE", "ELEMENT", "DATA_VALUE", "M_FLAG", "Q_FLAG", "S_FLAG", "OBS_TIME")
_CELLS = {
    "element": "ELEMENT",
    "value": "DATA_VALUE",
    "m": "M_FLAG",
    "q": "Q_FLAG",
    "at": "OBS_TIME",
}
_LIST_ROW = re.compile(r"[A-Z]{2}[A-Z0-9]{9},\d{8},[A-Z0-9]{4},-?\d+,")
_FIXED_ROW = re.compile(r"[A-Z]{2}[A-Z0-9_]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]{5}")


def _apply_flags(record: Record, flags: Mapping[str, Flags]) -> None:
    """Leave out what failed a check; count traces and presumed zeros."""
    for name, meaning in _TENTHS.items():
        key = heading_of(meaning).key
        if key in record.columns:
            failed(record, key, flags[name].doubted, "the service's own checks doubt it")
    if "rain" not in record.columns:
        return
    zero = record.columns["rain"].values == 0
    traces, presumed = (
        int((zero & np.asarray([m == mark for m in flags["PRCP"].measured], dtype=bool)).sum())
        for mark in ("T", "P")
    )
    note_traces(record, traces)
    if presumed:
        record.notes.append(
            f"Rain of {days_text(presumed, of=record.source)} is missing and was presumed to be "
            "none by the service."
        )


def _rain_day_of(station: str, observed: list[str], record: Record) -> RainDay:
    """By the hour at which the gauge was read; else by the kind of station."""
    hours = Counter(text.zfill(4) for text in observed if text.isdigit())
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
    volunteer = station.startswith(("USC", "US1", "ASN", "CA00"))
    return "to morning" if volunteer and not station.startswith("CA") else "midnight"


def _units_of(table: Table, options: Options) -> str:
    """Tenths, metric or standard, from how the numbers are written; refused where uncertain."""
    if options.units_of_file is not None:
        return options.units_of_file
    possible = set(_UNITS)
    reasons = []
    for name, judge in (("PRCP", _by_rain), ("TMAX", _by_heat), ("TMIN", _by_heat)):
        texts = [t for t in table.column(name) if t and t not in ("-9999", "9999", "-9999.0")]
        texts = [t.replace(",", ".") for t in texts]
        found = judge(texts)
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


def _lists(text: Text, options: Options) -> Table:
    """One row a day and element, with a header (by station) or without one (by year)."""
    header = _header(text, _LONG)
    names = () if header is not None else _LIST_NAMES
    table = split_table(text, header or 0, ",", names=names)
    station = one_station(table, "ID", options)
    stamps = parse_stamps(table.column("DATE"), table.lines, source=text.name, name="DATE")
    cells = {each: table.column(name) for each, name in _CELLS.items()}
    frame = pd.DataFrame({"time": stamps.times, "line": table.lines, **cells})
    return _wide(text, frame, station, [*table.errors, *stamps.errors])


def _fixed(text: Text, options: Options) -> Table:
    """The fixed-width file: one row a month and element, 31 values with three marks each."""
    number = np.arange(1, len(text.lines) + 1)
    whole = [len(line.rstrip()) >= 266 and bool(_FIXED_ROW.match(line)) for line in text.lines]
    short = [
        i for i, line in zip(number, text.lines, strict=True) if line.strip() and not whole[i - 1]
    ]
    errors: list[InputError] = []
    if short:
        problem = "it is not a whole line of a .dly file"
        wanted = "269 characters: station, year, month, element and 31 days"
        hint, at = "The file may have been cut short", np.asarray(short)
        errors.append(mistake(FieldError, text.name, at, problem, expected=wanted, hint=hint))
    rows = [
        (i, line.ljust(269))
        for i, line, good in zip(number, text.lines, whole, strict=True)
        if good and line[17:21] in _ELEMENTS
    ]
    if not rows:
        raise FieldError(text.name, "it holds no rain or temperature", expected="PRCP, TMAX, TMIN")
    station = pick_station((line[:11] for _, line in rows), options, where=text.name)
    months = [
        (i, line[11:15], line[15:17], line[17:21], *(line[a : a + 8] for a in range(21, 269, 8)))
        for i, line in rows
        if line[:11] == station
    ]
    return _wide(text, _days(text, pd.DataFrame(months), errors), station, errors)


def _months(text: Text, options: Options) -> Table:
    """The fixed-width file made to a table, as others keep it."""
    table = split_table(text, _header(text, _BY_MONTH) or 0, ",")
    table.keep(np.flatnonzero(~table.marked("id", "NA", "")))
    station = one_station(table, "id", options)
    months = pd.DataFrame([table.lines, *map(table.column, ("year", "month", "element"))]).T
    for day in range(1, 32):
        cells = (table.column(f"{name}{day}") for name in ("VALUE", "MFLAG", "QFLAG"))
        months[day + 3] = [
            f"{'-9999' if value in ('NA', '') else value:>5s}{m or ' '}{q or ' '} "
            for value, m, q in zip(*cells, strict=True)
        ]
    errors = list(table.errors)
    return _wide(text, _days(text, months[months[3].isin(_ELEMENTS)], errors), station, errors)


def _days(text: Text, months: pd.DataFrame, errors: list[InputError]) -> pd.DataFrame:
    """Rows of one day and element from rows of a month: line, year, month, element, 31 cells.

    A cell holds a value of five figures and its three marks.
    """
    rows = months.melt([0, 1, 2, 3], var_name="day", value_name="cell")
    rows["value"] = rows["cell"].str[:5].str.strip()
    rows = rows[~rows["value"].isin(("-9999", ""))]
    for at, name, wanted in ((1, "year", "such as 2021"), (2, "month", "1 to 12")):
        odd = rows[~rows[at].str.fullmatch(r"\s*\d+\s*")]
        if len(odd):
            problem, lines = f'"{odd[at].iloc[0]}" is not a {name}', odd[0].unique().astype(int)
            raise_all([*errors, mistake(FieldError, text.name, lines, problem, expected=wanted)])
    line, year, month = (rows[at].to_numpy(dtype=np.int64) for at in (0, 1, 2))
    day = rows["day"].to_numpy(dtype=np.int64) - 3
    times, exists = from_parts(year, month, day)
    for at, number in zip(line[~exists], day[~exists], strict=True):
        problem = f"day {number} of a shorter month has a value"
        errors.append(FieldError(f"{text.name}, line {at}", problem, expected="-9999"))
    marks = rows["cell"].str
    found = pd.DataFrame({"time": times, "line": line, "element": rows[3].to_numpy()}, rows.index)
    found = found.assign(value=rows["value"], m=marks[5], q=marks[6], at="")
    return found[exists]


def _wide(text: Text, frame: pd.DataFrame, station: str, errors: list[InputError]) -> Table:
    """Rows of one day and element made to the shape that is ordered today: one row a day."""
    frame = frame[frame["element"].isin(_ELEMENTS) & frame["time"].notna()]
    if not len(frame):
        raise_all([*errors, FieldError(text.name, "it holds no rain or temperature")])
    text_of = frame["value"].str.strip()
    wrong = frame[pd.to_numeric(text_of, errors="coerce").isna() & (text_of != "")]
    doubled = frame[
        frame.duplicated(["time", "element"]) & ~frame.duplicated(["time", "element", "value"])
    ]
    for bad, problem, wanted in (
        (wrong, '"{value}" is not a number', "a whole number of tenths"),
        (doubled, "{element} of that day is there twice with other values",
         "one value for each day and element"),
    ):  # fmt: skip
        if len(bad):
            problem, where = problem.format(**bad.iloc[0]), bad["line"].to_numpy()
            errors.append(mistake(FieldError, text.name, where, problem, expected=wanted))
    frame = frame.drop(index=wrong.index).drop_duplicates(["time", "element"])
    marks = frame["m"] + "," + frame["q"] + ",," + frame["at"].str.strip()
    first = frame.groupby("time")["line"].min().to_numpy(dtype=np.int64)
    frame = frame.assign(marks=marks).set_index(["time", "element"])[["value", "marks"]]
    table = frame.unstack("element").fillna("")  # noqa: PD010
    elements = list(dict.fromkeys(table.columns.get_level_values("element")))
    header = ["STATION", "DATE"]
    columns: list[Sequence[str]] = [[station] * len(table), table.index.astype(str).tolist()]
    for name in elements:
        header += [name, f"{name}_ATTRIBUTES"]
        columns += [table["value", name].tolist(), table["marks", name].tolist()]
    return Table(text.name, header, columns, first, ",", errors, list(text.notes))


def _header(text: Text, names: tuple[str, ...]) -> int | None:
    """The first of three lines that holds all these names."""
    for i, line in enumerate(text.lines[:3]):
        if set(names) <= {cell.strip(' "').upper() for cell in line.split(",")}:
            return i
    return None


def _wide_header(text: Text) -> int | None:
    at = _header(text, ("STATION", "DATE"))
    if at is None:
        return None
    cells = {cell.strip(' "').upper() for cell in text.lines[at].split(",")}
    known = cells & {"PRCP", "TMAX", "TMIN", "MDPR", "SNOW", "AWND", "TOBS"}
    summary_of_day = {"DEWP", "MAX", "MIN"} <= cells or "REPORT_TYPE" in cells
    return at if known and not summary_of_day else None


def _all_match(pattern: re.Pattern[str], text: Text) -> bool:
    first = [line for line in text.lines[:5] if line.strip()]
    return bool(first) and all(pattern.match(line) for line in first)


class Flags(NamedTuple):
    """Marks of an element, row by row."""

    measured: list[str]
    quality: list[str]
    time: list[str]  # of observation

    @property
    def doubted(self) -> NDArray[np.bool_]:
        """Where a check failed."""
        return np.asarray([flag not in ("", "9999") for flag in self.quality], dtype=bool)


def _flags(table: Table, name: str) -> Flags:
    if table.has(f"{name}_ATTRIBUTES"):
        parts = [f"{text},,,".split(",") for text in table.column(f"{name}_ATTRIBUTES")]
        return Flags(*([part[i].strip() for part in parts] for i in (0, 1, 3)))
    # orders of before about 2017: flag columns of the same name stand after each element
    blank = [""] * len(table.lines)
    found = {"measurement flag": blank, "quality flag": blank, "time of observation": blank}
    start = table.at(name)
    if start is not None:
        for i in range(start + 1, min(start + 5, len(table.header))):
            label = table.header[i].lower()
            if label in found:
                found[label] = [text.strip() for text in table.columns[i]]
            elif label != "source flag":
                break
    return Flags(*found.values())


def _multi_day(record: Record, table: Table, factor: float, flags: Flags, options: Options) -> None:
    """Share out the totals of MDPR over the days that DAPR counts."""
    if not (table.has("MDPR") and table.has("DAPR")):
        return
    read, errors, _ = numbers(
        {name: table.column(name) for name in ("MDPR", "DAPR")},
        table.lines,
        source=record.source,
        missing=[*_MISSING, *options.missing],
    )
    amount = np.where(flags.doubted, np.nan, read["MDPR"] * factor)
    none = np.full(len(amount), np.nan)
    record.columns.setdefault("rain", Column("rain", "MDPR", "mm", none))
    record.errors += [*errors, *share_out(record, amount, read["DAPR"], options.multi_day)]


def recognise(text: Text) -> bool:
    """Whether the file is one of the five shapes."""
    return (
        _wide_header(text) is not None
        or _header(text, _LONG) is not None
        or _header(text, _BY_MONTH) is not None
        or _all_match(_LIST_ROW, text)
        or _all_match(_FIXED_ROW, text)
    )


def read(text: Text, options: Options) -> Record:
    """Read whichever of the five shapes it is, the others made to the one of one row a day."""
    if (header := _wide_header(text)) is not None:
        table = split_table(text, header, ",")
        units = None
    else:
        shapes = (
            (_header(text, _BY_MONTH) is not None, _months),
            (_all_match(_FIXED_ROW, text), _fixed),
        )
        shape = next((shape for matches, shape in shapes if matches), _lists)
        table, units = shape(text, options), "tenths"
    station = one_station(table, "STATION", options)
    if units is None:
        units = _units_of(table, options)
        table.notes += [f"The units of {text.name} were found to be {units}."] * (units != "tenths")
    stamps = parse_stamps(table.column("DATE"), table.lines, source=text.name, name="DATE")
    stamps = wanted_rows(table, stamps, options)
    elements = _ELEMENTS_IN[units]
    headings = {i: heading_of(m) for n, m in elements.items() if (i := table.at(n)) is not None}
    record = make_record(table, _AS, stamps, headings, options, Said())
    flags = {name: _flags(table, name) for name in _ELEMENTS}
    _apply_flags(record, flags)
    rain = heading_of(elements["PRCP"]).unit
    _multi_day(record, table, rain.factor if rain else 1.0, flags["MDPR"], options)
    place_from_columns(record, table, _PLACE)
    names = (*table.column("NAME")[:1], *table.column("STATION_NAME")[:1], station)
    record.place = next(filter(None, names))
    record.rain_day = _rain_day_of(station, flags["PRCP"].time, record)
    return record
