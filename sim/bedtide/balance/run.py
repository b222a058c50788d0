"""Beds and a record of weather made into columns, run, and audited."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.demand import (
    Calendar,
    Demand,
    Index,
    days_of,
    demands_of,
    due_days,
    places_with,
)
from bedtide.bed import (
    Bed,
    capacity,
    dead_storage,
    level_of,
    lip_on,
    lowest_roots,
    plan_area,
    surface_height,
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
from bedtide.constants import BALANCE_LIMIT, BALANCE_SHARE, RAIN_HOURS
from bedtide.errors import BalanceError, RangeError
from bedtide.weather import usual_rain_hours

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]


class State(NamedTuple):
    """All that a run needs to go on from an evening, one row a column."""

    open_water: Array  # (columns,) water in the store [m]
    level: Array  # (columns,) its level [m]
    standing: Array  # (columns,) water on the mix [m]
    step: Array  # (columns,) length of the next step [d]
    content: Array  # (columns, cells) water content [m3 m-3]
    place: Array  # (columns, cells) place on the nodes of suction [1]
    mix_water: Array  # (columns,) water in the mix [m]

    def columns(self, which: slice | Index) -> State:
        """The same of some columns."""
        return State(*(values[which] for values in self))


class Series(NamedTuple):
    """What moved on every day, positive as the name says, and its evening, (time, columns)."""

    open_water: Array  # stores [m]
    mix_water: Array  # [m]
    standing_water: Array  # [m]
    refill: Array  # [m]
    rise: Array  # [m]
    transpiration: Array  # [m]
    evaporation: Array  # [m]
    overflow: Array  # [m]
    rim_spill: Array  # [m]
    level: Array  # height of the free water above the floor [m]
    surface_suction: Array  # [m]
    air_root_zone: Array  # air-filled porosity [m3 m-3]
    air_top: Array  # of the top layer [m3 m-3]
    aerated_depth: Array  # depth down to which the air share is above the limit [m]


assert Series._fields == FIGURES


@dataclass(frozen=True, eq=False)
class Run:
    """Many beds stepped together: column ``b * len(starts) + s`` is bed ``b`` from start ``s``."""

    beds: tuple[Bed, ...]
    starts: tuple[datetime.date, ...]  # first days
    days: int  # of each column [d]
    series: Series
    start: State  # before the first day
    end: State  # after the last
    rain: Array  # (time, columns) rain into the beds [m]
    demand: tuple[Demand, ...]  # of each bed, over the whole record; the same for like beds
    windows: Index  # (time, starts) days of the record that each start runs through
    lip: Array  # (time, columns) height of the overflow's lip [m]; not to be written to
    error: Array  # (columns,) largest error of the water balance [m]
    counts: Array  # (columns, 4) steps, passes, safe steps, and days with one [1]
    cells: Cells  # a row a layout
    layout: Index  # (beds,) which row is each bed's
    profile: Array  # (columns, time, cells) water content on every evening, if wanted [m3 m-3]


def run_many(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Sequence[datetime.date],
    *,
    days: int,
    start: State | None = None,
    given: Array | None = None,
    due: NDArray[np.bool_] | None = None,
    demand: Sequence[Demand] | None = None,
    profile: bool = False,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> Run:
    """Every bed from every start, all stepped together.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    weather : Dataset, dims (time,) or (place, time)
        One record for all; or that of each place, as
        :func:`bedtide.weather.ready_places` gives it, with all the days that are run.
    starts : sequence of date
        First days; each needs `days` days of the record [d].
    days : int
        Length of each run [d].
    start : State, optional
        Water before the first day of each column; where left out, the reservoir at the bed's
        start level and the mix at rest above it.
    given : ndarray of float, shape (time, columns), optional
        Water put in besides what the watering rule asks for, or taken out where negative, but
        never more than is there [m].
    due : ndarray of bool, shape (columns, time), optional
        Days on which the keeper may fill, where not those of the rule.
    demand : sequence of Demand, optional
        What the days of the record bring to each bed and ask of it, where that is not what its
        description says.
    profile : bool, default False
        Whether to keep the water content by height.
    threads : int, optional
        How many to use; one for each core of the process where left out [1].
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Run
        The same numbers for a bed, or at a place, whatever else is run beside it, to the last
        bit. Of several places its beds are the first at every place, then the second at every
        place, and so on.

    Raises
    ------
    RangeError
        If a start or its days are not in the record, or in that of a place.
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
    axis, several = days_of(weather), len(starts)
    windows = _windows(axis, starts, days)
    if "place" in weather.dims:
        weather = weather.transpose("place", "time", ...)
        _refuse_lacking(weather, starts, days)
    each = demands_of(beds, weather) if demand is None else demand
    beds = [bed for bed in beds for _ in range(weather.sizes.get("place", 1))]
    cells, mixes, layout = layouts_of(beds)
    lip, lip_of_columns = _lips(beds, axis, windows)
    different = list({id(one): one for one in each}.values())
    number = {id(one): at for at, one in enumerate(different)}
    own = [number[id(one)] for one in each]
    if start is None:
        start = _rested(beds, cells, mixes, layout, lip_of_columns[0].reshape(len(beds), several))
    states = _states(start, cells)
    hours, of_place = _hours(weather)
    figures, kept, counts = move(
        cells,
        mixes,
        _beds(beds, layout, lip),
        _days(different, hours),
        Columns(
            bed=np.repeat(np.arange(len(beds)), several),
            days=np.repeat(np.array(own, dtype=np.int64), several),
            start=np.tile(windows[0], len(beds)),
            hours=np.repeat(np.resize(of_place, len(beds)), several),
            due=_due(beds, axis, windows) if due is None else due,
            given=np.zeros((0, 0)) if given is None else np.ascontiguousarray(given.T),
        ),
        states,
        profile=profile,
        threads=threads,
        progress=progress,
    )
    rain = on_days(each, windows, lambda one: one.rain_in)
    series = Series(*(values.T for values in figures))
    error, flowed = balance_error(series, start, rain)
    check_balance(error, flowed, where=", ".join(dict.fromkeys(bed.name for bed in beds)))
    return Run(
        beds=tuple(beds),
        starts=tuple(starts),
        days=days,
        series=series,
        start=start,
        end=_state(states, series.mix_water[-1]),
        rain=rain,
        demand=tuple(each),
        windows=windows,
        lip=lip_of_columns,
        error=error,
        counts=counts,
        cells=cells,
        layout=layout,
        profile=kept,
    )


def on_days(demand: Sequence[Demand], windows: Index, figure: Callable[[Demand], Array]) -> Array:
    """A figure of the demand of each bed, (time,), on the days of each column, (time, columns).

    Beds that share a demand share what is worked out of it; time runs fastest, as in the series.
    """
    days = np.ascontiguousarray(windows.T)
    known = {id(each): figure(each)[days] for each in demand}
    return np.concatenate([known[id(each)] for each in demand]).T


def stored(bed: Bed, lip: Array, share: float) -> Array:
    """Open water of a bed with a share of what the mix can reach, and its level.

    Parameters
    ----------
    bed : Bed
        Its reservoir.
    lip : ndarray, shape (lips,)
        Heights of the lip, infinite without one [m].
    share : float
        Of the water between what is out of reach and the lip [1].

    Returns
    -------
    ndarray of float, shape (2, lips)
        Water in the store and the height to which it stands [m].
    """
    different, which = np.unique(lip, return_inverse=True)
    full = capacity(bed, different)
    dead = np.minimum(dead_storage(bed), full)
    water = dead + share * (full - dead)
    return np.stack([water, level_of(water, bed)])[:, which]


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
    windows: Index = first[None, :] + np.arange(days)[:, None]
    return windows


def _refuse_lacking(weather: xr.Dataset, starts: Sequence[datetime.date], days: int) -> None:
    """Refuse a place whose record has not all the days that are run."""
    first, last = min(starts), max(starts) + datetime.timedelta(days=days - 1)
    fit = places_with(weather, first, (last - first).days + 1)
    lacking = np.setdiff1d(np.arange(weather.sizes["place"]), fit)
    if lacking.size:
        raise RangeError(
            f"place {weather['place'].values[lacking[0]]}",
            f"it has not all the days from {first} to {last}",
            expected="places that have all days that are run",
        )


def _due(beds: Sequence[Bed], axis: Calendar, windows: Index) -> NDArray[np.bool_]:
    """Days on which somebody may fill, (columns, time)."""
    own = {
        rule: np.stack([due_days(rule, axis[window]) for window in windows.T])
        for rule in dict.fromkeys(bed.watering for bed in beds)
    }
    return np.concatenate([own[bed.watering] for bed in beds])


def _days(demand: Sequence[Demand], hours: Array) -> Days:
    """All demands as one set of arrays; beds with fewer plantings get empty ones."""
    most = max(each.uptake.shape[1] for each in demand)

    def padded(name: str) -> Array:
        found = np.zeros((len(demand), demand[0].et0.size, most))
        for row, each in zip(found, demand, strict=True):
            row[:, : each.uptake.shape[1]] = getattr(each, name)
        return found

    return Days(
        rain=np.stack([each.rain_in for each in demand]),
        hours=hours,
        begin=RAIN_HOURS[0],
        end=RAIN_HOURS[1],
        energy=np.stack([each.energy for each in demand]),
        demand=padded("uptake"),
        depth=padded("depth"),
        h3=padded("h3"),
        h4=padded("h4"),
        zone=np.stack([each.root_depth for each in demand]),
    )


def _hours(weather: xr.Dataset) -> tuple[Array, Index]:
    """Share of each hour in the rain of each day, (records, time, 24), and which each place has.

    A place of none has -1: one without hours beside others is not taken for one that has them.
    """
    if "rain_hours" not in weather:
        return np.zeros((0, 0, 24)), np.array([-1])
    axis = days_of(weather)
    rain = weather["rain"].transpose(..., "time").to_numpy().reshape(-1, axis.size)
    every = weather["rain_hours"].transpose(..., "time", "hour").to_numpy()
    every = every.reshape(-1, axis.size, 24).astype(np.float64)
    known = ~np.isnan(every).all(axis=(1, 2))
    hours, rainy = every[known], rain[known] > 0.0
    total = hours.sum(axis=2)
    wrong = rainy & ~((np.abs(total - 1.0) < 1e-9) | (total == 0.0))
    if wrong.any():
        at = tuple(np.argwhere(wrong)[0])
        raise RangeError(
            "weather, rain_hours",
            f"the hours of {axis[at[1]]} add to {total[at]:g}",
            expected="shares of the day's rain that add to 1, or zeros where they are not known",
        )
    unknown = rainy & (total == 0.0)
    hours[unknown] = usual_rain_hours(int(unknown.sum()))
    return hours, np.where(known, np.cumsum(known) - 1, -1)


def _lips(beds: Sequence[Bed], axis: Calendar, windows: Index) -> tuple[Array, Array]:
    """Height of the lip of each bed over the record, and of each column on its own days.

    (beds, time), or (beds, 1) where none ever moves, and (time, columns) [m].
    """
    lip = np.stack([lip_on(axis, bed.overflow) for bed in beds])
    if (lip != lip[:, :1]).any():
        return lip, np.concatenate([own[windows.T] for own in lip]).T
    one = np.repeat(lip[:, 0], windows.shape[1])
    return np.ascontiguousarray(lip[:, :1]), np.broadcast_to(one, (windows.shape[0], one.size))


def _beds(beds: Sequence[Bed], layout: Index, lip: Array) -> Beds:
    rules = [(bed.watering.when, bed.watering.share) for bed in beds]
    return Beds(
        layout=layout,
        surface=np.array([surface_height(bed) for bed in beds]),
        freeboard=np.array([bed.box.freeboard for bed in beds]),
        roots_from=np.array([lowest_roots(bed) for bed in beds]),
        dead=np.array([dead_storage(bed) for bed in beds]),
        lip=lip,
        below=np.array([share if when == "below share" else np.inf for when, share in rules]),
        volume=np.array([(bed.watering.volume or np.inf) / plan_area(bed) for bed in beds]),
    )


def _rested(beds: Sequence[Bed], cells: Cells, mixes: Mixes, layout: Index, lips: Array) -> State:
    """Water before the first day: the reservoir at its start level, the mix at rest above it.

    `lips` are those on the first days (beds, starts) [m].
    """
    each = [stored(bed, own, bed.start_level) for bed, own in zip(beds, lips, strict=True)]
    row = np.repeat(layout, lips.shape[1])
    states = at_rest(cells, mixes, row, *np.concatenate(each, axis=1))
    real = np.arange(cells.centre.shape[1]) < cells.number[row, None]  # not padding
    water = np.where(real, cells.water[row], 0.0)
    # In order, not in numpy's pairs: the same for a bed whatever longer ones stand beside it.
    return _state(states, np.cumsum(water * states.content, axis=1)[:, -1])


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


# --- the water account, closed from the series alone --------------------------------------------


def balance_error(series: Series, start: State, rain: Array) -> tuple[Array, Array]:
    """Water that a run made out of nothing, and all that flowed (columns,) [m].

    The first is the largest over the days of: what is stored, less what was stored at the start,
    less what came in, plus what left; of the whole bed and of the reservoir alone.
    """
    begun = start.open_water + start.mix_water + start.standing
    stored = series.open_water + series.mix_water + series.standing_water
    came = np.cumsum(rain + series.refill, axis=0)
    left = np.cumsum(
        series.transpiration + series.evaporation + series.overflow + series.rim_spill, axis=0
    )
    whole = np.abs(stored - begun - came + left)
    reservoir = np.cumsum(series.refill - series.rise - series.overflow, axis=0)
    part = np.abs(series.open_water - start.open_water - reservoir)
    return np.maximum(whole, part).max(axis=0), came[-1] + left[-1]


def check_balance(error: Array, flowed: Array, *, where: str) -> None:
    """Refuse a run that made or lost water.

    That is over a millionth of a millimetre, and over a part in 10^12 of what flowed, which only
    beds see that take hundreds of metres of water; or not a number.
    """
    bad = ~(error <= np.maximum(BALANCE_LIMIT, BALANCE_SHARE * flowed))
    if bad.any():
        worst = float(np.max(np.where(np.isnan(error), np.inf, error)))
        raise BalanceError(
            where,
            f"the water account of {int(bad.sum())} of {error.size} runs is off by up to "
            f"{worst * 1000:.3g} mm",
            expected="no more than 1e-6 mm",
            hint="This is a fault of bedtide, not of your files; please report it with them.",
        )
