"""The headlines of a season over the set of doubtful beds, and what is said of them."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.balance import run_many, season_dataset
from bedtide.bed import Bed
from bedtide.many import SELDOM, Doubt, doubtful_beds, ranges_of
from bedtide.readings import dryness, refills, wetness

if TYPE_CHECKING:
    import xarray as xr


from collections.abc import Mapping
from typing import TYPE_CHECKING

from bedtide.answers.season.words import when_text, years_of_run
from bedtide.report.doubt_words import doubt_figures, doubt_lines, range_text
from bedtide.units import System, volume_text

if TYPE_CHECKING:
    from bedtide.many import Doubt


_RARELY = "rarely"


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


_TYPICAL = "All of it is for typical values of the mix and the plants"


def season_range_figures(ranges: Mapping[str, Doubt]) -> dict[str, Any]:
    """Ranges of a season under stable keys, for ``range`` of its summary.

    Parameters
    ----------
    ranges : mapping of Doubt
        As :func:`bedtide.answers.season.ranges.season_ranges` gives them.

    Returns
    -------
    dict
        For each headline what `doubt_figures` gives.
    """
    return {key: doubt_figures(doubt) for key, doubt in ranges.items()}


def season_range_report(
    lines: list[str], figures: Mapping[str, Any], *, units: System = "metric"
) -> list[str]:
    """The report of a season with its headline as a range, and what matters most.

    Parameters
    ----------
    lines : list of str
        As `season_report` gives them.
    figures : mapping
        As `season_summary` gives them, with ``range``.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        The range first, then the report for typical values.
    """
    ranges = figures["range"]
    told = doubt_lines(
        ranges["refill_litres"],
        lambda litres: _amount(litres, figures, units),
        what="water poured in" + (" a year" if years_of_run(figures) != 1.0 else ""),
    )
    kept = [line for line in lines if not line.startswith(_TYPICAL)]
    last = "Plan with it, then check the level in the bed with a stick."
    return [
        _season_headline(figures, units),
        *kept[:-2],
        *told,
        last,
        *kept[-2:],
    ]


def _season_headline(figures: Mapping[str, Any], units: System) -> str:
    ranges = figures["range"]
    years = years_of_run(figures)
    fills = range_text(ranges["refills"], lambda value: _count(value / years))
    litres = range_text(ranges["refill_litres"], lambda value: _number(value, units, years))
    unit = "US gal" if units == "us" else "L"
    period = "a year" if years != 1.0 else "in all"
    days = ranges["days_between_refills_median"]
    when = f" {when_text(figures)}" if figures["refills"] else ""
    total = f"{fills} fills, {litres} {unit} {period}"
    if days["low"] is None or figures["days_between_refills_median"] is None:
        return f"Fill this bed{when}: {total}."
    every = range_text(days, _whole)
    middle = _whole(figures["days_between_refills_median"])
    word = "every day" if every == "1" else f"every {every} days"
    return f"Fill this bed {word} ({middle} for typical values){when}: {total}."


def _amount(litres: float, figures: Mapping[str, Any], units: System) -> str:
    return volume_text(litres / years_of_run(figures) / 1e3, units)


def _between(doubt: Mapping[str, Any]) -> str:
    if doubt["low"] is None:
        return _RARELY
    return range_text(doubt, _whole, beyond=_RARELY)


def _number(litres: float, units: System, years: float = 1.0) -> str:
    return volume_text(litres / years / 1e3, units).split(" ")[0]


def _count(number: float) -> str:
    """A mean count: one decimal below ten, unless it is whole."""
    if abs(number - round(number)) < 0.05 or number >= 10:
        return f"{number:.0f}"
    return f"{number:.1f}"


def _whole(days: float) -> str:
    return f"{int(np.floor(days + 0.5))}"
