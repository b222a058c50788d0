"""Grades in words and the limits behind them."""

from __future__ import annotations

from typing import Final, Literal

__all__ = ["GRADES", "LONG_RUN", "WetGrade", "wet_grade"]

WetGrade = Literal["airy", "briefly wet", "wet at times", "too wet to breathe", "no plants"]

LONG_RUN: Final = 400
"""Days above which a run is told as a mean year [d]; ours."""

GRADES: Final[tuple[tuple[WetGrade, int], ...]] = (
    ("airy", 0),
    ("briefly wet", 2),
    ("wet at times", 7),
)
"""Grade and the longest wet spell that it allows [d]; above all, "too wet to breathe".

Two days: most vegetables recover from waterlogging that lasts under 48 hours (University of
Delaware, Weekly Crop Update, G. Johnson, read in part). Seven days: ours.
"""


def wet_grade(longest_wet_spell: int, *, rooted_days: int) -> WetGrade:
    """Grade of the wetness of a run.

    Parameters
    ----------
    longest_wet_spell : int
        Days of the longest run of days with under 10 % air among the roots [d].
    rooted_days : int
        Days on which the bed holds roots [d].

    Returns
    -------
    str
        One of "airy" (no such day), "briefly wet" (up to 2 days), "wet at times" (up to 7 days),
        "too wet to breathe" (more), or "no plants".

    Examples
    --------
    >>> wet_grade(3, rooted_days=150)
    'wet at times'
    """
    if rooted_days == 0:
        return "no plants"
    for grade, most in GRADES:
        if longest_wet_spell <= most:
            return grade
    return "too wet to breathe"
