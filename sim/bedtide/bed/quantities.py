"""Types of the keys of a bed: each turns what was written into a checked number in SI units.

In a description a number carries its unit. In Python, where pydantic is given no context, a bare
number is in SI units. A mistake leaves here as a pydantic error that carries the parts of our
message; ``read.py`` makes the message from them.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable, Collection, Iterable
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, ValidationError, ValidationInfo
from pydantic_core import InitErrorDetails, PydanticCustomError

from bedtide.constants import YEARS
from bedtide.crop import EXPOSURE, EXPOSURES, crop_names
from bedtide.errors import (
    ChoiceError,
    FieldError,
    InputError,
    RangeError,
    UnitError,
    nearest_names,
    printable,
    shown,
)
from bedtide.mix import media
from bedtide.units import length_text, parse, volume_text

Day = datetime.date | tuple[int, int]  # a date, or the month and day of every year

KINDS: Final[dict[str, type[InputError]]] = {
    "unit": UnitError,
    "range": RangeError,
    "choice": ChoiceError,
    "field": FieldError,
}
_US = ("in", "inch", "inches", '"', "ft", "feet", "foot", "'", "gal", "gallon", "gallons", "yd")
DRYING: Final = (0.1, 2.0)
"""Bounds of the factor on what a surface loses [1]."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_LATITUDE = re.compile(
    r"\s*(?P<number>[+-]?\d*\.?\d+(?:e[+-]?\d+)?\.?)\s*(?:°|degrees|deg)?\s*(?P<side>[ns])?\s*",
    re.IGNORECASE,
)
_DAY = 'month and day for every year, such as "05-10", or a full date, such as "2027-05-10"'
_MONTH_DAY = re.compile(r"\s*(\d{1,2})-(\d{1,2})\s*")
_FULL_DATE = re.compile(r"\s*(\d{4})-(\d{1,2})-(\d{1,2})\s*")


def fault(kind: str, problem: str, expected: str = "", hint: str = "") -> PydanticCustomError:
    """Error for a validator to raise: `kind` is one of `KINDS`."""
    parts = {"problem": problem, "expected": expected, "hint": hint}
    text = "{problem}. Expected {expected}" if expected else "{problem}"
    return PydanticCustomError(kind, text, parts)


class Faults(list[tuple[str, PydanticCustomError]]):
    """Mistakes that are raised together, each at its key path within the value that is checked."""

    def note(self, key: str, kind: str, problem: str, expected: str = "", hint: str = "") -> None:
        """Add one."""
        self.append((key, fault(kind, problem, expected, hint)))

    def refuse(self) -> None:
        """Raise them, if there are any."""
        if self:
            raise ValidationError.from_exception_data(
                "bed",
                [
                    InitErrorDetails(type=each, loc=tuple(filter(None, key.split("."))), input=None)
                    for key, each in self
                ],
            )


def refuse(key: str, kind: str, problem: str, expected: str = "", hint: str = "") -> None:
    """Raise one mistake at a key within the value that is checked."""
    Faults([(key, fault(kind, problem, expected, hint))]).refuse()


def faults_of(error: InputError) -> list[tuple[str, PydanticCustomError]]:
    """Mistakes that another part of the program found, each with the last word of its place."""
    kinds = {each: kind for kind, each in KINDS.items()}
    return [
        (
            one.where.rpartition(", ")[2],
            fault(kinds.get(type(one), "range"), one.problem, one.expected, one.hint),
        )
        for one in error.errors
    ]


def closest(given: str, offered: Iterable[str]) -> str:
    """Hint with the name on offer that is most like the one given."""
    close = nearest_names(given, offered, most=1)
    return f'Closest: "{close[0]}"' if close else ""


def at(mapping: Any, path: str) -> Any:
    """Value at a key path of a description, None where there is none."""
    for name in path.split("."):
        if isinstance(mapping, list) and name.isdigit() and int(name) < len(mapping):
            mapping = mapping[int(name)]
        elif isinstance(mapping, dict):
            mapping = mapping.get(name)
        else:
            return None
    return mapping


def said(value: float, unit: str, given: object) -> str:
    """Number in an inside unit as text, in the system of units of what was written."""
    words = str(given).lower().replace('"', ' " ').replace("'", " ' ").split()
    us = any(word.lstrip("0123456789./,-") in _US for word in words)
    if unit == "m":
        return length_text(value, "us" if us else "metric")
    if unit == "m3":
        return volume_text(value, "us" if us else "metric")
    if unit == "1":
        return f"{100 * value:g} %"
    if unit == "d":
        return f"{value:g} days"
    return f"{value:g} {unit}".strip()


def _bare(given: object, info: ValidationInfo) -> bool:
    """Whether it is a number from Python, in SI units."""
    number = isinstance(given, (int, float)) and not isinstance(given, bool)
    return number and info.context is None


def _measured(
    given: Any,
    info: ValidationInfo,
    unit: str,
    low: float,
    high: float,
    above: bool = False,
    below: bool = False,
) -> float:
    """Number in `unit` within bounds; `above` and `below` exclude the bounds themselves."""
    try:
        value = float(given) if _bare(given, info) else parse(given, unit, where="")
    except UnitError as error:
        raise faults_of(error)[0][1] from None
    small = value < low or (above and value == low)
    large = value > high or (below and value == high)
    if not math.isfinite(value) or small or large:
        least, most = said(low, unit, given), said(high, unit, given)
        first = f"more than {least}" if above else f"at least {least}"
        last = f"less than {most}" if below else f"at most {most}"
        problem = "too large" if large else "too small"
        if value < 0.0 <= low:
            problem = "negative"
        raise fault("range", problem, f"{first} and {last}")
    return value


def quantity(unit: str, low: float, high: float, **ends: bool) -> BeforeValidator:
    """Reader of a number with a unit, as `_measured` does it."""
    return BeforeValidator(lambda given, info: _measured(given, info, unit, low, high, **ends))


def _read_days(given: Any, info: ValidationInfo) -> int:
    value = _measured(given, info, "d", 1.0, 366.0)
    if value != round(value):
        raise fault("range", "not a whole number of days", 'whole days such as "14 days"')
    return int(value)


def _read_stages(given: Any, info: ValidationInfo) -> tuple[int, ...]:
    if not isinstance(given, (list, tuple)) or len(given) != 4:
        expected = 'four lengths such as ["25 days", "35 days", "40 days", "20 days"]'
        raise fault("field", "not the lengths of the four stages", expected)
    return tuple(_read_days(length, info) for length in given)


def _float(given: Any) -> float:
    """Number without a unit, or NaN."""
    try:
        return float(given) if not isinstance(given, bool) else math.nan
    except (TypeError, ValueError):
        return math.nan


def number(low: float, high: float) -> BeforeValidator:
    """Reader of a number without a unit, from `low` to `high`."""

    def read(given: Any) -> float:
        value = _float(given)
        if not low <= value <= high:
            raise fault("range", "not a number in range", f"between {low:g} and {high:g}")
        return value

    return BeforeValidator(read)


def _read_count(given: Any) -> int:
    value = _float(given)
    if not 1 <= value <= 1000 or value != round(value):
        raise fault("range", "not a number of pipes", "a whole number from 1 up")
    return int(value)


def _read_day(given: Any, info: ValidationInfo) -> Day:
    """Date, or month and day of every year, from text or what TOML has read already."""
    if info.context is None and isinstance(given, (tuple, datetime.date)):
        return given
    text = given.isoformat()[:10] if isinstance(given, datetime.date) else str(given)
    problem = "not a day"
    try:
        if full := _FULL_DATE.fullmatch(text):
            problem = "there is no such day"
            year, month, day = (int(part) for part in full.groups())
            if YEARS[0] <= year <= YEARS[1]:
                return datetime.date(year, month, day)
            problem = f"the year is not from {YEARS[0]} to {YEARS[1]}"
        elif short := _MONTH_DAY.fullmatch(text):
            problem = "there is no such day, month first"
            month, day = (int(part) for part in short.groups())
            if (month, day) != (2, 29):
                datetime.date(2001, month, day)
                return month, day
            problem = "29 February does not come every year"
    except ValueError:
        pass
    raise fault("field", problem, _DAY)


def _read_exposure(given: Any) -> float:
    """Factor on what plants use [1], from a number or the word for where the bed stands."""
    value = EXPOSURES.get(given.strip().lower()) if isinstance(given, str) else None
    value = _float(given) if value is None else value
    low, high = EXPOSURE
    if not low <= value <= high:
        words = ", ".join(f'"{word}" ({factor:g})' for word, factor in EXPOSURES.items())
        expected = f"a number between {low:g} and {high:g}, or one of {words}"
        raise fault("range", "not an exposure", expected)
    return value


def _read_latitude(given: Any) -> float:
    """Degrees, north positive, from a number or text such as "33.9 S"."""
    found = _LATITUDE.fullmatch(str(given)) if not isinstance(given, bool) else None
    value = float(found["number"]) if found else math.nan
    if found and found["side"] and found["number"].startswith("-"):
        value = math.nan  # south already, or north twice
    if not -90.0 <= value <= 90.0:
        raise fault("range", "not a latitude", 'degrees such as 44.5, -33.9 or "33.9 S"')
    return -value if found and found["side"] in ("s", "S") else value


def _read_weekdays(given: Any) -> tuple[int, ...]:
    """Days of the week, Monday 0; a tuple has them already."""
    if isinstance(given, tuple):
        return given
    words = given if isinstance(given, list) else re.split(r"[\s,+]+", str(given).strip())
    numbers = set()
    for each in words:
        short = str(each).strip(" .,").lower()
        found = [i for i, day in enumerate(WEEKDAYS) if f"{day}s".startswith(short)]
        if len(short) < 3 or not found:
            problem = f'"{shown(str(each))}" is not a day of the week'
            raise fault("choice", problem, 'days such as ["mon", "thu"]')
        numbers.update(found)
    if not numbers:
        raise fault("choice", "no day of the week", 'days such as ["mon", "thu"]')
    return tuple(sorted(numbers))


def _read_volume(given: Any, info: ValidationInfo) -> float | None:
    """Volume [m3], or None for filling to the lip."""
    if given is None or (isinstance(given, str) and given.strip().lower() == "to the lip"):
        return None
    try:
        return _measured(given, info, "m3", 0.0, 100.0, above=True)
    except PydanticCustomError as error:
        if error.type != "unit":
            raise
        problem = (error.context or {})["problem"]
        raise fault("unit", problem, '"to the lip", "40 L" or "10 US gal"') from None


def _read_name(given: Any) -> Any:
    return printable(given) if isinstance(given, str) else given


def word(*offered: str) -> BeforeValidator:
    """Reader of one of a few words, letter case aside."""

    def read(given: Any) -> str:
        for each in offered:
            if isinstance(given, str) and given.strip().lower() == each:
                return each
        known = "one of: " + ", ".join(offered)
        hint = closest(str(given), offered)
        raise fault("choice", "not one of the words known here", known, hint)

    return BeforeValidator(read)


def _name_in(names: Callable[[], Collection[str]], what: str, own: str = "") -> BeforeValidator:
    """Reader of a name that a data table must have, or a section of the description's own."""

    def read(given: Any, info: ValidationInfo) -> str:
        known = names()
        listed = at(info.context, own) if own else None
        stated = [str(at(each, "name")) for each in listed] if isinstance(listed, list) else []
        every = {name.lower(): name for name in (*known, *stated)}
        if not isinstance(given, str):
            raise fault("field", "not text", "a name in quotation marks")
        found = every.get(given.strip().lower())
        if found is None:
            close = ", ".join(f'"{name}"' for name in nearest_names(given, every.values()))
            hint = f"The full list:  bedtide list {what}"
            if close:
                hint = f"Closest names: {close}. {hint}"
            raise fault("choice", f"not in the table of {what}", hint=hint)
        return found

    return BeforeValidator(read)


Name = Annotated[str, BeforeValidator(_read_name)]
Side = Annotated[float, quantity("m", 0.0, 50.0, above=True)]
Depth = Annotated[float, quantity("m", 0.0, 3.0, above=True)]
Height = Annotated[float, quantity("m", 0.0, 3.0)]
Bore = Annotated[float, quantity("m", 0.0, 0.3, above=True)]
Gap = Annotated[float, quantity("m", 0.0, 5.0, above=True)]
Elevation = Annotated[float, quantity("m", -450.0, 9000.0)]
Share = Annotated[float, quantity("1", 0.0, 1.0)]
SomeShare = Annotated[float, quantity("1", 0.0, 1.0, above=True)]
PartShare = Annotated[float, quantity("1", 0.0, 1.0, below=True)]
Part = Annotated[float, quantity("1", 0.0, 1000.0, above=True)]
Conductivity = Annotated[float, quantity("m/d", 1e-6, 10_000.0)]
PerDepth = Annotated[float, quantity("1/m", 0.01, 1000.0)]
Density = Annotated[float, quantity("kg/m3", 10.0, 2000.0)]
Volume = Annotated[float | None, BeforeValidator(_read_volume)]
Exposure = Annotated[float, BeforeValidator(_read_exposure)]
Canopy = Annotated[float, number(1.0, 2.0)]
Shape = Annotated[float, number(1.01, 10.0)]
Exponent = Annotated[float, number(-2.0, 10.0)]
Wetting = Annotated[float, number(0.5, 4.0)]
Drying = Annotated[float, number(*DRYING)]
Count = Annotated[int, BeforeValidator(_read_count)]
Days = Annotated[int, BeforeValidator(_read_days)]
Stages = Annotated[tuple[int, int, int, int], BeforeValidator(_read_stages)]
DayOfYear = Annotated[Any, BeforeValidator(_read_day)]
Weekdays = Annotated[tuple[int, ...], BeforeValidator(_read_weekdays)]
Latitude = Annotated[float, BeforeValidator(_read_latitude)]
Medium = Annotated[str, _name_in(media, "mixes")]
CropName = Annotated[str, _name_in(crop_names, "crops", own="crop")]
TableCrop = Annotated[str, _name_in(crop_names, "crops")]
Kcb = Annotated[float, number(0.0, 2.0)]
Suction = Annotated[float, quantity("m", 0.1, 200.0)]
PlantHeight = Annotated[float, quantity("m", 0.05, 10.0)]
