"""What each change buys, in words and a table, from the figures of `away_summary` alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from bedtide.answers.away.measures import AS_IT_IS
from bedtide.answers.away.parts import SURE, day_text, days_or_more, listed, litres_text
from bedtide.report.words import days_text, plain_table
from bedtide.units import System, mass_text

__all__ = ["change_lines", "measure_label"]


def measure_label(measure: Mapping[str, Any], figures: Mapping[str, Any], units: System) -> str:
    """What a change is called.

    Parameters
    ----------
    measure : mapping
        One of the figures' ``measures``.
    figures : mapping
        All of them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        A few words.
    """
    return " + ".join(
        _part_label(part, measure, figures, units) for part in measure["measure"].split("+")
    )


def _part_label(
    part: str, measure: Mapping[str, Any], figures: Mapping[str, Any], units: System
) -> str:
    if part == "drum":
        return f"{litres_text(figures['drum_litres'], units)} drum on a float valve"
    if part == "visit":
        return f"a neighbour fills it on {day_text(measure['visit_date'])}"
    if part == "shade":
        return f"shade cloth, {figures['shade_percent']:.0f} % of the sun off"
    if part.startswith("harvest "):
        return f"{part.removeprefix('harvest ')} harvested first"
    return {
        AS_IT_IS: "as it is",
        "top up": "filled the day before as well",
        "mulch": "mulch all over",
        "cover": "sheet over the mix, no rain in",
        "open": "cover off, rain in",
        "overflow": "overflow as high as the store",
    }[part]


def change_lines(figures: Mapping[str, Any], units: System) -> list[str]:
    """What the changes buy, or why there is nothing to tell of them."""
    first, *others = figures["measures"]
    if not others or not (figures["growing"] or figures["cases_short"]):
        return []
    if first["days_safe"] is None:
        return ["", "It outlasts the days that were followed as it is: no change has more to show."]
    same = ("days_safe", "days_middle", "cases_lasting")
    if all(measure[name] == first[name] for measure in others for name in same):
        labels = [measure_label(measure, figures, units) for measure in others]
        return ["", f"None of these changes buys a day: {'; '.join(labels)}."]
    lines = ["", *_measure_table(figures, units), *_measure_notes(figures, units)]
    return [*lines, _left_out(figures)] if figures["measures_left_out"] else lines


def _measure_table(figures: Mapping[str, Any], units: System) -> list[str]:
    """What each change buys, the best first."""
    sure = figures["years"] >= SURE
    first, *others = figures["measures"]
    days = days_text(figures["days_away"])
    rows = []
    for measure in [first, *sorted(others, key=lambda m: _order(m, figures), reverse=True)]:
        safe = measure["days_safe"]
        gained = measure["days_gained"]
        rows.append(
            [
                measure_label(measure, figures, units),
                days_or_more(safe, figures).replace(" or more", "+"),
                _gain_text(measure, first, figures) if measure is not first else "",
                f"{measure['cases_lasting']} of {figures['cases']}",
            ]
        )
        assert gained is None or safe is not None
    lasts = "Days, 9 in 10 years" if sure else "Days, shortest start"
    return [
        "What each change buys, each run through the same years:",
        *plain_table(["Left like this", lasts, "Gain", f"{days} in"], rows),
    ]


def _order(measure: Mapping[str, Any], figures: Mapping[str, Any]) -> tuple[float, int, float]:
    safe, middle = (
        figures["days_followed"] + 1 if measure[name] is None else measure[name]
        for name in ("days_safe", "days_middle")
    )
    return safe, measure["cases_lasting"], middle


def _gain_text(
    measure: Mapping[str, Any], as_is: Mapping[str, Any], figures: Mapping[str, Any]
) -> str:
    gained = measure["days_gained"]
    if gained is not None:
        return f"{gained:+d}" if gained else "0"
    if as_is["days_safe"] is None:
        return "-"
    return f"+{figures['days_followed'] - as_is['days_safe']} or more"


def _measure_notes(figures: Mapping[str, Any], units: System) -> list[str]:
    """How to do it, where a number goes with it."""
    lines = []
    needed = figures["cases_lasting"] < figures["cases"]
    for measure in figures["measures"]:
        parts = measure["measure"].split("+")
        if "visit" in parts:
            lines.append(_visit_line(measure, figures, units, needed=needed))
        if "drum" in parts and measure["litres_median"]:
            lines.append(
                f"Drum: fills the bed to the lip each morning until it is empty; "
                f"{litres_text(measure['litres_median'], units)} of it in a middle year. Full "
                f"it weighs {mass_text(figures['drum_litres'], units)}: on a level base, its tap "
                "above the bed's overflow, a mesh over it."
            )
    return list(dict.fromkeys(lines))


def _visit_line(
    measure: Mapping[str, Any], figures: Mapping[str, Any], units: System, *, needed: bool
) -> str:
    sure = figures["years"] >= SURE
    first, last = measure["visit_from"], measure["visit_to"]
    day = (
        datetime.date.fromisoformat(measure["visit_date"])
        - datetime.date.fromisoformat(figures["leave"])
    ).days
    any_day = (
        f"; from {day_text(first)} to {day_text(last)} any day is as good" if first != last else ""
    )
    if measure["litres_p90"] is None:
        return "Neighbour: found the bed full on the day that was tried; no visit is needed."
    most = "9 in 10 years" if sure else "every start"
    need = "" if needed else " It would have got through without."
    have, middle = (litres_text(measure[name], units) for name in ("litres_p90", "litres_median"))
    less = "" if have == middle else f"; {middle} in a middle {'year' if sure else 'start'}"
    return (
        f"Neighbour: one visit, {days_text(day)} after you leave{any_day}. Have {have} ready "
        f"(enough in {most}{less}) and fill until water runs from the overflow.{need}"
    )


def _left_out(figures: Mapping[str, Any]) -> str:
    reasons = {
        "mulch": "mulch (all of it is mulched)",
        "cover": "a sheet over the mix (no rain gets in as it is)",
        "open": "letting rain in (nothing keeps it out)",
        "overflow": "a higher overflow (the store has no more room above it)",
        "harvest": "a harvest (it would leave nothing to keep alive)",
        "visit": "a visit (the stay is too short)",
    }
    names = [
        reasons.get(name, name) for name in figures["measures_left_out"] if "+" not in name
    ] or figures["measures_left_out"]
    return f"Nothing to gain, so not run: {listed(names)}."
