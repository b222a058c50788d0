"""The water account of a run, worked out from the series that it returned and from nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bedtide.readings.arrays import dataset_of, per_bed, time_last

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["water_account"]

_TOTALS = (
    "rain",
    "et0",
    "rain_in",
    "refill",
    "transpiration_potential",
    "transpiration",
    "evaporation",
    "overflow",
    "rim_spill",
)
_SIGNED = {
    "rain_in": 1,
    "refill": 1,
    "transpiration": -1,
    "evaporation": -1,
    "overflow": -1,
    "rim_spill": -1,
}
_STORES = ("open_water", "mix_water", "standing_water")


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
    series alone and shares no code with the balance.
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
