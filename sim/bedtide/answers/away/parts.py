"""Small pieces of sentences that the pages on a stay away share."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from bedtide.report.words import month_name
from bedtide.units import System, volume_text

__all__ = [
    "SURE",
    "date_text",
    "day_text",
    "days_or_more",
    "days_or_none",
    "listed",
    "litres_text",
    "whole_text",
    "years_text",
]

SURE = 10
"""Years from which "9 in 10 years" is said [1]; a 10th percentile needs nine. Ours."""


def days_or_more(days: float | None, figures: Mapping[str, Any]) -> str:
    """Days as a number; ``"45 or more"`` beyond what was followed.

    Parameters
    ----------
    days : float or None
        Days [d]; None is beyond.
    figures : mapping
        With ``days_followed``.

    Returns
    -------
    str
        Without its unit.
    """
    return f"{figures['days_followed']} or more" if days is None else whole_text(days)


def listed(names: Sequence[str]) -> str:
    """Names with commas and an "and" before the last.

    Parameters
    ----------
    names : sequence of str
        Any number of them.

    Returns
    -------
    str
        Empty for none.
    """
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def years_text(count: int) -> str:
    """Number of years in words.

    Parameters
    ----------
    count : int
        Years [1].

    Returns
    -------
    str
        Such as ``"1 year"``.
    """
    return f"{count} {'year' if count == 1 else 'years'}"


def date_text(day: str) -> str:
    """A day with its year, the month by name.

    Parameters
    ----------
    day : str
        As 2027-07-10 [d].

    Returns
    -------
    str
        Such as ``"10 July 2027"``.
    """
    date = datetime.date.fromisoformat(day)
    return f"{date.day} {month_name(date.month)} {date.year}"


def day_text(day: str) -> str:
    """A day without its year, the month by name.

    Parameters
    ----------
    day : str
        As 2027-07-10 [d].

    Returns
    -------
    str
        Such as ``"10 July"``.
    """
    date = datetime.date.fromisoformat(day)
    return f"{date.day} {month_name(date.month)}"


def litres_text(litres: float, units: System) -> str:
    """Volume with its unit.

    Parameters
    ----------
    litres : float
        Volume [L].
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    str
        Such as ``"64 L"`` or ``"17 US gal"``.
    """
    return volume_text(litres / 1e3, units)


def whole_text(days: float) -> str:
    """Nearest whole number, a half upward.

    Parameters
    ----------
    days : float
        Days [d].

    Returns
    -------
    str
        Without its unit.
    """
    return f"{int(np.floor(days + 0.5))}"


def days_or_none(value: Any) -> float | int | None:
    """Days as a plain number, whole where it is.

    Parameters
    ----------
    value : float or DataArray
        Days [d]; infinite beyond what was followed.

    Returns
    -------
    float, int or None
        None where it is infinite or missing.
    """
    number = float(value)
    if not np.isfinite(number):
        return None
    return int(number) if number == int(number) else number
