"""A table of your own: one header line, one row a day or several, units in the header.

Lines before the header that start with ``#`` may say where the station stands and what the columns
are measured in::

    # place: Home
    # latitude: 51.9
    # elevation: 30 m
    # wind height: 10 m
    # rain day: to morning
    # units: tmax = C, tmin = C, rain = mm
"""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from bedtide.errors import ChoiceError, FieldError, InputError, Option, Pieces, nearest_names, shown
from bedtide.weather.layouts import make_record, read_times
from bedtide.weather.names import Heading, plain, read_heading, unit_of
from bedtide.weather.options import Options
from bedtide.weather.preamble import read_preamble
from bedtide.weather.record import UNITS, Record
from bedtide.weather.sheet import Sheet, no_unit, one_station, open_sheet
from bedtide.weather.text import DELIMITERS, Text

_NAME = "plain table"
_SEARCHED = 200  # lines for a header
_UNIVERSAL = re.compile(r"utc|gmt|universal|zulu", re.IGNORECASE)


def find_header(text: Text, options: Options) -> tuple[int, str] | None:
    """The first line that names a date and a weather column, and its delimiter."""
    for i, line in enumerate(text.lines[:_SEARCHED]):
        if not line.strip() or line.startswith("#") or len(line) > 20_000:
            continue
        scores = {d: _known(line, d, options) for d in DELIMITERS if d in line}
        best = max(scores, key=scores.__getitem__, default="")
        if best and scores[best] >= 2:
            return i, best
    return None


def _known(line: str, delimiter: str, options: Options) -> int:
    """How many headings of a line are known; 0 where none of them is a date."""
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return 0
    mapping = options.columns or {}
    given = {name.strip().lower() for name in mapping}
    keys = {read_heading(cell).key for cell in cells}
    mapped = sum(cell.strip().lower() in given for cell in cells)
    dated = "date" in keys or {"year", "month", "day"} <= keys or {"year", "doy"} <= keys
    dated = dated or any(v.strip().lower() == "date" for v in mapping.values())
    quantities = len(keys & set(UNITS))
    return (quantities + mapped + 1) if dated and quantities + mapped else 0


def read_plain(text: Text, options: Options) -> Record:
    """Read the table."""
    found = find_header(text, options)
    if found is None:
        raise _no_header(text)
    line, delimiter = found
    said = read_preamble(text, line)
    errors = list(said.errors)
    mapping = {**said.units, **(options.columns or {})}
    sheet = open_sheet(text, line, delimiter)
    text.lines.clear()  # 100 MB of them are better let go
    _drop_units_row(sheet, mapping)
    headings, wrong = _headings(sheet, mapping, strict=options.every_column)
    errors += wrong
    names = sheet.table.header
    station = next((i for i, h in headings.items() if h.key == "station"), None)
    if station is not None and (len(set(sheet.table.columns[station])) > 1 or options.station):
        one_station(sheet, names[station], options)
    date = {h.key: names[i] for i, h in headings.items()}
    if "date" in date and "hour" in date:
        date["clock"] = date["hour"]
    stamps = read_times(sheet, date, {}, options.date_order)
    in_span = options.in_span(stamps.times, clock=stamps.clock)
    if in_span.any():  # what is wrong outside the days that are wanted does not count
        sheet.keep(np.flatnonzero(in_span))
        stamps = stamps.taken(in_span)
    measured = {i: h for i, h in headings.items() if h.key in UNITS}
    measured, notes, wrong = _with_units(sheet, measured, said.meanings)
    record = make_record(sheet, _NAME, stamps, measured, options)
    record.errors = [*errors, *wrong, *record.errors]
    record.notes += notes
    record.ignored = [name for i, name in enumerate(names) if not headings[i].key and name.strip()]
    heights = [h.height for h in headings.values() if h.key == "wind_speed" and h.height]
    record.wind_height = said.wind_height or (heights[0] if heights else None)
    record.latitude, record.longitude = said.latitude, said.longitude
    record.elevation, record.place = said.elevation, said.place
    record.ends = stamps.ends
    record.rain_day = said.rain_day or "midnight"
    record.rain_day_said = not record.daily or said.rain_day is not None
    if stamps.offset is None and _UNIVERSAL.search(date.get("date", "") + date.get("clock", "")):
        record.offset = np.zeros(len(record.times))
    elif stamps.offset is None and said.offset is not None:
        record.offset = np.full(len(record.times), said.offset)
    return record


def _no_header(text: Text) -> InputError:
    first = next((line for line in text.lines if line.strip() and not line.startswith("#")), "")
    problem = "no line names a date and a weather column; the first line is "
    wanted = "a header such as  date, tmax (C), tmin (C), rain (mm)"
    hint = Pieces(
        "Name the columns of other headers with  ",
        Option("columns"),
        " , or describe the file in a layout of your own:  ",
        Option("layout", "MINE.toml"),
    )
    problem += f'"{shown(first, most=60)}"'
    return FieldError(text.name, problem, expected=wanted, hint=hint)


def _drop_units_row(sheet: Sheet, mapping: dict[str, str]) -> None:
    """Take a row of units below the header into the mapping."""
    table = sheet.table
    if not len(table.lines):
        return
    first = [column[0].strip() for column in table.columns]
    found = {}
    for name, cell in zip(table.header, first, strict=True):
        key = read_heading(name, mapping, where=table.name).key
        if cell and key in UNITS and unit_of(key, cell.strip("()[]")):
            found[name] = cell.strip("()[]")
    if len(found) >= 2 or (found and not any(re.match(r"[+-]?\d", cell) for cell in first)):
        sheet.keep(np.arange(1, len(table.lines)))
        for name, unit in found.items():
            mapping.setdefault(name, unit)


def _headings(
    sheet: Sheet, mapping: Mapping[str, str], *, strict: bool
) -> tuple[dict[int, Heading], list[InputError]]:
    """Meaning of each column; wrong or doubled ones are reported."""
    table = sheet.table
    errors: list[InputError] = []
    headings: dict[int, Heading] = {}
    for i, name in enumerate(table.header):
        try:
            headings[i] = read_heading(name, mapping, where=table.name)
        except ChoiceError as error:
            errors.append(error)
            headings[i] = Heading("")
    lower = [name.lower() for name in table.header]
    for name in mapping:
        if strict and name.strip().lower() not in lower:
            close = nearest_names(name, table.header)
            wanted = f"one of: {', '.join(n for n in table.header[:12] if n)}"
            hint = f"Closest: {', '.join(close)}" if close else ""
            problem = f'there is no column "{name}"'
            errors.append(FieldError(table.name, problem, expected=wanted, hint=hint))
    if sum(name in lower for name in ("date", "time")) == 2:
        # a date beside a clock: the clock is not a second date
        clock = lower.index("time")
        headings[clock] = replace(headings[clock], key="hour")
    seen: dict[str, str] = {}
    for i, heading in headings.items():
        key, name = heading.key, table.header[i]
        if not key or key == "station":
            continue
        if key in seen:
            problem = f'"{seen[key]}" and "{name}" can both be {key}'
            wanted = "one column for each quantity"
            pass_over = Pieces("Say which to pass over:  ", Option("columns", {name: "ignore"}))
            errors.append(FieldError(table.name, problem, expected=wanted, hint=pass_over))
        seen.setdefault(key, name)
    return headings, errors


def _with_units(
    sheet: Sheet, headings: Mapping[int, Heading], meanings: Mapping[str, str]
) -> tuple[dict[int, Heading], list[str], list[InputError]]:
    """Headings with a unit, by the list of columns above or the person; others are asked for."""
    found: dict[int, Heading] = {}
    errors: list[InputError] = []
    notes: list[str] = []
    for i, heading in headings.items():
        name, key = sheet.table.header[i], heading.key
        unit = heading.unit or unit_of(key, meanings.get(plain(name), ""))
        if key.startswith("rh_"):
            values = sheet.numbers(i)
            if len(values) >= 10 and 0.0 < values.max() <= 1.0:
                if unit is not None and unit.text == "%" and "%" in name:
                    problem = f"its largest value is {values.max():g}, so it can't be percent"
                    hint = Pieces(
                        "If 1 stands for 100 %, say  ", Option("columns", {name: "share"})
                    )
                    where = f"{sheet.table.name}, column {name}"
                    wanted = "humidity up to 100"
                    errors.append(FieldError(where, problem, expected=wanted, hint=hint))
                unit = unit_of(key, "share")
                notes.append(f"{name} of {sheet.table.name} runs from 0 to 1; 1 is 100 %.")
            unit = unit or unit_of(key, "%")
        if unit is None:
            errors.append(no_unit(sheet, i, key))
        found[i] = replace(heading, unit=unit)
    return found, notes, errors
