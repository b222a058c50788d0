"""Shapes of the global daily set with one element a row: lists, and the fixed-width file."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.checks import choice
from bedtide.errors import FieldError, InputError, raise_all
from bedtide.weather.dates import from_parts, parse_stamps
from bedtide.weather.formats.common import Sheet, find_header, one_station, open_sheet
from bedtide.weather.formats.ghcn_fields import ELEMENTS, NAME, TENTHS, apply_flags, rain_day_of
from bedtide.weather.formats.totals import share_out
from bedtide.weather.record import Column, Options, Record, named_lines
from bedtide.weather.text import Text, split_table

__all__ = ["read_lists", "recognise_lists"]

_LONG = ("ID", "DATE", "ELEMENT", "DATA_VALUE")
_LIST_ROW = re.compile(r"[A-Z]{2}[A-Z0-9]{9},\d{8},[A-Z0-9]{4},-?\d+,")
_FIXED_ROW = re.compile(r"[A-Z]{2}[A-Z0-9_]{9}\d{6}[A-Z][A-Z0-9]{3}[ \d-]{5}")


def recognise_lists(text: Text) -> bool:
    """Whether the file has one element a row, with a header, without, or in fixed width."""
    return (
        find_header(text, _LONG, ",", most=3) is not None
        or _all_match(_LIST_ROW, text)
        or _all_match(_FIXED_ROW, text)
    )


def read_lists(text: Text, options: Options) -> Record:
    """Read a list or a fixed-width file."""
    return _fixed(text, options) if _all_match(_FIXED_ROW, text) else _list(text, options)


def _all_match(pattern: re.Pattern[str], text: Text) -> bool:
    first = [line for line in text.lines[:5] if line.strip()]
    return bool(first) and all(pattern.match(line) for line in first)


def _list(text: Text, options: Options) -> Record:
    header = find_header(text, _LONG, ",", most=3)
    if header is None:
        names = "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME"
        lines = [names, *text.lines]
        table = split_table(Text(text.name, lines, text.notes, text.whole), 0, ",")
        table.lines = table.lines - 1
        sheet = Sheet(table, {name.lower(): i for i, name in enumerate(names.split(","))})
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
        if line[17:21] in ELEMENTS:
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
    stations = sorted({line[:11] for _, line in rows})
    if not rows:
        raise FieldError(text.name, "it holds no rain or temperature", expected="PRCP, TMAX, TMIN")
    wanted = stations[0]
    if len(stations) > 1 or options.station is not None:
        if options.station is None:
            raise FieldError(
                text.name,
                f"it holds {len(stations)} stations: {', '.join(stations[:8])}",
                expected="one station",
                hint=f'Say which one:  station = "{stations[0]}"',
            )
        wanted = choice(options.station, stations, where="station")
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
    frame = frame[frame["element"].isin(ELEMENTS)]
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
    columns = {
        f.quantity: Column(
            f.quantity, f.name, f.unit, wide[f.name].to_numpy(dtype=float) * f.factor, f.factor
        )
        for f in TENTHS
        if f.name in wide
    }
    record = Record(
        text.name, NAME, times, lines, columns, wind_height=10.0, forgiving=True, errors=errors
    )
    record.notes += text.notes
    record.place = station
    flags = {}
    for kind in ("m", "q", "at"):
        one = frame.set_index(["time", "element"])[kind]
        flags[kind] = one.unstack("element").fillna("")  # noqa: PD010
    by_element = {
        name: (flags["m"][name].tolist(), flags["q"][name].tolist()) for name in wide.columns
    }
    apply_flags(record, by_element)
    if {"MDPR", "DAPR"} <= set(wide.columns):
        total = wide["MDPR"].to_numpy(dtype=float) * 0.1
        total = np.where(np.asarray(by_element["MDPR"][1]) == "", total, np.nan)
        if "rain" not in record.columns:
            record.columns["rain"] = Column("rain", "MDPR", "mm", np.full(len(total), np.nan))
        period: NDArray[np.float64] = wide["DAPR"].to_numpy(dtype=float)
        record.errors += share_out(record, total, period, options.multi_day)
    observed = flags["at"]["PRCP"].str.strip().tolist() if "PRCP" in wide else []
    record.rain_day = rain_day_of(station, observed, record)
    return record
