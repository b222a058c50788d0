"""The bed: its sections together, each worked out from and checked against the ones before it."""

from __future__ import annotations

import math
from dataclasses import field, replace
from itertools import pairwise
from typing import Annotated, Any, Final

from pydantic import AliasPath, BeforeValidator, Field, InstanceOf, ValidationInfo, field_validator
from pydantic.dataclasses import dataclass

from bedtide.bed.forms import FORMS, WRITTEN, Crates, Pipes, Reservoir
from bedtide.bed.quantities import Day, Faults, Name, Share, at, said
from bedtide.bed.sections import (
    Bench,
    Box,
    DescribedCrop,
    DescribedMix,
    DescribedPlanting,
    Overflow,
    OverflowChange,
    Site,
    Surface,
    Watering,
    check_crowding,
    check_names,
    keys_of,
    read_crop,
    read_mix,
    read_planting,
    read_reservoir,
)
from bedtide.crop import Crop, Planting
from bedtide.mix import Mix

_ROUNDING: Final = 1e-9
_FLOOR: Final = "Heights start at the liner floor; check whether it was measured from the ground"
_OneMix = Annotated[InstanceOf[Mix], BeforeValidator(read_mix)]
_OneCrop = Annotated[InstanceOf[Crop], BeforeValidator(read_crop)]
_OnePlanting = Annotated[InstanceOf[Planting], BeforeValidator(read_planting)]


@dataclass(config=WRITTEN, frozen=True)
class Bed:
    """A sub-irrigated raised bed.

    `name` that its keeper gives it; `box`, `reservoir` and `overflow`; `wick_mix` and `top_mix`
    below and above the crown of the reservoir; `own_crops`, which the description adds to the
    table; `plantings`, none for a bare bed; the keeper's rule of `watering`; `surface`; `site`;
    `start_level`, the share of the store that is full on the first day [1]; `source`, the TOML
    text or the mapping that it was read from, no part of the comparison of two beds; `fitted`, a
    sentence on what of it was fitted to its own readings.
    """

    name: Name = Field(validation_alias=AliasPath("bed", "name"), examples=['"Kitchen bed"'])
    box: Box = Field()
    reservoir: Reservoir = Field()
    overflow: Overflow = Field()
    wick_mix: _OneMix = Field(validation_alias=AliasPath("mix", "wick"))
    top_mix: _OneMix = Field(validation_alias=AliasPath("mix", "top"))
    own_crops: Annotated[tuple[_OneCrop, ...], Field(validation_alias="crop")] = field(
        default=(), kw_only=True, compare=False, repr=False
    )
    plantings: tuple[_OnePlanting, ...] = Field(validation_alias="planting")
    watering: Watering = Field()
    surface: Surface = Field(default_factory=Surface)
    site: Site = Field(default_factory=Site)
    start_level: Share = Field(default=1.0, validation_alias=AliasPath("start", "level"))
    source: Any = field(default=None, compare=False, repr=False)
    fitted: str = field(default="", compare=False, repr=False)

    @field_validator("reservoir", mode="before")
    @classmethod
    def _read_reservoir(cls, given: Any, info: ValidationInfo) -> Any:
        return read_reservoir(given, info)

    @field_validator("reservoir")
    @classmethod
    def _fit_reservoir(cls, reservoir: Reservoir, info: ValidationInfo) -> Reservoir:
        """The reservoir fits into the box; pipes take what they leave open from it."""
        box: Box | None = info.data.get("box")
        found = Faults()
        if isinstance(reservoir, Crates) and box and (box.length_at_floor or box.width_at_floor):
            problem = "crates are upright and leave a wedge along walls that lean"
            upright = 'form = "stone", "false floor" or "pipes" in a tub that narrows downward'
            found.note("form", "choice", problem, upright)
        if isinstance(reservoir, Pipes):
            reservoir = _laid(reservoir, box, info.context, found)
        if box is not None and reservoir.crown >= box.depth - box.freeboard:
            surface = said(box.depth - box.freeboard, "m", at(info.context, "box.depth"))
            key = "outside" if isinstance(reservoir, Pipes) else "height"
            lower = f"less than {surface}, so that mix lies above the reservoir"
            found.note(key, "range", f"reaches the mix surface at {surface}", lower)
        found.refuse()
        return reservoir

    @field_validator("overflow")
    @classmethod
    def _fit_overflow(cls, given: Overflow, info: ValidationInfo) -> Overflow:
        """Every lip lies between floor and mix surface, and its changes do not overlap."""
        found = Faults()
        height = _lip(given, given, "", found, info)
        changes: list[tuple[Day, Day | None, float]] = []
        for number, change in enumerate(given.changes):
            lip = _lip(change, given, f"change.{number}.", found, info)
            if lip is not None:
                changes.append((change.start, change.end, lip))
        found.refuse()
        calendar = _calendar(changes, height, found)
        found.refuse()
        return Overflow(height, given.bore, given.state, calendar)

    @field_validator("own_crops")
    @classmethod
    def _check_names(cls, own: tuple[Crop, ...]) -> tuple[Crop, ...]:
        check_names(own)
        return own

    @field_validator("plantings")
    @classmethod
    def _check_crowding(
        cls, plantings: tuple[Planting, ...], info: ValidationInfo
    ) -> tuple[Planting, ...]:
        if info.context is not None:
            check_crowding(plantings)
        return plantings


SECTIONS: Final = (
    *("bed", "box", "reservoir", "overflow", "mix", "surface"),
    *("crop", "planting", "watering", "site", "start"),
)
KEYS: Final[dict[str, dict[str, str]]] = {
    "bed": {"name": '"Kitchen bed"'},
    "box": keys_of(Box),
    "overflow": keys_of(Overflow),
    "mix.wick": keys_of(DescribedMix),
    "mix.top": keys_of(DescribedMix),
    "surface": keys_of(Surface),
    "watering": keys_of(Watering),
    "site": keys_of(Site),
    "start": {"level": '"100 %"'},
}
"""Keys of each section of one kind, with an example of their values."""
CHANGE_KEYS: Final = keys_of(OverflowChange)
BENCH_KEYS: Final = keys_of(Bench)
LISTS: Final = {"crop": keys_of(DescribedCrop), "planting": keys_of(DescribedPlanting)}
"""Sections that there may be any number of, and their keys."""


def form_keys() -> dict[str, dict[str, str]]:
    """Forms of reservoir that can be described, with their keys and an example of each value."""
    return {name: {"form": "", **keys_of(form)} for name, form in FORMS.items()}


def sections_of(mapping: Any) -> list[tuple[str, dict[str, str]]]:
    """Every table that a description has or may have: its key path, and the keys that it takes."""
    found = []
    for section in SECTIONS:
        if section == "mix":
            for mix in ("mix.wick", "mix.top"):
                found.append((mix, KEYS[mix]))
                if isinstance(at(mapping, f"{mix}.bench"), dict):
                    found.append((f"{mix}.bench", BENCH_KEYS))
        elif section == "reservoir":
            form = str(at(mapping, "reservoir.form")).strip().lower()
            if form in FORMS:
                found.append((section, form_keys()[form]))
        elif section in LISTS:
            found += _items(mapping, section, LISTS[section])
        else:
            found.append((section, KEYS[section]))
            if section == "overflow":
                found += _items(mapping, "overflow.change", CHANGE_KEYS)
    return found


def _items(mapping: Any, path: str, keys: dict[str, str]) -> list[tuple[str, dict[str, str]]]:
    items = at(mapping, path)
    return [(f"{path}.{n}", keys) for n in range(len(items))] if isinstance(items, list) else []


def _laid(pipes: Pipes, box: Box | None, written: Any, found: Faults) -> Pipes:
    """Pipes with their count and their run in the box; mistakes are added to `found`."""

    def told(value: float, key: str) -> str:
        return said(value, "m", at(written, key))

    if pipes.inside >= pipes.outside:
        outside = told(pipes.outside, "reservoir.outside")
        problem = f"not smaller than the outside diameter of {outside}"
        hint = "Measure both; the name of a pipe is neither"
        found.note("inside", "range", problem, f"less than {outside}", hint)
        return pipes
    if (pipes.count == 0) == (pipes.gap is None):
        both = "both count and gap are given" if pipes.count else "neither count nor gap is given"
        found.note("", "field", both, 'count = 5, or gap = "3 cm" from which the count follows')
        return pipes
    if box is None:
        return pipes
    long, wide = box.length_at_floor or box.length, box.width_at_floor or box.width
    run = pipes.run or long
    if run > long + _ROUNDING:
        length = told(long, "box.length")
        most = f"at most {length}; pipes lie along the length"
        found.note("run", "range", f"longer than the box, {length}", most)
    count = pipes.count
    if pipes.gap is not None:
        count = math.floor((wide + pipes.gap) / (pipes.outside + pipes.gap) + _ROUNDING)
    fit = math.floor(wide / pipes.outside + _ROUNDING)
    key, width = "count" if pipes.count else "outside", told(wide, "box.width")
    if fit < 1:
        found.note("outside", "range", f"wider than the box, {width}", f"less than {width}")
    elif count > fit:
        taken = told(count * pipes.outside, "box.width")
        problem = f"side by side the pipes take {taken}, the box is {width} wide"
        hint = "Check that length and width are not swapped; pipes lie along the length"
        found.note(key, "range", problem, f"at most {fit} pipe{'s' if fit > 1 else ''}", hint)
    elif count * pipes.outside * run >= wide * long * (1.0 - _ROUNDING):
        problem = "the pipes touch one another and all four walls, so no mix between them can wick"
        hint = "Take one pipe less, or give the run if the pipes end short of the walls"
        found.note(key, "range", problem, "some width of mix beside the pipes", hint)
    else:
        return replace(pipes, count=count, run=run, gap=None)
    return pipes


def _lip(
    given: Overflow | OverflowChange, outlet: Overflow, path: str, found: Faults, info: Any
) -> float | None:
    """Height of the lip [m] from either way of giving it; None where that is a mistake."""
    height, centre, bore, whole = given.height, given.centre, outlet.bore, path.rstrip(".")
    if height and centre is not None:
        expected = "one of them: height of the lower lip, or centre of the outlet with its bore"
        found.note(whole, "field", "both height and centre are given", expected)
        return None
    if height:
        return _checked_lip(height, f"{path}height", found, info)
    if centre is None:
        if path or outlet.state != "none":
            expected = 'height = "9 cm" of the lower lip, or centre and bore'
            expected += "" if path else ', or state = "none"'
            found.note(whole, "field", "its height is missing", expected)
    elif bore is None:
        problem = "missing, so the lower lip is not known"
        found.note(
            "bore", "field", problem, 'inside diameter of the outlet, such as  bore = "20 mm"'
        )
    elif centre - bore / 2.0 <= 0.0:
        problem, more = "the lower lip would lie below the floor", "more than half of the bore"
        found.note(f"{path}centre", "range", problem, more, _FLOOR)
    else:
        return _checked_lip(centre - bore / 2.0, f"{path}centre", found, info)
    return None


def _checked_lip(lip: float, key: str, found: Faults, info: ValidationInfo) -> float:
    """The lip, noted where it is above the rim or the mix surface, or below all of the void."""
    given = at(info.context, f"overflow.{key}")
    box: Box | None = info.data.get("box")
    reservoir: Reservoir | None = info.data.get("reservoir")
    if box is not None and lip > box.depth - box.freeboard:
        surface = said(box.depth - box.freeboard, "m", given)
        above = f"the mix surface at {surface}"
        if lip > box.depth:
            above = f"the rim at {said(box.depth, 'm', given)}"
        between = f"between {said(0.0, 'm', given)} and {surface}"
        found.note(key, "range", f"above {above}", between, _FLOOR)
    elif isinstance(reservoir, Pipes) and lip <= reservoir.wall + _ROUNDING:
        inside = said(reservoir.wall, "m", given)
        problem = f"below the inside of the pipes, which begins at {inside}: no water would stay"
        found.note(key, "range", problem, f"more than {inside}", _FLOOR)
    return lip


def _calendar(
    changes: list[tuple[Day, Day | None, float]], base: float | None, found: Faults
) -> tuple[OverflowChange, ...]:
    """Changes in the order of the calendar, the way back to the first height written out."""
    if not changes:
        return ()
    kinds = {isinstance(day, tuple) for start, end, _ in changes for day in (start, end) if day}
    yearly = kinds == {True}
    if base is None:
        found.note("change", "field", "there is no outlet to change", "a height")
    elif len(kinds) > 1:
        alike = 'all such as "10-15" or all such as "2027-10-15"'
        found.note("change", "field", "full dates and days of every year are mixed", alike)
    elif yearly and len(changes) == 1 and changes[0][1] is None:
        problem = "it is not said when the first height comes back"
        after_it = 'the day after the last one, such as  to = "04-15"'
        hint = "Or give a full date in  from  for a change that stays"
        found.note("change.0", "field", problem, after_it, hint)
    if found or base is None:
        return ()
    starts: dict[Any, float] = {}
    for number, (start, _, height) in enumerate(changes):
        if start in starts:
            found.note(f"change.{number}.from", "field", "the same day as another change")
        starts[start] = height
    ends = {end: base for _, end, _ in changes if end is not None and end not in starts}
    days = sorted(starts | ends)
    after = dict(pairwise([*days, days[0]]))
    for number, (start, end, _) in enumerate(changes):
        backward = end is not None and not yearly and end <= start  # type: ignore[operator]
        if end is not None and (backward or after[start] != end):
            problem = "before its own beginning" if backward else "another change falls in between"
            found.note(f"change.{number}.to", "field", problem, "changes that do not overlap")
    return tuple(OverflowChange(day, (starts | ends)[day]) for day in days)
