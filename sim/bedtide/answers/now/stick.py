"""What a stick's reading means: litres, and the days that they last in each month."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from bedtide.balance import run_many
from bedtide.bed import Bed, capacity, crown_height, dead_storage, lip_on, open_store, plan_area
from bedtide.units import INCH

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

_STEP: Final[dict[System, float]] = {"metric": 0.01, "us": INCH / 2}  # between two marks [m]
_LONGEST: Final = 60.0  # days that a full store may last in a month that is told [d]; ours


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A height of the water over the floor of the liner, and what it means."""

    height_cm: float
    litres: float
    usable_litres: float
    days: dict[int, float]  # that the usable water lasts, by the number of the month


def readings_of(bed: Bed, weather: xr.Dataset, units: System) -> tuple[Reading, ...]:
    """Marks from the floor up to the highest lip of the year, at the mean use of each month.

    The use of a month is what the mix draws from the store in it, over all its days in the record,
    the bed kept by its own rule. Months in which a full store lasts very long are left out.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    run = run_many([bed], weather, [axis[0].item()], days=axis.size)
    month = axis.astype("datetime64[M]").astype(int) % 12 + 1
    rise = run.series.rise[:, 0]
    use = {m: float(rise[month == m].mean()) for m in range(1, 13) if (month == m).any()}
    lip = min(float(lip_on(axis, bed.overflow).max()), crown_height(bed))
    dead, full = dead_storage(bed), float(capacity(bed, lip))
    use = {m: each for m, each in use.items() if each * _LONGEST > full - dead}
    area, step = plan_area(bed) * 1e3, _STEP[units]
    heights = [*(number * step for number in range(1, math.ceil(lip / step - 1e-6))), lip]
    found = []
    for height in heights:
        held = float(open_store(height, bed))
        usable = max(held - dead, 0.0)
        days = {m: usable / each for m, each in use.items()}
        found.append(
            Reading(
                height_cm=height * 100, litres=held * area, usable_litres=usable * area, days=days
            )
        )
    return tuple(reading for reading in found if reading.litres >= 0.05)
