"""What can be changed on the page, between which bounds, and the description that comes of it."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from bedtide.bed import Bed, Pipes, crown_height, document_of, set_value, surface_height
from bedtide.errors import ChoiceError, FieldError, InputError, RangeError, raise_all, shown
from bedtide.mix import media
from bedtide.units import INCH

if TYPE_CHECKING:
    import tomlkit

    from bedtide.units import System

_Day = datetime.date | tuple[int, int]

AS_FILED: Final = "as in my file"
_NUMBER: Final = re.compile(r"[0-9]{1,6}(\.[0-9]{1,6})?")  # as it is written into the file
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_LONGEST: Final = 120.0  # days of a stay, as `bedtide away` takes them
_NEEDS: Final = {"below share": "watering.share", "every n days": "watering.every", "never": ""}
"""Rules of watering, and the key that goes with each."""


@dataclass(frozen=True, kw_only=True)
class Control:
    """One thing to change: a number with its bounds, a day, or a word of several."""

    key: str
    kind: Literal["number", "date", "choice"]
    value: str  # as the file has it
    unit: str = ""
    written: str = "{}"  # how a value goes into the file; empty where it does not by itself
    low: float = 0.0  # of a day: 0 for the first one
    high: float = 0.0
    step: float = 1.0
    first: str = ""  # of the days that may be chosen
    last: str = ""
    yearly: bool = False  # a day of every year, of which the file has month and day
    choices: tuple[str, ...] = ()
    name: str = ""  # of what is planted

    def at(self, value: str) -> float:
        """Where the slider stands: days since the first, or the number itself."""
        if not (_DATE if self.kind == "date" else _NUMBER).fullmatch(value):
            raise ValueError(value)
        if self.kind == "number":
            return float(value)
        return (_date(value) - _date(self.first)).days


def controls_of(
    bed: Bed, units: System, *, year: int, leave: datetime.date, days: int
) -> tuple[Control, ...]:
    """Everything that can be changed of a bed, as its file has it, and a stay away."""
    size, unit, step = _length(units)
    surface, crown = surface_height(bed), crown_height(bed)
    layer, outlet, rule = bed.reservoir, bed.overflow, bed.watering

    def length(key: str, value: float, low: float, high: float, written: str = "{} {}") -> Control:
        written = written.format("{}", unit)
        return _number(key, value / size, low / size, high / size, unit, step, written)

    found: list[Control] = []
    if outlet.height is not None and outlet.state != "none":
        found.append(length("overflow.height", outlet.height, 0.01, surface))
    found.append(length("mix depth", surface - crown, 0.05, 1.0, ""))
    if isinstance(layer, Pipes):
        most = max(layer.count, math.floor(bed.box.width / layer.outside))
        found.append(_number("reservoir.count", layer.count, 1, most))
    else:
        found.append(length("reservoir.height", crown, 0.03, 0.5))
    found += [_choice(f"mix.{zone}.medium", AS_FILED, media()) for zone in ("top", "wick")]
    mulch, share = bed.surface.mulch_share, 0.3 if rule.share is None else rule.share
    found += [
        _number("surface.mulch_share", 100 * mulch, 0, 100, "%", 5, "{} %"),
        _choice("watering.when", rule.when, _NEEDS),
        _number("watering.share", 100 * share, 1, 100, "%", 1, "{} %"),
        _number("watering.every", rule.every or 7, 1, 60, written="{} days"),
    ]
    crops = [planting.crop.name for planting in bed.plantings]
    for number, planting in enumerate(bed.plantings):
        name, again = planting.crop.name, crops[: number + 1].count(planting.crop.name)
        name += f" {again}" if crops.count(name) > 1 else ""
        start, end = planting.planted, planting.removed
        found.append(_planting(f"planting.{number}.planted", start, year, name))
        if end is not None:
            found.append(_planting(f"planting.{number}.removed", end, year, name, after=start))
    found.append(_day("leave", leave, leave.year, leave.year, written=""))
    found.append(_number("days", days, 1, _LONGEST, written=""))
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
    known = {control.key: control for control in controls}
    moved = {key: values[key] for key in known if values[key] != known[key].value}
    if needed := _NEEDS[moved.get("watering.when", "never")]:
        moved[needed] = values[needed]
    for key, value in moved.items():
        control = known[key]
        if control.choices and control.value == AS_FILED:
            mix: Any = document["mix"][key.split(".")[1]]
            for name in list(mix):
                del mix[name]  # numbers of the other mix, too
        if control.written:
            word = control.written.format(value[5:] if control.yearly else value)
            set_value(document, key, int(word) if word.isdecimal() else word)
    filed = {"reservoir.height": crown_height(bed)}
    filed["mix depth"] = surface_height(bed) - crown_height(bed)
    if filed.keys() & moved.keys():
        size, short, _ = _length(units)
        heights = [float(moved[k]) * size if k in moved else filed[k] for k in filed]
        depth = round((sum(heights) + bed.box.freeboard) / size, 3)
        set_value(document, "box.depth", f"{depth:g} {short}")
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
        number = control.at(value)
    except ValueError:
        kind = "a date" if control.kind == "date" else "a number"
        raise FieldError(place, f'"{shown(value)}" is not {kind}') from None
    if not control.low <= number <= control.high:
        low, high = (f"{each:g} {control.unit}".strip() for each in (control.low, control.high))
        expected = f"{control.first or low} to {control.last or high}"
        raise RangeError(place, f"{shown(value)} is out of bounds", expected=expected)
    if control.step == 1 and number != int(number):
        raise RangeError(place, f"{shown(value)} is not whole", expected="a whole number")


def _number(
    key: str,
    value: float,
    low: float,
    high: float,
    unit: str = "",
    step: float = 1.0,
    written: str = "{}",
) -> Control:
    """A number with bounds that lie whole steps off it, so that a slider can stand on it."""
    value = round(value, 2)
    below, above = (max(math.floor(room / step + 1e-9), 0) for room in (value - low, high - value))
    return Control(
        key=key, kind="number", value=f"{value:g}", unit=unit, step=step, written=written,
        low=round(value - step * below, 2), high=round(value + step * above, 2),
    )  # fmt: skip


def _choice(key: str, value: str, others: Iterable[str]) -> Control:
    choices = tuple(dict.fromkeys((value, *others)))
    return Control(key=key, kind="choice", value=value, choices=choices)


def _planting(key: str, day: _Day, year: int, name: str, *, after: _Day | None = None) -> Control:
    """A day of planting; or of removal, which may be moved as far as the planting `after` it."""
    if isinstance(day, tuple):
        return _day(key, datetime.date(year, *day), year, year, name=name, yearly=True)
    opens = after.year if isinstance(after, datetime.date) else day.year
    return _day(key, day, opens, day.year + (after is not None), name=name)


def _day(key: str, day: datetime.date, opens: int, closes: int, **more: Any) -> Control:
    """A day within some years."""
    first, last = datetime.date(opens, 1, 1), datetime.date(closes, 12, 31)
    return Control(
        key=key, kind="date", value=str(day), high=float((last - first).days),
        first=str(first), last=str(last), **more,
    )  # fmt: skip


def _date(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text)


def _length(units: System) -> tuple[float, str, float]:
    """Size of the unit of lengths [m], its name, and a step of a slider in it."""
    return (INCH, "in", 0.25) if units == "us" else (0.01, "cm", 0.5)
