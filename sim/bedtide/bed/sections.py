"""The sections of a description as frozen models: keys with their kinds, what each tells alone.

A key that says something in another way (the centre of an outlet for the height of its lip) is
0 or None here once the bed has worked out what it stands for. Mixes, crops and plantings are made
objects of the lower floors from what a model of their keys has read; and written by it again, so
that a bed that was put together in Python can be described.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Annotated, Any, Final, Literal

import numpy as np
from pydantic import (
    BeforeValidator,
    Field,
    InstanceOf,
    PlainSerializer,
    ValidationInfo,
    field_validator,
)
from pydantic.dataclasses import dataclass
from pydantic_core import PydanticOmit

from bedtide.bed import quantities as q
from bedtide.bed.quantities import WRITTEN, at, keys_of, read, refuse, refused, said, written
from bedtide.crop import EXPOSURES, Crop, Planting, crop, crop_days, crop_names, crops
from bedtide.errors import FieldError, InputError, RangeError
from bedtide.mix import RANGES, Mix, blend, fit_bench, media, medium

_NEEDED: Final = {
    "share": ("below share", '"30 %"'),
    "every": ("every n days", '"14 days"'),
    "weekdays": ("weekdays", '["mon", "thu"]'),
}
_WAYS: Final = ("medium", "recipe", "bench")
_NUMBERS: Final = ("theta_r", *RANGES)
_STAGES: Final = '["25 days", "35 days", "40 days", "20 days"]'
_YEAR: Final = 365  # days that a crop's stages take at most
_ANY_YEAR: Final = datetime.date(2001, 1, 1)  # stands for every year


@dataclass(config=WRITTEN, frozen=True)
class Box:
    """Inside of the box: `length`, `width`, `depth` floor to rim, `freeboard` mix to rim [m].

    Of a tub that narrows downward length and width are those of its rim, and `length_at_floor`
    and `width_at_floor` those of its floor [m]; None where the walls are upright.
    """

    length: q.Span = Field(examples=['"2.4 m"'])
    width: q.Span = Field(examples=['"0.62 m"'])
    depth: q.Rim = Field(examples=['"42 cm"'])
    freeboard: q.Height = Field(examples=['"3 cm"'])
    length_at_floor: q.Side | None = Field(default=None, kw_only=True, examples=['"2.2 m"'])
    width_at_floor: q.Side | None = Field(default=None, kw_only=True, examples=['"0.5 m"'])

    @field_validator("length_at_floor", "width_at_floor")
    @classmethod
    def _narrow_downward(cls, floor: float | None, info: ValidationInfo) -> float | None:
        name = str(info.field_name).removesuffix("_at_floor")
        rim = info.data.get(name)
        if floor is not None and rim is not None and floor > rim:
            at_rim = said(rim, "m", at(info.context, f"box.{name}"))
            most = f"at most {at_rim}: a box that narrows upward is not modelled"
            problem = f"more than the {name} at the rim, {at_rim}"
            raise refused(RangeError("", problem, most))
        return floor

    @field_validator("freeboard")
    @classmethod
    def _leave_room(cls, freeboard: float, info: ValidationInfo) -> float:
        depth = info.data.get("depth")
        if depth is not None and freeboard >= depth:
            deep = said(depth, "m", at(info.context, "box.depth"))
            less = f"from the mix surface up to the rim, less than {deep}"
            problem = f"leaves no room in a box {deep} deep"
            raise refused(RangeError("", problem, less))
        return freeboard


@dataclass(config=WRITTEN, frozen=True)
class OverflowChange:
    """Another `height` of the lip [m] from `start` on: a date, or month and day of every year.

    A description may say the day of the `end`, and the `centre` of the outlet [m].
    """

    start: q.DayOfYear = Field(
        validation_alias="from", serialization_alias="from", examples=['"10-15"']
    )
    end: q.DayOfYear | None = Field(
        default=None,
        kw_only=True,
        validation_alias="to",
        serialization_alias="to",
        examples=['"04-15"'],
    )
    height: q.Depth = Field(default=0.0, examples=['"4 cm"'])
    centre: q.Depth | None = Field(default=None, kw_only=True, examples=['"5 cm"'])


@dataclass(config=WRITTEN, frozen=True)
class Overflow:
    """The outlet that sets the highest level.

    `height` of its lower lip above the floor [m], None only where there is no outlet; `bore`, its
    inside diameter [m]; `state`, whether water can leave by it; `changes` of height in the order of
    the calendar, all with dates or all with month and day. Those go round the year, and then
    `height` itself holds on no day. A description may say the `centre` [m] in place of the height.
    """

    height: q.Depth | None = Field(default=None, examples=['"9 cm"'])
    centre: q.Depth | None = Field(default=None, kw_only=True, examples=['"10 cm"'])
    bore: q.Bore | None = Field(default=None, examples=['"20 mm"'])
    state: Annotated[Literal["open", "blocked", "none"], q.LOWER] = Field(
        default="open", examples=['"open"']
    )
    changes: tuple[OverflowChange, ...] = Field(
        default=(), validation_alias="change", serialization_alias="change"
    )


@dataclass(config=WRITTEN, frozen=True)
class Surface:
    """The top of the bed, in shares [1].

    `open_to_rain`, the rain that arrives: less under eaves, a porch or a tunnel, none under a lid.
    `covered`, the surface that is shut in and can't dry: a lid or a sheet, not a roof above it.
    `mulch_share` lies under mulch. `drying`, what is lost to the air over what is worked out for
    such a surface while it is wet.
    """

    open_to_rain: q.Share = Field(default=1.0, examples=['"100 %"'])
    covered: q.Share = Field(default=0.0, examples=['"0 %"'])
    mulch_share: q.Share = Field(default=0.0, examples=['"50 %"'])
    drying: q.Drying = Field(default=1.0, examples=["0.7"])


@dataclass(config=WRITTEN, frozen=True)
class Watering:
    """When the keeper fills the bed and how much; carried out by the daily balance.

    `when`, the rule; `share` of the store below which it is filled [1]; `every`, days from one
    filling to the next [d]; `weekdays`, Monday 0; `volume` of each filling [m3], None to the lip;
    `check_every`, days from one look at the level to the next [d].
    """

    when: Annotated[Literal["below share", "every n days", "weekdays", "never"], q.LOWER] = Field(
        examples=['"below share"']
    )
    share: q.SomeShare | None = Field(default=None, validate_default=True, examples=['"30 %"'])
    every: q.Days | None = Field(default=None, validate_default=True, examples=['"14 days"'])
    weekdays: q.Weekdays = Field(default=(), validate_default=True, examples=['["mon", "thu"]'])
    volume: q.Volume = Field(
        default=None,
        validation_alias="amount",
        serialization_alias="amount",
        examples=['"to the lip"'],
    )
    check_every: q.Days = Field(default=1, examples=['"1 day"'])

    @field_validator("share", "every", "weekdays")
    @classmethod
    def _check_given(cls, value: Any, info: ValidationInfo) -> Any:
        """A rule has the number that it needs."""
        name = str(info.field_name)
        rule, example = _NEEDED[name]
        if value in (None, ()) and info.data.get("when") == rule:
            line = f"a line such as  {name} = {example}"
            problem = f'missing, and when = "{rule}" needs it'
            raise refused(FieldError("", problem, line))
        return value


@dataclass(config=WRITTEN, frozen=True)
class Site:
    """Where the bed stands: `latitude`, north positive [degrees], `elevation` above the sea [m].

    Both None where the weather file is left to say them. `exposure` is the factor on the
    evapotranspiration of the stand against the FAO-56 value for a field [1], or a word for it.
    """

    latitude: q.Latitude | None = Field(default=None, examples=["44.5"])
    elevation: q.Elevation | None = Field(default=None, examples=['"120 m"'])
    exposure: q.Exposure = Field(default=EXPOSURES["lone bed"], examples=['"lone bed"'])


# --- what fills a bed ---------------------------------------------------------------------------


@dataclass(config=WRITTEN, frozen=True)
class Bench:
    """A mix measured at home, drained in a pot of a `height` [m]; see `bedtide.mix.fit_bench`."""

    height: q.Depth = Field(examples=['"20 cm"'])
    total_porosity: q.PartShare = Field(examples=['"85 %"'])
    air_after_draining: q.PartShare = Field(examples=['"18 %"'])
    like: q.Medium = Field(examples=['"potting mix"'])


@dataclass(config=WRITTEN, frozen=True)
class DescribedMix:
    """A mix as a description names, blends or measures it, with numbers that it states itself."""

    medium: q.Medium | None = Field(default=None, examples=['"potting mix"'])
    recipe: dict[q.Medium, q.Part] | None = Field(
        default=None, examples=['{ "sphagnum peat" = "60 %", ... }']
    )
    bench: Bench | None = Field(default=None, examples=['{ height = "20 cm", ... }'])
    name: q.Name | None = Field(default=None, examples=['"my mix"'])
    theta_r: q.PartShare | None = Field(default=None, examples=["0.08"])
    theta_s: q.PartShare | None = Field(default=None, examples=["0.86"])
    alpha: q.PerDepth | None = Field(default=None, examples=['"14 1/m"'])
    n: q.Shape | None = Field(default=None, examples=["1.4"])
    k_s: q.Conductivity | None = Field(default=None, examples=['"3 m/d"'])
    l: q.Exponent | None = Field(default=None, examples=["0.5"])  # noqa: E741 - the symbol of the field
    wetting: q.Wetting | None = Field(default=None, examples=["1.4"])
    bulk_density: q.Density | None = Field(default=None, examples=['"120 kg/m3"'])


@dataclass(config=WRITTEN, frozen=True)
class DescribedCrop:
    """A crop of the keeper's own: one of the table with some of its numbers changed."""

    name: q.Name = Field(examples=['"my cherry tomato"'])
    like: q.TableCrop = Field(examples=['"tomato staked"'])
    kcb_ini: q.Kcb | None = Field(default=None, examples=["0.15"])
    kcb_mid: q.Kcb | None = Field(default=None, examples=["1.1"])
    kcb_end: q.Kcb | None = Field(default=None, examples=["0.7"])
    kcb_dormant: q.Kcb | None = Field(default=None, examples=["0.15"])
    height: q.PlantHeight | None = Field(default=None, examples=['"1.2 m"'])
    stages: q.Stages | None = Field(default=None, examples=[_STAGES])
    root_depth: q.Depth | None = Field(default=None, examples=['"50 cm"'])
    h3_high: q.Suction | None = Field(default=None, examples=['"8 m"'])
    h3_low: q.Suction | None = Field(default=None, examples=['"15 m"'])
    h4: q.Suction | None = Field(default=None, examples=['"80 m"'])


def _read_grown(given: Any, info: ValidationInfo) -> Crop | None:
    """Crop by its name, one of the keeper's own first: None where that one has mistakes."""
    if isinstance(given, Crop):
        return given
    own = at(info.context, "crop")
    stated = {str(at(each, "name")): each for each in own} if isinstance(own, list) else {}
    name = q.listed(given, [*crop_names(), *stated], "crops")
    try:
        return read_crop(stated[name], info) if name in stated else crop(name)
    except ValueError:  # of pydantic, or a mistake of ours in its words
        return None


_GrownCrop = Annotated[
    InstanceOf[Crop] | None, BeforeValidator(_read_grown), PlainSerializer(lambda crop: crop.name)
]


@dataclass(config=WRITTEN, frozen=True)
class DescribedPlanting:
    """A crop as a description names it; see `bedtide.crop.Planting`."""

    crop: _GrownCrop = Field(examples=['"tomato"'])
    planted: q.DayOfYear = Field(examples=['"05-10"'])
    removed: q.DayOfYear | None = Field(default=None, kw_only=True, examples=['"10-01"'])
    area_share: q.SomeShare = Field(examples=['"40 %"'])
    stages: q.Stages | None = Field(default=None, examples=[_STAGES])
    canopy: q.Canopy = Field(default=1.0, examples=["1.2"])
    part: q.Name = Field(default="", examples=['"left half"'])


def read_mix(given: Any, info: ValidationInfo) -> Any:
    """Mix of a section, with the numbers that the description states in place of its own."""
    if not isinstance(given, Mapping):
        return given
    table = read(DescribedMix, given, info)
    ways = [name for name in _WAYS if getattr(table, name) is not None]
    if len(ways) != 1:
        many = f"described in {len(ways)} ways ({', '.join(ways)})" if ways else "not described"
        expected = 'one of: medium = "...", recipe = { ... }, bench = { ... }'
        raise refused(FieldError("", many, expected))
    try:
        return _overridden(_described(table), table)
    except InputError as error:
        names = [each.where.rpartition(", ")[2] for each in error.errors]
        keys = [name if getattr(table, name, None) is not None else ways[0] for name in names]
        found = [each.moved(key) for each, key in zip(error.errors, keys, strict=True)]
    raise refused(*found)


def _described(table: DescribedMix) -> Mix:
    """The mix before any number is put in its place."""
    if table.medium is not None:
        mix = medium(table.medium)
        return replace(mix, name=table.name or mix.name)
    if table.bench is not None:
        return fit_bench(**vars(table.bench), name=table.name or "measured mix")
    return _blended(tuple((table.recipe or {}).items()), table.name or "")


@lru_cache(maxsize=64)
def _blended(recipe: tuple[tuple[str, float], ...], name: str) -> Mix:
    """The blend, fitted once for the many beds that are varied from one description."""
    return blend(dict(recipe), name=name)


def _overridden(mix: Mix, table: DescribedMix) -> Mix:
    """Put the numbers that the description states in place of the mix's own.

    A stated conductivity or exponent keeps the spread of the mix around the new value; a stated
    alpha has none.
    """
    stated = {name: getattr(table, name) for name in _NUMBERS if getattr(table, name) is not None}
    if not stated:
        return mix
    changes: dict[str, Any] = dict(stated)
    if "alpha" in stated:
        changes |= {"alpha_low": None, "alpha_high": None}
    if "k_s" in stated:
        low, high, _ = RANGES["k_s"]
        factor = stated["k_s"] / mix.k_s
        changes["k_s_low"] = max(low, mix.k_s_low * factor)
        changes["k_s_high"] = min(high, mix.k_s_high * factor)
    if "l" in stated:
        low, high, _ = RANGES["l"]
        shift = stated["l"] - mix.l
        changes["l_low"] = max(low, mix.l_low + shift)
        changes["l_high"] = min(high, mix.l_high + shift)
    note = f"Stated in the description instead of the table: {', '.join(stated)}."
    return replace(mix, **changes, notes=(*mix.notes, note))


def _write_mix(mix: Mix) -> dict[str, Any]:
    """The medium where it is one of the table, else the most like it with all numbers stated."""
    if mix.name in media() and medium(mix.name) == mix:
        return {"medium": mix.name}
    spread = mix.k_s_high / mix.k_s_low
    like = min(media(), key=lambda n: abs(medium(n).k_s_high / medium(n).k_s_low / spread - 1.0))
    numbers = {name: getattr(mix, name) for name in _NUMBERS}
    return written(DescribedMix(medium=like, name=mix.name, **numbers))


def read_crop(given: Any, info: ValidationInfo) -> Any:
    """Crop of the keeper's own."""
    if isinstance(given, Crop):
        return given
    table = read(DescribedCrop, given, info)
    changes = {name: value for name, value in vars(table).items() if value is not None}
    own = replace(crop(changes.pop("like")), aliases=(), standing="stated", **changes)
    if not table.name.strip():
        raise refused(FieldError("name", "empty", 'a name such as "my tomato"'))
    if own.kcb_mid <= 0.0:
        raise refused(RangeError("kcb_mid", "zero", "more than 0"))
    if sum(own.stages) > _YEAR:
        expected = f"four lengths that add up to at most {_YEAR} days"
        problem = f"{sum(own.stages)} days in all"
        raise refused(RangeError("stages", problem, expected))
    if not own.h3_high <= own.h3_low < own.h4:
        heads = {name: getattr(own, name) for name in ("h3_high", "h3_low", "h4")}
        key = next(name for name in heads if name in changes)
        told = ", ".join(f"{name} = {said(h, 'm', at(given, key))}" for name, h in heads.items())
        expected = "h3_high at most h3_low, and both less than h4"
        raise refused(RangeError(key, f"the suctions don't rise: {told}", expected))
    return own


def write_crop(own: Crop) -> dict[str, Any]:
    """A crop like its namesake or the first of the table, with all numbers stated."""
    like = own.name if own.name in crops() else crops()[0]
    stated = {name: getattr(own, name) for name in keys_of(DescribedCrop) if name != "like"}
    return written(DescribedCrop(like=like, **stated))


def check_names(own: tuple[Crop, ...]) -> tuple[Crop, ...]:
    """Refuse two crops of the keeper's own by one name."""
    names = [each.name.lower() for each in own]
    twice = [n for n, name in enumerate(names) if name in names[:n]]
    refuse([FieldError(f"{n}.name", "the name of another crop above") for n in twice[:1]])
    return own


def read_planting(given: Any, info: ValidationInfo) -> Any:
    """Crop of a section, one of the keeper's own first."""
    if isinstance(given, Planting):
        return given
    table = read(DescribedPlanting, given, info)
    if table.crop is None:
        raise PydanticOmit  # its mistakes are told where it stands
    try:
        return Planting(**vars(table))
    except InputError as error:
        key = "stages" if table.stages is not None and "stages" in error.where else "removed"
        found = [each.moved(key) for each in error.errors]
    raise refused(*found)


def check_crowding(plantings: tuple[Planting, ...], info: ValidationInfo) -> tuple[Planting, ...]:
    """Refuse plantings that take more than the bed on a day; the demand itself refuses them."""
    if info.context is None:
        return plantings
    fixed = [p.planted for p in plantings if isinstance(p.planted, datetime.date)]
    first = min(fixed, default=_ANY_YEAR)
    last = max(fixed, default=_ANY_YEAR) + datetime.timedelta(days=366)
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D"))
    like = np.ones(days.size)
    try:
        crop_days(plantings, days, wind_speed=2.0 * like, rh_min=45.0 * like)
    except RangeError as error:
        problem = error.problem if fixed else error.problem.replace(f"{_ANY_YEAR.year}-", "")
        hint = error.hint
        raise refused(RangeError("", problem, error.expected, hint=hint)) from None
    return plantings


OneMix = Annotated[InstanceOf[Mix], BeforeValidator(read_mix), PlainSerializer(_write_mix)]
OneCrop = Annotated[InstanceOf[Crop], BeforeValidator(read_crop), PlainSerializer(write_crop)]
OnePlanting = Annotated[
    InstanceOf[Planting],
    BeforeValidator(read_planting),
    PlainSerializer(lambda planting: written(DescribedPlanting(**vars(planting)))),
]
