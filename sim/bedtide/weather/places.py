"""Weather of many places made ready: each checked, complete, with ET0, as it is alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.chunks import by_chunk
from bedtide.errors import InputError, TimeAxisError, printable, raise_all
from bedtide.weather.grids import PLACE, open_places
from bedtide.weather.join import shift_rain
from bedtide.weather.options import Options, Paths, takes_options
from bedtide.weather.read import (
    VARIABLES,
    Complete,
    attributes_of,
    by_day,
    complete,
    dataset_of,
    gather,
    place_of,
)
from bedtide.weather.record import Column, Record
from bedtide.weather.suspicious import estimated_days

if TYPE_CHECKING:
    import xarray as xr

_NONE: dict[str, Any] = {"estimated": np.int8(0), "filled": np.False_, "measured": np.int8(0)}
"""What stands outside the days of a place where it is not NaN."""


@takes_options(Options)
def read_places(path: Paths, options: Options) -> xr.Dataset:
    """Daily weather of many places, checked, complete, with reference evapotranspiration.

    Parameters
    ----------
    path : str, Path or sequence of these
        CF NetCDF files or zarr stores with latitudes and longitudes, on a grid or as a list of
        places, such as one file a variable or a year; or station files, folders of them, or a
        folder of the files of one station.
    OPTIONS

    Returns
    -------
    Dataset, dims (place, time)
        The variables of :func:`read_weather`, NaN outside the days of a place. Of each place also
        ``first_day``, ``last_day``, ``unfit`` (why it is left out, or nothing), ``et0_method``,
        and on how many days gaps were filled and humidity, wind and radiation estimated [d].
        Of NetCDF and zarr every chunk of places is read when it is asked for, by dask; station
        files are read at once.

    Raises
    ------
    FileError
        If a file can't be read.
    InputError
        If anything is wrong with the files as a whole; what is wrong with a place stands in
        ``unfit``.

    Examples
    --------
    >>> from bedtide import read_places, sample_weather
    >>> weather = read_places(sample_weather("mistlebeck"), end="1995-12-31")
    >>> weather.sizes["place"], weather["unfit"].values[0]
    (1, '')
    """
    several = [path] if isinstance(path, (str, Path)) else path
    whole = open_places([Path(each) for each in several], options)
    if "time" in whole.dims:
        return by_chunk(ready_places, whole, options=options)
    return ready_places(whole, options)


def ready_places(block: xr.Dataset, options: Options) -> xr.Dataset:
    """Places of a block checked, complete, with ET0, as `read_weather` has each of them alone.

    Parameters
    ----------
    block : Dataset, dims (place, time) or (place,)
        Some places of `open_places`.
    options : Options
        The same as there.

    Returns
    -------
    Dataset, dims (place, time)
        In memory: the variables of `read_weather`; NaN outside the days of a place. Of each place
        also ``first_day``, ``last_day`` (not a time where it is unfit), ``unfit`` (why, or
        nothing), ``et0_method``, and on how many days what was filled or estimated [d].
    """
    import xarray as xr

    block = block.compute(scheduler="synchronous") if block.chunks else block
    every = [_ready(block, at, options) for at in range(block.sizes["place"])]
    times = [block] if "time" in block.dims else every
    days = np.concatenate([each["time"].to_numpy() for each in times]).astype("datetime64[D]")
    axis = np.arange(days.min(), days.max() + np.timedelta64(1, "D")) if len(days) else days
    axis = axis.astype("datetime64[ns]")
    every = [each.reindex(time=axis, fill_value=_NONE) for each in every]
    ready = xr.concat(every, "place", data_vars="all", coords="all")
    ready = ready.assign_coords(place=block["place"].to_numpy())
    kept: dict[str, Any] = {"source": "", "grid": [], "assumptions": []}
    ready.attrs = {name: block.attrs.get(name, none) for name, none in kept.items()}
    return ready


def _ready(block: xr.Dataset, at: int, options: Options) -> xr.Dataset:
    """One place on its own days, with what is told of it as a whole; no day where it is unfit."""
    record: Record | None = None
    whole: Complete | None = None
    why = ""
    try:
        record = (_station_at if "path" in block else _cell_at)(block, at, options)
        whole = complete(shift_rain(record), options)
    except InputError as error:
        more = len(error.errors) - 1
        why = printable(error.errors[0].problem) + (f" (and {more} more)" if more else "")
    ready = dataset_of(whole) if whole else _no_days()
    first, last = ready["time"].to_numpy()[[0, -1]] if whole else [np.datetime64("NaT", "ns")] * 2
    told = {
        "first_day": first,
        "last_day": last,
        "unfit": np.array(why, dtype=object),
        "et0_method": np.array(whole.method if whole else "", dtype=object),
        "filled_days": int(ready["filled"].sum()),
        **{f"{name}_days": count for name, count in estimated_days(ready).items()},
    }
    name = getattr(record, "place", "") or str(block["place_name"].to_numpy()[at])
    where: dict[str, Any] = {"place_name": np.array(printable(name), dtype=object)}
    for key, about in PLACE.items():
        said = getattr(record, key, None)
        where[key] = ((), float(block[key].to_numpy()[at] if said is None else said), about)
    return ready.assign(told).assign_coords(where)


def _no_days() -> xr.Dataset:
    """The variables of a record on no day."""
    import xarray as xr

    none = {name: np.empty(0, np.asarray(_NONE.get(name, np.nan)).dtype) for name in VARIABLES}
    return xr.Dataset(
        {name: ("time", each, attributes_of(name)) for name, each in none.items()},
        coords={"time": np.empty(0, "datetime64[ns]")},
    )


def _station_at(block: xr.Dataset, at: int, options: Options) -> Record:
    """Record of a station file, or of the files of one."""
    path = Path(str(block["path"].values[at]))
    files = sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else [path]
    found = gather(files, replace(options, every_column=len(files) == 1))
    raise_all(found.problems)
    assert found.record is not None
    return found.record


def _cell_at(block: xr.Dataset, at: int, options: Options) -> Record:
    """Record of one place of a grid or a list."""
    columns = {}
    for key in map(str, block.data_vars):
        values = block[key].to_numpy()[at].copy()
        columns[key] = Column(values=values, **block[key].attrs)
    name = str(block["place_name"].values[at])
    if all(np.isnan(column.values).all() for column in columns.values()):
        raise TimeAxisError(name, "no weather (sea, or outside of the region)")
    days = block["time"].to_numpy().astype("datetime64[s]")
    record = Record(
        name, "CF NetCDF", days, np.arange(1, len(days) + 1), columns,
        wind_height=block.attrs["wind_height"],
    )  # fmt: skip
    for key in PLACE:
        value = float(block[key].values[at])
        setattr(record, key, None if np.isnan(value) else value)
    record.latitude, record.elevation = place_of([record], options).values()
    problems: list[InputError] = []
    record = by_day(record, options, record.latitude, problems)
    raise_all(problems)
    return record


def one_place(ready: xr.Dataset, at: int) -> xr.Dataset:
    """One place of `ready_places` on its own days, as `read_weather` gives it."""
    own = ready.isel(place=at)
    own = own.sel(time=slice(own["first_day"].values, own["last_day"].values))
    place = {name: float(own[name]) for name in PLACE}
    if "rain_hours" in own and bool(own["rain_hours"].isna().all()):
        own = own.drop_dims("hour")
    apart = [str(name) for name in own.variables if own[name].ndim == 0]
    own = own.drop_vars(apart)
    told = {"place": str(ready["place_name"].values[at]), **place, "rain_day": "midnight"}
    return own.assign_attrs(told, et0_method=str(ready["et0_method"].values[at]))
