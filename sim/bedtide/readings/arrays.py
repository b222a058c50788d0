"""Array work that the readings share: time last, any number of beds before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.tables import attributes

if TYPE_CHECKING:
    import xarray as xr


def time_last(season: xr.Dataset, name: str) -> NDArray[Any]:
    """Values of a variable with time as the last axis, shape (..., time), any unit.

    Laid out by time, since sums round by the order in memory, and a bed alone reads as among many.
    """
    return np.ascontiguousarray(season[name].transpose(..., "time").values)


def per_bed(season: xr.Dataset, name: str) -> NDArray[np.float64]:
    """Values of a variable without time that broadcast against one value a bed, any unit."""
    like = season["refill"].isel(time=0, drop=True)
    return np.asarray(season[name].broadcast_like(like).transpose(*like.dims).values, float)


def dataset_of(
    season: xr.Dataset, columns: Mapping[str, ArrayLike], *, dim: str = "", coord: Any = None
) -> xr.Dataset:
    """Readings as a Dataset: the season's dimensions but time, then `dim`; attributes set last."""
    import xarray as xr

    like = season["refill"].isel(time=0, drop=True)
    dims = (*like.dims, dim) if dim else like.dims
    coords = dict(like.coords) if not dim else {**like.coords, dim: coord}
    found = xr.Dataset({name: (dims, np.asarray(v)) for name, v in columns.items()}, coords=coords)
    for name in columns:
        found[name].attrs = attributes(name)
    return found


def share_of(part: NDArray[np.float64], whole: NDArray[np.float64]) -> NDArray[np.float64]:
    """A part over its whole [1]; NaN where the whole is nought."""
    nothing = np.full(np.shape(whole), np.nan)
    return np.asarray(np.divide(part, whole, out=nothing, where=whole > 0.0))


class Runs(NamedTuple):
    """Runs of marked days, each of shape (...)."""

    runs: NDArray[np.int64]  # how many
    longest: NDArray[np.int64]  # length of the longest [d]; 0 where there is none
    start: NDArray[np.int64]  # index of its first day, of equals the first one's; -1 for none


def longest_run(marked: ArrayLike) -> Runs:
    """Runs of marked days along the last axis: how many, the longest, where it starts.

    >>> longest_run([True, False, True, True]).longest
    array(2)
    """
    marked = np.asarray(marked, bool)
    index = np.arange(marked.shape[-1])
    last_clear = np.maximum.accumulate(np.where(marked, -1, index), axis=-1)
    length = index - last_clear
    longest = length.max(axis=-1)
    starts = marked.copy()
    starts[..., 1:] &= ~marked[..., :-1]
    end = length.argmax(axis=-1)
    start = np.where(longest > 0, end - longest + 1, -1)
    return Runs(np.asarray(starts.sum(axis=-1)), np.asarray(longest), np.asarray(start))
