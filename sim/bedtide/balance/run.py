"""From a bed and a record of weather to a Dataset: the public way to run the model."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.audit import balance_error, check_balance
from bedtide.balance.dataset import run_dataset
from bedtide.balance.day import LOWER, OPEN, UPPER, State
from bedtide.balance.demand import Demand, demand_of
from bedtide.balance.profile_readings import ProfileReadings, profile_readings
from bedtide.balance.simulate import Array, Forcing, Index, Series, share_of_store, simulate
from bedtide.balance.watering import rules_of
from bedtide.bed import (
    Bed,
    bed_text,
    capacity,
    crown_height,
    dead_storage,
    lip_on,
    plan_area,
    surface_height,
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


def run_season(
    bed: Bed,
    weather: xr.Dataset,
    *,
    start: datetime.date | None = None,
    end: datetime.date | None = None,
) -> xr.Dataset:
    """One bed through a stretch of its weather, day by day.

    Answers: what the bed holds, takes and loses on every day. The reservoir starts at the
    bed's start level, the mix at rest above it.

    Parameters
    ----------
    bed : Bed
        As :func:`bedtide.bed.read_bed` gives it.
    weather : Dataset, dims (time,)
        As :func:`bedtide.weather.read_weather` gives it.
    start, end : date, optional
        First and last day, both included; the whole record where left out [d].

    Returns
    -------
    Dataset, dims (time,)
        Variables and units as in the glossary, ``docs/terms.md``. Stores are those at the end
        of the day; those before the first day stand in the ``start_`` variables.

    Raises
    ------
    RangeError
        If the days are not in the record.
    BalanceError
        If the run made or lost more than a millionth of a millimetre of water.

    Examples
    --------
    >>> from bedtide import read_weather, run_season, example_bed, sample_weather
    >>> season = run_season(example_bed(), read_weather(sample_weather("brasaluz")))
    >>> bool(season.attrs["balance_error"] < 1e-9)
    True
    """
    axis = _axis(weather)
    first = axis[0].item() if start is None else start
    last = axis[-1].item() if end is None else end
    if last < first:
        raise RangeError("end", f"{last} is before the start, {first}")
    span = weather.sel(time=slice(str(first), str(last)))
    if span.sizes["time"] != (last - first).days + 1:
        raise RangeError(
            "start",
            f"the days from {first} to {last} are not all in the weather record",
            expected=f"days from {axis[0]} to {axis[-1]}",
        )
    return season_dataset(run_many([bed], span, [first], days=span.sizes["time"]), span)


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
    axis = _axis(weather)
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


def season_dataset(run: Run, weather: xr.Dataset, *, column: int = 0) -> xr.Dataset:
    """One column of a run as a Dataset of days.

    Parameters
    ----------
    run : Run
        With its readings.
    weather : Dataset, dims (time,)
        The record that was run.
    column : int, default 0
        Which bed and start [1].

    Returns
    -------
    Dataset, dims (time,)
        As :func:`run_season` gives it.
    """
    b, s = divmod(column, len(run.starts))
    bed, demand, window = run.beds[b], run.demand[b], run.windows[:, s]
    time = ("time",)
    values: dict[str, tuple[Sequence[str], Any]] = {
        name: (time, array[:, column]) for name, array in variables_of(run).items()
    }
    for name in ("rain", "et0", "kcb", "cover", "root_depth"):
        values[name] = (time, getattr(demand, name)[window])
    for name, value in scalars_of(run, b, column).items():
        values[name] = ((), value)
    return run_dataset(
        values,
        coords={"time": weather["time"].to_numpy()[window]},
        attrs={
            "title": bed.name,
            "bed_description": bed_text(bed),
            "assumptions": list(weather.attrs.get("assumptions", [])),
            "balance_error": float(run.error[column]),
            "weather_place": str(weather.attrs.get("place", "")),
            "weather_source": str(weather.attrs.get("source", "")),
        },
    )


def variables_of(run: Run) -> dict[str, Array]:
    """Every daily variable of a run, (time, columns), by its name in the glossary.

    Parameters
    ----------
    run : Run
        With or without its readings.

    Returns
    -------
    dict of ndarray
        In the units of the glossary.
    """
    series = run.series
    open_water = series.stores[:, OPEN]
    cap = np.empty_like(run.lip)
    wanted = np.empty_like(run.lip)
    dead = np.empty_like(run.lip)
    for b, bed in enumerate(run.beds):
        columns = slice(b * len(run.starts), (b + 1) * len(run.starts))
        cap[:, columns] = capacity(bed, run.lip[:, columns])
        dead[:, columns] = dead_storage(bed)
        wanted[:, columns] = run.demand[b].forcing.transpiration[:, 0][run.windows]
    surface = np.repeat([surface_height(bed) for bed in run.beds], len(run.starts))
    values = {
        "rain_in": np.asarray(run.rain),
        "refill": series.refill,
        "transpiration_potential": wanted,
        "transpiration": series.transpiration,
        "evaporation": series.evaporation,
        "rise": series.rise,
        "overflow": series.overflow,
        "rim_spill": series.rim_spill,
        "open_water": open_water,
        "mix_water": series.stores[:, LOWER] + series.stores[:, UPPER],
        "standing_water": series.standing,
        "surface_depletion": series.depletion,
        "lip_height": np.where(np.isfinite(run.lip), run.lip, surface),
        "capacity": cap,
        "store_share": share_of_store(open_water, cap, dead),
        "uptake_factor": np.divide(
            series.transpiration, wanted, out=np.ones_like(wanted), where=wanted > 0.0
        ),
    }
    if run.readings is not None:
        values |= run.readings._asdict()
    return values


def scalars_of(run: Run, b: int, column: int) -> dict[str, float]:
    """Measures of one bed of a run and its stores before the first day.

    Parameters
    ----------
    run : Run
        The run.
    b, column : int
        Number of the bed, and of its column [1].

    Returns
    -------
    dict of float
        In the units of the glossary.
    """
    bed, start = run.beds[b], run.start
    return {
        "plan_area": plan_area(bed),
        "dead_storage": dead_storage(bed),
        "surface_height": surface_height(bed),
        "crown_height": crown_height(bed),
        "start_open_water": float(start.stores[OPEN, column]),
        "start_mix_water": float(start.stores[LOWER:, column].sum()),
        "start_standing_water": float(start.standing[column]),
    }


def _axis(weather: xr.Dataset) -> Days:
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
