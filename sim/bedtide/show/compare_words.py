"""What is printed of a comparison, from the figures of `compare_summary` alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

import numpy as np

from bedtide.decide import ALLOWANCE, ROOM
from bedtide.show.tables import plain_table
from bedtide.show.words import CAUTION, days_text, month_name
from bedtide.units import System, length_text, mass_text, volume_text

__all__ = ["between_text", "choice_sentence", "compare_report", "count_text"]

_POUND, _FOOT = 0.45359237, 0.3048  # kg, m
_SURE = 9  # years that a 10th and a 90th percentile need to lie inside the range
_YEAR = 365
_BETTER = {
    "room": ("was filled less", "was {} filled less"),
    "want": ("did better", "did {} do better"),
    "fills": ("was filled less", "was {} filled less"),
    "weight": ("was filled less", "was {} filled less"),
    "water": ("took less", "did {} take less"),
    "none": ("was filled less", "was {} filled less"),
}


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


def choice_sentence(figures: Mapping[str, Any], *, units: System = "metric") -> str:
    """The bed to take in one sentence, with its reason and its doubt.

    Parameters
    ----------
    figures : mapping
        As `compare_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        The sentence; for a single bed how often it is filled.
    """
    beds = {bed["bed"]: bed for bed in figures["beds"]}
    each = _each(figures)
    if figures["choice"] is None:
        (only,) = beds.values()
        return f"{only['label']}: {_fills(only)} fills {each}, {_want_text(only, each)}."
    pick, rival = beds[figures["choice"]], beds[figures["choice_rival"]]
    name, other = f"{pick['bed']} ({pick['label']})", rival["bed"]
    among = _among(figures, units)
    reason = figures["choice_reason"]
    if reason == "room":
        words = (
            f"it alone gives the roots {length_text(ROOM, units)} of mix or more, as is common "
            f"practice; the next, {other}, gives "
            f"{length_text(rival['mix_above_reservoir_cm'] / 100, units)}"
        )
    elif reason == "want":
        words = (
            f"its roots lack air or water on {days_text(_want(pick))} {each}, the fewest of all; "
            f"the next, {other}, has {_want(rival)}{_filled_instead(pick, rival)}"
        )
    elif reason == "fills":
        words = (
            f"{among}, it is filled the least, {_times(pick)} {each}; the next, {other}, is filled "
            f"{_times(rival)}"
        )
    elif reason == "weight":
        words = (
            f"{among}, none is filled less, {_times(pick)} {each}, and of these it is the "
            f"lightest, {mass_text(pick['full_kg'], units)} full to the rim; the next, {other}, "
            f"weighs {mass_text(rival['full_kg'], units)}"
        )
    elif reason == "water":
        words = (
            f"{among}, none is filled less, {_times(pick)} {each}, or is lighter, and it takes the "
            f"least water, {_litres(pick['refill_litres_mean'], units)} {each}; the next, {other}, "
            f"takes {_litres(rival['refill_litres_mean'], units)}"
        )
    else:
        name = f"{name} or {other}"
        words = (
            "in fills, days without air or water, weight and water poured in they are alike, as "
            "far as this can tell"
        )
    return f"Take {name}: {words}, {_doubt(figures)}{_even_so(pick, each)}."


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
                _fills(bed),
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
    each, years = _each(figures), figures["years"]
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


def _each(figures: Mapping[str, Any]) -> str:
    return "a year" if figures["days_of_a_year"] == _YEAR else "a season"


def _want(bed: Mapping[str, Any]) -> int:
    """Whole days without enough air or water, as the choice counts them."""
    return round(bed["wet_days_mean"]) + round(bed["dry_days_mean"])


def _want_text(bed: Mapping[str, Any], each: str) -> str:
    return (
        f"its roots lack air on {count_text(bed['wet_days_mean'])} and water on "
        f"{count_text(bed['dry_days_mean'])} days {each}"
    )


def _even_so(bed: Mapping[str, Any], each: str) -> str:
    """What to add where the best is still not good."""
    if _want(bed) <= ALLOWANCE:
        return ""
    return f"; even so, {_want_text(bed, each)}"


def _among(figures: Mapping[str, Any], units: System) -> str:
    """Which beds the choice was made from."""
    beds = figures["beds"]
    roomy = [bed for bed in beds if bed["mix_above_reservoir_cm"] >= ROOM * 100 - 0.5] or beds
    limit = min(_want(bed) for bed in roomy) + ALLOWANCE
    room = f" with {length_text(ROOM, units)} of mix or more," if len(roomy) < len(beds) else ""
    return (
        f"of the beds{room} whose roots lack air or water on no more than {days_text(limit)} "
        f"{_each(figures)}"
    )


def _doubt(figures: Mapping[str, Any]) -> str:
    """In how many years the rival did better than the choice in what decided."""
    other, years = figures["choice_rival"], figures["years"]
    said, asked = _BETTER[figures["choice_reason"]]
    worse = years - figures["choice_years_no_worse"]
    if years == 1:
        return "and one year says little"
    if worse == 0:
        return f"and in none of {years} years {asked.format(other)}"
    return f"but {other} {said} in {worse} of {years} years"


def _filled_instead(pick: Mapping[str, Any], rival: Mapping[str, Any]) -> str:
    """What the fewest days of want cost in fills, or save."""
    if _fills(pick) == _fills(rival):
        return ""
    return f" and is filled {_times(rival)} against {_times(pick)}"


def _times(bed: Mapping[str, Any]) -> str:
    fills = bed["refills_mean"]
    return "once" if _fills(bed) == "1" else f"{count_text(fills)} times"


def _fills(bed: Mapping[str, Any]) -> str:
    return count_text(bed["refills_mean"])


def _litres(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units)


def _number(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units).split(" ")[0]


def count_text(number: float) -> str:
    """Mean count as it is printed: one decimal below ten, unless it is whole.

    Parameters
    ----------
    number : float
        Of fills or days [1].

    Returns
    -------
    str
        Such as ``"4.1"``, ``"4"`` and ``"14"``.
    """
    if abs(number - round(number)) < 0.05 or number >= 10:
        return f"{number:.0f}"
    return f"{number:.1f}"


def _whole(days: float) -> int:
    """Nearest whole number, a half upward."""
    return int(np.floor(days + 0.5))
