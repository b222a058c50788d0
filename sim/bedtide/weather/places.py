"""Weather of many places: grids and lists of places, opened lazily; a folder of station files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.chunks import by_chunk
from bedtide.errors import (
    FieldError,
    FileError,
    InputError,
    Option,
    Pieces,
    TimeAxisError,
    printable,
    raise_all,
)
from bedtide.weather.fill import FLAGS, core_of, found_in, lacking
from bedtide.weather.netcdf import (
    as_we_have_it,
    calendar_note,
    coordinate_of,
    quantities,
    times_of,
    wind_height_of,
    with_time,
)
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
Days = NDArray[np.datetime64]

CHUNK = 50
"""Places of a chunk: some 30 years of them and of a few beds stay well under a gigabyte."""

_DAY = np.timedelta64(1, "D")
_PLACE = {
    "latitude": {"standard_name": "latitude", "units": "degrees_north"},
    "longitude": {"standard_name": "longitude", "units": "degrees_east"},
    "elevation": {"standard_name": "surface_altitude", "units": "m"},
}
_ALTITUDES = ("surface_altitude", "altitude", "height_above_reference_ellipsoid")
_NETCDF = (b"CDF", b"\x89HDF\r\n\x1a\n")
_ZARR = ("zarr.json", ".zgroup", ".zmetadata")
_BESIDE = (".md", ".py", ".toml", ".ipynb", ".pdf", ".png", ".jpg")  # no weather, whatever it says
_SAME_PLACE = 1e-4  # degrees by which the places of two files may differ
_FLAGS = {"estimated": np.int8, "filled": np.bool_, "measured": np.int8}
_STAND_INS = {"humidity": "humidity_days", "wind": "wind_days", "radiation": "radiation_days"}


# --- opening ----------------------------------------------------------------------------------


def open_places(paths: Sequence[Path], options: Options, *, chunk: int = CHUNK) -> xr.Dataset:
    """Weather of many places as measured, in the units of `record.QUANTITIES`; nothing is read.

    CF NetCDF files and zarr stores, joined by variable and by time, come along (place, time) on
    dask, so many places a chunk; of station files, or folders of them, come the names alone.
    """
    found = [each for path in paths for each in _expanded(Path(path))]
    grids = [path for path in found if _is_grid(path)]
    if not grids:
        return _stations(found)
    if len(grids) < len(found):
        other = next(path for path in found if path not in grids)
        raise FileError(
            other.name,
            f"it is of another kind than {grids[0].name}",
            expected="either NetCDF files and zarr stores, or station files",
        )
    opened = [_opened(path, chunk) for path in grids]
    for each in opened[1:]:
        _same_places(opened[0], each)
    return _joined(opened, options)


def _expanded(path: Path) -> list[Path]:
    """The path itself, or what stands in a folder, sorted; hidden files and notes aside."""
    if not path.exists():
        raise FileError(path.name, "there is no such file or folder")
    if not path.is_dir() or _is_grid(path):
        return [path]
    inside = [
        each
        for each in sorted(path.iterdir())
        if not each.name.startswith(".") and each.suffix.lower() not in _BESIDE
    ]
    if not inside:
        raise FileError(path.name, "the folder is empty", expected="weather files")
    return inside


def _is_grid(path: Path) -> bool:
    """Whether it is a NetCDF file or a zarr store, from what it holds."""
    if path.is_dir():
        return any((path / name).exists() for name in _ZARR)
    try:
        with path.open("rb") as file:
            start = file.read(8)
    except OSError as error:
        raise FileError(path.name, f"it can't be read ({error.strerror})") from None
    return start.startswith(_NETCDF)


def _stations(paths: Sequence[Path]) -> xr.Dataset:
    """A place for each file, or folder of the files of one station; known when it is read."""
    import xarray as xr

    names = [path.name if path.is_dir() else path.stem for path in paths]
    unknown = np.full(len(paths), np.nan)
    return xr.Dataset(
        {"path": ("place", np.array([str(path) for path in paths], dtype=object))},
        coords={
            "place": np.arange(len(paths)),
            "place_name": ("place", np.array([printable(name) for name in names], dtype=object)),
            **dict.fromkeys(_PLACE, ("place", unknown)),
        },
    )


def _opened(path: Path, chunk: int) -> xr.Dataset:
    """One file or store, its variables by quantity along (place, time) in the units of a record.

    What a variable is called there, and its unit, are its attributes; those of the whole say its
    name, the dimensions that the places were made of, what was not understood, and what was done.
    """
    import xarray as xr

    name, engine = path.name, "zarr" if path.is_dir() else None
    try:
        dataset = xr.open_dataset(path, decode_timedelta=False, engine=engine, chunks=None)
        dataset = with_time(dataset)
    except ImportError:
        raise _extra(name) from None
    except Exception:  # the libraries below raise whatever they like for a broken file
        raise FileError(
            name, "it can't be opened", expected="a whole CF NetCDF file or zarr store"
        ) from None
    axes = {wanted: coordinate_of(dataset, wanted) for wanted in ("latitude", "longitude")}
    absent = [wanted for wanted, axis in axes.items() if axis is None]
    if absent:
        raise FieldError(
            name, f"it has no {' and no '.join(absent)}", expected="latitude and longitude"
        )
    latitude, longitude = (dataset[axis] for axis in axes.values())
    dims = list(dict.fromkeys(map(str, [*latitude.dims, *longitude.dims])))
    single = [d for d, n in dataset.sizes.items() if n == 1 and str(d) not in (*dims, "time")]
    dataset = dataset.squeeze(single, drop=False)
    if not dims:
        dataset, dims = dataset.expand_dims("place"), ["place"]
    places = xr.Dataset(coords=_places_of(dataset, axes, dims))
    places.attrs = {
        "name": name,
        "grid": [f"{dim}={dataset.sizes[dim]}" for dim in dims],
        "wind_height": wind_height_of(dataset),
        "notes": calendar_note(dataset, name),
        "ignored": [],
    }
    if "time" not in dataset.dims:
        return places
    found, errors = quantities(dataset, name, [*dims, "time"])
    raise_all(errors)
    known = {about.key for about in found.values()}
    places.attrs["ignored"] = [
        str(key) for key, each in dataset.items() if "time" in each.dims and key not in known
    ]
    places = places.assign_coords(time=_days_of(dataset, name))
    for quantity, about in found.items():
        data = _chunked(dataset[about.key], dims, chunk, name).data
        ours = as_we_have_it(data.reshape((-1, data.shape[-1])), quantity, about)
        places[quantity] = (("place", "time"), ours, about.written)
    return places


def _extra(name: str) -> FileError:
    return FileError(
        name,
        "the libraries for many places are not installed",
        hint='Install them with\n  pip install "bedtide[map]"',
    )


def _days_of(dataset: xr.Dataset, name: str) -> Days:
    """Days of a file, whose steps must be days."""
    times = times_of(dataset, name)
    days = times.astype("datetime64[D]")
    step = np.median(np.diff(times).astype(np.int64)) / 86400.0 if len(times) > 1 else 1.0
    if step != 1.0:
        count, unit = (step, "day") if step > 1.0 else (step * 24, "hour")
        far = f"{count:g} {unit}{'' if count == 1.0 else 's'}"
        raise TimeAxisError(name, f"its times are {far} apart", expected="one value a day")
    twice = np.flatnonzero(np.diff(np.sort(days)) == np.timedelta64(0, "D"))
    if len(twice):
        raise TimeAxisError(
            name, f"{np.sort(days)[twice[0]]} is there twice", expected="one value a day"
        )
    return days.astype("datetime64[ns]")


def _chunked(variable: xr.DataArray, dims: Sequence[str], chunk: int, name: str) -> xr.DataArray:
    """A variable on dask: all times, so many places a chunk, row by row."""
    sizes, left = {}, chunk
    for dim in reversed(dims):
        sizes[dim] = min(left, variable.sizes[dim])
        left = max(left // variable.sizes[dim], 1)
    try:
        return variable.chunk({**sizes, "time": -1}).transpose(*dims, "time")
    except ImportError:
        raise _extra(name) from None


def _places_of(
    dataset: xr.Dataset, axes: Mapping[str, str | None], dims: Sequence[str]
) -> dict[str, tuple[str, NDArray[Any]]]:
    """Where the places are (place,), and what they are called, as far as the file says."""
    import xarray as xr

    known = {wanted: dataset[axis] for wanted, axis in axes.items()}
    names = None
    for key in dataset.variables:
        about = dataset[key]
        if about.attrs.get("standard_name") in _ALTITUDES and "time" not in about.dims:
            known["elevation"] = about
        if about.dims == tuple(dims) and (
            (key in ("place_name", *dims) and about.dtype.kind in "OSU")
            or about.attrs.get("cf_role") == "timeseries_id"
        ):
            names = about.values.reshape(-1)
    like = xr.DataArray(np.zeros([dataset.sizes[dim] for dim in dims]), dims=dims)
    found: dict[str, NDArray[Any]] = {}
    for name, values in known.items():
        whole = values.reset_coords(drop=True).broadcast_like(like).transpose(*dims)
        found[name] = whole.to_numpy().astype(np.float64).reshape(-1)
    elevation = dataset.attrs.get("elevation")
    if "elevation" not in found and isinstance(elevation, (int, float, np.number)):
        found["elevation"] = np.full(like.size, float(elevation))
    east = found["longitude"]
    found["longitude"] = np.where(east > 180.0, east - 360.0, east)
    if names is not None:
        words = [each.decode() if isinstance(each, bytes) else str(each) for each in names]
        found["place_name"] = _texts(words)
    return {name: ("place", values) for name, values in found.items()}


def _texts(words: Sequence[str]) -> NDArray[Any]:
    return np.array([printable(word) for word in words], dtype=object)


def _same_places(first: xr.Dataset, other: xr.Dataset) -> None:
    """Refuse two files of different places."""
    own, others = first.attrs["name"], other.attrs["name"]
    for name in ("latitude", "longitude"):
        one, two = first[name].to_numpy(), other[name].to_numpy()
        if one.size != two.size:
            problem = f"it has {two.size} places, {own} has {one.size}"
        elif not (np.abs(one - two) <= _SAME_PLACE).all():
            at = int(np.argmax(~(np.abs(one - two) <= _SAME_PLACE)))
            problem = f"its place {at + 1} has {name} {two[at]:g}, in {own} {one[at]:g}"
        else:
            continue
        raise FieldError(others, problem, expected="files of the same places")


def _joined(opened: Sequence[xr.Dataset], options: Options) -> xr.Dataset:
    """One Dataset of all variables and times of several files."""
    import xarray as xr

    parts: dict[str, list[xr.Dataset]] = {}
    for each in opened:
        for quantity in map(str, each.data_vars):
            parts.setdefault(quantity, []).append(each)
    source = " + ".join(each.attrs["name"] for each in opened)
    if not parts:
        raise FieldError(source, "there is no weather in it", expected="variables with CF names")
    written = {quantity: several[0][quantity].attrs for quantity, several in parts.items()}
    _refuse_lacking(source, written, [key for each in opened for key in each.attrs["ignored"]])
    known = {str(k): v for each in opened[::-1] for k, v in each.coords.items() if k != "time"}
    known = {name: each.drop_vars("time", errors="ignore").variable for name, each in known.items()}
    if "elevation" not in known and options.elevation is None:
        raise FieldError(
            source,
            "the elevation of the places is not known",
            expected="a variable with the CF name surface_altitude, there or in a file of its own",
            hint=Pieces("Or, where one height will do for all, say  ", Option("elevation")),
        )
    # On all days that any of them has.
    single = [_along_time(quantity, several) for quantity, several in parts.items()]
    aligned = xr.align(*single, join="outer")
    whole = xr.Dataset(dict(zip(parts, aligned, strict=True))).chunk({"time": -1})
    first, last = options.span
    whole = whole.sel(time=slice(first, last))
    if not whole.sizes["time"]:
        raise TimeAxisError(source, "it has none of the days that are wanted")
    for quantity, names in written.items():
        whole[quantity].attrs = names
    if "place_name" not in known:
        spots = zip(known["latitude"].values, known["longitude"].values, strict=True)
        words = [f"{north:.6g} {east:.6g}" for north, east in spots]
        known["place_name"] = xr.Variable("place", _texts(words))
    height = known.get("elevation", xr.full_like(known["latitude"], np.nan))
    known["elevation"] = height if options.elevation is None else height.fillna(options.elevation)
    whole = whole.assign_coords({"place": np.arange(whole.sizes["place"]), **known})
    heights = [each.attrs["wind_height"] for each in opened]
    whole.attrs = {
        "source": printable(source),
        "grid": opened[0].attrs["grid"],
        "assumptions": [note for each in opened for note in each.attrs["notes"]],
        "wind_height": next((each for each in heights if each is not None), None),
    }
    return whole


def _refuse_lacking(
    source: str, written: Mapping[str, Mapping[str, Any]], ignored: list[str]
) -> None:
    """Refuse files that together lack what every place must have."""
    none = np.empty(0)
    columns = {key: Column(key, values=none, **names) for key, names in written.items()}
    record = Record(source, "CF NetCDF", none.astype("M8[s]"), none.astype(int), columns)
    record.ignored = ignored
    absent = [key for key in core_of(record) if key not in columns]
    if absent:
        error = lacking(record, absent)
        hint = f"{found_in(record)}. Give the file that has it as well"
        raise FieldError(error.where, error.problem, expected=error.expected, hint=hint)


def _along_time(quantity: str, several: Sequence[xr.Dataset]) -> xr.DataArray:
    """Parts of one variable (place, time) put one after the other."""
    import xarray as xr

    owner = np.repeat(np.arange(len(several)), [each.sizes["time"] for each in several])
    parts = [each[quantity].drop_vars([*_PLACE, "place_name"], errors="ignore") for each in several]
    whole = xr.concat(parts, "time") if len(parts) > 1 else parts[0]
    order = np.argsort(whole["time"].to_numpy(), kind="stable")
    days = whole["time"].to_numpy()[order]
    twice = np.flatnonzero(np.diff(days) == np.timedelta64(0, "D"))
    if len(twice):
        one, two = (several[owner[order[twice[0] + more]]].attrs["name"] for more in (0, 1))
        raise TimeAxisError(
            two,
            f"{days[twice[0]].astype('datetime64[D]')} is there and in {one}",
            expected="files whose days don't overlap",
        )
    return whole.isel(time=order)


# --- made ready -------------------------------------------------------------------------------


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
    return _stacked(block.assign_coords(place_name=("place", _texts(names))), found, why, where)


def _reason(error: InputError) -> str:
    """Why a place is unfit, in one line."""
    more = len(error.errors) - 1
    return printable(error.errors[0].problem) + (f" (and {more} more)" if more else "")


def _where(block: xr.Dataset, at: int, record: Record | None) -> dict[str, float]:
    """Where a place is: as its file says, or the block."""
    said = {name: getattr(record, name, None) for name in _PLACE}
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
        columns[key] = Column(key, values=values, **block[key].attrs)
    name = str(block["place_name"].values[at])
    if all(np.isnan(column.values).all() for column in columns.values()):
        raise TimeAxisError(name, "no weather (sea, or outside of the region)")
    days = block["time"].to_numpy().astype("datetime64[s]")
    record = Record(
        name, "CF NetCDF", days, np.arange(1, len(days) + 1), columns,
        wind_height=block.attrs["wind_height"],
    )  # fmt: skip
    for key in _PLACE:
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
                for name, about in _PLACE.items()
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
    place = {name: float(own[name]) for name in _PLACE}
    if "rain_hours" in own and bool(own["rain_hours"].isnull().all()):
        own = own.drop_vars(["rain_hours"])
    apart = [str(name) for name in own.variables if own[name].ndim == 0]
    own = own.drop_vars(apart)
    return own.assign_attrs(place=str(ready["place_name"].values[at]), **place, rain_day="midnight")
