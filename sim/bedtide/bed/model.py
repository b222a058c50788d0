"""The bed: its sections together, each worked out from and checked against the ones before it."""

from __future__ import annotations

import math
from dataclasses import field, replace
from itertools import pairwise
from typing import Annotated, Any, Final

from pydantic import (
    AfterValidator,
    AliasPath,
    BeforeValidator,
    Field,
    ValidationInfo,
    field_validator,
)
from pydantic.dataclasses import dataclass

from bedtide.bed.forms import FORMS, Crates, Pipes, Reservoir, form_keys, read_reservoir
from bedtide.bed.quantities import (
    WRITTEN,
    Day,
    Name,
    Share,
    at,
    keys_of,
    refuse,
    refused,
    said,
)
from bedtide.bed.sections import (
    Bench,
    Box,
    DescribedCrop,
    DescribedMix,
    DescribedPlanting,
    OneCrop,
    OneMix,
    OnePlanting,
    Overflow,
    OverflowChange,
    Site,
    Surface,
    Watering,
    check_crowding,
    check_names,
)
from bedtide.errors import ChoiceError, FieldError, InputError, RangeError

_ROUNDING: Final = 1e-9
_FLOOR: Final = "Heights start at the liner floor; check whether it was measured from the ground"


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
    reservoir: Annotated[Reservoir, BeforeValidator(read_reservoir)] = Field()
    overflow: Overflow = Field()
    wick_mix: OneMix = Field(validation_alias=AliasPath("mix", "wick"))
    top_mix: OneMix = Field(validation_alias=AliasPath("mix", "top"))
    own_crops: Annotated[
        tuple[OneCrop, ...], AfterValidator(check_names), Field(validation_alias="crop")
    ] = field(default=(), kw_only=True, compare=False, repr=False)
    plantings: Annotated[tuple[OnePlanting, ...], AfterValidator(check_crowding)] = Field(
        validation_alias="planting"
    )
    watering: Watering = Field()
    surface: Surface = Field(default_factory=Surface)
    site: Site = Field(default_factory=Site)
    start_level: Share = Field(default=1.0, validation_alias=AliasPath("start", "level"))
    source: Any = field(default=None, compare=False, repr=False)
    fitted: str = field(default="", compare=False, repr=False)

    @field_validator("reservoir")
    @classmethod
    def _fit_reservoir(cls, reservoir: Reservoir, info: ValidationInfo) -> Reservoir:
        """The reservoir fits into the box; pipes take what they leave open from it."""
        box: Box | None = info.data.get("box")
        found: list[InputError] = []
        if isinstance(reservoir, Crates) and box and (box.length_at_floor or box.width_at_floor):
            problem = "crates are upright and leave a wedge along walls that lean"
            upright = 'form = "stone", "false floor" or "pipes" in a tub that narrows downward'
            found.append(ChoiceError("form", problem, upright))
        if isinstance(reservoir, Pipes):
            reservoir = _laid(reservoir, box, info.context, found)
        if box is not None and reservoir.crown >= box.depth - box.freeboard:
            surface = said(box.depth - box.freeboard, "m", at(info.context, "box.depth"))
            key = "outside" if isinstance(reservoir, Pipes) else "height"
            lower = f"less than {surface}, so that mix lies above the reservoir"
            found.append(RangeError(key, f"reaches the mix surface at {surface}", lower))
        refuse(found)
        return reservoir

    @field_validator("overflow")
    @classmethod
    def _fit_overflow(cls, given: Overflow, info: ValidationInfo) -> Overflow:
        """Every lip lies between floor and mix surface, and its changes do not overlap."""
        found: list[InputError] = []
        height = _lip(given, given, "", found, info)
        changes: list[tuple[Day, Day | None, float]] = []
        for number, change in enumerate(given.changes):
            lip = _lip(change, given, f"change.{number}.", found, info)
            if lip is not None:
                changes.append((change.start, change.end, lip))
        refuse(found)
        return Overflow(height, given.bore, given.state, _calendar(changes, height))


KEYS: Final[dict[str, dict[str, str]]] = {
    "bed": {"name": '"Kitchen bed"'},
    "box": keys_of(Box),
    "reservoir": {},
    "overflow": keys_of(Overflow),
    "overflow.change.*": keys_of(OverflowChange),
    "mix.wick": keys_of(DescribedMix),
    "mix.wick.bench": keys_of(Bench),
    "mix.top": keys_of(DescribedMix),
    "mix.top.bench": keys_of(Bench),
    "surface": keys_of(Surface),
    "crop.*": keys_of(DescribedCrop),
    "planting.*": keys_of(DescribedPlanting),
    "watering": keys_of(Watering),
    "site": keys_of(Site),
    "start": {"level": '"100 %"'},
}
"""Keys of each table with an example of their values; those of a reservoir are by its form."""
SECTIONS: Final = tuple(dict.fromkeys(path.split(".")[0] for path in KEYS))
LISTS: Final = ("crop", "planting")
"""Sections that there may be any number of."""


def sections_of(mapping: Any) -> list[tuple[str, dict[str, str]]]:
    """Every table that a description has or may have: its key path, and the keys that it takes."""
    found = []
    for pattern, keys in KEYS.items():
        path, many, _ = pattern.partition(".*")
        given = at(mapping, path)
        if many:
            count = len(given) if isinstance(given, list) else 0
            found += [(f"{path}.{number}", keys) for number in range(count)]
        elif path == "reservoir":
            form = str(at(given, "form")).strip().lower()
            found += [(path, form_keys()[form])] if form in FORMS else []
        elif not path.endswith(".bench") or isinstance(given, dict):
            found.append((path, keys))
    return found


def _laid(pipes: Pipes, box: Box | None, written: Any, found: list[InputError]) -> Pipes:
    """Pipes with their count and their run in the box; mistakes are added to `found`."""

    def told(value: float, key: str) -> str:
        return said(value, "m", at(written, key))

    if pipes.inside >= pipes.outside:
        outside = told(pipes.outside, "reservoir.outside")
        problem = f"not smaller than the outside diameter of {outside}"
        hint = "Measure both; the name of a pipe is neither"
        found.append(RangeError("inside", problem, f"less than {outside}", hint=hint))
        return pipes
    if (pipes.count == 0) == (pipes.gap is None):
        both = "both count and gap are given" if pipes.count else "neither count nor gap is given"
        expected = 'count = 5, or gap = "3 cm" from which the count follows'
        found.append(FieldError("", both, expected))
        return pipes
    if box is None:
        return pipes
    long, wide = box.length_at_floor or box.length, box.width_at_floor or box.width
    run = pipes.run or long
    if run > long + _ROUNDING:
        length = told(long, "box.length")
        most = f"at most {length}; pipes lie along the length"
        found.append(RangeError("run", f"longer than the box, {length}", most))
    count = pipes.count
    if pipes.gap is not None:
        count = math.floor((wide + pipes.gap) / (pipes.outside + pipes.gap) + _ROUNDING)
    fit = math.floor(wide / pipes.outside + _ROUNDING)
    key, width = "count" if pipes.count else "outside", told(wide, "box.width")
    if fit < 1:
        problem = f"wider than the box, {width}"
        found.append(RangeError("outside", problem, f"less than {width}"))
    elif count > fit:
        taken = told(count * pipes.outside, "box.width")
        problem = f"side by side the pipes take {taken}, the box is {width} wide"
        hint = "Check that length and width are not swapped; pipes lie along the length"
        most = f"at most {fit} pipe{'s' if fit > 1 else ''}"
        found.append(RangeError(key, problem, most, hint=hint))
    elif count * pipes.outside * run >= wide * long * (1.0 - _ROUNDING):
        problem = "the pipes touch one another and all four walls, so no mix between them can wick"
        hint = "Take one pipe less, or give the run if the pipes end short of the walls"
        expected = "some width of mix beside the pipes"
        found.append(RangeError(key, problem, expected, hint=hint))
    else:
        return replace(pipes, count=count, run=run, gap=None)
    return pipes


def _lip(
    given: Overflow | OverflowChange,
    outlet: Overflow,
    path: str,
    found: list[InputError],
    info: Any,
) -> float | None:
    """Height of the lip [m] from either way of giving it; None where it is not known."""
    height, centre, bore, whole = given.height, given.centre, outlet.bore, path.rstrip(".")
    key = f"{path}height" if height else f"{path}centre"
    lip = height or (centre or 0.0) - (bore or 0.0) / 2.0
    if height and centre is not None:
        expected = "one of them: height of the lower lip, or centre of the outlet with its bore"
        found.append(FieldError(whole, "both height and centre are given", expected))
        return None
    if not height and centre is None:
        if path or outlet.state != "none":
            expected = 'height = "9 cm" of the lower lip, or centre and bore'
            expected += "" if path else ', or state = "none"'
            found.append(FieldError(whole, "its height is missing", expected))
        return None
    if not height and bore is None:
        problem = "missing, so the lower lip is not known"
        expected = 'inside diameter of the outlet, such as  bore = "20 mm"'
        found.append(FieldError("bore", problem, expected))
        return None
    if lip <= 0.0:
        problem, more = "the lower lip would lie below the floor", "more than half of the bore"
        found.append(RangeError(key, problem, more, hint=_FLOOR))
        return None
    written = at(info.context, f"overflow.{key}")
    box: Box | None = info.data.get("box")
    reservoir: Reservoir | None = info.data.get("reservoir")
    if box is not None and lip > box.depth - box.freeboard:
        surface, rim = (said(z, "m", written) for z in (box.depth - box.freeboard, box.depth))
        above = f"the rim at {rim}" if lip > box.depth else f"the mix surface at {surface}"
        between = f"between {said(0.0, 'm', written)} and {surface}"
        found.append(RangeError(key, f"above {above}", between, hint=_FLOOR))
    elif isinstance(reservoir, Pipes) and lip <= reservoir.wall + _ROUNDING:
        inside = said(reservoir.wall, "m", written)
        problem = f"below the inside of the pipes, which begins at {inside}: no water would stay"
        found.append(RangeError(key, problem, f"more than {inside}", hint=_FLOOR))
    return lip


def _calendar(
    changes: list[tuple[Day, Day | None, float]], base: float | None
) -> tuple[OverflowChange, ...]:
    """Changes in the order of the calendar, the way back to the first height written out."""
    if not changes:
        return ()
    kinds = {isinstance(day, tuple) for start, end, _ in changes for day in (start, end) if day}
    yearly = kinds == {True}
    if base is None:
        raise refused(FieldError("change", "there is no outlet to change", "a height"))
    if len(kinds) > 1:
        alike = 'all such as "10-15" or all such as "2027-10-15"'
        problem = "full dates and days of every year are mixed"
        raise refused(FieldError("change", problem, alike))
    if yearly and len(changes) == 1 and changes[0][1] is None:
        problem = "it is not said when the first height comes back"
        after_it = 'the day after the last one, such as  to = "04-15"'
        hint = "Or give a full date in  from  for a change that stays"
        raise refused(FieldError("change.0", problem, after_it, hint=hint))
    found: list[InputError] = []
    starts: dict[Any, float] = {}
    for number, (start, _, height) in enumerate(changes):
        if start in starts:
            found.append(FieldError(f"change.{number}.from", "the same day as another change"))
        starts[start] = height
    ends = {end: base for _, end, _ in changes if end is not None and end not in starts}
    days = sorted(starts | ends)
    after = dict(pairwise([*days, days[0]]))
    for number, (start, end, _) in enumerate(changes):
        backward = end is not None and not yearly and end <= start  # type: ignore[operator]
        if end is not None and (backward or after[start] != end):
            problem = "before its own beginning" if backward else "another change falls in between"
            apart = "changes that do not overlap"
            found.append(FieldError(f"change.{number}.to", problem, apart))
    refuse(found)
    return tuple(OverflowChange(day, (starts | ends)[day]) for day in days)
