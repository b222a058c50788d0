"""Types of the keys of a bed description: each turns what was written into a checked number.

A mistake leaves here as a pydantic error that carries the parts of our message; ``problems.py``
makes the message from them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

from bedtide.bed.dates import EXPECTED, Day, parse_day
from bedtide.crop import crops
from bedtide.errors import UnitError, nearest_names, printable, shown
from bedtide.mix import media
from bedtide.units import length_text, parse, volume_text

_US = ("in", "inch", "inches", '"', "ft", "feet", "foot", "'", "gal", "gallon", "gallons", "yd")
EXPOSURE = (0.3, 1.5)  # bounds of bedtide.crop.crop_days
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_LATITUDE = re.compile(
    r"\s*(?P<number>[+-]?\d*\.?\d+(?:e[+-]?\d+)?\.?)\s*(?:°|degrees|deg)?\s*(?P<side>[ns])?\s*",
    re.IGNORECASE,
)


def fault(kind: str, problem: str, *, expected: str = "", hint: str = "") -> PydanticCustomError:
    """Error for a validator to raise: `kind` is one of unit, range, choice, field."""
    parts = {"problem": problem, "expected": expected, "hint": hint}
    return PydanticCustomError(kind, "{problem}", parts)


def writes_us(given: object) -> bool:
    """Whether a quantity was written in US units, so that the answer can be too."""
    words = str(given).lower().replace('"', ' " ').replace("'", " ' ").split()
    return any(word.lstrip("0123456789./,-") in _US for word in words)


def said(value: float, unit: str, given: object) -> str:
    """Number in an inside unit as text, in the system that the person wrote."""
    us = writes_us(given)
    if unit == "m":
        return length_text(value, "us" if us else "metric")
    if unit == "m3":
        return volume_text(value, "us" if us else "metric")
    if unit == "1":
        return f"{100 * value:g} %"
    if unit == "d":
        return f"{value:g} days"
    return f"{value:g} {unit}".strip()


def quantity(
    unit: str, low: float, high: float, *, above: bool = False, below: bool = False
) -> Callable[[Any], float]:
    """Build a reader of a number with a unit, within bounds given in `unit`.

    `above` and `below` exclude the bounds themselves.
    """

    def read(given: Any) -> float:
        try:
            value = parse(given, unit, where="")
        except UnitError as error:
            raise fault("unit", error.problem, expected=error.expected, hint=error.hint) from None
        small = value < low or (above and value == low)
        large = value > high or (below and value == high)
        if not math.isfinite(value) or small or large:
            least, most = said(low, unit, given), said(high, unit, given)
            first = f"more than {least}" if above else f"at least {least}"
            last = f"less than {most}" if below else f"at most {most}"
            problem = "too large" if large else "too small"
            if value < 0.0 <= low:
                problem = "negative"
            raise fault("range", problem, expected=f"{first} and {last}")
        return value

    return read


def _days(given: Any) -> int:
    value = quantity("d", 1.0, 366.0)(given)
    if value != round(value):
        raise fault("range", "not a whole number of days", expected='whole days such as "14 days"')
    return int(value)


def _stages(given: Any) -> tuple[int, int, int, int]:
    if not isinstance(given, list) or len(given) != 4:
        expected = 'four lengths such as ["25 days", "35 days", "40 days", "20 days"]'
        raise fault("field", "not the lengths of the four stages", expected=expected)
    ini, dev, mid, late = (_days(length) for length in given)
    return ini, dev, mid, late


def _number(low: float, high: float) -> Callable[[Any], float]:
    def read(given: Any) -> float:
        try:
            value = float(given) if not isinstance(given, bool) else math.nan
        except (TypeError, ValueError):
            value = math.nan
        if not low <= value <= high:
            raise fault("range", "not a number in range", expected=f"between {low:g} and {high:g}")
        return value

    return read


def _count(given: Any) -> int:
    try:
        value = float(given) if not isinstance(given, bool) else math.nan
    except (TypeError, ValueError):
        value = math.nan
    if not 1 <= value <= 1000 or value != round(value):
        raise fault("range", "not a number of pipes", expected="a whole number from 1 up")
    return int(value)


def _day(given: Any) -> Day:
    try:
        return parse_day(given)
    except ValueError as error:
        raise fault("field", str(error), expected=EXPECTED) from None


def _latitude(given: Any) -> float:
    """Degrees, north positive, from a number or text such as "33.9 S"."""
    found = _LATITUDE.fullmatch(str(given)) if not isinstance(given, bool) else None
    value = float(found["number"]) if found else math.nan
    if found and found["side"] and found["number"].startswith("-"):
        value = math.nan  # south already, or north twice
    if not -90.0 <= value <= 90.0:
        raise fault("range", "not a latitude", expected='degrees such as 44.5, -33.9 or "33.9 S"')
    return -value if found and found["side"] in ("s", "S") else value


def _weekdays(given: Any) -> tuple[int, ...]:
    words = given if isinstance(given, list) else re.split(r"[\s,+]+", str(given).strip())
    numbers = set()
    for word in words:
        short = str(word).strip(" .,").lower()
        at = [i for i, day in enumerate(_WEEKDAYS) if f"{day}s".startswith(short)]
        if len(short) < 3 or not at:
            problem = f'"{shown(str(word))}" is not a day of the week'
            raise fault("choice", problem, expected='days such as ["mon", "thu"]')
        numbers.update(at)
    if not numbers:
        raise fault("choice", "no day of the week", expected='days such as ["mon", "thu"]')
    return tuple(sorted(numbers))


def _amount(given: Any) -> float | None:
    """Volume [m3], or None for filling to the lip."""
    if isinstance(given, str) and given.strip().lower() == "to the lip":
        return None
    try:
        return quantity("m3", 0.0, 100.0, above=True)(given)
    except PydanticCustomError as error:
        parts = error.context or {}
        if error.type == "unit":
            expected = '"to the lip", "40 L" or "10 US gal"'
            raise fault("unit", parts["problem"], expected=expected) from None
        raise


def _from_table(names: Callable[[], list[str]], what: str) -> Callable[[Any], str]:
    """Build a reader of a name that a data table must have, letter case aside."""

    def read(given: Any) -> str:
        known = {name.lower(): name for name in names()}
        if not isinstance(given, str):
            raise fault("field", "not text", expected="a name in quotation marks")
        found = known.get(given.strip().lower())
        if found is None:
            close = ", ".join(f'"{name}"' for name in nearest_names(given, known.values()))
            hint = f"The full list:  bedtide list {what}"
            if close:
                hint = f"Closest names: {close}. {hint}"
            raise fault("choice", f"not in the table of {what}", hint=hint)
        return found

    return read


def part(given: Any) -> float:
    """Part of a recipe: a share such as "60 %" or 0.6, or whole parts such as 3."""
    return quantity("1", 0.0, 1000.0, above=True)(given)


def per_depth(given: Any) -> float:
    """Scale of a retention curve [m-1] from "14 1/m" or "0.14 1/cm"."""
    return quantity("1/m", 0.01, 1000.0)(given)


def _name(given: Any) -> Any:
    return printable(given) if isinstance(given, str) else given


Name = Annotated[str, BeforeValidator(_name)]
Side = Annotated[float, BeforeValidator(quantity("m", 0.0, 50.0, above=True))]
Depth = Annotated[float, BeforeValidator(quantity("m", 0.0, 3.0, above=True))]
Height = Annotated[float, BeforeValidator(quantity("m", 0.0, 3.0))]
Bore = Annotated[float, BeforeValidator(quantity("m", 0.0, 0.3, above=True))]
Gap = Annotated[float, BeforeValidator(quantity("m", 0.0, 5.0, above=True))]
Share = Annotated[float, BeforeValidator(quantity("1", 0.0, 1.0))]
SomeShare = Annotated[float, BeforeValidator(quantity("1", 0.0, 1.0, above=True))]
PartShare = Annotated[float, BeforeValidator(quantity("1", 0.0, 1.0, below=True))]
Days = Annotated[int, BeforeValidator(_days)]
Count = Annotated[int, BeforeValidator(_count)]
DayOfYear = Annotated[Any, BeforeValidator(_day)]
Latitude = Annotated[float, BeforeValidator(_latitude)]
Elevation = Annotated[float, BeforeValidator(quantity("m", -450.0, 9000.0))]
Stages = Annotated[tuple[int, int, int, int], BeforeValidator(_stages)]
Weekdays = Annotated[tuple[int, ...], BeforeValidator(_weekdays)]
Amount = Annotated[float | None, BeforeValidator(_amount)]
Medium = Annotated[str, BeforeValidator(_from_table(media, "mixes"))]
CropName = Annotated[str, BeforeValidator(_from_table(crops, "crops"))]
Part = Annotated[float, BeforeValidator(part)]
Exposure = Annotated[float, BeforeValidator(_number(*EXPOSURE))]
Canopy = Annotated[float, BeforeValidator(_number(1.0, 2.0))]
Conductivity = Annotated[float, BeforeValidator(quantity("m/d", 1e-6, 10_000.0))]
PerDepth = Annotated[float, BeforeValidator(per_depth)]
Shape = Annotated[float, BeforeValidator(_number(1.01, 10.0))]
Exponent = Annotated[float, BeforeValidator(_number(-2.0, 10.0))]
Wetting = Annotated[float, BeforeValidator(_number(0.5, 4.0))]
Density = Annotated[float, BeforeValidator(quantity("kg/m3", 10.0, 2000.0))]
