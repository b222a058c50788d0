"""Two more files of the US climate data centre: the global summary of the day, and the local
climatological data, in which daily summaries stand among the hourly rows.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    find_header,
    first_number,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.record import Options, Record, days_text
from bedtide.weather.text import Text

__all__ = [
    "LOCAL_NAME",
    "SUMMARY_NAME",
    "read_local",
    "read_summary",
    "recognise_local",
    "recognise_summary",
]

SUMMARY_NAME = "global summary of the day (US climate data centre)"
LOCAL_NAME = "local climatological data (US climate data centre)"
_F = ("degF", 5 / 9, -160 / 9)
_SUMMARY = (
    Field("MAX", "tmax", *_F),
    Field("MIN", "tmin", *_F),
    Field("DEWP", "dew_point", *_F),
    Field("WDSP", "wind_speed", "knots", 1852 / 3600),
    Field("PRCP", "rain", "in", 25.4),
)
_SUMMARY_MISSING = {"MAX": 9999.9, "MIN": 9999.9, "DEWP": 9999.9, "WDSP": 999.9, "PRCP": 99.99}
_LOCAL = (
    Field("DailyMaximumDryBulbTemperature", "tmax", *_F),
    Field("DailyMinimumDryBulbTemperature", "tmin", *_F),
    Field("DailyAverageDewPointTemperature", "dew_point", *_F),
    Field("DailyAverageRelativeHumidity", "rh_mean", "%"),
    Field("DailyAverageWindSpeed", "wind_speed", "mph", 0.44704),
    Field("DailyPrecipitation", "rain", "in", 25.4),
)
_SUSPECT = re.compile(r"(-?\d*\.?\d+)\s*s")


def recognise_summary(text: Text, options: Options) -> bool:
    """Whether the header is that of the global summary of the day."""
    names = ("STATION", "DATE", "DEWP", "WDSP", "MAX", "MIN", "PRCP")
    return find_header(text, names, ",", most=3) is not None


def read_summary(text: Text, options: Options) -> Record:
    """Degrees F, knots and inches; 9999.9, 999.9 and 99.99 stand for missing."""
    header = find_header(text, ("STATION", "DATE", "DEWP"), ",", most=3) or 0
    sheet = open_sheet(text, header, ",")
    station = one_station(sheet, "STATION", options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
    for name, sentinel in _SUMMARY_MISSING.items():
        _blank(sheet.table.columns, sheet.by_name.get(name.lower()), sentinel)
    record = make_record(sheet, SUMMARY_NAME, stamps.times, _SUMMARY, options=options)
    record.errors += stamps.errors
    letters = sheet.column("PRCP_ATTRIBUTES")
    doubtful = np.asarray([letter in ("H", "I") for letter in letters], dtype=bool)
    rain = record.columns.get("rain")
    if rain is not None:
        unreported = int((doubtful & (rain.values == 0)).sum())
        if unreported:
            record.notes.append(
                f"Rain of {days_text(unreported, of=record.source)} was not reported for the "
                "whole day and counts as none."
            )
    record.latitude = first_number(sheet, ("LATITUDE",))
    record.longitude = first_number(sheet, ("LONGITUDE",))
    record.elevation = first_number(sheet, ("ELEVATION",))
    record.place = next(iter(sheet.column("NAME")), "") or station
    record.notes.append(
        f"The rain days of {record.source} need not end at midnight; which hours they cover "
        "differs by country."
    )
    return record


def _blank(columns: list[Any], at: int | None, sentinel: float) -> None:
    """Empty the fields that hold the value for missing of this very column."""
    if at is None:
        return
    text = f"{sentinel:g}"
    columns[at] = ["" if value.strip().rstrip("*") == text else value for value in columns[at]]


def recognise_local(text: Text, options: Options) -> bool:
    """Whether the header is that of the local climatological data."""
    return find_header(text, ("DATE", "REPORT_TYPE", "DailyPrecipitation"), ",", most=3) is not None


def read_local(text: Text, options: Options) -> Record:
    """The summaries of the day (report type SOD) alone."""
    header = find_header(text, ("DATE", "REPORT_TYPE"), ",", most=3) or 0
    sheet = open_sheet(text, header, ",")
    sheet.keep(np.flatnonzero([kind == "SOD" for kind in sheet.column("REPORT_TYPE")]))
    if sheet.has("STATION"):
        one_station(sheet, "STATION", options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
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
    days = stamps.times.astype("datetime64[D]").astype("datetime64[s]")
    record = make_record(
        sheet, LOCAL_NAME, days, _LOCAL, options=options, traces=["DailyPrecipitation"]
    )
    record.errors += stamps.errors
    if suspects:
        record.notes.append(
            f"{suspects} values of {record.source} are marked suspect and were used all the same."
        )
    record.latitude = first_number(sheet, ("LATITUDE",))
    record.longitude = first_number(sheet, ("LONGITUDE",))
    record.elevation = first_number(sheet, ("ELEVATION",))
    record.place = next(iter(sheet.column("NAME")), "")
    return record
