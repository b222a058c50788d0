"""What is printed of the days safe by the date of leaving, from `calendar_summary` alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bedtide.answers.away.parts import SURE
from bedtide.report.words import CAUTION, days_text, month_name, plain_table

__all__ = ["calendar_headline", "calendar_report", "calendar_table_lines"]


def calendar_report(figures: Mapping[str, Any]) -> list[str]:
    """All that `bedtide away --all-dates` prints where no stay was given, the answer first.

    Parameters
    ----------
    figures : mapping
        As `calendar_summary` returns them.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    level = figures["start_level_percent"]
    filled = "to the lip" if level >= 100 else f"to {level:.0f} % of what the mix can reach"
    place = figures["weather_place"] or figures["weather_source"]
    error = figures["balance_error_mm"]
    amount = "less than 0.000001 mm" if error < 1e-6 else f"{error:.2g} mm"
    lines = [calendar_headline(figures), "", *calendar_table_lines(figures), ""]
    lines += [
        _sure_line(figures),
        "For one stay, with what would help:  bedtide away ... --leave DATE --days N",
        f"{figures['bed']}, weather of {place}, {figures['first_year']} to "
        f"{figures['last_year']}: every fifth day of every year is a start, after "
        f"{days_text(figures['spin_up_days'])} of the bed's own watering, filled {filled}, then "
        f"nobody to water, followed for {days_text(figures['days_followed'])}.",
        f"Balance error: {amount} (all water in, out and held, added up anew).",
    ]
    if figures["assumptions"]:
        lines += ["Assumed:", *(f"  {sentence}" for sentence in figures["assumptions"])]
    return [*lines, "Plan with it, then check the level in the bed with a stick.", "", CAUTION]


def calendar_headline(figures: Mapping[str, Any]) -> str:
    """Answer in one sentence: the fewest days, and when.

    Parameters
    ----------
    figures : mapping
        As `calendar_summary` returns them.

    Returns
    -------
    str
        The sentence.
    """
    fewest = figures["fewest_days_safe"]
    how = _how(figures)
    if figures["with_range"]:
        low, high = (figures[f"fewest_days_safe_{end}"] for end in ("low", "high"))
        more = f"{figures['days_followed']} or more"
        ends = [more if days is None else f"{days}" for days in (low, fewest, high)]
        lasts = ends[0] if ends[0] == ends[2] else f"{ends[0]} to {ends[2]}"
        return (
            f"Likely to last {lasts} days at the worst time to leave, about "
            f"{_date(figures['fewest_leave'])} ({how}; {ends[1]} for typical values of mix and "
            "plants)."
        )
    if fewest is None:
        return (
            f"Likely to last {days_text(figures['days_followed'])} or more whenever you leave "
            f" ({how}; for typical values of mix and plants)."
        )
    lasts = "not one whole day" if fewest < 1 else days_text(fewest)
    return (
        f"Likely to last {lasts} at the worst time to leave, about {_date(figures['fewest_leave'])}"
        f" ({how}; for typical values of mix and plants)."
    )


def calendar_table_lines(figures: Mapping[str, Any]) -> list[str]:
    """Days that are safe, a line a month.

    Parameters
    ----------
    figures : mapping
        As `calendar_summary` returns them.

    Returns
    -------
    list of str
        A heading, lines of plain text and what has to be said of them.
    """
    months: dict[int, list[Mapping[str, Any]]] = {}
    for row in figures["dates"]:
        if row["cases"]:
            months.setdefault(int(row["leave"][:2]), []).append(row)
    followed = figures["days_followed"]

    def days(row: Mapping[str, Any]) -> int:
        return int(followed if row["days_safe"] is None else row["days_safe"])

    def text(value: int | None) -> str:
        return f"{followed}+" if value is None else f"{value}"

    cells = []
    for month, rows in months.items():
        worst, best = min(rows, key=days), max(rows, key=days)
        low, high = (text(row["days_safe"]) for row in (worst, best))
        ends = [text(worst[f"days_safe_{end}"]) for end in ("low", "high")]
        bare = not any(row["growing"] for row in rows)
        cells.append(
            [
                month_name(month),
                low if low == high else f"{low} to {high}",
                "" if low == high else f"{_date(worst['leave'])}: {low}",
                *(["" if low == high else " to ".join(ends)] if figures["with_range"] else []),
                "nothing grows then" if bare else "",
            ]
        )
    head = ["Leaving in", "Days", "Fewest", *(["Its range"] if figures["with_range"] else []), ""]
    lines = [
        f"Days that it lasts by the date of leaving ({_how(figures)}):",
        *plain_table(head, cells),
    ]
    if figures["pooled_days"]:
        years = figures["years"]
        lines.append(
            f"Only {years} {'year' if years == 1 else 'years'} of weather: each date is told with "
            f"those up to {figures['pooled_days']} days before and after; no chance of 9 in 10 can "
            "be told from so few."
        )
    return lines


def _sure_line(figures: Mapping[str, Any]) -> str:
    if figures["with_range"]:
        return (
            "The range is that of mix, plants and exposure at the low and the high end of what is "
            "published, one thing at a time, without those with which the bed would not work."
        )
    return (
        "All of it is for typical values of the mix and the plants; --range tells how far yours "
        "may be off."
    )


def _how(figures: Mapping[str, Any]) -> str:
    return "9 in 10 years" if figures["years"] >= SURE else "the shortest of the starts"


def _date(month_day: str) -> str:
    month, day = (int(part) for part in month_day.split("-"))
    return f"{day} {month_name(month)}"
