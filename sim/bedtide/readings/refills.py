"""Refills: when, how much, how many days between them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.chunks import chunkwise
from bedtide.readings.arrays import dataset_of, per_bed, share_of, time_last
from bedtide.statistics import by_group, percentile

if TYPE_CHECKING:
    import xarray as xr

_LEAST_BREAK = 3  # months without a refill that make a break between two filling seasons; ours


@chunkwise
def refills(season: xr.Dataset) -> xr.Dataset:
    """Refills over a run: how many, how much, how many days between them.

    Answers: how often must this bed be filled, with how much, and from when to when.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run, as the balance returns it; ``refill`` [m d-1], ``plan_area`` [m2].

    Returns
    -------
    Dataset, dims (...)
        ``days`` [d], ``refill_count`` [1], ``refill_volume`` [m3], ``refill_each`` [m3],
        ``interval_count`` [1], ``interval_median``, ``interval_p10``, ``interval_p90`` [d],
        ``first_refill`` [d], ``first_month``, ``last_month`` [1], ``rain_share`` [1].
        Without a refill the counts and the volume are 0 and the months 0; what has no value
        (an interval with fewer than two refills, the first refill of none) is NaN.

    Notes
    -----
    Percentiles stand at the Weibull plotting position i / (n + 1) [1]_, over the intervals of
    one filling season (see `filling_season`): a winter without a refill is no interval.

    ``rain_share`` is rain kept over all water kept, where rain kept is rain into the bed less
    overflow and spill, not below zero, and all water kept is that and the refills.
    NaN where nothing was kept. Our definition.

    References
    ----------
    .. [1] Weibull W. (1939). A statistical theory of the strength of materials. From memory.

    Examples
    --------
    >>> from bedtide import example_bed, read_weather, run_season, sample_weather
    >>> season = run_season(example_bed(), read_weather(sample_weather()), start="2023-06-01")
    >>> bool(refills(season)["refill_count"] > 1)
    True
    """
    poured = time_last(season, "refill")
    shape, flat = poured.shape[:-1], poured.reshape(-1, poured.shape[-1])
    rows, filled, total = flat.shape[0], flat > 0, flat.sum(axis=-1)
    area = np.broadcast_to(per_bed(season, "plan_area"), shape).reshape(-1)
    months = season["time"].values.astype("datetime64[M]").astype(int)
    opens, closes = filling_season(flat, months)
    gaps, (row, day) = intervals(flat, months), np.nonzero(filled)
    median, p10, p90 = percentile(by_group(gaps.length, gaps.row, rows), [0.5, 0.1, 0.9])
    rain, *lost = (
        time_last(season, name).sum(axis=-1).reshape(-1)
        for name in ("rain_in", "overflow", "rim_spill")
    )
    rain_kept = np.maximum(rain - sum(lost), 0.0)
    columns = {
        "days": np.full(rows, flat.shape[-1]),
        "refill_count": filled.sum(axis=-1),
        "refill_volume": total * area,
        "refill_each": percentile(by_group(flat[row, day] * area[row], row, rows), 0.5),
        "interval_count": np.bincount(gaps.row, minlength=rows),
        "interval_median": median,
        "interval_p10": p10,
        "interval_p90": p90,
        "first_refill": np.where(filled.any(axis=-1), filled.argmax(axis=-1), np.nan),
        "first_month": opens,
        "last_month": closes,
        "rain_share": share_of(rain_kept, rain_kept + total),
    }
    return dataset_of(season, {name: column.reshape(shape) for name, column in columns.items()})


def days_to_refill(season: xr.Dataset) -> xr.DataArray:
    """Days from each day until the next refill [d], 0 on a day of refill, NaN after the last."""
    poured = time_last(season, "refill")
    days = poured.shape[-1]
    index = np.arange(days)
    next_one = np.where(poured > 0, index, days)
    next_one = np.minimum.accumulate(next_one[..., ::-1], axis=-1)[..., ::-1]
    left = np.where(next_one < days, next_one - index, np.nan)
    found = dataset_of(season, {"days_to_refill": left}, dim="time", coord=season["time"].values)
    return found["days_to_refill"]


class Intervals(NamedTuple):
    """Days between neighbouring refills, of many beds in one list, each of shape (n,)."""

    row: NDArray[np.int64]  # which bed
    day: NDArray[np.int64]  # index of the day of the refill that ends it
    length: NDArray[np.int64]  # days from one refill to the next [d]


def intervals(refill: NDArray[np.float64], months: NDArray[np.int64]) -> Intervals:
    """Days between neighbouring refills (rows, time) [m d-1]; months since 1970 of each day.

    Those that span the time of year without refills are left out.
    """
    row, day = np.nonzero(refill > 0)
    same = row[1:] == row[:-1]
    before, after, which = day[:-1][same], day[1:][same], row[1:][same]
    first, last = filling_season(refill, months)
    year_before, year_after = ((months[at] - first[which] + 1) // 12 for at in (before, after))
    kept = (year_before == year_after) | ((last - first) % 12 == 11)[which]
    return Intervals(which[kept], after[kept], (after - before)[kept])


class FillingSeason(NamedTuple):
    """Time of year that has refills, of each bed (rows,)."""

    first: NDArray[np.int64]  # month, 1 to 12; 0 for none
    last: NDArray[np.int64]


def filling_season(refill: NDArray[np.float64], months: NDArray[np.int64]) -> FillingSeason:
    """First and last month of the time of year that has refills (rows, time) [m d-1].

    The months without any refill in any year are looked at in a circle; the longest stretch of
    them, if it is three months or more, is the time without refills. It may span the new year or
    not, so this holds on both sides of the equator. Our definition.
    """
    rows = refill.shape[0]
    row, day = np.nonzero(refill > 0)
    count = np.bincount(row * 12 + months[day] % 12, minlength=rows * 12).reshape(rows, 12)
    none = count == 0
    run, longest, end = (np.zeros(rows, int) for _ in range(3))
    for month in range(24):  # twice round, so that a stretch may span the new year
        run = np.where(none[:, month % 12], run + 1, 0)
        end = np.where(run > longest, month % 12, end)
        longest = np.maximum(longest, run)
    any_refill = longest < 12
    whole = longest < _LEAST_BREAK
    first = np.where(whole, 1, (end + 1) % 12 + 1)
    last = np.where(whole, 12, (end - longest) % 12 + 1)
    return FillingSeason(np.where(any_refill, first, 0), np.where(any_refill, last, 0))
