"""For how long the bed can be left, from every date of the year: a calendar."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import run_dataset
from bedtide.bed import Bed, dead_storage, plan_area
from bedtide.errors import Option, RangeError, in_range
from bedtide.many.doubt import SELDOM, Drawn, drawn_beds
from bedtide.many.leaving import (
    FEW_YEARS,
    FOLLOWED,
    SPIN_UP,
    Starts,
    drawn_alone,
    room_around,
    safe_days,
    season_left,
    standing,
    whole_answer,
    years_of_record,
)
from bedtide.many.years import every_year
from bedtide.statistics import HIGH, LOW, percentile
from bedtide.tables import attributes

if TYPE_CHECKING:
    import xarray as xr

STEP = 5  # days from one date of leaving to the next [d]; ours
# Sets of values that a calendar is drawn with: each is as much work as the calendar [1]
CALENDAR_DRAWS = 16
_POOLED = 2  # with few years, dates that many steps before and after are taken along
_PLAIN_YEAR = 2001  # without a 29 February


def away_calendar(
    bed: Bed,
    weather: xr.Dataset,
    *,
    level: float = 1.0,
    year: int | None = None,
    followed: int = FOLLOWED,
    drawn: Drawn | None = None,
) -> xr.Dataset:
    """Days that a bed can be left from every fifth day of the year, in every year of a record.

    Full dates of the bed belong to `year`, that of its latest planting if left out. Days lasted
    are infinite where longer than `followed` [d] and NaN where the record lacks the days. With
    fewer than ten years the dates up to ten days before and after are counted with each. `drawn`
    is one bed of :func:`bedtide.many.drawn_beds` to run in the place of `bed`.
    """
    in_range(level, 0.0, 1.0, where=Option("level"), unit="")
    years = years_of_record(weather)
    leaves = [
        datetime.date(_PLAIN_YEAR, 1, 1) + datetime.timedelta(at) for at in range(0, 365, STEP)
    ]
    each = [[day.replace(year=year) for year in years] for day in leaves]
    dates = np.array(each, dtype="datetime64[D]")
    known = room_around(weather, dates, followed).fits(SPIN_UP, followed)
    if not known.any():
        raise RangeError(
            "weather record",
            f"none of its years has {SPIN_UP} days before a date of leaving and {followed} after",
            expected=f"at least {SPIN_UP + followed} days without long gaps",
        )
    sets = drawn or Drawn([_yearly(bed, year, followed)], np.ones(1), np.ones(1))
    (yearly,) = sets.beds
    grows = [standing(yearly, day) for day in leaves]
    lasted, anyway = np.full((2, *known.shape), np.nan)
    error = 0.0
    # Nobody plants meanwhile: dates of leaving with the same plants in the bed are run together.
    for grown in dict.fromkeys(grows):
        own = known & np.array([each == grown for each in grows])[:, None]
        if own.any():
            starts, leave = Starts(dates[own], SPIN_UP, followed), leaves[grows.index(grown)]
            found = drawn_alone(sets, weather, starts, leave=leave, level=level, days=followed)
            lasted[own], anyway[own] = found.lasted[0], found.anyway[0]
            error = max(error, float(found.run.error.max()))
    independent = int(known.any(axis=0).sum())
    pooled = _pooled(lasted) if independent < FEW_YEARS else lasted
    values = {
        "days_lasted": (("leave", "year"), lasted),
        "days_short_anyway": (("leave", "year"), anyway),
        "days_safe": (("leave",), safe_days(pooled, followed)),
        "days_middle": (("leave",), safe_days(pooled, followed, 0.5)),
        "case_count": (("leave",), (~np.isnan(pooled)).sum(axis=1)),
        "plantings_standing": (("leave",), [len(grown) for grown in grows]),
        "season_left": (
            ("leave",),
            [season_left(yearly, day, followed) or np.inf for day in leaves],
        ),
        "plan_area": ((), plan_area(bed)),
        "dead_storage": ((), dead_storage(bed)),
    }
    return run_dataset(
        values,
        coords={"leave": [f"{day:%m-%d}" for day in leaves], "year": list(years)},
        attrs={
            "days_followed": followed,
            "start_level": level,
            "first_month": 7 if float(weather.attrs["latitude"]) < 0.0 else 1,
            "independent_years": independent,
            "pooled_days": _POOLED * STEP if independent < FEW_YEARS else 0,
            "spin_up_days": SPIN_UP,
            **whole_answer(bed, weather, error),
        },
    )


def with_calendar_range(
    calendar: xr.Dataset,
    bed: Bed,
    weather: xr.Dataset,
    *,
    level: float,
    year: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> xr.Dataset:
    """A calendar with the range of its safe days over the drawn beds that work."""
    sets = drawn_beds(_yearly(bed, year, FOLLOWED), CALENDAR_DRAWS)
    found = []
    for at in range(1, len(sets.beds)):
        one = Drawn([sets.beds[at]], sets.rain[at : at + 1], sets.drying[at : at + 1])
        found.append(away_calendar(bed, weather, level=level, year=year, drawn=one))
        if progress is not None:
            progress(at / CALENDAR_DRAWS)
    if _keeps(calendar):
        found = [each for each in found if _keeps(each)] or [calendar]
    safe = np.stack([each["days_safe"].to_numpy() for each in found], axis=-1)
    values = {"days_safe_low": percentile(safe, LOW), "days_safe_high": percentile(safe, HIGH)}
    return calendar.assign(
        {name: ("leave", array, attributes(name)) for name, array in values.items()}
    )


def _keeps(calendar: xr.Dataset) -> bool:
    """Whether a bed filled every morning keeps its plants in nearly all cases with plants."""
    planted = calendar["plantings_standing"].to_numpy() > 0
    anyway = calendar["days_short_anyway"].to_numpy()[planted]
    cases = anyway[~np.isnan(anyway)]
    return bool(cases.size == 0 or (cases > 0).mean() <= SELDOM)


def _yearly(bed: Bed, year: int | None, followed: int) -> Bed:
    """The bed with all its dates returning every year, over a year and what follows.

    Without a year that of its latest planting with a full date, or any where there is none.
    """
    dated = [p.planted.year for p in bed.plantings if isinstance(p.planted, datetime.date)]
    chosen = year or max(dated, default=_PLAIN_YEAR)
    first = datetime.date(chosen, 1, 1) - datetime.timedelta(days=SPIN_UP)
    last = datetime.date(chosen, 12, 31) + datetime.timedelta(days=followed)
    return every_year(bed, first, last)[0]


def _pooled(lasted: NDArray[np.float64]) -> NDArray[np.float64]:
    """Each date with its neighbours before and after, round the year; (leave, more cases)."""
    shifts = range(-_POOLED, _POOLED + 1)
    return np.concatenate([np.roll(lasted, shift, axis=0) for shift in shifts], axis=1)
