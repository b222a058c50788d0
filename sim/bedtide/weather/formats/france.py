"""Daily data of the French service."""

from __future__ import annotations

import numpy as np

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    failed,
    find_header,
    first_number,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "recognise"]

NAME = "daily data (French service)"
_FRENCH = (
    Field("TX", "tmax", "degC"),
    Field("TN", "tmin", "degC"),
    Field("RR", "rain", "mm"),
    Field("TENSVM", "vapour_pressure", "hPa", 0.1),
    Field("UM", "rh_mean", "%"),
    Field("UX", "rh_max", "%"),
    Field("UN", "rh_min", "%"),
    Field("FFM", "wind_speed", "m/s"),
    Field("GLOT", "solar_radiation", "J/cm2", 0.01),
    Field("INST", "sunshine", "min", 1 / 60),
)


def recognise(text: Text, options: Options) -> bool:
    """Whether the header is that of the French daily files."""
    return find_header(text, ("NUM_POSTE", "AAAAMMJJ"), ";", most=3) is not None


def read(text: Text, options: Options) -> Record:
    """A quality column after each value: 2 is doubtful and left out."""
    header = find_header(text, ("NUM_POSTE", "AAAAMMJJ"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    station = one_station(sheet, "NUM_POSTE", options)
    name = "AAAAMMJJ"
    stamps = parse_stamps(sheet.column(name), sheet.lines, source=text.name, name=name)
    record = make_record(sheet, NAME, stamps.times, _FRENCH, options=options)
    record.errors += stamps.errors
    for field in _FRENCH:
        bad = np.asarray([q == "2" for q in sheet.column(f"Q{field.name}")], dtype=bool)
        failed(record, field.quantity, bad, "the service marks them doubtful")
    record.latitude = first_number(sheet, ("LAT",))
    record.longitude = first_number(sheet, ("LON",))
    record.elevation = first_number(sheet, ("ALTI",))
    record.place = next(iter(sheet.column("NOM_USUEL")), "") or station
    record.rain_day = "from morning"
    return record
