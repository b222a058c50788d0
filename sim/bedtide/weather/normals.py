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

import csv
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import MONTH_LENGTHS
from bedtide.errors import (
    ChoiceError,
    FieldError,
    FileError,
    InputError,
    Option,
    RangeError,
    choice,
    in_range,
    nearest_names,
    raise_all,
    shown,
)
from bedtide.tables import read_table
from bedtide.units import convert, parse
from bedtide.weather.et0 import daylight_hours, wind_at_2m
from bedtide.weather.options import OPTIONS

Floats = NDArray[np.float64]

LENGTHS: Final = np.array(MONTH_LENGTHS)  # of the months [d]
YEAR: Final = np.arange("2021-01-01", "2022-01-01", dtype="datetime64[D]")  # one without a leap day
MONTH_OF_DAY: Final = YEAR.astype("datetime64[M]").astype(np.int64) % 12  # of `YEAR`, 0 to 11

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMES = {
    "month": ("month",),
    "high": ("high", "mean high", "average high", "mean daily maximum", "tmax"),
    "low": ("low", "mean low", "average low", "mean daily minimum", "tmin"),
    "rain": ("rain", "rainfall", "precipitation"),
    "rain days": ("rain days", "days with rain", "rainy days", "wet days", "precipitation days"),
    "sunshine": ("sunshine", "sunshine hours"),
    "wind": ("wind", "wind speed"),
}
_NEEDED = ("month", "high", "low", "rain", "rain days")
_UNITS = {
    "high": ("C", "F"),
    "low": ("C", "F"),
    "rain": ("mm", "in"),
    "rain days": ("", "1 mm", "0.1 mm", "0.01 in"),
    "sunshine": ("h", "h/day", "%"),
    "wind": ("m/s", "km/h", "mph", "knots"),
}
_HEADER = "month, high (C), low (C), rain (mm), rain days, sunshine (h)"
_BOUNDS = {  # of a month; beyond what has been measured anywhere, from memory
    "high": (-70.0, 50.0, "C"),
    "low": (-80.0, 40.0, "C"),
    "rain": (0.0, 5000.0, "mm"),
    "rain days": (0.0, 31.0, "days"),
    "wind": (0.1, 20.0, "m/s"),
}
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
    values = {
        key: np.array(row[key].split(), dtype=np.float64)
        for key in ("high", "low", "rain", "rain_days", "sunshine")
    }
    home = float(row["latitude"])
    where = home if latitude is None else _within("latitude", latitude)
    if where * home < 0.0:
        values = {key: np.roll(each, 6) for key, each in values.items()}
    values["sunshine"] = values["sunshine"] / 100.0
    return Normals(
        name=row["name"],
        source=f'the invented climate "{row["name"]}"',
        latitude=where,
        elevation=float(row["elevation"]) if elevation is None else _within("elevation", elevation),
        least_rain=1.0,
        **values,
    )


def _climates() -> dict[str, dict[str, str]]:
    columns = ("latitude", "elevation", "high", "low", "rain", "rain_days", "sunshine", "about")
    return read_table("climates.csv", columns=columns)


def read_normals(
    path: str | Path, *, latitude: float | None = None, elevation: float | None = None
) -> Normals:
    """Twelve lines that a person typed; place [degree, m] where the file does not say it.

    All mistakes are told together.
    """
    path = Path(path)
    said, header_at, lines = _split(path)
    header = lines[0]
    names, errors = _columns(path.name, header_at, header)
    place, wrong = _place(path.name, said, {"latitude": latitude, "elevation": elevation})
    errors += wrong
    raise_all(errors)
    table, where = _table(path.name, header_at, lines[1:], header, names)
    return _normals(path, said, place, {name: unit for name, unit in names if name}, table, where)


def _split(path: Path) -> tuple[dict[str, tuple[str, str]], int, list[list[str]]]:
    """What ``#`` lines say, the line of the header, and the rows from there on."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise FileError(path.name, "it is not a text file in UTF-8", hint="Save it so") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it can't be opened"
        raise FileError(str(path), f"it can't be read: {reason.lower()}") from None
    said: dict[str, tuple[str, str]] = {}
    rows: list[list[str]] = []
    header_at, delimiter = 0, ","
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        if line.startswith("#"):
            name, sign, value = line.lstrip("# ").partition(":")
            if sign:
                said[name.strip().lower()] = (value.strip().rstrip(",; "), f"line {number}")
            continue
        if not rows:
            header_at = number
            delimiter = next((mark for mark in "\t;," if mark in line), ",")
        try:
            cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
        except csv.Error:
            raise FileError(f"{path.name}, line {number}", "it is not a line of a CSV") from None
        if delimiter != "," and rows:
            cells = [cell.replace(",", ".") for cell in cells]
        rows.append([*(cell.strip() for cell in cells), str(number)])
    if not rows:
        raise FileError(path.name, "it is empty", expected=f"a header such as  {_HEADER}")
    rows[0].pop()
    while rows[0] and not rows[0][-1]:
        rows[0].pop()
    return said, header_at, rows


def _columns(
    source: str, line: int, header: list[str]
) -> tuple[list[tuple[str, str]], list[InputError]]:
    """Quantity and unit of each column; empty where the column is not understood."""
    found: list[tuple[str, str]] = []
    errors: list[InputError] = []
    where = f"{source}, line {line}"
    for cell in header:
        match = re.fullmatch(r"([^(\[]*?)\s*(?:[(\[]\s*(.*?)\s*[)\]])?", cell)
        name, unit = (match[1].lower().replace("_", " "), match[2] or "") if match else ("", "")
        key = next((key for key, names in _NAMES.items() if name in names), "")
        if not key:
            every = [each for names in _NAMES.values() for each in names]
            close = nearest_names(name, every)
            errors.append(
                FieldError(
                    where,
                    f'the column "{shown(cell)}" is not known',
                    expected=f"such a header:  {_HEADER}",
                    hint=f"Closest: {', '.join(close)}" if close else "Leave the column out",
                )
            )
        elif key in (each for each, _ in found):
            errors.append(FieldError(where, f"two columns are {key}", expected="one of each"))
        elif key in _UNITS:
            unit = _unit_of(key, unit)
            if unit is None:
                errors.append(
                    FieldError(
                        f"{where}, column {cell}",
                        "its unit is not given or not known",
                        expected="one of "
                        + ", ".join(f"{key} ({u})" if u else key for u in _UNITS[key]),
                    )
                )
        found.append((key, unit or ""))
    missing = [name for name in _NEEDED if name not in (key for key, _ in found)]
    if missing and not errors:
        errors.append(
            FieldError(
                where,
                f"there is no column {' and no column '.join(missing)}",
                expected=f"such a header:  {_HEADER}",
            )
        )
    return found, errors


def _unit_of(key: str, text: str) -> str | None:
    """A unit as `_UNITS` spells it; of rain days the least rain; None where there is none."""
    plain = text.lower().removeprefix("degrees ").removeprefix("deg").strip(" °")
    if key == "rain days":
        plain = plain.lstrip(">=≥ ").removesuffix(" or more")
        match = re.fullmatch(r"(\d*\.?\d+)\s*(mm|in)", plain)
        return f"{match[1]} {match[2]}" if match else ("" if not plain else None)
    spelled = {"hours": "h", "hours a day": "h/day", "h/d": "h/day", "kph": "km/h", "inches": "in"}
    plain = spelled.get(plain, plain)
    return next((unit for unit in _UNITS[key] if unit and unit.lower() == plain), None)


def _place(
    source: str, said: Mapping[str, tuple[str, str]], given: Mapping[str, float | None]
) -> tuple[dict[str, float], list[InputError]]:
    """Latitude and elevation of the file, else of the options."""
    place: dict[str, float] = {}
    errors: list[InputError] = []
    ways: dict[str, tuple[Callable[[str, str], float], str]] = {
        "latitude": (_degrees, "# latitude: 51.9"),
        "elevation": (_metres, "# elevation: 30 m"),
    }
    for name, (way, example) in ways.items():
        option = given[name]
        try:
            if name in said:
                text, line = said[name]
                where = f"{source}, {line}"
                place[name] = _within(name, way(text, where), where=f"{where}, {name}")
            elif option is not None:
                place[name] = _within(name, option)
            else:
                raise FieldError(
                    source,
                    f"the {name} is not known",
                    expected=f"a line  {example}  above the header",
                    hint=f"Or give --{name}.",
                )
        except InputError as error:
            errors.append(error)
    return place, errors


def _degrees(text: str, where: str) -> float:
    match = re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([NSns]?)(?:orth|outh)?", text)
    if match is None:
        raise FieldError(where, f'"{shown(text)}" is not a latitude', expected="51.9 or 33.9 S")
    return float(match[1]) * (-1.0 if match[2] in ("S", "s") else 1.0)


def _metres(text: str, where: str) -> float:
    return parse(text, "m", where=f"{where}, elevation")


def _within(name: str, value: float, *, where: str = "") -> float:
    about = OPTIONS[name]
    place = where or Option(name)
    return float(in_range(value, *about.bounds, where=place, unit=about.unit))


def _table(
    source: str,
    header_at: int,
    rows: list[list[str]],
    header: list[str],
    names: list[tuple[str, str]],
) -> tuple[dict[str, Floats], list[str]]:
    """Numbers of each column in the order of the months, and the line of each month."""
    errors: list[InputError] = []
    table = {name: np.full(12, np.nan) for name, _ in names if name != "month"}
    lines = [""] * 12
    for *cells, number in rows:
        where = f"{source}, line {number}"
        while len(cells) > len(header) and not cells[-1]:
            cells.pop()
        if len(cells) != len(header):
            errors.append(
                FieldError(
                    where,
                    f"it has {len(cells)} fields",
                    expected=f"{len(header)} as in the header, line {header_at}",
                )
            )
            continue
        of = {name: cell for (name, _), cell in zip(names, cells, strict=True)}
        try:
            month = _month(of["month"], where)
            if lines[month]:
                problem = f'the month "{of["month"]}" is there twice'
                raise FieldError(where, problem, expected="each month once")
            lines[month] = where
        except InputError as error:
            errors.append(error)
            continue
        for name, values in table.items():
            try:
                values[month] = float(of[name])
                if not math.isfinite(values[month]):
                    raise ValueError
            except ValueError:
                errors.append(
                    FieldError(
                        f"{where}, {name}",
                        f'"{shown(of[name])}" is not a number',
                        expected="a number for each month",
                    )
                )
    if len(rows) != 12:
        lack = [_MONTHS[at].title() for at in range(12) if not lines[at]]
        errors.append(
            FieldError(
                source,
                f"it has {len(rows)} lines below the header"
                + (f"; {', '.join(lack)} is not there" if lack and not errors else ""),
                expected="12, one for each month",
            )
        )
    raise_all(errors)
    return table, lines


def _month(text: str, where: str) -> int:
    """Which month a cell names, January 0."""
    plain = text.strip(" .").lower()
    if plain.isdecimal() and 1 <= int(plain) <= 12:
        return int(plain) - 1
    if len(plain) >= 3 and plain[:3] in _MONTHS and plain.isalpha():
        return _MONTHS.index(plain[:3])
    raise ChoiceError(where, f'"{shown(text)}" is not a month', expected="Jan to Dec, or 1 to 12")


def _normals(
    path: Path,
    said: Mapping[str, tuple[str, str]],
    place: Mapping[str, float],
    units: Mapping[str, str],
    table: Mapping[str, Floats],
    lines: list[str],
) -> Normals:
    """The table in our units, once it can be a climate."""
    errors: list[InputError] = []
    values: dict[str, Any] = {
        "high": np.asarray(convert(table["high"], units["high"], "C")),
        "low": np.asarray(convert(table["low"], units["low"], "C")),
        "rain": np.asarray(convert(table["rain"], units["rain"], "mm")),
        "rain days": table["rain days"],
    }
    least = units["rain days"] or ("0.01 in" if units["rain"] == "in" else "1 mm")
    number, unit = least.split()
    least_rain = float(convert(float(number), unit, "mm"))
    if not 0.0 < least_rain <= 5.0:
        raise RangeError(path.name, f"a rain day of {least} is odd", expected="above 0, up to 5 mm")
    if "wind" in table:
        height = 10.0
        if "wind height" in said:
            text, line = said["wind height"]
            where = f"{path.name}, {line}, wind height"
            height = float(
                in_range(
                    parse(text, "m", where=where),
                    *OPTIONS["wind_height"].bounds,
                    where=where,
                    unit="m",
                )
            )
        knots = {"knots": "kn"}.get(units["wind"], units["wind"])
        values["wind"] = wind_at_2m(convert(table["wind"], knots, "m/s"), height)
    for name, (low, high, unit) in _BOUNDS.items():
        for at in np.flatnonzero((values.get(name, low) < low) | (values.get(name, low) > high)):
            given = f"{table[name][at]:g} {units[name]}".strip()
            problem, wanted = f"{given} is out of range", f"{low:g} to {high:g} {unit}"
            errors.append(RangeError(f"{lines[at]}, {name}", problem, expected=wanted))
    raise_all(errors)
    for month in range(12):
        of = {name: float(column[month]) for name, column in values.items()}
        errors += _odd_month(of, month, least, lines)
    if values["rain days"].sum() > _MOST_DAYS:
        problem = f"rain days come to {values['rain days'].sum():g} in the year"
        errors.append(RangeError(path.name, problem, expected=f"at most {_MOST_DAYS:g}"))
    if values["high"].mean() > _WARMEST_YEAR:
        problem = f"the mean high of the year is {values['high'].mean():.0f} C"
        hint = "" if units["high"] == "F" else "Are the temperatures in degrees F?"
        errors.append(
            RangeError(path.name, problem, expected=f"at most {_WARMEST_YEAR:g} C", hint=hint)
        )
    if "sunshine" in table:
        values["sunshine"], wrong = _share_of_daylight(
            path.name, table["sunshine"], units["sunshine"], place["latitude"], lines
        )
        errors += wrong
    raise_all(errors)
    return Normals(
        name=said["place"][0] if said.get("place", ("",))[0] else path.stem,
        source=path.name,
        least_rain=least_rain,
        rain_days=values.pop("rain days"),
        latitude=place["latitude"],
        elevation=place["elevation"],
        **values,
    )


def _odd_month(of: Mapping[str, float], at: int, least: str, lines: list[str]) -> list[InputError]:
    """What can't be in one month."""
    errors: list[InputError] = []
    length = math.ceil(LENGTHS[at])
    where, rain, days = lines[at], of["rain"], of["rain days"]
    number, unit = least.split()
    least_mm = float(convert(float(number), unit, "mm"))
    if of["low"] >= of["high"]:
        problem = "the mean low is not below the mean high"
        errors.append(RangeError(where, problem, expected="low under high; were they exchanged?"))
    if days > length:
        problem = f"{days:g} rain days in a month of {length}"
        errors.append(RangeError(where, problem, expected=f"at most {length}"))
    if days == 0 and rain > 0:
        problem = "there is rain and no rain day"
        wanted = "rain days above 0, such as 0.5 for one in two years"
        errors.append(RangeError(where, problem, expected=wanted))
    elif rain < days * least_mm * (1.0 - 1e-9):
        errors.append(
            RangeError(
                where,
                f"so little rain on {days:g} rain days is less than {least} a day",
                expected="more rain or fewer days",
                hint="If a rain day has less, say so in the heading, as  rain days (0.1 mm)",
            )
        )
    elif rain > days * _MOST_A_DAY:
        problem = f"{rain / days:.0f} mm for each rain day is more than anywhere"
        errors.append(RangeError(where, problem, expected=f"at most {_MOST_A_DAY:g} mm"))
    return errors


def _share_of_daylight(
    source: str, sunshine: Floats, unit: str, latitude: float, lines: list[str]
) -> tuple[Floats, list[InputError]]:
    """Sunshine as a share of daylight [1]."""
    if unit == "%":
        most, words = np.full(12, 100.0), "100 %"
    else:
        daylight = daylight_hours(YEAR, latitude)
        most = np.bincount(MONTH_OF_DAY, weights=daylight) / np.bincount(MONTH_OF_DAY)
        most, words = most * (LENGTHS if unit == "h" else 1.0), ""
        if unit == "h" and 0.0 < sunshine.max() <= 24.0:
            problem = "no month has more than 24 hours of sunshine"
            wanted = "the hours of the whole month"
            hint = "If they are hours a day, say so in the heading:  sunshine (h/day)"
            return most, [RangeError(f"{source}, sunshine", problem, expected=wanted, hint=hint)]
    errors: list[InputError] = [
        RangeError(
            f"{lines[at]}, sunshine",
            f"{sunshine[at]:g} {unit} can't be at latitude {latitude:g}",
            expected=f"0 to {words or f'{most[at]:.0f} {unit}, the daylight'}",
        )
        for at in np.flatnonzero((sunshine < 0.0) | (sunshine > 1.02 * most + 0.05))
    ]
    return np.clip(sunshine / np.maximum(most, 1e-6), 0.0, 1.0), errors
