"""Where the water came from and went to: over a run, and by month with the other readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.chunks import chunkwise
from bedtide.readings.arrays import dataset_of, per_bed, time_last
from bedtide.readings.refills import intervals, refills
from bedtide.readings.wet_and_dry import dryness, limited_days, wet_days, wetness
from bedtide.statistics import by_group, percentile

if TYPE_CHECKING:
    import xarray as xr

_SIGNED = {
    "rain_in": 1,
    "refill": 1,
    "transpiration": -1,
    "evaporation": -1,
    "overflow": -1,
    "rim_spill": -1,
}
_TOTALS = ("rain", "et0", "rain_in", "refill", "transpiration_potential", *list(_SIGNED)[2:])
_STORES = ("open_water", "mix_water", "standing_water")
_SUMS = ("rain", "et0", "rain_in", "transpiration", "evaporation", "overflow", "rim_spill")


@chunkwise
def water_account(season: xr.Dataset) -> xr.Dataset:
    r"""Where the water came from and went to over a run, and whether it adds up.

    Answers: how much rain was caught, how much was poured in, used and lost.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run, with its ``start_`` stores [m].

    Returns
    -------
    Dataset, dims (...)
        Sums over the run ``rain_total``, ``et0_total``, ``rain_in_total``, ``refill_total``,
        ``transpiration_potential_total``, ``transpiration_total``, ``evaporation_total``,
        ``overflow_total``, ``rim_spill_total``; ``open_water_change``, ``mix_water_change``,
        ``standing_water_change``, end less start; ``balance_error``: all in [m] per plan area.

    Notes
    -----
    With :math:`S` the sum of the three stores at the end of each day and :math:`S_0` before the
    first, the balance error is

    .. math:: \max_t \left| S_t - S_0 - \sum_{i \le t} (P_{in} + F - T - E - O - B)_i \right|

    so that an error on one day that a later one makes good is still seen. It uses the returned
    series alone and shares no code with the balance. Our definition.

    Examples
    --------
    >>> from bedtide import example_bed, read_weather, run_season, sample_weather
    >>> season = run_season(example_bed(), read_weather(sample_weather()), start="2023-06-01")
    >>> bool(water_account(season)["balance_error"] < 1e-9)
    True
    """
    flux = {name: time_last(season, name) for name in _TOTALS}
    end = {name: time_last(season, name) for name in _STORES}
    start = {name: per_bed(season, f"start_{name}") for name in _STORES}
    net = sum(sign * flux[name] for name, sign in _SIGNED.items())
    gained = sum(end[name] - start[name][..., None] for name in _STORES)
    error = np.abs(gained - np.cumsum(net, axis=-1)).max(axis=-1)
    sums = {
        f"{name}_total": np.broadcast_to(values.sum(axis=-1), error.shape)
        for name, values in flux.items()
    }
    changes = {f"{name}_change": end[name][..., -1] - start[name] for name in _STORES}
    return dataset_of(season, {**sums, **changes, "balance_error": error})


def all_readings(season: xr.Dataset) -> xr.Dataset:
    """Refills, wetness, dryness and the water account of a run, dims (...)."""
    import xarray as xr

    found = [read(season) for read in (refills, wetness, dryness, water_account)]
    return xr.merge(found, join="exact", compat="equals")


def by_month(season: xr.Dataset) -> xr.Dataset:
    """The readings of each month of a run, with ``month`` its first day.

    The first and the last may be part of a month; intervals are those that end in it.
    """
    months = season["time"].values.astype("datetime64[M]")
    first = months[0].astype(int)
    slots = months.astype(int) - first
    coord = (np.arange(first, first + slots[-1] + 1)).astype("datetime64[M]").astype("M8[ns]")
    return dataset_of(season, _grouped(season, slots, coord.size), dim="month", coord=coord)


def by_month_of_year(season: xr.Dataset) -> xr.Dataset:
    """The readings of each month of the year, 1 to 12, mean over the years of a run.

    A month is divided by how many times it is in the run, a part of a month for its part; intervals
    are taken over all years. NaN for a month that the run does not hold.
    """
    days = season["time"].values.astype("datetime64[D]")
    slots = days.astype("datetime64[M]").astype(int) % 12
    months, held = np.unique(days.astype("datetime64[M]"), return_counts=True)
    length = ((months + 1).astype("datetime64[D]") - months.astype("datetime64[D]")).astype(int)
    repeats = np.bincount(months.astype(int) % 12, held / length, minlength=12)
    found = {
        name: column if name.startswith("interval") else column / np.where(repeats, repeats, np.nan)
        for name, column in _grouped(season, slots, 12).items()
    }
    return dataset_of(season, found, dim="month", coord=np.arange(1, 13))


def _grouped(season: xr.Dataset, slots: NDArray[Any], size: int) -> dict[str, NDArray[Any]]:
    """Readings by slot, each of shape (..., size), in the units of the glossary."""
    poured = time_last(season, "refill")
    flat = poured.reshape(-1, poured.shape[-1])
    shape, groups = (*poured.shape[:-1], size), flat.shape[0] * size
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
    slot = gaps.row * size + slots[gaps.day]
    found["interval_count"] = np.bincount(slot, minlength=groups).reshape(shape)
    quantiles = percentile(by_group(gaps.length, slot, groups), [0.0, 0.1, 0.5, 1.0])
    for name, quantile in zip(("shortest", "p10", "median", "longest"), quantiles, strict=True):
        found[f"interval_{name}"] = quantile.reshape(shape)
    return found


def _sums(values: NDArray[Any], slots: NDArray[Any], size: int) -> NDArray[Any]:
    """Sum over time by slot, shape (..., size), in the unit of the values."""
    starts = np.flatnonzero(np.diff(slots, prepend=-1))
    dtype = float if values.dtype.kind == "f" else int
    parts = np.add.reduceat(values, starts, axis=-1, dtype=dtype)
    found = np.zeros((*values.shape[:-1], size), dtype)
    np.add.at(np.moveaxis(found, -1, 0), slots[starts], np.moveaxis(parts, -1, 0))
    return found
