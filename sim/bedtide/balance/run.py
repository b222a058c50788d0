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
    tables: list[BedTables] = []
    which = np.empty((days, len(beds) * len(starts)), dtype=np.intp)
    lip = np.empty((days, which.shape[1]))
    demand, parts, column = [], [], []
    width = 0
    for b, bed in enumerate(beds):
        lips = lip_on(axis, bed.overflow)
        heights = np.unique(lips[windows])
        own = [_number(tables, bed_tables(bed, float(height))) for height in heights]
        columns = slice(b * len(starts), (b + 1) * len(starts))
        lip[:, columns] = lips[windows]
        which[:, columns] = np.array(own)[np.searchsorted(heights, lips[windows])]
        twin = next(
            (i for i in range(b) if _same_demand(beds[i], bed, tables, which, i, b, starts)), None
        )
        if twin is None:
            demand.append(demand_of(bed, weather, tables[own[0]]))
            parts.append(demand[-1].forcing)
            column.append(np.arange(width, width + len(starts)))
            width += len(starts)
        else:
            demand.append(demand[twin])
            column.append(column[twin])
    forcing = Forcing(
        *(
            np.concatenate([part[i][:, 0][windows] for part in parts], axis=1)
            for i in range(len(Forcing._fields))
        )
    )
    seen = np.concatenate(column)
    state = _start(beds, tables, which[0], lip[0], len(starts))
    every = [bed for bed in beds for _ in starts]
    own_days = [axis[windows[:, s]] for _ in beds for s in range(len(starts))]
    rules = rules_of(every, own_days)._replace(given=given)
    constant = which[0] if (which == which[:1]).all() else which
    series = simulate(
        tables,
        constant,
        forcing,
        rules,
        state,
        column=seen,
        freeboard=np.array([bed.box.freeboard for bed in every]),
        progress=progress,
    )
    rain = np.broadcast_to(forcing.rain[:, seen], series.refill.shape)
    error = balance_error(series, state, rain)
    check_balance(error, where=", ".join(dict.fromkeys(bed.name for bed in beds)))
    rooting = np.concatenate([d.rooting[windows] for d in demand], axis=1)
    found = profile_readings(tables, constant, series, rooting) if readings else None
    return Run(
        tuple(beds),
        tuple(starts),
        days,
        series,
        state,
        rain,
        tuple(demand),
        windows,
        found,
        lip,
        error,
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


def _number(tables: list[BedTables], table: BedTables) -> int:
    """Number of a table in the list, added where it is new."""
    for number, known in enumerate(tables):
        if known is table:
            return number
    tables.append(table)
    return len(tables) - 1


def _start(
    beds: Sequence[Bed], tables: Sequence[BedTables], which: Index, lip: Array, starts: int
) -> State:
    """Stores before the first day: the reservoir at its start level, the mix at rest above it."""
    stores = np.empty((3, which.size))
    for b, bed in enumerate(beds):
        columns = slice(b * starts, (b + 1) * starts)
        cap = capacity(bed, lip[columns])
        dead = np.minimum(dead_storage(bed), cap)
        stores[OPEN, columns] = dead + bed.start_level * (cap - dead)
        for column in range(columns.start, columns.stop):
            stores[LOWER:, column] = rest_state(tables[which[column]], stores[OPEN, column])
    return State(stores, np.zeros(which.size), np.zeros(which.size))


def _plain(bed: Bed) -> tuple[Any, ...]:
    """What decides the demand of a bed."""
    return bed.plantings, bed.surface, bed.site.exposure


def _same_demand(
    first: Bed,
    second: Bed,
    tables: Sequence[BedTables],
    which: Index,
    i: int,
    j: int,
    starts: Sequence[datetime.date],
) -> bool:
    """Whether two beds ask for the same, on the same rooting depths."""
    depth = [tables[which[0, k * len(starts)]].grid for k in (i, j)]
    span = [grid.surface - grid.roots_from for grid in depth]
    return _plain(first) == _plain(second) and span[0] == span[1]
