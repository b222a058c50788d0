"""What a stick's reading means: litres, and the days that they last in each month."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import State, run_many, set_store
from bedtide.bed import Bed, crown_height, dead_storage, lip_on, open_store, plan_area
from bedtide.many import NEVER, SPIN_UP, first_day, kept
from bedtide.readings import EMPTY
from bedtide.units import INCH

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

_STEP: Final[dict[System, float]] = {"metric": 0.01, "us": INCH / 2}  # between two marks [m]
Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]

_LONGEST: Final = 60  # days that a full store may last in a month that is told [d]; ours


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A height of the water over the floor of the liner, and what it means."""

    height_cm: float
    litres: float
    usable_litres: float
    days: dict[int, float]  # that the usable water lasts, by the number of the month


def readings_of(bed: Bed, weather: xr.Dataset, units: System) -> tuple[Reading, ...]:
    """Marks from the floor up to the highest lip of the year, and the days that each lasts.

    From the middle of every month of the record the bed, kept by its own rule until then, is run
    from each mark without a fill, its plants and its rain as they were; told is the middle one of
    the years. Months in which a full store lasts very long are left out.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    lip = min(float(lip_on(axis, bed.overflow).max()), crown_height(bed))
    step, dead = _STEP[units], dead_storage(bed)
    heights = [*(number * step for number in range(1, math.ceil(lip / step - 1e-6))), lip]
    held = np.array([float(open_store(height, bed)) for height in heights])
    months = np.unique(axis.astype("datetime64[M]"))
    middles = months.astype("datetime64[D]") + np.timedelta64(14, "D")
    before, after = np.timedelta64(SPIN_UP, "D"), np.timedelta64(_LONGEST, "D")
    middles = middles[(middles - before >= axis[0]) & (middles + after <= axis[-1])]
    lasting = _lasting(bed, weather, held, middles) if middles.size else np.empty((held.size, 0))
    month = middles.astype("datetime64[M]").astype(int) % 12 + 1
    usual = {m: np.median(lasting[:, month == m], axis=1) for m in np.unique(month).tolist()}
    area = plan_area(bed) * 1e3
    found = [
        Reading(
            height_cm=height * 100,
            litres=water * area,
            usable_litres=max(water - dead, 0.0) * area,
            days={m: float(days[at]) for m, days in usual.items() if days[-1] < _LONGEST},
        )
        for at, (height, water) in enumerate(zip(heights, held.tolist(), strict=True))
    ]
    return tuple(reading for reading in found if reading.litres >= 0.05)


def _lasting(bed: Bed, weather: xr.Dataset, held: Floats, middles: Days) -> Floats:
    """Days before the store is empty, from each amount in it [m] on each day, (marks, days)."""
    dates = [day.item() for day in middles]
    eves = [day - datetime.timedelta(days=SPIN_UP) for day in dates]
    eve = run_many([kept(bed)], weather, eves, days=SPIN_UP).end
    begun = State(*(np.concatenate([values] * held.size) for values in eve))
    left = replace(bed, watering=NEVER)
    begun = set_store(begun, [left] * begun.level.size, np.repeat(held, len(dates)))
    run = run_many([left] * held.size, weather, dates, days=_LONGEST, start=begun)
    empty = run.series.open_water - dead_storage(bed) < EMPTY
    return first_day(empty).reshape(held.size, len(dates))
