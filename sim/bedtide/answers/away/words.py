"""What is printed of a stay away, from the figures of `away_summary` alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bedtide.answers.away.calendar_words import calendar_table_lines
from bedtide.answers.away.change_words import change_lines
from bedtide.answers.away.parts import (
    SURE,
    date_text,
    days_or_more,
    listed,
    litres_text,
    whole_text,
    years_text,
)
from bedtide.many import SELDOM
from bedtide.report.doubt_words import doubt_lines, range_text
from bedtide.report.words import CAUTION, days_text
from bedtide.units import System

__all__ = ["away_headline", "away_report"]

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
    lines = [away_headline(figures)]
    if not _nothing_to_lose(figures):
        lines += [*_anyway_line(figures), _chance_line(figures)]
    lines += _few_years(figures)
    if not _nothing_to_lose(figures):
        lines += ["", *_failure_lines(figures), *_year_lines(figures)]
    lines += change_lines(figures, units)
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
    sure = figures["years"] >= SURE
    of = f"of {figures['cases']} {'years' if sure else 'starts'}"
    count, typical = f"{through}", "typical values of mix and plants"
    if _nothing_to_lose(figures):
        empty = figures["days_to_empty_median"]
        followed = days_text(figures["days_followed"])
        store = (
            f"not empty within {followed}"
            if empty is None
            else f"empty after {_around(figures, 'days_to_empty')}"
        )
        return f"Nothing grows here then that could go short; the reservoir is {store}."
    ranges = figures["range"]
    lasts = _lasts(figures["days_safe"], figures)
    if ranges is not None:
        spread = ranges["days_safe"]
        lasts = _span(spread, figures)
        middle = days_or_more(spread["typical"], figures)
        typical = f"{middle} for {typical}"
        number = range_text(ranges["cases_lasting"], lambda value: f"{value:.0f}")
        count = number if number == count else f"{number} ({count} typical)"
    else:
        typical = f"for {typical}"
    how = "9 in 10 years" if sure else f"the shortest {of}"
    return f"Likely to last {lasts} ({how}; {typical}); {days_text(days)} in {count} {of}."


def _lasts(days: float | None, figures: Mapping[str, Any]) -> str:
    if days is None:
        return f"{days_text(figures['days_followed'])} or more"
    return "less than 1 day" if days < 1 else days_text(days)


def _span(spread: Mapping[str, Any], figures: Mapping[str, Any]) -> str:
    """Range of days with its unit."""
    if spread["low"] is None:
        return _lasts(None, figures)
    if spread["high"] is None:
        return f"{whole_text(spread['low'])} to {_lasts(None, figures)}"
    text = range_text(spread, whole_text)
    return f"{text} {'day' if text == '1' else 'days'}"


def _nothing_to_lose(figures: Mapping[str, Any]) -> bool:
    return not figures["growing"] and figures["cases_short"] == 0


def _chance_line(figures: Mapping[str, Any]) -> str:
    low, high = figures["chance_low_percent"], figures["chance_high_percent"]
    share, cases = f"{figures['chance_percent']:.0f} %", figures["cases"]
    range_ = f"({low:.0f} to {high:.0f} % for all that {years_text(figures['years'])} can say)"
    chance = f"about {share} {range_}"
    if figures["cases_lasting"] == cases:
        chance = f"all {cases} did, which is good for {share} {range_}, not for 100"
    elif figures["cases_lasting"] == 0:
        chance = f"none of {cases} did; at most {share} {range_}"
    return (
        f"Chance that the plants get through from {date_text(figures['leave'])} to "
        f"{date_text(figures['back'])}: {chance}."
    )


def _anyway_line(figures: Mapping[str, Any]) -> list[str]:
    """What has to be said where the bed fails its plants with somebody there as well."""
    if figures["cases_short_even_if_filled"] <= SELDOM * figures["cases"]:
        return []
    return [
        "That is the mix more than your absence: even filled every morning, the plants go short "
        f"on {_mean(figures['days_short_even_if_filled'])} of {days_text(figures['days_away'])} in "
        f"the mean, in {figures['cases_short_even_if_filled']} of {figures['cases']} cases, for "
        "this mix lifts too slowly."
    ]


def _few_years(figures: Mapping[str, Any]) -> list[str]:
    """What has to be said of a short record, and of years left out."""
    lines = []
    years, cases = figures["years"], figures["cases"]
    if years < SURE:
        lines.append(
            f"Only {years_text(years)} of weather {'is' if years == 1 else 'are'} independent; "
            f"neighbouring dates, 5 and 10 days before and after, make {cases} starts of "
            f"{'it' if years == 1 else 'them'}, which say less than {cases} years would. "
            f"No chance of 9 in 10 can be told from so few."
        )
    if figures["years_with_gaps"]:
        names = listed([str(year) for year in figures["years_with_gaps"]])
        lines.append(f"Left out, too much of the weather being filled gaps: {names}.")
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
        if figures["growing"]:
            lines.append(
                f"In no case do the plants go short in the {days_text(figures['days_followed'])} "
                "that were followed."
            )
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
            f"what they ask for){half}."
        )
    if figures["cases_short_before_empty"]:
        lines.append(
            f"In {figures['cases_short_before_empty']} of {figures['cases']} cases they go short "
            "with water still in the reservoir: the mix lifts it too slowly."
        )
    return lines


def _year_lines(figures: Mapping[str, Any]) -> list[str]:
    """The shortest and the longest years by name."""
    cases = figures["case_list"]
    if figures["years"] < 2 or figures["cases_short"] == 0:
        return []
    worst: list[str] = []
    named = 0
    for days, group in _grouped(cases).items():
        if days is None or named >= _NAMED or (worst and days >= figures["days_away"]):
            break
        worst.append(f"{days_text(days)} in {_named(group)}")
        named += len(group)
    last = cases[-1]["days_lasted"]
    if last == cases[0]["days_lasted"]:
        return [f"No year differs: {days_text(last)} in each."]
    best = [case for case in cases if case["days_lasted"] == last]
    ending = f"{_lasts(last, figures)} in {_named(best)}"
    return [f"The bad years: {'; '.join(worst)}. The best: {ending}."]


def _doubt(figures: Mapping[str, Any]) -> list[str]:
    ranges = figures["range"]
    if ranges is None:
        return [
            "All of it is for typical values of the mix and the plants; --range tells how far "
            "yours may be off."
        ]
    more = f"{figures['days_followed']} or more"
    return doubt_lines(ranges["days_safe"], whole_text, what="days that it lasts", more=more)


def _run_lines(figures: Mapping[str, Any], units: System) -> list[str]:
    held = litres_text(figures["reservoir_litres"], units)
    dead = figures["reservoir_litres_out_of_reach"]
    lost = (
        f", {litres_text(dead, units)} of it out of the mix's reach and never counted"
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
        f"each run from {days_text(before)} before, {_kept(figures)}, then filled"
        if before
        else "each filled"
    )
    lines = [
        f"{figures['bed']}: its reservoir holds {held}{lost}. Growing then: "
        f"{listed(figures['growing']) or 'nothing'}.",
        f"Weather: {place}, {figures['cases']} starts in {span}, {lead} {filled} on the morning "
        f"of leaving, nobody to water, followed for {days_text(figures['days_followed'])}.",
    ]
    if figures["plantings_of_other_years"]:
        names = listed(figures["plantings_of_other_years"])
        lines.append(f"Planted for another time, so not there: {names}.")
    error = figures["balance_error_mm"]
    amount = "less than 0.000001 mm" if error < 1e-6 else f"{error:.2g} mm"
    lines.append(f"Balance error: {amount} (all water in, out and held, added up anew).")
    return lines


def _around(figures: Mapping[str, Any], name: str) -> str:
    """Days in the middle case and, in brackets, those of 8 in 10."""
    middle, low, high = (figures[f"{name}_{ending}"] for ending in ("median", "p10", "p90"))
    text = days_text(middle)
    ends = [whole_text(low), "more" if high is None else whole_text(high)]
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
    return listed(years)


def _assumed(assumptions: list[str]) -> list[str]:
    if not assumptions:
        return []
    return ["Assumed:", *(f"  {sentence}" for sentence in assumptions)]


def _mean(number: float) -> str:
    return f"{number:.0f}" if number >= 10 else f"{number:.1f}"


def _kept(figures: Mapping[str, Any]) -> str:
    if figures["kept_before"] == "own rule":
        return "watered by the bed's own rule"
    return "filled every morning (its own rule is never to fill)"
