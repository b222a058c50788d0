"""Files of the Australian bureau: one element a file, or a month of observations."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from bedtide.weather.dates import stamps_from_columns
from bedtide.weather.formats.common import (
    Field,
    Format,
    Sheet,
    dated_record,
    find_header,
    make_record,
    one_station,
    open_sheet,
    share_totals,
)
from bedtide.weather.options import Options
from bedtide.weather.record import Record
from bedtide.weather.text import Text

_ELEMENT_NAME = "element file (Australian bureau)"
_MONTH_NAME = "daily observations of a month (Australian bureau)"
_DATE = ("Year", "Month", "Day")
_ELEMENTS = (
    ("rainfall amount", Field("", "rain", "mm")),
    ("maximum temperature", Field("", "tmax", "degC")),
    ("minimum temperature", Field("", "tmin", "degC")),
    ("daily global solar exposure", Field("", "solar_radiation", "MJ/m2")),
)
_STATION = "bureau of meteorology station number"
_MONTH = (
    ("minimum temperature", Field("", "tmin", "degC")),
    ("maximum temperature", Field("", "tmax", "degC")),
    ("rainfall (mm)", Field("", "rain", "mm")),
    ("sunshine (hours)", Field("", "sunshine", "h")),
)
_HUMIDITY = ("9am relative humidity (%)", "3pm relative humidity (%)")
_WIND = ("9am wind speed (km/h)", "3pm wind speed (km/h)")


def _is_element(text: Text, options: Options) -> bool:
    """Whether the header has a product code, a station number and one known element."""
    at = find_header(text, ("Product code", *_DATE), ",", most=3)
    return at is not None and any(start in text.lines[at].lower() for start, _ in _ELEMENTS)


def _read_element(text: Text, options: Options) -> Record:
    """One element; a rain total of several days is shared out over them."""
    header = find_header(text, ("Product code", *_DATE), ",", most=3) or 0
    sheet = open_sheet(text, header, ",")
    station = one_station(sheet, _STATION, options)
    fields = _named(sheet, _ELEMENTS)
    _drop_blank_years(sheet, fields)
    parts = {name: sheet.column(name) for name in _DATE}
    stamps = stamps_from_columns(parts, sheet.lines, source=text.name)
    record = make_record(sheet, _ELEMENT_NAME, stamps.times, fields, options=options)
    record.errors += stamps.errors
    record.place = f"station {station}" if station else ""
    if "rain" in record.columns:
        record.rain_day = "to morning"
        name = next((n for n in sheet.by_name if n.startswith("period over which rain")), "")
        share_totals(record, sheet, name, options)
    return record


def _named(sheet: Sheet, known: tuple[tuple[str, Field], ...]) -> list[Field]:
    """The fields that the header has, found by how their names begin."""
    found = []
    for start, field in known:
        name = next((n for n in sheet.by_name if n.startswith(start)), None)
        if name is not None:
            found.append(replace(field, name=sheet.table.header[sheet.by_name[name]]))
    return found


def _drop_blank_years(sheet: Sheet, fields: list[Field]) -> None:
    """Leave out the blank rows before the first and after the last value."""
    filled = np.zeros(len(sheet.lines), dtype=bool)
    for field in fields:
        filled |= ~sheet.marked(field.name, "")
    rows = np.flatnonzero(filled)
    if len(rows):
        sheet.keep(np.arange(rows[0], rows[-1] + 1))


def _is_month(text: Text, options: Options) -> bool:
    """Whether there is the header of the monthly table, its first column without a name."""
    return _month_header(text) is not None


def _month_header(text: Text) -> int | None:
    for i, line in enumerate(text.lines[:40]):
        small = line.lower().replace('"', "")
        if small.startswith(",date,") and "minimum temperature" in small and "rainfall" in small:
            return i
    return None


def _read_month(text: Text, options: Options) -> Record:
    """One month; humidity and wind from the readings at 9 and 15 o'clock."""
    header = _month_header(text) or 0
    sheet = open_sheet(text, header, ",")
    fields = _named(sheet, _MONTH)
    for name in (*_HUMIDITY, *_WIND):
        at = sheet.by_name.get(name)
        if at is not None:
            sheet.table.columns[at] = [
                "0" if value.strip().lower() == "calm" else value
                for value in sheet.table.columns[at]
            ]
    record = dated_record(sheet, _MONTH_NAME, "Date", fields, options)
    record.rain_day = "to morning"
    for names, quantity, unit, factor in (
        (_HUMIDITY, "rh_mean", "%", 1.0),
        (_WIND, "wind_speed", "km/h", 1 / 3.6),
    ):
        both = [
            Field(name, key, unit, factor)
            for name, key in zip(names, ("tmax", "tmin"), strict=True)
        ]
        part = make_record(sheet, _MONTH_NAME, record.times, both, options=options)
        record.errors += part.errors[len(sheet.table.errors) :]
        if len(part.columns) == 2:
            first, second = part.columns["tmax"], part.columns["tmin"]
            first.values = (first.values + second.values) / 2
            first.quantity, first.name = quantity, f"{names[0]} and 3pm"
            record.columns[quantity] = first
    if {"rh_mean", "wind_speed"} & set(record.columns):
        record.notes.append(
            f"Humidity and wind of {record.source} are the mean of the readings at 9 and 15 "
            "o'clock."
        )
    title = re.sub(r"[\"\s,]+$", "", text.lines[0]).strip('" ')
    record.place = title.replace("Daily Weather Observations for ", "").split(" for ")[0][:60]
    return record


FORMATS = (
    Format(_ELEMENT_NAME, _is_element, _read_element),
    Format(_MONTH_NAME, _is_month, _read_month),
)
