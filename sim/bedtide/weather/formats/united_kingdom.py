"""Daily tables of the UK archive; monthly files of its historic stations are refused."""

from __future__ import annotations

import re

import numpy as np

from bedtide.errors import FileError
from bedtide.weather.dates import parse_stamps
from bedtide.weather.formats.common import (
    Field,
    Sheet,
    find_header,
    make_record,
    one_station,
    open_sheet,
)
from bedtide.weather.formats.totals import share_out
from bedtide.weather.numbers import numbers
from bedtide.weather.record import Options, Record
from bedtide.weather.text import Text

__all__ = ["MONTHS_NAME", "NAME", "read", "read_months", "recognise", "recognise_months"]

NAME = "daily data (UK archive)"
MONTHS_NAME = "monthly data (UK historic stations)"
_UK_RAIN = ("ob_date", "ob_day_cnt", "prcp_amt")
_UK_TEMPERATURE = ("ob_end_time", "max_air_temp", "min_air_temp")


def _uk_header(text: Text) -> tuple[int, bool] | None:
    for names, rain in ((_UK_RAIN, True), (_UK_TEMPERATURE, False)):
        at = find_header(text, names, ",", most=400)
        if at is not None:
            return at, rain
    return None


def recognise(text: Text, options: Options) -> bool:
    """Whether there is the header of the archive's rain or temperature table."""
    return _uk_header(text) is not None


def read(text: Text, options: Options) -> Record:
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
    name = "ob_date" if rain else "ob_end_time"
    stamps = parse_stamps(sheet.column(name), sheet.lines, source=text.name, name=name)
    days = stamps.times.astype("datetime64[D]").astype("datetime64[s]")
    fields = [Field("prcp_amt", "rain", "mm")]
    if not rain:
        fields = [Field("max_air_temp", "tmax", "degC"), Field("min_air_temp", "tmin", "degC")]
    record = make_record(sheet, NAME, days, fields, missing=("-999",), options=options)
    record.errors += stamps.errors
    record.rain_day = "to morning" if rain else "midnight"
    if rain:
        texts = {"ob_day_cnt": sheet.column("ob_day_cnt")}
        counts, wrong, _ = numbers(texts, sheet.lines, source=text.name, decimal=".")
        record.errors += wrong
        period = np.nan_to_num(counts["ob_day_cnt"], nan=1.0)
        if not record.errors:
            amount = np.where(period > 1, record.columns["rain"].values, np.nan)
            record.errors += share_out(record, amount, period, options.multi_day)
    else:
        _merge_halves(record)
    _uk_place(text, header, record)
    return record


def _keep_uk(sheet: Sheet) -> None:
    """The first version of a value, and no trial data."""
    keep = np.ones(len(sheet.lines), dtype=bool)
    if sheet.has("version_num"):
        keep &= np.asarray(
            [value in ("1", "") for value in sheet.column("version_num")], dtype=bool
        )
    if sheet.has("src_id"):
        keep &= np.asarray([value != "99999" for value in sheet.column("src_id")], dtype=bool)
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


def recognise_months(text: Text, options: Options) -> bool:
    """Whether it is a file of monthly values of a UK historic station."""
    return any(_UK_MONTH_HEADER.match(line) for line in text.lines[:20])


def read_months(text: Text, options: Options) -> Record:
    """Refused: a daily model needs days."""
    raise FileError(
        text.name,
        "it holds one line a month, of a UK historic station",
        expected="daily or hourly weather",
        hint="The archive's daily tables of rain and of temperature can be read",
    )
