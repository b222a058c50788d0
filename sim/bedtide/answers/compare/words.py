"""What is printed of a comparison, from the figures of `compare_summary` alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

import numpy as np

from bedtide.answers.compare.choice_words import choice_sentence, count_text, each_text, fills_text
from bedtide.report.words import CAUTION, days_text, month_name, plain_table
from bedtide.units import System, mass_text, volume_text

__all__ = ["between_text", "compare_report"]

_POUND, _FOOT = 0.45359237, 0.3048  # kg, m
_SHOWN = 0.05  # L; water out of reach below this is not worth a word
_SURE = 9  # years that a 10th and a 90th percentile need to lie inside the range


def compare_report(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """All that `bedtide compare` prints, the answer first.

    Parameters
    ----------
    figures : mapping
        As `compare_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    beds = figures["beds"]
    return [
        choice_sentence(figures, units=units),
        *_beaten_line(figures),
        "",
        *_measures(beds, units),
        "",
        *_behaviour(figures, units),
        "",
        *_notes(figures, units),
        _run_line(figures),
        *_assumed(figures["assumptions"]),
        "Not weighed: room for roots beyond that, food, cost, looks.",
        "All of it is for typical values of the mix and the plants; yours will differ, by more "
        "than beds that look alike here differ from one another.",
        "",
        CAUTION,
    ]


def between_text(bed: Mapping[str, Any]) -> str:
    """Days between fills of one bed: median, and the range of 8 in 10 years.

    Parameters
    ----------
    bed : mapping
        One bed of the figures.

    Returns
    -------
    str
        Such as ``"9 (7 to 12)"``; ``"9 (7 up)"`` where in the long years there were not two
        fills; ``"rarely"`` where there were not in most.
    """
    middle, low, high = (bed[f"days_between_refills_{name}"] for name in ("median", "p10", "p90"))
    if middle is None:
        return "rarely"
    if high is None:
        return f"{_whole(middle)} ({_whole(low)} up)"
    if _whole(low) == _whole(high):
        return f"{_whole(middle)}"
    return f"{_whole(middle)} ({_whole(low)} to {_whole(high)})"


def _measures(beds: list[dict[str, Any]], units: System) -> list[str]:
    """Table of what the beds are."""
    small, mass, load = ("US gal", "lb", "lb/ft2") if units == "us" else ("L", "kg", "kg/m2")
    size = _POUND / _FOOT**2 if units == "us" else 1.0
    rows = []
    for bed in beds:
        held = bed["reservoir_litres"] - bed["reservoir_litres_out_of_reach"]
        rows.append(
            [
                f"{bed['bed']}  {bed['label']}",
                f"{bed['mix_above_reservoir_cm'] / (2.54 if units == 'us' else 1.0):.0f}",
                _number(held, units),
                _number(bed["mix_litres"], units),
                mass_text(bed["full_kg"], units).split(" ")[0],
                f"{bed['full_kg_per_m2'] / size:.0f}",
            ]
        )
    depth = "in" if units == "us" else "cm"
    head = ["Bed", f"Mix {depth}", f"Holds {small}", f"Mix {small}", f"Full {mass}", f"Full {load}"]
    return plain_table(head, rows)


def _behaviour(figures: Mapping[str, Any], units: System) -> list[str]:
    """Table of how the beds do, in the mean year unless it says otherwise."""
    small = "US gal" if units == "us" else "L"
    head = [
        "Bed",
        "Fills",
        "Days between",
        f"Water {small}",
        "From rain",
        "Wet days",
        "Longest wet",
        "Dry: empty",
        "Dry: wick",
        "",
    ]
    rows = []
    for bed in figures["beds"]:
        share = bed["rain_share_percent_median"]
        rows.append(
            [
                bed["bed"],
                fills_text(bed),
                between_text(bed),
                _number(bed["refill_litres_mean"], units),
                "-" if share is None else f"{share:.0f} %",
                count_text(bed["wet_days_mean"]),
                f"{bed['longest_wet_spell_days_max']:.0f}",
                count_text(bed["dry_days_reservoir_empty_mean"]),
                count_text(bed["dry_days_wick_limited_mean"]),
                "<- choice" if bed["bed"] == figures["choice"] else "beaten" * bed["beaten"],
            ]
        )
    return plain_table(head, rows)


def _notes(figures: Mapping[str, Any], units: System) -> list[str]:
    """What the columns mean."""
    depth = "in" if units == "us" else "cm"
    each, years = each_text(figures), figures["years"]
    spans = [between_text(bed) for bed in figures["beds"]]
    limit = figures["wet_air_limit_percent"]
    around = (
        f"8 in 10 of the {years} years lie in the brackets"
        if years >= _SURE
        else f"in brackets the shortest and the longest of {years} years"
        if years > 1
        else "one year"
    )
    lines = [
        f"Fills, water, wet and dry days are {each}, in the mean of {years} "
        f"{'year' if years == 1 else 'years'}. Days between fills: median; {around}.",
        f"Wet: under {limit:.0f} % air among the roots; the longest such spell of the whole record "
        "in days. Dry: plants get under 90 % of their need, with the reservoir empty, or with "
        "water in it that the mix lifts too slowly.",
        f"Mix {depth}: depth of mix above the reservoir. Full: every pore full and water up to the "
        "rim, as a blocked overflow and a storm leave it; water, dry mix and what forms the "
        "reservoir, without box, liner, plants, mulch, snow and people.",
    ]
    dead = [bed for bed in figures["beds"] if bed["reservoir_litres_out_of_reach"] >= _SHOWN]
    if dead:
        lost = ", ".join(
            f"{volume_text(bed['reservoir_litres_out_of_reach'] / 1e3, units)} in {bed['bed']}"
            for bed in dead
        )
        lines.append(f"Not in Holds, for nothing that wicks reaches it: {lost}.")
    if any("up" in span for span in spans):
        lines.append("up: or longer; in some years there were not two fills to count days between.")
    if "rarely" in spans:
        lines.append("rarely: in most years there were not two fills to count days between.")
    return lines


def _beaten_line(figures: Mapping[str, Any]) -> list[str]:
    names = [bed["bed"] for bed in figures["beds"] if bed["beaten"]]
    if not names:
        return []
    listed = ", ".join(names[:-1]) + f" and {names[-1]}" if len(names) > 1 else names[0]
    return [
        f"{listed} {'is' if len(names) == 1 else 'are each'} beaten by another bed: no better in "
        "fills, wet days, dry days, weight, water or room for roots, and worse in at least one."
    ]


def _run_line(figures: Mapping[str, Any]) -> str:
    first, last = figures["first_days"][0], figures["first_days"][-1]
    begin = datetime.date.fromisoformat(first)
    years, days = figures["years"], figures["days_of_a_year"]
    place = figures["weather_place"] or figures["weather_source"]
    which = f"from {first[:4]} to {last[:4]}" if years > 1 else f"{first[:4]}"
    left = figures["days_left_out"]
    out = f"; {days_text(left)} of the record belong to no whole one" if left else ""
    return (
        f"Weather: {place}, {years} {'run' if years == 1 else 'runs'} of {days} days, each by "
        f"itself from {begin.day} {month_name(begin.month)}, {which}{out}."
    )


def _assumed(assumptions: list[str]) -> list[str]:
    if not assumptions:
        return ["Assumed: nothing; all days rest on readings."]
    return ["Assumed:", *(f"  {sentence}" for sentence in assumptions)]


def _number(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units).split(" ")[0]


def _whole(days: float) -> int:
    """Nearest whole number, a half upward."""
    return int(np.floor(days + 0.5))
