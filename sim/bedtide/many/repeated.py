"""Beds with full dates, made ready for the weather of any year."""

from __future__ import annotations

import datetime

from bedtide.bed import Bed
from bedtide.many.yearly import every_year

__all__ = ["repeated"]

_YEAR = datetime.timedelta(days=364)  # from the first to the last day


def repeated(bed: Bed) -> tuple[Bed, list[str]]:
    """The bed with its full dates coming round every year, and what is to be said of it.

    Answers: a bed planned for one summer, how would it do in the weather of thirty.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    bed : Bed
        The same bed where it has no full date. Else that of the year from the first of its full
        dates on; plantings of later years are taken out.
    sentences : list of str
        What was taken so; empty where there is no full date.
    """
    dates = [
        *(planting.planted for planting in bed.plantings),
        *(change.start for change in bed.overflow.changes),
    ]
    full = [day for day in dates if isinstance(day, datetime.date)]
    if not full:
        return bed, []
    first = min(full)
    last = first + _YEAR
    plain, dropped = every_year(bed, first, last)
    sentences = [f"{bed.name}: full dates from {first} to {last} were taken as days of every year."]
    if dropped:
        sentences.append(f"{bed.name}: left out, as planted in another year: {', '.join(dropped)}.")
    return plain, sentences
