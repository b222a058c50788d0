"""One bed through its weather as a Dataset: the public face of the model."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.balance.dataset import run_dataset
from bedtide.balance.run import Array, Run, days_of, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    capacity,
    crown_height,
    dead_storage,
    plan_area,
    surface_height,
)
from bedtide.errors import RangeError

if TYPE_CHECKING:
    import xarray as xr


def run_season(
    bed: Bed,
    weather: xr.Dataset,
    *,
    start: datetime.date | str | None = None,
    end: datetime.date | str | None = None,
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
    start, end : date or str, optional
        First and last day, both included, such as ``"2027-04-01"``; the whole record where left
        out [d].

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
    axis = days_of(weather)
    first = axis[0].item() if start is None else _date(start, "start")
    last = axis[-1].item() if end is None else _date(end, "end")
    if last < first:
        raise RangeError("end", f"{last} is before the start, {first}")
    if first < axis[0].item() or last > axis[-1].item():
        raise RangeError(
            "start",
            f"the days from {first} to {last} are not all in the weather record",
            expected=f"days from {axis[0]} to {axis[-1]}",
        )
    # The whole record, because a crop's stages adjust to their own weather, cut or not.
    run = run_many([bed], weather, [first], days=(last - first).days + 1, profile=True)
    return season_dataset(run, weather)


def _date(day: datetime.date | str, where: str) -> datetime.date:
    """Day from a date or its text; a time of day is dropped."""
    try:
        whole = datetime.date.fromisoformat(str(day)[:10])
    except ValueError:
        raise RangeError(
            where, f"{day!r} is not a day of the calendar", expected='"2027-04-01" or a date'
        ) from None
    return whole


def season_dataset(run: Run, weather: xr.Dataset, *, column: int = 0) -> xr.Dataset:
    """One column of a run as a Dataset of days.

    Parameters
    ----------
    run : Run
        The run.
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
    values["evaporation_potential"] = (time, demand.energy[window])
    for name, value in scalars_of(run, b, column).items():
        values[name] = ((), value)
    coords: dict[str, Any] = {"time": weather["time"].to_numpy()[window]}
    if run.profile.size:
        count = int(run.cells.number[run.layout[b]])
        values["water_content"] = (("time", "height"), run.profile[column, :, :count])
        coords["height"] = run.cells.centre[run.layout[b], :count]
    return run_dataset(
        values,
        coords=coords,
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
        The run.

    Returns
    -------
    dict of ndarray
        In the units of the glossary.
    """
    series, starts = run.series, len(run.starts)
    lip = run.lip if (run.lip != run.lip[0]).any() else run.lip[:1]
    cap = np.empty_like(lip)
    for b, bed in enumerate(run.beds):
        columns = slice(b * starts, (b + 1) * starts)
        cap[:, columns] = capacity(bed, lip[:, columns])
    surface, dead = (
        np.repeat([measure(bed) for bed in run.beds], starts)
        for measure in (surface_height, dead_storage)
    )
    # Beds that share a demand share what was worked out of it; time runs fastest, as in the series.
    asked = {
        id(each): each.uptake.sum(axis=1)[np.ascontiguousarray(run.windows.T)]
        for each in run.demand
    }
    wanted = np.concatenate([asked[id(each)] for each in run.demand]).T
    values = {
        "rain_in": run.rain,
        "transpiration_potential": wanted,
        "lip_height": np.broadcast_to(np.where(np.isfinite(lip), lip, surface), run.lip.shape),
        "capacity": np.broadcast_to(cap, run.lip.shape),
        "store_share": share_of_store(series.open_water, cap, dead),
        "uptake_factor": np.divide(
            series.transpiration, wanted, out=np.ones_like(wanted), where=wanted > 0.0
        ),
    }
    return values | series._asdict()


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
        "start_open_water": float(start.open_water[column]),
        "start_mix_water": float(start.mix_water[column]),
        "start_standing_water": float(start.standing[column]),
        "safe_steps": float(run.counts[column, 2]),
        "safe_step_days": float(run.counts[column, 3]),
    }


def share_of_store(open_water: Array, cap: Array, dead: Array) -> Array:
    """How full the store is, of what the mix can reach.

    Parameters
    ----------
    open_water, cap : ndarray, shape (...)
        Open water, and the most that the overflow lets stand [m].
    dead : ndarray or float, shape (...)
        Open water out of reach of the mix [m].

    Returns
    -------
    ndarray, shape (...)
        Share [1]; zero where nothing can be reached.
    """
    room = np.maximum(cap - dead, 1e-9)
    return np.clip((open_water - dead) / room, 0.0, 1.0)
