"""Weather of many places made ready: each checked, complete, with ET0, as it is alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.chunks import by_chunk
from bedtide.errors import InputError, TimeAxisError, printable, raise_all
from bedtide.weather.fill import FLAGS
from bedtide.weather.grids import PLACE, open_places, texts_of
from bedtide.weather.options import Options, Paths, takes_options
from bedtide.weather.read import (
    VALUES,
    Complete,
    attributes_of,
    by_day,
    by_rain_day,
    complete,
    et0_of,
    gather,
    place_of,
    variables_of,
)
from bedtide.weather.record import Column, Record

if TYPE_CHECKING:
    import xarray as xr

Floats = NDArray[np.float64]

_DAY = np.timedelta64(1, "D")
_FLAGS = {"estimated": np.int8, "filled": np.bool_, "measured": np.int8}
_STAND_INS = {"humidity": "humidity_days", "wind": "wind_days", "radiation": "radiation_days"}


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
    read = _station_at if "path" in block else _cell_at
    block = block.compute(scheduler="synchronous") if block.chunks else block
    found: list[Complete | None] = []
    why: list[str] = []
    where: list[dict[str, float]] = []
    names: list[str] = []
    for at in range(block.sizes["place"]):
        record: Record | None = None
        try:
            record = read(block, at, options)
            found.append(complete(by_rain_day(record, options), options))
            why.append("")
        except InputError as error:
            found.append(None)
            why.append(_reason(error))
        where.append(_where(block, at, record))
        names.append(_name(block, at, record))
    return _stacked(block.assign_coords(place_name=("place", texts_of(names))), found, why, where)


def _reason(error: InputError) -> str:
    """Why a place is unfit, in one line."""
    more = len(error.errors) - 1
    return printable(error.errors[0].problem) + (f" (and {more} more)" if more else "")


def _where(block: xr.Dataset, at: int, record: Record | None) -> dict[str, float]:
    """Where a place is: as its file says, or the block."""
    said = {name: getattr(record, name, None) for name in PLACE}
    return {k: float(block[k].values[at] if v is None else v) for k, v in said.items()}


def _name(block: xr.Dataset, at: int, record: Record | None) -> str:
    """What a place is called: as its file says, or the block."""
    return getattr(record, "place", "") or str(block["place_name"].values[at])


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


def _stacked(
    block: xr.Dataset,
    found: Sequence[Complete | None],
    why: Sequence[str],
    where: Sequence[Mapping[str, float]],
) -> xr.Dataset:
    """Places side by side on all days that any of them has."""
    import xarray as xr

    fit = {at: each for at, each in enumerate(found) if each is not None}
    spans = np.full((2, len(found)), "NaT", dtype="datetime64[D]")
    for at, each in fit.items():
        spans[:, at] = each.daily.days[[0, -1]]
    own = "time" in block.dims
    ends = block["time"].to_numpy().astype("datetime64[D]") if own else spans[:, list(fit)]
    axis = np.arange(ends.min(), ends.max() + _DAY) if ends.size else ends.reshape(-1)
    shape = (len(found), len(axis))
    values: dict[str, NDArray[Any]] = {name: np.full(shape, np.nan) for name in VALUES}
    values |= {name: np.zeros(shape, kind) for name, kind in _FLAGS.items()}
    for (at, each), et0 in zip(fit.items(), et0_of(list(fit.values())), strict=True):
        begin = int((spans[0, at] - axis[0]).astype(np.int64))
        part = slice(begin, begin + len(each.daily.days))
        for name, column in variables_of(each, et0).items():
            if name not in values:
                values[name] = np.full((*shape, 24), np.nan)
            values[name][at, part] = column
    dims = ("place", "time", "hour")
    dataset = xr.Dataset(
        {name: (dims[: column.ndim], column) for name, column in values.items()},
        coords={
            "time": axis.astype("datetime64[ns]"),
            "place": block["place"].to_numpy(),
            "place_name": block["place_name"],
            **{
                name: ("place", [each[name] for each in where], about)
                for name, about in PLACE.items()
            },
        },
    )
    for name in values:
        dataset[name].attrs = attributes_of(name)
    of_place: dict[str, Any] = {
        "first_day": spans[0].astype("datetime64[ns]"),
        "last_day": spans[1].astype("datetime64[ns]"),
        "unfit": np.array(why, dtype=object),
        "et0_method": np.array(["" if e is None else e.method for e in found], dtype=object),
        "filled_days": np.array([0 if e is None else int(e.daily.filled.sum()) for e in found]),
    }
    for flag, name in _STAND_INS.items():
        lacking = [() if e is None else (e.daily.measured & FLAGS[flag]) == 0 for e in found]
        of_place[name] = np.array([int(np.sum(days)) for days in lacking])
    dataset = dataset.assign({name: ("place", values) for name, values in of_place.items()})
    kept = {"source": "", "grid": [], "assumptions": []}
    dataset.attrs = {name: block.attrs.get(name, none) for name, none in kept.items()}
    return dataset


def one_place(ready: xr.Dataset, at: int) -> xr.Dataset:
    """One place of `ready_places` on its own days, as `read_weather` gives it."""
    own = ready.isel(place=at)
    own = own.sel(time=slice(own["first_day"].values, own["last_day"].values))
    place = {name: float(own[name]) for name in PLACE}
    if "rain_hours" in own and bool(own["rain_hours"].isnull().all()):
        own = own.drop_vars(["rain_hours"])
    apart = [str(name) for name in own.variables if own[name].ndim == 0]
    own = own.drop_vars(apart)
    return own.assign_attrs(place=str(ready["place_name"].values[at]), **place, rain_day="midnight")
