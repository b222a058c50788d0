"""From a bed and a record of weather to a Dataset: the public way to run the model."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.audit import balance_error, check_balance
from bedtide.balance.day import LOWER, OPEN, State
from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.profile_readings import ProfileReadings, profile_readings
from bedtide.balance.simulate import Array, Forcing, Index, Series, simulate
from bedtide.balance.watering import rules_of
from bedtide.bed import (
    Bed,
    capacity,
    dead_storage,
    lip_on,
)
from bedtide.errors import RangeError
from bedtide.profile import BedTables, bed_tables, rest_state

if TYPE_CHECKING:
    import xarray as xr

Days = NDArray[np.datetime64]


@dataclass(frozen=True, eq=False)
class Run:
    """Many beds stepped together, one column for each bed and start.

    Attributes
    ----------
    beds : tuple of Bed
        The beds; column ``b * len(starts) + s`` is bed ``b`` from start ``s``.
    starts : tuple of date
        First days.
    days : int
        Number of days of each column [d].
    series : Series
        Stores and fluxes, (time, columns) [m].
    start : State
        Stores before the first day, (columns,) [m].
    rain : ndarray, shape (time, columns)
        Rain into the beds [m].
    demand : tuple of Demand
        Of each bed, over the whole record.
    windows : ndarray of int, shape (time, starts)
        Days of the record that each start runs through.
    readings : ProfileReadings or None
        Air, level and surface, (time, columns).
    lip : ndarray, shape (time, columns)
        Height of the overflow's lip [m].
    error : ndarray, shape (columns,)
        Largest error of the water balance [m].
    """

    beds: tuple[Bed, ...]
    starts: tuple[datetime.date, ...]
    days: int
    series: Series
    start: State
    rain: Array
    demand: tuple[Demand, ...]
    windows: Index
    readings: ProfileReadings | None
    lip: Array
    error: Array


def run_many(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    given: Array | None = None,
    readings: bool = True,
    progress: Callable[[int], None] | None = None,
) -> Run:
    """Every bed from every start, all stepped together.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    weather : Dataset, dims (time,)
        One record for all.
    starts : sequence of date
        First days; each needs `days` days of the record [d].
    days : int
        Length of each run [d].
    start : State, optional
        Stores before the first day of each column [m]; where left out, the reservoir at the bed's
        start level and the mix at rest above it.
    given : ndarray of float, shape (time, columns), optional
        Water put in besides what the watering rule asks for [m].
    readings : bool, default True
        Whether to read the air, the level and the surface from the profiles.
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Run
        The same numbers for a bed whatever others are run beside it.

    Raises
    ------
    RangeError
        If a start or its days are not in the record.
    BalanceError
        If a run made or lost more than a millionth of a millimetre of water.
    """
    axis = days_of(weather)
    windows = _windows(axis, starts, days)
    tables, which, lip = _tables_by_day(beds, axis, windows)
    demand, own = _demands(beds, weather, tables, which[0, :: len(starts)])
    forcing = Forcing(
        *(
            np.concatenate([part[:, 0][windows] for part in parts], axis=1)
            for parts in zip(*(each.forcing for each in demand), strict=True)
        )
    )
    seen = (np.array(own)[:, None] * len(starts) + np.arange(len(starts))).reshape(-1)
    every = [bed for bed in beds for _ in starts]
    own_days = [axis[windows[:, s]] for _ in beds for s in range(len(starts))]
    begun = _at_rest(every, tables, which[0], lip[0]) if start is None else start
    constant = which[0] if (which == which[:1]).all() else which
    series = simulate(
        tables,
        constant,
        forcing,
        rules_of(every, own_days)._replace(given=given),
        begun,
        column=seen,
        freeboard=np.array([bed.box.freeboard for bed in every]),
        progress=progress,
    )
    rain = np.broadcast_to(forcing.rain[:, seen], series.refill.shape)
    error = balance_error(series, begun, rain)
    check_balance(error, where=", ".join(dict.fromkeys(bed.name for bed in beds)))
    rooting = np.concatenate([demand[i].rooting[windows] for i in own], axis=1)
    return Run(
        beds=tuple(beds),
        starts=tuple(starts),
        days=days,
        series=series,
        start=begun,
        rain=rain,
        demand=tuple(demand[i] for i in own),
        windows=windows,
        readings=profile_readings(tables, constant, series, rooting) if readings else None,
        lip=lip,
        error=error,
    )


def days_of(weather: xr.Dataset) -> Days:
    """Days of a record [d]."""
    return weather["time"].to_numpy().astype("datetime64[D]")


def _windows(axis: Days, starts: Sequence[datetime.date], days: int) -> Index:
    if days < 1:
        raise RangeError("days", f"{days} is not a length of time", expected="at least one day")
    first = (np.array(list(starts), dtype="datetime64[D]") - axis[0]).astype(np.int64)
    outside = (first < 0) | (first + days > axis.size)
    if outside.any():
        which = list(starts)[int(np.flatnonzero(outside)[0])]
        raise RangeError(
            "start",
            f"{days} days from {which} are not all in the weather record",
            expected=f"days from {axis[0]} to {axis[-1]}",
        )
    return first[None, :] + np.arange(days)[:, None]


def _tables_by_day(
    beds: Sequence[Bed], axis: Days, windows: Index
) -> tuple[list[BedTables], Index, Array]:
    """Tables of all beds; which of them, and which lip [m], each column has on each day."""
    numbers: dict[int, int] = {}
    tables: list[BedTables] = []
    which, lip = [], []
    for bed in beds:
        lips = lip_on(axis, bed.overflow)[windows]
        heights, at = np.unique(lips, return_inverse=True)
        own = []
        for height in heights:
            table = bed_tables(bed, float(height))
            if id(table) not in numbers:
                numbers[id(table)] = len(tables)
                tables.append(table)
            own.append(numbers[id(table)])
        which.append(np.array(own)[at.reshape(lips.shape)])
        lip.append(lips)
    return tables, np.concatenate(which, axis=1), np.concatenate(lip, axis=1)


def _demands(
    beds: Sequence[Bed], weather: xr.Dataset, tables: Sequence[BedTables], which: Index
) -> tuple[list[Demand], list[int]]:
    """The demands that differ, and which of them is each bed's."""
    known: dict[tuple[Any, ...], int] = {}
    demand: list[Demand] = []
    own = []
    for bed, number in zip(beds, which, strict=True):
        grid = tables[number].grid
        key = (bed.plantings, bed.surface, bed.site.exposure, grid.surface - grid.roots_from)
        if key not in known:
            known[key] = len(demand)
            demand.append(demand_of(bed, weather, tables[number]))
        own.append(known[key])
    return demand, own


def _at_rest(every: Sequence[Bed], tables: Sequence[BedTables], which: Index, lip: Array) -> State:
    """Stores before the first day: the reservoir at its start level, the mix at rest above it."""
    stores = np.empty((3, which.size))
    for column, bed in enumerate(every):
        cap = float(capacity(bed, lip[column]))
        dead = min(dead_storage(bed), cap)
        stores[OPEN, column] = dead + bed.start_level * (cap - dead)
    for number in np.unique(which):
        for water in np.unique(stores[OPEN, which == number]):  # one by one: sums of many at once
            columns = (which == number) & (stores[OPEN] == water)  # round by how many they are
            stores[LOWER:, columns] = np.array(rest_state(tables[number], water))[:, None]
    return State(stores, np.zeros(which.size), np.zeros(which.size))
