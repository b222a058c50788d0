"""Text with a unit to a number in the units used inside, and back for people.

Inside: metres, square metres, cubic metres, kilograms, days; shares as plain fractions.

What people write is looked up in a short fixed list; a unit is one of its names, or a few of them
multiplied or divided (``kg/m3``, ``MJ m-2 d-1``). Factors to SI are the exact international
definitions, and langley and mmHg the conventional values, of NIST Special Publication 811 (2008),
appendix B.8 (from memory); a gallon is 231 in3 in the US and 4.54609 L in Britain.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Any, Literal

from bedtide.errors import UnitError, shown

INCH, FOOT = 0.0254, 0.3048
"""International inch and foot [m]."""
US_GALLON = 3.785411784e-3
"""US gallon [m3]."""
POUND = 0.45359237
"""Avoirdupois pound [kg]."""
THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
"""A number such as 1,500, which may be fifteen hundred or one and a half."""

System = Literal["metric", "us"]
SYSTEMS: tuple[System, ...] = ("metric", "us")

# Kind of unit: powers of metre, kilogram, second, kelvin.
_Kind = tuple[int, int, int, int]
_KINDS: dict[str, _Kind] = {
    "length": (1, 0, 0, 0),
    "volume": (3, 0, 0, 0),
    "mass": (0, 1, 0, 0),
    "time": (0, 0, 1, 0),
    "temperature": (0, 0, 0, 1),
    "share": (0, 0, 0, 0),
    "speed": (1, 0, -1, 0),
    "pressure": (-1, 1, -2, 0),
    "energy": (2, 1, -2, 0),
    "energy on an area": (0, 1, -2, 0),
    "power": (2, 1, -3, 0),
}
# kind, factor to SI, names; the names of the second table take the prefixes below as well.
_NAMES = (
    ("length", INCH, "in inch inches \" ''"),
    ("length", FOOT, "ft foot feet '"),
    ("length", 0.9144, "yd yds yard yards"),
    ("length", 1609.344, "mi mile miles"),
    ("volume", 1e-6, "cc"),
    ("volume", US_GALLON, "us_gal us_gallon us_gallons"),
    ("volume", US_GALLON / 8, "pint pints"),
    ("volume", US_GALLON / 4, "qt quart quarts us_quart us_quarts"),
    ("volume", 4.54609e-3, "imp_gal imp_gallon imp_gallons imperial_gal imperial_gallon"
     " imperial_gallons"),
    ("mass", 1000.0, "t tonne tonnes"),
    ("mass", POUND, "lb lbs pound pounds"),
    ("mass", POUND / 16, "oz ounce ounces"),
    ("time", 1.0, "s sec second seconds"),
    ("time", 60.0, "min minute minutes"),
    ("time", 3600.0, "h hr hrs hour hours"),
    ("time", 86400.0, "d day days"),
    ("time", 7 * 86400.0, "week weeks"),
    ("time", 14 * 86400.0, "fortnight fortnights"),
    ("temperature", 1.0, "K kelvin degK"),
    ("share", 1.0, "1 dimensionless"),
    ("share", 0.01, "% percent"),
    ("share", 0.001, "permille ‰"),
    ("speed", 1609.344 / 3600, "mph"),
    ("speed", 1852 / 3600, "kn kt knot knots"),
    ("speed", 1 / 3.6, "kph"),
    ("pressure", 133.322387415, "mmHg"),
    ("energy", 4.184, "cal"),
    ("energy on an area", 41840.0, "ly langley langleys"),
)  # fmt: skip
_PREFIXED = (
    ("length", 1.0, "m", "meter metre"),
    ("volume", 1e-3, "L l", "liter litre"),
    ("mass", 1e-3, "g", "gram gramme"),
    ("pressure", 1.0, "Pa", "pascal"),
    ("pressure", 1e5, "bar", "bar"),
    ("energy", 1.0, "J", "joule"),
    ("energy", 3600.0, "Wh", ""),
    ("power", 1.0, "W", "watt"),
)
_WRITTEN = {
    "us": re.compile(r'\d ?(?:in|inch(?:es)?|ft|feet|foot|(?:US )?gal(?:lons)?|lb)"'),
    "metric": re.compile(r'\d ?(?:[mc]?m|metres?|meters?|[Ll]|lit(?:re|er)s?|m3|kg)"'),
}
_PREFIXES = (
    (1.0, "", ""), (1e-6, "u", "micro"), (1e-3, "m", "milli"), (1e-2, "c", "centi"),
    (1e-1, "d", "deci"), (1e2, "h", "hecto"), (1e3, "k", "kilo"), (1e6, "M", "mega"),
)  # fmt: skip
_UNITS: dict[str, tuple[float, _Kind]] = {
    name: (factor, _KINDS[kind]) for kind, factor, names in _NAMES for name in names.split()
} | {
    prefix + name + plural: (factor * scale, _KINDS[kind])
    for kind, factor, short, long in _PREFIXED
    for scale, abbreviation, full in _PREFIXES
    for prefix, names, plurals in ((abbreviation, short, ("",)), (full, long, ("", "s")))
    for name in names.split()
    for plural in plurals
}
# Scales of temperature: size of a degree, and where zero is [K].
_SCALES = dict.fromkeys(("c", "degc", "celsius"), (1.0, 273.15)) | dict.fromkeys(
    ("f", "degf", "fahrenheit"), (5 / 9, 459.67 * 5 / 9)
)
_PART = re.compile(r"(?P<sign>[*/. ]?)(?P<name>[A-Za-z%‰\"'_]+|1)(?:\^?(?P<power>-?\d))?")
_SPELLED = str.maketrans("²³¹⁻−µμ·", "231--uu*")
_AMBIGUOUS = {"gal", "gallon", "gallons"}
_EXAMPLES = {
    "m": '"42 cm" or "16 1/2 in"',
    "m3": '"120 L" or "32 US gal"',
    "m/d": '"250 cm/day"',
    "1/m": '"14 1/m" or "0.14 1/cm"',
    "1": '"40 %" or 0.4',
    "d": '"14 days"',
    "kg/m3": '"120 kg/m3"',
}
_LONGEST = 60  # characters of a number with its unit
_NUMBER = re.compile(
    r"\s*([+-]?)\s*(?:(?:(\d+)[ -](?=\d+/\d))?(\d+)/(\d+)|(\d*[.,]?\d+(?:[eE][+-]?\d+)?))"
    r"\s*(.*?)\s*"
)
_FEET_INCHES = re.compile(r"\s*(\d+)\s*(?:'|ft|feet|foot)\s*(.+?)\s*(?:\"|''|in|inch|inches)\s*")


def parse(text: str | float, unit: str, *, where: str) -> float:
    """Number in `unit` from text such as ``"42 cm"``; only a share may come without a unit.

    A decimal comma is read as a decimal point; ``1,500`` may mean either and is refused.

    >>> parse("42 cm", "m", where="box.depth")
    0.42
    >>> parse("60 %", "1", where="level")
    0.6
    """
    example = _EXAMPLES.get(unit, f'a number with a unit, such as "1 {unit}"')
    if isinstance(text, bool) or not isinstance(text, (int, float, str)):
        raise UnitError(where, f"{shown(str(text))} is not a number with a unit", example)
    if isinstance(text, (int, float)):
        if unit == "1":
            return float(text)
        raise UnitError(where, f"{shown(f'{text}')} has no unit", example)
    said = f'"{shown(text)}"'
    if len(text) > _LONGEST:
        raise UnitError(where, f"{said} is too long for a number with a unit", example)
    feet = _FEET_INCHES.fullmatch(text) if unit == "m" else None
    inches = _NUMBER.fullmatch(feet[2]) if feet else None
    if feet and inches and not inches[6] and (amount := _value(inches)) is not None:
        return (float(feet[1]) * 12 + amount) * INCH
    match = _NUMBER.fullmatch(text)
    value = _value(match) if match else None
    if match is None or value is None:
        raise UnitError(where, f"{said} is not a number with a unit", example)
    plain, name = match[5] or "", match[6] or "1"
    if THOUSANDS.fullmatch(plain):
        either = f"{plain.replace(',', '')} or {plain.replace(',', '.')}"
        expected = "a number without a thousands mark, or with a decimal point"
        raise UnitError(where, f"{said} may be {either}", expected)
    if not match[6] and unit != "1":
        raise UnitError(where, f"{said} has no unit", example)
    if name.lower() in _AMBIGUOUS:
        raise UnitError(where, f"{said} does not say which gallon", '"US gal" or "imp gal"')
    try:
        return float(convert(value, name, unit))
    except ValueError:
        raise UnitError(where, f"{said} has a unit that does not fit here", example) from None


def convert(value: Any, given: str, wanted: str) -> Any:
    """Value or array from one unit to another; ValueError if they are unknown or differ in kind."""
    factor, zero, kind = _unit(given)
    wanted_factor, wanted_zero, wanted_kind = _unit(wanted)
    if kind != wanted_kind:
        raise ValueError(f"{given} and {wanted} are of different kinds")
    result = value * (factor / wanted_factor) + (zero - wanted_zero) / wanted_factor
    # 42 cm is 0.42 m, not 0.42000000000000004: undo the last binary digit of scalar conversions.
    return float(f"{result:.15g}") if isinstance(result, float) else result


def written_in(text: str) -> System:
    """The system that most amounts in quotation marks are in, such as those of a bed file."""
    us, metric = (len(_WRITTEN[system].findall(text)) for system in ("us", "metric"))
    return "us" if us > metric else "metric"


def trimmed(value: float, digits: int = 0) -> str:
    """A figure with at most so many digits, without noughts at its end or a sign before nought.

    >>> trimmed(1234.50, 2)
    '1,234.5'
    """
    text = f"{value:z,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def length_text(metres: float, system: System = "metric") -> str:
    """Length as people write it: ``"42 cm"``, or ``"16 1/2 in"`` where it is that, else tenths."""
    if system == "us":
        sixteenths = metres / INCH * 16
        if abs(sixteenths - round(sixteenths)) < 1e-6:
            return sawn_text(metres, "us")
        return f"{trimmed(metres / INCH, 1)} in"
    return f"{trimmed(metres, 2)} m" if abs(metres) >= 1 else f"{trimmed(metres * 100, 1)} cm"


def sawn_text(metres: float, system: System = "metric") -> str:
    """Length to saw by: ``"120.5 mm"`` or, to the nearest sixteenth, ``"95 5/8 in"``."""
    if system == "metric":
        return f"{trimmed(metres * 1000, 1).replace(',', '')} mm"
    whole, part = divmod(round(abs(metres) / INCH * 16), 16)
    fraction = f"{Fraction(part, 16)}" if part else ""
    number = " ".join(filter(None, [str(whole) if whole or not part else "", fraction]))
    return f"{'-' if metres < 0 and number != '0' else ''}{number} in"


def bulk_text(cubic_metres: float, system: System = "metric") -> str:
    """Volume of mix or stone as it is sold: ``"86 L"`` or ``"36.1 ft3"``."""
    feet = cubic_metres / FOOT**3
    return f"{feet:,.1f} ft3" if system == "us" else f"{trimmed(cubic_metres * 1000)} L"


def depth_text(metres: float, system: System = "metric") -> str:
    """Depth of water as people write it: ``"12 mm"`` or ``"0.47 in"``."""
    return f"{metres / INCH:z.2f} in" if system == "us" else f"{trimmed(metres * 1000)} mm"


def volume_text(cubic_metres: float, system: System = "metric") -> str:
    """Volume of water as people write it: ``"120 L"`` or ``"32 US gal"``."""
    unit = "US gal" if system == "us" else "L"
    amount = cubic_metres / US_GALLON if system == "us" else cubic_metres * 1000
    return f"{trimmed(amount, 1 if abs(amount) < 10 else 0)} {unit}"


def mass_text(kilograms: float, system: System = "metric") -> str:
    """Mass as people write it: ``"480 kg"`` or ``"1,060 lb"``."""
    return f"{trimmed(kilograms / POUND)} lb" if system == "us" else f"{trimmed(kilograms)} kg"


def _unit(text: str) -> tuple[float, float, _Kind]:
    """Factor to SI, zero of its scale in SI, and kind of a unit."""
    text = text.strip(" .").translate(_SPELLED).replace("**", "^").replace(" per ", "/")
    scale = _SCALES.get(re.sub("^(degrees?|deg|°)[ _]?", "", text.lower()))
    if scale is not None:
        return (*scale, _KINDS["temperature"])
    text = re.sub(r"^(?:cubic|cu)[ _](\w+)$", r"\1^3", text)
    if text.replace(" ", "_").lower() in _UNITS:
        text = text.replace(" ", "_")
    text, factor, kind, at = re.sub(r" ?([*/]) ?", r"\1", text), 1.0, _KINDS["share"], 0
    while at < len(text) or at == 0:
        part = _PART.match(text, at)
        name = part["name"] if part else ""
        # Litres and Inches are what they are in small letters, but MM and ML may be millions.
        found = _UNITS.get(name) or _UNITS.get(name if name in ("MM", "M") else name.lower())
        if part is None or found is None or (at > 0 and not part["sign"]):
            raise ValueError(f"{text} is not a unit known here")
        power = int(part["power"] or 1) * (-1 if part["sign"] == "/" else 1)
        factor *= found[0] ** power
        kind = tuple(a + power * b for a, b in zip(kind, found[1], strict=True))  # type: ignore[assignment]
        at = part.end()
    return factor, 0.0, kind


def _value(match: re.Match[str]) -> float | None:
    """Number of the groups of a match; None where it is none."""
    sign, whole, top, bottom, plain, _ = match.groups()
    if plain is not None:
        value = float(plain.replace(",", "."))
    elif int(bottom) == 0:
        return None
    else:
        value = float(whole or 0) + float(top) / float(bottom)
    return (-value if sign == "-" else value) if math.isfinite(value) else None
