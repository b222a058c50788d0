"""Beds in a rainy spell: how long roots lack air, how soon they have it again, what runs out."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import air_by_height, air_layers, lowest_roots, run_many, variables_of
from bedtide.bed import Bed, surface_height
from bedtide.errors import FieldError
from bedtide.many.places import Placed, room_around, undated
from bedtide.many.spell_dataset import spells_dataset

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["AFTER", "LEAD", "wet_spells"]

Array = NDArray[np.float64]

BEFORE, AFTER = 7, 28
"""Days that are kept before a spell and after it [d]; our choice."""

LEAD = 120
"""Days that the model runs before a spell, so that the bed is as it would be [d]; our choice."""

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
    "transpiration",
    "evaporation",
)


def wet_spells(
    beds: Sequence[Bed], placed: Sequence[Placed], *, labels: Sequence[str] | None = None
) -> xr.Dataset:
    """Every bed through every spell, with its overflow as it is and blocked.

    Answers: do the roots drown when it rains for days, when do they breathe again, and can the
    overflow carry it. The bed runs for `LEAD` days before, where the record has them, so that it
    enters the spell as its keeper would have it; the blocked overflow clogs on the eve of it.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    placed : sequence of Placed
        At least one spell; see `place_spells`.
    labels : sequence of str, optional
        What sets each bed apart; their names where left out.

    Returns
    -------
    Dataset
        Days, dims (spell, bed, outlet, day), ``day`` 0 the first of the spell: ``rain_in``,
        ``overflow``, ``rim_spill``, ``standing_water``, ``level``, ``lip_height``,
        ``air_root_zone``, ``air_top``, ``aerated_depth``, ``transpiration``, ``evaporation``;
        ``rain`` (spell, day), ``root_depth`` (spell, bed, day), ``date`` (spell, day).
        Air by height: ``air`` (spell, bed, outlet, slice, day), its slices between the heights
        ``face_height`` (bed, face).
        Readings, dims (spell, bed, outlet): ``wet_days`` from the first day on [d]; ``first_wet``
        [d], the days until the first of them, 0 for the first day, NaN for none; ``air_lowest``
        [m3 m-3]; ``recovery`` [d], the days from the last of the spell until the roots have air
        again, 0 where they have it on that day, infinite where that is not seen within `AFTER`
        days; ``overflow_total``, ``overflow_largest``, ``rim_spill_total`` [m].
        Of the outlet, dims (bed,): see `outlet_of`.

    Raises
    ------
    FieldError
        If there is no bed or no spell.
    """
    if not beds or not placed:
        raise FieldError("wet spell", "there is no bed or no spell", expected="at least one")
    plain = undated(beds)
    before = min(BEFORE, *(room_around(each)[0] for each in placed))
    parts = [_one_spell(plain, each, before) for each in placed]
    faces, airs = _air(plain, parts)
    parts = [part | {"air": air} for part, air in zip(parts, airs, strict=True)]
    days = max(part["days"] for part in parts)
    stacked = {
        name: np.stack([_padded(part[name], days) for part in parts])
        for name in (*_DAILY, "air", "root_depth", "rain", "date")
    }
    found = spells_dataset(plain, placed, stacked | {"face_height": faces}, before, labels)
    found.attrs["balance_error"] = max(part["error"] for part in parts)
    return found


def _padded(values: NDArray[Any], days: int) -> NDArray[Any]:
    """The same with missing values up to the number of days, where the record ends early."""
    missing = np.datetime64("NaT", "ns") if values.dtype.kind == "M" else np.nan
    width = [(0, 0)] * (values.ndim - 1) + [(0, days - values.shape[-1])]
    return np.pad(values, width, constant_values=missing)


def _one_spell(beds: Sequence[Bed], placed: Placed, before: int) -> dict[str, Any]:
    """Days of one spell, `before` its first and `AFTER` past its last, the days last."""
    room, rest = room_around(placed)
    lead = max(min(LEAD, room), before)
    spell, weather = placed.spell, placed.weather
    start = spell.first - datetime.timedelta(days=lead)
    kept = spell.days + min(AFTER, rest)
    blocked = [
        replace(bed, overflow=replace(bed.overflow, state="blocked")) if _has_outlet(bed) else bed
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
    for name in _DAILY:
        days = [variables_of(run)[name] for run in runs]
        if ahead is not None:
            days = [np.concatenate([early[name][lead - before :], late]) for late in days]
        found[name] = np.stack(days).transpose(2, 0, 1)  # bed, outlet, day
    profiles = [run.profile for run in runs]
    if ahead is not None:
        profiles = [np.concatenate([ahead.profile[:, lead - before :], p], 1) for p in profiles]
    run = runs[0]
    window = np.arange(run.windows[0, 0] - before, run.windows[-1, 0] + 1)
    reach = np.array([surface_height(bed) - lowest_roots(bed) for bed in beds])
    depth = np.stack([demand.root_depth[window] for demand in run.demand])
    return found | {
        "content": np.stack(profiles, axis=1),  # bed, outlet, day, cell
        "layers": [air_layers(run, b, _SLICES) for b in range(len(beds))],
        "root_depth": np.minimum(depth, reach[:, None]),
        "rain": weather["rain"].to_numpy()[window],
        "date": weather["time"].to_numpy()[window],
        "days": window.size,
        "error": max(float(each.error.max()) for each in (*runs, *([ahead] if ahead else []))),
    }


def _has_outlet(bed: Bed) -> bool:
    return bed.overflow.state == "open"


def _air(beds: Sequence[Bed], parts: Sequence[dict[str, Any]]) -> tuple[Array, list[NDArray[Any]]]:
    """Faces of the slices (bed, face) [m]; of each spell the air (bed, outlet, slice, day)."""
    faces = np.stack([layers.faces for layers in parts[0]["layers"]])
    airs = [
        np.stack(
            [
                np.moveaxis(air_by_height(part["content"][b], part["layers"][b]), -1, -2)
                for b in range(len(beds))
            ]
        )
        for part in parts
    ]
    return faces, airs
