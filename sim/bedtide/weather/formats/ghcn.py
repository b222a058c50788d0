"""The global daily set of the US national climate data centre, in its four shapes.

Station file and ordered daily summaries (one row a day), by-year and by-station lists (one row
an element), and the fixed-width ``.dly`` file. Only the ordered file may hold other units than
tenths, and does not say which.
"""

from __future__ import annotations

import numpy as np

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    Sheet,
    find_header,
    first_number,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.formats.ghcn_fields import ELEMENTS, FIELDS, NAME, apply_flags, rain_day_of
from bedtide.weather.formats.ghcn_lists import read_lists, recognise_lists
from bedtide.weather.formats.ghcn_units import units_of
from bedtide.weather.formats.totals import share_out
from bedtide.weather.record import Column, Options, Record
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "recognise"]

_SIGNS = ("PRCP", "TMAX", "TMIN", "MDPR", "SNOW", "AWND", "TOBS")


def recognise(text: Text, options: Options) -> bool:
    """Whether the file is one of the four shapes."""
    return _wide_header(text) is not None or recognise_lists(text)


def read(text: Text, options: Options) -> Record:
    """Read whichever of the four shapes it is."""
    header = _wide_header(text)
    if header is not None:
        return _wide(text, header, options)
    return read_lists(text, options)


def _wide_header(text: Text) -> int | None:
    at = find_header(text, ("STATION", "DATE"), ",", most=3)
    if at is None:
        return None
    cells = {cell.strip().strip('"').upper() for cell in text.lines[at].split(",")}
    known = cells & set(_SIGNS)
    summary_of_day = {"TEMP", "DEWP", "MAX", "MIN"} <= cells or "REPORT_TYPE" in cells
    return at if known and not summary_of_day else None


def _wide(text: Text, header: int, options: Options) -> Record:
    sheet = open_sheet(text, header, ",")
    station = one_station(sheet, "STATION", options)
    units = units_of(sheet, options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
    record = make_record(
        sheet, NAME, stamps.times, FIELDS[units], missing=("-9999", "9999"), options=options
    )
    record.errors += stamps.errors
    flags = {name: _flags(sheet, name) for name in ELEMENTS}
    apply_flags(record, {key: value[:2] for key, value in flags.items()})
    factor = next(f.factor for f in FIELDS[units] if f.name == "PRCP")
    _multi_day(record, sheet, factor, flags["MDPR"][1], options)
    record.latitude = first_number(sheet, ("LATITUDE",))
    record.longitude = first_number(sheet, ("LONGITUDE",))
    record.elevation = first_number(sheet, ("ELEVATION",))
    names = [n for n in (*sheet.column("NAME")[:1], *sheet.column("STATION_NAME")[:1]) if n]
    record.place = names[0] if names else station
    record.rain_day = rain_day_of(station, flags["PRCP"][2], record)
    if units != "tenths":
        record.notes.append(f"The units of {text.name} were found to be {units}.")
    return record


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
    start = sheet.by_name.get(name.lower())
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
    fields = (Field("MDPR", "rain", ""), Field("DAPR", "rain_counter", ""))
    totals = make_record(
        sheet, NAME, record.times, fields, missing=("-9999", "9999"), options=options
    )
    record.errors += totals.errors[len(sheet.table.errors) :]
    amount = totals.columns["rain"].values * factor
    good = np.asarray([flag == "" for flag in quality], dtype=bool)
    amount = np.where(good, amount, np.nan)
    if "rain" not in record.columns:
        none = np.full(len(amount), np.nan)
        record.columns["rain"] = Column("rain", "MDPR", "mm", none)
    period = totals.columns["rain_counter"].values
    record.errors += share_out(record, amount, period, options.multi_day)
