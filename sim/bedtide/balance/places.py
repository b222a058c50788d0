"""Beds at many places: every bed at every place from every start, all stepped together."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.run import Array, Run, State, days_of, run_many
from bedtide.bed import Bed
from bedtide.errors import RangeError
from bedtide.weather import one_place

if TYPE_CHECKING:
    import xarray as xr


def run_places(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    demand: Sequence[Demand] | None = None,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> Run:
    """Every bed at every place from every start, all stepped together.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    weather : Dataset, dims (place, time)
        As :func:`bedtide.weather.ready_places` gives it, each place with all the days that are
        run.
    starts : sequence of date
        First days; each needs `days` days of every place [d].
    days : int
        Length of each run [d].
    start : State, optional
        Water before the first day of each column; where left out, at rest.
    demand : sequence of Demand, optional
        That of an earlier run of these beds with other watering at these places.
    threads : int, optional
        How many to use; one for each core of the process where left out [1].
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Run
        Its beds are the first at every place, then the second at every place, and so on: column
        ``(b * places + p) * len(starts) + s``. Every number is that of a place alone, to the last
        bit.

    Raises
    ------
    RangeError
        If a start or its days are not in the record of a place.
    BalanceError
        If a run made or lost more than a millionth of a millimetre of water.
    """
    count = weather.sizes["place"]
    if demand is None:
        demand = _demands(beds, weather, starts, days)
    run_on = [bed for bed in beds for _ in range(count)]
    return run_many(
        run_on,
        weather,
        starts,
        days=days,
        start=start,
        demand=demand,
        threads=threads,
        progress=progress,
    )


def _demands(
    beds: Sequence[Bed], weather: xr.Dataset, starts: Sequence[datetime.date], days: int
) -> list[Demand]:
    """What each bed is brought and asked for at each place, on the days of all."""
    axis = days_of(weather)
    wanted = np.array([min(starts), max(starts)], dtype="datetime64[D]") + np.array([0, days - 1])
    like = {_asking(bed): bed for bed in beds}
    known: dict[object, list[Demand]] = {key: [] for key in like}
    for at in range(weather.sizes["place"]):
        own = one_place(weather, at)
        its = days_of(own)
        if not its.size or its[0] > wanted[0] or its[-1] < wanted[1]:
            has = f"days from {its[0]} to {its[-1]}" if its.size else "no weather"
            raise RangeError(
                f"place {weather['place_name'].values[at]}",
                f"it has not all the days from {wanted[0]} to {wanted[1]}",
                expected=has,
            )
        before = int((its[0] - axis[0]).astype(np.int64))
        after = axis.size - before - its.size
        for key, found in known.items():
            one = demand_of(like[key], own)
            found.append(_padded(one, before, after) if before or after else one)
    return [each for bed in beds for each in known[_asking(bed)]]


def _asking(bed: Bed) -> object:
    """What its demand hangs on."""
    return (bed.plantings, bed.surface, bed.site.exposure)


def _padded(demand: Demand, before: int, after: int) -> Demand:
    """The same with days around it on which nothing is asked; they are not run."""

    def longer(name: str, values: Array) -> Array:
        ends = [(before, after), *[(0, 0)] * (values.ndim - 1)]
        return values if name == "h4" else np.pad(values, ends)

    return Demand(**{name: longer(name, values) for name, values in demand._asdict().items()})
