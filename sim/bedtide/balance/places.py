"""Beds at many places: every bed at every place from every start, all stepped together."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.run import Array, Index, Run, State, asking, days_of, run_many
from bedtide.bed import Bed
from bedtide.errors import RangeError

if TYPE_CHECKING:
    import xarray as xr

ASKED = ("et0", "rain", "wind_speed", "rh_min")
"""What a run takes from the weather."""


def run_places(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    demand: Sequence[Demand] | None = None,
    profile: bool = False,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> Run:
    """Every bed at every place from every start, all stepped together.

    Parameters
    ----------
    weather : Dataset, dims (place, time)
        As :func:`bedtide.weather.ready_places` gives it, each place with all the days that are
        run.
    demand : sequence of Demand, optional
        That of an earlier run of these beds with other watering at these places.
    beds, starts, days, start, profile, threads, progress
        As :func:`run_many` takes them.

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
    weather = weather.transpose("place", "time", ...)
    count = weather.sizes["place"]
    if demand is None:
        demand = _demands(beds, weather, starts, days)
    return run_many(
        [bed for bed in beds for _ in range(count)],
        weather,
        starts,
        days=days,
        start=start,
        demand=demand,
        profile=profile,
        threads=threads,
        progress=progress,
    )


def places_with(weather: xr.Dataset, first: datetime.date, days: int) -> Index:
    """Numbers of the places that have all of these days, and none missing among their own."""
    begin = int((np.datetime64(first, "D") - days_of(weather)[0]).astype(np.int64))
    before, size = _spans(weather)
    return np.flatnonzero((size > 0) & (before <= begin) & (begin + days <= before + size))


def _spans(weather: xr.Dataset) -> tuple[Index, Index]:
    """Days before the own ones of each place, and how many these are; none where some are missing.

    That is seen from the weather itself, so that it holds for weather of any making.
    """
    axis = days_of(weather).size
    known = np.ones((weather.sizes["place"], axis), dtype=bool)
    for name in ASKED:
        known &= ~np.isnan(weather[name].to_numpy())
    before, after = known.argmax(axis=1), known[:, ::-1].argmax(axis=1)
    size = axis - before - after
    return before, np.where(known.sum(axis=1) == size, size, 0)


def _demands(
    beds: Sequence[Bed], weather: xr.Dataset, starts: Sequence[datetime.date], days: int
) -> list[Demand]:
    """What each bed is brought and asked for at each place, on the days of all."""
    axis = days_of(weather)
    first, last = min(starts), max(starts) + datetime.timedelta(days=days - 1)
    span = (last - first).days + 1
    lacking = np.setdiff1d(np.arange(weather.sizes["place"]), places_with(weather, first, span))
    if lacking.size:
        raise RangeError(
            f"place {weather['place'].values[lacking[0]]}",
            f"it has not all the days from {first} to {last}",
            expected="places that have all days that are run",
        )
    like = {asking(bed): bed for bed in beds}
    count = weather.sizes["place"]
    known: dict[object, list[Demand]] = {key: [] for key in like}
    before, size = _spans(weather)
    for key, bed in like.items():
        found: dict[int, Demand] = {}
        for begin, length in set(zip(before.tolist(), size.tolist(), strict=True)):
            own = np.flatnonzero((before == begin) & (size == length)).tolist()
            part = weather.isel(place=own, time=slice(begin, begin + length))
            after = axis.size - begin - length
            demand = _padded(demand_of(bed, part), begin, after)
            found |= {at: _at_place(demand, row) for row, at in enumerate(own)}
        known[key] = [found[at] for at in range(count)]
    return [each for bed in beds for each in known[asking(bed)]]


def _padded(demand: Demand, before: int, after: int) -> Demand:
    """The same with days around it on which nothing is asked; they are not run."""
    if not before and not after:
        return demand

    def longer(name: str, values: Array) -> Array:
        ends = [(0, 0)] * values.ndim
        ends[-2 if name in ("uptake", "depth", "h3") else -1] = (before, after)
        return values if name == "h4" else np.pad(values, ends)

    return Demand(**{name: longer(name, values) for name, values in demand._asdict().items()})


def _at_place(demand: Demand, row: int) -> Demand:
    """That of one of several places."""
    same = ("depth", "h4", "root_depth")
    own = {name: values[row] for name, values in demand._asdict().items() if name not in same}
    return demand._replace(**own)
