"""What can be changed on the page, between which bounds, and the description that comes of it."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from bedtide.bed import Bed, Pipes, crown_height, document_of, set_value, surface_height
from bedtide.errors import ChoiceError, FieldError, InputError, RangeError, raise_all, shown
from bedtide.mix import media
from bedtide.units import INCH

if TYPE_CHECKING:
    import tomlkit

    from bedtide.units import System

AS_FILED: Final = "as in my file"
_NUMBER: Final = re.compile(r"[0-9]{1,6}(\.[0-9]{1,6})?")  # as it is written into the file
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LONGEST: Final = 120.0  # days of a stay, as `bedtide away` takes them
_RULES: Final = ("below share", "every n days", "never")


@dataclass(frozen=True, kw_only=True)
class Control:
    """One thing to change: a number with its bounds, a day, or a word of several."""

    key: str
    kind: Literal["number", "date", "choice"]
    value: str  # as the file has it
    unit: str = ""
    low: float = 0.0  # of a day: 0 for the first one of its year
    high: float = 0.0
    step: float = 1.0
    first: str = ""  # 1 January of the year of a day
    last: str = ""
    choices: tuple[str, ...] = ()
    name: str = ""  # of what is planted

    @property
    def at(self) -> str:
        """Where the slider stands: days since the first, or the number itself."""
        if self.kind != "date":
            return self.value
        return str((_date(self.value) - _date(self.first)).days)


def controls_of(
    bed: Bed, units: System, *, year: int, leave: datetime.date, days: int
) -> tuple[Control, ...]:
    """Everything that can be changed of a bed, as its file has it, and a stay away."""
    size, unit, step = _length(units)
    surface, crown = surface_height(bed), crown_height(bed)
    layer, outlet, rule = bed.reservoir, bed.overflow, bed.watering

    def length(key: str, value: float, low: float, high: float) -> Control:
        return _number(key, value / size, low / size, high / size, unit, step)

    found: list[Control] = []
    if outlet.height is not None and outlet.state != "none":
        found.append(length("overflow.height", outlet.height, 0.01, surface))
    found.append(length("mix depth", surface - crown, 0.05, 1.0))
    if isinstance(layer, Pipes):
        most = max(layer.count, math.floor(bed.box.width / layer.outside))
        found.append(_number("reservoir.count", layer.count, 1, most, "", 1))
    else:
        found.append(length("reservoir.height", crown, 0.03, 0.5))
    found += [_choice(f"mix.{zone}.medium", AS_FILED, media()) for zone in ("top", "wick")]
    mulch = 100 * bed.surface.mulch_share
    found.append(_number("surface.mulch_share", mulch, 0, 100, "%", 5))
    found.append(_choice("watering.when", rule.when, _RULES))
    share = 30.0 if rule.share is None else 100 * rule.share
    found.append(_number("watering.share", share, 1, 100, "%", 1))
    found.append(_number("watering.every", rule.every or 7, 1, 60, "", 1))
    crops = [planting.crop.name for planting in bed.plantings]
    for number, planting in enumerate(bed.plantings):
        name, again = planting.crop.name, crops[: number + 1].count(planting.crop.name)
        name += f" {again}" if crops.count(name) > 1 else ""
        for what in ("planted", "removed"):
            if day := getattr(planting, what):
                day = day if isinstance(day, datetime.date) else datetime.date(year, *day)
                found.append(_day(f"planting.{number}.{what}", day, name))
    found.append(_day("leave", leave))
    found.append(_number("days", days, 1, _LONGEST, "", 1))
    return tuple(found)


def checked(controls: Sequence[Control], given: Mapping[str, str]) -> dict[str, str]:
    """Values of all controls, those of the file where not given; refuse all others."""
    known = {control.key: control for control in controls}
    errors: list[InputError] = []
    for key, value in given.items():
        try:
            if key not in known:
                raise FieldError("page", f'"{shown(key)}" can\'t be changed here')
            _check(known[key], value)
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    return {key: given.get(key, control.value) for key, control in known.items()}


def changed(
    text: str, bed: Bed, controls: Sequence[Control], values: Mapping[str, str], units: System
) -> tomlkit.TOMLDocument:
    """The description with what differs from the file put in its place; all comments stay."""
    document = document_of(text)
    moved = {c.key: values[c.key] for c in controls if values[c.key] != c.value}
    unit = {control.key: control.unit for control in controls}
    for key, value in moved.items():
        if key in ("overflow.height", "reservoir.height", "surface.mulch_share"):
            set_value(document, key, f"{value} {unit[key]}")
        elif key == "reservoir.count":
            set_value(document, key, int(value))
        elif key.startswith("planting."):
            _, number, what = key.split(".")
            day = getattr(bed.plantings[int(number)], what)
            set_value(document, key, value if isinstance(day, datetime.date) else value[5:])
        elif key.startswith("mix.") and value != AS_FILED:
            table: Any = document["mix"][key.split(".")[1]]
            for name in list(table):
                del table[name]  # numbers of the other mix, too
            set_value(document, key, value)
    if {"mix depth", "reservoir.height"} & moved.keys():
        size, short, _ = _length(units)
        crown = crown_height(bed)
        if "reservoir.height" in moved:
            crown = float(values["reservoir.height"]) * size
        mix = surface_height(bed) - crown_height(bed)
        if "mix depth" in moved:
            mix = float(values["mix depth"]) * size
        depth = round((crown + mix + bed.box.freeboard) / size, 3)
        set_value(document, "box.depth", f"{depth:g} {short}")
    if "watering.when" in moved:
        set_value(document, "watering.when", values["watering.when"])
    if "watering.share" in moved or values["watering.when"] == "below share" != bed.watering.when:
        set_value(document, "watering.share", f"{values['watering.share']} %")
    if "watering.every" in moved or values["watering.when"] == "every n days" != bed.watering.when:
        set_value(document, "watering.every", f"{values['watering.every']} days")
    return document


def _check(control: Control, value: str) -> None:
    """Refuse a value that is none, or out of bounds."""
    place = f"{control.name} {control.key.split('.')[-1]}" if control.name else control.key
    if control.kind == "choice":
        if value not in control.choices:
            raise ChoiceError(
                place, f'"{shown(value)}" is not on offer', expected=" or ".join(control.choices)
            )
        return
    try:
        if control.kind == "date":
            number = float(_days(control, value))
        else:
            number = float(value if _NUMBER.fullmatch(value) else "none")
    except ValueError:
        kind = "a date" if control.kind == "date" else "a number"
        raise FieldError(place, f'"{shown(value)}" is not {kind}') from None
    if not control.low <= number <= control.high:
        low, high = (f"{each:g} {control.unit}".strip() for each in (control.low, control.high))
        low, high = (control.first, control.last) if control.kind == "date" else (low, high)
        raise RangeError(place, f"{shown(value)} is out of bounds", expected=f"{low} to {high}")
    if control.step == 1 and control.kind == "number" and number != int(number):
        raise RangeError(place, f"{shown(value)} is not whole", expected="a whole number")


def _number(key: str, value: float, low: float, high: float, unit: str, step: float) -> Control:
    """A number with bounds that lie whole steps off it, so that a slider can stand on it."""
    value = round(value, 2)
    low, high = min(low, value), max(high, value)
    low = value - step * math.floor((value - low) / step + 1e-9)
    high = value + step * math.floor((high - value) / step + 1e-9)
    return Control(
        key=key, kind="number", value=f"{value:g}", unit=unit, step=step,
        low=round(low, 2), high=round(high, 2),
    )  # fmt: skip


def _choice(key: str, value: str, others: Sequence[str]) -> Control:
    return Control(
        key=key, kind="choice", value=value, choices=tuple(dict.fromkeys((value, *others)))
    )


def _day(key: str, day: datetime.date, name: str = "") -> Control:
    first, last = datetime.date(day.year, 1, 1), datetime.date(day.year, 12, 31)
    return Control(
        key=key, kind="date", value=str(day), name=name, high=float((last - first).days),
        first=str(first), last=str(last),
    )  # fmt: skip


def _days(control: Control, value: str) -> int:
    return (_date(value) - _date(control.first)).days


def _date(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text if _DATE.fullmatch(text) else "none")


def _length(units: System) -> tuple[float, str, float]:
    """Size of the unit of lengths [m], its name, and a step of a slider in it."""
    return (INCH, "in", 0.25) if units == "us" else (0.01, "cm", 0.5)
