"""Daily climate of the German service, and the file that says where its stations stand."""

from __future__ import annotations

import numpy as np

from bedtide.errors import FieldError
from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    find_header,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "read_place", "recognise", "recognise_place"]

NAME = "daily climate (German service)"
_GERMAN = (
    Field("TXK", "tmax", "degC"),
    Field("TNK", "tmin", "degC"),
    Field("VPM", "vapour_pressure", "hPa", 0.1),
    Field("UPM", "rh_mean", "%"),
    Field("FM", "wind_speed", "m/s"),
    Field("SDK", "sunshine", "h"),
    Field("RSK", "rain", "mm"),
    Field("RS", "rain", "mm"),
)


def recognise(text: Text, options: Options) -> bool:
    """Whether the header is that of the German daily files."""
    return find_header(text, ("STATIONS_ID", "MESS_DATUM"), ";", most=3) is not None


def read(text: Text, options: Options) -> Record:
    """Padded fields between semicolons, -999 for missing, ``eor`` at the end of a line."""
    header = find_header(text, ("STATIONS_ID", "MESS_DATUM"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    station = one_station(sheet, "STATIONS_ID", options)
    name = "MESS_DATUM"
    stamps = parse_stamps(sheet.column(name), sheet.lines, source=text.name, name=name)
    record = make_record(sheet, NAME, stamps.times, _GERMAN, missing=("-999",), options=options)
    record.errors += stamps.errors
    if sheet.has("eor"):
        ends = np.asarray([value == "eor" for value in sheet.column("eor")], dtype=bool)
        if not ends.all():
            line = sheet.lines[np.flatnonzero(~ends)[0]]
            record.errors.append(
                FieldError(
                    f"{text.name}, line {line}", "it does not end with eor", expected="a whole line"
                )
            )
    record.rain_day = "from morning"
    record.place = f"station {station}"
    # of two files of a station the one that ends first is the finished one
    good = stamps.times[~np.isnat(stamps.times)]
    record.rank = int(good.max().astype("datetime64[D]").astype(np.int64)) if len(good) else 0
    return record


def recognise_place(text: Text, options: Options) -> bool:
    """Whether it is the file that says where a German station stands."""
    return (
        find_header(text, ("Stations_id", "Stationshoehe", "Stationsname"), ";", most=3) is not None
    )


def read_place(text: Text, options: Options) -> Record:
    """The last place that is given, and no weather."""
    header = find_header(text, ("Stations_id", "Stationshoehe"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    times = np.empty(0, dtype="datetime64[s]")
    record = Record(text.name, NAME, times, np.empty(0, dtype=np.int64), {})
    for column in sheet.table.columns:
        if not column:
            return record
    last = {name: sheet.column(name)[-1] for name in sheet.by_name}
    latitude = next((n for n in last if n.startswith("geogr") and "breite" in n), "")
    longitude = next((n for n in last if n.startswith("geogr") and "laenge" in n), "")
    for name, attribute in (
        ("stationshoehe", "elevation"),
        (latitude, "latitude"),
        (longitude, "longitude"),
    ):
        try:
            setattr(record, attribute, float(last[name]))
        except (KeyError, ValueError):
            continue
    record.place = last.get("stationsname", "")
    return record
