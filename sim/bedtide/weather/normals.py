"""Twelve months of a climate: typed by a person, or one of the invented ones of the package.

The file that a person types has a header and one line a month::

    # place: Home
    # latitude: 51.9
    # elevation: 30 m
    month, high (C), low (C), rain (mm), rain days, sunshine (h)
    Jan, 6.1, 0.8, 62, 11.5, 55

A rain day has 1 mm or more (0.01 in where the rain is in inches), unless the heading says
otherwise, as ``rain days (0.1 mm)``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import MONTH_LENGTHS
from bedtide.errors import (
    FieldError,
    FileError,
    InputError,
    RangeError,
    choice,
    nearest_names,
    raise_all,
    shown,
)
from bedtide.tables import read_table, read_toml
from bedtide.units import convert
from bedtide.weather.dates import MONTHS
from bedtide.weather.et0 import daylight_hours, wind_at_2m
from bedtide.weather.layouts import PLAIN, header_names
from bedtide.weather.options import checked
from bedtide.weather.preamble import read_preamble
from bedtide.weather.record import listed
from bedtide.weather.text import Table, decode, load, numbers, split_table

Floats = NDArray[np.float64]

LENGTHS: Final = np.array(MONTH_LENGTHS)  # of the months [d]
YEAR: Final = np.arange("2021-01-01", "2022-01-01", dtype="datetime64[D]")  # one without a leap day
MONTH_OF_DAY: Final = YEAR.astype("datetime64[M]").astype(np.int64) % 12  # of `YEAR`, 0 to 11


@dataclass(frozen=True)
class _Quantity:
    """What a person may type of each month, a row of `data/weather_normals.toml`."""

    names: Sequence[str]  # in a heading
    units: Sequence[str]
    ours: str = ""  # the unit of `Normals`
    least: float = -np.inf
    most: float = np.inf


_QUANTITIES = {name: _Quantity(**row) for name, row in read_toml("weather_normals.toml").items()}
_NAMES = {name: key for key, about in _QUANTITIES.items() for name in about.names}
_NEEDED = ("month", "high", "low", "rain", "rain days")
_SPELLED = {"hours": "h", "hours a day": "h/day", "h/d": "h/day", "kph": "km/h", "inches": "in"}
_HEADER = "month, high (C), low (C), rain (mm), rain days, sunshine (h)"
_MOST_A_DAY = 75.0  # mean rain of a rain day [mm]
_MOST_DAYS = 350.0  # with rain in a year; a record without a dry day is refused when it is read
_WARMEST_YEAR = 42.0  # mean high of a year [degC]


@dataclass(frozen=True, kw_only=True)
class Normals:
    """Monthly means of a climate, twelve values each, January first."""

    name: str
    source: str  # the file, or the climate of the package
    latitude: float  # [degree]
    elevation: float  # [m]
    high: Floats  # mean highest temperature of a day [degC]
    low: Floats  # [degC]
    rain: Floats  # sum of the month [mm]
    rain_days: Floats  # [d]
    least_rain: float  # of a rain day [mm]
    sunshine: Floats | None = None  # share of daylight [1]
    wind: Floats | None = None  # at 2 m [m s-1]


def climates() -> dict[str, str]:
    """Each invented climate of the package with what it is like."""
    return {name: row["about"] for name, row in _climates().items()}


def climate(name: str, *, latitude: float | None = None, elevation: float | None = None) -> Normals:
    """An invented climate; across the equator from where it was put, half a year later."""
    rows = _climates()
    row = rows[choice(name, rows, where="--like")]
    home = float(row["latitude"])
    where = home if latitude is None else checked("latitude", latitude)
    values = {
        key: np.roll(np.array(row[key].split(), dtype=np.float64), 6 if where * home < 0.0 else 0)
        for key in ("high", "low", "rain", "rain_days", "sunshine")
    }
    values["sunshine"] /= 100.0
    return Normals(
        name=row["name"],
        source=f'the invented climate "{row["name"]}"',
        latitude=where,
        elevation=float(row["elevation"]) if elevation is None else checked("elevation", elevation),
        least_rain=1.0,
        **values,
    )


def _climates() -> dict[str, dict[str, str]]:
    return read_table("climates.csv")


def read_normals(
    path: str | Path, *, latitude: float | None = None, elevation: float | None = None
) -> Normals:
    """Twelve lines that a person typed; place [degree, m] where the file does not say it.

    All mistakes of a kind are told together.
    """
    path = Path(path)
    text = decode(load(path), path.name)
    top = next(
        (i for i, line in enumerate(text.lines) if line.strip(" ,;\t#") and line[0] != "#"), None
    )
    if top is None:
        raise FileError(path.name, "it is empty", expected=f"a header such as  {_HEADER}")
    said = read_preamble(text, top)
    delimiter = next((m for m in "\t;," if m in text.lines[top]), ",")
    table = split_table(text, header_names(text, top, delimiter, PLAIN), top + 1, delimiter)
    units, errors = _units(table, f"{path.name}, line {top + 1}")
    place: dict[str, Any] = {}
    for name, given, example in (("latitude", latitude, "51.9"), ("elevation", elevation, "30 m")):
        known = getattr(said, name)
        if known is None and given is not None:
            known = checked(name, given)
        elif known is None and not said.errors:
            wanted, hint = f"a line  # {name}: {example}  above the header", f"Or give --{name}."
            problem = f"the {name} is not known"
            errors.append(FieldError(path.name, problem, expected=wanted, hint=hint))
        place[name] = known or 0.0
    raise_all([*said.errors, *errors])
    typed, lines = _by_month(table, units)
    ours: dict[str, Any] = {
        key: np.asarray(convert(values, units[key], _QUANTITIES[key].ours))
        for key, values in typed.items()
        if key not in ("rain days", "sunshine")
    }
    if "wind" in ours:
        ours["wind"] = wind_at_2m(ours["wind"], said.wind_height or 10.0)
    ours["rain days"] = typed["rain days"]
    raise_all([*_beyond(typed, ours, units, lines)])
    least = units["rain days"] or ("0.01 in" if units["rain"] == "in" else "1 mm")
    raise_all([*_odd(ours, units, least, path.name, lines)])
    if "sunshine" in typed:
        ours["sunshine"] = _share_of_daylight(
            path.name, typed["sunshine"], units["sunshine"], place["latitude"], lines
        )
    return Normals(
        name=said.place or path.stem,
        source=path.name,
        least_rain=_depth(least),
        rain_days=ours.pop("rain days"),
        **place,
        **ours,
    )


def _units(table: Table, where: str) -> tuple[dict[str, str], list[InputError]]:
    """Unit of each quantity, in the order of the columns; what is not understood."""
    units: dict[str, str] = {}
    errors: list[InputError] = []
    for cell in table.header:
        name, _, unit = cell.replace("[", "(").partition("(")
        name, unit = name.strip().lower().replace("_", " "), unit.strip(" )]")
        key = _NAMES.get(name, "")
        if not key:
            close = nearest_names(name, _NAMES)
            hint = f"Closest: {', '.join(close)}" if close else "Leave the column out"
            problem = f'the column "{shown(cell)}" is not known'
            wanted = f"such a header:  {_HEADER}"
            errors.append(FieldError(where, problem, expected=wanted, hint=hint))
        elif key in units:
            errors.append(FieldError(where, f"two columns are {key}", expected="one of each"))
        elif (known := _unit_of(key, unit)) is None:
            one = ", ".join(f"{key} ({u})" if u else key for u in _QUANTITIES[key].units)
            problem = "its unit is not given or not known"
            errors.append(FieldError(f"{where}, column {cell}", problem, expected=f"one of {one}"))
        units.setdefault(key, known if key and known else "")
    missing = [name for name in _NEEDED if name not in units]
    if missing and not errors:
        problem = f"there is no column {' and no column '.join(missing)}"
        errors.append(FieldError(where, problem, expected=f"such a header:  {_HEADER}"))
    return units, errors


def _unit_of(key: str, text: str) -> str | None:
    """A unit as `_QUANTITIES` spells it; of rain days the least rain; None where there is none."""
    plain = text.lower().removeprefix("degrees ").removeprefix("deg").strip(" °")
    if key == "month":
        return ""
    if key == "rain days":
        plain = plain.lstrip(">=≥ ").removesuffix(" or more")
        match = re.fullmatch(r"(\d*\.?\d+)\s*(mm|in)", plain)
        return f"{match[1]} {match[2]}" if match else ("" if not plain else None)
    plain = _SPELLED.get(plain, plain)
    return next((unit for unit in _QUANTITIES[key].units if unit.lower() == plain), None)


def _by_month(table: Table, units: Mapping[str, str]) -> tuple[dict[str, Floats], list[str]]:
    """Numbers of each column in the order of the months, and where each month stands."""
    raise_all(table.errors)
    where = [f"{table.name}, line {line}" for line in table.lines]
    texts = dict(zip(units, table.columns, strict=True))
    errors: list[InputError] = []
    row_of: dict[int, int] = {}
    for row, cell in enumerate(texts.pop("month")):
        word = cell.strip(" .").lower()
        month = int(word) if word.isdecimal() else MONTHS.get(word[:3], 0) * word.isalpha()
        if not 1 <= month <= 12:
            problem = f'"{shown(cell)}" is not a month'
            errors.append(FieldError(where[row], problem, expected="Jan to Dec, or 1 to 12"))
        elif month in row_of:
            problem = f'the month "{cell.strip()}" is there twice'
            errors.append(FieldError(where[row], problem, expected="each month once"))
        row_of.setdefault(month, row)
    values, _, _ = numbers(texts, table.lines, source=table.name)  # none is missing, so all below
    for name, cells in texts.items():
        for row in np.flatnonzero(np.isnan(values[name])).tolist():
            problem = f'"{shown(cells[row])}" is not a number'
            wanted = "a number for each month"
            errors.append(FieldError(f"{where[row]}, {name}", problem, expected=wanted))
    if len(where) != 12:
        problem = f"it has {len(where)} lines below the header"
        lack = [name.title() for name, month in MONTHS.items() if month not in row_of]
        if lack and not errors:
            problem += f"; {listed(lack)} {'is' if len(lack) == 1 else 'are'} not there"
        errors.append(FieldError(table.name, problem, expected="12, one for each month"))
    raise_all(errors)
    order = [row_of[month] for month in range(1, 13)]
    return {name: column[order] for name, column in values.items()}, [where[i] for i in order]


def _depth(least: str) -> float:
    number, unit = least.split()
    return float(convert(float(number), unit, "mm"))


def _beyond(
    typed: Mapping[str, Floats],
    ours: Mapping[str, Floats],
    units: Mapping[str, str],
    lines: Sequence[str],
) -> Iterator[InputError]:
    """What no month has had."""
    for key, about in _QUANTITIES.items():
        column = ours.get(key, np.array(()))
        for at in np.flatnonzero((column < about.least) | (column > about.most)).tolist():
            problem = f"{f'{typed[key][at]:g} {units[key]}'.strip()} is out of range"
            wanted = f"{about.least:g} to {about.most:g} {about.ours}"
            yield RangeError(f"{lines[at]}, {key}", problem, expected=wanted)


def _odd(
    ours: Mapping[str, Floats],
    units: Mapping[str, str],
    least: str,
    source: str,
    lines: Sequence[str],
) -> Iterator[InputError]:
    """What can't be in one month, or in a year."""
    high, low, rain, days = (ours[key] for key in ("high", "low", "rain", "rain days"))
    length, each = np.ceil(LENGTHS), rain / np.maximum(days, 1e-9)
    little = (days > 0) & (rain < days * _depth(least) * (1.0 - 1e-9))
    heavy = (days > 0) & ~little & (each > _MOST_A_DAY)
    checks = (  # of a month: whether it is odd, what is said, what was expected, how to mend it
        (low >= high, "the mean low is not below the mean high",
         "low under high; were they exchanged?", ""),
        (days > length, "{days:g} rain days in a month of {length:g}", "at most {length:g}", ""),
        ((days == 0) & (rain > 0), "there is rain and no rain day",
         "rain days above 0, such as 0.5 for one in two years", ""),
        (little, "so little rain on {days:g} rain days is less than {least} a day",
         "more rain or fewer days",
         "If a rain day has less, say so in the heading, as  rain days (0.1 mm)"),
        (heavy, "{each:.0f} mm for each rain day is more than anywhere",
         f"at most {_MOST_A_DAY:g} mm", ""),
    )  # fmt: skip
    if not 0.0 < _depth(least) <= 5.0:
        yield RangeError(source, f"a rain day of {least} is odd", expected="above 0, up to 5 mm")
    for at, where in enumerate(lines):
        figures = {"days": days[at], "length": length[at], "each": each[at], "least": least}
        for odd, problem, wanted, hint in checks:
            if odd[at]:
                told, expected = problem.format(**figures), wanted.format(**figures)
                yield RangeError(where, told, expected=expected, hint=hint)
    if days.sum() > _MOST_DAYS:
        problem = f"rain days come to {days.sum():g} in the year"
        yield RangeError(source, problem, expected=f"at most {_MOST_DAYS:g}")
    if high.mean() > _WARMEST_YEAR:
        problem = f"the mean high of the year is {high.mean():.0f} C"
        hint = "" if units["high"] == "F" else "Are the temperatures in degrees F?"
        yield RangeError(source, problem, expected=f"at most {_WARMEST_YEAR:g} C", hint=hint)


def _share_of_daylight(
    source: str, sunshine: Floats, unit: str, latitude: float, lines: Sequence[str]
) -> Floats:
    """Sunshine as a share of daylight [1]."""
    if unit == "h" and 0.0 < sunshine.max() <= 24.0:
        problem, wanted = "no month has more than 24 hours of sunshine", "the hours of the month"
        hint = "If they are hours a day, say so in the heading:  sunshine (h/day)"
        raise RangeError(f"{source}, sunshine", problem, expected=wanted, hint=hint)
    daylight = np.bincount(MONTH_OF_DAY, daylight_hours(YEAR, latitude)) / np.bincount(MONTH_OF_DAY)
    most = {"%": np.full(12, 100.0), "h/day": daylight, "h": daylight * LENGTHS}[unit]
    errors: list[InputError] = []
    for at in np.flatnonzero((sunshine < 0.0) | (sunshine > 1.02 * most + 0.05)).tolist():
        problem = f"{sunshine[at]:g} {unit} can't be at latitude {latitude:g}"
        wanted = f"0 to {'100 %' if unit == '%' else f'{most[at]:.0f} {unit}, the daylight'}"
        errors.append(RangeError(f"{lines[at]}, sunshine", problem, expected=wanted))
    raise_all(errors)
    return np.asarray(np.clip(sunshine / np.maximum(most, 1e-6), 0.0, 1.0))
