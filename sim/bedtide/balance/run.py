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


class Inputs(NamedTuple):
    """All that :func:`bedtide.column.move` asks for, in its order.

    Attributes
    ----------
    cells, mixes, beds, days, columns : NamedTuple
        As described there.
    states : States
        Before the first day; moving them changes them.
    """

    cells: Cells
    mixes: Mixes
    beds: Beds
    days: Days
    columns: Columns
    states: States


class Prepared(NamedTuple):
    """A run that is ready to be moved.

    Attributes
    ----------
    inputs : Inputs
        Of the column.
    start : State
        Before the first day, (columns,).
    demand : tuple of Demand
        Of each bed, over the whole record; beds that ask for the same share one.
    windows : ndarray of int, shape (time, starts)
        Days of the record that each start runs through.
    rain, lip : ndarray, shape (time, columns)
        Rain into the beds, and height of the overflow's lip [m]; not to be written to.
    """

    inputs: Inputs
    start: State
    demand: tuple[Demand, ...]
    windows: Index
    rain: Array
    lip: Array


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

    Examples
    --------
    >>> import datetime
    >>> from bedtide import example_bed, read_weather, run_many, sample_weather
    >>> weather = read_weather(sample_weather())
    >>> starts = [datetime.date(2023, 6, 1), datetime.date(2023, 7, 1)]
    >>> run_many([example_bed()], weather, starts, days=14).series.refill.shape
    (14, 2)
    """
    ready = prepared(beds, weather, starts, days=days, start=start, given=given)
    figures, kept, counts = move(*ready.inputs, profile=profile, progress=progress)
    series = Series(*(values.T for values in figures))
    error, flowed = balance_error(series, ready.start, ready.rain)
    check_balance(error, flowed, where=", ".join(dict.fromkeys(bed.name for bed in beds)))
    return Run(
        beds=tuple(beds),
        starts=tuple(starts),
        days=days,
        series=series,
        start=ready.start,
        end=_state(ready.inputs.states, series.mix_water[-1]),
        rain=ready.rain,
        demand=ready.demand,
        windows=ready.windows,
        lip=ready.lip,
        error=error,
        counts=counts,
        cells=ready.inputs.cells,
        layout=ready.inputs.beds.layout,
        profile=kept,
    )


def prepared(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    given: Array | None = None,
) -> Prepared:
    """Everything that a run of :func:`run_many` needs before it is moved, as plain arrays.

    Parameters
    ----------
    beds, weather, starts, days, start, given
        As there.

    Returns
    -------
    Prepared
        Independent of all that is passed in.
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
    if start is None:
        start = _rested(beds, cells, mixes, layout, [lip[windows[0]] for lip in lips])
    rain = [each.rain_in[np.ascontiguousarray(windows.T)] for each in demand]
    # Time runs fastest, as in the figures of the column.
    return Prepared(
        Inputs(
            cells=cells,
            mixes=mixes,
            beds=_beds(beds, layout, lips),
            days=_days(demand, weather),
            columns=columns,
            states=_states(start, cells),
        ),
        start=start,
        demand=tuple(demand[i] for i in own),
        windows=windows,
        rain=np.concatenate([rain[i] for i in own]).T,
        lip=_lip_of_columns(lips, windows),
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
    own = {
        rule: np.stack([due_days(rule, axis[window]) for window in windows.T])
        for rule in dict.fromkeys(bed.watering for bed in beds)
    }
    return np.concatenate([own[bed.watering] for bed in beds])


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
        found = np.zeros((len(demand), demand[0].et0.size, most))
        for row, each in zip(found, demand, strict=True):
            row[:, : each.uptake.shape[1]] = getattr(each, name)
        return found

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


def _lip_of_columns(lips: Sequence[Array], windows: Index) -> Array:
    """Height of the lip on the days of each column (time, columns) [m]; one number where it can."""
    if all((lip == lip[0]).all() for lip in lips):
        one = np.repeat([lip[0] for lip in lips], windows.shape[1])
        return np.broadcast_to(one, (windows.shape[0], one.size))
    return np.concatenate([lip[windows.T] for lip in lips]).T


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
    beds: Sequence[Bed], cells: Cells, mixes: Mixes, layout: Index, lips: Sequence[Array]
) -> State:
    """Water before the first day: the reservoir at its start level, the mix at rest above it.

    `lips` are those of each bed on the first day of each start [m].
    """
    stored = np.empty((len(beds), lips[0].size))
    level = np.empty_like(stored)
    for b, (bed, own) in enumerate(zip(beds, lips, strict=True)):
        different, which = np.unique(own, return_inverse=True)
        cap = capacity(bed, different)
        dead = np.minimum(dead_storage(bed), cap)
        begun = dead + bed.start_level * (cap - dead)
        stored[b], level[b] = begun[which], level_of(begun, bed)[which]
    row = np.repeat(layout, lips[0].size)
    states = at_rest(cells, mixes, row, stored.reshape(-1), level.reshape(-1))
    water = np.where(_real(cells)[row], cells.water[row], 0.0)
    # In order, not in numpy's pairs: the same for a bed whatever longer ones stand beside it.
    return _state(states, np.cumsum(water * states.content, axis=1)[:, -1])


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
