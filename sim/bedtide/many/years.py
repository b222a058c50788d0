"""Which years of a record are run, and the bed in any of them."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.balance import days_of
from bedtide.bed import Bed, Overflow, OverflowChange, lip_on
from bedtide.crop import Planting, season_length
from bedtide.errors import FieldError, RangeError

if TYPE_CHECKING:
    import xarray as xr

MonthDay = tuple[int, int]

# Share of the days of a stretch that may be filled gaps, above which its year is left out [1];
# ours
MOST_FILLED = 0.1
LONG_RUN = 400  # days above which a run is told as a mean year [d]; ours
_ONE_DAY = datetime.timedelta(days=1)
_YEAR = 365
# Days of a run of a year: the last day of a leap year is left out, so that all are alike. A
# planting that stood for longer, repeated every year, would meet itself.


# --- years of a record ------------------------------------------------------------------------


@dataclass(frozen=True)
class Years:
    """Years, or the same season of every year, that a record holds whole."""

    starts: tuple[datetime.date, ...]  # first day of each, at least one
    days: int  # length of each [d]
    left_out: int  # days of the record that are in none of them [d]


def whole_years(
    weather: xr.Dataset, *, first: MonthDay | None = None, last: MonthDay | None = None
) -> Years:
    """Every whole year of a record, or the same season of every year, both ends included.

    Without a first and last day a year begins in midwinter, on 1 January, or south of the equator
    on 1 July, so that no summer is cut in two; where the record holds more years from its own
    first day on, they begin there. With only one of them the season is the whole year from, or
    to, that day.
    """
    axis = days_of(weather)
    if first is None and last is None:
        south = float(weather.attrs.get("latitude", 0.0)) < 0.0
        own = axis[0].item()
        opening: list[MonthDay] = [(7, 1) if south else (1, 1), (own.month, own.day)]
        found = [_fitting(axis, day, _YEAR) for day in opening]
        starts, days = max(found, key=len), _YEAR  # the first of equals
    else:
        begin, days = _season(first, last)
        starts = _fitting(axis, begin, days)
    if not starts:
        span = "year" if days == _YEAR else f"season of {days} days"
        raise RangeError(
            "weather record",
            f"its {axis.size:,} days from {axis[0]} to {axis[-1]} hold no whole {span}",
            expected="at least one",
            hint="Part of a year can be compared:  bedtide compare ... --from 05-01 --to 09-30",
        )
    return Years(tuple(starts), days, axis.size - len(starts) * days)


def some_years(weather: xr.Dataset, years: Years, most: int) -> Years:
    """At most so many of the years, spread evenly from the wettest to the driest."""
    if len(years.starts) <= most:
        return years
    axis = days_of(weather)
    lacking = np.concatenate([[0.0], np.cumsum((weather["et0"] - weather["rain"]).to_numpy())])
    first = (np.array(years.starts, dtype="datetime64[D]") - axis[0]).astype(np.int64)
    order = np.argsort(lacking[first + years.days] - lacking[first], kind="stable")
    chosen = order[((np.arange(most) + 0.5) * order.size / most).astype(np.int64)]
    return Years(tuple(years.starts[at] for at in sorted(chosen)), years.days, years.left_out)


def years_of(days: ArrayLike) -> NDArray[np.float64]:
    """By how much the figures of a run of so many days [d] are divided to be a mean year's.

    >>> years_of([365.0, 731.0]).round(2).tolist()
    [1.0, 2.0]
    """
    number = np.asarray(days, dtype=np.float64)
    return np.where(number > LONG_RUN, number / 365.25, 1.0)


def on_that_day(day: datetime.date, year: int) -> datetime.date:
    """The same day in another year; 28 February where that has no 29th."""
    try:
        return day.replace(year=year)
    except ValueError:
        return day.replace(year=year, day=28)


def _season(first: MonthDay | None, last: MonthDay | None) -> tuple[MonthDay, int]:
    """First day and length [d] of a season, counted in a year without 29 February."""
    begin = None if first is None else datetime.date(2023, *_begin(first))
    after = None if last is None else datetime.date(2023, *_end(last)) + _ONE_DAY
    opens, ends = begin or after, after or begin
    assert opens is not None
    assert ends is not None
    days = (ends - opens).days
    return (opens.month, opens.day), days if days > 0 else days + _YEAR


def _begin(day: MonthDay) -> MonthDay:
    """First day that every year has."""
    return (3, 1) if day == (2, 29) else day


def _end(day: MonthDay) -> MonthDay:
    """Last day that every year has."""
    return (2, 28) if day == (2, 29) else day


def _fitting(axis: NDArray[np.datetime64], begin: MonthDay, days: int) -> list[datetime.date]:
    """First days of all seasons that the record holds whole."""
    first, last = axis[0].item(), axis[-1].item()
    years = range(first.year, last.year + 1)
    starts = (datetime.date(year, *_begin(begin)) for year in years)
    length = datetime.timedelta(days=days - 1)
    return [day for day in starts if first <= day and day + length <= last]


# --- a bed whose dates return every year -------------------------------------------------------


def every_year(bed: Bed, first: datetime.date, last: datetime.date) -> tuple[Bed, list[str]]:
    """The bed with every full date made one that returns each year; the crops taken out.

    A planting or a height of the overflow with a full date belongs to the year of leaving, of
    which the days from `first` to `last` are run; in each year of the record it comes on the same
    month and day. Plantings of other years are taken out, and named; perennials planted before
    stand in every year.
    """
    found = [_returning(at, each, first, last) for at, each in enumerate(bed.plantings, start=1)]
    out = [old.crop.name for old, new in zip(bed.plantings, found, strict=True) if new is None]
    kept = tuple(planting for planting in found if planting is not None)
    return replace(bed, plantings=kept, overflow=_overflow(bed.overflow, first, last)), out


def _returning(
    number: int, planting: Planting, first: datetime.date, last: datetime.date
) -> Planting | None:
    """A planting whose dates return every year; None where it does not stand on these days."""
    planted, removed = planting.planted, planting.removed
    if isinstance(planted, tuple):
        return planting
    length = season_length(planting, planted)
    end = planted + datetime.timedelta(days=length)
    if planting.perennial:
        end = removed if isinstance(removed, datetime.date) else datetime.date.max
    if planted > last or end <= first:
        return None
    if planting.perennial and end > last:
        removed = None
    elif length > _YEAR:
        raise FieldError(
            f"planting {number} ({planting.crop.name})",
            f"it stands for {length} days, and is to be tried in the weather of every year",
            expected="months and days, such as  planted = 05-10, for what stands over a year",
        )
    elif planted > first and end > last + _ONE_DAY:
        # planted on the way: it ends with the run, so that it meets no other year's crop
        removed = last + _ONE_DAY
    if isinstance(removed, datetime.date):
        removed = _month_day(removed)
    return replace(planting, planted=_month_day(planted), removed=removed)


def repeated(bed: Bed) -> tuple[Bed, list[str]]:
    """The bed with the full dates of one year coming round every year, and sentences saying so.

    The year is that from the first of its full dates on; a bed without any stays as it is.
    """
    dates = [
        *(planting.planted for planting in bed.plantings if not planting.perennial),
        *(change.start for change in bed.overflow.changes),
    ]
    full = [day for day in dates if isinstance(day, datetime.date)]
    if not full:  # perennials alone, which stand in any year after all of them were planted
        lasting = [p.planted for p in bed.plantings if isinstance(p.planted, datetime.date)]
        full = [max(lasting)] if lasting else []
    if not full:
        return bed, []
    first = min(full)
    last = first + datetime.timedelta(days=_YEAR - 1)
    plain, dropped = every_year(bed, first, last)
    sentences = [f"{bed.name}: full dates from {first} to {last} were taken as days of every year."]
    if dropped:
        sentences.append(f"{bed.name}: left out, as planted in another year: {', '.join(dropped)}.")
    return plain, sentences


def undated(beds: Sequence[Bed]) -> list[Bed]:
    """The beds with their full dates taken as days of every year."""
    return [repeated(bed)[0] for bed in beds]


def _overflow(overflow: Overflow, first: datetime.date, last: datetime.date) -> Overflow:
    """The outlet with the heights of these days, returning every year."""
    dated = {c.start: c.height for c in overflow.changes if isinstance(c.start, datetime.date)}
    if not dated or overflow.state != "open":
        return overflow
    begin = float(lip_on(np.array([first], dtype="datetime64[D]"), overflow)[0])
    within = {_month_day(day): high for day, high in dated.items() if first < day <= last}
    changes = {_month_day(first): begin, **within}
    ordered = tuple(OverflowChange(start, height) for start, height in sorted(changes.items()))
    return replace(overflow, height=begin, changes=ordered if within else ())


def _month_day(day: datetime.date) -> MonthDay:
    return _end((day.month, day.day))
