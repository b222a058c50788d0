"""Kinds of values of a bed: each reads what was written into a checked value in SI units.

In a description a number carries its unit. In Python, where pydantic is given no context, a bare
number is in SI units. What was read can be written again by pydantic's dump. A mistake leaves here
in a pydantic error that carries our own; ``read.py`` says in which file and where it stands.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Final

from pydantic import (
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    PlainSerializer,
    TypeAdapter,
    ValidationInfo,
)
from pydantic_core import PydanticCustomError, core_schema

from bedtide.constants import YEARS
from bedtide.crop import EXPOSURE, EXPOSURES, WIDEST_CANOPY, crop_names
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
from bedtide.mix import RANGES, media
from bedtide.units import length_text, parse, volume_text

WRITTEN: Final = ConfigDict(extra="forbid", populate_by_name=True, hide_input_in_errors=True)
"""How every model of a description is read."""
Day = datetime.date | tuple[int, int]  # a date, or the month and day of every year

_US = ("in", "inch", "inches", '"', "ft", "feet", "foot", "'", "gal", "gallon", "gallons", "yd")
DRYING: Final = (0.1, 2.0)
"""Bounds of the factor on what a surface loses [1]."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_LATITUDE = re.compile(
    r"\s*(?P<number>[+-]?\d*\.?\d+(?:e[+-]?\d+)?\.?)\s*(?:°|degrees|deg)?\s*(?P<side>[ns])?\s*",
    re.IGNORECASE,
)
_DAY = 'month and day for every year, such as "05-10", or a full date, such as "2027-05-10"'
_WEEK = 'days such as ["mon", "thu"]'
_DATE = re.compile(r"\s*(?:(\d{4})-)?(\d{1,2})-(\d{1,2})\s*")


def refused(*errors: InputError) -> PydanticCustomError:
    """Error for a validator to raise; `where` of each mistake is its key path below the value."""
    text = " ".join(f"{error}".removeprefix(": ").replace("\n", " ") for error in errors)
    return PydanticCustomError("bed", "{text}", {"text": text, "errors": errors})


def refuse(errors: Sequence[InputError]) -> None:
    """Raise the mistakes that were found, if there are any."""
    if errors:
        raise refused(*errors)


@cache
def adapter(kind: type) -> TypeAdapter[Any]:
    """Reader and writer of a model, from a mapping of its keys and back."""
    return TypeAdapter(kind)


def read(kind: type, given: Any, info: ValidationInfo) -> Any:
    """What a table says, read as a model of its own."""
    return adapter(kind).validate_python(given, context=info.context)


def written(value: Any) -> dict[str, Any]:
    """What a model holds by its keys, as a description states it."""
    stated = adapter(value.__class__).dump_python(
        value, mode="json", by_alias=True, exclude_none=True
    )
    return {key: each for key, each in stated.items() if each not in ([], "")}


def keys_of(kind: type) -> dict[str, str]:
    """Keys of a model as they are written, each with an example of its value."""
    return {
        str(field.validation_alias or name): str((field.examples or [""])[0])
        for name, field in kind.__pydantic_fields__.items()  # type: ignore[attr-defined]
    }


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
    return f"{value:g} days" if unit == "d" else f"{value:g} {unit}"


@dataclass(frozen=True)
class Quantity:
    """A number with a unit, within bounds; `above` and `below` exclude the bounds themselves."""

    unit: str
    low: float
    high: float
    above: bool = False
    below: bool = False
    example: str = ""

    def read(self, given: Any, info: ValidationInfo) -> float:
        """The number in the inside unit."""
        bare = isinstance(given, (int, float)) and not isinstance(given, bool)
        try:
            in_si = bare and info.context is None
            value = float(given) if in_si else parse(given, self.unit, where="")
        except UnitError as error:
            expected = self.example or error.expected
            raise refused(UnitError("", error.problem, expected)) from None
        small = value < self.low or (self.above and value == self.low)
        large = value > self.high or (self.below and value == self.high)
        if math.isfinite(value) and not small and not large:
            return value
        least, most = (said(bound, self.unit, given) for bound in (self.low, self.high))
        first = f"more than {least}" if self.above else f"at least {least}"
        last = f"less than {most}" if self.below else f"at most {most}"
        problem = "too large" if large else "too small"
        if value < 0.0 <= self.low:
            problem = "negative"
        raise refused(RangeError("", problem, f"{first} and {last}"))

    def write(self, value: float) -> Any:
        """The number with its unit, a share without."""
        return value if self.unit == "1" else f"{value!r} {self.unit}"

    def __get_pydantic_core_schema__(self, kind: Any, handler: GetCoreSchemaHandler) -> Any:
        return core_schema.with_info_before_validator_function(
            self.read,
            handler(kind),
            serialization=core_schema.plain_serializer_function_ser_schema(self.write),
        )


@dataclass(frozen=True)
class Number:
    """A number without a unit, within bounds."""

    low: float
    high: float
    what: str = "a number in range"
    expected: str = ""
    whole: bool = False

    def read(self, given: Any) -> float:
        """The number."""
        try:
            value = float(given) if not isinstance(given, bool) else math.nan
        except (TypeError, ValueError):
            value = math.nan
        if self.low <= value <= self.high and not (self.whole and value % 1.0):
            return value
        expected = self.expected or f"between {self.low:g} and {self.high:g}"
        raise refused(RangeError("", f"not {self.what}", expected))

    def __get_pydantic_core_schema__(self, kind: Any, handler: GetCoreSchemaHandler) -> Any:
        return core_schema.no_info_before_validator_function(self.read, handler(kind))


def listed(given: Any, names: Iterable[str], what: str) -> str:
    """The name that a table has, letter case aside; of two that are alike the last."""
    every = {name.lower(): name for name in names}
    if not isinstance(given, str):
        raise refused(FieldError("", "not text", "a name in quotation marks"))
    found = every.get(given.strip().lower())
    if found is not None:
        return found
    close = ", ".join(f'"{name}"' for name in nearest_names(given, every.values()))
    hint = f"The full list:  bedtide list {what}"
    hint = f"Closest names: {close}. {hint}" if close else hint
    raise refused(ChoiceError("", f"not in the table of {what}", hint=hint))


def _whole_days(value: float) -> float:
    if value % 1.0:
        expected = 'whole days such as "14 days"'
        raise refused(RangeError("", "not a whole number of days", expected))
    return value


def _four(given: Any) -> Any:
    if isinstance(given, (list, tuple)) and len(given) == 4:
        return given
    expected = 'four lengths such as ["25 days", "35 days", "40 days", "20 days"]'
    raise refused(FieldError("", "not the lengths of the four stages", expected))


def _read_day(given: Any, info: ValidationInfo) -> Day:
    """Date, or month and day of every year, from text or what TOML has read already."""
    if info.context is None and isinstance(given, (tuple, datetime.date)):
        return given
    text = given.isoformat()[:10] if isinstance(given, datetime.date) else str(given)
    found = _DATE.fullmatch(text)
    problem = "not a day"
    if found:
        yearly = found[1] is None
        year, month, day = (int(part or 2001) for part in found.groups())
        problem = "there is no such day, month first" if yearly else "there is no such day"
        if yearly and (month, day) == (2, 29):
            problem = "29 February does not come every year"
        elif not YEARS[0] <= year <= YEARS[1]:
            problem = f"the year is not from {YEARS[0]} to {YEARS[1]}"
        else:
            with suppress(ValueError):
                date = datetime.date(year, month, day)
                return (month, day) if yearly else date
    raise refused(FieldError("", problem, _DAY))


def _write_day(day: Day) -> str:
    return day.isoformat() if isinstance(day, datetime.date) else f"{day[0]:02d}-{day[1]:02d}"


def _exposure_of_word(given: Any) -> Any:
    return EXPOSURES.get(given.strip().lower(), given) if isinstance(given, str) else given


def _read_latitude(given: Any) -> float:
    """Degrees, north positive, from a number or text such as "33.9 S"."""
    found = _LATITUDE.fullmatch(str(given)) if not isinstance(given, bool) else None
    value = float(found["number"]) if found else math.nan
    if found and found["side"] and found["number"].startswith("-"):
        value = math.nan  # south already, or north twice
    if not -90.0 <= value <= 90.0:
        expected = 'degrees such as 44.5, -33.9 or "33.9 S"'
        raise refused(RangeError("", "not a latitude", expected))
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
            raise refused(ChoiceError("", problem, _WEEK))
        numbers.update(found)
    if not numbers:
        raise refused(ChoiceError("", "no day of the week", _WEEK))
    return tuple(sorted(numbers))


def _to_the_lip(given: Any) -> Any:
    return None if isinstance(given, str) and given.strip().lower() == "to the lip" else given


LOWER: Final = BeforeValidator(lambda text: text.strip().lower() if isinstance(text, str) else text)
"""Words of a Literal, letter case aside."""
_WORDS: Final = ", ".join(f'"{word}" ({factor:g})' for word, factor in EXPOSURES.items())

Name = Annotated[
    str, BeforeValidator(lambda given: printable(given) if isinstance(given, str) else given)
]
Span = Annotated[float, Quantity("m", 0.05, 50.0)]
Rim = Annotated[float, Quantity("m", 0.05, 3.0)]
Side = Annotated[float, Quantity("m", 0.0, 50.0, above=True)]
Depth = Annotated[float, Quantity("m", 0.0, 3.0, above=True)]
Height = Annotated[float, Quantity("m", 0.0, 3.0)]
Bore = Annotated[float, Quantity("m", 0.0, 0.3, above=True)]
Gap = Annotated[float, Quantity("m", 0.0, 5.0, above=True)]
Elevation = Annotated[float, Quantity("m", -450.0, 9000.0)]
PlantHeight = Annotated[float, Quantity("m", 0.05, 10.0)]
Suction = Annotated[float, Quantity("m", 0.1, 200.0)]
Share = Annotated[float, Quantity("1", 0.0, 1.0)]
SomeShare = Annotated[float, Quantity("1", 0.0, 1.0, above=True)]
PartShare = Annotated[float, Quantity("1", 0.0, 1.0, below=True)]
Part = Annotated[float, Quantity("1", 0.0, 1000.0, above=True)]
Conductivity = Annotated[float, Quantity("m/d", *RANGES["k_s"][:2])]
PerDepth = Annotated[float, Quantity("1/m", *RANGES["alpha"][:2])]
Density = Annotated[float, Quantity("kg/m3", *RANGES["bulk_density"][:2])]
_Volume = Annotated[
    float, Quantity("m3", 0.0, 100.0, above=True, example='"to the lip", "40 L" or "10 US gal"')
]
Volume = Annotated[_Volume | None, BeforeValidator(_to_the_lip)]
Canopy = Annotated[float, Number(1.0, WIDEST_CANOPY)]
Shape = Annotated[float, Number(*RANGES["n"][:2])]
Exponent = Annotated[float, Number(*RANGES["l"][:2])]
Wetting = Annotated[float, Number(*RANGES["wetting"][:2])]
Drying = Annotated[float, Number(*DRYING)]
Kcb = Annotated[float, Number(0.0, 2.0)]
Count = Annotated[int, Number(1, 1000, "a number of pipes", "a whole number from 1 up", whole=True)]
Exposure = Annotated[
    float,
    Number(
        *EXPOSURE,
        "an exposure",
        f"a number between {EXPOSURE[0]:g} and {EXPOSURE[1]:g}, or one of {_WORDS}",
    ),
    BeforeValidator(_exposure_of_word),
]
Latitude = Annotated[float, BeforeValidator(_read_latitude)]
Days = Annotated[int, BeforeValidator(_whole_days), Quantity("d", 1.0, 366.0)]
Stages = Annotated[tuple[Days, Days, Days, Days], BeforeValidator(_four)]
DayOfYear = Annotated[Any, BeforeValidator(_read_day), PlainSerializer(_write_day)]
Weekdays = Annotated[
    tuple[int, ...],
    BeforeValidator(_read_weekdays),
    PlainSerializer(lambda numbers: [WEEKDAYS[number] for number in numbers]),
]
Medium = Annotated[str, BeforeValidator(lambda given: listed(given, media(), "mixes"))]
TableCrop = Annotated[str, BeforeValidator(lambda given: listed(given, crop_names(), "crops"))]
