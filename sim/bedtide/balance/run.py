"""Beds and a record of weather made into columns, run, and audited."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.audit import balance_error, check_balance
from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.watering import due_days
from bedtide.bed import (
    Bed,
    capacity,
    crown_height,
    dead_storage,
    level_of,
    lip_on,
    plan_area,
    surface_height,
    wick_foot,
)
from bedtide.column import (
    FIGURES,
    Beds,
    Cells,
    Columns,
    Days,
    Mixes,
    States,
    at_rest,
    layouts_of,
    move,
)
from bedtide.constants import RAIN_HOURS
from bedtide.errors import RangeError
from bedtide.weather import usual_rain_hours

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Calendar = NDArray[np.datetime64]


class State(NamedTuple):
    """All that a run needs to go on from an evening, one row a column.

    Attributes
    ----------
    open_water, level, standing : ndarray, shape (columns,)
        Water in the store, its level, and water on the mix [m].
    step : ndarray, shape (columns,)
        Length of the next step [d].
    content, place : ndarray, shape (columns, cells)
        Water content of the cells [m3 m-3], and their place on the nodes of suction [1].
    mix_water : ndarray, shape (columns,)
        Water in the mix [m].
    """

    open_water: Array
    level: Array
    standing: Array
    step: Array
    content: Array
    place: Array
    mix_water: Array

    def columns(self, which: slice | Index) -> State:
        """The same of some columns."""
        return State(*(values[which] for values in self))


class Series(NamedTuple):
    """Stores at the end of every day, what moved on it and what is read of it, (time, columns).

    Attributes
    ----------
    open_water, mix_water, standing_water : ndarray of float
        Stores [m].
    refill, rise, transpiration, evaporation, overflow, rim_spill : ndarray of float
        What moved, positive as the name says [m].
    level, surface_suction : ndarray of float
        Height of the free water above the floor; suction at the surface [m].
    air_root_zone, air_top : ndarray of float
        Air-filled porosity of the root zone and of the top layer [m3 m-3].
    aerated_depth : ndarray of float
        Depth down to which the air share is above the limit [m].
    """

    open_water: Array
    mix_water: Array
    standing_water: Array
    refill: Array
    rise: Array
    transpiration: Array
    evaporation: Array
    overflow: Array
    rim_spill: Array
    level: Array
    surface_suction: Array
    air_root_zone: Array
    air_top: Array
    aerated_depth: Array


assert Series._fields == FIGURES


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
        Stores, fluxes and readings, (time, columns).
    start, end : State
        Before the first day and after the last, (columns,).
    rain : ndarray, shape (time, columns)
        Rain into the beds [m].
    demand : tuple of Demand
        Of each bed, over the whole record.
    windows : ndarray of int, shape (time, starts)
        Days of the record that each start runs through.
    lip : ndarray, shape (time, columns)
        Height of the overflow's lip [m].
    error : ndarray, shape (columns,)
        Largest error of the water balance [m].
    counts : ndarray, shape (columns, 4)
        Steps, passes, safe steps, and days with one [1].
    cells : Cells
        The columns' cells, a row a layout.
    layout : ndarray of int, shape (beds,)
        Which row is each bed's [1].
    profile : ndarray, shape (columns, time, cells)
        Water content of the cells on every evening [m3 m-3]; empty where it was not wanted.
    """

    beds: tuple[Bed, ...]
    starts: tuple[datetime.date, ...]
    days: int
    series: Series
    start: State
    end: State
    rain: Array
    demand: tuple[Demand, ...]
    windows: Index
    lip: Array
    error: Array
    counts: Array
    cells: Cells
    layout: Index
    profile: Array


def run_many(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    given: Array | None = None,
    profile: bool = False,
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
        Water before the first day of each column; where left out, the reservoir at the bed's
        start level and the mix at rest above it.
    given : ndarray of float, shape (time, columns), optional
        Water put in besides what the watering rule asks for [m].
    profile : bool, default False
        Whether to keep the water content by height.
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Run
        The same numbers for a bed whatever others are run beside it, to the last bit.

    Raises
    ------
    RangeError
        If a start or its days are not in the record.
    BalanceError
        If a run made or lost more than a millionth of a millimetre of water.
    """
    axis = days_of(weather)
    windows = _windows(axis, starts, days)
    cells, mixes, layout = layouts_of(beds)
    lips = [lip_on(axis, bed.overflow) for bed in beds]
    demand, own = _demands(beds, weather)
    bed_of = np.repeat(np.arange(len(beds)), len(starts))
    columns = Columns(
        bed=bed_of,
        days=np.repeat(np.array(own, dtype=np.int64), len(starts)),
        start=np.tile(windows[0], len(beds)),
        due=_due(beds, axis, windows),
        given=np.zeros((0, 0)) if given is None else np.ascontiguousarray(given.T),
    )
    at_first = np.concatenate([lip[windows[0]] for lip in lips])
    begun = _rested(beds, cells, mixes, layout, bed_of, at_first) if start is None else start
    states = _states(begun, cells)
    figures, kept, counts = move(
        cells, mixes, _beds(beds, layout, lips), _days(demand, weather), columns, states,
        profile=profile, progress=progress,
    )  # fmt: skip
    series = Series(*(values.T for values in figures))
    rain = np.concatenate([demand[i].rain_in[windows] for i in own], axis=1)
    error, flowed = balance_error(series, begun, rain)
    check_balance(error, flowed, where=", ".join(dict.fromkeys(bed.name for bed in beds)))
    return Run(
        beds=tuple(beds),
        starts=tuple(starts),
        days=days,
        series=series,
        start=begun,
        end=_state(states, series.mix_water[-1]),
        rain=rain,
        demand=tuple(demand[i] for i in own),
        windows=windows,
        lip=np.concatenate([lip[windows] for lip in lips], axis=1),
        error=error,
        counts=counts,
        cells=cells,
        layout=layout,
        profile=kept,
    )


def days_of(weather: xr.Dataset) -> Calendar:
    """Days of a record [d]."""
    return weather["time"].to_numpy().astype("datetime64[D]")


def set_store(state: State, beds: Sequence[Bed], open_water: Array) -> State:
    """The state with another amount of open water, one bed a column; all else as it was.

    Parameters
    ----------
    state : State
        Not changed.
    beds : sequence of Bed
        Of each column.
    open_water : ndarray, shape (columns,)
        Water in the store [m].

    Returns
    -------
    State
        The level goes with the store.
    """
    level = [float(level_of(water, bed)) for water, bed in zip(open_water, beds, strict=True)]
    return state._replace(open_water=np.asarray(open_water, float), level=np.array(level))


def _windows(axis: Calendar, starts: Sequence[datetime.date], days: int) -> Index:
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


def _due(beds: Sequence[Bed], axis: Calendar, windows: Index) -> NDArray[np.bool_]:
    """Days on which somebody may fill, (columns, time)."""
    return np.stack([due_days(bed.watering, axis[window]) for bed in beds for window in windows.T])


def _demands(beds: Sequence[Bed], weather: xr.Dataset) -> tuple[list[Demand], list[int]]:
    """The demands that differ, and which of them is each bed's."""
    known: dict[tuple[Any, ...], int] = {}
    demand: list[Demand] = []
    own = []
    for bed in beds:
        key = (bed.plantings, bed.surface, bed.site.exposure)
        if key not in known:
            known[key] = len(demand)
            demand.append(demand_of(bed, weather))
        own.append(known[key])
    return demand, own


def _days(demand: Sequence[Demand], weather: xr.Dataset) -> Days:
    """All demands as one set of arrays; beds with fewer plantings get empty ones."""
    most = max(each.uptake.shape[1] for each in demand)

    def padded(name: str) -> Array:
        rows = []
        for each in demand:
            values = np.broadcast_to(getattr(each, name), each.uptake.shape)
            rows.append(np.pad(values, ((0, 0), (0, most - values.shape[1]))))
        return np.ascontiguousarray(np.stack(rows))

    return Days(
        rain=np.stack([each.rain_in for each in demand]),
        hours=_hours(weather),
        begin=RAIN_HOURS[0],
        end=RAIN_HOURS[1],
        energy=np.stack([each.energy for each in demand]),
        demand=padded("uptake"),
        depth=padded("depth"),
        h3=padded("h3"),
        h4=padded("h4"),
        zone=np.stack([each.root_depth for each in demand]),
    )


def _hours(weather: xr.Dataset) -> Array:
    """Share of each hour in the rain of each day, as the column takes it."""
    if "rain_hours" not in weather:
        return np.zeros((0, 0))
    hours = weather["rain_hours"].transpose("time", "hour").to_numpy().astype(np.float64)
    total, rainy = hours.sum(axis=1), weather["rain"].to_numpy() > 0.0
    wrong = rainy & ~((np.abs(total - 1.0) < 1e-9) | (total == 0.0))
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise RangeError(
            "weather, rain_hours",
            f"the hours of {days_of(weather)[at]} add to {total[at]:g}",
            expected="shares of the day's rain that add to 1, or zeros where they are not known",
        )
    unknown = rainy & (total == 0.0)
    hours[unknown] = usual_rain_hours(int(unknown.sum()))
    return np.ascontiguousarray(hours)


def lowest_roots(bed: Bed) -> float:
    """Height that roots do not pass: the highest lip of the year, or the top of the reservoir.

    Blocked or not: the roots do not move when the outlet clogs or an elbow is turned.

    Parameters
    ----------
    bed : Bed
        Its overflow and reservoir.

    Returns
    -------
    float
        Above the floor [m].
    """
    heights = [bed.overflow.height, *(change.height for change in bed.overflow.changes)]
    crown = crown_height(bed)
    highest = max((height for height in heights if height is not None), default=crown)
    return max(min(highest, crown), wick_foot(bed))


def _beds(beds: Sequence[Bed], layout: Index, lips: Sequence[Array]) -> Beds:
    lip = np.stack(lips)
    if (lip == lip[:, :1]).all():
        lip = lip[:, :1]
    rule = [bed.watering for bed in beds]
    share = [each.share if each.when == "below share" else np.inf for each in rule]
    volume = [
        np.inf if bed.watering.volume is None else bed.watering.volume / plan_area(bed)
        for bed in beds
    ]
    return Beds(
        layout=layout,
        surface=np.array([surface_height(bed) for bed in beds]),
        freeboard=np.array([bed.box.freeboard for bed in beds]),
        roots_from=np.array([lowest_roots(bed) for bed in beds]),
        dead=np.array([dead_storage(bed) for bed in beds]),
        lip=np.ascontiguousarray(lip),
        below=np.array(share, dtype=np.float64),
        volume=np.array(volume),
    )


def _rested(
    beds: Sequence[Bed], cells: Cells, mixes: Mixes, layout: Index, bed_of: Index, lip: Array
) -> State:
    """Water before the first day: the reservoir at its start level, the mix at rest above it."""
    stored = np.empty(bed_of.size)
    for column, number in enumerate(bed_of):
        bed = beds[number]
        cap = float(capacity(bed, lip[column]))
        dead = min(dead_storage(bed), cap)
        stored[column] = dead + bed.start_level * (cap - dead)
    level = np.array([float(level_of(stored[c], beds[b])) for c, b in enumerate(bed_of)])
    states = at_rest(cells, mixes, layout[bed_of], stored, level)
    water = np.where(_real(cells)[layout[bed_of]], cells.water[layout[bed_of]], 0.0)
    return _state(states, (water * states.content).sum(axis=1))


def _real(cells: Cells) -> NDArray[np.bool_]:
    """Which cells of each layout are not padding."""
    return np.arange(cells.centre.shape[1]) < cells.number[:, None]


def _states(state: State, cells: Cells) -> States:
    """A state as the column takes it: copies, as wide as the cells."""
    most = cells.centre.shape[1]
    wide = [
        np.ascontiguousarray(np.pad(each[:, :most], ((0, 0), (0, max(most - each.shape[1], 0)))))
        for each in (state.content, state.place)
    ]
    rest = np.stack([state.open_water, state.level, state.standing, state.step], axis=1)
    return States(wide[0], wide[1], rest)


def _state(states: States, mix_water: Array) -> State:
    open_water, level, standing, step = states.rest.T.copy()
    return State(open_water, level, standing, step, states.content, states.place, mix_water.copy())
