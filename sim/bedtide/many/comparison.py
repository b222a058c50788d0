"""Many beds through every year of a record: what sets them apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, asking, readable, rests_on, run_dataset, run_many
from bedtide.bed import (
    Bed,
    bed_text,
    brimful_weight,
    crown_height,
    mix_volume,
    surface_height,
)
from bedtide.errors import FieldError
from bedtide.many.choice import ordered, scores
from bedtide.many.doubt import DRAWS, Range, drawn_beds, drawn_demand, ranges_of
from bedtide.many.variants import letters
from bedtide.many.years import Years, repeated, some_years, undated, whole_years
from bedtide.readings import all_readings
from bedtide.statistics import HIGH, LOW, percentile

if TYPE_CHECKING:
    import xarray as xr

_AT_ONCE = 600_000  # bed-days run together [1]: what their series take stays below half a gigabyte
SPREADS = (
    "refill_count", "interval_median", "refill_volume", "rain_share", "wet_days",
    "longest_wet_spell", "air_lowest", "limited_days", "empty_days", "wick_days",
    "transpiration_ratio", "evaporation_total", "transpiration_total", "rain_in_total",
    "overflow_total",
)  # fmt: skip
"""Readings of which the years' mean, median, 10th and 90th percentile, least and most are given."""
_OF_A_YEAR: Final = (
    *SPREADS, "days", "refill_each", "first_refill", "interval_count", "rooted_days",
    "wet_days_top", "wet_spells", "excess_water", "demand_days", "longest_dry_spell", "rain_total",
    "et0_total", "rim_spill_total", "balance_error",
)  # fmt: skip
_STATISTICS: Final = {  # of the years: which share of them lies below, in words
    "median": (0.5, "median"),
    "p10": (LOW, "10th percentile"),
    "p90": (HIGH, "90th percentile"),
    "min": (0.0, "least"),
    "max": (1.0, "most"),
}


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
    import xarray as xr

    chosen = whole_years(weather) if years is None else years
    beds, said = zip(*(repeated(bed) for bed in beds), strict=True)
    at_once = max(1, _AT_ONCE // max(1, len(chosen.starts) * chosen.days))
    parts = [
        readings_of(beds[first : first + at_once], weather, chosen, progress=progress)
        for first in range(0, len(beds), at_once)
    ]
    found = _told(beds, weather, chosen, xr.concat(parts, "bed"), labels)
    found.attrs["assumptions"] += list(dict.fromkeys(line for lines in said for line in lines))
    return found


def readings_of(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    years: Years,
    *,
    demand: Sequence[Demand] | None = None,
    progress: Callable[[int], None] | None = None,
) -> xr.Dataset:
    """Readings of some beds, dims (bed, year), and their measures, (bed,)."""
    run = run_many(beds, weather, years.starts, days=years.days, demand=demand, progress=progress)
    runs = readable(run, weather)
    area = runs["plan_area"]
    return all_readings(runs)[[*_OF_A_YEAR]].assign(
        reservoir_volume=runs["capacity"].max(("time", "year")) * area,
        dead_volume=runs["dead_storage"] * area,
        plan_area=area,
    )


def _told(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    years: Years,
    readings: xr.Dataset,
    labels: Sequence[str] | None,
) -> xr.Dataset:
    """The readings with statistics of the years, measures of the beds, names and what was run."""
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
    names = list(labels) if labels is not None else [bed.name for bed in beds]
    calendar, first_of = "calendar year of the first day", "first day of the year that was run"
    found = run_dataset(
        {**{name: ("bed", own) for name, own in measures.items()}, **readings},
        coords={
            "bed": ("bed", [*map(letters, range(len(beds)))], {"long_name": "letter of the bed"}),
            "year": ("year", [day.year for day in years.starts], {"long_name": calendar}),
            "label": ("bed", names, {"long_name": "what sets the bed apart"}),
        },
        attrs={
            "title": "Comparison of beds",
            "bed_descriptions": [bed_text(bed) for bed in beds],
            "watering": [bed.watering.when for bed in beds],
            "balance_error": float(readings["balance_error"].max()),
            "days_of_a_year": years.days,
            "days_left_out": years.left_out,
            **rests_on(beds, weather),
        },
    )
    starts = np.array(years.starts, dtype="datetime64[ns]")
    statistics = {k: v for name in SPREADS for k, v in _over_years(found[name]).items()}
    return found.assign({**statistics, "year_start": ("year", starts, {"long_name": first_of})})


def _over_years(reading: xr.DataArray) -> dict[str, Any]:
    """Mean, percentiles, least and most of the years as variables, with their attributes."""
    values = reading.to_numpy().astype(np.float64)
    shares, words = zip(*_STATISTICS.values(), strict=True)
    found = (reading.mean("year").values, *percentile(_endless(str(reading.name), values), shares))
    told = zip(("mean", *_STATISTICS), ("mean", *words), found, strict=True)
    name, own = reading.attrs["long_name"], reading.attrs
    return {
        f"{reading.name}_{end}": ("bed", each, own | {"long_name": f"{name}, {word} of the years"})
        for end, word, each in told
    }


def _endless(reading: str, values: Any) -> Any:
    """Values with years of fewer than two refills longer than all others, not missing."""
    return np.where(np.isnan(values), np.inf, values) if reading == "interval_median" else values


# --- ranges -----------------------------------------------------------------------------------


# Years that each set of values is run through, spread from the wettest to the driest [1]; ours
YEARS_DRAWN: Final = 10


@dataclass(frozen=True, kw_only=True)
class Ranges:
    """Ranges of the headlines of each bed, by its letter, and the bed chosen with each set."""

    beds: dict[str, dict[str, Range]]
    fails: dict[str, int]  # with how many sets each fails its plants
    choices: tuple[str, ...]  # empty for a single bed
    years: int  # that each set was run through, at the most

    @property
    def counted(self) -> list[tuple[str, int]]:
        """Beds that were chosen, with how many sets, the most frequent first."""
        return Counter(self.choices).most_common()


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
    plain = undated(beds)
    alike: dict[Any, list[int]] = {}
    for at, bed in enumerate(plain):
        alike.setdefault(asking(bed), []).append(at)
    found = {name: np.empty((DRAWS + 1, len(beds))) for name, _ in _HEADLINES.values()}
    done = 0
    for group in alike.values():
        demand = drawn_demand(drawn_beds(plain[group[0]]), weather)
        for at in group:
            every = readings_of(drawn_beds(plain[at]).beds, weather, some, demand=demand)
            for name, values in found.items():
                values[:, at] = _over_some(every[name], comparison.isel(bed=at))
            done += 1
            if progress is not None:
                progress(done)
    score, names = scores(comparison, found), comparison["bed"].to_numpy().tolist()
    picks = ordered(score).beds[1:, 0].tolist() if len(beds) > 1 else []
    return Ranges(
        beds={
            letter: _ranges({name: v[:, at] for name, v in found.items()}, score.fails[:, at])
            for at, letter in enumerate(names)
        },
        fails=dict(zip(names, score.fails[1:].sum(axis=0).tolist(), strict=True)),
        choices=tuple(names[at] for at in picks),
        years=YEARS_DRAWN,
    )


def _ranges(values: Mapping[str, Any], fails: NDArray[np.bool_]) -> dict[str, Range]:
    """Ranges of one bed; what is poured in is told of the sets with which it keeps its plants."""
    own = {name: values[reading] * size for name, (reading, size) in _HEADLINES.items()}
    roots = {name: own.pop(name) for name in ("wet_days_mean", "dry_days_mean")}
    return ranges_of(own, works=~fails) | ranges_of(roots)


def _over_some(reading: xr.DataArray, bed: xr.Dataset) -> Any:
    """A headline of one bed with each set, from a reading of some years, (set, year)."""
    values = reading.to_numpy()
    if reading.name == "interval_median":
        return percentile(_endless("interval_median", values), 0.5)
    mean = values.mean(axis=-1)
    return np.maximum(mean + (float(bed[f"{reading.name}_mean"]) - mean[0]), 0.0)
