"""Refills, the water account, and by month both with what was wet and dry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.chunks import chunkwise
from bedtide.readings.wet_and_dry import (
    dataset_of,
    dryness,
    limited_days,
    longest_run,
    per_bed,
    share_of,
    time_last,
    wet_days,
    wetness,
)
from bedtide.statistics import by_group, percentile

if TYPE_CHECKING:
    import xarray as xr

_LEAST_BREAK = 3  # months without a refill that make a break between two filling seasons; ours
_LOSSES = ("transpiration", "evaporation", "overflow", "rim_spill")
_SIGNED = {"rain_in": 1, "refill": 1, **dict.fromkeys(_LOSSES, -1)}
_TOTALS = ("rain", "et0", "rain_in", "refill", "transpiration_potential", *_LOSSES)
_STORES = ("open_water", "mix_water", "standing_water")
_SUMS = ("rain", "et0", "rain_in", *_LOSSES)


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


def filling_season(
    refill: NDArray[np.float64], months: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last month, 1 to 12, of the time of year that has refills (rows, time) [m d-1].

    The months without any refill in any year are looked at in a circle; the longest stretch of
    them, if it is three months or more, is the time without refills. It may span the new year or
    not, so this holds on both sides of the equator; 0 without a refill. Our definition.
    """
    rows = refill.shape[0]
    row, day = np.nonzero(refill > 0)
    count = np.bincount(row * 12 + months[day] % 12, minlength=rows * 12).reshape(rows, 12)
    pause = longest_run(np.tile(count == 0, 2))  # twice round: it may span the new year
    never, always = pause.longest >= 12, pause.longest < _LEAST_BREAK
    first = np.select([never, always], [0, 1], (pause.start + pause.longest) % 12 + 1)
    last = np.select([never, always], [0, 12], (pause.start - 1) % 12 + 1)
    return first, last


# --- the account, and months ---------------------------------------------------------------------


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
    after = months + np.timedelta64(1, "M")
    length = (after.astype("datetime64[D]") - months.astype("datetime64[D]")).astype(int)
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
