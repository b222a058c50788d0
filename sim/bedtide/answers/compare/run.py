"""Many beds through every year of a record: what sets them apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, rests_on, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    brimful_weight,
    crown_height,
    mix_volume,
    surface_height,
)
from bedtide.errors import FieldError
from bedtide.many import Years, letters, readable, repeated, spread, whole_years
from bedtide.readings import dryness, refills, water_account, wetness
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

_AT_ONCE = 600_000
"""Bed-days run together [1]: what their series take stays below half a gigabyte."""

SPREADS = (
    "refill_count",
    "interval_median",
    "refill_volume",
    "rain_share",
    "wet_days",
    "longest_wet_spell",
    "air_lowest",
    "limited_days",
    "empty_days",
    "wick_days",
    "transpiration_ratio",
    "evaporation_total",
    "transpiration_total",
    "rain_in_total",
    "overflow_total",
)
"""Readings of which the years' mean, median, 10th and 90th percentile, least and most are given."""

_OF_A_YEAR = (
    *SPREADS,
    "days",
    "refill_each",
    "first_refill",
    "interval_count",
    "rooted_days",
    "wet_days_top",
    "wet_spells",
    "excess_water",
    "demand_days",
    "longest_dry_spell",
    "rain_total",
    "et0_total",
    "rim_spill_total",
    "balance_error",
)


def compare(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    *,
    years: Years | None = None,
    labels: Sequence[str] | None = None,
    progress: Callable[[int], None] | None = None,
) -> xr.Dataset:
    """Every bed through every year of the record, each year by itself.

    Answers: which of these beds must be filled least, stays driest, keeps its plants supplied.
    Each year starts anew, with the reservoir at the bed's start level and the mix at rest above
    it. So the years are independent cases, and a bed that starts in midwinter has forgotten its
    start long before anything grows. What a year leaves behind for the next is not seen. Full
    dates of a description are taken as days of every year.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    weather : Dataset, dims (time,)
        A daily record.
    years : Years, optional
        Which days to run; `whole_years` of the record where left out.
    labels : sequence of str, optional
        What sets each bed apart; their names where left out.
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Dataset, dims (bed, year)
        Readings of every bed and year under their names in the glossary; for those in `SPREADS`
        also ``_mean``, ``_median``, ``_p10``, ``_p90``, ``_min``, ``_max`` of the years, (bed,).
        Percentiles stand at the Weibull position. A year with fewer than two refills has no days
        between refills (NaN); among the percentiles it counts as longer than all others
        (infinite), and it has no part in the mean. ``year`` is the calendar year in which each
        begins, ``year_start`` its first day. The same numbers for a bed whatever others are
        compared with it.

    Raises
    ------
    FieldError
        If there is no bed.
    RangeError
        If the record holds no whole year.

    Examples
    --------
    >>> from bedtide import compare, example_bed, read_weather, sample_weather
    >>> weather = read_weather(sample_weather()).sel(time=slice("2019", "2021"))
    >>> compare([example_bed()], weather).sizes["year"]
    3
    """
    if not beds:
        raise FieldError("compare", "there is no bed", expected="at least one")
    chosen = whole_years(weather) if years is None else years
    beds, said = zip(*(repeated(bed) for bed in beds), strict=True)
    per_bed = max(1, len(chosen.starts) * chosen.days)
    at_once = max(1, _AT_ONCE // per_bed)
    parts = [
        readings_of(beds[first : first + at_once], weather, chosen, progress=progress)
        for first in range(0, len(beds), at_once)
    ]
    values = {name: np.concatenate([part[name] for part in parts], axis=0) for name in parts[0]}
    found = _dataset(beds, weather, chosen, values, labels)
    found.attrs["assumptions"] += list(dict.fromkeys(line for lines in said for line in lines))
    return found


def readings_of(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    years: Years,
    *,
    demand: Sequence[Demand] | None = None,
    progress: Callable[[int], None] | None = None,
) -> dict[str, NDArray[Any]]:
    """Readings of some beds, each of shape (bed, year), and their measures, (bed,)."""
    run = run_many(beds, weather, years.starts, days=years.days, demand=demand, progress=progress)
    runs = readable(run, weather)
    found: dict[str, NDArray[Any]] = {}
    for reading in (refills(runs), wetness(runs), dryness(runs), water_account(runs)):
        found |= {str(name): reading[name].to_numpy() for name in reading.data_vars}
    kept = {name: found[name] for name in _OF_A_YEAR}
    area = runs["plan_area"].to_numpy()
    kept["reservoir_volume"] = runs["capacity"].max(("time", "year")).to_numpy() * area
    kept["dead_volume"] = runs["dead_storage"].to_numpy() * area
    kept["plan_area"] = area
    return kept


def _dataset(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    years: Years,
    values: dict[str, NDArray[Any]],
    labels: Sequence[str] | None,
) -> xr.Dataset:
    """The comparison as a Dataset; attributes set last."""
    import xarray as xr

    from bedtide import __version__

    weights = [brimful_weight(bed) for bed in beds]
    values = values | {
        "brimful_weight": np.array([weight.total for weight in weights]),
        "brimful_load": np.array([weight.per_area for weight in weights]),
        "brimful_water": np.array([weight.water for weight in weights]),
        "mix_weight": np.array([weight.mix for weight in weights]),
        "reservoir_weight": np.array([weight.reservoir for weight in weights]),
        "mix_depth": np.array([surface_height(bed) - crown_height(bed) for bed in beds]),
        "mix_volume": np.array([mix_volume(bed) for bed in beds]),
    }
    statistics: dict[str, tuple[NDArray[Any], dict[str, str]]] = {}
    for name in SPREADS:
        statistics |= _over_years(name, values[name])
    first_days = np.array(years.starts, dtype="datetime64[ns]")
    found = xr.Dataset(
        {name: (("bed", "year")[: array.ndim], array) for name, array in values.items()}
        | {name: ("bed", array) for name, (array, _) in statistics.items()}
        | {"year_start": ("year", first_days)},
        coords={
            "bed": [letters(number) for number in range(len(beds))],
            "year": [day.year for day in years.starts],
            "label": ("bed", list(labels) if labels is not None else [b.name for b in beds]),
        },
    )
    for name in values:
        found[name].attrs = attributes(name)
    for name, (_, attrs) in statistics.items():
        found[name].attrs = attrs
    found["year_start"].attrs = {"long_name": "first day of the year that was run"}
    found["year"].attrs = {"long_name": "calendar year of the first day"}
    found["bed"].attrs = {"long_name": "letter of the bed"}
    found["label"].attrs = {"long_name": "what sets the bed apart"}
    found.attrs = {
        "Conventions": "CF-1.8",
        "bedtide_version": __version__,
        "title": "Comparison of beds",
        "bed_descriptions": [bed_text(bed) for bed in beds],
        "watering": [bed.watering.when for bed in beds],
        "balance_error": float(values["balance_error"].max()),
        "days_of_a_year": years.days,
        "days_left_out": years.left_out,
        **rests_on(beds, weather),
    }
    return found


def _over_years(
    name: str, values: NDArray[Any]
) -> dict[str, tuple[NDArray[np.float64], dict[str, str]]]:
    """Mean, median, percentiles and largest over the years, each with its attributes."""
    sample = np.asarray(values, dtype=np.float64)
    held = ~np.isnan(sample)
    count = held.sum(axis=-1)
    total = np.where(held, sample, 0.0).sum(axis=-1)
    mean = np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
    if name == "interval_median":  # fewer than two refills: longer than all others
        sample = np.where(np.isnan(sample), np.inf, sample)
    around = spread(sample)
    least = np.where(np.isnan(sample), np.inf, sample).min(axis=-1)
    most = np.where(np.isnan(sample), -np.inf, sample).max(axis=-1)
    found = {
        "mean": (mean, "mean of the years"),
        "median": (around.median, "median of the years"),
        "p10": (around.low, "10th percentile of the years"),
        "p90": (around.high, "90th percentile of the years"),
        "min": (np.where(count > 0, least, around.median), "least of the years"),
        "max": (np.where(count > 0, most, around.median), "most of the years"),
    }
    own = attributes(name)
    return {
        f"{name}_{ending}": (
            np.asarray(array, dtype=np.float64),
            {**own, "long_name": f"{own['long_name']}, {words}"},
        )
        for ending, (array, words) in found.items()
    }
