"""What is printed of an overflow: what it carries, clean, and that a hose may beat it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from bedtide.units import System, volume_text

__all__ = ["listed", "outlet_lines"]

_HOSE: Final = (15.0, 20.0)
"""Litres a minute of a garden hose; common practice, no source."""

_GALLON, _INCH = 3.785411784, 25.4  # L, mm


def outlet_lines(figures: Mapping[str, Any], *, units: System = "metric") -> list[str]:
    """Whether the overflow can carry it, once for all beds that share an outlet.

    Parameters
    ----------
    figures : mapping
        As `wet_spell_summary` returns them.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of str
        One line for each outlet.
    """
    groups: dict[tuple[Any, ...], list[Mapping[str, Any]]] = {}
    for bed in figures["beds"]:
        keys = ("outlet_bore_mm", "outlet_height_cm", "outlet_litres_a_minute_reservoir_full")
        groups.setdefault((*(bed[key] for key in keys), bed["plan_area_m2"]), []).append(bed)
    lines = []
    for beds in groups.values():
        whose = (
            "The overflow"
            if len(groups) == 1
            else f"The overflow of {listed([b['bed'] for b in beds])}"
        )
        lines.append(f"{whose} {_outlet_line(beds, units)}")
    return lines


def _outlet_line(beds: Sequence[Mapping[str, Any]], units: System) -> str:
    """What is said of the outlet that these beds share."""
    bed = beds[0]
    bore, height = bed["outlet_bore_mm"], bed["outlet_height_cm"]
    if height is None:
        return "does not let water out; what comes in too much runs over the rim."
    if bore is None:
        return (
            "is given without its bore ([overflow] bore), so it can't be told what it carries. A "
            f"hose brings {_rate_range(units)} (common practice): fill slowly, or watch."
        )
    low = bed["outlet_litres_a_minute_reservoir_full"]
    high = [one["outlet_litres_a_minute_mix_full"] for one in beds]
    wide = f"({_bore(bore, units)} wide)"
    if low is None or None in high:
        return f"{wide} lies too near the surface of the mix for its flow to be worked out."
    largest = max(
        row["open"]["overflow_litres_largest_day"] for one in beds for row in one["spells"]
    )
    minutes = largest / low
    takes = "less than a minute" if minutes < 1 else f"{minutes:.0f} min"
    rain = bed["rain_mm_an_hour_reservoir_full"]
    storm = (
        "no rain comes in under the cover"
        if rain is None
        else f"that is rain of {_intensity(rain, units)}, and harder rain backs up into the mix"
    )
    hose = (
        "that beats it, so fill slowly, or watch"
        if low < _HOSE[1]
        else "that it carries if it is clean; watch all the same"
    )
    return (
        f"{wide} carries {_rate(low, units)} with the reservoir full, a head of "
        f"{_head(bed['head_reservoir_full_mm'], units)}; {storm}. Before water stands on the mix "
        f"it carries {_rate(min(high), units)}. All that for a clean opening: a screen or worm "
        f"casts may halve it. The {volume_text(largest / 1e3, units)} of the largest day take it "
        f"{takes}. A hose brings "
        f"{_rate_range(units)} (common practice): {hose}."
    )


def _rate(litres: float, units: System) -> str:
    if units == "us":
        return f"{litres / _GALLON:.1f} US gal a minute"
    return f"{litres:.0f} L a minute" if litres >= 10 else f"{litres:.1f} L a minute"


def _rate_range(units: System) -> str:
    if units == "us":
        return f"{_HOSE[0] / _GALLON:.0f} to {_HOSE[1] / _GALLON:.0f} US gal a minute"
    return f"{_HOSE[0]:.0f} to {_HOSE[1]:.0f} L a minute"


def _intensity(mm: float, units: System) -> str:
    return f"{mm / _INCH:.1f} in an hour" if units == "us" else f"{mm:.0f} mm an hour"


def _bore(mm: float, units: System) -> str:
    return f"{mm / _INCH:.2g} in" if units == "us" else f"{mm:.0f} mm"


def _head(mm: float, units: System) -> str:
    return f"{mm / _INCH:.1f} in" if units == "us" else f"{mm:.0f} mm"


def listed(names: Sequence[str]) -> str:
    """Names in a row, "and" before the last.

    Parameters
    ----------
    names : sequence of str
        The names.

    Returns
    -------
    str
        Such as ``"A, B and C"``.
    """
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
