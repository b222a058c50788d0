"""The sections of a bed as frozen models: keys with their kinds, and what each can tell alone.

A key that says something in another way (the centre of an outlet for the height of its lip) is
0 or None here once the bed has worked out what it stands for.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import Field, ValidationInfo, field_validator
from pydantic.dataclasses import dataclass

from bedtide.bed import quantities as q
from bedtide.bed.quantities import WRITTEN, at, refused, said
from bedtide.crop import EXPOSURES
from bedtide.errors import FieldError, RangeError

_NEEDED: Final = {
    "share": ("below share", '"30 %"'),
    "every": ("every n days", '"14 days"'),
    "weekdays": ("weekdays", '["mon", "thu"]'),
}


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
