"""The worst days of a whole record: for roots while they are there, for the outlet on all days."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import run_many
from bedtide.bed import Bed, brimful_weight, plan_area
from bedtide.constants import WATER_DENSITY
from bedtide.many.runs import readable
from bedtide.many.spells import undated
from bedtide.readings import wetness

if TYPE_CHECKING:
    import xarray as xr


class WorstDay(NamedTuple):
    """A figure on the day on which it was worst; NaN and no day where there was none."""

    value: float
    day: datetime.date | None


class WetRecord(NamedTuple):
    """How one bed came through every day of a record, its overflow as described."""

    days: int
    rooted_days: int
    wet_days: int  # with roots, of `readings.wet_days`
    low_air_days: int  # with roots in less air than potting standards ask for
    longest_wet: int
    longest_wet_from: datetime.date | None
    air: WorstDay  # least among the roots [m3 m-3]
    airy_depth: WorstDay  # least depth from the surface with 10 % air, while roots are there [m]
    overflow: WorstDay  # most in a day, planted or not [m]
    rim_spill: WorstDay  # most in a day [m]
    spill_days: int
    weight: WorstDay  # with the water of that day, as `brimful_weight` counts [kg]


def wet_record(
    beds: Sequence[Bed], weather: xr.Dataset
) -> tuple[list[WetRecord], NDArray[np.float64]]:
    """Each bed through the whole record, and how much air roots had on each day (time,) [m3 m-3].

    That is the least of the beds that have roots then, infinite where none has.
    """
    days = weather["time"].to_numpy().astype("datetime64[D]")
    plain = undated(beds)
    least = np.full(days.size, np.inf)
    found = []
    for bed in plain:  # one at a time: thirty years of many beds are too much to hold at once
        run = run_many([bed], weather, [days[0].item()], days=days.size)
        whole = readable(run, weather).isel(bed=0, year=0)
        rooted = whole["root_depth"].to_numpy() > 0.0
        air = np.where(rooted, whole["air_root_zone"].to_numpy(), np.inf)
        least = np.minimum(least, air)
        wet = wetness(whole)
        begun = wet["wet_spell_start"].to_numpy().astype("datetime64[D]").item()
        spill = whole["rim_spill"].to_numpy()
        stores = [whole[f"{name}_water"].to_numpy() for name in ("open", "mix", "standing")]
        held = np.sum(stores, axis=0)
        brim = brimful_weight(bed)
        dry = brim.total - brim.water
        found.append(
            WetRecord(
                days=days.size,
                rooted_days=int(wet["rooted_days"]),
                wet_days=int(wet["wet_days"]),
                low_air_days=int(wet["low_air_days"]),
                longest_wet=int(wet["longest_wet_spell"]),
                longest_wet_from=begun,  # None where it is no day
                air=_worst(air, days, least=True),
                airy_depth=_worst(
                    np.where(rooted, whole["aerated_depth"].to_numpy(), np.inf), days, least=True
                ),
                overflow=_worst(whole["overflow"].to_numpy(), days),
                rim_spill=_worst(spill, days),
                spill_days=int((spill > 0.0).sum()),
                weight=_worst(dry + held * plan_area(bed) * WATER_DENSITY, days),
            )
        )
    return found, least


def _worst(
    values: NDArray[np.float64], days: NDArray[np.datetime64], *, least: bool = False
) -> WorstDay:
    """The least or the most, on its first day; none where that is infinite or nothing."""
    at = int(values.argmin() if least else values.argmax())
    value = float(values[at])
    if not np.isfinite(value) or (not least and value <= 0.0):
        return WorstDay(np.nan if least else 0.0, None)
    return WorstDay(value, days[at].item())
