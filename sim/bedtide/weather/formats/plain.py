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
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import (
    ChoiceError,
    FieldError,
    InputError,
    Option,
    Pieces,
    RangeError,
    choice,
    nearest_names,
    shown,
)
from bedtide.weather.dates import Stamps, parse_stamps, stamps_from_columns
from bedtide.weather.formats.common import Format, note_traces, pick_station
from bedtide.weather.names import Heading, read_heading, unit_of, unit_texts
from bedtide.weather.options import OPTIONS, RAIN_DAYS, Options
from bedtide.weather.record import UNITS, Column, Record
from bedtide.weather.text import DELIMITERS, Table, Text, numbers, split_table

_NAME = "plain table"
_SEARCHED = 200  # lines for a header
_UNIVERSAL = re.compile(r"utc|gmt|universal|zulu", re.IGNORECASE)
_BARE = re.compile(
    r'\s*"?(?P<name>latitude|lat|elevation|altitude)"?\s*(?:\((?:m|deg\w*|°)\))?\s*[:,;=\t]\s*'
    r'(?P<value>"?[^,;\t]+?"?)[\s,;]*$',
    re.IGNORECASE,
)
_MEASURED = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([A-Za-z]*)")


def read_comments(text: Text, header_line: int) -> tuple[dict[str, Any], list[InputError]]:
    """What the lines above the header say, and what is wrong with it."""
    said: dict[str, Any] = {}
    errors: list[InputError] = []
    for number, line in enumerate(text.lines[:header_line], start=1):
        if not line.startswith("#"):
            _bare(line, said)
            continue
        if ":" not in line:
            continue
        name, value = (part.strip() for part in line.lstrip("# ").split(":", 1))
        name = name.lower().replace("_", " ")
        value = value.rstrip(",; ")
        where = f"{text.name}, line {number}"
        try:
            if name in ("latitude", "lat"):
                said["latitude"] = _latitude(value, where)
            elif name in ("elevation", "altitude", "elev", "alt", "height above sea"):
                said["elevation"] = _metres(value, where, "elevation")
            elif name in ("wind height", "height of wind", "wind measured at"):
                said["wind height"] = _metres(value, where, "wind_height")
            elif name in ("place", "station", "location", "name"):
                said["place"] = value
            elif name in ("rain day", "rain"):
                said["rain day"] = choice(value, RAIN_DAYS, where=f"{where}, {name}")
            elif name == "units":
                pairs = [pair.split("=", 1) for pair in value.split(",") if "=" in pair]
                said["units"] = {left.strip(): right.strip() for left, right in pairs}
        except InputError as error:
            errors.append(error)
    return said, errors


def _bare(line: str, said: dict[str, Any]) -> None:
    """Place from a line of a preamble without ``#``, such as ``Latitude,51.9``; else nothing."""
    match = _BARE.match(line)
    if match is None:
        return
    value = match["value"].strip(' "')
    try:
        if match["name"].lower().startswith("lat"):
            said.setdefault("latitude", _latitude(value, ""))
        else:
            said.setdefault("elevation", _metres(value, "", "elevation"))
    except InputError:
        return


def _measured(value: str, where: str) -> tuple[float, str]:
    match = _MEASURED.fullmatch(value)
    if match is None:
        raise FieldError(where, f'"{value}" is not a number', expected="such as 51.9 or 30 m")
    return float(match.group(1).replace(",", ".")), match.group(2).lower()


def _latitude(value: str, where: str) -> float:
    degrees, side = _measured(value, where)
    if side not in ("", "n", "s", "north", "south", "degrees", "deg"):
        raise FieldError(where, f'"{value}" is not a latitude', expected="such as 51.9 or 33.9 S")
    degrees = -degrees if side.startswith("s") else degrees
    if abs(degrees) > 90:
        raise RangeError(where, f"latitude {value} is out of range", expected="between -90 and 90")
    return degrees


def _metres(value: str, where: str, option: str) -> float:
    low, high = OPTIONS[option].bounds
    number, unit = _measured(value, where)
    if unit not in ("", "m", "metres", "meters", "ft", "feet"):
        raise FieldError(where, f'"{value}" is not a height', expected="such as 30 m or 100 ft")
    metres = number * 0.3048 if unit.startswith("f") else number
    if not low <= metres <= high:
        raise RangeError(
            where, f"{value} is out of range", expected=f"between {low:g} and {high:g} m"
        )
    return metres


def read(text: Text, options: Options) -> Record:
    """Read the table."""
    found = _find_header(text, options)
    if found is None:
        raise _no_header(text)
    line, delimiter = found
    said, errors = read_comments(text, line)
    mapping = {**said.pop("units", {}), **(options.columns or {})}
    table = split_table(text, line, delimiter)
    errors += table.errors
    _drop_units_row(table, mapping)
    headings, wrong = _headings(table, mapping, strict=options.every_column)
    errors += wrong
    keep = _station(table, headings, options)
    columns = [_taken(column, keep) for column in table.columns]
    lines = table.lines if keep is None else table.lines[keep]
    stamps = _times(table, headings, columns, lines, options)
    errors += stamps.errors
    daily = not stamps.clock or _one_a_day(stamps, headings)
    times = stamps.times
    if daily:  # 24 o'clock of a day is still that day
        early = np.timedelta64(1 if stamps.ends else 0, "s")
        times = (times - early).astype("datetime64[D]").astype("datetime64[s]")
    named = {table.header[i]: columns[i] for i, heading in headings.items() if heading.key in UNITS}
    values, wrong, traces = numbers(
        named,
        lines,
        source=text.name,
        decimal=options.decimal,
        missing=options.missing,
        traces=[table.header[i] for i, h in headings.items() if h.key in ("rain", "rain_counter")],
    )
    errors += wrong
    made: dict[str, Column] = {}
    for i, heading in headings.items():
        if heading.key in UNITS and heading.unit is not None:
            unit, key = heading.unit, heading.key
            if daily and key == "rain_counter":
                key = "rain"
            ours = values[table.header[i]] * unit.factor + unit.offset
            made[key] = Column(
                key, table.header[i], unit.text, ours, unit.factor, unit.offset, unit.rate
            )
    heights = [h.height for h in headings.values() if h.key == "wind_speed" and h.height]
    record = Record(
        text.name,
        _NAME,
        times,
        lines,
        made,
        daily=daily,
        ignored=[
            name for i, name in enumerate(table.header) if not headings[i].key and name.strip()
        ],
        notes=table.notes,
        errors=errors,
    )
    note_traces(record, traces)
    if "wind height" in said:
        record.wind_height = said["wind height"]
    elif heights:
        record.wind_height = heights[0]
    record.latitude, record.elevation = said.get("latitude"), said.get("elevation")
    record.place = said.get("place", "")
    record.rain_day = said.get("rain day", "midnight")
    record.offset, record.ends = stamps.offset, stamps.ends
    dated = [table.header[i] for i, h in headings.items() if h.key == "date"]
    if stamps.offset is None and any(_UNIVERSAL.search(name) for name in dated):
        record.offset = np.zeros(len(times))
    return record


def _find_header(text: Text, options: Options) -> tuple[int, str] | None:
    best: tuple[int, int, str] | None = None
    for i, line in enumerate(text.lines[:_SEARCHED]):
        if not line.strip() or line.startswith("#") or len(line) > 20_000:
            continue
        for delimiter in DELIMITERS:
            if delimiter not in line:
                continue
            known = _known(line, delimiter, options)
            if known >= 2 and (best is None or known > best[0]):
                best = (known, i, delimiter)
        if best is not None:
            return best[1], best[2]
    return None


def _known(line: str, delimiter: str, options: Options) -> int:
    """How many headings of a line are known; 0 where none of them is a date."""
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return 0
    mapping = options.columns or {}
    given = {name.strip().lower() for name in mapping}
    keys = set()
    mapped = 0
    for cell in cells:
        keys.add(read_heading(cell).key)
        mapped += cell.strip().lower() in given
    dated = "date" in keys or {"year", "month", "day"} <= keys
    dated = dated or any(v.strip().lower() == "date" for v in mapping.values())
    quantities = len(keys & set(UNITS))
    return (quantities + mapped + 1) if dated and quantities + mapped else 0


def _no_header(text: Text) -> InputError:
    first = next((line for line in text.lines if line.strip() and not line.startswith("#")), "")
    return FieldError(
        text.name,
        f'no line names a date and a weather column; the first line is "{shown(first, most=60)}"',
        expected="a header such as  date, tmax (C), tmin (C), rain (mm)",
        hint=Pieces("Name the columns of other headers with  ", Option("columns")),
    )


def _drop_units_row(table: Table, mapping: dict[str, str]) -> None:
    """Take a row of units below the header into the mapping."""
    if not len(table.lines):
        return
    first = [column[0].strip() for column in table.columns]
    found = {}
    for name, cell in zip(table.header, first, strict=True):
        key = read_heading(name, mapping, where=table.name).key
        if cell and key in UNITS and unit_of(key, cell.strip("()[]")):
            found[name] = cell.strip("()[]")
    if len(found) >= 2 or (found and not any(re.match(r"[+-]?\d", cell) for cell in first)):
        table.columns = [column[1:] for column in table.columns]
        table.lines = table.lines[1:]
        for name, unit in found.items():
            mapping.setdefault(name, unit)


def _headings(
    table: Table, mapping: Mapping[str, str], *, strict: bool
) -> tuple[dict[int, Heading], list[InputError]]:
    """Meaning of each column; wrong or doubled ones are reported."""
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
            errors.append(
                FieldError(
                    table.name,
                    f'there is no column "{name}"',
                    expected=f"one of: {', '.join(n for n in table.header[:12] if n)}",
                    hint=f"Closest: {', '.join(close)}" if close else "",
                )
            )
    if sum(name in lower for name in ("date", "time")) == 2:
        # a date beside a clock: the clock is not a second date
        clock = lower.index("time")
        headings[clock] = replace(headings[clock], key="hour")
    seen: dict[str, int] = {}
    for i, heading in headings.items():
        key = heading.key
        if not key or key == "station":
            continue
        if key in seen:
            errors.append(
                FieldError(
                    table.name,
                    f'"{table.header[seen[key]]}" and "{table.header[i]}" can both be {key}',
                    expected="one column for each quantity",
                    hint=Pieces(
                        "Say which to pass over:  ",
                        Option("columns", {table.header[i]: "ignore"}),
                    ),
                )
            )
        seen.setdefault(key, i)
        if key in UNITS and heading.unit is None:
            unit = unit_texts(key)[0]
            errors.append(
                FieldError(
                    f"{table.name}, column {table.header[i]}",
                    "its unit is not given",
                    expected=f"one of {', '.join(unit_texts(key))} in the header, such as "
                    f'"{table.header[i]} ({unit})"',
                    hint=Pieces(
                        "Or say  ",
                        Option("columns", {table.header[i]: unit}),
                        f"  or put a line  # units: {table.header[i]} = {unit}  above the header",
                    ),
                )
            )
    return headings, errors


def _station(
    table: Table, headings: Mapping[int, Heading], options: Options
) -> NDArray[np.int64] | None:
    """Rows of the station wanted; None where all rows are of one."""
    for i, heading in headings.items():
        if heading.key != "station":
            continue
        names = [name.strip() for name in table.columns[i]]
        if len(set(names)) < 2 and options.station is None:
            continue
        wanted = pick_station(names, options, where=f"{table.name}, column {table.header[i]}")
        return np.flatnonzero([name == wanted for name in names])
    return None


def _one_a_day(stamps: Stamps, headings: Mapping[int, Heading]) -> bool:
    """Whether rows with a clock time are days all the same: extremes of the day, one row each."""
    keys = {heading.key for heading in headings.values()}
    days = stamps.times.astype("datetime64[D]")
    return {"tmax", "tmin"} <= keys and len(np.unique(days)) == len(days)


def _taken(column: Sequence[str], keep: NDArray[np.int64] | None) -> Sequence[str]:
    return column if keep is None else [column[i] for i in keep]


def _times(
    table: Table,
    headings: Mapping[int, Heading],
    columns: Sequence[Sequence[str]],
    lines: NDArray[np.int64],
    options: Options,
) -> Stamps:
    """Time of each row, from one, two, three or four columns."""
    at = {heading.key: i for i, heading in headings.items()}
    source = table.name
    if "date" in at:
        name = table.header[at["date"]]
        texts = columns[at["date"]]
        if "hour" in at:
            hours = [text.strip() for text in columns[at["hour"]]]
            if all(len(text) <= 2 for text in hours):
                hours = [f"{text}:00" for text in hours]
            texts = [f"{text.strip()} {hour}" for text, hour in zip(texts, hours, strict=True)]
        return parse_stamps(texts, lines, source=source, name=name, order=options.date_order)
    names: tuple[str, ...] = ("year", "month", "day", "hour")
    parts = {name: columns[at[name]] for name in names if name in at}
    return stamps_from_columns(parts, lines, source=source)


FORMATS = (Format(_NAME, lambda text, options: _find_header(text, options) is not None, read),)
