"""The global daily set of the US climate data centre, in its five shapes.

Station file and ordered daily summaries (one row a day), by-year and by-station lists (one row an
element), and the fixed-width ``.dly`` file. Only the ordered file may hold other units than tenths,
and does not say which.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, raise_all
from bedtide.weather.dates import from_parts, parse_stamps
from bedtide.weather.layouts import Layout, heading_of, make_record
from bedtide.weather.options import OPTIONS, Options, RainDay
from bedtide.weather.record import Column, Record, days_text, named_lines
from bedtide.weather.sheet import (
    Sheet,
    failed,
    note_traces,
    one_station,
    open_sheet,
    pick_station,
    place_from_columns,
    share_out,
)
from bedtide.weather.text import Text, numbers, split_table

_NAME = "global daily set (US climate data centre)"
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
_AS = Layout(name=_NAME, missing=_MISSING)
_PLACE = {"latitude": "LATITUDE", "longitude": "LONGITUDE", "elevation": "ELEVATION"}
_BY_MONTH = ("ID", "YEAR", "MONTH", "ELEMENT", "VALUE1")
_LONG = ("ID", "DATE", "ELEMENT", "DATA_VALUE")
_LIST_ROW = re.compile(r"[A-Z]{2}[A-Z0-9]{9},\d{8},[A-Z0-9]{4},-?\d+,")
_FIXED_ROW = re.compile(r"[A-Z]{2}[A-Z0-9_]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]{5}")


def _apply_flags(record: Record, flags: Mapping[str, tuple[list[str], ...]]) -> None:
    """Leave out what failed a check; count traces and presumed zeros."""
    for name, meaning in _TENTHS.items():
        key = heading_of(meaning).key
        measured, quality = flags.get(name, ([], []))
        if key not in record.columns or not quality:
            continue
        bad = np.asarray([flag not in ("", "9999") for flag in quality], dtype=bool)
        failed(record, key, bad, "the service's own checks doubt it")
        if name == "PRCP":
            zero = record.columns["rain"].values == 0
            traces = int((zero & np.asarray([m == "T" for m in measured], dtype=bool)).sum())
            presumed = int((zero & np.asarray([m == "P" for m in measured], dtype=bool)).sum())
            note_traces(record, traces)
            if presumed:
                record.notes.append(
                    f"Rain of {days_text(presumed, of=record.source)} is missing and was presumed "
                    "to be none by the service."
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


def _units_of(sheet: Sheet, options: Options) -> str:
    """Tenths, metric or standard, from how the numbers are written; refused where uncertain."""
    if options.units_of_file is not None:
        return options.units_of_file
    possible = set(_UNITS)
    reasons = []
    for name, judge in (("PRCP", _by_rain), ("TMAX", _by_heat), ("TMIN", _by_heat)):
        texts = [t for t in sheet.column(name) if t and t not in ("-9999", "9999", "-9999.0")]
        texts = [t.replace(",", ".") for t in texts]
        found = judge(texts)
        if len(found) < 3:
            reasons.append(f"{name} suggests {' or '.join(sorted(found)) or 'none of them'}")
        possible &= found
    if len(possible) == 1:
        return possible.pop()
    raise FieldError(
        sheet.table.name,
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


def _all_match(pattern: re.Pattern[str], text: Text) -> bool:
    first = [line for line in text.lines[:5] if line.strip()]
    return bool(first) and all(pattern.match(line) for line in first)


def _list(text: Text, options: Options) -> Record:
    header = _header(text, _LONG)
    if header is None:
        names = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"
        table = split_table(text, 0, ",", names=names.split(","))
        sheet = Sheet(table)
    else:
        sheet = open_sheet(text, header, ",")
    station = one_station(sheet, "ID", options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
    frame = pd.DataFrame(
        {
            "time": stamps.times,
            "line": sheet.lines,
            "element": sheet.column("ELEMENT"),
            "value": sheet.column("DATA_VALUE"),
            "m": sheet.column("M_FLAG"),
            "q": sheet.column("Q_FLAG"),
            "at": sheet.column("OBS_TIME"),
        }
    )
    return _from_elements(text, frame, station, [*sheet.table.errors, *stamps.errors], options)


def _fixed(text: Text, options: Options) -> Record:
    errors: list[InputError] = []
    rows = []
    short = []
    for number, line in enumerate(text.lines, start=1):
        if not line.strip():
            continue
        if len(line.rstrip()) < 266 or not _FIXED_ROW.match(line):
            short.append(number)
            continue
        if line[17:21] in _ELEMENTS:
            rows.append((number, line))
    if short:
        errors.append(
            FieldError(
                f"{text.name}, line {short[0]}",
                f"it is not a whole line of a .dly file{named_lines(np.asarray(short[1:]))}",
                expected="269 characters: station, year, month, element and 31 days",
                hint="The file may have been cut short",
            )
        )
    if not rows:
        raise FieldError(text.name, "it holds no rain or temperature", expected="PRCP, TMAX, TMIN")
    wanted = pick_station((line[:11] for _, line in rows), options, where=text.name)
    parts = []
    for number, line in rows:
        if line[:11] != wanted:
            continue
        line = line.ljust(269)
        days = range(31)
        cells = [line[21 + 8 * d : 29 + 8 * d] for d in days]
        month = np.full(31, int(line[15:17]))
        times, exists = from_parts(np.full(31, int(line[11:15])), month, np.arange(1, 32))
        for d in days:
            value = cells[d][:5].strip()
            if value not in ("-9999", "") and exists[d]:
                flag = cells[d]
                parts.append((times[d], number, line[17:21], value, flag[5], flag[6], ""))
            elif value not in ("-9999", ""):
                errors.append(
                    FieldError(
                        f"{text.name}, line {number}",
                        f"day {d + 1} of a shorter month has a value",
                        expected="-9999",
                    )
                )
    frame = pd.DataFrame(parts, columns=["time", "line", "element", "value", "m", "q", "at"])
    return _from_elements(text, frame, wanted, errors, options)


def _from_elements(
    text: Text, frame: pd.DataFrame, station: str, errors: list[InputError], options: Options
) -> Record:
    """A record from rows of one element each."""
    frame = frame[frame["element"].isin(_ELEMENTS)]
    if not len(frame):
        raise_all([*errors, FieldError(text.name, "it holds no rain or temperature")])
    frame = frame.assign(m=frame["m"].str.strip(), q=frame["q"].str.strip())
    frame = frame[frame["time"].notna()]
    number = pd.to_numeric(frame["value"], errors="coerce")
    wrong = frame[number.isna() & (frame["value"].str.strip() != "")]
    if len(wrong):
        errors.append(
            FieldError(
                f"{text.name}, line {wrong['line'].iloc[0]}",
                f'"{wrong["value"].iloc[0]}" is not a number'
                f"{named_lines(wrong['line'].to_numpy()[1:])}",
                expected="a whole number of tenths",
            )
        )
    frame = frame.assign(number=number.where(number != -9999))
    doubled = frame[frame.duplicated(["time", "element"], keep="first")]
    same = frame.duplicated(["time", "element", "number"], keep="first")
    clash = doubled[~same.reindex(doubled.index)]
    if len(clash):
        errors.append(
            FieldError(
                f"{text.name}, line {clash['line'].iloc[0]}",
                f"{clash['element'].iloc[0]} of that day is there twice with other values"
                f"{named_lines(clash['line'].to_numpy()[1:])}",
                expected="one value for each day and element",
            )
        )
    frame = frame.drop_duplicates(["time", "element"])
    wide = frame.set_index(["time", "element"])["number"].unstack("element")  # noqa: PD010
    times = wide.index.to_numpy().astype("datetime64[s]")
    lines = frame.groupby("time")["line"].min().reindex(wide.index).to_numpy(dtype=np.int64)
    columns = {}
    for name, meaning in _TENTHS.items():
        key, unit = heading_of(meaning).key, heading_of(meaning).unit
        if name in wide and unit is not None:
            ours = wide[name].to_numpy(dtype=float) * unit.factor
            columns[key] = Column(key, name, unit.text, ours, unit.factor)
    record = Record(text.name, _NAME, times, lines, columns, wind_height=10.0, errors=errors)
    record.notes += text.notes
    record.place = station
    flags = {}
    for kind in ("m", "q", "at"):
        one = frame.set_index(["time", "element"])[kind]
        flags[kind] = one.unstack("element").fillna("")  # noqa: PD010
    by_element = {
        name: (flags["m"][name].tolist(), flags["q"][name].tolist()) for name in wide.columns
    }
    _apply_flags(record, by_element)
    if {"MDPR", "DAPR"} <= set(wide.columns):
        total = wide["MDPR"].to_numpy(dtype=float) * 0.1
        total = np.where(np.asarray(by_element["MDPR"][1]) == "", total, np.nan)
        if "rain" not in record.columns:
            record.columns["rain"] = Column("rain", "MDPR", "mm", np.full(len(total), np.nan))
        period: NDArray[np.float64] = wide["DAPR"].to_numpy(dtype=float)
        record.errors += share_out(record, total, period, options.multi_day)
    observed = flags["at"]["PRCP"].str.strip().tolist() if "PRCP" in wide else []
    record.rain_day = _rain_day_of(station, observed, record)
    return record


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


def _wide(text: Text, header: int, options: Options) -> Record:
    sheet = open_sheet(text, header, ",")
    station = one_station(sheet, "STATION", options)
    units = _units_of(sheet, options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
    in_span = options.in_span(stamps.times, clock=False)
    if in_span.any():
        sheet.keep(np.flatnonzero(in_span))
        stamps = stamps.taken(in_span)
    elements = _ELEMENTS_IN[units]
    headings = {i: heading_of(m) for n, m in elements.items() if (i := sheet.at(n)) is not None}
    record = make_record(sheet, _NAME, stamps, headings, options, layout=_AS, daily=True)
    record.wind_height = 10.0
    flags = {name: _flags(sheet, name) for name in _ELEMENTS}
    _apply_flags(record, {key: value[:2] for key, value in flags.items()})
    rain = heading_of(elements["PRCP"]).unit
    _multi_day(record, sheet, rain.factor if rain else 1.0, flags["MDPR"][1], options)
    place_from_columns(record, sheet, _PLACE)
    names = [n for n in (*sheet.column("NAME")[:1], *sheet.column("STATION_NAME")[:1]) if n]
    record.place = names[0] if names else station
    record.rain_day = _rain_day_of(station, flags["PRCP"][2], record)
    if units != "tenths":
        record.notes.append(f"The units of {text.name} were found to be {units}.")
    return record


def _months(text: Text, header: int, options: Options) -> Record:
    """The fixed-width file made to a table: one row a month and element, 31 values with marks."""
    sheet = open_sheet(text, header, ",")
    sheet.keep(np.flatnonzero(~sheet.marked("id", "NA", "")))
    station = one_station(sheet, "id", options)
    element = sheet.column("element")
    rows = np.flatnonzero([name in _ELEMENTS for name in element])
    year, month = (np.asarray(sheet.column(name), dtype=np.int64) for name in ("year", "month"))
    parts = []
    for day in range(1, 32):
        value, m, q = (sheet.column(f"{name}{day}") for name in ("VALUE", "MFLAG", "QFLAG"))
        times, exists = from_parts(year, month, np.full(len(year), day))
        parts += [
            (times[i], int(sheet.lines[i]), element[i], value[i], m[i], q[i], "")
            for i in rows
            if exists[i] and value[i] not in ("", "NA", "-9999")
        ]
    frame = pd.DataFrame(parts, columns=["time", "line", "element", "value", "m", "q", "at"])
    return _from_elements(text, frame, station, list(sheet.table.errors), options)


def _flags(sheet: Sheet, name: str) -> tuple[list[str], list[str], list[str]]:
    """Measurement flag, quality flag and time of observation of an element, by row."""
    if sheet.has(f"{name}_ATTRIBUTES"):
        parts = [text.split(",") for text in sheet.column(f"{name}_ATTRIBUTES")]
        return tuple(  # type: ignore[return-value]
            [part[i].strip() if len(part) > i else "" for part in parts] for i in (0, 1, 3)
        )
    # orders of before about 2017: flag columns of the same name stand after each element
    blank = [""] * len(sheet.lines)
    found = {"measurement flag": blank, "quality flag": blank, "time of observation": blank}
    start = sheet.at(name)
    if start is not None:
        for i in range(start + 1, min(start + 5, len(sheet.table.header))):
            label = sheet.table.header[i].lower()
            if label in found:
                found[label] = [text.strip() for text in sheet.table.columns[i]]
            elif label != "source flag":
                break
    return found["measurement flag"], found["quality flag"], found["time of observation"]


def _multi_day(
    record: Record, sheet: Sheet, factor: float, quality: list[str], options: Options
) -> None:
    if not (sheet.has("MDPR") and sheet.has("DAPR")):
        return
    names = ("MDPR", "DAPR")
    read, errors, _ = numbers(
        {name: sheet.column(name) for name in names},
        sheet.lines,
        source=record.source,
        missing=[*_MISSING, *options.missing],
    )
    record.errors += errors
    amount = read["MDPR"] * factor
    good = np.asarray([flag == "" for flag in quality], dtype=bool)
    amount = np.where(good, amount, np.nan)
    if "rain" not in record.columns:
        none = np.full(len(amount), np.nan)
        record.columns["rain"] = Column("rain", "MDPR", "mm", none)
    record.errors += share_out(record, amount, read["DAPR"], options.multi_day)


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
    """Read whichever of the five shapes it is."""
    if (header := _wide_header(text)) is not None:
        return _wide(text, header, options)
    if (header := _header(text, _BY_MONTH)) is not None:
        return _months(text, header, options)
    return _fixed(text, options) if _all_match(_FIXED_ROW, text) else _list(text, options)
