"""What the lines above a header say: place, height, clock, rain day and units of columns."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from bedtide.errors import FieldError, InputError, RangeError, choice
from bedtide.units import FOOT, THOUSANDS
from bedtide.weather.columns import plain
from bedtide.weather.layouts import cut
from bedtide.weather.options import RAIN_DAYS, RainDay, checked
from bedtide.weather.text import Text

_MOST = 300  # lines that are looked at
_GAP = r"[\"'\s]{0,4}(?:\([^)]*\)|\[[^\]]*\])?[\"'\s:;,=]{1,6}"
_NUMBER = r"(?P<value>[+-]?\d{1,4}(?:[.,]\d+)?)"
_MINUTES = r"(?:-(?P<minutes>\d\d(?:\.\d+)?))?\W{0,2}"
_PLACES = {
    "latitude": rf"\blat(?:itude|itud)?{_GAP}{_NUMBER}{_MINUTES}(?P<side>[ns]\b)?",
    "longitude": rf"\blon(?:g|gitude|gitud)?{_GAP}{_NUMBER}{_MINUTES}(?P<side>[ew]\b)?",
    "elevation": r"(?:\b(?:elevation|elev|altitude|alt|station height)"
    rf"(?: from [^=]*=\s*|{_GAP})){_NUMBER}(?P<minutes>)\s*(?P<side>ft\b|feet\b)?",
}
_ANYWHERE = {name: re.compile(text, re.IGNORECASE) for name, text in _PLACES.items()}
_BOUNDS = {"latitude": (-90, 90), "longitude": (-180, 360), "elevation": (-430, 6000)}
_OWN = {
    "latitude": "latitude lat",
    "longitude": "longitude lon",
    "elevation": "elevation altitude elev alt height_above_sea",
    "wind_height": "wind_height height_of_wind wind_measured_at",
    "place": "place station location name",
    "rain_day": "rain_day rain",
    "units": "units",
}
_MEANT = {spelling: name for name, spellings in _OWN.items() for spelling in spellings.split()}
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
_MEASURED = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*°?\s*([a-z]*)", re.IGNORECASE)
_SIDES = {"latitude": ("north", "south"), "longitude": ("east", "west")}


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
    written, value = (part.strip() for part in line.lstrip("# ").split(":", 1))
    name, value = _MEANT.get(written.lower().replace(" ", "_"), ""), value.rstrip(",; ")
    if name == "place":
        said.place = value
    elif name == "rain_day":
        rule = choice(value, RAIN_DAYS, where=f"{where}, {written.lower().replace('_', ' ')}")
        said.rain_day = next(each for each in RAIN_DAYS if each == rule)
    elif name == "units":
        pairs = [pair.split("=", 1) for pair in value.split(",") if "=" in pair]
        said.units = {left.strip(): right.strip() for left, right in pairs}
    elif name:
        setattr(said, name, _measured(name, value, where))
    return bool(name)


def _measured(name: str, value: str, where: str) -> float:
    """Degrees, south and west negative, or metres."""
    match = _MEASURED.fullmatch(value)
    if match is None:
        raise FieldError(where, f'"{value}" is not a number', expected="such as 51.9 or 30 m")
    number, unit = float(match[1].replace(",", ".")), match[2].lower()
    if name in _SIDES:
        sides = [spelled for side in _SIDES[name] for spelled in (side, side[0])]
        twice = match[1][0] in "+-" and unit in sides
        if twice or unit not in ("", "deg", "degrees", *sides):
            wanted = {"latitude": "51.9, -33.9 or 33.9 S", "longitude": "11.5, -80.2 or 80.2 W"}
            problem = f'"{value}" is not a {name}'
            raise FieldError(where, problem, expected=f"such as {wanted[name]}")
        low, high = _BOUNDS[name]
        if not low <= number <= high:
            problem = f"{name} {value} is out of range"
            raise RangeError(where, problem, expected=f"between {low} and {high}")
        return -number if unit in sides[2:] else number
    if unit not in ("", "m", "metres", "meters", "ft", "feet"):
        raise FieldError(where, f'"{value}" is not a height', expected="such as 30 m or 100 ft")
    try:
        return float(checked(name, value if unit else f"{value} m"))
    except InputError as error:
        raise error.moved(where) from None


def _anywhere(line: str, said: Said) -> None:
    """Place from a line of any service's preamble; the first that says a thing counts."""
    for name, pattern in _ANYWHERE.items():
        match = pattern.search(line)
        if match and not (name == "elevation" and THOUSANDS.fullmatch(match["value"])):
            value = float(match["value"].replace(",", "."))
            value += math.copysign(float(match["minutes"] or 0) / 60.0, value)
            side = (match["side"] or "").lower()
            value = value * FOOT if side.startswith("f") else value
            _keep(said, name, -abs(value) if side in ("s", "w") else value)
    if match := _ARCHIVE.match(line):
        for name, text in match.groupdict().items():
            if text:
                _keep(said, name, float(text))
    if not said.place and (match := _PLACE.match(line)):
        said.place = match["value"].strip()


def _keep(said: Said, name: str, value: float) -> None:
    """Take a number unless one is known or no place on Earth has it."""
    low, high = _BOUNDS[name]
    if getattr(said, name) is None and low <= value <= high:
        setattr(said, name, value)


def _names_over_values(line: str, below: list[str], said: Said) -> None:
    """Place from a line of names and the last line of values under it."""
    delimiter = next((mark for mark in (";", ",", "\t") if mark in line), "blanks")
    values: list[str] = []
    for row in below:
        cells = cut(row, delimiter)
        if len(cells) < 2 or not any(map(str.isdigit, row)):
            break
        values = cells
    starts = {"lat": "latitude", "lon": "longitude", "elev": "elevation", "alt": "elevation"}
    starts["hojd"] = "elevation"
    for name, value in zip(map(plain, cut(line, delimiter)), values, strict=False):
        if name in ("name", "stationname"):
            said.place = said.place or value
        try:
            number = float(value)
        except ValueError:
            continue
        for start, known in starts.items():
            if name.startswith(start):
                _keep(said, known, number)
        if name == "utcoffsetseconds":
            said.offset = number / 60.0
        elif name == "timezone" and abs(number) <= 14:
            said.offset = number * 60.0
