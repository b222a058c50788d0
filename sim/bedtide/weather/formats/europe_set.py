"""The European station set: one element a file."""

from __future__ import annotations

import numpy as np

from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    failed,
    find_header,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["NAME", "read", "recognise"]

NAME = "European station set"
_EUROPEAN = {
    "TX": Field("TX", "tmax", "0.1 degC", 0.1),
    "TN": Field("TN", "tmin", "0.1 degC", 0.1),
    "RR": Field("RR", "rain", "0.1 mm", 0.1),
    "HU": Field("HU", "rh_mean", "%"),
    "FG": Field("FG", "wind_speed", "0.1 m/s", 0.1),
    "SS": Field("SS", "sunshine", "0.1 h", 0.1),
    "QQ": Field("QQ", "solar_radiation", "W/m2", 0.0864),
}


def _european_element(text: Text) -> tuple[int, str] | None:
    for element in _EUROPEAN:
        at = find_header(text, ("SOUID", "DATE", element, f"Q_{element}"), ",", most=60)
        if at is not None:
            return at, element
    return None


def recognise(text: Text, options: Options) -> bool:
    """Whether there is a header with a source, a date and one element with its quality."""
    return _european_element(text) is not None


def read(text: Text, options: Options) -> Record:
    """Tenths below a long preamble; -9999 and quality 9 are missing, quality 1 is suspect."""
    found = _european_element(text)
    assert found is not None
    header, element = found
    sheet = open_sheet(text, header, ",")
    if sheet.has("STAID"):
        one_station(sheet, "STAID", options)
    stamps = parse_stamps(sheet.column("DATE"), sheet.lines, source=text.name, name="DATE")
    field = _EUROPEAN[element]
    record = make_record(sheet, NAME, stamps.times, [field], missing=("-9999",), options=options)
    record.errors += stamps.errors
    quality = sheet.column(f"Q_{element}")
    failed(
        record,
        field.quantity,
        np.asarray([q == "1" for q in quality], dtype=bool),
        "marked as suspect",
    )
    gone = np.asarray([q == "9" for q in quality], dtype=bool)
    record.columns[field.quantity].values[gone] = np.nan
    if element == "RR":
        record.notes.append(
            f"Which 24 hours the rain of {record.source} covers differs by country; it was left "
            "on its date."
        )
    return record
