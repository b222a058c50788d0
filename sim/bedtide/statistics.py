"""What a handful of years can say, and no more: percentiles, chances, sizes of samples."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.errors import RangeError

LOW, HIGH = 0.1, 0.9  # the two percentiles that a spread gives [1]; our choice
# How sure the range of a chance is [1]: in 8 of 10 such statements the truth lies inside; ours
CONFIDENCE = 0.8


class Chance(NamedTuple):
    """How often something happens, from a count of cases."""

    share: float  # held within 1 / (n + 1) and n / (n + 1) of n independent cases [1]
    low: float  # range in which the true chance lies in 8 of 10 such statements [1]
    high: float


def percentile(values: ArrayLike, share: ArrayLike) -> Any:
    r"""Percentile of a sample along the last axis, at the Weibull plotting position.

    The i-th smallest of n values stands at the probability :math:`i / (n + 1)` [1]_ (definition 6
    of [2]_), linear in between; further out it is the smallest or the largest value, which says
    "at most" and "at least" and no more. NaN is left out, and NaN comes back where there is no
    value. Infinity ("longer than was looked at") counts as the largest; the percentile is
    infinite where it lies above a finite value towards an infinite one. Several shares give their
    percentiles along a new first axis.

    References
    ----------
    .. [1] Weibull W. (1939). A statistical theory of the strength of materials. From memory.
    .. [2] Hyndman R.J., Fan Y. (1996). Sample quantiles in statistical packages. The American
       Statistician 50:361-365. From memory; compared with numpy.quantile in the tests.

    Examples
    --------
    >>> float(percentile([4.0, 2.0, 9.0], 0.5))
    4.0
    """
    shares = np.asarray(share, dtype=np.float64)
    if not ((shares >= 0.0) & (shares <= 1.0)).all():
        raise RangeError("share", f"{shares.tolist()} is not a probability", expected="0 to 1")
    ordered = np.sort(np.asarray(values, dtype=np.float64), axis=-1)  # NaN last
    if ordered.shape[-1] == 0:
        return np.full(shares.shape + ordered.shape[:-1], np.nan)[()]
    count = (~np.isnan(ordered)).sum(axis=-1)[..., None]
    place = np.clip(shares.reshape(-1) * (count + 1) - 1.0, 0.0, np.maximum(count - 1, 0))
    place = np.round(place, 12)
    below, above = (
        np.take_along_axis(ordered, end(place).astype(np.int64), axis=-1)
        for end in (np.floor, np.ceil)
    )
    step = np.subtract(above, below, out=np.zeros_like(below), where=above != below)
    found = np.moveaxis(below + (place - np.floor(place)) * step, -1, 0)
    return found.reshape(shares.shape + found.shape[1:])[()]


def by_group(values: ArrayLike, group: ArrayLike, groups: int) -> NDArray[np.float64]:
    """Values of each group, numbered from 0, in a row of their own, NaN behind them.

    >>> by_group([4.0, 2.0, 9.0], [0, 0, 2], 3)[0].tolist()
    [4.0, 2.0]
    """
    group = np.asarray(group, dtype=np.int64)
    count = np.bincount(group, minlength=groups)
    order = np.argsort(group, kind="stable")
    place = np.arange(group.size) - np.repeat(np.cumsum(count) - count, count)
    found = np.full((groups, count.max(initial=0)), np.nan)
    found[group[order], place] = np.asarray(values, dtype=np.float64)[order]
    return found


def finite_or_none(value: Any) -> float | int | None:
    """A plain number, whole where it is; None where it is infinite or missing."""
    number = float(value)
    if not math.isfinite(number):
        return None
    return int(number) if number == int(number) else number


def chance(happened: int, cases: int, *, independent: int | None = None) -> Chance:
    r"""Chance of something from how often it happened, never 0 % and never 100 %.

    The share is :math:`k / m`, held within the Weibull positions :math:`1 / (n + 1)` and
    :math:`n / (n + 1)` of the :math:`n` independent cases among the :math:`m` (our rule); all are
    independent unless `independent` says how many are. The range is that of Clopper and Pearson
    [1]_ with :math:`n` cases and :math:`n k / m` of them happened: quantiles of beta
    distributions, 80 % between them. So dependent cases bring nothing beyond their number of
    independent ones.

    References
    ----------
    .. [1] Clopper C.J., Pearson E.S. (1934). The use of confidence or fiducial limits illustrated
       in the case of the binomial. Biometrika 26:404-413. From memory; compared with
       scipy.stats.binomtest in the tests.
    """
    from scipy.special import betaincinv

    number = cases if independent is None else independent
    if not (0 <= happened <= cases and 1 <= number <= cases):
        raise RangeError(
            "cases",
            f"{happened} of {cases} cases, {number} of them independent, can't be",
            expected="at least one case, and no more that happened than there were",
        )
    share = min(max(happened / cases, 1.0 / (number + 1)), number / (number + 1))
    hits = number * happened / cases
    tail = 0.5 * (1.0 - CONFIDENCE)
    low = float(betaincinv(hits, number - hits + 1.0, tail)) if hits > 0 else 0.0
    high = float(betaincinv(hits + 1.0, number - hits, 1.0 - tail)) if hits < number else 1.0
    return Chance(share, low, high)
