"""Rainy spells as a Dataset: readings of each, names and units set last."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed, bed_text, plan_area, surface_height
from bedtide.constants import AIR_LIMIT
from bedtide.many.outlets import outlet_of
from bedtide.many.places import Placed
from bedtide.many.variants import letters
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["OUTLETS", "spells_dataset"]

Array = NDArray[np.float64]

OUTLETS = ("open", "blocked")
"""The overflow as described, and blocked from the morning of the first day of the spell on."""


def _readings(stacked: dict[str, Array], before: int, lengths: Sequence[int]) -> dict[str, Array]:
    """Readings of each spell, bed and outlet."""
    air = stacked["air_root_zone"]
    rooted = (stacked["root_depth"] > 0.0)[:, :, None, :]
    wet = (air < AIR_LIMIT) & rooted
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


def spells_dataset(
    beds: Sequence[Bed],
    placed: Sequence[Placed],
    stacked: dict[str, Array],
    before: int,
    labels: Sequence[str] | None,
) -> xr.Dataset:
    """The spells as a Dataset; attributes set last.

    Parameters
    ----------
    beds : sequence of Bed
        The beds.
    placed : sequence of Placed
        The spells.
    stacked : dict of ndarray
        Daily values by name, each with its dimensions in order.
    before : int
        Days that are kept before the first of a spell [d].
    labels : sequence of str, optional
        What sets each bed apart.

    Returns
    -------
    Dataset
        As :func:`wet_spells` returns it.
    """
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
    lengths = [one.spell.days for one in placed]
    readings = _readings(stacked, before, lengths)
    outlets = [
        outlet_of(bed, float(stacked["lip_height"][0, b, 0, before])) for b, bed in enumerate(beds)
    ]
    values: dict[str, Any] = {
        name: (dims.get(name, (*each, "day")), array) for name, array in stacked.items()
    }
    values |= {name: (each, array) for name, array in readings.items()}
    values |= {
        name: ("bed", np.array([getattr(outlet, name) for outlet in outlets], dtype=np.float64))
        for name in outlets[0]._fields
    }
    values["plan_area"] = ("bed", np.array([plan_area(bed) for bed in beds]))
    values["surface_height"] = ("bed", np.array([surface_height(bed) for bed in beds]))
    values["spell_days"] = ("spell", lengths)
    values["spell_rain"] = ("spell", [one.spell.rain for one in placed])
    values["spell_start"] = (
        "spell",
        np.array([one.spell.first for one in placed], dtype="datetime64[ns]"),
    )
    values["spell_stated"] = ("spell", [one.spell.stated for one in placed])
    found = xr.Dataset(
        values,
        coords={
            "bed": [letters(number) for number in range(len(beds))],
            "label": ("bed", list(labels) if labels is not None else [b.name for b in beds]),
            "outlet": list(OUTLETS),
            "day": np.arange(stacked["rain"].shape[-1]) - before,
        },
    )
    for name in found.data_vars:
        found[name].attrs = attributes(str(name))
    weather = placed[0].weather
    found.attrs = {
        "Conventions": "CF-1.8",
        "bedtide_version": __version__,
        "title": "Beds in rainy spells",
        "bed_descriptions": [bed_text(bed) for bed in beds],
        "assumptions": list(weather.attrs.get("assumptions", [])),
        "weather_place": str(weather.attrs.get("place", "")),
        "weather_source": str(weather.attrs.get("source", "")),
    }
    return found
