"""Daily files of the Canadian service."""

from __future__ import annotations

import numpy as np

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    find_header,
    first_number,
    make_record,
    open_sheet,
)
from bedtide.weather.record import Options, Record, days_text
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "recognise"]

NAME = "daily data (Canadian service)"
_KNOWN = (
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


def _header(text: Text) -> int | None:
    for names in (("Date/Time", "Year", "Month", "Day"), ("Date/Time", "Total Precip (mm)")):
        at = find_header(text, names, ",", most=60)
        if at is not None and "max temp" in text.lines[at].lower():
            return at
    return None


def recognise(text: Text, options: Options) -> bool:
    """Whether there is a header with Date/Time and Max Temp, below a legend or not."""
    return _header(text) is not None


def read(text: Text, options: Options) -> Record:
    """Trace by flag T, missing by flag M; rain is the total precipitation, snow melted."""
    header = _header(text) or 0
    sheet = open_sheet(text, header, ",")
    date = "Date/Time"
    stamps = parse_stamps(sheet.column(date), sheet.lines, source=text.name, name=date)
    fields = []
    for start, quantity, unit in _KNOWN:
        for name in sheet.table.header:
            if name.lower().startswith(start) and not name.lower().endswith("flag"):
                fields.append(Field(name, quantity, unit))
                break
    marks = str.maketrans("", "", "†‡^")
    for field in fields:
        at = sheet.by_name[field.name.lower()]
        sheet.table.columns[at] = [v.translate(marks).strip() for v in sheet.table.columns[at]]
    record = make_record(sheet, NAME, stamps.times, fields, options=options)
    record.errors += stamps.errors
    for start, quantity, _ in _KNOWN:
        name = next((n for n in sheet.by_name if n.startswith(start) and n.endswith("flag")), "")
        if quantity not in record.columns or not name:
            continue
        flags = sheet.column(name)
        column = record.columns[quantity]
        column.values[np.asarray([flag == "M" for flag in flags], dtype=bool)] = np.nan
        traces = flags.count("T") if quantity == "rain" else 0
        if traces:
            record.notes.append(f"Rain marked as a trace counts as none: {traces} times.")
        for flag, why in _FLAGS.items():
            count = flags.count(flag)
            if count:
                record.notes.append(
                    f"{column.name} of {days_text(count, of=record.source)} {why}; used as it is."
                )
    record.latitude = first_number(sheet, ("Latitude (y)",))
    record.longitude = first_number(sheet, ("Longitude (x)",))
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
