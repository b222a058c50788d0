"""Daily data of the Netherlands service; layout from memory."""

from __future__ import annotations

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "recognise"]

NAME = "daily data (Netherlands service)"
_DUTCH = (
    Field("TX", "tmax", "0.1 degC", 0.1),
    Field("TN", "tmin", "0.1 degC", 0.1),
    Field("RH", "rain", "0.1 mm", 0.1),
    Field("UG", "rh_mean", "%"),
    Field("UX", "rh_max", "%"),
    Field("UN", "rh_min", "%"),
    Field("FG", "wind_speed", "0.1 m/s", 0.1),
    Field("Q", "solar_radiation", "J/cm2", 0.01),
    Field("SQ", "sunshine", "0.1 h", 0.1),
)


def _dutch_header(text: Text) -> int | None:
    for i, line in enumerate(text.lines[:200]):
        cells = [cell.strip() for cell in line.lstrip("# ").split(",")]
        if cells[:2] == ["STN", "YYYYMMDD"]:
            return i
    return None


def recognise(text: Text, options: Options) -> bool:
    """Whether there is a header that starts with STN,YYYYMMDD, with or without a ``#``."""
    return _dutch_header(text) is not None


def read(text: Text, options: Options) -> Record:
    """Tenths; rain or sunshine of -1 is less than 0.05 and counts as none."""
    header = _dutch_header(text)
    assert header is not None
    lines = list(text.lines)
    lines[header] = lines[header].lstrip("# ")
    sheet = open_sheet(Text(text.name, lines, text.notes, text.whole), header, ",")
    station = one_station(sheet, "STN", options)
    name = "YYYYMMDD"
    stamps = parse_stamps(sheet.column(name), sheet.lines, source=text.name, name=name)
    traces = 0
    for element in ("RH", "SQ"):
        at = sheet.by_name.get(element.lower())
        if at is not None:
            column = sheet.column(element)
            traces += column.count("-1") if element == "RH" else 0
            sheet.table.columns[at] = ["0" if value == "-1" else value for value in column]
    record = make_record(sheet, NAME, stamps.times, _DUTCH, options=options)
    record.errors += stamps.errors
    if traces:
        record.notes.append(f"Rain marked as a trace counts as none: {traces} times.")
    record.place = f"station {station}"
    return record
