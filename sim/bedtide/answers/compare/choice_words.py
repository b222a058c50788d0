"""The bed to take, in one sentence with its reason and its doubt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bedtide.answers.compare.choice import ALLOWANCE, ROOM
from bedtide.report.doubt_words import range_text
from bedtide.report.words import days_text, for_typical_values
from bedtide.units import System, length_text, mass_text, volume_text

__all__ = ["choice_sentence", "count_text", "each_text", "fills_text"]

_YEAR = 365
_BETTER = {
    "room": ("was filled less", "was {} filled less"),
    "want": ("did better", "did {} do better"),
    "fills": ("was filled less", "was {} filled less"),
    "weight": ("was filled less", "was {} filled less"),
    "water": ("took less", "did {} take less"),
    "none": ("was filled less", "was {} filled less"),
}


def choice_sentence(figures: Mapping[str, Any], *, units: System = "metric") -> str:
    """The bed to take in one sentence, with its reason and its doubt.

    Parameters
    ----------
    figures : mapping
        As `compare_summary` returns them, with ``range`` where it was asked for.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        The sentence; for a single bed how often it is filled.
    """
    beds = {bed["bed"]: bed for bed in figures["beds"]}
    each = each_text(figures)
    if figures["choice"] is None:
        (only,) = beds.values()
        return f"{only['label']}: {fills_text(only)} fills {each}, {_want_text(only, each)}."
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
            f"the next, {other}, has {_want(rival)}{_filled_instead(pick, rival, figures)}"
        )
    elif reason == "fills":
        words = (
            f"{among}, it is filled the least, {_times(pick, figures)} {each}; the next, "
            f"{other}, is filled {_times(rival, figures)}"
        )
    elif reason == "weight":
        words = (
            f"{among}, none is filled less, {_times(pick, figures)} {each}, and of these it is the "
            f"lightest, {mass_text(pick['full_kg'], units)} full to the rim; the next, {other}, "
            f"weighs {mass_text(rival['full_kg'], units)}"
        )
    elif reason == "water":
        litres = _litres(pick["refill_litres_mean"], units)
        words = (
            f"{among}, none is filled less, {_times(pick, figures)} {each}, or is lighter, and it "
            f"takes the least water, {litres} {each}; the next, {other}, takes "
            f"{_litres(rival['refill_litres_mean'], units)}"
        )
    else:
        name = f"{name} or {other}"
        words = (
            "in fills, days without air or water, weight and water poured in they are alike, as "
            "far as this can tell"
        )
    sentence = f"Take {name}: {words}, {_doubt(figures)}{_even_so(pick, each)}."
    return sentence if "range" in figures else for_typical_values(sentence)


def each_text(figures: Mapping[str, Any]) -> str:
    """Return "a year", or "a season" where only part of each year was run.

    Parameters
    ----------
    figures : mapping
        As `compare_summary` returns them.

    Returns
    -------
    str
        To stand behind a count.
    """
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
        f"{each_text(figures)}"
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


def _filled_instead(
    pick: Mapping[str, Any], rival: Mapping[str, Any], figures: Mapping[str, Any]
) -> str:
    """What the fewest days of want cost in fills, or save."""
    if fills_text(pick) == fills_text(rival):
        return ""
    return f" and is filled {_times(rival, figures)} against {_times(pick, figures)}"


def _times(bed: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """How often it is filled: a number, or a range with the typical number behind it."""
    once = fills_text(bed) == "1"
    typical = "once" if once else f"{fills_text(bed)} times"
    if "range" not in figures:
        return typical
    reach = range_text(figures["range"]["beds"][bed["bed"]]["refills_mean"], count_text)
    return typical if reach == fills_text(bed) else f"{reach} times ({fills_text(bed)} typically)"


def fills_text(bed: Mapping[str, Any]) -> str:
    """Mean number of fills as it is printed.

    Parameters
    ----------
    bed : mapping
        One bed of the figures.

    Returns
    -------
    str
        The number.
    """
    return count_text(bed["refills_mean"])


def _litres(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units)


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
