"""Lines above a header that start with ``#``: where the station stands, what the units are."""

from __future__ import annotations

import re
from typing import Any

from bedtide.checks import choice
from bedtide.errors import FieldError, InputError, RangeError
from bedtide.weather.record import RAIN_DAYS
from bedtide.weather.text import Text

__all__ = ["read_comments"]

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
                said["elevation"] = _metres(value, where, -430.0, 6000.0)
            elif name in ("wind height", "height of wind", "wind measured at"):
                said["wind height"] = _metres(value, where, 0.5, 200.0)
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
            said.setdefault("elevation", _metres(value, "", -430.0, 6000.0))
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


def _metres(value: str, where: str, low: float, high: float) -> float:
    number, unit = _measured(value, where)
    if unit not in ("", "m", "metres", "meters", "ft", "feet"):
        raise FieldError(where, f'"{value}" is not a height', expected="such as 30 m or 100 ft")
    metres = number * 0.3048 if unit.startswith("f") else number
    if not low <= metres <= high:
        raise RangeError(
            where, f"{value} is out of range", expected=f"between {low:g} and {high:g} m"
        )
    return metres
