"""Made-up grids and lists of places, with CF names."""

import numpy as np
import xarray as xr

_CF = {
    "tasmax": ("air_temperature", "K", "time: maximum"),
    "tasmin": ("air_temperature", "K", "time: minimum"),
    "pr": ("precipitation_flux", "kg m-2 s-1", "time: mean"),
    "hurs": ("relative_humidity", "%", "time: mean"),
    "rsds": ("surface_downwelling_shortwave_flux_in_air", "W m-2", "time: mean"),
    "sfcWind": ("wind_speed", "m s-1", "time: mean"),
}


def grid(rows=2, columns=3, days=500, start="2019-01-01", seed=1):
    """A year and a half of invented weather on (time, lat, lon), in the units of climate models."""
    random = np.random.default_rng(seed)
    shape = (days, rows, columns)
    season = -np.cos(2 * np.pi * np.arange(days) / 365.25)[:, None, None]
    warm = 14 + 9 * season + random.normal(0, 3, shape)
    wet = random.random(shape) < 0.35
    values = {
        "tasmax": warm + 273.15,
        "tasmin": warm - random.uniform(3, 12, shape) + 273.15,
        "pr": np.where(wet, random.exponential(6, shape), 0.0) / 86400,
        "hurs": np.clip(70 + random.normal(0, 12, shape), 20, 100),
        "rsds": (3 + 2 * season + random.uniform(0, 3, shape)) / 0.0864,
        "sfcWind": random.uniform(0.5, 7, shape),
    }
    found = xr.Dataset(
        {name: (("time", "lat", "lon"), v.astype(np.float32)) for name, v in values.items()},
        coords={
            "time": np.datetime64(start, "ns") + np.arange(days) * np.timedelta64(1, "D"),
            "lat": 48.0 + np.arange(rows),
            "lon": 350.0 + 5.0 * np.arange(columns),
            "height": 10.0,
        },
    )
    for name, (standard, unit, methods) in _CF.items():
        found[name].attrs = {"standard_name": standard, "units": unit, "cell_methods": methods}
    about = {"lat": "latitude", "lon": "longitude", "height": "height"}
    for name, standard in about.items():
        found[name].attrs = {"standard_name": standard}
    found["orog"] = (("lat", "lon"), random.uniform(0, 400, shape[1:]))
    found["orog"].attrs = {"standard_name": "surface_altitude", "units": "m"}
    return found


def cells(grid):
    """Latitude and longitude of each cell, row by row."""
    return [(float(lat), float(lon)) for lat in grid.lat for lon in grid.lon]
