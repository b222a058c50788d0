"""A season and a comparison told as ranges, from their figures alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.show.doubt_words import doubt_figures, doubt_lines, matters_line, range_text
from bedtide.show.tables import plain_table
from bedtide.show.words import when_text, years_of_run
from bedtide.units import System, volume_text

if TYPE_CHECKING:
    from bedtide.decide import ComparedRanges, Doubt

__all__ = [
    "compare_range_figures",
    "compare_range_lines",
    "season_range_figures",
    "season_range_report",
]

_TYPICAL = "All of it is for typical values of the mix and the plants"
_RARELY = "rarely"


def season_range_figures(ranges: Mapping[str, Doubt]) -> dict[str, Any]:
    """Ranges of a season under stable keys, for ``range`` of its summary.

    Parameters
    ----------
    ranges : mapping of Doubt
        As :func:`bedtide.decide.season_ranges` gives them.

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


def compare_range_figures(ranges: ComparedRanges, letters: list[str]) -> dict[str, Any]:
    """Ranges of a comparison under stable keys, for ``range`` of its figures.

    Parameters
    ----------
    ranges : ComparedRanges
        As :func:`bedtide.decide.compare_ranges` gives them.
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
