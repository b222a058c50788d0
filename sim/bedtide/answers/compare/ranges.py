"""The headlines of a comparison over the set of doubtful beds, and what is said of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bedtide.answers.compare.choice import choose
from bedtide.answers.compare.run import compare
from bedtide.bed import Bed
from bedtide.many import Doubt, Years, doubtful_beds, ranges_of

if TYPE_CHECKING:
    import xarray as xr


from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING

from bedtide.report.doubt_words import doubt_figures, matters_line, range_text
from bedtide.report.words import plain_table
from bedtide.units import System, volume_text

if TYPE_CHECKING:
    from bedtide.many import Doubt


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


_RARELY = "rarely"


def compare_range_figures(ranges: ComparedRanges, letters: list[str]) -> dict[str, Any]:
    """Ranges of a comparison under stable keys, for ``range`` of its figures.

    Parameters
    ----------
    ranges : ComparedRanges
        As :func:`bedtide.answers.compare.ranges.compare_ranges` gives them.
    letters : list of str
        Letters of the beds.

    Returns
    -------
    dict
        ``beds`` with, for each letter, what `doubt_figures` gives of each figure; ``choices``, the
        letter chosen with each of the eleven sets of values.
    """
    return {
        "beds": {
            letter: {key: doubt_figures(doubt) for key, doubt in bed.items()}
            for letter, bed in zip(letters, ranges.beds, strict=True)
        },
        "choices": [letters[pick] for pick in ranges.picks],
    }


def compare_range_lines(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """How sure a comparison is: the choice under every set of values, each bed as ranges.

    Parameters
    ----------
    figures : mapping
        As `compare_summary` gives them, with ``range``.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines.
    """
    ranges = figures["range"]
    small = "US gal" if units == "us" else "L"
    rows = []
    for letter, bed in ranges["beds"].items():
        litres = range_text(bed["refill_litres_mean"], lambda v: _number(v, units))
        rows.append(
            [
                letter,
                range_text(bed["refills_mean"], _count),
                _between(bed["days_between_refills_median"]),
                litres,
                range_text(bed["wet_days_mean"], _count),
                range_text(bed["dry_days_mean"], _count),
            ]
        )
    head = ["Bed", "Fills", "Days between", f"Water {small}", "Wet days", "Dry days"]
    lines = [
        "How sure: the same with mix, plants and exposure at the low and the high end of what is "
        "published, one thing at a time:",
        *plain_table(head, rows),
    ]
    first = ranges["beds"][figures["choice"] or next(iter(ranges["beds"]))]
    lines += matters_line(first["refills_mean"])
    return [*lines, *_choices(ranges["choices"], figures["choice"])]


def _choices(choices: list[str], choice: str | None) -> list[str]:
    """Whether the choice stays when the values do not."""
    if not choices or choice is None:
        return []
    count = Counter(choices)
    if len(count) == 1:
        return [f"The choice stays {choice} with all {len(choices)} sets of values."]
    others = ", ".join(
        f"{letter} with {number}" for letter, number in count.most_common() if letter != choice
    )
    return [
        f"The choice hangs on what the mix and the plants are like: {choice} with {count[choice]} "
        f"of {len(choices)} sets of values, {others}."
    ]


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
