"""Many beds through every year of a record: what sets them apart."""

from __future__ import annotations

from collections import ChainMap
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, rests_on, run_dataset, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    brimful_weight,
    crown_height,
    mix_volume,
    surface_height,
)
from bedtide.errors import FieldError
from bedtide.many.choice import failing, figures_of, ordered, scores
from bedtide.many.doubt import Range, drawn_beds, drawn_demand, range_of
from bedtide.many.runs import all_readings, readable
from bedtide.many.statistics import HIGH, LOW, percentile
from bedtide.many.variants import letters
from bedtide.many.years import Years, repeated, some_years, whole_years
from bedtide.tables import attributes

if TYPE_CHECKING:
    import xarray as xr

_AT_ONCE = 600_000  # bed-days run together [1]: what their series take stays below half a gigabyte
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

_SHARES: Final = {  # statistics of the years: which share of them lies below, in words
    "median": (0.5, "median"),
    "p10": (LOW, "10th percentile"),
    "p90": (HIGH, "90th percentile"),
    "min": (0.0, "least"),
    "max": (1.0, "most"),
}

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
    found = all_readings(runs)
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
    """The comparison as a Dataset."""
    weights = [brimful_weight(bed) for bed in beds]
    measures: dict[str, list[float]] = {
        "brimful_weight": [weight.total for weight in weights],
        "brimful_load": [weight.per_area for weight in weights],
        "brimful_water": [weight.water for weight in weights],
        "mix_weight": [weight.mix for weight in weights],
        "reservoir_weight": [weight.reservoir for weight in weights],
        "mix_depth": [surface_height(bed) - crown_height(bed) for bed in beds],
        "mix_volume": [mix_volume(bed) for bed in beds],
    }
    variables: dict[str, Any] = {name: (("bed",), own) for name, own in measures.items()}
    variables |= {name: (("bed", "year")[: own.ndim], own) for name, own in values.items()}
    named = list(labels) if labels is not None else [bed.name for bed in beds]
    found = run_dataset(
        variables,
        coords={
            "bed": ("bed", [*map(letters, range(len(beds)))], {"long_name": "letter of the bed"}),
            "year": (
                "year",
                [day.year for day in years.starts],
                {"long_name": "calendar year of the first day"},
            ),
            "label": ("bed", named, {"long_name": "what sets the bed apart"}),
        },
        attrs={
            "title": "Comparison of beds",
            "bed_descriptions": [bed_text(bed) for bed in beds],
            "watering": [bed.watering.when for bed in beds],
            "balance_error": float(values["balance_error"].max()),
            "days_of_a_year": years.days,
            "days_left_out": years.left_out,
            **rests_on(beds, weather),
        },
    )
    statistics = [_over_years(name, values[name]) for name in SPREADS]
    first = np.array(years.starts, dtype="datetime64[ns]")
    words = {"long_name": "first day of the year that was run"}
    return found.assign(ChainMap(*statistics, {"year_start": ("year", first, words)}))


def _over_years(name: str, values: NDArray[Any]) -> dict[str, Any]:
    """Mean, percentiles, least and most of the years as variables, with their attributes."""
    import xarray as xr

    sample = np.asarray(values, dtype=np.float64)
    mean = xr.Variable(("bed", "year"), sample).mean("year").to_numpy()
    sample = _endless(name, sample)
    found = {ending: (percentile(sample, at), words) for ending, (at, words) in _SHARES.items()}
    own = attributes(name)
    return {
        f"{name}_{ending}": (
            "bed",
            array,
            {**own, "long_name": f"{own['long_name']}, {words} of the years"},
        )
        for ending, (array, words) in {"mean": (mean, "mean"), **found}.items()
    }


def _endless(name: str, values: Any) -> Any:
    """Values with years of fewer than two refills longer than all others, not missing."""
    return np.where(np.isnan(values), np.inf, values) if name == "interval_median" else values


# --- ranges -----------------------------------------------------------------------------------


# Years that each set of values is run through, spread from the wettest to the driest [1]; ours
YEARS_DRAWN: Final = 10


class Ranges(NamedTuple):
    """For each bed the ranges of its headlines, and with how many sets it fails its plants."""

    beds: tuple[dict[str, Range], ...]
    fails: tuple[int, ...]
    picks: tuple[int, ...]  # the bed chosen with each set; empty for a single bed


_HEADLINES: Final = {  # name, reading, its factor
    "refills_mean": ("refill_count", 1.0),
    "days_between_refills_median": ("interval_median", 1.0),
    "refill_litres_mean": ("refill_volume", 1e3),
    "wet_days_mean": ("wet_days", 1.0),
    "dry_days_mean": ("limited_days", 1.0),
}


def compare_ranges(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    comparison: xr.Dataset,
    *,
    years: Years | None = None,
    progress: Callable[[int], None] | None = None,
) -> Ranges:
    """Headlines of each bed over the drawn beds, and whether the choice hangs on them.

    All beds have the same set of values at a time. A set is run through some of the years; what the
    bed as described has more in all of them, or less, is added. `progress` is told how many beds
    are done.
    """
    some = some_years(weather, whole_years(weather) if years is None else years, YEARS_DRAWN)
    alike: dict[Any, list[int]] = {}  # beds whose plants and place are the same share demands
    for at, bed in enumerate(beds):
        alike.setdefault((bed.plantings, bed.surface, bed.site.exposure), []).append(at)
    found: dict[int, dict[str, Any]] = {}
    for group in alike.values():
        known: dict[Any, Demand] = {}
        for at in group:
            drawn = drawn_beds(repeated(beds[at])[0])
            demand = drawn_demand(drawn, weather, known)
            every = readings_of(drawn.beds, weather, some, demand=demand)
            own = {r: _over_some(r, every[r], comparison, at) for r, _ in _HEADLINES.values()}
            found[at] = own
            if progress is not None:
                progress(len(found))
    rows = [found[at] for at in range(len(beds))]
    wet, dry, fills, water = (
        np.stack([row[r] for row in rows], axis=-1)  # set, bed
        for r in ("wet_days", "limited_days", "refill_count", "refill_volume")
    )
    figures = figures_of(comparison)._replace(wet=wet, dry=dry, fills=fills, water=water)
    score, fails = scores(figures), failing(figures)
    return Ranges(
        tuple(_ranges(row, fails[:, at]) for at, row in enumerate(rows)),
        tuple(fails[1:].sum(axis=0).tolist()),
        tuple(int(ordered(*each)[0][0]) for each in zip(score[1:], fails[1:], strict=True))
        if len(beds) > 1
        else (),
    )


def _ranges(values: Mapping[str, Any], fails: NDArray[np.bool_]) -> dict[str, Range]:
    """Ranges of one bed; what is poured in is told of the sets with which it keeps its plants."""
    found = {}
    for name, (reading, size) in _HEADLINES.items():
        poured = reading not in ("wet_days", "limited_days")
        found[name] = range_of(values[reading] * size, works=~fails if poured else None)
    return found


def _over_some(reading: str, values: NDArray[Any], comparison: xr.Dataset, bed: int) -> Any:
    """A headline of one bed with each set, from the readings of some years, (set, year)."""
    if reading == "interval_median":
        return percentile(_endless(reading, values), 0.5)
    mean = values.mean(axis=-1)
    return np.maximum(mean + (float(comparison[f"{reading}_mean"][bed]) - mean[0]), 0.0)
