"""What the columns of a table are: by a layout's entry, the person, their names and values."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import ChoiceError, FieldError, InputError, Option, Pieces, nearest_names, shown
from bedtide.weather.layouts import Layout, heading_of
from bedtide.weather.names import (
    KINDS,
    Heading,
    Unit,
    plain,
    read_heading,
    unit_of,
    unit_texts,
    units_of,
)
from bedtide.weather.options import Options
from bedtide.weather.record import UNITS
from bedtide.weather.text import DELIMITERS, Table, Text

_SEARCHED = 200  # lines for a header
_SEEN = 60  # values by which a unit is struck off
# bounds of the 2nd and the 98th of 100 values that weather has in its right unit
_USUAL: dict[str, tuple[float, float, float, float]] = {
    "temperature": (-50.0, 30.0, 0.0, 50.0),
    "pressure": (0.0, 3.0, 0.2, 5.0),
    "humidity": (0.0, 99.0, 20.0, 100.0),
    "wind": (0.0, 6.0, 1.0, 20.0),
    "radiation": (0.0, 20.0, 3.0, 45.0),
    "sunshine": (0.0, 6.0, 3.0, 24.0),
    "rain": (0.0, 5.0, 1.0, 150.0),
}


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


def no_header(text: Text) -> InputError:
    """What is said where no line can be a header."""
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


def drop_units_row(table: Table, mapping: dict[str, str]) -> None:
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
        table.keep(np.arange(1, len(table.lines)))
        for name, unit in found.items():
            mapping.setdefault(name, unit)


def by_name(
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


def with_units(
    table: Table, headings: Mapping[int, Heading], meanings: Mapping[str, str]
) -> tuple[dict[int, Heading], list[str], list[InputError]]:
    """Headings with a unit, by the list of columns above or the person; others are asked for."""
    found: dict[int, Heading] = {}
    errors: list[InputError] = []
    notes: list[str] = []
    for i, heading in headings.items():
        name, key = table.header[i], heading.key
        unit = heading.unit or unit_of(key, meanings.get(plain(name), ""))
        if key.startswith("rh_"):
            values = table.numbers(i)
            if len(values) >= 10 and 0.0 < values.max() <= 1.0:
                if unit is not None and unit.text == "%" and "%" in name:
                    problem = f"its largest value is {values.max():g}, so it can't be percent"
                    hint = Pieces(
                        "If 1 stands for 100 %, say  ", Option("columns", {name: "share"})
                    )
                    where = f"{table.name}, column {name}"
                    wanted = "humidity up to 100"
                    errors.append(FieldError(where, problem, expected=wanted, hint=hint))
                unit = unit_of(key, "share")
                notes.append(f"{name} of {table.name} runs from 0 to 1; 1 is 100 %.")
            unit = unit or unit_of(key, "%")
        if unit is None:
            errors.append(_no_unit(table, i, key))
        found[i] = replace(heading, unit=unit)
    return found, notes, errors


def by_entry(
    table: Table, layout: Layout, meanings: Mapping[str, str], options: Options
) -> tuple[dict[int, Heading], list[str], list[InputError]]:
    """Meaning of each column by the entry, after what the person says of it."""
    wanted: dict[str, str] = dict(layout.columns)
    notes: list[str] = []
    errors: list[InputError] = []
    if layout.standard:
        units = options.units_of_file or _units_by_warmth(table, layout.columns)
        if units == "standard":
            wanted = {**wanted, **layout.standard}
        notes.append(f"The units of {table.name} were taken as {units}.")
    found: dict[int, Heading] = {}
    mine = {name.strip().lower(): meaning for name, meaning in (options.columns or {}).items()}
    for i, name in enumerate(table.header):
        if name.lower() in mine:
            given = {name: mine[name.lower()]}
            found[i] = read_heading(name, given, where=table.name)
    for name, meaning in wanted.items():
        at = table.at(name)
        if at is None or at in found:
            continue
        heading = heading_of(meaning)
        unit = heading.unit
        if unit is None:
            header = table.header[at]
            texts = re.findall(r"[(\[]([^)\]]*)[)\]]", header)
            texts.append(meanings.get(plain(header), ""))
            unit = next((u for text in texts if (u := unit_of(heading.key, text))), None)
        if unit is None:
            errors.append(_no_unit(table, at, heading.key))
            continue
        found[at] = Heading(heading.key, unit, heading.height)
    measured = {at: heading for at, heading in found.items() if heading.key in UNITS}
    return measured, notes, errors


def _units_by_warmth(table: Table, columns: Mapping[str, str]) -> str:
    """Whether a file is in metric or US units, by its temperatures; refused where uncertain."""
    found = set()
    for name, meaning in columns.items():
        at = table.at(name)
        if at is None or meaning.split(",")[0] not in ("tmax", "temperature"):
            continue
        values = table.numbers(at)
        if len(values) and values.max() > 60.0:
            found.add("standard")
        elif len(values) >= 180 and 15.0 <= values.max() <= 50.0:
            found.add("metric")
    if len(found) == 1:
        return found.pop()
    raise FieldError(
        table.name,
        "it does not say its units, and its temperatures do not settle them",
        expected="metric (C, mm) or standard (F, in)",
        hint=Pieces("Say which, such as  ", Option("units_of_file", "metric")),
    )


def _no_unit(table: Table, i: int, key: str) -> InputError:
    """What units there are, those that the values contradict struck off."""
    name, values = table.header[i], table.numbers(i)
    possible = [unit.text for unit in units_of(key) if _fits(key, values, unit)]
    asked = possible or unit_texts(key)
    given = f"; its values run from {values.min():g} to {values.max():g}" if len(values) else ""
    return FieldError(
        f"{table.name}, column {name}",
        f"its unit is not given{given}",
        expected=f'one of {", ".join(asked)} in the header, such as "{name} (UNIT)"',
        hint=Pieces(
            "Or say  ",
            Option("columns", {name: "UNIT"}),
            f"  or put a line  # units: {name} = UNIT  above the header",
        ),
    )


def _fits(key: str, values: NDArray[np.float64], unit: Unit) -> bool:
    """Whether values could be weather in a unit."""
    if len(values) < _SEEN:
        return True
    low, low_most, high_least, high = _USUAL[KINDS[key]]
    few, most = np.percentile(values * unit.factor + unit.offset, (2, 98))
    return bool(low <= few <= low_most and high_least <= most <= high)
