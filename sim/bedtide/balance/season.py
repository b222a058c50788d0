"""A run as a Dataset: one bed through its weather, the public face of the model."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide import __version__
from bedtide.balance.demand import ASKED, days_of, places_with
from bedtide.balance.run import Array, Run, on_days, run_many
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
from bedtide.chunks import by_chunk, on_dask
from bedtide.constants import AIRY_SHARE, LEAST_AIRY
from bedtide.crop import EXPOSURES
from bedtide.errors import RangeError
from bedtide.tables import attributes, terms
from bedtide.weather import doubts

if TYPE_CHECKING:
    import xarray as xr

CONVENTIONS = "CF-1.8"
_LONE = (
    f"The bed stands alone in sun and wind, where plants use {EXPOSURES['lone bed']:g} times what "
    "they would in a field: set site.exposure if yours does not."
)
_ELSEWHERE = {"latitude": (1.0, "{:.1f} degrees"), "elevation": (300.0, "{:.0f} m above the sea")}
"""By how much the weather's place may lie off the bed's without a word [degrees, m], and how it is
told; ours: 1 degree is 111 km, 300 m are 2 degrees of temperature."""


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
    weather : Dataset, dims (time,) or (place, time)
        As :func:`bedtide.weather.read_weather` or :func:`bedtide.weather.read_places` gives it.
    start, end : date or str, optional
        First and last day, both included, such as ``"2027-04-01"``; the whole record where left
        out [d].

    Returns
    -------
    Dataset, dims (time,) or (place, time)
        Variables and units as in the glossary, ``docs/terms.md``. Stores are those at the end
        of the day; those before the first day stand in the ``start_`` variables. NaN at a place
        that lacks any of the days. Of weather on dask every chunk of places is run when it is
        asked for, each on one thread; any place has the numbers that it has alone.

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
    days = (last - first).days + 1
    if on_dask(weather):  # whose workers are as many as there are cores
        return by_chunk(season_of_places, weather, bed=bed, first=first, days=days, threads=1)
    if "place" in weather.dims:
        return season_of_places(weather, bed=bed, first=first, days=days)
    # The whole record, because a crop's stages adjust to their own weather, cut or not.
    run = run_many([bed], weather, [first], days=days, profile=True)
    return season_dataset(run, weather)


def season_of_places(
    weather: xr.Dataset,
    *,
    bed: Bed,
    first: datetime.date,
    days: int,
    threads: int | None = None,
) -> xr.Dataset:
    """One bed at all places (place, time); NaN where a place lacks any of the days."""
    import xarray as xr

    weather = weather.transpose("place", "time", ...)
    count, fit = weather.sizes["place"], places_with(weather, first, days)
    ran = weather.isel(place=fit if fit.size else [0])
    if not fit.size:  # to see what comes back
        ran = ran.assign({name: xr.zeros_like(ran[name]) for name in ASKED})
    run = run_many([bed], ran, [first], days=days, profile=True, threads=threads)
    own = readable(run, ran).isel(bed=0, year=0).drop_vars(weather["place"].coords)
    own = _described(own.assign(balance_error=("place", run.error)), run, slice(None), weather)
    own = own.isel(place=slice(fit.size)).assign_coords(place=fit).reindex(place=np.arange(count))
    return own.drop_vars("place").assign_coords(weather["place"].coords)


def _date(day: datetime.date | str, where: str) -> datetime.date:
    """Day from a date or its text; a time of day is dropped."""
    try:
        return datetime.date.fromisoformat(str(day)[:10])
    except ValueError:
        expected = '"2027-04-01" or a date'
        raise RangeError(
            where, f"{day!r} is not a day of the calendar", expected=expected
        ) from None


def season_dataset(run: Run, weather: xr.Dataset, *, column: int = 0) -> xr.Dataset:
    """One column of a run, a bed from a start, as :func:`run_season` gives it."""
    every = readable(run, weather)
    columns = every["start_open_water"]
    at = np.unravel_index(column, columns.shape)
    own = every.isel(dict(zip(columns.dims, at, strict=True)), drop=True)
    days = weather["time"].to_numpy()[run.windows[:, at[-1]]]
    error = {"balance_error": float(run.error[column])}
    return _described(own.assign_coords(time=days), run, column, weather).assign_attrs(error)


def _described(
    season: xr.Dataset, run: Run, columns: int | slice, weather: xr.Dataset
) -> xr.Dataset:
    """Columns of one bed with their profile, its description and what it rests on."""
    number = columns // len(run.starts) if isinstance(columns, int) else 0
    bed, row = run.beds[number], int(run.layout[number])
    if run.profile.size:
        cells = int(run.cells.number[row])
        content = ((*season["level"].dims, "height"), run.profile[columns, :, :cells])
        season = season.assign(water_content=content)
        season = season.assign_coords(height=run.cells.centre[row, :cells])
    return run_dataset(
        season,
        attrs={
            "title": bed.name,
            "bed_description": bed_text(bed),
            "overflow": bed.overflow.state,
            **rests_on([bed], weather, season["time"].to_numpy()),
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
    assumed += dict.fromkeys(line for bed in beds for line in _elsewhere(bed, weather))
    return {
        "assumptions": assumed,
        "weather_place": str(weather.attrs.get("place", "")),
        "weather_source": str(weather.attrs.get("source", "")),
        "weather_doubts": doubts(weather, None if days is None else days.astype("datetime64[D]")),
    }


def _elsewhere(bed: Bed, weather: xr.Dataset) -> list[str]:
    """That weather is of a place unlike the bed's own, where both are known."""
    lines = []
    for name, (most, told) in _ELSEWHERE.items():
        own, measured = getattr(bed.site, name), weather.attrs.get(name)
        if own is not None and measured is not None and abs(own - measured) > most:
            stands, was = told.format(own), told.format(float(measured))
            lines.append(f"The bed stands at {stands}, but its weather was measured at {was}.")
    return lines


def variables_of(run: Run) -> dict[str, Array]:
    """Every daily variable of a run (time, columns), by its name and in units of the glossary."""
    series, starts = run.series, len(run.starts)
    lip = run.lip if (run.lip != run.lip[0]).any() else run.lip[:1]
    cap = np.empty_like(lip)
    for b, bed in enumerate(run.beds):
        columns = slice(b * starts, (b + 1) * starts)
        cap[:, columns] = capacity(bed, lip[:, columns])
    surface, lowest, dead = (
        np.repeat([measure(bed) for bed in run.beds], starts)
        for measure in (surface_height, lowest_roots, dead_storage)
    )
    figures = {name: attrgetter(name) for name in ("rain", "et0", "kcb", "cover", "root_depth")}
    figures["evaporation_potential"] = attrgetter("energy")
    asked = {name: on_days(run.demand, run.windows, each) for name, each in figures.items()}
    wanted = on_days(run.demand, run.windows, lambda each: each.uptake.sum(axis=1))
    reach = surface - lowest
    values = {
        "rain_in": run.rain,
        "transpiration_potential": wanted,
        "air_depth_needed": air_depth_needed(asked["root_depth"], reach),
        "lip_height": np.broadcast_to(np.where(np.isfinite(lip), lip, surface), run.lip.shape),
        "capacity": np.broadcast_to(cap, run.lip.shape),
        "store_share": _share_of_store(series.open_water, cap, dead),
        "uptake_factor": np.divide(
            series.transpiration, wanted, out=np.ones_like(wanted), where=wanted > 0.0
        ),
    }
    asked["root_depth"] = np.minimum(asked["root_depth"], reach)  # what a deep root finds here
    return values | series._asdict() | asked


def readable(run: Run, weather: xr.Dataset) -> xr.Dataset:
    """All that a run says but its profile, dims (bed, year, time), `year` the starts.

    Of a run at places of the weather: dims (bed, place, year, time).

    The days of the first start stand for those of all: the readings need their months alone.
    """
    import xarray as xr

    place = weather["place"].coords if "place" in weather.dims else {}
    places = {"place": weather.sizes["place"]} if place else {}
    sizes = {"bed": -1, **places, "year": len(run.starts), "time": run.days}
    dims, shape = tuple(sizes), tuple(sizes.values())
    beds = run.beds[:: weather.sizes.get("place", 1)]
    measures = (plan_area, dead_storage, surface_height, crown_height)
    once = {
        "start_open_water": run.start.open_water,
        "start_mix_water": run.start.mix_water,
        "start_standing_water": run.start.standing,
        "safe_steps": run.counts[:, 2],
        "safe_step_days": run.counts[:, 3],
    }
    return xr.Dataset(
        {
            **{name: (dims, daily.T.reshape(shape)) for name, daily in variables_of(run).items()},
            **{name: (dims[:-1], each.reshape(shape[:-1])) for name, each in once.items()},
            **{each.__name__: ("bed", [each(bed) for bed in beds]) for each in measures},
        },
        coords={"time": weather["time"].to_numpy()[run.windows[:, 0]], **place},
    )


def air_depth_needed(root_depth: ArrayLike, reach: ArrayLike) -> Array:
    r"""Depth of mix from the surface down that must have air for these roots.

    Answers: how much of the bed must stay out of the wet, whatever the mean says.

    Parameters
    ----------
    root_depth : array_like of float, shape (...)
        Depth to which the plants root where nothing stops them [m]; zero without plants.
    reach : array_like of float, shape (...)
        Depth to which they can root in this bed [m]; broadcasts against `root_depth`.

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


def _share_of_store(open_water: Array, cap: Array, dead: Array) -> Array:
    """How full the store is of what the mix can reach [1]; zero where it can reach nothing."""
    room = np.maximum(cap - dead, 1e-9)
    return np.clip((open_water - dead) / room, 0.0, 1.0)


def run_dataset(
    variables: Mapping[Any, Any],
    *,
    coords: Mapping[str, Any] | None = None,
    attrs: Mapping[str, Any],
) -> xr.Dataset:
    """Dataset of variables by name of the glossary, with its units and names, set last."""
    import xarray as xr

    dataset = xr.Dataset(dict(variables), coords=coords)
    for name in dataset.variables:
        if name in dataset.data_vars or name in terms():
            dataset[name].attrs = attributes(str(name))
    dataset.attrs = {"Conventions": CONVENTIONS, "bedtide_version": __version__, **attrs}
    return dataset


def air_by_height(run: Run, column: int, slices: int) -> tuple[Array, Array]:
    """Air by height in a column of a run that kept its profile.

    Faces of slices of equal height from the foot of the mix to its surface, (slices + 1,) [m], and
    the mean air-filled porosity of the mix in each on every evening, (time, slices) [m3 m-3].
    """
    b = column // len(run.starts)
    bed, row = run.beds[b], int(run.layout[b])
    count = int(run.cells.number[row])
    centre, height, water = (
        values[row, :count] for values in (run.cells.centre, run.cells.height, run.cells.water)
    )
    top, foot = centre + 0.5 * height, centre - 0.5 * height
    faces = np.linspace(foot[-1], top[0], slices + 1)
    inside = np.minimum(top, faces[1:, None]) - np.maximum(foot, faces[:-1, None])
    held = np.clip(inside, 0.0, None) / height * water
    below = centre < crown_height(bed)
    porosity = np.where(below, bed.wick_mix.theta_s, bed.top_mix.theta_s)
    air = np.maximum(porosity - run.profile[column, :, :count], 0.0)
    return faces, air @ (held / held.sum(axis=1, keepdims=True)).T
