"""Beds that are left alone: from which days, in what state, how long they last, from any date."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import compress
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import (
    Demand,
    Run,
    State,
    days_of,
    rests_on,
    run_dataset,
    run_many,
    stored,
    variables_of,
)
from bedtide.bed import Bed, Watering, bed_text, dead_storage, lip_on, plan_area
from bedtide.crop import Planting, season_length
from bedtide.errors import Option, RangeError, in_range
from bedtide.many.doubt import SELDOM, Drawn, drawn_beds, drawn_demand
from bedtide.many.years import MOST_FILLED, every_year, on_that_day
from bedtide.readings import EMPTY, NEED_LIMIT
from bedtide.statistics import HIGH, LOW, percentile

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Flags = NDArray[np.bool_]
Days = NDArray[np.datetime64]

NEVER = Watering("never")  # nobody fills
EVERY_MORNING = Watering("below share", share=1.0)  # somebody fills to the lip every morning
# Share of the years that "likely to last" stands for [1]: nine in ten, as the headline says
SAFE = 0.9
SPIN_UP = 30  # days with the bed's own watering before each start [d]; ours, see docs/away.md
# Days that a bed left alone is followed where no stay is stated [d]; longer than nearly all stays
# away, ours
FOLLOWED = 60
HALF = 0.5  # share of the plants' need under which they are in trouble [1]; our choice
FEW_YEARS = 10  # fewer years than this are helped by neighbouring dates [1]; ours
NEIGHBOURS = (-10, -5, 5, 10)  # neighbouring dates, as days from the date of leaving [d]; ours
STEP = 5  # days from one date of leaving to the next in a calendar [d]; ours
_POOLED = 2  # with few years, dates of it that many steps before and after are taken along
CALENDAR_DRAWS = 16  # sets of values that the range of a calendar is drawn with [1]; ours
_PLAIN_YEAR = 2001  # without a 29 February


# --- from which days --------------------------------------------------------------------------


def usable(
    weather: xr.Dataset,
    dates: Sequence[datetime.date] | Days,
    days: int,
    *,
    before: int = 0,
    followed: int = 0,
) -> Flags:
    """Whether a record has the days from each date on [d], with few filled gaps among them.

    And so many before, and those that it is `followed`, where these are more.
    """
    axis = days_of(weather)
    first = (np.asarray(dates, dtype="datetime64[D]") - axis[0]).astype(np.int64)
    marked = weather["filled"].to_numpy() if "filled" in weather else np.zeros(axis.size, bool)
    total = np.append(0, np.cumsum(marked))
    begin, end = (total[np.clip(first + more, 0, axis.size)] for more in (0, days))
    whole = (first >= before) & (first + max(days, followed) <= axis.size)
    return np.asarray(whole & (end - begin <= MOST_FILLED * days))


class Starts(NamedTuple):
    """The cases of a stay away: one start each."""

    dates: Days  # day of leaving; the years' own dates first, then neighbours
    spin_up: int  # days with the bed's own watering before [d]
    horizon: int  # days that each case is followed [d]
    offsets: Index | int = 0  # days from the date of leaving, 0 for the date itself [d]
    gaps: tuple[int, ...] = ()  # years left out because too much of their weather was filled in

    @property
    def years(self) -> Index:
        """The year that each belongs to."""
        own: Days = self.dates - self.offsets
        return own.astype("datetime64[Y]").astype(np.int64) + 1970

    @property
    def independent(self) -> int:
        """How many different years there are [1]."""
        return int(np.unique(self.years).size)


def years_of_record(weather: xr.Dataset) -> range:
    """Every year of which a record has a day."""
    first, last = days_of(weather)[[0, -1]].tolist()
    return range(first.year, last.year + 1)


def starts_of(weather: xr.Dataset, leave: datetime.date, *, days: int, horizon: int) -> Starts:
    """Starts in every year that has the days [d], with neighbouring dates where years are few.

    A year counts with all days of the stay in the record; each is followed to the horizon as far
    as the record allows.
    """
    years = years_of_record(weather)
    own = np.array([on_that_day(leave, year) for year in years], dtype="datetime64[D]")
    first, last = days_of(weather)[[0, -1]]
    before, after = (own - first).astype(np.int64), (last - own).astype(np.int64) + 1
    whole, real = (before >= 0) & (after >= days), usable(weather, own, days)
    if not whole.any():
        raise RangeError(
            Option("leave"),
            f"not one year of the weather record has {days} days from {leave:%m-%d} on",
            expected=f"a stay within {first} to {last}, in at least one of its years",
        )
    if not real.any():
        raise RangeError(
            Option("leave"),
            f"zero years are left: in each of the {whole.sum()} years that hold the stay more "
            f"than {MOST_FILLED:.0%} of its days are filled gaps",
            hint="Find weather with fewer gaps; what was filled in says nothing about bad years",
        )
    spin_up, near = SPIN_UP, np.array([], dtype=np.int64)
    chosen = real & (before >= SPIN_UP) & (after >= horizon)
    if chosen.sum() < FEW_YEARS:
        near, chosen = np.array(NEIGHBOURS), real
        spin_up = min(SPIN_UP, int(before[real].min()))
        horizon = min(horizon, int(after[real].min()))
    at = np.flatnonzero(chosen)
    offsets = np.append(np.zeros_like(at), np.tile(near, at.size))
    dates: Days = own[np.append(at, np.repeat(at, near.size))] + offsets.astype("timedelta64[D]")
    fits = usable(weather, dates, days, before=spin_up, followed=horizon)
    gaps = tuple(compress(years, whole & ~real))
    return Starts(dates[fits], spin_up, horizon, offsets[fits], gaps)


# --- what stands in the bed -------------------------------------------------------------------


def standing(bed: Bed, day: datetime.date) -> tuple[Planting, ...]:
    """Plantings that stand in a bed on a day, all their dates returning every year."""
    return tuple(planting for planting in bed.plantings if begun_on(planting, day) is not None)


def season_left(bed: Bed, leave: datetime.date, horizon: int) -> int:
    """Days until nothing is left of what stands in the bed when one leaves [d].

    Zero where nothing stands, or something does to the horizon [d].
    """
    grows = replace(bed, plantings=standing(bed, leave))
    days = (leave + datetime.timedelta(days=at) for at in range(horizon))
    return next((at for at, day in enumerate(days) if not standing(grows, day)), 0)


def begun_on(planting: Planting, day: datetime.date) -> datetime.date | None:
    """When the planting that stands on a day was planted; None where it does not stand."""
    assert isinstance(planting.planted, tuple)
    for year in (day.year, day.year - 1):
        begin = datetime.date(year, *planting.planted)
        if 0 <= (day - begin).days < season_length(planting, begin):
            return begin
    return None


# --- the morning of leaving -------------------------------------------------------------------


def kept(bed: Bed) -> Bed:
    """The bed as it is kept while somebody is there.

    A rule never to fill is followed by nobody who has plants to come home to: every morning then.
    """
    return replace(bed, watering=EVERY_MORNING) if bed.watering.when == "never" else bed


def eve_of(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Starts,
    *,
    demand: Sequence[Demand] | None = None,
    topped: bool = False,
) -> State:
    """Stores on the eve of leaving, by each bed's own watering; `topped`, filled that day."""
    own, first = [kept(bed) for bed in beds], starts.dates - np.timedelta64(starts.spin_up, "D")
    filled = [replace(bed, watering=EVERY_MORNING) for bed in beds]
    last = int(topped and starts.spin_up > 0)
    end = None
    for tended, days in ((own, starts.spin_up - last), (filled, last)):
        if days:
            end = run_many(tended, weather, first.tolist(), days=days, start=end, demand=demand).end
            first = first + np.timedelta64(days, "D")
    return end or run_many(own, weather, first.tolist(), days=1, demand=demand).start


def morning(
    beds: Sequence[Bed], dates: Sequence[datetime.date] | Days, eve: State, level: float
) -> State:
    """Stores on the morning of leaving, (beds x dates), each reservoir set to its level [1]."""
    days = np.asarray(dates, dtype="datetime64[D]")
    each = [stored(bed, lip_on(days, bed.overflow), level) for bed in beds]
    water, height = np.concatenate(each, axis=1)
    return eve._replace(open_water=water, level=height)


# --- how long it lasts ------------------------------------------------------------------------


class Left(NamedTuple):
    """Beds that nobody comes to, (beds, cases); infinite where not within the days followed."""

    run: Run  # of the beds, then of their twins, which somebody fills every morning
    lasted: Array  # days before the first on which the plants go short [d]
    half: Array  # days before the first on which they get less than half [d]
    empty: Array  # days before the first that ends with the reservoir empty [d]
    anyway: Index  # days of the stay on which the twin goes short too [d]


def left_alone(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Starts,
    eve: State,
    *,
    level: float,
    days: int,
    demand: Sequence[Demand],
) -> Left:
    """Beds left from their stores of the eve, set to a level [1], for a stay of some days [d]."""
    begun = morning(beds, starts.dates, eve, level)
    run = run_many(
        [replace(bed, watering=rule) for rule in (NEVER, EVERY_MORNING) for bed in beds],
        weather,
        starts.dates.tolist(),
        days=starts.horizon,
        start=State(*(np.concatenate([values, values]) for values in begun)),
        demand=[*demand, *demand],
    )
    lasted, half, empty = (each.reshape(2, len(beds), -1)[0] for each in failures(run))
    failing = short(run, NEED_LIMIT).reshape(starts.horizon, 2, len(beds), -1)
    return Left(run, lasted, half, empty, failing[:days, 1].sum(axis=0))


def drawn_alone(
    drawn: Drawn,
    weather: xr.Dataset,
    starts: Starts,
    *,
    leave: datetime.date,
    level: float,
    days: int,
) -> Left:
    """All the beds that one might be, each with what stands in it on the day of leaving."""
    eve = eve_of(drawn.beds, weather, starts, demand=drawn_demand(drawn, weather))
    beds = [replace(bed, plantings=standing(bed, leave)) for bed in drawn.beds]
    demand = drawn_demand(drawn._replace(beds=beds), weather)
    return left_alone(beds, weather, starts, eve, level=level, days=days, demand=demand)


def short(run: Run, share: float) -> Flags:
    """Days on which the plants ask for water and get less than a share of it, (time, columns).

    With `NEED_LIMIT` it is the dry day of :func:`bedtide.readings.dryness`.
    """
    values = variables_of(run)
    wanted = values["transpiration_potential"]
    return np.asarray((wanted > 0.0) & (values["transpiration"] < share * wanted))


def failures(run: Run) -> tuple[Array, Array, Array]:
    """Days before plants go short, before they get less than half, before the reservoir is empty.

    Of each column [d]. Empty is what holds nothing that the mix can reach.
    """
    dead = np.repeat([dead_storage(bed) for bed in run.beds], len(run.starts))
    empty = run.series.open_water - dead < EMPTY
    return first_day(short(run, NEED_LIMIT)), first_day(short(run, HALF)), first_day(empty)


def first_day(marked: Flags) -> Array:
    """Days before the first marked one, infinite where there is none.

    A day counts from morning to morning: a case that lasts 11 days fails its plants on the twelfth.
    """
    return np.where(marked.any(axis=0), marked.argmax(axis=0).astype(np.float64), np.inf)


def safe_days(lasted: Array, horizon: int, share: float = 1.0 - SAFE) -> Array:
    """A percentile of days lasted along the last axis, whole days, rounded down [d].

    Infinite where even that case outlasts the horizon [d]; NaN is left out.
    """
    # A case that outlasts the horizon counts as the horizon, so that what lies between it and one
    # that failed is no more than is known.
    found = np.floor(percentile(np.minimum(lasted, horizon), share) + 1e-9)
    return np.where(found >= horizon, np.inf, found)


def whole_answer(bed: Bed, weather: xr.Dataset, error: float) -> dict[str, Any]:
    """What every answer says of its bed, its weather and its balance [m], as attributes."""
    return {
        "title": bed.name,
        "bed_description": bed_text(bed),
        "balance_error": error,
        **rests_on([bed], weather),
    }


# --- from every date of the year --------------------------------------------------------------


def away_calendar(
    bed: Bed,
    weather: xr.Dataset,
    *,
    level: float = 1.0,
    year: int | None = None,
    draws: int = 0,
    progress: Callable[[float], None] | None = None,
) -> xr.Dataset:
    """Days that a bed can be left from every fifth day of the year, in every year of a record.

    Full dates of the bed belong to `year`, that of its latest planting if left out. Days lasted
    are infinite where longer than `FOLLOWED` [d] and NaN where the record lacks the days. With
    fewer than ten years the dates up to ten days before and after are counted with each. With
    `draws` the safe days have a range, over so many drawn beds but for those that do not work;
    each is as much work as the calendar, and `progress` is told which share of them is done.
    """
    in_range(level, 0.0, 1.0, where=Option("level"), unit="")
    years = years_of_record(weather)
    leaves = [datetime.date(_PLAIN_YEAR, 1, 1) + datetime.timedelta(n) for n in range(0, 365, STEP)]
    dates = np.array([[day.replace(year=y) for y in years] for day in leaves], "datetime64[D]")
    known = usable(weather, dates, FOLLOWED, before=SPIN_UP)
    if not known.any():
        raise RangeError(
            "weather record",
            f"none of its years has {SPIN_UP} days before a date of leaving and {FOLLOWED} after",
            expected=f"at least {SPIN_UP + FOLLOWED} days without long gaps",
        )
    yearly = _yearly(bed, year)
    sets = drawn_beds(yearly, draws) if draws else Drawn([yearly], np.ones(1), np.ones(1))
    lasted, anyway = np.full((2, draws + 1, *known.shape), np.nan)
    standing_on, errors = np.zeros((draws + 1, len(leaves)), dtype=np.int64), []
    for at in range(draws + 1):
        one = Drawn([sets.beds[at]], sets.rain[[at]], sets.drying[[at]])
        grows = [standing(one.beds[0], day) for day in leaves]
        standing_on[at] = [len(grown) for grown in grows]
        # Nobody plants meanwhile: dates with the same plants in the bed are run together.
        for grown in dict.fromkeys(grows):
            own = known & np.array([each == grown for each in grows])[:, None]
            if own.any():
                starts, leave = Starts(dates[own], SPIN_UP, FOLLOWED), leaves[grows.index(grown)]
                found = drawn_alone(one, weather, starts, leave=leave, level=level, days=FOLLOWED)
                lasted[at][own], anyway[at][own] = found.lasted[0], found.anyway[0]
                errors.append(float(found.run.error.max()))
        if progress is not None and at:
            progress(at / draws)
    independent = int(known.any(axis=0).sum())
    steps = range(-_POOLED, _POOLED + 1) if independent < FEW_YEARS else (0,)  # round the year
    pooled = np.concatenate([np.roll(lasted, step, axis=1) for step in steps], axis=2)
    safe = safe_days(pooled, FOLLOWED)
    by_leave = ("leave",)
    values: dict[str, Any] = {
        "days_lasted": (("leave", "year"), lasted[0]),
        "days_short_anyway": (("leave", "year"), anyway[0]),
        "days_safe": (by_leave, safe[0]),
        "days_middle": (by_leave, safe_days(pooled[0], FOLLOWED, 0.5)),
        "case_count": (by_leave, (~np.isnan(pooled[0])).sum(axis=1)),
        "plantings_standing": (by_leave, standing_on[0]),
        "season_left": (by_leave, [season_left(yearly, d, FOLLOWED) or np.inf for d in leaves]),
        "plan_area": ((), plan_area(bed)),
        "dead_storage": ((), dead_storage(bed)),
    }
    if draws:
        # Those stay out that go short in more than a few cases with plants, even filled each day.
        cases = np.where(standing_on[..., None] > 0, anyway, np.nan)
        works = (cases > 0).sum(axis=(1, 2)) <= SELDOM * (~np.isnan(cases)).sum(axis=(1, 2))
        kept_ones = safe[1:][works[1:] | ~works[0]]
        low, high = percentile((kept_ones if kept_ones.size else safe[:1]).T, (LOW, HIGH))
        values |= {"days_safe_low": (by_leave, low), "days_safe_high": (by_leave, high)}
    return run_dataset(
        values,
        coords={"leave": [f"{day:%m-%d}" for day in leaves], "year": list(years)},
        attrs={
            "days_followed": FOLLOWED,
            "start_level": level,
            "first_month": 7 if float(weather.attrs["latitude"]) < 0.0 else 1,
            "independent_years": independent,
            "pooled_days": STEP * max(steps),
            "spin_up_days": SPIN_UP,
            **whole_answer(bed, weather, max(errors)),
        },
    )


def _yearly(bed: Bed, year: int | None) -> Bed:
    """The bed with all its dates returning every year, over a year and what follows.

    Without a year that of its latest planting with a full date, or any where there is none.
    """
    dated = [p.planted.year for p in bed.plantings if isinstance(p.planted, datetime.date)]
    chosen = year or max(dated, default=_PLAIN_YEAR)
    first = datetime.date(chosen, 1, 1) - datetime.timedelta(days=SPIN_UP)
    last = datetime.date(chosen, 12, 31) + datetime.timedelta(days=FOLLOWED)
    return every_year(bed, first, last)[0]
