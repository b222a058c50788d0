"""What the columns of a table are: by what people call them, a layout's entry, the person, values.

Names and units stand in `data/weather_names.toml` and `data/weather_units.toml`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import ChoiceError, FieldError, InputError, Option, Pieces, nearest_names, shown
from bedtide.tables import read_toml
from bedtide.weather.options import Options
from bedtide.weather.record import QUANTITIES

if TYPE_CHECKING:
    from bedtide.weather.layouts import Layout
    from bedtide.weather.text import Table


@dataclass(frozen=True)
class Unit:
    """A unit of a file and how it becomes ours."""

    text: str  # as people write it
    factor: float = 1.0  # ours = factor x the file's + offset
    offset: float = 0.0
    rate: bool = True  # rows of an hourly file are to be averaged, not added up


@dataclass(frozen=True)
class Heading:
    """What a column heading says."""

    key: str  # a quantity, date, year, month, day, hour, station; empty where it is not known
    unit: Unit | None = None
    height: float | None = None  # of the gauge [m]


_UNITS: dict[str, dict[str, Unit]] = {  # by kind and spelling
    kind: {
        spelling: Unit(text, row.get("factor", 1.0), row.get("offset", 0.0), "sum" not in row)
        for text, row in rows.items()
        for spelling in row["spelled"].split()
    }
    for kind, rows in read_toml("weather_units.toml").items()
}
_KEY = {
    spelling: key
    for key, spellings in read_toml("weather_names.toml").items()
    for spelling in spellings.split()
}
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
_SIGNS = str.maketrans("²℃℉", "2cf")
_MEANING = re.compile(r"(?P<key>\w+)(?:\s*,\s*(?:(?P<factor>\d*\.?\d+)\s+)?(?P<unit>\S.*))?")
_BRACKET = re.compile(r"[(\[{]([^)\]}]*)[)\]}]")
_HEIGHT = re.compile(r"(?:\bat|@|_|\s|^)\s*(\d{1,2}(?:\.\d+)?)\s*m(?:eters?|etres?)?(?=$|[\s_,.)])")


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Lower case, letters and figures only: how two spellings of a name are compared."""
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text)
    return re.sub(r"[^\w]|_|[\u0300-\u036f]", "", text.lower())


def unit_of(key: str, text: str) -> Unit | None:
    """The unit of a quantity that a text names, or None."""
    if key not in QUANTITIES:
        return None
    kind = QUANTITIES[key].kind
    small = re.sub(r"[\s°º*^._−-]", "", text.lower().translate(_SIGNS))
    return _UNITS[kind].get(small) or _UNITS[kind].get(small.replace("/", ""))


def _units_of(key: str) -> list[Unit]:
    return list(dict.fromkeys(_UNITS[QUANTITIES[key].kind].values()))


def read_heading(text: str, wanted: Mapping[str, str] | None = None, *, where: str = "") -> Heading:
    """What a column heading means, by the person's own mapping first.

    The mapping gives a heading a quantity, a unit, both (``tmax, F``) or ``ignore``.
    """
    found = _heading(text.strip())
    for name, meaning in (wanted or {}).items():
        if name.strip().lower() == text.strip().lower():
            return _mapped(found, text, meaning, where)
    return found


def heading_of(meaning: str) -> Heading:
    """What an entry says of a column: ``rain, 0.1 mm``; without a unit the file must say it."""
    match = _MEANING.fullmatch(meaning.strip())
    key = match["key"] if match else meaning
    if match is None or key not in QUANTITIES:
        raise ValueError(f'"{meaning}" is none of {", ".join(QUANTITIES)}, with a unit')
    if match["unit"] is None:
        return Heading(key)
    unit = unit_of(key, match["unit"])
    if unit is None:
        raise ValueError(f'"{match["unit"]}" is not a unit of {key}')
    if match["factor"] is not None:
        text, factor = f"{match['factor']} {unit.text}", float(match["factor"]) * unit.factor
        unit = replace(unit, text=text, factor=factor)
    return Heading(key, unit)


def _mapped(found: Heading, text: str, meaning: str, where: str) -> Heading:
    key, unit = found.key, found.unit
    words = [word.strip() for word in meaning.split(",") if word.strip()]
    if words and words[0].lower() in ("ignore", "skip"):
        return Heading("")
    a_unit = bool(words) and unit_of(found.key, words[0]) is not None
    if words and not a_unit and (named := _key_of(words[0])):
        key, words = named, words[1:]
        if key != found.key:
            unit = None
    if words and key in QUANTITIES:
        unit = unit_of(key, words[0])
        words = words[1:] if unit else words
    if words or not key:
        known = [*QUANTITIES, "date", "ignore"]
        wrong = words[0] if words else meaning
        if key in QUANTITIES:
            expected = f"a unit of {key}: {', '.join(unit.text for unit in _units_of(key))}"
        else:
            expected = f"one of {', '.join(known)}, with a unit such as in tmax, F"
        close = nearest_names(wrong, known)
        raise ChoiceError(
            f"{where}, column {text.strip()}",
            f'"{shown(wrong)}" is not known',
            expected=expected,
            hint=f"Closest: {', '.join(close)}" if close and key not in QUANTITIES else "",
        )
    return Heading(key, unit or _evident(key), found.height)


def _key_of(word: str) -> str:
    return word if word in QUANTITIES else _KEY.get(plain(word), "")


def _evident(key: str) -> Unit | None:
    """Humidity comes in percent unless its values or the person say otherwise."""
    return unit_of(key, "%") if key.startswith("rh_") else None


def _in_brackets(key: str, text: str) -> Unit | None:
    """The unit in the last bracket of a heading that holds one."""
    parts = reversed(_BRACKET.findall(text))
    pieces = (piece for part in parts for piece in (part, *re.split(r"[,;]", part)))
    return next((unit for piece in pieces if (unit := unit_of(key, piece))), None)


@lru_cache(maxsize=4096)
def _heading(text: str) -> Heading:
    if not text:
        return Heading("")
    rest = _BRACKET.sub(" ", text).strip()
    height = None
    for part in [*_BRACKET.findall(text), rest]:
        if match := _HEIGHT.search(part.lower().strip()):
            height = float(match.group(1))
    bare = _HEIGHT.sub(" ", rest.lower())
    for name in (rest, bare):
        key, unit = _name_and_unit(name)
        if key:
            unit = _in_brackets(key, text) or unit
            if key != "wind_speed":
                height = None
            elif height is None and plain(name) in ("u2", "u10"):
                height = float(plain(name)[1:])
            if key == "et0" and unit is None:
                return Heading("")  # no more than a check, so it is not asked for
            if key == "sunshine" and unit is None and "hour" in plain(name):
                unit = unit_of(key, "h")
            return Heading(key, unit or _evident(key), height)
    return Heading("")


def _name_and_unit(name: str) -> tuple[str, Unit | None]:
    """Key of a name; where the whole is not known, of the name before a unit at its end."""
    if key := _KEY.get(plain(name), ""):
        return key, None
    tokens = [token for token in re.split(r"[\s_,;:.\-]+", name.strip()) if token]
    for count in (1, 2, 3):
        key = _KEY.get(plain("".join(tokens[:-count])), "")
        if not key and len(tokens) > count + 1 and tokens[-count - 1].lower() == "in":
            key = _KEY.get(plain("".join(tokens[: -count - 1])), "")
        if key and (unit := unit_of(key, "".join(tokens[-count:]))):
            return key, unit
    joined = plain(name)
    for cut in range(len(joined) - 1, 1, -1):
        key = _KEY.get(joined[:cut], "")
        if key and (unit := unit_of(key, joined[cut:])):
            return key, unit
    return "", None


# columns of a table ----------------------------------------------------------------------------


def by_name(
    table: Table, mapping: dict[str, str], *, strict: bool
) -> tuple[dict[int, Heading], list[str], list[InputError]]:
    """Meaning of each column, by the person or its name, a row of units below the header taken in.

    Notes, and what is wrong or doubled, come with it; `strict`: all names of the person must be
    there.
    """
    _take_units_row(table, mapping)
    errors: list[InputError] = []
    headings: dict[int, Heading] = {}
    for i, name in enumerate(table.header):
        try:
            headings[i] = read_heading(name, mapping, where=table.name)
        except ChoiceError as error:
            errors.append(error)
            headings[i] = Heading("")
    lower = [name.lower() for name in table.header]
    for name in mapping if strict else ():
        if name.strip().lower() not in lower:
            close = nearest_names(name, table.header)
            wanted = f"one of: {', '.join(n for n in table.header[:12] if n)}"
            hint = f"Closest: {', '.join(close)}" if close else ""
            problem = f'there is no column "{name}"'
            errors.append(FieldError(table.name, problem, expected=wanted, hint=hint))
    if {"date", "time"} <= set(lower):
        # a date beside a clock: the clock is not a second date
        clock = lower.index("time")
        headings[clock] = replace(headings[clock], key="hour")
    notes: list[str] = []
    seen: dict[str, str] = {}
    for i, heading in headings.items():
        key, name = heading.key, table.header[i]
        if key in seen:
            problem = f'"{seen[key]}" and "{name}" can both be {key}'
            wanted = "one column for each quantity"
            pass_over = Pieces("Say which to pass over:  ", Option("columns", {name: "ignore"}))
            errors.append(FieldError(table.name, problem, expected=wanted, hint=pass_over))
        elif key not in ("", "station"):
            seen[key] = name
        values = table.numbers(i) if key.startswith("rh_") else np.empty(0)
        if len(values) >= 10 and 0.0 < values.max() <= 1.0:
            if heading.unit is not None and heading.unit.text == "%" and "%" in name:
                problem = f"its largest value is {values.max():g}, so it can't be percent"
                hint = Pieces("If 1 stands for 100 %, say  ", Option("columns", {name: "share"}))
                where, wanted = f"{table.name}, column {name}", "humidity up to 100"
                errors.append(FieldError(where, problem, expected=wanted, hint=hint))
            headings[i] = replace(heading, unit=unit_of(key, "share"))
            notes.append(f"{name} of {table.name} runs from 0 to 1; 1 is 100 %.")
    return headings, notes, errors


def _take_units_row(table: Table, mapping: dict[str, str]) -> None:
    """Take a row of units below the header into the mapping."""
    if not len(table.lines):
        return
    first = [column[0].strip() for column in table.columns]
    found = {}
    for name, cell in zip(table.header, first, strict=True):
        key, unit = read_heading(name, mapping, where=table.name).key, cell.strip("()[]")
        if cell and key in QUANTITIES and unit_of(key, unit):
            found[name] = unit
    if len(found) >= 2 or (found and not any(re.match(r"[+-]?\d", cell) for cell in first)):
        table.keep(np.arange(1, len(table.lines)))
        mapping |= found | mapping


def by_entry(
    table: Table, layout: Layout, options: Options
) -> tuple[dict[int, Heading], list[str]]:
    """Meaning of each column by the entry, after what the person says of it; and notes."""
    wanted, notes = layout.columns, []
    if layout.standard:
        units = options.units_of_file or _units_by_warmth(table, wanted)
        wanted = wanted | layout.standard if units == "standard" else wanted
        notes.append(f"The units of {table.name} were taken as {units}.")
    mine = {name.strip().lower(): meaning for name, meaning in (options.columns or {}).items()}
    found = {
        i: read_heading(name, {name: mine[name.lower()]}, where=table.name)
        for i, name in enumerate(table.header)
        if name.lower() in mine
    }
    for name, heading in wanted.items():
        at = table.at(name)
        if at is not None and at not in found:
            unit = heading.unit or _in_brackets(heading.key, table.header[at])
            found[at] = replace(heading, unit=unit)
    return found, notes


def with_units(
    table: Table, headings: Mapping[int, Heading], meanings: Mapping[str, str]
) -> tuple[dict[int, Heading], list[InputError]]:
    """Headings of weather with a unit, perhaps by a list of columns above; others are asked for."""
    found: dict[int, Heading] = {}
    errors: list[InputError] = []
    for i, heading in headings.items():
        if heading.key in QUANTITIES:
            unit = heading.unit or unit_of(heading.key, meanings.get(plain(table.header[i]), ""))
            found[i] = replace(heading, unit=unit)
            if unit is None:
                errors.append(_no_unit(table, i, heading.key))
    return found, errors


def _units_by_warmth(table: Table, columns: Mapping[str, Heading]) -> str:
    """Whether a file is in metric or US units, by its temperatures; refused where uncertain."""
    found = set()
    for name, heading in columns.items():
        at = table.at(name)
        if at is None or heading.key not in ("tmax", "temperature"):
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
    units = _units_of(key)
    asked = [unit.text for unit in [u for u in units if _fits(key, values, u)] or units]
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
    low, low_most, high_least, high = _USUAL[QUANTITIES[key].kind]
    few, most = np.percentile(values * unit.factor + unit.offset, (2, 98))
    return bool(low <= few <= low_most and high_least <= most <= high)
