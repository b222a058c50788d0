"""Beds that are left alone: from which days of a record, in what state, and how long they last."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, Run, State, run_many, variables_of
from bedtide.bed import Bed, Watering, capacity, dead_storage, level_of, lip_on
from bedtide.crop import Planting, season_length
from bedtide.errors import RangeError
from bedtide.many.doubt import Drawn, drawn_demand
from bedtide.many.years import MOST_FILLED, on_that_day
from bedtide.readings import EMPTY, NEED_LIMIT
from bedtide.statistics import percentile

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

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


# --- from which days --------------------------------------------------------------------------


class Room(NamedTuple):
    """What a record has around a day."""

    before: int  # days before it [d]
    after: int  # days from it on [d]
    gappy: bool  # whether too many of the days asked for are filled gaps

    def fits(self, before: int, after: int) -> bool:
        """Whether there are that many days [d], and few gaps."""
        return self.before >= before and self.after >= after and not self.gappy


def room_in(weather: xr.Dataset) -> Callable[[datetime.date, int], Room]:
    """Room of a record around a day, and whether that many days from it on will do."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, size = axis[0].item(), axis.size
    marked = weather["filled"].to_numpy() if "filled" in weather else np.zeros(size, dtype=bool)
    total = np.concatenate([[0], np.cumsum(marked)])

    def room(day: datetime.date, days: int) -> Room:
        at = (day - first).days
        whole = at >= 0 and at + days <= size
        filled = total[at + days] - total[at] if whole else 0
        return Room(at, size - at, bool(filled > MOST_FILLED * days))

    return room


class Starts(NamedTuple):
    """The cases of a stay away: one start each."""

    dates: tuple[datetime.date, ...]  # day of leaving; the years' own dates first, then neighbours
    years: NDArray[np.int64]  # that each belongs to
    offsets: NDArray[np.int64]  # days from the date of leaving, 0 for the date itself [d]
    spin_up: int  # days with the bed's own watering before [d]
    horizon: int  # days that each case is followed [d]
    gaps: tuple[int, ...] = ()  # years left out because too much of their weather was filled in

    @property
    def independent(self) -> int:
        """How many different years there are [1]."""
        return int(np.unique(self.years).size)


def starts_of(weather: xr.Dataset, leave: datetime.date, *, days: int, horizon: int) -> Starts:
    """Starts in every year that has the days [d], with neighbouring dates where years are few.

    A year counts with all days of the stay in the record; each is followed to the horizon as far
    as the record allows.
    """
    first, last = (weather["time"].to_numpy()[at].astype("datetime64[D]").item() for at in (0, -1))
    room = room_in(weather)
    dates = [on_that_day(leave, year) for year in range(first.year, last.year + 1)]
    found = {day: room(day, days) for day in dates}
    found = {day: had for day, had in found.items() if had.before >= 0 and had.after >= days}
    if not found:
        raise RangeError(
            "leave",
            f"not one year of the weather record has {days} days from {leave:%m-%d} on",
            expected=f"a stay within {first} to {last}, in at least one of its years",
        )
    real = {day: had for day, had in found.items() if not had.gappy}
    if not real:
        raise RangeError(
            "leave",
            f"zero years are left: in each of the {len(found)} years that hold the stay more "
            f"than {MOST_FILLED:.0%} of its days are filled gaps",
            hint="Find weather with fewer gaps; what was filled in says nothing about bad years",
        )
    spin_up = SPIN_UP
    own = [day for day, had in real.items() if had.fits(SPIN_UP, horizon)]
    near: list[tuple[int, datetime.date]] = []
    if len(own) < FEW_YEARS:
        own = list(real)
        spin_up = min(SPIN_UP, *(had.before for had in real.values()))
        horizon = min(horizon, *(had.after for had in real.values()))
        near = [(offset, day) for day in own for offset in NEIGHBOURS]
    cases = [(day.year, 0, day) for day in own]
    for offset, day in near:
        beside = day + datetime.timedelta(days=offset)
        if room(beside, days).fits(spin_up, horizon):
            cases.append((day.year, offset, beside))
    years, offsets, starts = zip(*cases, strict=True)
    gaps = tuple(day.year for day in found if day not in real)
    return Starts(starts, np.array(years), np.array(offsets), spin_up, horizon, gaps)


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
    before, own = starts.spin_up, [kept(bed) for bed in beds]
    if before == 0:
        return run_many(own, weather, starts.dates, days=1, demand=demand).start
    end = None
    if before > topped:
        first = [day - datetime.timedelta(days=before) for day in starts.dates]
        end = run_many(own, weather, first, days=before - topped, demand=demand).end
    if topped:
        filled = [replace(bed, watering=EVERY_MORNING) for bed in beds]
        last = [day - datetime.timedelta(days=1) for day in starts.dates]
        end = run_many(filled, weather, last, days=1, start=end, demand=demand).end
    assert end is not None
    return end


def morning(beds: Sequence[Bed], dates: Sequence[datetime.date], eve: State, level: float) -> State:
    """Stores on the morning of leaving, (beds x dates), each reservoir set to its level [1]."""
    days = np.array(dates, dtype="datetime64[D]")
    water, height = [], []
    for bed in beds:
        full = capacity(bed, lip_on(days, bed.overflow))
        dead = np.minimum(dead_storage(bed), full)
        water.append(dead + level * (full - dead))
        height.append(level_of(water[-1], bed))
    return eve._replace(open_water=np.concatenate(water), level=np.concatenate(height))


# --- how long it lasts ------------------------------------------------------------------------


class Left(NamedTuple):
    """Beds that nobody comes to, (beds, cases); infinite where not within the days followed."""

    run: Run  # of the beds, then of their twins, which somebody fills every morning
    lasted: Array  # days before the first on which the plants go short [d]
    half: Array  # days before the first on which they get less than half [d]
    empty: Array  # days before the first that ends with the reservoir empty [d]
    anyway: NDArray[np.int64]  # days of the stay on which the twin goes short too [d]


def followed(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    starts: Starts,
    begun: State,
    demand: Sequence[Demand],
    *,
    days: int,
) -> Left:
    """Beds left alone from the stores of that morning, for a stay of some days [d]."""
    twins = [replace(bed, watering=rule) for rule in (NEVER, EVERY_MORNING) for bed in beds]
    begun = State(*(np.concatenate([values, values]) for values in begun))
    run = run_many(
        twins, weather, starts.dates, days=starts.horizon, start=begun, demand=[*demand, *demand]
    )
    shape = (starts.horizon, 2, len(beds), len(starts.dates))
    dead = np.repeat([dead_storage(bed) for bed in twins], len(starts.dates))
    failing, half = (short(run, share).reshape(shape) for share in (NEED_LIMIT, HALF))
    empty = (run.series.open_water - dead < EMPTY).reshape(shape)
    lasted, troubled, emptied = (first_day(marked[:, 0]) for marked in (failing, half, empty))
    return Left(run, lasted, troubled, emptied, failing[:days, 1].sum(axis=0))


def left_alone(
    drawn: Drawn,
    weather: xr.Dataset,
    starts: Starts,
    level: float,
    *,
    leave: datetime.date,
    days: int,
) -> Left:
    """All the beds that one might be, each with what stands in it on the day of leaving."""
    eve = eve_of(drawn.beds, weather, starts, demand=drawn_demand(drawn, weather))
    beds = [replace(bed, plantings=standing(bed, leave)) for bed in drawn.beds]
    begun = morning(beds, starts.dates, eve, level)
    demand = drawn_demand(drawn._replace(beds=beds), weather)
    return followed(beds, weather, starts, begun, demand, days=days)


def short(run: Run, share: float) -> NDArray[np.bool_]:
    """Days on which the plants ask for water and get less than a share of it, (time, columns).

    With `NEED_LIMIT` it is the dry day of :func:`bedtide.readings.dryness`.
    """
    values = variables_of(run)
    wanted = values["transpiration_potential"]
    return np.asarray((wanted > 0.0) & (values["transpiration"] < share * wanted))


def first_day(marked: NDArray[np.bool_]) -> Array:
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
