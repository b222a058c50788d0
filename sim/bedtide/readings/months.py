"""The readings by month: of each month of a run, or of the mean year."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.readings.arrays import dataset_of, grouped_quantile, per_bed, time_last
from bedtide.readings.dryness import limited_days
from bedtide.readings.refill import intervals
from bedtide.readings.wetness import wet_days

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["by_month", "by_month_of_year"]

_SUMS = ("rain", "et0", "rain_in", "transpiration", "evaporation", "overflow", "rim_spill")


def by_month(season: xr.Dataset) -> xr.Dataset:
    """The readings of each month of a run; the first and the last may be part of a month.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run.

    Returns
    -------
    Dataset, dims (..., month)
        ``month`` the first of each month. ``days`` [d], ``refill_count`` [1], ``refill_volume``
        [m3], ``interval_count`` [1], ``interval_median``, ``interval_shortest``,
        ``interval_longest`` [d] (of the intervals that end in it; NaN where none does),
        ``rain_total``, ``et0_total``, ``rain_in_total``, ``transpiration_total``,
        ``evaporation_total``, ``overflow_total``, ``rim_spill_total`` [m], ``wet_days``,
        ``empty_days``, ``wick_days`` [d].
    """
    months = season["time"].values.astype("datetime64[M]")
    first = months[0].astype(int)
    slots = months.astype(int) - first
    coord = (np.arange(first, first + slots[-1] + 1)).astype("datetime64[M]").astype("M8[ns]")
    return dataset_of(season, _grouped(season, slots, coord.size), dim="month", coord=coord)


def by_month_of_year(season: xr.Dataset) -> xr.Dataset:
    """The readings of each month of the year, mean over the years of a run.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run.

    Returns
    -------
    Dataset, dims (..., month)
        ``month`` from 1 to 12 [1]. As `by_month`; counts, volumes and sums are those of a mean
        month (the sum over the run, over its days, times the mean length of that month in it);
        intervals are taken over all years. NaN for a month that the run does not hold.

    Notes
    -----
    A month is divided by how many times it is in the run, a part of a month for its part.
    """
    times = season["time"].values.astype("datetime64[D]")
    months = times.astype("datetime64[M]")
    slots = months.astype(int) % 12
    next_month = (months + np.timedelta64(1, "M")).astype("datetime64[D]")
    length = (next_month - months.astype("datetime64[D]")).astype(int)
    repeats = np.bincount(slots, weights=1.0 / length, minlength=12)
    found = _grouped(season, slots, 12)
    with np.errstate(invalid="ignore", divide="ignore"):
        for name, column in found.items():
            if not name.startswith("interval"):
                found[name] = column / np.where(repeats > 0, repeats, np.nan)
    return dataset_of(season, found, dim="month", coord=np.arange(1, 13))


def _grouped(season: xr.Dataset, slots: NDArray[Any], size: int) -> dict[str, NDArray[Any]]:
    """Readings by slot, each of shape (..., size), in the units of the glossary."""
    poured = time_last(season, "refill")
    shape = poured.shape[:-1]
    flat = poured.reshape(-1, poured.shape[-1])
    rows = flat.shape[0]
    cause = limited_days(season)
    series = {
        "days": np.ones(poured.shape, int),
        "refill_count": poured > 0,
        "refill_volume": poured * per_bed(season, "plan_area")[..., None],
        "wet_days": wet_days(season),
        "empty_days": cause.empty,
        "wick_days": cause.wick,
        **{f"{name}_total": time_last(season, name) for name in _SUMS},
    }
    found = {
        name: _sums(np.broadcast_to(values, poured.shape), slots, size)
        for name, values in series.items()
    }
    gaps = intervals(flat, season["time"].values.astype("datetime64[M]").astype(int))
    kept = ~gaps.breaks
    length, slot = gaps.length[kept], gaps.row[kept] * size + slots[gaps.day[kept]]
    found["interval_count"] = np.bincount(slot, minlength=rows * size).reshape(*shape, size)
    for name, share in (("shortest", 0.0), ("median", 0.5), ("longest", 1.0)):
        quantile = grouped_quantile(length, slot, rows * size, share)
        found[f"interval_{name}"] = quantile.reshape(*shape, size)
    return found


def _sums(values: NDArray[Any], slots: NDArray[Any], size: int) -> NDArray[Any]:
    """Sum over time by slot, shape (..., size), in the unit of the values."""
    starts = np.flatnonzero(np.diff(slots, prepend=-1))
    parts = np.add.reduceat(
        values.astype(values.dtype if values.dtype != bool else int), starts, -1
    )
    found = np.zeros((*values.shape[:-1], size), parts.dtype)
    np.add.at(np.moveaxis(found, -1, 0), slots[starts], np.moveaxis(parts, -1, 0))
    return found
