"""A made-up region: the dry built-in record in the south, the wet one in the north, rain east."""

import numpy as np
import xarray as xr

from bedtide import read_weather, sample_weather

NAMES = ("tmax", "tmin", "vapour_pressure", "wind_speed", "solar_radiation", "rain")


def region_of(rows: int, columns: int, start: str, end: str) -> xr.Dataset:
    """Daily weather (lat, lon, time) as CF NetCDF has it, from 38 to 42 N."""
    dry, wet = (
        read_weather(sample_weather(name), start=start, end=end)
        for name in ("brasaluz", "mistlebeck")
    )
    north = xr.DataArray(np.linspace(0.0, 1.0, rows), dims="lat")
    east = xr.DataArray(np.linspace(0.7, 1.3, columns), dims="lon")
    found = xr.Dataset()
    for name in NAMES:
        mixed = dry[name] * (1.0 - north) + wet[name] * north
        mixed = mixed * (east if name == "rain" else xr.ones_like(east))
        found[name] = mixed.transpose("lat", "lon", "time").assign_attrs(dry[name].attrs)
    lat = ("lat", 38.0 + 4.0 * north.values, {"standard_name": "latitude"})
    lon = ("lon", -3.0 + np.arange(columns), {"standard_name": "longitude"})
    height = ((), 100.0, {"standard_name": "surface_altitude", "units": "m"})
    return found.assign_coords(lat=lat, lon=lon, height=height)
