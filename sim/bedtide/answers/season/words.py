"""The sentences that a grower reads: every sentence with a number in it is written here.

They take the figures of `season_summary`, so that what is printed is what the files hold.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from bedtide.answers.season.grades import GRADES, LONG_RUN, WetGrade
from bedtide.report.words import (
    CAUTION,
    _date_text,
    _whole,
    assumed_lines,
    days_text,
    for_typical_values,
    month_name,
    plain_table,
    span_text,
)
from bedtide.units import System, volume_text

__all__ = [
    "headline",
    "month_table",
    "season_report",
    "when_text",
    "years_of_run",
]


_SUPPLIED = 80.0  # under this share of what the weather asks the surface loses clearly less [%]
_SURE = 9  # intervals that a 10th and a 90th percentile need to lie inside the range; i / (n + 1)

_GRADE_WORDS: dict[WetGrade, str] = {
    "airy": "never too wet to breathe",
    "briefly wet": "most vegetables get over spells this short",
    "wet at times": "too wet to breathe for days at a time",
    "too wet to breathe": "a lower overflow, an airier mix or a cover against rain may help",
    "no plants": "",
}


def season_report(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """All that `bedtide season` prints, the answer first.

    Parameters
    ----------
    figures : mapping
        As `season_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    lines = [for_typical_values(headline(figures, units=units))]
    lines += _range_line(figures)
    lines += ["", _water_line(figures, units=units), _lost_line(figures, units=units)]
    lines += [_wet_line(figures), _dry_line(figures), *_surface_lines(figures)]
    lines += ["", *month_table(figures["months"], units=units)]
    lines += ["", _run_line(figures, units=units), _balance_line(figures)]
    lines += _coarse_lines(figures)
    lines += assumed_lines(figures["assumptions"])
    lines += [
        "All of it is for typical values of the mix and the plants; yours will differ. "
        "Plan with it, then check the level in the bed with a stick.",
        "",
        CAUTION,
    ]
    return lines


def headline(figures: Mapping[str, Any], *, units: System = "metric") -> str:
    """Answer in one sentence: how often to fill, from when to when, how much.

    Parameters
    ----------
    figures : mapping
        As `season_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        The sentence.
    """
    fills = figures["refills"]
    if fills == 0:
        return _no_refill(figures)
    if fills == 1:
        day = _date_text(_day(figures["from"], figures["days_to_first_refill"]))
        poured = _litres(figures["refill_litres"], units)
        if figures["dry_days"]:
            return (
                f"One fill, {poured} on {day}, and the plants went short on {_dry_days(figures)}."
            )
        return f"Fill this bed once: {poured} on {day} was all it took."
    if figures["days"] > LONG_RUN:
        years = years_of_run(figures)
        each_year = fills / years
        count = f"{each_year:.0f}" if each_year >= 10 else f"{each_year:.1f}"
        total = (
            f"{count} fills and {_litres(figures['refill_litres'] / years, units)} a year, "
            f"the mean of {years:.1f} years"
        )
    else:
        total = f"{fills} fills, {_litres(figures['refill_litres'], units)} in all"
    each = f"about {_litres(figures['refill_litres_each_median'], units)} each time"
    if figures["intervals"] == 0:
        return f"Fill this bed {when_text(figures)}: {total}, {each}{_went_short(figures)}."
    return (
        f"Fill this bed about {_every(figures)} {when_text(figures)}: {total}, "
        f"{each}{_went_short(figures)}."
    )


def month_table(months: list[dict[str, Any]], *, units: System = "metric") -> list[str]:
    """Table of the months: fills, water, days between fills, rain, wet and dry days.

    Parameters
    ----------
    months : list of dict
        As `month_rows` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines of plain text.
    """
    small, big = ("in", "US gal") if units == "us" else ("mm", "L")
    head = [
        "Month",
        "Fills",
        f"Water {big}",
        "Days between",
        f"Rain {small}",
        "Wet days",
        "Dry days",
    ]
    rows = []
    for month in months:
        if month["refills"] is None:
            continue
        dry = month["dry_days_reservoir_empty"] + month["dry_days_wick_limited"]
        rain = month["rain_mm"]
        rows.append(
            [
                _month_label(month["month"]),
                _count(month["refills"]),
                volume_text(month["refill_litres"] / 1e3, units).split(" ")[0],
                _between(month),
                f"{rain / 25.4:.1f}" if units == "us" else f"{rain:.0f}",
                _count(month["wet_days"]),
                _count(dry),
            ]
        )
    return plain_table(head, rows)


def _no_refill(figures: Mapping[str, Any]) -> str:
    one_day = figures["from"] == figures["to"]
    span = f"{'on' if one_day else 'from'} {span_text(figures['from'], figures['to'])}"
    if figures["dry_days"]:
        why = ": the mix can't reach the water in the reservoir" if _out_of_reach(figures) else ""
        return f"Not one fill {span}, and the plants went short on {_dry_days(figures)}{why}."
    return f"Not one fill was needed {span}: rain and the water at the start were enough."


def _went_short(figures: Mapping[str, Any]) -> str:
    """What to add to the headline where filling by this rule is not enough."""
    return f"; even so the plants went short on {_dry_days(figures)}" if figures["dry_days"] else ""


def _dry_days(figures: Mapping[str, Any]) -> str:
    return days_text(figures["dry_days"])


def _every(figures: Mapping[str, Any]) -> str:
    middle, low, high = (
        _whole(figures[f"days_between_refills_{name}"]) for name in ("median", "p10", "p90")
    )
    every = "every day" if middle == 1 else f"every {middle} days"
    return every if low == high == middle else f"{every} ({low} to {high})"


def when_text(figures: Mapping[str, Any]) -> str:
    """From which month to which a run was filled, in words.

    Parameters
    ----------
    figures : mapping
        As `season_summary` returns them, with at least one refill.

    Returns
    -------
    str
        Such as ``"from May to September 2024"``.
    """
    first, last = figures["filling_first_month"], figures["filling_last_month"]
    year = figures["from"][:4] if figures["from"][:4] == figures["to"][:4] else ""
    if first == 1 and last == 12:
        return f"all through {year}" if year else "all the year round"
    months = month_name(first)
    if last == first % 12 + 1:
        months = f"{months} and {month_name(last)}"
    elif last != first:
        months = f"{months} to {month_name(last)}"
    if year and first <= last:
        months = f"{months} {year}"
    return f"from {months}" if " to " in months else f"in {months}"


def _range_line(figures: Mapping[str, Any]) -> list[str]:
    count = figures["intervals"]
    if count < 2 or figures["days_between_refills_p10"] == figures["days_between_refills_p90"]:
        return []
    if count < _SURE:
        return [f"In brackets: the shortest and the longest of {count} gaps between fills."]
    return [f"In brackets: 8 in 10 of the {count:,} gaps between fills were this long."]


def _water_line(figures: Mapping[str, Any], *, units: System) -> str:
    share = figures["rain_share_percent"]
    met = "" if share is None else f" Of the water it kept, {share:.0f} % was rain."
    years = years_of_run(figures)
    return (
        f"Water in{' a year' if years > 1 else ''}: "
        f"{_litres(figures['refill_litres'] / years, units)} poured in, "
        f"{_litres(figures['rain_caught_litres'] / years, units)} of rain caught.{met}"
    )


def _lost_line(figures: Mapping[str, Any], *, units: System) -> str:
    years = years_of_run(figures)
    drunk, dried, over, spill = (
        _litres(figures[f"{name}_litres"] / years, units)
        for name in ("transpiration", "evaporation", "overflow", "rim_spill")
    )
    over_rim = "" if figures["rim_spill_litres"] < 0.05 else f", {spill} ran over the rim"
    return (
        f"Water out{' a year' if years > 1 else ''}: the plants drank {drunk}, {dried} dried off "
        f"the surface, {over} ran out of the overflow{over_rim}."
    )


def years_of_run(figures: Mapping[str, Any]) -> float:
    """Years by which the volumes of a long run are divided; one for a shorter one.

    Parameters
    ----------
    figures : mapping
        As `season_summary` returns them.

    Returns
    -------
    float
        Years [1].
    """
    return figures["days"] / 365.25 if figures["days"] > LONG_RUN else 1.0


def _wet_line(figures: Mapping[str, Any]) -> str:
    if figures["days_with_roots"] == 0:
        return "Wet days: nothing was planted, so none to count."
    grade: WetGrade = figures["wet_grade"]
    limit = f"{figures['wet_air_limit_percent']:.0f}"
    head = (
        f"Wet days (under {limit} % air among the roots): {figures['wet_days']:,} of "
        f"{figures['days_with_roots']:,}"
    )
    if figures["wet_days"] == 0:
        return f"{head}. Grade: {grade} ({_GRADE_WORDS[grade]})."
    start = _date_text(datetime.date.fromisoformat(figures["longest_wet_spell_start"]))
    return (
        f"{head}; the longest spell was {days_text(figures['longest_wet_spell_days'])}, from "
        f"{start}. Grade: {grade} ({_grade_limit(grade)}; {_GRADE_WORDS[grade]})."
    )


def _grade_limit(grade: WetGrade) -> str:
    """The limit behind a grade, in words."""
    for name, most in GRADES:
        if name == grade:
            return f"spells of up to {days_text(most)}"
    return f"a spell of more than {days_text(GRADES[-1][1])}"


def _dry_line(figures: Mapping[str, Any]) -> str:
    asked = figures["days_with_demand"]
    if asked == 0:
        return "Dry days: nothing was growing, so none to count."
    head = (
        f"Dry days (plants get under 90 % of what they need): {figures['dry_days']:,} of {asked:,}"
    )
    if figures["dry_days"] == 0:
        return f"{head}."
    empty = "the reservoir empty"
    if figures["reservoir_litres_out_of_reach"] >= 0.05:
        empty = "no water that the mix can reach"
    return (
        f"{head}: {figures['dry_days_reservoir_empty']:,} with {empty}, "
        f"{figures['dry_days_wick_limited']:,} with water in it that the mix lifts too slowly. "
        f"Over all the plants got {figures['need_met_percent']:.0f} % of their need."
    )


def _surface_lines(figures: Mapping[str, Any]) -> list[str]:
    """Where the supply of the surface decides: it dried above water, or the plants went short."""
    supplied = figures["surface_supply_percent"]
    dried = supplied is not None and supplied < _SUPPLIED
    if not dried and not figures["dry_days_wick_limited"]:
        return []
    return [
        "How well this mix keeps its surface wet is the least certain figure here: --range shows "
        "what it changes."
    ]


def _run_line(figures: Mapping[str, Any], *, units: System) -> str:
    held = _litres(figures["reservoir_litres"], units)
    dead = figures["reservoir_litres_out_of_reach"]
    part = "all" if _out_of_reach(figures) else _litres(dead, units)
    lost = f", {part} of it out of the mix's reach" if dead >= 0.05 else ""
    return (
        f"{figures['bed']}: its reservoir holds {held}{lost}. Weather: "
        f"{figures['weather_place'] or figures['weather_source']}, "
        f"{span_text(figures['from'], figures['to'])} ({days_text(figures['days'])})."
    )


def _out_of_reach(figures: Mapping[str, Any]) -> bool:
    """Whether the mix reaches none of the water in the reservoir."""
    dead = figures["reservoir_litres_out_of_reach"]
    return bool(dead >= 0.05 and dead > figures["reservoir_litres"] - 0.05)


def _balance_line(figures: Mapping[str, Any]) -> str:
    error = figures["balance_error_mm"]
    amount = "less than 0.000001 mm" if error < 1e-6 else f"{error:.2g} mm"
    return f"Balance error: {amount} (all water in, out and held, added up anew)."


def _coarse_lines(figures: Mapping[str, Any]) -> list[str]:
    """That days were solved coarsely, where any were."""
    days = figures["safe_step_days"]
    if not days:
        return []
    return [f"On {days_text(days)} the fine solution failed and a coarser one was used."]


def _between(month: Mapping[str, Any]) -> str:
    middle, low, high = (
        month[f"days_between_refills_{name}"] for name in ("median", "shortest", "longest")
    )
    if middle is None:
        return "-"
    if _whole(low) == _whole(high):
        return f"{_whole(middle)}"
    return f"{_whole(middle)} ({_whole(low)} to {_whole(high)})"


def _month_label(month: int | str) -> str:
    if isinstance(month, int):
        return month_name(month)
    return f"{month_name(int(month[5:7]))} {month[:4]}"


def _litres(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units)


def _count(number: float) -> str:
    return f"{number:.0f}" if abs(number - round(number)) < 0.05 else f"{number:.1f}"


def _day(start: str, later: float) -> datetime.date:
    return datetime.date.fromisoformat(start) + datetime.timedelta(days=int(later))
