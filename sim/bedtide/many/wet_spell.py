"""Beds in rainy spells, and through a whole record: air of the roots, overflow, least depth."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Run, air_by_height, days_of, readable, rests_on, run_dataset, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    brimful_weight,
    crown_height,
    outlet_flow,
    plan_area,
    surface_height,
)
from bedtide.constants import ROOM, WATER_DENSITY
from bedtide.errors import FieldError
from bedtide.many.doubt import Drawn, Range, drawn_beds, drawn_demand, near, ranges_of
from bedtide.many.spells import Placed, RainSpell
from bedtide.many.variants import letters
from bedtide.many.years import undated
from bedtide.readings import wet_days, wetness

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Found = Literal["within", "any", "none", "no roots"]
BEFORE, AFTER = 7, 28  # days that are kept before a spell and after it [d]; our choice
# Days that the model runs before a spell, so that the bed is as it would be [d]; our choice
LEAD = 120
# The overflow as described, and blocked from the morning of the first day of the spell on
OUTLETS = ("open", "blocked")
_DEEPEST = 1.0  # box that is tried at the most [m]; our choice
_TOLERANCE = 0.005  # to which the depth is narrowed down [m]; our choice
_SLICES = 24
_EACH = ("spell", "bed", "outlet")
_DAILY = (
    "rain_in",
    "overflow",
    "rim_spill",
    "standing_water",
    "level",
    "lip_height",
    "air_root_zone",
    "air_top",
    "aerated_depth",
    "air_depth_needed",
    "transpiration",
    "evaporation",
)


def wet_spells(
    beds: Sequence[Bed], placed: Sequence[Placed], *, labels: Sequence[str] | None = None
) -> xr.Dataset:
    """Every bed through every spell, with its overflow as it is and blocked on the eve of it.

    The bed runs for `LEAD` days before, where the record has them, so that it enters the spell as
    its keeper would have it.

    Days, dims (spell, bed, outlet, day), ``day`` 0 the first of the spell: those of a season that
    `_DAILY` names; ``rain`` and ``date`` (spell, day), ``root_depth`` (spell, bed, day). Air by
    height: ``air`` (spell, bed, outlet, slice, day) between the ``face_height`` (bed, face).

    Readings, dims (spell, bed, outlet): ``wet_days`` from the first day on [d]; ``first_wet`` [d],
    days until the first of them, NaN for none; ``air_lowest`` [m3 m-3]; ``recovery`` [d], days from
    the last of the spell until the roots have air again, 0 where they have it on that day, infinite
    where that is not seen within `AFTER` days; ``overflow_total``, ``overflow_largest``,
    ``rim_spill_total`` [m]. Of the outlet, dims (bed,): the fields of `Outlet`.
    """
    if not beds or not placed:
        raise FieldError("wet spell", "there is no bed or no spell", expected="at least one")
    plain, spells = undated(beds), [each.spell for each in placed]
    before = min(BEFORE, *(each.room[0] for each in placed))
    days = _joined([_one_spell(plain, each, before) for each in placed], "spell", "all")
    lips = days["lip_height"].sel(day=0)[0, :, 0].to_numpy()
    outlets = [outlet_of(bed, float(lip)) for bed, lip in zip(plain, lips, strict=True)]
    of_bed = dict(zip(Outlet._fields, np.array(outlets).T, strict=True))
    of_bed["plan_area"] = np.array([plan_area(bed) for bed in plain])
    of_bed["surface_height"] = np.array([surface_height(bed) for bed in plain])
    of_spell = {
        "spell_days": [spell.days for spell in spells],
        "spell_rain": [spell.rain for spell in spells],
        "spell_start": np.array([spell.first for spell in spells], dtype="datetime64[ns]"),
        "spell_stated": [spell.stated for spell in spells],
    }
    daily = days.drop_vars("balance_error").assign(
        root_depth=days["root_depth"][:, :, 0], face_height=days["face_height"][0]
    )
    return run_dataset(
        dict(daily)
        | {name: (_EACH, array) for name, array in _readings(days, spells).items()}
        | {name: (("bed",), array) for name, array in of_bed.items()}
        | {name: (("spell",), values) for name, values in of_spell.items()},
        coords={
            "bed": [letters(number) for number in range(len(plain))],
            "label": ("bed", list(labels) if labels is not None else [b.name for b in plain]),
            "outlet": list(OUTLETS),
            "day": days["day"].to_numpy(),
        },
        attrs={
            "title": "Beds in rainy spells",
            "bed_descriptions": [bed_text(bed) for bed in plain],
            "balance_error": float(days["balance_error"].max()),
            **rests_on(plain, placed[0].weather),
        },
    )


def _one_spell(beds: Sequence[Bed], placed: Placed, before: int) -> xr.Dataset:
    """Days of one spell, `before` its first and `AFTER` past its last, dims (bed, outlet, day)."""
    spell, weather, (room, rest) = placed.spell, placed.weather, placed.room
    lead, kept = max(min(LEAD, room), before), spell.days + min(AFTER, rest)
    shut = [
        replace(bed, overflow=replace(bed.overflow, state="blocked"))
        if bed.overflow.state == "open"
        else bed
        for bed in beds
    ]
    runs, begun = [], None
    if lead:
        start = spell.first - datetime.timedelta(days=lead)
        runs.append(run_many(beds, weather, [start], days=lead, profile=True))
        begun = runs[0].end
    for each in (beds, shut):
        runs.append(run_many(each, weather, [spell.first], days=kept, start=begun, profile=True))
    *early, opened, blocked = (_days(run, weather) for run in runs)
    early = [days[{"time": slice(lead - before, None)}] for days in early]
    courses = [_joined([*early, late], "time", "minimal") for late in (opened, blocked)]
    found = _joined(courses, "outlet", "all").transpose("bed", "outlet", ...)
    return (
        found.assign(
            rain=found["rain"][0, 0],
            date=("time", found["time"].to_numpy()),
            face_height=found["face_height"][:, 0],
            balance_error=max(float(run.error.max()) for run in runs),
        )
        .assign_coords(time=np.arange(found.sizes["time"]) - before)
        .rename(time="day")
    )


def _days(run: Run, weather: xr.Dataset) -> xr.Dataset:
    """Days of a run as they are kept, dims (bed, time), with the air by height."""
    kept = readable(run, weather).isel(year=0)[[*_DAILY, "root_depth", "rain"]]
    faces, air = zip(*(air_by_height(run, at, _SLICES) for at in range(len(run.beds))), strict=True)
    return kept.assign(
        air=(("bed", "slice", "time"), np.stack(air).transpose(0, 2, 1)),
        face_height=(("bed", "face"), np.stack(faces)),
    )


def _joined(parts: Sequence[xr.Dataset], dim: str, which: Literal["minimal", "all"]) -> xr.Dataset:
    """The parts along a dimension; what ends sooner than others is missing on the days after it."""
    import xarray as xr

    return xr.concat(parts, dim, data_vars=which, coords="minimal", compat="override", join="outer")


def _readings(days: xr.Dataset, spells: Sequence[RainSpell]) -> dict[str, NDArray[Any]]:
    """Readings of each spell, bed and outlet from its first day on."""
    seen = days.sel(day=slice(0, None)).rename(day="time")
    air, overflow, spill = (
        seen[name].to_numpy() for name in ("air_root_zone", "overflow", "rim_spill")
    )
    wet = wet_days(seen)
    within = np.where(seen["root_depth"].to_numpy() > 0.0, air, np.inf).min(axis=-1)
    last = np.array([spell.days for spell in spells])[:, None, None] - 1
    dry = ~wet & np.isfinite(air) & (np.arange(air.shape[-1]) >= last[..., None])
    return {
        "wet_days": wet.sum(axis=-1),
        "first_wet": np.where(wet.any(axis=-1), wet.argmax(axis=-1), np.nan),
        "air_lowest": np.where(np.isinf(within), np.nan, within),
        "recovery": np.where(dry.any(axis=-1), dry.argmax(axis=-1) - last, np.inf),
        "overflow_total": np.nansum(overflow, axis=-1),
        "overflow_largest": np.nanmax(overflow, axis=-1),
        "rim_spill_total": np.nansum(spill, axis=-1),
    }


# --- the overflow -----------------------------------------------------------------------------


class Outlet(NamedTuple):
    """The overflow of a bed as an opening under water; NaN where it has none, or no bore is given.

    Of each pair the first is for water at the crown of the reservoir, or at the top of the opening
    where that is higher (above it, rain soaks the mix), the second for water about to stand on the
    mix.
    """

    outlet_bore: float  # inside [m]
    outlet_height: float  # of its lower lip above the floor [m]
    head_in_reservoir: float = np.nan  # of water above its centre [m]
    head_at_surface: float = np.nan
    flow_in_reservoir: float = np.nan  # what it carries, clean [m3 d-1]
    flow_at_surface: float = np.nan
    rain_in_reservoir: float = np.nan  # that brings as much [m d-1]; without end under a cover
    rain_at_surface: float = np.nan


_TOUCHING = 1e-6  # m between heights that are one, however a description is rounded


def outlet_of(bed: Bed, lip: float) -> Outlet:
    """The overflow of a bed with its lip at a height [m].

    The daily model lets an open overflow carry whatever comes in a day; could it? Only an opening
    that water covers can be told, so none whose top lies above the surface of the mix.
    """
    bore = np.nan if bed.overflow.bore is None else bed.overflow.bore
    outlet = Outlet(bore, lip if bed.overflow.state == "open" else np.nan)
    covered, surface = outlet.outlet_height + bore, surface_height(bed)
    if np.isnan(covered) or covered > surface + _TOUCHING:
        return outlet
    centre = lip + 0.5 * bore
    heads = [max(height, covered) - centre for height in (crown_height(bed), surface)]
    flows = [float(outlet_flow(head, bore)) for head in heads]
    catching = plan_area(bed) * bed.surface.open_to_rain
    rains = [flow / catching if catching > 0.0 else np.inf for flow in flows]
    return Outlet(bore, lip, *heads, *flows, *rains)


# --- how deep ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class LeastDepth:
    """Answer of the search for the least depth of box; None for what has no value."""

    with_: str  # the other keys that it was searched for with
    found: Found  # of the depths between the bounds
    depth_cm: float | None  # the least that does, floor to rim; the shallowest tried for "any"
    lowest_air_percent: float | None  # among the roots at it; that of the deepest for "none"
    too_shallow_cm: float | None  # the greatest depth tried that does not do
    lowest_air_percent_too_shallow: float | None
    searched_from_cm: float
    searched_to_cm: float
    depths_tried: int


def least_depth(bed: Bed, placed: Sequence[Placed], *, with_: str = "") -> LeastDepth:
    """Least depth of the box with which no day of the spells is wet.

    Reservoir, overflow, mixes, freeboard and plants stay as they are; only the depth of mix
    changes. It halves the range between the shallowest box (`ROOM` of mix above crown and lip: less
    is for no crop) and 1 m, on whether a day is wet (`readings.wet_days`) until `AFTER` days past a
    spell. It takes for granted that a deeper bed is airier; both ends are run first.
    """
    (plain,) = undated([bed])
    lips = [plain.overflow.height, *(change.height for change in plain.overflow.changes)]
    top = max([crown_height(plain), *(lip for lip in lips if lip is not None)])
    tried: dict[float, tuple[float, bool]] = {}

    def at(depth: float) -> tuple[float, bool]:
        if depth not in tried:
            deep = replace(plain, box=replace(plain.box, depth=depth), source=None)
            (air,), (wet,) = in_spells([deep], placed)
            tried[depth] = float(air), bool(wet)
        return tried[depth]

    low = shallow = top + plain.box.freeboard + ROOM
    high = deep = max(low, _DEEPEST)
    (first, wet), (last, fails) = at(low), at(high)
    while wet and not fails and deep - shallow > _TOLERANCE:
        middle = 0.5 * (shallow + deep)
        shallow, deep = (middle, deep) if at(middle)[1] else (shallow, middle)
    ends: list[float] = [deep, at(deep)[0], shallow, at(shallow)[0]]
    found: Found = "within"
    if np.isnan(first):
        found, ends = "no roots", [np.nan] * 4
    elif not wet:
        found, ends = "any", [low, first, np.nan, np.nan]
    elif fails:
        found, ends = "none", [np.nan, last, high, last]
    told = [None if np.isnan(value) else value * 100 for value in ends]
    bounds = low * 100, high * 100
    return LeastDepth(with_, found, told[0], told[1], told[2], told[3], *bounds, len(tried))


def in_spells(
    beds: Sequence[Bed], placed: Sequence[Placed], *, drawn: Drawn | None = None
) -> tuple[Array, NDArray[np.int64]]:
    """Least air among the roots in all spells, (beds,) [m3 m-3], and most wet days in one [d].

    The air is NaN where nothing grows in any of them. `drawn` says how rain and drying of each
    differ, where the beds are those of :func:`bedtide.many.drawn_beds`.
    """
    least, wet = np.full(len(beds), np.inf), np.zeros(len(beds), dtype=np.int64)
    for each in placed:
        room, rest = each.room
        lead = min(LEAD, room)
        start = each.spell.first - datetime.timedelta(days=lead)
        days = lead + each.spell.days + min(AFTER, rest)
        weather = near(each.weather, start, start + datetime.timedelta(days=days))
        demand = None if drawn is None else drawn_demand(drawn, weather)
        run = run_many(beds, weather, [start], days=days, demand=demand)
        kept = readable(run, weather).isel(year=0, time=slice(lead, None))
        air = np.where(kept["root_depth"] > 0.0, kept["air_root_zone"], np.inf)
        least, wet = np.minimum(least, air.min(-1)), np.maximum(wet, wet_days(kept).sum(-1))
    return np.where(np.isfinite(least), least, np.nan), wet


def spell_ranges(bed: Bed, placed: Sequence[Placed]) -> dict[str, Range]:
    """Most wet days in a spell, and least air in all of them, over the drawn beds."""
    drawn = drawn_beds(undated([bed])[0])
    least, wet = in_spells(drawn.beds, placed, drawn=drawn)
    return ranges_of({"wet_days": wet, "lowest_air_percent": least * 100.0})


# --- the whole record -------------------------------------------------------------------------


def wet_record(beds: Sequence[Bed], weather: xr.Dataset) -> tuple[xr.Dataset, Array]:
    """Each bed through the whole record, its overflow as described, and the least air of all.

    Figures, dims (bed,): those of :func:`bedtide.readings.wetness`; ``days`` of the record [d], and
    ``rim_spill_days`` of them; ``overflow_largest``, ``rim_spill_largest`` of a day [m3];
    ``weight_largest`` [kg], with the water of that day, as `brimful_weight` counts. The date of
    each of these is ``..._day``, NaT where there was none; so also of ``air_lowest`` and
    ``aerated_depth_lowest``, which are of the days with roots.

    The air, (time,) [m3 m-3], is the least of the beds that have roots then, infinite where none
    has.
    """
    import xarray as xr

    days, never = weather["time"].to_numpy(), np.datetime64("NaT", "ns")
    first = days_of(weather)[0].item()
    least, found = np.full(days.size, np.inf), []
    for bed in undated(beds):  # one at a time: thirty years of many are too much to hold at once
        run = run_many([bed], weather, [first], days=days.size)
        whole = readable(run, weather).isel(bed=0, year=0)
        held = whole["open_water"] + whole["mix_water"] + whole["standing_water"]
        brim, area = brimful_weight(bed), plan_area(bed)
        spills = int((whole["rim_spill"] > 0.0).sum())
        worst: dict[str, Any] = {"days": days.size, "rim_spill_days": spills}
        for name, values in {
            "overflow": whole["overflow"].to_numpy() * area,
            "rim_spill": whole["rim_spill"].to_numpy() * area,
            "weight": brim.total - brim.water + held.to_numpy() * area * WATER_DENSITY,
        }.items():
            worst[f"{name}_largest"] = values.max()
            worst[f"{name}_largest_day"] = days[values.argmax()] if values.any() else never
        rooted = whole["root_depth"] > 0.0
        air = whole["air_root_zone"].where(rooted, np.inf).to_numpy()
        deep = whole["aerated_depth"].where(rooted, np.inf).to_numpy()
        for name, values in {"air_lowest": air, "aerated_depth_lowest": deep}.items():
            worst[f"{name}_day"] = days[values.argmin()] if rooted.any() else never
        least = np.minimum(least, air)
        found.append(wetness(whole).assign(worst))
    return xr.concat(found, "bed"), least
