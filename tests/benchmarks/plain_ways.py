"""Slow, obvious rivals: they are kept because they check the faster ways, not for their speed."""

from __future__ import annotations

import numpy as np
import xarray as xr
from scipy.interpolate import RegularGridInterpolator

from bedtide.balance import Series
from bedtide.profile import BedTables
from bedtide.profile.exchange import usable
from bedtide.weather import reference_et
from cases import Many


def one_bed_at_a_time(case: Many) -> Series:
    """A Python loop over beds, each stepped alone."""
    alone = [case.balance(slice(bed, bed + 1)) for bed in range(case.which.size)]
    return Series(*(np.concatenate(parts, axis=-1) for parts in zip(*alone, strict=True)))


def exchange_by_scipy(table: BedTables, stores: np.ndarray) -> np.ndarray:
    """Rise and climb over half a day (2, states) [m], by a general interpolator."""
    levels, lowers, uppers = table.exchange.shape
    axes = (
        np.linspace(0.0, 1.0, levels),
        np.linspace(*table.lower_bounds, lowers),
        np.linspace(*table.upper_bounds, uppers),
    )
    at = stores.T.copy()
    at[:, 0] = np.sqrt(np.clip((at[:, 0] - table.grid.dead) / usable(table.grid), 0.0, 1.0))
    at = np.clip(at, [axis[0] for axis in axes], [axis[-1] for axis in axes])
    values = table.exchange.astype(complex)
    return np.stack(
        [RegularGridInterpolator(axes, part)(at) for part in (values.real, values.imag)]
    )


def demand_year_by_year(weather: xr.Dataset) -> np.ndarray:
    """Reference evapotranspiration (time,) [m d-1], one year of the record at a time."""
    years = np.unique(weather["time"].dt.year)
    parts = [reference_et(weather.sel(time=str(int(year)))) for year in years]
    return np.concatenate([np.asarray(part) for part in parts])
