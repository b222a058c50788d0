"""Text with a unit to a number in the units used inside, and back for people.

Inside: metres, square metres, cubic metres, kilograms, days; shares as plain fractions.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any, Literal

from bedtide.errors import UnitError

__all__ = [
    "SYSTEMS",
    "System",
    "area_text",
    "convert",
    "depth_text",
    "length_text",
    "mass_text",
    "parse",
    "volume_text",
]

System = Literal["metric", "us"]
SYSTEMS: tuple[System, ...] = ("metric", "us")

# What people write and the unit library does not know, or knows by another name.
_ALIASES = {
    "%": "percent",
    '"': "inch",
    "''": "inch",
    "'": "foot",
    "in": "inch",
    "l": "liter",
    "us gal": "gallon",
    "us gallon": "gallon",
    "us gallons": "gallon",
    "imp gal": "imperial_gallon",
    "imperial gallon": "imperial_gallon",
    "imperial gallons": "imperial_gallon",
    "c": "degC",
    "f": "degF",
    "ft2": "foot**2",
    "ft3": "foot**3",
    "yd3": "yard**3",
    "m2": "meter**2",
    "m3": "meter**3",
    "cm3": "centimeter**3",
    "days": "day",
    "kg/m3": "kilogram/meter**3",
    "g/cm3": "gram/centimeter**3",
    "m3/m3": "dimensionless",
    "": "dimensionless",
}
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
_NUMBER = re.compile(
    r"^\s*(?P<sign>[+-]?)\s*(?:(?P<whole>\d+)[ -](?P<num>\d+)/(?P<den>\d+)"
    r"|(?P<num2>\d+)/(?P<den2>\d+)"
    r"|(?P<plain>\d*[.,]?\d+(?:[eE][+-]?\d+)?))\s*(?P<unit>.*?)\s*$"
)
_THOUSANDS = re.compile(r"^[1-9]\d{0,2},\d{3}$")  # 1,500 may be fifteen hundred or one and a half
_FEET_INCHES = re.compile(r"^\s*(\d+)\s*(?:'|ft|feet|foot)\s*(.+?)\s*(?:\"|''|in|inch|inches)\s*$")


def parse(text: str | float, unit: str, *, where: str) -> float:
    """Number in `unit` from text such as ``"42 cm"``, ``"16 1/2 in"`` or ``"60 %"``.

    A bare number is taken for a share (`unit` ``"1"``) only; all else must carry its unit.
    A decimal comma is read as a decimal point; ``1,500`` may mean either and is refused.

    Parameters
    ----------
    text : str or float
        What the person wrote.
    unit : str
        The unit wanted, such as ``"m"``, ``"m3"``, ``"m/d"``, ``"1"`` (a share) or ``"d"``.
    where : str
        File and key, for the message.

    Returns
    -------
    float
        The number in `unit`.

    Raises
    ------
    UnitError
        If there is no number, no unit, an unknown unit or one of another kind, or a comma that
        may set off thousands.

    Examples
    --------
    >>> parse("42 cm", "m", where="box.depth")
    0.42
    >>> round(parse("16 1/2 in", "m", where="box.depth"), 4)
    0.4191
    >>> parse("60 %", "1", where="level")
    0.6
    """
    example = _EXAMPLES.get(unit, f'a number with a unit, such as "1 {unit}"')
    if isinstance(text, bool) or not isinstance(text, (int, float, str)):
        raise UnitError(where, f"{text!r} is not a number with a unit", expected=example)
    if isinstance(text, (int, float)):
        if unit == "1":
            return float(text)
        raise UnitError(where, f"{text:g} has no unit", expected=example)
    feet = _FEET_INCHES.match(text)
    if feet and unit == "m":
        inches = _number(feet.group(2))
        if inches is not None:
            return (float(feet.group(1)) * 12 + inches) * 0.0254
    match = _NUMBER.match(text)
    if match is None:
        raise UnitError(where, f'"{text}" is not a number with a unit', expected=example)
    if _THOUSANDS.match(match.group("plain") or ""):
        plain = match.group("plain")
        raise UnitError(
            where,
            f'"{text}" may be {plain.replace(",", "")} or {plain.replace(",", ".")}',
            expected="a number without a thousands mark, or with a decimal point",
        )
    value = _value(match)
    name = match.group("unit")
    if name == "" and unit != "1":
        raise UnitError(where, f'"{text}" has no unit', expected=example)
    if name.lower() in _AMBIGUOUS:
        raise UnitError(
            where, f'"{text}" does not say which gallon', expected='"US gal" or "imp gal"'
        )
    try:
        return convert(value, name, unit)
    except ValueError:
        raise UnitError(
            where, f'"{text}" has a unit that does not fit here', expected=example
        ) from None


def convert(value: Any, given: str, wanted: str) -> Any:
    """Value or array of values from one unit to another.

    Parameters
    ----------
    value : float or ndarray
        In unit `given` [1].
    given, wanted : str
        Unit texts; what people write (``in``, ``US gal``, ``%``) is understood.

    Returns
    -------
    float or ndarray
        In unit `wanted` [1].

    Raises
    ------
    ValueError
        If a unit is unknown or the two are of different kinds.
    """
    import pint

    registry = _registry()
    try:
        result = registry.Quantity(value, _name(given)).to(_name(wanted)).magnitude
    except (pint.errors.PintError, AttributeError, TypeError, AssertionError) as error:
        raise ValueError(f"{given} -> {wanted}: {error}") from None
    # 42 cm is 0.42 m, not 0.42000000000000004: undo the last binary digit of scalar conversions.
    return float(f"{result:.15g}") if isinstance(result, float) else result


def length_text(metres: float, system: System = "metric") -> str:
    """Length as people write it: ``"42 cm"`` or ``"16.5 in"``.

    Parameters
    ----------
    metres : float
        Length [m].
    system : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Number and unit.
    """
    if system == "us":
        return f"{_trim(metres / 0.0254, 1)} in"
    return f"{_trim(metres, 2)} m" if abs(metres) >= 1 else f"{_trim(metres * 100, 1)} cm"


def depth_text(metres: float, system: System = "metric") -> str:
    """Depth of water as people write it: ``"12 mm"`` or ``"0.47 in"``.

    Parameters
    ----------
    metres : float
        Depth [m].
    system : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Number and unit.
    """
    return f"{metres / 0.0254:.2f} in" if system == "us" else f"{metres * 1000:,.0f} mm"


def volume_text(cubic_metres: float, system: System = "metric") -> str:
    """Volume of water as people write it: ``"120 L"`` or ``"32 US gal"``.

    Parameters
    ----------
    cubic_metres : float
        Volume [m3].
    system : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Number and unit.
    """
    amount, unit = (
        (cubic_metres / 3.785411784e-3, "US gal") if system == "us" else (cubic_metres * 1000, "L")
    )
    return f"{_trim(amount, 1) if abs(amount) < 10 else f'{amount:,.0f}'} {unit}"


def area_text(square_metres: float, system: System = "metric") -> str:
    """Area as people write it: ``"2.88 m2"`` or ``"31 ft2"``.

    Parameters
    ----------
    square_metres : float
        Area [m2].
    system : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Number and unit.
    """
    if system == "us":
        return f"{_trim(square_metres / 0.3048**2, 1)} ft2"
    return f"{_trim(square_metres, 2)} m2"


def mass_text(kilograms: float, system: System = "metric") -> str:
    """Mass as people write it: ``"480 kg"`` or ``"1,060 lb"``.

    Parameters
    ----------
    kilograms : float
        Mass [kg].
    system : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Number and unit.
    """
    if system == "us":
        return f"{kilograms / 0.45359237:,.0f} lb"
    return f"{kilograms:,.0f} kg"


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def _name(unit: str) -> str:
    unit = unit.strip()
    return _ALIASES.get(unit.lower(), unit)


def _number(text: str) -> float | None:
    match = _NUMBER.match(text)
    return None if match is None or match.group("unit") else _value(match)


def _value(match: re.Match[str]) -> float:
    sign = -1.0 if match.group("sign") == "-" else 1.0
    if match.group("plain") is not None:
        return sign * float(match.group("plain").replace(",", "."))
    if match.group("whole") is not None:
        whole, top, bottom = (float(match.group(key)) for key in ("whole", "num", "den"))
        return sign * (whole + top / bottom)
    return sign * float(match.group("num2")) / float(match.group("den2"))


def _trim(value: float, digits: int) -> str:
    text = f"{value:,.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
