"""A run as a Dataset: one bed through its weather, the public face of the model."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide import __version__
from bedtide.balance.run import Array, Run, days_of, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    capacity,
    crown_height,
    dead_storage,
    lowest_roots,
    plan_area,
    surface_height,
)
from bedtide.constants import AIRY_SHARE, LEAST_AIRY
from bedtide.crop import EXPOSURES
from bedtide.errors import RangeError
from bedtide.terms import attributes, terms
from bedtide.weather import doubts

if TYPE_CHECKING:
    import xarray as xr

CONVENTIONS = "CF-1.8"
_LONE = (
    f"The bed stands alone in sun and wind, where plants use {EXPOSURES['lone bed']:g} times what "
    "they would in a field: set site.exposure if yours does not."
)


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
    """One column of a run, a bed from a start, as :func:`run_season` gives it."""
    b, s = divmod(column, len(run.starts))
    bed, demand, window = run.beds[b], run.demand[b], run.windows[:, s]
    time = ("time",)
    values: dict[str, tuple[Sequence[str], Any]] = {
        name: (time, array[:, column]) for name, array in variables_of(run).items()
    }
    for name in ("rain", "et0", "kcb", "cover"):
        values[name] = (time, getattr(demand, name)[window])
    reach = surface_height(bed) - lowest_roots(bed)  # what a deep root finds here
    values["root_depth"] = (time, np.minimum(demand.root_depth[window], reach))
    values["evaporation_potential"] = (time, demand.energy[window])
    for name, value in _scalars_of(run, b, column).items():
        values[name] = ((), value)
    days = weather["time"].to_numpy()[window]
    coords: dict[str, Any] = {"time": days}
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
            "balance_error": float(run.error[column]),
            "overflow": bed.overflow.state,
            **rests_on([bed], weather, days),
        },
    )


def rests_on(
    beds: Sequence[Bed], weather: xr.Dataset, days: NDArray[np.datetime64] | None = None
) -> dict[str, Any]:
    """What an answer rests on: what was assumed, and the weather with its doubts.

    Parameters
    ----------
    beds : sequence of Bed
        The beds of the answer.
    weather : Dataset
        As :func:`bedtide.weather.read_weather` gives it.
    days : array of datetime64, shape (time,), optional
        The days that were run, where these are not the whole record.

    Returns
    -------
    dict
        Attributes of the answer's Dataset.
    """
    assumed = list(weather.attrs.get("assumptions", []))
    if any(bed.plantings and bed.site.exposure == EXPOSURES["lone bed"] for bed in beds):
        assumed.append(_LONE)
    assumed += dict.fromkeys(bed.fitted for bed in beds if bed.fitted)
    return {
        "assumptions": assumed,
        "weather_place": str(weather.attrs.get("place", "")),
        "weather_source": str(weather.attrs.get("source", "")),
        "weather_doubts": doubts(weather, None if days is None else days.astype("datetime64[D]")),
    }


def variables_of(run: Run) -> dict[str, Array]:
    """Every daily variable of a run (time, columns), by its name and in units of the glossary."""
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
    needed = [
        air_depth_needed(demand.root_depth, surface_height(bed) - lowest_roots(bed))[run.windows.T]
        for demand, bed in zip(run.demand, run.beds, strict=True)
    ]
    values = {
        "rain_in": run.rain,
        "transpiration_potential": wanted,
        "air_depth_needed": np.concatenate(needed).T,
        "lip_height": np.broadcast_to(np.where(np.isfinite(lip), lip, surface), run.lip.shape),
        "capacity": np.broadcast_to(cap, run.lip.shape),
        "store_share": _share_of_store(series.open_water, cap, dead),
        "uptake_factor": np.divide(
            series.transpiration, wanted, out=np.ones_like(wanted), where=wanted > 0.0
        ),
    }
    return values | series._asdict()


def air_depth_needed(root_depth: ArrayLike, reach: float) -> Array:
    r"""Depth of mix from the surface down that must have air for these roots.

    Answers: how much of the bed must stay out of the wet, whatever the mean says.

    Parameters
    ----------
    root_depth : array_like of float, shape (...)
        Depth to which the plants root where nothing stops them [m]; zero without plants.
    reach : float
        Depth to which they can root in this bed [m].

    Returns
    -------
    ndarray of float, shape (...)
        That depth [m], zero without plants.

    Notes
    -----
    .. math:: \min(Z, \max(0.15, \tfrac12 \min(Z, Z_{bed})))

    :math:`Z` `root_depth`, :math:`Z_{bed}` `reach`, in metres: half of the depth that roots reach
    in the bed, 15 cm at the least, but no more than the plants root anywhere. A bed too shallow for
    them is no excuse. Our judgement, in the range of the least depths of soil that growers state
    for vegetables in containers, 15 to 30 cm (common practice, no source).

    Examples
    --------
    >>> air_depth_needed([0.0, 0.10, 0.20, 0.70], 0.36)
    array([0.  , 0.1 , 0.15, 0.18])
    """
    depth = np.asarray(root_depth, dtype=np.float64)
    least = np.maximum(LEAST_AIRY, AIRY_SHARE * np.minimum(depth, reach))
    return np.asarray(np.minimum(depth, least))


def _scalars_of(run: Run, b: int, column: int) -> dict[str, float]:
    """Measures of one bed of a run and its stores before the first day, as in the glossary."""
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


def _share_of_store(open_water: Array, cap: Array, dead: Array) -> Array:
    """How full the store is of what the mix can reach [1]; zero where it can reach nothing."""
    room = np.maximum(cap - dead, 1e-9)
    return np.clip((open_water - dead) / room, 0.0, 1.0)


def run_dataset(
    variables: Mapping[str, tuple[Sequence[str], Any]],
    *,
    coords: Mapping[str, Any],
    attrs: Mapping[str, Any],
) -> xr.Dataset:
    """Dataset of (dims, values) by name of the glossary, with its units and names, set last."""
    import xarray as xr

    dataset = xr.Dataset(
        {
            name: (tuple(dims), np.asarray(values), attributes(name))
            for name, (dims, values) in variables.items()
        },
        coords=dict(coords),
    )
    for name in dataset.coords:
        if name in terms():
            dataset[name].attrs = attributes(str(name))
    dataset.attrs = {"Conventions": CONVENTIONS, "bedtide_version": __version__, **attrs}
    return dataset


class Layers(NamedTuple):
    """How slices of equal height lie over the cells of a bed."""

    faces: Array  # (slices + 1,) heights of their faces above the floor, rising [m]
    share: Array  # (slices, cells) part of the mix of a slice that lies in each cell [1]
    porosity: Array  # (cells,) water content of the saturated cells [m3 m-3]


def air_layers(run: Run, number: int, slices: int) -> Layers:
    """Slices of one bed of a run, from the foot of the mix to its surface."""
    bed, row = run.beds[number], int(run.layout[number])
    count = int(run.cells.number[row])
    centre, height = run.cells.centre[row, :count], run.cells.height[row, :count]
    water = run.cells.water[row, :count]
    top, foot = centre + 0.5 * height, centre - 0.5 * height
    faces = np.linspace(foot[-1], top[0], slices + 1)
    inside = np.minimum(top, faces[1:, None]) - np.maximum(foot, faces[:-1, None])
    held = np.clip(inside, 0.0, None) / height * water
    below = centre < crown_height(bed)
    porosity = np.where(below, bed.wick_mix.theta_s, bed.top_mix.theta_s)
    return Layers(faces, held / held.sum(axis=1, keepdims=True), porosity)


def air_by_height(content: Array, layers: Layers) -> Array:
    """Air-filled porosity of slices.

    Parameters
    ----------
    content : ndarray, shape (..., cells)
        Water content of the cells [m3 m-3]; padding beyond the bed's cells is dropped.
    layers : Layers
        The slices.

    Returns
    -------
    ndarray, shape (..., slices)
        Mean air-filled porosity of each [m3 m-3].
    """
    own = content[..., : layers.porosity.size]
    return np.asarray(np.maximum(layers.porosity - own, 0.0) @ layers.share.T)
