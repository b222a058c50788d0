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


def grouped_quantile(
    values: ArrayLike, group: ArrayLike, groups: int, share: ArrayLike
) -> NDArray[np.float64]:
    """Quantile of each group of values, at the Weibull plotting position.

    Answers: in nine of ten cases, how many days lie between two refills.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        The values, any unit [1].
    group : array_like of int, shape (n,)
        Number of the group that each belongs to, from 0 [1].
    groups : int
        How many groups there are [1].
    share : float or array_like of float, shape (...)
        Probability, or several, 0 to 1 [1].

    Returns
    -------
    ndarray of float, shape (..., groups)
        In the unit of `values`; NaN for a group without values.

    Notes
    -----
    The i-th smallest of n values stands at the probability i / (n + 1) [1]_ (definition 6
    of [2]_), linear in between. A probability below 1 / (n + 1) gets the smallest value, one
    above n / (n + 1) the largest: with fewer than nine values the 10th percentile is the
    smallest of them.

    References
    ----------
    .. [1] Weibull W. (1939). A statistical theory of the strength of materials. From memory.
    .. [2] Hyndman R.J., Fan Y. (1996). Sample quantiles in statistical packages. The American
       Statistician 50:361-365. From memory; compared with numpy.quantile in the tests.

    Examples
    --------
    >>> grouped_quantile([4.0, 2.0, 9.0], [0, 0, 1], 3, 0.5)
    array([ 3.,  9., nan])
    """
    values, group = np.asarray(values, float), np.asarray(group, int)
    ordered = values[np.lexsort((values, group))]
    count = np.bincount(group, minlength=groups)
    start = np.cumsum(count) - count
    shares = np.asarray(share, float)[..., None]
    found = np.full((*shares.shape[:-1], groups), np.nan)
    some = count > 0
    place = np.clip(shares * (count[some] + 1) - 1, 0, count[some] - 1)
    low = np.floor(place).astype(int)
    high = np.minimum(low + 1, count[some] - 1)
    below, above = ordered[start[some] + low], ordered[start[some] + high]
    found[..., some] = below + (place - low) * (above - below)
    return found


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
