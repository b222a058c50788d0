"""Weather of many places in files: grids and lists of places, opened lazily; station files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import (
    FieldError,
    FileError,
    Option,
    Pieces,
    TimeAxisError,
    printable,
    raise_all,
)
from bedtide.weather.fill import core_of, lacking
from bedtide.weather.netcdf import (
    as_we_have_it,
    calendar_note,
    coordinate_of,
    place_dims,
    places_of,
    quantities,
    times_of,
    wind_height_of,
    with_time,
)
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record

if TYPE_CHECKING:
    import xarray as xr

Days = NDArray[np.datetime64]

CHUNK = 50
"""Places of a chunk: some 30 years of them and of a few beds stay well under a gigabyte."""

PLACE = {
    "latitude": {"standard_name": "latitude", "units": "degrees_north"},
    "longitude": {"standard_name": "longitude", "units": "degrees_east"},
    "elevation": {"standard_name": "surface_altitude", "units": "m"},
}
"""Attributes of where a place lies."""
_NETCDF = (b"CDF", b"\x89HDF\r\n\x1a\n")
_ZARR = ("zarr.json", ".zgroup", ".zmetadata")
_BESIDE = (".md", ".py", ".toml", ".ipynb", ".pdf", ".png", ".jpg")  # no weather, whatever it says
_SAME_PLACE = 1e-4  # degrees by which the places of two files may differ


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
            **dict.fromkeys(PLACE, ("place", unknown)),
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
    dims = place_dims(dataset)
    single = [d for d, n in dataset.sizes.items() if n == 1 and str(d) not in (*dims, "time")]
    dataset = dataset.squeeze(single, drop=False)
    if not dims:
        dataset, dims = dataset.expand_dims("place"), ["place"]
    places = xr.Dataset(
        coords={key: ("place", values) for key, values in places_of(dataset, dims).items()}
    )
    if (names := _names_of(dataset, dims)) is not None:
        places = places.assign_coords(place_name=("place", names))
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


def _names_of(dataset: xr.Dataset, dims: Sequence[str]) -> NDArray[Any] | None:
    """What the places are called (place,), if the file says it."""
    for key, about in dataset.variables.items():
        named = key in ("place_name", *dims) and about.dtype.kind in "OSU"
        if about.dims == tuple(dims) and (named or about.attrs.get("cf_role") == "timeseries_id"):
            names = about.values.reshape(-1)
            return texts_of([e.decode() if isinstance(e, bytes) else str(e) for e in names])
    return None


def texts_of(words: Sequence[str]) -> NDArray[Any]:
    """Names, as they can be shown."""
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
    told = (item for each in opened[::-1] for item in each.coords.items())
    known = {str(name): each.variable for name, each in told if name != "time"}
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
        known["place_name"] = xr.Variable("place", texts_of(words))
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
    columns = {key: Column(values=none, **names) for key, names in written.items()}
    record = Record(source, "CF NetCDF", none.astype("M8[s]"), none.astype(int), columns)
    record.ignored = ignored
    if absent := [key for key in core_of(record) if key not in columns]:
        raise lacking(record, absent, ". Give the file that has it as well")


def _along_time(quantity: str, several: Sequence[xr.Dataset]) -> xr.DataArray:
    """Parts of one variable (place, time) put one after the other."""
    import xarray as xr

    owner = np.repeat(np.arange(len(several)), [each.sizes["time"] for each in several])
    parts = [each[quantity].drop_vars([*PLACE, "place_name"], errors="ignore") for each in several]
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
