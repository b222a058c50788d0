"""Beds in a rainy spell: how long roots lack air, what the overflow carries, how deep is enough."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import air_by_height, air_layers, rests_on, run_many, variables_of
from bedtide.bed import (
    Bed,
    bed_text,
    crown_height,
    lowest_roots,
    outlet_flow,
    plan_area,
    surface_height,
)
from bedtide.constants import AIR_LIMIT, ROOM
from bedtide.errors import FieldError
from bedtide.many.runs import readable
from bedtide.many.spells import Placed, undated
from bedtide.many.variants import letters
from bedtide.readings import wet_days
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

BEFORE, AFTER = 7, 28
"""Days that are kept before a spell and after it [d]; our choice."""

LEAD = 120
"""Days that the model runs before a spell, so that the bed is as it would be [d]; our choice."""

OUTLETS = ("open", "blocked")
"""The overflow as described, and blocked from the morning of the first day of the spell on."""

_DEEPEST = 1.0  # box that is tried at the most [m]; our choice
_TOLERANCE = 0.005  # to which the depth is narrowed down [m]; our choice
_SLICES = 24
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
    plain = undated(beds)
    before = min(BEFORE, *(each.room[0] for each in placed))
    parts = [_one_spell(plain, each, before) for each in placed]
    days = max(part["rain"].size for part in parts)
    stacked = {
        name: np.stack([_padded(part[name], days) for part in parts])
        for name in (*_DAILY, "air", "root_depth", "rain", "date")
    }
    stacked["face_height"] = parts[0]["face_height"]
    found = _dataset(plain, placed, stacked, before, labels)
    found.attrs["balance_error"] = max(part["error"] for part in parts)
    return found


def _one_spell(beds: Sequence[Bed], placed: Placed, before: int) -> dict[str, Any]:
    """Days of one spell, `before` its first and `AFTER` past its last, the days last."""
    room, rest = placed.room
    lead = max(min(LEAD, room), before)
    spell, weather = placed.spell, placed.weather
    start = spell.first - datetime.timedelta(days=lead)
    kept = spell.days + min(AFTER, rest)
    blocked = [
        replace(bed, overflow=replace(bed.overflow, state="blocked"))
        if bed.overflow.state == "open"
        else bed
        for bed in beds
    ]
    ahead = run_many(beds, weather, [start], days=lead, profile=True) if lead else None
    begun = ahead.end if ahead is not None else None
    runs = [
        run_many(each, weather, [spell.first], days=kept, start=begun, profile=True)
        for each in (beds, blocked)
    ]
    found: dict[str, Any] = {}
    early = variables_of(ahead) if ahead is not None else {}
    late = [variables_of(run) for run in runs]
    profiles = [run.profile for run in runs]
    for name in _DAILY:
        days = [values[name] for values in late]
        if ahead is not None:
            days = [np.concatenate([early[name][lead - before :], each]) for each in days]
        found[name] = np.stack(days).transpose(2, 0, 1)  # bed, outlet, day
    if ahead is not None:
        profiles = [np.concatenate([ahead.profile[:, lead - before :], p], 1) for p in profiles]
    content = np.stack(profiles, axis=1)  # bed, outlet, day, cell
    run = runs[0]
    layers = [air_layers(run, b, _SLICES) for b in range(len(beds))]
    air = [np.moveaxis(air_by_height(content[b], layers[b]), -1, -2) for b in range(len(beds))]
    window = np.arange(run.windows[0, 0] - before, run.windows[-1, 0] + 1)
    reach = np.array([surface_height(bed) - lowest_roots(bed) for bed in beds])
    depth = np.stack([demand.root_depth[window] for demand in run.demand])
    return found | {
        "air": np.stack(air),
        "face_height": np.stack([each.faces for each in layers]),
        "root_depth": np.minimum(depth, reach[:, None]),
        "rain": weather["rain"].to_numpy()[window],
        "date": weather["time"].to_numpy()[window],
        "error": max(float(each.error.max()) for each in (*runs, *([ahead] if ahead else []))),
    }


def _padded(values: NDArray[Any], days: int) -> NDArray[Any]:
    """The same with missing values up to the number of days, where the record ends early."""
    missing = np.datetime64("NaT", "ns") if values.dtype.kind == "M" else np.nan
    width = [(0, 0)] * (values.ndim - 1) + [(0, days - values.shape[-1])]
    return np.pad(values, width, constant_values=missing)


def _readings(stacked: dict[str, Array], before: int, lengths: Sequence[int]) -> dict[str, Array]:
    """Readings of each spell, bed and outlet."""
    air = stacked["air_root_zone"]
    rooted = (stacked["root_depth"] > 0.0)[:, :, None, :]
    shallow = stacked["aerated_depth"] < stacked["air_depth_needed"] - _TOUCHING
    wet = ((air < AIR_LIMIT) | shallow) & rooted
    wet[..., :before] = False
    within = np.where(rooted, air, np.inf)[..., before:].min(axis=-1)
    recovery = np.empty(air.shape[:3])
    for s, days in enumerate(lengths):
        after = wet[s, ..., before + days - 1 :]  # from the last day of the spell on
        dry = ~after & np.isfinite(air[s, ..., before + days - 1 :])
        first = dry.argmax(axis=-1).astype(np.float64)
        recovery[s] = np.where(dry.any(axis=-1), first, np.inf)
    overflow = stacked["overflow"][..., before:]
    begun = wet[..., before:]
    return {
        "wet_days": wet.sum(axis=-1),
        "first_wet": np.where(begun.any(axis=-1), begun.argmax(axis=-1), np.nan),
        "air_lowest": np.where(np.isinf(within), np.nan, within),
        "recovery": recovery,
        "overflow_total": np.nansum(overflow, axis=-1),
        "overflow_largest": np.nanmax(overflow, axis=-1),
        "rim_spill_total": np.nansum(stacked["rim_spill"][..., before:], axis=-1),
    }


def _dataset(
    beds: Sequence[Bed],
    placed: Sequence[Placed],
    stacked: dict[str, Array],
    before: int,
    labels: Sequence[str] | None,
) -> xr.Dataset:
    """The spells as a Dataset, from daily values by name; attributes set last."""
    import xarray as xr

    from bedtide import __version__

    each = ("spell", "bed", "outlet")
    dims = {
        "air": (*each, "slice", "day"),
        "face_height": ("bed", "face"),
        "root_depth": ("spell", "bed", "day"),
        "rain": ("spell", "day"),
        "date": ("spell", "day"),
    }
    spells = [one.spell for one in placed]
    lengths = [spell.days for spell in spells]
    outlets = [
        outlet_of(bed, float(stacked["lip_height"][0, b, 0, before])) for b, bed in enumerate(beds)
    ]
    values: dict[str, Any] = {
        name: (dims.get(name, (*each, "day")), array) for name, array in stacked.items()
    }
    readings = _readings(stacked, before, lengths)
    values |= {name: (each, array) for name, array in readings.items()}
    for name, column in zip(Outlet._fields, np.array(outlets, dtype=np.float64).T, strict=True):
        values[name] = ("bed", column)
    values["plan_area"] = ("bed", np.array([plan_area(bed) for bed in beds]))
    values["surface_height"] = ("bed", np.array([surface_height(bed) for bed in beds]))
    values["spell_days"] = ("spell", lengths)
    values["spell_rain"] = ("spell", [spell.rain for spell in spells])
    starts = np.array([spell.first for spell in spells], dtype="datetime64[ns]")
    values["spell_start"] = ("spell", starts)
    values["spell_stated"] = ("spell", [spell.stated for spell in spells])
    found = xr.Dataset(
        values,
        coords={
            "bed": [letters(number) for number in range(len(beds))],
            "label": ("bed", list(labels) if labels is not None else [b.name for b in beds]),
            "outlet": list(OUTLETS),
            "day": np.arange(stacked["rain"].shape[-1]) - before,
        },
    )
    for variable in found.data_vars:
        found[variable].attrs = attributes(str(variable))
    weather = placed[0].weather
    found.attrs = {
        "Conventions": "CF-1.8",
        "bedtide_version": __version__,
        "title": "Beds in rainy spells",
        "bed_descriptions": [bed_text(bed) for bed in beds],
        **rests_on(beds, weather),
    }
    return found


# --- the overflow -----------------------------------------------------------------------------


class Outlet(NamedTuple):
    """The overflow of a bed as an opening under water; NaN where it has none, or no bore is given.

    Of each pair the first is for water at the crown of the reservoir, or at the top of the opening
    where that is higher (above it, rain soaks the mix), the second for water about to stand on the
    mix.
    """

    outlet_bore: float  # inside [m]
    outlet_height: float  # of its lower lip above the floor [m]
    head_in_reservoir: float  # of water above its centre [m]
    head_at_surface: float
    flow_in_reservoir: float  # what it carries, clean [m3 d-1]
    flow_at_surface: float
    rain_in_reservoir: float  # that brings as much [m d-1]; without end under a cover
    rain_at_surface: float


_TOUCHING = 1e-6  # m between heights that are one, however a description is rounded


def outlet_of(bed: Bed, lip: float) -> Outlet:
    """The overflow of a bed with its lip at a height [m].

    The daily model lets an open overflow carry whatever comes in a day; could it? Only an opening
    that water covers can be told, so none whose top lies above the surface of the mix.
    """
    bore, opened = bed.overflow.bore, bed.overflow.state == "open"
    if not opened or bore is None:
        missing = [np.nan] * 6
        return Outlet(np.nan if bore is None else bore, lip if opened else np.nan, *missing)
    covered, surface = lip + bore, surface_height(bed)
    if covered > surface + _TOUCHING:
        return Outlet(bore, lip, *[np.nan] * 6)
    centre = lip + 0.5 * bore
    heads = [max(height, covered) - centre for height in (crown_height(bed), surface)]
    flows = [float(outlet_flow(head, bore)) for head in heads]
    catching = plan_area(bed) * bed.surface.open_to_rain
    rains = [flow / catching if catching > 0.0 else np.inf for flow in flows]
    return Outlet(bore, lip, *heads, *flows, *rains)


# --- how deep ---------------------------------------------------------------------------------


class LeastDepth(NamedTuple):
    """Answer of the search for a depth; NaN for what has no value."""

    found: Literal["within", "any", "none", "no roots"]  # of the depths between the bounds
    depth: float  # the least that does, floor to rim [m]; the shallowest tried for "any"
    air: float  # least air among the roots at it [m3 m-3]; that of the deepest for "none"
    too_shallow: float  # the greatest depth tried that does not do [m]
    air_too_shallow: float  # least air at it [m3 m-3]
    shallowest: float  # bounds of the search [m]
    deepest: float
    tried: int


def least_depth(
    bed: Bed, placed: Sequence[Placed], *, progress: Callable[[int], None] | None = None
) -> LeastDepth:
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
            tried[depth] = least_air(_deep(plain, depth), placed)
            if progress is not None:
                progress(1)
        return tried[depth]

    low = top + plain.box.freeboard + ROOM
    high, nan = max(low, _DEEPEST), np.nan
    ends = (at(low), at(high))
    if np.isnan(ends[0][0]):
        return LeastDepth("no roots", nan, nan, nan, nan, low, high, 2)
    if not ends[0][1]:
        return LeastDepth("any", low, ends[0][0], nan, nan, low, high, 2)
    if ends[1][1]:
        return LeastDepth("none", nan, ends[1][0], high, ends[1][0], low, high, 2)
    shallow, deep = low, high
    while deep - shallow > _TOLERANCE:
        middle = 0.5 * (shallow + deep)
        if at(middle)[1]:
            shallow = middle
        else:
            deep = middle
    airs = at(deep)[0], at(shallow)[0]
    return LeastDepth("within", deep, airs[0], shallow, airs[1], low, high, len(tried))


def least_air(bed: Bed, placed: Sequence[Placed]) -> tuple[float, bool]:
    """Least air among the roots in the spells [m3 m-3], and whether any of their days is wet.

    The air is NaN where nothing grows in any of them.
    """
    least, wet = np.inf, False
    for each in placed:
        room, rest = each.room
        lead = min(LEAD, room)
        days = lead + each.spell.days + min(AFTER, rest)
        start = each.spell.first - datetime.timedelta(days=lead)
        run = run_many([bed], each.weather, [start], days=days)
        kept = readable(run, each.weather).isel(bed=0, year=0, time=slice(lead, None))
        air = np.where(kept["root_depth"] > 0.0, kept["air_root_zone"], np.inf)
        least, wet = min(least, float(air.min())), wet or bool(wet_days(kept).any())
    return (least if np.isfinite(least) else np.nan), wet


def _deep(bed: Bed, depth: float) -> Bed:
    """The bed with another depth of box [m]."""
    return replace(bed, box=replace(bed.box, depth=depth), source=None)
