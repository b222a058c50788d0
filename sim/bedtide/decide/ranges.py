"""The headlines of a season, of a comparison and of a stay away over the set of doubtful beds."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bedtide.balance import run_many, season_dataset
from bedtide.bed import Bed
from bedtide.decide.away import away
from bedtide.decide.choice import choose
from bedtide.decide.compare import compare
from bedtide.decide.doubt import PARAMETERS, Doubt, doubtful_beds, ranges_of
from bedtide.decide.leave_dates import away_calendar
from bedtide.decide.statistics import percentile
from bedtide.decide.years import Years
from bedtide.readings import dryness, refills, wetness
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "SELDOM",
    "ComparedRanges",
    "away_ranges",
    "compare_ranges",
    "season_ranges",
    "with_calendar_range",
]

SELDOM = 0.1
"""Share of the cases, or days, on which a mix may lift too slowly and the bed still be said to
work [1]; ours."""


def away_ranges(
    bed: Bed, weather: xr.Dataset, leave: datetime.date, *, days: int, level: float = 1.0
) -> dict[str, Doubt]:
    """Ranges of the headlines of a stay away.

    Answers: how sure is it that the bed lasts that long.

    Parameters
    ----------
    bed : Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    leave : date
        First day away.
    days : int
        Days away [d].
    level : float, default 1.0
        Share of the store on the morning of leaving [1].

    Returns
    -------
    dict of Doubt
        ``days_safe``, ``days_middle``, ``days_to_empty`` (its median) [d], ``cases_lasting`` [1].
        Beds that fail their plants in more than one case of ten even filled every morning stay
        out of the range. Takes eleven times as long as one stay.
    """
    rows, works = [], []
    for case in doubtful_beds(bed):
        stay = away(case, weather, leave, days=days, level=level, measures=[]).isel(measure=0)
        rows.append(
            {
                "days_safe": float(stay["days_safe"]),
                "days_middle": float(stay["days_middle"]),
                "days_to_empty": float(percentile(stay["days_to_empty"].to_numpy(), 0.5)),
                "cases_lasting": float(stay["cases_lasting"]),
            }
        )
        works.append(bool((stay["days_short_anyway"] > 0).mean() <= SELDOM))
    return ranges_of(rows, works=works)


def with_calendar_range(
    calendar: xr.Dataset, bed: Bed, weather: xr.Dataset, *, level: float, year: int | None = None
) -> xr.Dataset:
    """A calendar with the range of its safe days.

    Answers: how sure are the days that each date is safe for.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`away_calendar` gives it for the bed.
    bed : Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    level : float
        Share of the store on the morning of leaving [1].
    year : int, optional
        Year of leaving.

    Returns
    -------
    Dataset, dims (leave, year)
        With ``days_safe_low``, ``days_safe_high`` (leave) [d] over the beds of the set that work,
        one parameter at a time at an end.
    """
    single = doubtful_beds(bed)[1 : 1 + 2 * len(PARAMETERS)]
    found = [calendar, *(away_calendar(case, weather, level=level, year=year) for case in single)]
    if _keeps(calendar):
        found = [each for each in found if _keeps(each)]
    safe = np.stack([each["days_safe"].to_numpy() for each in found])
    values = {"days_safe_low": safe.min(axis=0), "days_safe_high": safe.max(axis=0)}
    return calendar.assign(
        {name: ("leave", array, attributes(name)) for name, array in values.items()}
    )


def _keeps(calendar: xr.Dataset) -> bool:
    """Whether a bed filled every morning keeps its plants in nearly all cases with plants."""
    planted = calendar["plantings_standing"].to_numpy() > 0
    anyway = calendar["days_short_anyway"].to_numpy()[planted]
    cases = anyway[~np.isnan(anyway)]
    return bool(cases.size == 0 or (cases > 0).mean() <= SELDOM)


class ComparedRanges(NamedTuple):
    """Ranges of a comparison.

    Attributes
    ----------
    beds : tuple of dict of Doubt
        For each bed: ``refills_mean``, ``days_between_refills_median`` [d],
        ``refill_litres_mean``, ``wet_days_mean``, ``dry_days_mean``.
    picks : tuple of int
        For each of the eleven sets of values, the number of the bed that would be chosen; empty
        for a single bed.
    """

    beds: tuple[dict[str, Doubt], ...]
    picks: tuple[int, ...]


def compare_ranges(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    *,
    years: Years | None = None,
    progress: Callable[[int], None] | None = None,
) -> ComparedRanges:
    """Ranges of the main figures of each bed, and whether the choice hangs on them.

    Answers: would another bed be chosen if mix and plants were not the typical ones.

    Parameters
    ----------
    beds : sequence of Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    years : Years, optional
        Which days to run, as :func:`compare` takes them.
    progress : callable, optional
        Told the number of each set of values as it begins.

    Returns
    -------
    ComparedRanges
        All beds have the same of the eleven sets of values at a time. Takes eleven times as long
        as the comparison.
    """
    sets = list(zip(*(doubtful_beds(bed) for bed in beds), strict=True))
    rows: list[list[dict[str, Any]]] = [[] for _ in beds]
    picks = []
    for number, case in enumerate(sets):
        if progress is not None:
            progress(number)
        found = compare(case, weather, years=years)
        for b, row in enumerate(rows):
            one = found.isel(bed=b)
            row.append(
                {
                    "refills_mean": float(one["refill_count_mean"]),
                    "days_between_refills_median": float(one["interval_median_median"]),
                    "refill_litres_mean": float(one["refill_volume_mean"]) * 1e3,
                    "wet_days_mean": float(one["wet_days_mean"]),
                    "dry_days_mean": float(one["limited_days_mean"]),
                }
            )
        if len(beds) > 1:
            picks.append(choose(found).pick)
    return ComparedRanges(tuple(ranges_of(row) for row in rows), tuple(picks))


def season_ranges(
    bed: Bed, weather: xr.Dataset, first: datetime.date, last: datetime.date
) -> dict[str, Doubt]:
    """Ranges of the headlines of a season.

    Answers: how sure is it that the bed needs filling so often.

    Parameters
    ----------
    bed : Bed
        With typical values.
    weather : Dataset, dims (time,)
        The record.
    first, last : date
        First and last day of the season, both included.

    Returns
    -------
    dict of Doubt
        ``days_between_refills_median`` [d], ``refills``, ``refill_litres``, ``wet_days``,
        ``dry_days``. Beds whose mix lifts too slowly on more than one day of ten stay out of the
        range.
    """
    days = (last - first).days + 1
    beds = doubtful_beds(bed)
    run = run_many(beds, weather, [first], days=days)
    seasons = [season_dataset(run, weather, column=at) for at in range(len(beds))]
    return ranges_of(
        [_headlines(season) for season in seasons], works=[_works(season) for season in seasons]
    )


def _works(season: xr.Dataset) -> bool:
    """Whether the mix lifts enough on nearly all days."""
    dry = dryness(season)
    return bool(float(dry["wick_days"]) <= SELDOM * float(dry["demand_days"]))


def _headlines(season: xr.Dataset) -> dict[str, Any]:
    """Headlines of one season under the keys of its summary."""
    filled, wet, dry = refills(season), wetness(season), dryness(season)
    middle = float(filled["interval_median"])
    return {
        "days_between_refills_median": None if np.isnan(middle) else middle,
        "refills": float(filled["refill_count"]),
        "refill_litres": float(filled["refill_volume"]) * 1e3,
        "wet_days": float(wet["wet_days"]),
        "dry_days": float(dry["limited_days"]),
    }
