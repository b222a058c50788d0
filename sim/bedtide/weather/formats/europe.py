"""Daily files of the European station set and of four national services.

The layouts of the Netherlands and the United Kingdom are from memory.
"""

from __future__ import annotations

import re

import numpy as np

from bedtide.errors import FieldError, FileError
from bedtide.weather.formats.common import (
    Field,
    Format,
    Sheet,
    dated_record,
    failed,
    find_header,
    note_traces,
    one_station,
    open_sheet,
    place_from_columns,
    share_totals,
)
from bedtide.weather.options import Options
from bedtide.weather.record import Record
from bedtide.weather.text import Text

_EUROPEAN_NAME = "European station set"
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


def _is_european(text: Text, options: Options) -> bool:
    """Whether there is a header with a source, a date and one element with its quality."""
    return _european_element(text) is not None


def _read_european(text: Text, options: Options) -> Record:
    """Tenths below a long preamble; -9999 and quality 9 are missing, quality 1 is suspect."""
    found = _european_element(text)
    assert found is not None
    header, element = found
    sheet = open_sheet(text, header, ",")
    if sheet.has("STAID"):
        one_station(sheet, "STAID", options)
    field, quality = _EUROPEAN[element], f"Q_{element}"
    record = dated_record(sheet, _EUROPEAN_NAME, "DATE", [field], options, missing=("-9999",))
    failed(record, field.quantity, sheet.marked(quality, "1"), "marked as suspect")
    record.columns[field.quantity].values[sheet.marked(quality, "9")] = np.nan
    if element == "RR":
        record.notes.append(
            f"Rain of {record.source}: which 24 hours a date covers differs by country; it was "
            "left on its date."
        )
    return record


_FRENCH_NAME = "daily data (French service)"
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


def _is_french(text: Text, options: Options) -> bool:
    """Whether the header is that of the French daily files."""
    return find_header(text, ("NUM_POSTE", "AAAAMMJJ"), ";", most=3) is not None


def _read_french(text: Text, options: Options) -> Record:
    """A quality column after each value: 2 is doubtful and left out."""
    header = find_header(text, ("NUM_POSTE", "AAAAMMJJ"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    station = one_station(sheet, "NUM_POSTE", options)
    record = dated_record(sheet, _FRENCH_NAME, "AAAAMMJJ", _FRENCH, options)
    for field in _FRENCH:
        bad = sheet.marked(f"Q{field.name}", "2")
        failed(record, field.quantity, bad, "the service marks them doubtful")
    place_from_columns(record, sheet)
    record.place = next(iter(sheet.column("NOM_USUEL")), "") or station
    record.rain_day = "from morning"
    return record


_GERMAN_NAME = "daily climate (German service)"
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


def _is_german(text: Text, options: Options) -> bool:
    """Whether the header is that of the German daily files."""
    return find_header(text, ("STATIONS_ID", "MESS_DATUM"), ";", most=3) is not None


def _read_german(text: Text, options: Options) -> Record:
    """Padded fields between semicolons, -999 for missing, ``eor`` at the end of a line."""
    header = find_header(text, ("STATIONS_ID", "MESS_DATUM"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    station = one_station(sheet, "STATIONS_ID", options)
    record = dated_record(sheet, _GERMAN_NAME, "MESS_DATUM", _GERMAN, options, missing=("-999",))
    cut = np.flatnonzero(~sheet.marked("eor", "eor"))
    if sheet.has("eor") and len(cut):
        where = f"{text.name}, line {sheet.lines[cut[0]]}"
        record.errors.append(FieldError(where, "it does not end with eor", expected="a whole line"))
    record.rain_day = "from morning"
    record.place = f"station {station}"
    # of two files of a station the one that ends first is the finished one
    good = record.times[~np.isnat(record.times)]
    record.rank = int(good.max().astype("datetime64[D]").astype(np.int64)) if len(good) else 0
    return record


def _is_german_place(text: Text, options: Options) -> bool:
    """Whether it is the file that says where a German station stands."""
    return (
        find_header(text, ("Stations_id", "Stationshoehe", "Stationsname"), ";", most=3) is not None
    )


def _read_german_place(text: Text, options: Options) -> Record:
    """The last place that is given, and no weather."""
    header = find_header(text, ("Stations_id", "Stationshoehe"), ";", most=3) or 0
    sheet = open_sheet(text, header, ";")
    times = np.empty(0, dtype="datetime64[s]")
    record = Record(text.name, _GERMAN_NAME, times, np.empty(0, dtype=np.int64), {})
    if not len(sheet.lines):
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


_DUTCH_NAME = "daily data (Netherlands service)"
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


def _is_dutch(text: Text, options: Options) -> bool:
    """Whether there is a header that starts with STN,YYYYMMDD, with or without a ``#``."""
    return _dutch_header(text) is not None


def _read_dutch(text: Text, options: Options) -> Record:
    """Tenths; rain or sunshine of -1 is less than 0.05 and counts as none."""
    header = _dutch_header(text)
    assert header is not None
    lines = list(text.lines)
    lines[header] = lines[header].lstrip("# ")
    sheet = open_sheet(Text(text.name, lines, text.notes, text.whole), header, ",")
    station = one_station(sheet, "STN", options)
    traces = 0
    for element in ("RH", "SQ"):
        at = sheet.by_name.get(element.lower())
        if at is not None:
            column = sheet.column(element)
            traces += column.count("-1") if element == "RH" else 0
            sheet.table.columns[at] = ["0" if value == "-1" else value for value in column]
    record = dated_record(sheet, _DUTCH_NAME, "YYYYMMDD", _DUTCH, options)
    note_traces(record, traces)
    record.place = f"station {station}"
    return record


_UK_NAME = "daily data (UK archive)"
_UK_MONTHS_NAME = "monthly data (UK historic stations)"
_UK_RAIN = ("ob_date", "ob_day_cnt", "prcp_amt")
_UK_TEMPERATURE = ("ob_end_time", "max_air_temp", "min_air_temp")


def _uk_header(text: Text) -> tuple[int, bool] | None:
    for names, rain in ((_UK_RAIN, True), (_UK_TEMPERATURE, False)):
        at = find_header(text, names, ",", most=400)
        if at is not None:
            return at, rain
    return None


def _is_uk(text: Text, options: Options) -> bool:
    """Whether there is the header of the archive's rain or temperature table."""
    return _uk_header(text) is not None


def _read_uk(text: Text, options: Options) -> Record:
    """Rows between the lines ``data`` and ``end data`` where these stand; NA for missing."""
    found = _uk_header(text)
    assert found is not None
    header, rain = found
    last = next(
        (
            i
            for i, line in enumerate(text.lines)
            if i > header and line.strip().lower().startswith("end data")
        ),
        None,
    )
    sheet = open_sheet(text, header, ",", last=last)
    if last is None and text.lines[header - 1].strip().lower() == "data":
        sheet.table.errors.append(
            FileError(text.name, 'there is no line "end data"', hint="It may have been cut short")
        )
    _keep_uk(sheet)
    if sheet.has("src_id"):
        one_station(sheet, "src_id", options)
    fields = [Field("prcp_amt", "rain", "mm")]
    if not rain:
        fields = [Field("max_air_temp", "tmax", "degC"), Field("min_air_temp", "tmin", "degC")]
    date = "ob_date" if rain else "ob_end_time"
    record = dated_record(sheet, _UK_NAME, date, fields, options, missing=("-999",))
    record.rain_day = "to morning" if rain else "midnight"
    if rain:
        share_totals(record, sheet, "ob_day_cnt", options)
    else:
        _merge_halves(record)
    _uk_place(text, header, record)
    return record


def _keep_uk(sheet: Sheet) -> None:
    """The first version of a value, and no trial data."""
    keep = np.ones(len(sheet.lines), dtype=bool)
    if sheet.has("version_num"):
        keep &= sheet.marked("version_num", "1", "")
    if sheet.has("src_id"):
        keep &= ~sheet.marked("src_id", "99999")
    sheet.keep(np.flatnonzero(keep))


def _merge_halves(record: Record) -> None:
    """One row a day from the two 12-hour rows that some stations report."""
    days, first = np.unique(record.times, return_index=True)
    if len(days) == len(record.times) or np.isnat(record.times).any():
        return
    group = np.searchsorted(days, record.times)
    for key, column in record.columns.items():
        best = np.full(len(days), np.nan)
        for i, value in zip(group, column.values, strict=True):
            best[i] = np.fmax(best[i], value) if key == "tmax" else np.fmin(best[i], value)
        column.values = best
    record.times, record.lines = days, record.lines[first]


def _uk_place(text: Text, header: int, record: Record) -> None:
    """Place from the block of metadata above the table."""
    for line in text.lines[:header]:
        cells = [cell.strip() for cell in line.split(",")]
        try:
            if cells[0] == "location" and len(cells) >= 4:
                record.latitude, record.longitude = float(cells[2]), float(cells[3])
            elif cells[0] == "height" and len(cells) >= 3:
                record.elevation = float(cells[2])
            elif cells[0] == "observation_station" and len(cells) >= 3:
                record.place = cells[2]
        except ValueError:
            continue


_UK_MONTH_HEADER = re.compile(r"\s*yyyy\s+mm\s+tmax\s+tmin\s+af\s+rain", re.IGNORECASE)


def _is_uk_months(text: Text, options: Options) -> bool:
    """Whether it is a file of monthly values of a UK historic station."""
    return any(_UK_MONTH_HEADER.match(line) for line in text.lines[:20])


def _read_uk_months(text: Text, options: Options) -> Record:
    """Refused: a daily model needs days."""
    raise FileError(
        text.name,
        "it holds one line a month, of a UK historic station",
        expected="daily or hourly weather",
        hint="The archive's daily tables of rain and of temperature can be read",
    )


FORMATS = (
    Format(_GERMAN_NAME, _is_german, _read_german),
    Format(_GERMAN_NAME, _is_german_place, _read_german_place),
    Format(_EUROPEAN_NAME, _is_european, _read_european),
    Format(_FRENCH_NAME, _is_french, _read_french),
    Format(_DUTCH_NAME, _is_dutch, _read_dutch),
    Format(_UK_NAME, _is_uk, _read_uk),
    Format(_UK_MONTHS_NAME, _is_uk_months, _read_uk_months),
)
