"""A bed left alone, beside its twin that is filled every morning, and how long it lasts."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.measures import Scenario
from bedtide.answers.away.starts import Starts
from bedtide.balance import Run, State, rests_on, run_many, variables_of
from bedtide.bed import Bed, bed_text, dead_storage, plan_area
from bedtide.many import (
    EVERY_MORNING,
    NEVER,
    drawn_demand,
    first_day,
    kept,
    morning,
    safe_days,
    short,
    standing,
)
from bedtide.readings import EMPTY, NEED_LIMIT

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.many import Drawn

Array = NDArray[np.float64]

HALF = 0.5
"""Share of the plants' need under which they are in trouble [1]; our choice."""

_AT_ONCE = 64  # tries that are run together


# --- before leaving ---------------------------------------------------------------------------


def spun_up(bed: Bed, weather: xr.Dataset, starts: Starts, *, topped: bool) -> State:
    """Stores on the eve of leaving, by the bed's own watering; `topped`, filled that day."""
    filled, own = replace(bed, watering=EVERY_MORNING), kept(bed)
    before = starts.spin_up
    if before == 0:
        return run_many([own], weather, starts.dates, days=1).start
    first, eve = (
        [day - datetime.timedelta(days=number) for day in starts.dates] for number in (before, 1)
    )
    if not topped:
        return run_many([own], weather, first, days=before).end
    head = run_many([own], weather, first, days=before - 1).end if before > 1 else None
    return run_many([filled], weather, eve, days=1, start=head).end


def whole_answer(bed: Bed, weather: xr.Dataset, runs: Sequence[Run]) -> dict[str, Any]:
    """What every answer says of its bed, its weather and its balance, as attributes."""
    return {
        "title": bed.name,
        "bed_description": bed_text(bed),
        "balance_error": max(float(run.error.max()) for run in runs),
        **rests_on([bed], weather),
    }


# --- how long it lasts ------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Answer:
    """What came of one way of leaving the bed, (cases,); infinite where not within the days."""

    run: Run  # a column a case
    lasted: Array  # days before the first on which the plants go short [d]
    half: Array  # days before the first on which they get less than half [d]
    empty: Array  # days before the first that ends with the reservoir empty [d]
    anyway: NDArray[np.int64]  # days of the stay on which the twin goes short too [d]
    brought: Array  # water that was put in while away [m3]
    visits: tuple[int, ...] = ()  # days of the visits [d]
    as_good: tuple[int, int] | None = None  # first and last day on which one visit is as good [d]


class _Left(NamedTuple):
    """A bed on the morning of leaving, and how it goes with water put in."""

    bed: Bed  # that nobody fills
    weather: xr.Dataset
    starts: Starts
    begun: State

    def watered(self, given: Array) -> Run:
        """Runs with water given [m], (time, tries, cases); columns by try, then case."""
        time, tries, cases = given.shape
        return run_many(
            [self.bed] * tries,
            self.weather,
            self.starts.dates,
            days=time,
            start=self.begun.columns(np.tile(np.arange(cases), tries)),
            given=given.reshape(time, -1),
        )


def answer_of(
    scenario: Scenario,
    weather: xr.Dataset,
    starts: Starts,
    eve: State,
    *,
    level: float,
    days: int,
    drum: float,
) -> Answer:
    """What comes of a way of leaving the bed, from the stores of the evening before."""
    cases, area = len(starts.dates), plan_area(scenario.bed)
    begun = morning(scenario.bed, starts.dates, eve, level)
    filled = replace(scenario.bed, watering=EVERY_MORNING)
    twin = run_many([filled], weather, starts.dates, days=starts.horizon, start=begun)
    left = _Left(replace(scenario.bed, watering=NEVER), weather, starts, begun)
    run = left.watered(np.zeros((starts.horizon, 1, cases)))
    lasted, brought = first_day(short(run, NEED_LIMIT)), np.zeros(cases)
    visits: tuple[int, ...] = ()
    as_good = None
    if "drum" in scenario.parts or scenario.visits:
        if scenario.visits:
            visits, as_good, given = _best_visits(left, run, twin, scenario.visits, days)
        else:
            given = _from_drum(twin.series.refill, drum / area)[:, None]
        run = left.watered(given)
        lasted, brought = _no_shorter(run, lasted), given[:days, 0].sum(axis=0) * area
    return Answer(
        run,
        lasted=lasted,
        half=first_day(short(run, HALF)),
        empty=first_day(run.series.open_water - dead_storage(scenario.bed) < EMPTY),
        anyway=short(twin, NEED_LIMIT)[:days].sum(axis=0),
        brought=brought,
        visits=visits,
        as_good=as_good,
    )


def _no_shorter(run: Run, without: Array) -> Array:
    """Days that beds with water put in last, which are never fewer than without it.

    The steps of a day are finer after a fill, which shifts the uptake by a few tenths of a percent:
    a day that stands at the limit must not fail for that.
    """
    return np.maximum(first_day(short(run, NEED_LIMIT)).reshape(without.shape), without)


def _from_drum(wanted: Array, drum: float) -> Array:
    """What a drum [m] lets in: all that the twin is filled with each morning, until it is empty."""
    total = np.cumsum(wanted, axis=0)
    rest = np.maximum(drum - (total - wanted), 0.0)
    # Not a difference of sums while the drum lasts, so that the bed is its twin to the last bit.
    return np.where(total <= drum, wanted, np.minimum(wanted, rest))


class Lasting(NamedTuple):
    """How long beds last that nobody comes to, (beds, cases)."""

    run: Run  # of the beds, then of their twins
    lasted: Array  # as in `Answer` [d]
    empty: Array  # [d]
    anyway: NDArray[np.int64]  # [d]


def left_alone(
    drawn: Drawn,
    weather: xr.Dataset,
    starts: Starts,
    level: float,
    *,
    leave: datetime.date,
    days: int,
) -> Lasting:
    """All the beds that one might be, each with what stands in it on the day of leaving."""
    before, dates = starts.spin_up, starts.dates
    own, demand = [kept(bed) for bed in drawn.beds], drawn_demand(drawn, weather)
    if before:
        first = [day - datetime.timedelta(days=before) for day in dates]
        state = run_many(own, weather, first, days=before, demand=demand).end
    else:
        state = run_many(own, weather, dates, days=1, demand=demand).start
    beds = [replace(bed, plantings=tuple(standing(bed, leave))) for bed in drawn.beds]
    each = [
        morning(bed, dates, state.columns(slice(at * len(dates), (at + 1) * len(dates))), level)
        for at, bed in enumerate(beds)
    ]
    begun = State(*(np.concatenate(values * 2) for values in zip(*each, strict=True)))
    demand = drawn_demand(drawn._replace(beds=beds), weather)
    twins = [replace(bed, watering=rule) for rule in (NEVER, EVERY_MORNING) for bed in beds]
    run = run_many(
        twins, weather, dates, days=starts.horizon, start=begun, demand=[*demand, *demand]
    )
    shape = (2, len(beds), len(dates))
    failing = short(run, NEED_LIMIT).reshape(-1, *shape)
    dead = np.repeat([dead_storage(bed) for bed in twins], len(dates))
    empty = (run.series.open_water - dead < EMPTY).reshape(-1, *shape)
    return Lasting(
        run, first_day(failing[:, 0]), first_day(empty[:, 0]), failing[:days, 1].sum(axis=0)
    )


# --- the best day for a visit -----------------------------------------------------------------


def _best_visits(
    left: _Left, alone: Run, twin: Run, count: int, days: int
) -> tuple[tuple[int, ...], tuple[int, int] | None, Array]:
    """Days of one or two visits that fill to the lip, between which one is as good, their water.

    Best is what is safe for most days of the stay in nine years of ten, then what lasts the stay in
    most years, then the longest mean; of equal ones what is most evenly spread over the stay.
    """
    horizon = left.starts.horizon
    mornings = np.arange(1, min(days, horizon))
    full = variables_of(twin)["capacity"]

    def order(lasted: Array, visits: NDArray[Any]) -> tuple[list[Any], list[int]]:
        """How good each try is, and the tries from the best on."""
        safe = np.minimum(safe_days(lasted, horizon), days)
        whole, mean = (lasted >= days).sum(axis=1), np.minimum(lasted, days).mean(axis=1)
        even = days * np.arange(1, count + 1) / (count + 1)
        uneven = np.abs(visits - even).sum(axis=1)
        good = list(zip(safe, whole, mean, strict=True))
        return good, np.lexsort((uneven, -mean, -whole, -safe)).tolist()

    def fill(visits: NDArray[np.int64], held: Array) -> Array:
        """What fills the bed on the morning of each try, from what it held (time, tries, cases)."""
        given = np.zeros(held.shape)
        tries = np.arange(visits.size)
        given[visits, tries] = np.maximum(full[visits] - held[visits - 1, tries], 0.0)
        return given

    least = np.tile(first_day(short(alone, NEED_LIMIT)), (mornings.size, 1))
    one = fill(mornings, np.repeat(alone.series.open_water[:, None], mornings.size, axis=1))
    run = left.watered(one)
    lasted, held = _no_shorter(run, least), run.series.open_water.reshape(one.shape)
    if count == 1:
        good, best = order(lasted, mornings[:, None])
        at = first = last = best[0]
        while first > 0 and good[first - 1][:2] == good[at][:2]:
            first -= 1
        while last < mornings.size - 1 and good[last + 1][:2] == good[at][:2]:
            last += 1
        return (int(mornings[at]),), (int(mornings[first]), int(mornings[last])), one[:, [at]]
    # No second visit makes up for plants that went short before it, and none does more than
    # somebody who has filled the bed on every morning until then. So most pairs need no run.
    until = np.arange(horizon)[:, None] <= mornings
    kept = np.where(until[..., None], twin.series.refill[:, None], 0.0)
    tended = _no_shorter(left.watered(kept), least)
    i, j = np.triu_indices(mornings.size, 1)
    most = np.where(lasted[i] < mornings[j, None], lasted[i], tended[j])
    pairs = np.stack([mornings[i], mornings[j]], axis=1)
    bound, rest = order(most, pairs)
    top: Any = ()
    while rest and top < bound[rest[0]]:
        these, rest = rest[:_AT_ONCE], rest[_AT_ONCE:]
        given = one[:, i[these]] + fill(mornings[j[these]], held[:, i[these]])
        good, best = order(_no_shorter(left.watered(given), lasted[i[these]]), pairs[these])
        if top < good[best[0]]:
            top, pair, water = good[best[0]], pairs[these[best[0]]], given[:, best[:1]]
    return (int(pair[0]), int(pair[1])), None, water
