"""What is printed of rainy spells, from the figures of `wet_spell_summary` alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

from bedtide.report.outlet_words import listed, outlet_lines
from bedtide.report.words import CAUTION, days_text, plain_table, span_text
from bedtide.units import System, depth_text, length_text, volume_text

__all__ = ["wet_spell_headline", "wet_spell_lines", "wet_spell_report"]


def wet_spell_report(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """All that `bedtide wet-spell` prints, the answer first.

    Parameters
    ----------
    figures : mapping
        As `wet_spell_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    return [
        *wet_spell_lines(figures, units=units),
        *_assumed(figures["assumptions"]),
        "All of it is for typical values of the mix and the plants; yours will differ.",
        "",
        CAUTION,
    ]


def wet_spell_lines(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """The answer, the table and the overflow; what stands under a comparison.

    Parameters
    ----------
    figures : mapping
        As `wet_spell_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        Lines; an empty one stands between blocks.
    """
    return [
        wet_spell_headline(figures, units=units),
        *(_depth_line(row, units) for row in figures["least_depths"]),
        "",
        *_table(figures, units),
        "",
        *_notes(figures),
        *outlet_lines(figures, units=units),
        *_spell_lines(figures, units),
    ]


def wet_spell_headline(figures: Mapping[str, Any], *, units: System = "metric") -> str:
    """Answer in one sentence: whether the roots lack air in these spells, and for how long.

    Parameters
    ----------
    figures : mapping
        As `wet_spell_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        The sentence.
    """
    spells = _names(figures["spells"], units)
    beds = figures["beds"]
    if not any(bed["has_roots"] for bed in beds):
        return f"Nothing grows in the bed during {spells}, so no roots lack air."
    if len(beds) == 1:
        return _one_bed(beds[0], figures, spells)
    wet = [bed for bed in beds if _wet(bed, "open") > 0]
    fine = [bed["bed"] for bed in beds if bed["has_roots"] and _wet(bed, "open") == 0]
    if not wet:
        return f"In {spells} the roots have air in every bed, every day."
    worst = max(wet, key=lambda bed: _wet(bed, "open"))
    rest = f"; those of {listed(fine)} never" if fine else ""
    most = days_text(_wet(worst, "open"))
    if len(wet) == 1:
        return f"In {spells} the roots of {worst['bed']} lack air, on up to {most}{rest}."
    return (
        f"In {spells} the roots of {listed([bed['bed'] for bed in wet])} lack air, those of "
        f"{worst['bed']} for the longest, on up to {most}{rest}."
    )


def _one_bed(bed: Mapping[str, Any], figures: Mapping[str, Any], spells: str) -> str:
    longest = max(bed["spells"], key=lambda row: row["open"]["wet_days"])
    late = (longest["open"]["days_until_first_wet_day"] or 0) >= longest["spell_days"]
    least = min(
        row["open"]["lowest_air_percent"]
        for row in bed["spells"]
        if row["open"]["lowest_air_percent"] is not None
    )
    blocked = _wet(bed, "blocked")
    clogged = (
        f"with the overflow blocked they would lack it on {days_text(blocked)}"
        if blocked
        else "even with the overflow blocked"
    )
    if longest["open"]["wet_days"] == 0:
        join = "; " if blocked else ", "
        return (
            f"In {spells} the roots have air every day, {least:.0f} % at the least{join}{clogged}."
        )
    back = longest["open"]["days_until_air_again"]
    again = (
        "not again while it was followed"
        if back is None
        else "until after its last day"
        if late
        else "again by its last day"
        if back == 0
        else f"again {days_text(back)} after it"
    )
    limit = f"{figures['wet_air_limit_percent']:.0f}"
    return (
        f"In {spells} the roots have under {limit} % air on "
        f"{days_text(longest['open']['wet_days'])} at worst, and enough {again}; {clogged}."
    )


def _table(figures: Mapping[str, Any], units: System) -> list[str]:
    """One row for each bed and spell; before it the beds, where there are several."""
    small = "US gal" if units == "us" else "L"
    head = [
        "Bed",
        "Spell",
        "Wet days",
        "Least air",
        "Air again",
        f"Overflow {small}",
        "on one day",
        "Blocked: wet",
        "Least air",
        "Air again",
        f"Over rim {small}",
    ]
    rows = []
    for bed in figures["beds"]:
        for row in bed["spells"]:
            opened, shut = row["open"], row["blocked"]
            rows.append(
                [
                    bed["bed"],
                    f"{row['spell_days']} d",
                    str(opened["wet_days"]),
                    _percent(opened["lowest_air_percent"]),
                    _again(opened, row["spell_days"]),
                    _water(opened["overflow_litres"], units),
                    _water(opened["overflow_litres_largest_day"], units),
                    str(shut["wet_days"]),
                    _percent(shut["lowest_air_percent"]),
                    _again(shut, row["spell_days"]),
                    _water(shut["rim_spill_litres"], units),
                ]
            )
    named = [f"{bed['bed']}  {bed['label']}" for bed in figures["beds"]]
    return [*named, "", *plain_table(head, rows)]


def _notes(figures: Mapping[str, Any]) -> list[str]:
    limit = figures["wet_air_limit_percent"]
    after = [spell["days_followed_after"] for spell in figures["spells"]]
    each = days_text(after[0]) if min(after) == max(after) else f"{min(after)} to {max(after)} days"
    return [
        f"Wet days: from the first day of the spell to {each} after its last, under {limit:.0f} % "
        "air among the roots at the end of the day (the model steps by days and tells no hours). "
        "Air again: days from the last day of the spell, 0 where the roots have it then; lost "
        "later: only rain after the spell takes it; - not within these days.",
    ]


def _spell_lines(figures: Mapping[str, Any], units: System) -> list[str]:
    """Where the spells come from."""
    place = figures["weather_place"] or figures["weather_source"]
    lines = []
    for spell in figures["spells"]:
        first = datetime.date.fromisoformat(spell["from"])
        last = first + datetime.timedelta(days=spell["days"] - 1)
        span = span_text(first.isoformat(), last.isoformat())
        amount = depth_text(spell["rain_mm"] / 1000, units)
        kind = (
            f"{amount} of rain put on {span}, all else as recorded"
            if spell["stated"]
            else f"{amount} of rain, {span}"
        )
        lines.append(f"{spell['days']} d: {kind}; weather: {place}.")
    return lines


def _depth_line(row: Mapping[str, Any], units: System) -> str:
    """Least depth of one search in a sentence."""
    name = f" ({row['with']})" if row["with"] else ""
    low, high = (
        length_text(row[key] / 100, units) for key in ("searched_from_cm", "searched_to_cm")
    )
    if row["found"] == "no roots":
        return f"Least depth{name}: nothing grows in these spells, so none was looked for."
    if row["found"] == "any":
        mix = length_text(0.05, units)
        return (
            f"Least depth{name}: even a box {low} deep, with {mix} of mix above reservoir and "
            f"overflow, keeps {row['lowest_air_percent']:.1f} % air among the roots at the least."
        )
    if row["found"] == "none":
        return (
            f"Least depth{name}: none up to {high} keeps enough air; at that depth it falls to "
            f"{row['lowest_air_percent']:.0f} %. Depth does not help here; an airier mix does."
        )
    depth, less = (length_text(row[key] / 100, units) for key in ("depth_cm", "too_shallow_cm"))
    return (
        f"Least depth{name}: a box {depth} deep keeps {row['lowest_air_percent']:.1f} % air among "
        f"the roots at the least, one {less} deep {row['lowest_air_percent_too_shallow']:.1f} %; "
        f"found between {low} and {high} by running {row['depths_tried']} depths."
    )


def _wet(bed: Mapping[str, Any], outlet: str) -> int:
    """Most wet days of a bed in any of the spells."""
    return max(int(row[outlet]["wet_days"]) for row in bed["spells"])


def _names(spells: Sequence[Mapping[str, Any]], units: System) -> str:
    """The spells in the headline."""
    if spells[0]["stated"]:
        each = depth_text(spells[0]["rain_mm"] / spells[0]["days"] / 1000, units)
        return f"{days_text(spells[0]['days'])} of {each}"
    lengths = [str(spell["days"]) for spell in spells]
    return f"the wettest {listed(lengths)} {'day' if lengths == ['1'] else 'days'}"


def _again(row: Mapping[str, Any], spell_days: int) -> str:
    days, first = row["days_until_air_again"], row["days_until_first_wet_day"]
    if first is not None and first >= spell_days:
        return "lost later"
    return "-" if days is None else f"{days:.0f} d"


def _percent(value: float | None) -> str:
    return "-" if value is None else f"{value:.0f} %"


def _water(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units).split(" ")[0]


def _volume(litres: float, units: System) -> str:
    return volume_text(litres / 1e3, units)


def _assumed(assumptions: list[str]) -> list[str]:
    if not assumptions:
        return ["Assumed: nothing; all days rest on readings."]
    return ["Assumed:", *(f"  {sentence}" for sentence in assumptions)]
