"""What the lines above a header say: place, height, clock, rain day and units of columns."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field

from bedtide.errors import FieldError, InputError, RangeError, choice, in_range
from bedtide.units import FOOT
from bedtide.weather.columns import plain
from bedtide.weather.options import OPTIONS, RAIN_DAYS, RainDay
from bedtide.weather.text import Text

_MOST = 300  # lines that are looked at
_GAP = r"[\"'\s]{0,4}(?:\([^)]*\)|\[[^\]]*\])?[\"'\s:;,=]{1,6}"
_NUMBER = r"(?P<value>[+-]?\d{1,4}(?:[.,]\d+)?)"
_LATITUDE = re.compile(
    rf"\blat(?:itude|itud)?{_GAP}{_NUMBER}(?:-(?P<minutes>\d\d(?:\.\d+)?))?\W{{0,2}}(?P<side>[ns]\b)?",
    re.IGNORECASE,
)
_LONGITUDE = re.compile(
    rf"\blon(?:g|gitude|gitud)?{_GAP}{_NUMBER}(?:-(?P<minutes>\d\d(?:\.\d+)?))?\W{{0,2}}(?P<side>[ew]\b)?",
    re.IGNORECASE,
)
_ELEVATION = re.compile(
    rf"(?:\b(?:elevation|elev|altitude|alt|station height)(?: from [^=]*=\s*|{_GAP}))"
    rf"{_NUMBER}\s*(?P<side>ft\b|feet\b)?",
    re.IGNORECASE,
)
_PLACE = re.compile(
    r"\W*(?:station ?name|name|estacao|observation_station,G)\b[\"\s:;,=]+"
    r"(?P<value>[^\"=]+?)[\"\s,;]*$",
    re.IGNORECASE,
)
_ARCHIVE = re.compile(
    r"location,G,(?P<latitude>[\d.-]+),(?P<longitude>[\d.-]+)|height,G,(?P<elevation>[\d.-]+)"
)
_MEANING = re.compile(
    r"[#\"\s]*(?P<name>\w[\w ]{0,30}?)\"?(?:\s*[:=]|\s{2,})[-\s]*(?P<text>.*\S)\s*$"
)
_UNIT = re.compile(r"[(\[](?:in )?([^()\[\]]+)[)\]][\s;,.]*$")
_MEASURED = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([A-Za-z]*)")


@dataclass
class Said:
    """What the lines above a header say."""

    latitude: float | None = None  # [degree], as longitude
    longitude: float | None = None
    elevation: float | None = None  # [m]
    wind_height: float | None = None  # [m]
    offset: float | None = None  # of its clock, ahead of universal time [min]
    place: str = ""
    rain_day: RainDay | None = None
    units: dict[str, str] = field(default_factory=dict)  # of columns, as our own lines give them
    meanings: dict[str, str] = field(default_factory=dict)  # unit of a column in a list of them
    errors: list[InputError] = field(default_factory=list)


def read_preamble(text: Text, header_line: int) -> Said:
    """What the lines above a header say; what is wrong in lines of our own kind is in `errors`."""
    said = Said()
    lines = text.lines[: min(header_line, _MOST)]
    for number, line in enumerate(lines, start=1):
        if line.startswith("#") and ":" in line:
            try:
                if _own_line(line, said, f"{text.name}, line {number}"):
                    continue
            except InputError as error:
                said.errors.append(error)
                continue
        _anywhere(line, said)
        meaning = _MEANING.match(line)
        if meaning and (unit := _UNIT.search(meaning["text"])):
            said.meanings.setdefault(plain(meaning["name"]), unit[1].strip())
    for number, line in enumerate(lines[:-1]):
        if "lat" in line.lower() and "lon" in line.lower():
            _names_over_values(line, lines[number + 1 :], said)
    return said


def _own_line(line: str, said: Said, where: str) -> bool:
    """One of the lines that a table of your own may begin with, such as ``# latitude: 51.9``."""
    name, value = (part.strip() for part in line.lstrip("# ").split(":", 1))
    name, value = name.lower().replace("_", " "), value.rstrip(",; ")
    if name in ("latitude", "lat"):
        said.latitude = _latitude(value, where)
    elif name in ("longitude", "lon"):
        said.longitude = _measured(value, where)[0]
    elif name in ("elevation", "altitude", "elev", "alt", "height above sea"):
        said.elevation = _metres(value, where, "elevation")
    elif name in ("wind height", "height of wind", "wind measured at"):
        said.wind_height = _metres(value, where, "wind_height")
    elif name in ("place", "station", "location", "name"):
        said.place = value
    elif name in ("rain day", "rain"):
        rule = choice(value, RAIN_DAYS, where=f"{where}, {name}")
        said.rain_day = next(each for each in RAIN_DAYS if each == rule)
    elif name == "units":
        pairs = [pair.split("=", 1) for pair in value.split(",") if "=" in pair]
        said.units = {left.strip(): right.strip() for left, right in pairs}
    else:
        return False
    return True


def _measured(value: str, where: str) -> tuple[float, str]:
    match = _MEASURED.fullmatch(value)
    if match is None:
        raise FieldError(where, f'"{value}" is not a number', expected="such as 51.9 or 30 m")
    return float(match.group(1).replace(",", ".")), match.group(2).lower()


def _latitude(value: str, where: str) -> float:
    degrees, side = _measured(value, where)
    if side not in ("", "n", "s", "north", "south", "degrees", "deg"):
        raise FieldError(where, f'"{value}" is not a latitude', expected="such as 51.9 or 33.9 S")
    if abs(degrees) > 90:
        raise RangeError(where, f"latitude {value} is out of range", expected="between -90 and 90")
    return -degrees if side.startswith("s") else degrees


def _metres(value: str, where: str, option: str) -> float:
    number, unit = _measured(value, where)
    if unit not in ("", "m", "metres", "meters", "ft", "feet"):
        raise FieldError(where, f'"{value}" is not a height', expected="such as 30 m or 100 ft")
    metres = number * FOOT if unit.startswith("f") else number
    return float(in_range(metres, *OPTIONS[option].bounds, where=where, unit="m"))


def _anywhere(line: str, said: Said) -> None:
    """Place from a line of any service's preamble; the first that says a thing counts."""
    for name, pattern in (
        ("latitude", _LATITUDE),
        ("longitude", _LONGITUDE),
        ("elevation", _ELEVATION),
    ):
        if match := pattern.search(line):
            value = float(match["value"].replace(",", "."))
            if name != "elevation":
                value += float(match["minutes"] or 0) / 60.0
            side = (match["side"] or "").lower()
            value = value * FOOT if side.startswith("f") else value
            _keep(said, name, -value if side in ("s", "w") else value)
    if match := _ARCHIVE.match(line):
        for name, text in match.groupdict().items():
            if text:
                _keep(said, name, float(text))
    if not said.place and (match := _PLACE.match(line)):
        said.place = match["value"].strip()


def _keep(said: Said, name: str, value: float) -> None:
    """Take a number unless one is known or no place on Earth has it."""
    low, high = {"latitude": (-90, 90), "longitude": (-180, 360), "elevation": (-430, 6000)}[name]
    if getattr(said, name) is None and low <= value <= high:
        setattr(said, name, value)


def _names_over_values(line: str, below: list[str], said: Said) -> None:
    """Place from a line of names and the last line of values under it."""
    delimiter = next((mark for mark in (";", ",", "\t") if mark in line), None)
    names = [plain(cell) for cell in _cells(line, delimiter)]
    values: list[str] = []
    for row in below:
        cells = _cells(row, delimiter)
        if len(cells) < 2 or not any(map(str.isdigit, row)):
            break
        values = cells
    for name, value in zip(names, values, strict=False):
        if name in ("name", "stationname"):
            said.place = said.place or value
        try:
            number = float(value)
        except ValueError:
            continue
        for known, starts in (
            ("latitude", ("lat",)),
            ("longitude", ("lon",)),
            ("elevation", ("elev", "alt", "hojd")),
        ):
            if name.startswith(starts):
                _keep(said, known, number)
        if name == "utcoffsetseconds":
            said.offset = number / 60.0
        elif name == "timezone" and abs(number) <= 14:
            said.offset = number * 60.0


def _cells(line: str, delimiter: str | None) -> list[str]:
    if delimiter is None:
        return line.lstrip("# ").split()
    return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
