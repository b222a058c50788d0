"""What is printed of a stay away, from the figures of `away_summary` alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from bedtide.decide import AS_IT_IS
from bedtide.show.away_calendar_words import calendar_table_lines
from bedtide.show.doubt_words import doubt_lines, range_text
from bedtide.show.tables import plain_table
from bedtide.show.words import CAUTION, days_text, month_name
from bedtide.units import System, mass_text, volume_text

__all__ = ["away_headline", "away_report", "measure_label"]

_SURE = 10  # years from which "9 in 10 years" is said; the 10th percentile needs nine
_NAMED = 4  # years named at each end


def away_report(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """All that `bedtide away` prints, the answer first.

    Parameters
    ----------
    figures : mapping
        As `away_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    lines = [away_headline(figures), _chance_line(figures), *_few_years(figures)]
    lines += ["", *_failure_lines(figures), *_year_lines(figures)]
    if len(figures["measures"]) > 1:
        lines += ["", *_measure_table(figures, units), *_measure_notes(figures, units)]
    if figures["measures_left_out"]:
        lines.append(_left_out(figures))
    if figures["calendar"] is not None:
        lines += ["", *calendar_table_lines(figures["calendar"])]
    lines += ["", *_doubt(figures), *_run_lines(figures, units)]
    lines += _assumed(figures["assumptions"])
    lines += ["Plan with it, then check the level in the bed with a stick.", "", CAUTION]
    return lines


def away_headline(figures: Mapping[str, Any]) -> str:
    """Answer in one sentence: how many days, how sure, and the stay that was asked for.

    Parameters
    ----------
    figures : mapping
        As `away_summary` returns them.

    Returns
    -------
    str
        The sentence.
    """
    days, through = figures["days_away"], figures["cases_lasting"]
    sure = figures["years"] >= _SURE
    of = f"of {figures['cases']} {'years' if sure else 'starts'}"
    count, typical = f"{through}", "typical values of mix and plants"
    if not figures["growing"] and figures["cases_short"] == 0:
        empty = figures["days_to_empty_median"]
        store = "does not run empty" if empty is None else f"is empty after {days_text(empty)}"
        return f"Nothing that grows here then can go short; the reservoir {store} in a middle year."
    ranges = figures["range"]
    lasts = _lasts(figures["days_safe"], figures)
    if ranges is not None:
        spread = ranges["days_safe"]
        lasts = _span(spread, figures)
        middle = _days_or_more(spread["typical"], figures)
        typical = f"{middle} for {typical}"
        number = range_text(ranges["cases_lasting"], lambda value: f"{value:.0f}")
        count = number if number == count else f"{number} ({count} typical)"
    else:
        typical = f"for {typical}"
    how = "9 in 10 years" if sure else f"the shortest {of}"
    return f"Likely to last {lasts} ({how}; {typical}); {days_text(days)} in {count} {of}."


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
        return f"{_litres(figures['drum_litres'], units)} drum on a float valve"
    if part == "visit":
        return f"a neighbour fills it on {_short_date(measure['visit_date'])}"
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


def _lasts(days: float | None, figures: Mapping[str, Any]) -> str:
    if days is None:
        return f"{days_text(figures['days_followed'])} or more"
    return "not one whole day" if days < 1 else days_text(days)


def _span(spread: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """Range of days with its unit."""
    if spread["low"] is None:
        return _lasts(None, figures)
    if spread["high"] is None:
        return f"{_whole_text(spread['low'])} to {_lasts(None, figures)}"
    text = range_text(spread, _whole_text)
    return f"{text} {'day' if text == '1' else 'days'}"


def _days_or_more(days: float | None, figures: Mapping[str, Any]) -> str:
    return f"{figures['days_followed']} or more" if days is None else _whole_text(days)


def _chance_line(figures: Mapping[str, Any]) -> str:
    low, high = figures["chance_low_percent"], figures["chance_high_percent"]
    share = figures["chance_percent"]
    lead, level = "about ", f"{share:.0f} %"
    if figures["cases_lasting"] == figures["cases"]:
        lead, level = "at best said as ", f"{share:.0f} % or a little more"
    elif figures["cases_lasting"] == 0:
        lead, level = "at most ", f"{share:.0f} %"
    return (
        f"Chance that the plants get through from {_date(figures['leave'])} to "
        f"{_date(figures['back'])}: {lead}{level} ({low:.0f} to {high:.0f} % for all that "
        f"{_years(figures['years'])} can say)."
    )


def _few_years(figures: Mapping[str, Any]) -> list[str]:
    """What has to be said of a short record, and of years left out."""
    lines = []
    years, cases = figures["years"], figures["cases"]
    if years < _SURE:
        lines.append(
            f"Only {_years(years)} of weather {'is' if years == 1 else 'are'} independent; "
            f"neighbouring dates, 5 and 10 days before and after, make {cases} starts of "
            f"{'it' if years == 1 else 'them'}, which say less than {cases} years would. "
            f"No chance of 9 in 10 can be told from so few."
        )
    if figures["years_with_gaps"]:
        listed = _listed([str(year) for year in figures["years_with_gaps"]])
        lines.append(f"Left out, too much of the weather being filled gaps: {listed}.")
    return lines


def _failure_lines(figures: Mapping[str, Any]) -> list[str]:
    """When the reservoir is empty, how long the mix carries on, and what fails first."""
    lines = []
    if figures["days_to_empty_median"] is None:
        lines.append(
            f"The reservoir is not empty within {days_text(figures['days_followed'])} in most "
            f"cases (it is in {figures['cases_empty']} of {figures['cases']})."
        )
    else:
        lines.append(
            f"The reservoir is empty after {_around(figures, 'days_to_empty')}: what the mix can "
            "reach, and no more, is counted."
        )
    if figures["cases_short"] == 0:
        lines.append("In no case do the plants go short in the days that were followed.")
        return lines
    if figures["days_from_empty_to_short_median"] is not None:
        half = ""
        if figures["days_from_short_to_half_median"] is not None:
            half = (
                ", and from then it is "
                f"{_around(figures, 'days_from_short_to_half')} until they get less than half"
            )
        lines.append(
            "Then the water in the mix carries the plants for another "
            f"{_around(figures, 'days_from_empty_to_short')} before they go short (under 90 % of "
            f"what a bed filled every morning gives them){half}."
        )
    if figures["cases_short_before_empty"]:
        lines.append(
            f"In {figures['cases_short_before_empty']} of {figures['cases']} cases they go short "
            "with water still in the reservoir: the mix lifts it too slowly."
        )
    if figures["cases_short_even_if_filled"]:
        lines.append(
            "Not for want of somebody there: even filled every morning, the plants go short on "
            f"{_mean(figures['days_short_even_if_filled'])} of {days_text(figures['days_away'])} "
            "in the mean, for this mix lifts too slowly. Such days are not counted as failures."
        )
    return lines


def _year_lines(figures: Mapping[str, Any]) -> list[str]:
    """The shortest and the longest years by name."""
    cases = figures["case_list"]
    if len(cases) < 2:
        return []
    if figures["cases_short"] == 0:
        return []
    worst: list[str] = []
    named = 0
    for days, group in _grouped(cases).items():
        if days is None or named >= _NAMED or (worst and days >= figures["days_away"]):
            break
        worst.append(f"{days_text(days)} in {_named(group)}")
        named += len(group)
    last = cases[-1]["days_lasted"]
    best = [case for case in cases if case["days_lasted"] == last]
    ending = f"{_lasts(last, figures)} in {_named(best)}"
    return [f"The bad years: {'; '.join(worst)}. The best: {ending}."]


def _measure_table(figures: Mapping[str, Any], units: System) -> list[str]:
    """What each change buys, the best first."""
    sure = figures["years"] >= _SURE
    first, *others = figures["measures"]
    days = days_text(figures["days_away"])
    rows = []
    for measure in [first, *sorted(others, key=lambda m: _order(m, figures), reverse=True)]:
        safe = measure["days_safe"]
        gained = measure["days_gained"]
        rows.append(
            [
                measure_label(measure, figures, units),
                _days_or_more(safe, figures).replace(" or more", "+"),
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
        if "drum" in parts:
            lines.append(
                f"Drum: fills the bed to the lip each morning until it is empty; "
                f"{_litres(measure['litres_median'] or 0.0, units)} of it in a middle year. Full "
                f"it weighs {mass_text(figures['drum_litres'], units)}: on a level base, its tap "
                "above the bed's overflow, a mesh over it."
            )
    return list(dict.fromkeys(lines))


def _visit_line(
    measure: Mapping[str, Any], figures: Mapping[str, Any], units: System, *, needed: bool
) -> str:
    sure = figures["years"] >= _SURE
    first, last = measure["visit_from"], measure["visit_to"]
    day = (
        datetime.date.fromisoformat(measure["visit_date"])
        - datetime.date.fromisoformat(figures["leave"])
    ).days
    any_day = (
        f"; any day from {_short_date(first)} to {_short_date(last)} gets as many "
        f"{'years' if sure else 'starts'} through"
        if first != last
        else ""
    )
    if measure["litres_p90"] is None:
        return "Neighbour: found the bed full on the day that was tried; no visit is needed."
    most = "9 in 10 years" if sure else "every start"
    need = "" if needed else " It would have got through without."
    have, middle = (_litres(measure[name], units) for name in ("litres_p90", "litres_median"))
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
    return f"Nothing to gain, so not run: {_listed(names)}."


def _doubt(figures: Mapping[str, Any]) -> list[str]:
    ranges = figures["range"]
    if ranges is None:
        return [
            "All of it is for typical values of the mix and the plants; --range tells how far "
            "yours may be off."
        ]
    more = f"{figures['days_followed']} or more"
    return doubt_lines(ranges["days_safe"], _whole_text, what="days that it lasts", more=more)


def _run_lines(figures: Mapping[str, Any], units: System) -> list[str]:
    held = _litres(figures["reservoir_litres"], units)
    dead = figures["reservoir_litres_out_of_reach"]
    lost = (
        f", {_litres(dead, units)} of it out of the mix's reach and never counted"
        if dead >= 0.05
        else ""
    )
    level = figures["start_level_percent"]
    filled = "to the lip" if level >= 100 else f"to {level:.0f} % of what the mix can reach"
    place = figures["weather_place"] or figures["weather_source"]
    first, last = figures["first_year"], figures["last_year"]
    span = f"{first}" if first == last else f"{first} to {last}"
    before = figures["spin_up_days"]
    lead = (
        f"each run from {days_text(before)} before with the bed's own watering, then filled"
        if before
        else "each filled"
    )
    lines = [
        f"{figures['bed']}: its reservoir holds {held}{lost}. Growing then: "
        f"{_listed(figures['growing']) or 'nothing'}.",
        f"Weather: {place}, {figures['cases']} starts in {span}, {lead} {filled} on the morning "
        f"of leaving, nobody to water, followed for {days_text(figures['days_followed'])}.",
    ]
    if figures["plantings_of_other_years"]:
        names = _listed(figures["plantings_of_other_years"])
        lines.append(f"Planted for another time, so not there: {names}.")
    error = figures["balance_error_mm"]
    amount = "less than 0.000001 mm" if error < 1e-6 else f"{error:.2g} mm"
    lines.append(f"Balance error: {amount} (all water in, out and held, added up anew).")
    return lines


def _around(figures: Mapping[str, Any], name: str) -> str:
    """Days in the middle case and, in brackets, those of 8 in 10."""
    middle, low, high = (figures[f"{name}_{ending}"] for ending in ("median", "p10", "p90"))
    text = days_text(middle)
    ends = [_whole_text(low), "more" if high is None else _whole_text(high)]
    if ends[0] == ends[1]:
        return text
    return f"{text} ({ends[0]} {'or' if high is None else 'to'} {ends[1]})"


def _grouped(cases: Sequence[Mapping[str, Any]]) -> dict[float, list[Mapping[str, Any]]]:
    groups: dict[float, list[Mapping[str, Any]]] = {}
    for case in cases:
        groups.setdefault(case["days_lasted"], []).append(case)
    return groups


def _named(cases: Sequence[Mapping[str, Any]]) -> str:
    """Years of some cases, the first few by name."""
    years = list(dict.fromkeys(str(case["year"]) for case in cases))
    if len(years) > _NAMED:
        return f"{len(years)} years"
    return _listed(years)


def _assumed(assumptions: list[str]) -> list[str]:
    if not assumptions:
        return []
    return ["Assumed:", *(f"  {sentence}" for sentence in assumptions)]


def _listed(names: Sequence[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def _years(count: int) -> str:
    return f"{count} {'year' if count == 1 else 'years'}"


def _date(day: str) -> str:
    date = datetime.date.fromisoformat(day)
    return f"{date.day} {month_name(date.month)} {date.year}"


def _short_date(day: str) -> str:
    date = datetime.date.fromisoformat(day)
    return f"{date.day} {month_name(date.month)}"


def _litres(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units)


def _mean(number: float) -> str:
    return f"{number:.0f}" if number >= 10 else f"{number:.1f}"


def _whole_text(days: float) -> str:
    """Nearest whole number, a half upward."""
    return f"{int(np.floor(days + 0.5))}"
