"""Weather as plain as hand arithmetic needs it: the same every day, rain only where it is put.

Wind 2 m/s and a lowest humidity of 45 % are the climate that crop coefficients are tabled for,
so that these need no adjustment.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import xarray as xr


def plain_weather(
    start: str,
    days: int,
    *,
    et0_mm: float = 5.0,
    rain_mm: Mapping[str, float] | None = None,
    latitude: float = 45.0,
) -> xr.Dataset:
    """Return a record with the same ET0 every day and rain on the days named."""
    time = np.datetime64(start, "D") + np.arange(days)
    rain = np.zeros(days)
    for day, amount in (rain_mm or {}).items():
        at = int((np.datetime64(day, "D") - time[0]).astype(int))
        rain[at] = amount / 1000
    same = {
        "tmax": 25.0,
        "tmin": 12.0,
        "vapour_pressure": 1.4,
        "rh_min": 45.0,
        "wind_speed": 2.0,
        "solar_radiation": 20.0,
        "et0": et0_mm / 1000,
    }
    return xr.Dataset(
        {name: ("time", np.full(days, value)) for name, value in same.items()}
        | {"rain": ("time", rain), "filled": ("time", np.zeros(days, bool))},
        coords={"time": time.astype("datetime64[ns]")},
        attrs={
            "latitude": latitude,
            "elevation": 100.0,
            "place": "Nowhere (invented)",
            "source": "plain",
            "columns_read": [],
            "assumptions": [],
        },
    )


def with_fault(good, name, where, values):
    """The same weather with other values of a column from one day to another."""
    changed = good.copy(deep=True)
    at = changed["time"].values.astype("datetime64[D]")
    first, last = (np.datetime64(day) for day in where)
    rows = (at >= first) & (at <= last)
    changed[name].values[rows] = values(changed[name].values[rows])
    return changed
