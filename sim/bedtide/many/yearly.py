"""The bed as it stands every year, whatever the year of the weather."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from bedtide.bed import Bed, Overflow, OverflowChange, lip_on
from bedtide.crop import Planting
from bedtide.errors import FieldError

__all__ = ["cleared_on", "every_year"]

_ONE_DAY = datetime.timedelta(days=1)
_LONGEST = 365  # days that a planting may stand; repeated every year it would meet itself


def every_year(bed: Bed, first: datetime.date, last: datetime.date) -> tuple[Bed, list[str]]:
    """The bed with every full date made one that returns each year.

    Answers: how does this bed stand on that day, whatever the year of the weather.
    A planting or a height of the overflow with a full date belongs to the year of leaving; in
    each year of the record it comes on the same month and day.

    Parameters
    ----------
    bed : Bed
        The bed.
    first, last : date
        Days of the year of leaving that are run, both included.

    Returns
    -------
    bed : Bed
        The same with months and days; plantings of other years taken out.
    dropped : list of str
        Names of the crops that were taken out.

    Raises
    ------
    FieldError
        If a planting with a full date stands for more than a year.
    """
    kept: list[Planting] = []
    dropped = []
    for number, planting in enumerate(bed.plantings, start=1):
        if isinstance(planting.planted, tuple):
            kept.append(planting)
            continue
        end = cleared_on(planting, planting.planted)
        if planting.planted > last or end <= first:
            dropped.append(planting.crop.name)
            continue
        if (end - planting.planted).days > _LONGEST:
            raise FieldError(
                f"planting {number} ({planting.crop.name})",
                f"it stands for {(end - planting.planted).days} days, and is to be tried in the "
                "weather of every year",
                expected="months and days, such as  planted = 05-10, for what stands over a year",
            )
        # One that is planted on the way ends with the run, so that it meets no other year's crop.
        late = planting.planted > first and end > last + _ONE_DAY
        removed = last + _ONE_DAY if late else planting.removed
        kept.append(
            replace(
                planting,
                planted=_month_day(planting.planted),
                removed=_month_day(removed) if isinstance(removed, datetime.date) else removed,
            )
        )
    return replace(bed, plantings=tuple(kept), overflow=_overflow(bed.overflow, first, last)), (
        dropped
    )


def cleared_on(planting: Planting, planted: datetime.date) -> datetime.date:
    """The day on which a planting is cleared.

    Parameters
    ----------
    planting : Planting
        The planting.
    planted : date
        The day on which it was planted.

    Returns
    -------
    date
        The first day on which it is gone.
    """
    if isinstance(planting.removed, datetime.date):
        return planting.removed
    if planting.removed is not None:
        month, day = planting.removed
        end = datetime.date(planted.year, month, day)
        return end if end > planted else datetime.date(planted.year + 1, month, day)
    return planted + datetime.timedelta(days=sum(planting.stages or planting.crop.stages))


def _overflow(overflow: Overflow, first: datetime.date, last: datetime.date) -> Overflow:
    """The outlet with the heights of these days, returning every year."""
    dated = [c for c in overflow.changes if isinstance(c.start, datetime.date)]
    if not dated or overflow.state != "open":
        return overflow
    begin = float(lip_on(np.array([first], dtype="datetime64[D]"), overflow)[0])
    within = [c for c in dated if isinstance(c.start, datetime.date) and first < c.start <= last]
    changes = {_month_day(first): begin}
    changes |= {_month_day(c.start): c.height for c in within if isinstance(c.start, datetime.date)}
    ordered = tuple(OverflowChange(start, height) for start, height in sorted(changes.items()))
    return replace(overflow, height=begin, changes=ordered if within else ())


def _month_day(day: datetime.date) -> tuple[int, int]:
    return (2, 28) if (day.month, day.day) == (2, 29) else (day.month, day.day)
