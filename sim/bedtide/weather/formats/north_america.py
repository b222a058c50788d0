"""Daily files of the Canadian service, and two more of the US climate data centre.

Those two are the global summary of the day, and the local climatological data, in which daily
summaries stand among the hourly rows.
"""

from __future__ import annotations

import re

import numpy as np

from bedtide.weather.formats.common import (
    Field,
    Format,
    dated_record,
    find_header,
    note_traces,
    one_station,
    open_sheet,
    place_from_columns,
)
from bedtide.weather.options import Options
from bedtide.weather.record import Record, days_text
from bedtide.weather.text import Text

_CANADIAN_NAME = "daily data (Canadian service)"
_CANADIAN = (
    ("max temp", "tmax", "degC"),
    ("min temp", "tmin", "degC"),
    ("total precip", "rain", "mm"),
)
_FLAGS = {
    "E": "estimated by the service",
    "A": "a total of several days",
    "C": "uncertain",
    "L": "uncertain",
    "F": "a total of several days, estimated",
}


def _canadian_header(text: Text) -> int | None:
    for names in (("Date/Time", "Year", "Month", "Day"), ("Date/Time", "Total Precip (mm)")):
        at = find_header(text, names, ",", most=60)
        if at is not None and "max temp" in text.lines[at].lower():
            return at
    return None


def _is_canadian(text: Text, options: Options) -> bool:
    """Whether there is a header with Date/Time and Max Temp, below a legend or not."""
    return _canadian_header(text) is not None


def _read_canadian(text: Text, options: Options) -> Record:
    """Trace by flag T, missing by flag M; rain is the total precipitation, snow melted."""
    header = _canadian_header(text) or 0
    sheet = open_sheet(text, header, ",")
    fields = []
    for start, quantity, unit in _CANADIAN:
        for name in sheet.table.header:
            if name.lower().startswith(start) and not name.lower().endswith("flag"):
                fields.append(Field(name, quantity, unit))
                break
    marks = str.maketrans("", "", "†‡^")
    for field in fields:
        at = sheet.by_name[field.name.lower()]
        sheet.table.columns[at] = [v.translate(marks).strip() for v in sheet.table.columns[at]]
    record = dated_record(sheet, _CANADIAN_NAME, "Date/Time", fields, options)
    for start, quantity, _ in _CANADIAN:
        name = next((n for n in sheet.by_name if n.startswith(start) and n.endswith("flag")), "")
        if quantity not in record.columns or not name:
            continue
        flags = sheet.column(name)
        column = record.columns[quantity]
        column.values[sheet.marked(name, "M")] = np.nan
        if quantity == "rain":
            note_traces(record, flags.count("T"))
        for flag, why in _FLAGS.items():
            count = flags.count(flag)
            if count:
                record.notes.append(
                    f"{column.name} of {days_text(count, of=record.source)} {why}; used as it is."
                )
    place_from_columns(record, sheet)
    record.place = next(iter(sheet.column("Station Name")), "")
    record.rain_day = "from morning"
    _legend(text, header, record)
    return record


def _legend(text: Text, header: int, record: Record) -> None:
    """Place from the legend of older files."""
    for line in text.lines[:header]:
        cells = [cell.strip().strip('"') for cell in line.split('","' if '","' in line else ",")]
        if len(cells) < 2:
            continue
        name = cells[0].strip('" ').lower()
        try:
            if name == "latitude" and record.latitude is None:
                record.latitude = float(cells[1].strip('" '))
            elif name == "longitude" and record.longitude is None:
                record.longitude = float(cells[1].strip('" '))
            elif name == "elevation":
                record.elevation = float(cells[1].strip('" '))
        except ValueError:
            continue
        if name == "station name" and not record.place:
            record.place = cells[1].strip('" ')


_SUMMARY_NAME = "global summary of the day (US climate data centre)"
_LOCAL_NAME = "local climatological data (US climate data centre)"
_F = ("degF", 5 / 9, -160 / 9)
_SUMMARY = (
    Field("MAX", "tmax", *_F),
    Field("MIN", "tmin", *_F),
    Field("DEWP", "dew_point", *_F),
    Field("WDSP", "wind_speed", "knots", 1852 / 3600),
    Field("PRCP", "rain", "in", 25.4),
)
_SUMMARY_MISSING = {
    "MAX": "9999.9", "MIN": "9999.9", "DEWP": "9999.9", "WDSP": "999.9", "PRCP": "99.99"
}  # fmt: skip
_LOCAL = (
    Field("DailyMaximumDryBulbTemperature", "tmax", *_F),
    Field("DailyMinimumDryBulbTemperature", "tmin", *_F),
    Field("DailyAverageDewPointTemperature", "dew_point", *_F),
    Field("DailyAverageRelativeHumidity", "rh_mean", "%"),
    Field("DailyAverageWindSpeed", "wind_speed", "mph", 0.44704),
    Field("DailyPrecipitation", "rain", "in", 25.4),
)
_SUSPECT = re.compile(r"(-?\d*\.?\d+)\s*s")


def _is_summary(text: Text, options: Options) -> bool:
    """Whether the header is that of the global summary of the day."""
    names = ("STATION", "DATE", "DEWP", "WDSP", "MAX", "MIN", "PRCP")
    return find_header(text, names, ",", most=3) is not None


def _read_summary(text: Text, options: Options) -> Record:
    """Degrees F, knots and inches; 9999.9, 999.9 and 99.99 stand for missing."""
    header = find_header(text, ("STATION", "DATE", "DEWP"), ",", most=3) or 0
    sheet = open_sheet(text, header, ",")
    station = one_station(sheet, "STATION", options)
    for name, sentinel in _SUMMARY_MISSING.items():
        at = sheet.by_name.get(name.lower())
        if at is not None:  # each column has a value for missing of its own
            cells = sheet.table.columns[at]
            sheet.table.columns[at] = [
                "" if cell.strip().rstrip("*") == sentinel else cell for cell in cells
            ]
    record = dated_record(sheet, _SUMMARY_NAME, "DATE", _SUMMARY, options)
    doubtful = sheet.marked("PRCP_ATTRIBUTES", "H", "I")
    rain = record.columns.get("rain")
    if rain is not None:
        unreported = int((doubtful & (rain.values == 0)).sum())
        if unreported:
            record.notes.append(
                f"Rain of {days_text(unreported, of=record.source)} was not reported for the "
                "whole day and counts as none."
            )
    place_from_columns(record, sheet)
    record.place = next(iter(sheet.column("NAME")), "") or station
    record.notes.append(
        f"Rain of {record.source}: which 24 hours a date covers differs by country."
    )
    return record


def _is_local(text: Text, options: Options) -> bool:
    """Whether the header is that of the local climatological data."""
    return find_header(text, ("DATE", "REPORT_TYPE", "DailyPrecipitation"), ",", most=3) is not None


def _read_local(text: Text, options: Options) -> Record:
    """The summaries of the day (report type SOD) alone."""
    header = find_header(text, ("DATE", "REPORT_TYPE"), ",", most=3) or 0
    sheet = open_sheet(text, header, ",")
    sheet.keep(np.flatnonzero([kind == "SOD" for kind in sheet.column("REPORT_TYPE")]))
    if sheet.has("STATION"):
        one_station(sheet, "STATION", options)
    suspects = 0
    for field in _LOCAL:
        at = sheet.by_name.get(field.name.lower())
        if at is None:
            continue
        cleaned = []
        for value in sheet.column(field.name):
            small = value.strip()
            if small in ("Ts", "T s"):
                small = "T"
                suspects += 1
            elif match := _SUSPECT.fullmatch(small):
                small = match.group(1)
                suspects += 1
            cleaned.append("" if small == "*" else small)
        sheet.table.columns[at] = cleaned
    record = dated_record(
        sheet, _LOCAL_NAME, "DATE", _LOCAL, options, traces=["DailyPrecipitation"]
    )
    if suspects:
        record.notes.append(
            f"{suspects} values of {record.source} are marked suspect and were used all the same."
        )
    place_from_columns(record, sheet)
    record.place = next(iter(sheet.column("NAME")), "")
    return record


FORMATS = (
    Format(_SUMMARY_NAME, _is_summary, _read_summary),
    Format(_LOCAL_NAME, _is_local, _read_local),
    Format(_CANADIAN_NAME, _is_canadian, _read_canadian),
)
