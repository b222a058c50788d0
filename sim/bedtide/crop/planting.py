"""A crop in a bed: when it is planted and cleared, and how much of the bed it takes."""

from __future__ import annotations

import calendar
import datetime
from dataclasses import dataclass
from typing import NamedTuple

from bedtide.checks import in_range
from bedtide.crop.table import Crop
from bedtide.errors import FieldError, InputError, RangeError, raise_all

MonthDay = tuple[int, int]
"""Month and day of the month, which come round every year."""

WIDEST_CANOPY = 2.0
"""Largest leaf area over bed area [1]; a judgement: plants that lean over the rim on all sides."""

_YEAR = 365


@dataclass(frozen=True)
class Planting:
    """A crop in the bed.

    Attributes
    ----------
    crop : Crop
        What grows.
    planted : datetime.date or (month, day)
        The first day of its initial stage: planting out, or emergence. A month and day repeats
        every year.
    area_share : float
        Share of the bed's plan area that it takes [1].
    canopy : float
        Area that its leaves cover over the area that it takes in the bed, where plants spread
        beyond the rim; 1 to 2 [1].
    stages : tuple of int or None
        Lengths of the four stages, in place of the crop's [d]; None takes the crop's.
    removed : datetime.date or (month, day) or None
        The day on which it is cleared, before or after the end of its stages. Kept longer than
        its stages, it goes on as at their end. None clears it at the end of its stages.

    Raises
    ------
    RangeError
        If a share, a stage or a date is impossible.
    FieldError
        If `removed` is one date and `planted` comes round every year.
    """

    crop: Crop
    planted: datetime.date | MonthDay
    area_share: float = 1.0
    canopy: float = 1.0
    stages: tuple[int, int, int, int] | None = None
    removed: datetime.date | MonthDay | None = None

    def __post_init__(self) -> None:
        """Refuse what can't be, all mistakes at once."""
        errors: list[InputError] = []
        name = self.crop.name
        for where, value, low, high, open_low in (
            (f"{name}, area share", self.area_share, 0.0, 1.0, True),
            (f"{name}, canopy", self.canopy, 1.0, WIDEST_CANOPY, False),
        ):
            try:
                in_range(value, low, high, where=where, unit="", open_low=open_low)
            except RangeError as error:
                errors.append(error)
        lengths = self.crop.stages if self.stages is None else self.stages
        if len(lengths) != 4 or min(lengths) < 1 or sum(lengths) > _YEAR:
            errors.append(
                RangeError(
                    f"{name}, stages",
                    f"{', '.join(f'{length:g}' for length in lengths)} days can't be",
                    expected="four lengths of at least 1 day that add up to at most 365 days",
                )
            )
        for key, day in (("planted", self.planted), ("removed", self.removed)):
            if isinstance(day, tuple):
                errors.extend(_month_day_errors(f"{name}, {key}", day))
        raise_all(errors)
        self._check_removal()

    def _check_removal(self) -> None:
        """Refuse a removal that does not come after planting."""
        where = f"{self.crop.name}, removed"
        if isinstance(self.removed, datetime.date):
            if isinstance(self.planted, tuple):
                raise FieldError(
                    where,
                    "it is one date, but the planting comes round every year",
                    expected="a month and day, as for the planting",
                )
            if self.removed <= self.planted:
                raise RangeError(
                    where,
                    f"{self.removed} is not after the planting",
                    expected=f"a date after {self.planted}",
                )
        elif self.removed is not None and self.removed == self.planted:
            raise RangeError(
                where, "it is the day of planting itself", expected="another day of the year"
            )


class Season(NamedTuple):
    """One growing season of a planting.

    Attributes
    ----------
    start : int
        Day on which it is planted, counted from 1970-01-01 [d].
    length : int
        Days from planting to the last day before it is cleared [d].
    """

    start: int
    length: int


def stage_lengths(planting: Planting) -> tuple[int, int, int, int]:
    """Lengths of the four stages of a planting.

    Parameters
    ----------
    planting : Planting
        The planting.

    Returns
    -------
    tuple of int
        Its own lengths, or else the crop's [d].
    """
    return planting.crop.stages if planting.stages is None else planting.stages


def seasons(planting: Planting, first: datetime.date, last: datetime.date) -> list[Season]:
    """Growing seasons of a planting that touch a record.

    Parameters
    ----------
    planting : Planting
        The planting.
    first, last : datetime.date
        First and last day of the record.

    Returns
    -------
    list of Season
        In order; one at most where the planting has a year of its own.
    """
    if isinstance(planting.planted, datetime.date):
        starts = [planting.planted]
    else:
        starts = [
            datetime.date(year, *planting.planted) for year in range(first.year - 1, last.year + 1)
        ]
    found = []
    for start in starts:
        length = _season_length(planting, start)
        if start <= last and start + datetime.timedelta(days=length - 1) >= first:
            found.append(Season((start - datetime.date(1970, 1, 1)).days, length))
    return found


def _season_length(planting: Planting, start: datetime.date) -> int:
    """Days from planting until it is cleared [d]."""
    if planting.removed is None:
        return sum(stage_lengths(planting))
    if isinstance(planting.removed, datetime.date):
        return (planting.removed - start).days
    cleared = datetime.date(start.year, *planting.removed)
    if cleared <= start:
        cleared = datetime.date(start.year + 1, *planting.removed)
    return (cleared - start).days


def _month_day_errors(where: str, day: MonthDay) -> list[InputError]:
    """What is wrong with a month and day, which must exist in every year."""
    month, number = day
    if 1 <= month <= 12 and 1 <= number <= calendar.monthrange(2001, month)[1]:
        return []
    hint = "The 29th of February is not in every year: take the 28th" if day == (2, 29) else ""
    return [
        RangeError(
            where,
            f"{month:02d}-{number:02d} is not a day of every year",
            expected="a month and day such as 05-15",
            hint=hint,
        )
    ]
