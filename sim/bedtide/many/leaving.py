"""Beds that are left alone: from which days of a record, in what state, and how long they last."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from itertools import compress
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, Run, State, rests_on, run_many, variables_of
from bedtide.bed import Bed, Watering, bed_text, capacity, dead_storage, level_of, lip_on
from bedtide.crop import Planting, season_length
from bedtide.errors import Option, RangeError
from bedtide.many.doubt import Drawn, drawn_demand
from bedtide.many.years import MOST_FILLED, on_that_day
from bedtide.readings import EMPTY, NEED_LIMIT
from bedtide.statistics import percentile

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


# --- from which days --------------------------------------------------------------------------


class Room(NamedTuple):
    """What a record has around each of some dates."""

    before: Index  # days before it [d]
    after: Index  # days from it on [d]
    gappy: Flags  # whether too many of the days asked for are filled gaps

    def fits(self, before: int, after: int) -> Flags:
        """Whether there are that many days [d], and few gaps."""
        return np.asarray((self.before >= before) & (self.after >= after) & ~self.gappy)


def room_around(weather: xr.Dataset, dates: Sequence[datetime.date] | Days, days: int) -> Room:
    """Room of a record around dates, and whether so many days [d] from each on will do."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    before = (np.asarray(dates, dtype="datetime64[D]") - axis[0]).astype(np.int64)
    marked = weather["filled"].to_numpy() if "filled" in weather else np.zeros(axis.size, bool)
    total = np.append(0, np.cumsum(marked))
    ends = (np.clip(before + more, 0, axis.size) for more in (0, days))
    first, last = (total[end] for end in ends)
    return Room(before, axis.size - before, last - first > MOST_FILLED * days)


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
    first, last = weather["time"].to_numpy()[[0, -1]].astype("datetime64[D]").tolist()
    return range(first.year, last.year + 1)


def starts_of(weather: xr.Dataset, leave: datetime.date, *, days: int, horizon: int) -> Starts:
    """Starts in every year that has the days [d], with neighbouring dates where years are few.

    A year counts with all days of the stay in the record; each is followed to the horizon as far
    as the record allows.
    """
    years = years_of_record(weather)
    own = np.array([on_that_day(leave, year) for year in years], dtype="datetime64[D]")
    room = room_around(weather, own, days)
    whole, real = (room.before >= 0) & (room.after >= days), room.fits(0, days)
    if not whole.any():
        first, last = weather["time"].to_numpy()[[0, -1]].astype("datetime64[D]")
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
    spin_up, chosen = SPIN_UP, room.fits(SPIN_UP, horizon)
    near: tuple[int, ...] = ()
    if chosen.sum() < FEW_YEARS:
        near, chosen = NEIGHBOURS, real
        spin_up = min(SPIN_UP, int(room.before[real].min()))
        horizon = min(horizon, int(room.after[real].min()))
    at = np.flatnonzero(chosen)
    offsets = np.append(np.zeros_like(at), np.tile(np.array(near, dtype=at.dtype), at.size))
    at = np.append(at, np.repeat(at, len(near)))
    dates: Days = own[at] + offsets.astype("timedelta64[D]")
    fits = room_around(weather, dates, days).fits(spin_up, horizon)
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
    own, first = [kept(bed) for bed in beds], starts.dates - starts.spin_up
    filled = [replace(bed, watering=EVERY_MORNING) for bed in beds]
    last = int(topped and starts.spin_up > 0)
    end = None
    for tended, days in ((own, starts.spin_up - last), (filled, last)):
        if days:
            end = run_many(tended, weather, first.tolist(), days=days, start=end, demand=demand).end
            first = first + days
    return end or run_many(own, weather, first.tolist(), days=1, demand=demand).start


def morning(
    beds: Sequence[Bed], dates: Sequence[datetime.date] | Days, eve: State, level: float
) -> State:
    """Stores on the morning of leaving, (beds x dates), each reservoir set to its level [1]."""
    days = np.asarray(dates, dtype="datetime64[D]")
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
    failing, half, gone = (
        marked.reshape(starts.horizon, 2, len(beds), -1)
        for marked in (short(run, NEED_LIMIT), short(run, HALF), empty(run))
    )
    lasted, troubled, emptied = (first_day(marked[:, 0]) for marked in (failing, half, gone))
    return Left(run, lasted, troubled, emptied, failing[:days, 1].sum(axis=0))


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


def empty(run: Run) -> Flags:
    """Days that end with nothing in the reservoir that the mix can reach, (time, columns)."""
    dead = np.repeat([dead_storage(bed) for bed in run.beds], len(run.starts))
    return np.asarray(run.series.open_water - dead < EMPTY)


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
