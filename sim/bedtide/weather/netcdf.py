"""CF NetCDF: variables found by standard name and unit, at a point or on a grid."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, FileError, InputError, Option, Pieces, RangeError
from bedtide.tables import read_toml
from bedtide.units import convert
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record

if TYPE_CHECKING:
    import xarray as xr


_NAME = "CF NetCDF"
_DAY = 86400.0  # [s]
_HAIR = 0.01  # mm, or mm/day; less than any gauge shows

_STANDARD = read_toml("cf_names.toml")
_CALLED = {name: key for key, about in _STANDARD.items() for name in about.get("called", ())}
_EXTREMES = {  # words of a cell method, names of variables
    "max": ("maximum", ("tasmax", "tmax", "tmmx", "tx")),
    "min": ("minimum", ("tasmin", "tmin", "tmmn", "tn")),
}
PLACE = {
    "latitude": ("latitude",),
    "longitude": ("longitude",),
    "elevation": ("surface_altitude", "altitude", "height_above_reference_ellipsoid"),
}
"""What says where a place is, with its standard names."""


def read_netcdf(data: bytes, name: str, options: Options) -> Record:
    """Record from a NetCDF file in memory, one row for each time; its `lines` count the times."""
    import netCDF4
    import xarray as xr

    try:
        open_store: Any = xr.backends.NetCDF4DataStore  # its types are not given
        store = open_store(netCDF4.Dataset(name, memory=data))
        with xr.open_dataset(store, decode_timedelta=False) as opened:
            dataset = with_time(opened.load())
    except InputError:
        raise
    except Exception:  # the libraries below raise whatever they like for a broken file
        raise FileError(name, "it can't be opened", expected="a whole CF NetCDF file") from None
    point, place, note = _point(dataset, name, options)
    times = times_of(point, name)
    found, errors = quantities(point, name)
    step = np.median(np.diff(times).astype(np.int64)) if len(times) > 1 else _DAY
    daily = bool(step >= _DAY)
    columns = {
        quantity: Column(
            values=np.asarray(as_we_have_it(point[about.key].values, quantity, about)),
            rate=about.rate and not daily,
            **about.written,
        )
        for quantity, about in found.items()
    }
    if daily:
        times = times.astype("datetime64[D]").astype("datetime64[s]")
    record = Record(
        name,
        _NAME,
        times,
        np.arange(1, len(times) + 1),
        columns,
        daily=daily,
        **place,
        wind_height=wind_height_of(point),
        notes=[*note, *calendar_note(dataset, name)],
        errors=errors,
    )
    if not daily and options.stamps is None:
        record.offset = np.zeros(len(times))
    return record


def _point(
    dataset: xr.Dataset, name: str, options: Options
) -> tuple[xr.Dataset, dict[str, Any], list[str]]:
    """The dataset at one place, and where that is."""
    dims, at = place_dims(dataset), 0
    places, shape = places_of(dataset, dims), [dataset.sizes[dim] for dim in dims]
    notes: list[str] = []
    if np.prod(shape) > 1:
        keys = {wanted: coordinate_of(dataset, wanted) for wanted in ("latitude", "longitude")}
        named = {wanted: key for wanted, key in keys.items() if key and dataset[key].ndim}
        axes = {wanted: dataset[key].values for wanted, key in named.items()}
        if any(values.ndim > 1 for values in axes.values()):
            raise FieldError(
                name, "its grid has two-dimensional latitudes", expected="one latitude for each row"
            )
        if options.point is None:
            north, east = (axes[wanted].size if wanted in axes else 1 for wanted in keys)
            raise FieldError(
                name,
                f"it is a grid of {north} by {east} places",
                expected="one place",
                hint=Pieces("Say which one with  ", Option("point")),
            )
        point, away = dict(zip(keys, options.point, strict=True)), np.zeros(int(np.prod(shape)))
        for wanted, values in axes.items():
            value, turn = point[wanted], 360.0 if wanted == "longitude" else np.inf
            apart = np.abs(places[wanted] - value)
            apart = np.minimum(apart, np.abs(turn - apart))
            away += apart**2
            spacing = np.abs(np.diff(values)).max() if values.size > 1 else 1.0
            if apart.min() > spacing:
                raise RangeError(
                    f"{name}, point",
                    f"{wanted} {value:g} is outside the grid",
                    expected=f"between {values.min():g} and {values.max():g}",
                )
        at = int(np.argmin(away))
        notes.append(f"The nearest cell of the grid in {name} was used.")
    cell = dict(zip(dims, np.unravel_index(at, shape), strict=True))
    place = {key: float(places[key][at]) if key in places else None for key in PLACE}
    return dataset.isel(cell).squeeze(drop=False), place, notes


def place_dims(dataset: xr.Dataset) -> list[str]:
    """Dimensions of the latitudes and longitudes; none where there is one place alone."""
    keys = [coordinate_of(dataset, wanted) for wanted in ("latitude", "longitude")]
    return list(dict.fromkeys(str(dim) for key in keys if key for dim in dataset[key].dims))


def places_of(dataset: xr.Dataset, dims: Sequence[str]) -> dict[str, NDArray[np.float64]]:
    """Where the places are (place,), as far as the file says; the last dimension runs fastest."""
    import xarray as xr

    like = xr.DataArray(np.zeros([dataset.sizes[dim] for dim in dims]), dims=dims)
    found: dict[str, NDArray[np.float64]] = {}
    for wanted in PLACE:
        key, said = coordinate_of(dataset, wanted), dataset.attrs.get(wanted)
        if key is not None and set(dataset[key].dims) <= set(dims):
            values = dataset[key].reset_coords(drop=True).broadcast_like(like).transpose(*dims)
            found[wanted] = values.to_numpy().astype(np.float64).reshape(-1)
        elif isinstance(said, (int, float, np.number)):
            found[wanted] = np.full(like.size, float(said))
    if "longitude" in found:
        found["longitude"] -= 360.0 * (found["longitude"] > 180.0)
    return found


def coordinate_of(dataset: xr.Dataset, wanted: str) -> str | None:
    """Name of the variable that holds latitudes, longitudes or elevations."""
    for variable in dataset.variables:
        if dataset[variable].attrs.get("standard_name") in PLACE[wanted]:
            return str(variable)
    names = (wanted, wanted[:3]) if wanted != "elevation" else ()
    return next((name for name in names if name in dataset.variables), None)


def with_time(dataset: xr.Dataset) -> xr.Dataset:
    """The dataset with its only axis of dates called time, whatever it was called."""
    dated = [key for key, index in dataset.indexes.items() if index.dtype.kind == "M"]
    if "time" in dataset.variables or len(dated) != 1:
        return dataset
    return dataset.rename({dated[0]: "time"})


def times_of(dataset: xr.Dataset, name: str) -> NDArray[np.datetime64]:
    """Times of a file; of a calendar without leap days those that it has.

    A year of twelve months of thirty days is spread evenly over the real one, so that each of its
    days is a day of its own and five or six are left over here and there.
    """
    if "time" not in dataset.variables or dataset["time"].ndim != 1:
        raise FieldError(name, "it has no time axis", expected="a coordinate named time")
    values = dataset["time"].values
    if np.issubdtype(values.dtype, np.datetime64):
        return values.astype("datetime64[s]")
    calendar = str(getattr(values[0], "calendar", "")) if len(values) else ""
    if calendar in ("all_leap", "366_day", ""):
        problem = "its times have no unit of CF"
        if calendar:
            problem = f'its calendar is "{calendar}", whose days are not those of the year'
        raise FieldError(name, problem, expected="a calendar of real dates")
    if calendar != "360_day":
        return np.asarray([str(value.isoformat())[:19] for value in values], dtype="datetime64[s]")
    year = np.array([value.year - 1970 for value in values]).astype("datetime64[Y]")
    first = year.astype("datetime64[D]")
    following = (year + np.timedelta64(1, "Y")).astype("datetime64[D]")
    length = (following - first).astype(np.int64)
    number = np.array([30 * (value.month - 1) + value.day for value in values])
    seconds = np.array([value.hour * 3600 + value.minute * 60 + value.second for value in values])
    midnight = (first + (2 * number - 1) * length // 720).astype("datetime64[s]")
    return np.asarray(midnight + seconds)


def calendar_note(dataset: xr.Dataset, name: str) -> list[str]:
    """What was done with a calendar that is not the real one."""
    calendar = str(dataset["time"].encoding.get("calendar", "")) if "time" in dataset else ""
    if calendar == "360_day":
        return [
            f"The year of {name} has 360 days; they were spread evenly over the real year, and the "
            "five or six that are left over filled as gaps."
        ]
    if calendar in ("noleap", "365_day"):
        return [f"The calendar of {name} has no leap days; they were filled as gaps."]
    return []


class Meaning(NamedTuple):
    """How a variable of a file is understood."""

    key: str  # its name in the file
    unit: str  # the file's own
    wanted: str  # the unit of `record.QUANTITIES`, as `units.convert` takes it
    rate: bool  # of several times a day: to be averaged, not added up

    @property
    def written(self) -> dict[str, Any]:
        """Its name and unit in the file, and how that becomes ours."""
        none, one = (float(convert(value, self.unit, self.wanted)) for value in (0.0, 1.0))
        return {"name": self.key, "unit": self.unit, "factor": one - none, "offset": none}


def quantities(
    dataset: xr.Dataset, name: str, dims: Collection[str] = ("time",)
) -> tuple[dict[str, Meaning], list[InputError]]:
    """What the variables along these dimensions are, by quantity, and all that is wrong."""
    found: dict[str, Meaning] = {}
    errors: list[InputError] = []
    for key in dataset.data_vars:
        variable = dataset[key]
        standard = str(variable.attrs.get("standard_name", "")).split(" ")[0]
        if standard not in _STANDARD:
            standard = _CALLED.get(standard, _CALLED.get(str(key).lower(), ""))
        if set(variable.dims) != set(dims) or not standard:
            continue
        unit = str(variable.attrs.get("units", ""))
        if not unit.strip() and "units" in variable.attrs:
            unit = "1"  # as CF has it: an empty unit is that of a number without one
        quantity, wanted, rate = _meaning(variable, str(key), standard, unit)
        if not _fits(unit, wanted):
            problem = f'its unit "{unit}" does not fit {standard}' if unit else "it has no unit"
            where, expected = f"{name}, variable {key}", f"a unit such as {wanted}"
            errors.append(FieldError(where, problem, expected=expected))
        elif quantity in found:
            problem = f'"{found[quantity].key}" and "{key}" can both be {quantity}'
            errors.append(FieldError(name, problem, expected="one variable for each quantity"))
        else:
            found[quantity] = Meaning(str(key), unit, wanted, rate)
    return found, errors


def as_we_have_it(values: Any, quantity: str, about: Meaning) -> Any:
    """Values of a file, or of a grid on dask, in our unit.

    Rain a hair below nought, as packing leaves it in reanalyses, is no rain.
    """
    ours = convert(values.astype(np.float64), about.unit, about.wanted)
    return np.where((ours < 0.0) & (ours > -_HAIR), 0.0, ours) if quantity == "rain" else ours


def _meaning(variable: Any, key: str, standard: str, unit: str) -> tuple[str, str, bool]:
    """Quantity, unit wanted and whether it is a rate; extremes by cell method or name."""
    about = _STANDARD[standard]
    quantity, units = about["quantity"], about["units"]
    methods = str(variable.attrs.get("cell_methods", ""))
    by_method = [short for short, (word, _) in _EXTREMES.items() if f"time: {word}" in methods]
    by_name = [short for short, (_, names) in _EXTREMES.items() if key.lower() in names]
    for extreme in [*by_method, *by_name][:1]:
        extremes = {"temperature": f"t{extreme}", "rh_mean": f"rh_{extreme}"}
        quantity = extremes.get(quantity, quantity)
    return quantity, next((each for each in units if _fits(unit, each)), units[0]), about["rate"]


def _fits(unit: str, wanted: str) -> bool:
    try:
        convert(0.0, unit, wanted)
    except ValueError:
        return False
    return True


def wind_height_of(dataset: xr.Dataset) -> float | None:
    """Height from a scalar coordinate, or from the attribute of our own files."""
    for key in dataset.data_vars:
        variable = dataset[key]
        if variable.attrs.get("standard_name") != "wind_speed":
            continue
        for coordinate in variable.coords.values():
            if coordinate.attrs.get("standard_name") == "height" and coordinate.ndim == 0:
                return float(coordinate.values)
        if "at 2 m" in str(variable.attrs.get("long_name", "")):
            return 2.0
        if "10m" in str(key) or "at 10 m" in str(variable.attrs.get("long_name", "")):
            return 10.0
    return None
