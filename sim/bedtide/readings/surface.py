"""The surface: what it lost of what the weather asked of it while the reservoir held water."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bedtide.readings.arrays import dataset_of, per_bed, time_last
from bedtide.readings.dryness import EMPTY

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["surface_supply"]


def surface_supply(season: xr.Dataset) -> xr.Dataset:
    """How much of the evaporation that the weather asked for the surface gave.

    Answers: did the mix keep its surface wet, or did it dry out above a reservoir with water.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``evaporation_potential``, ``evaporation`` [m d-1], ``open_water`` and
        ``dead_storage`` [m].

    Returns
    -------
    Dataset, dims (...)
        ``evaporation_potential_total`` over the run [m]; ``surface_supply``, the evaporation over
        what was asked for on the days that end with water in the reservoir [1], NaN where nothing
        was asked for on them.

    Notes
    -----
    Days that end with the reservoir empty, as `limited_days` has it, don't count: what the surface
    lacks on them is water in the bed, not lift.
    """
    asked, lost = time_last(season, "evaporation_potential"), time_last(season, "evaporation")
    within_reach = time_last(season, "open_water") - per_bed(season, "dead_storage")[..., None]
    counted = within_reach >= EMPTY
    wanted, got = (np.where(counted, flux, 0.0).sum(axis=-1) for flux in (asked, lost))
    share = np.divide(got, wanted, out=np.full(np.shape(wanted), np.nan), where=wanted > 0.0)
    return dataset_of(
        season, {"evaporation_potential_total": asked.sum(axis=-1), "surface_supply": share}
    )
