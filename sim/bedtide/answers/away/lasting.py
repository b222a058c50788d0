"""Beds left alone beside twins that are filled every morning, and how long each lasts."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.measures import Scenario
from bedtide.answers.away.starts import Starts
from bedtide.balance import Run, State, rests_on, run_many, set_store, variables_of
from bedtide.bed import Bed, Watering, bed_text, capacity, dead_storage, lip_on, plan_area
from bedtide.many import drawn_demand, percentile
from bedtide.readings import EMPTY, NEED_LIMIT

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.many import Drawn

Array = NDArray[np.float64]

NEVER = Watering("never")
"""Nobody fills."""

EVERY_MORNING = Watering("below share", share=1.0)
"""Somebody fills to the lip every morning."""

HALF = 0.5
"""Share of the plants' need under which they are in trouble [1]; our choice."""

SAFE = 0.9
"""Share of the years that "likely to last" stands for [1]: nine in ten, as the headline says."""


# --- run side by side -------------------------------------------------------------------------


def spun_up(bed: Bed, weather: xr.Dataset, starts: Starts, *, topped: bool) -> tuple[State, State]:
    """Stores on the evening before leaving: by the bed's own watering, and filled that morning."""
    bed = kept(bed)
    before = starts.spin_up
    if before == 0:
        rest = run_many([bed], weather, starts.dates, days=1).start
        return rest, rest
    first = [day - datetime.timedelta(days=before) for day in starts.dates]
    own = run_many([bed], weather, first, days=before).end
    if not topped:
        return own, own
    if before == 1:
        eve, start = first, None
    else:
        head = run_many([bed], weather, first, days=before - 1)
        eve, start = [day - datetime.timedelta(days=1) for day in starts.dates], head.end
    filled = replace(bed, watering=EVERY_MORNING)
    return own, run_many([filled], weather, eve, days=1, start=start).end


def _begun(
    scenarios: Sequence[Scenario], starts: Starts, states: tuple[State, State], level: float
) -> State:
    """Stores on the morning of leaving, the store of each set to its level; (scenario, case)."""
    state = side_by_side([states[int(s.topped)] for s in scenarios])
    return _filled(state, [s.bed for s in scenarios], starts.dates, level)


def _filled(
    state: State, beds: Sequence[Bed], dates: Sequence[datetime.date], level: float
) -> State:
    """A state by bed and case with each store at its share of what the mix can reach."""
    days = np.array(dates, dtype="datetime64[D]")
    cap = np.concatenate([capacity(bed, lip_on(days, bed.overflow)) for bed in beds])
    dead = np.minimum(np.repeat([dead_storage(bed) for bed in beds], days.size), cap)
    each = [bed for bed in beds for _ in dates]
    return set_store(state, each, dead + level * (cap - dead))


def side_by_side(states: Sequence[State], columns: Sequence[slice] | None = None) -> State:
    """States joined, all columns of each or some, in new arrays."""
    chosen = [slice(None)] * len(states) if columns is None else columns
    parts = [state.columns(at) for state, at in zip(states, chosen, strict=True)]
    most = max(part.content.shape[1] for part in parts)
    parts = [
        part._replace(
            **{
                name: np.pad(values, ((0, 0), (0, most - values.shape[1])))
                for name, values in (("content", part.content), ("place", part.place))
            }
        )
        for part in parts
    ]
    return State(*(np.concatenate(values) for values in zip(*parts, strict=True)))


def kept(bed: Bed) -> Bed:
    """The bed as it is kept while somebody is there.

    A rule never to fill is followed by nobody who has plants to come home to: every morning then.
    """
    return replace(bed, watering=EVERY_MORNING) if bed.watering.when == "never" else bed


def stepped(
    scenarios: Sequence[Scenario],
    weather: xr.Dataset,
    starts: Starts,
    states: tuple[State, State],
    level: float,
) -> Run:
    """Each scenario without its helper, and after all of them their twins filled every morning.

    Columns by scenario, then case; the states are those of :func:`spun_up`, the level is the
    share of the store on the morning of leaving [1].
    """
    left = [replace(s.bed, watering=NEVER) for s in scenarios]
    tended = [replace(s.bed, watering=EVERY_MORNING) for s in scenarios]
    begun = _begun(scenarios, starts, states, level)
    both = side_by_side([begun, begun])
    return run_many(left + tended, weather, starts.dates, days=starts.horizon, start=both)


def left_alone(
    drawn: Drawn, weather: xr.Dataset, starts: Starts, level: float, *, days: int
) -> tuple[Run, Lasting]:
    """All the beds that one might be, as they are, and how long each lasts, by bed, then case."""
    beds, demand = drawn.beds, drawn_demand(drawn, weather)
    before, dates = starts.spin_up, starts.dates
    if before:
        first = [day - datetime.timedelta(days=before) for day in dates]
        kept_up = [kept(bed) for bed in beds]
        state = run_many(kept_up, weather, first, days=before, demand=demand).end
    else:
        state = run_many(beds, weather, dates, days=1, demand=demand).start
    state = _filled(state, beds, dates, level)
    twins = [replace(bed, watering=rule) for rule in (NEVER, EVERY_MORNING) for bed in beds]
    run = run_many(
        twins,
        weather,
        dates,
        days=starts.horizon,
        start=side_by_side([state, state]),
        demand=[*demand, *demand],
    )
    half = len(beds) * len(dates)
    return run, lasting(run, slice(0, half), slice(half, 2 * half), days=days)


def whole_answer(bed: Bed, weather: xr.Dataset, run: Run) -> dict[str, Any]:
    """What every answer says of its bed, its weather and its balance, as attributes."""
    return {
        "title": bed.name,
        "bed_description": bed_text(bed),
        "balance_error": float(run.error.max()),
        **rests_on([bed], weather),
    }


# --- how long it lasts ------------------------------------------------------------------------


class Lasting(NamedTuple):
    """How long each case lasts, all (cases,); infinite where not within the days looked at."""

    lasted: Array  # days before the first on which the plants go short [d]
    half: Array  # days before the first on which they get less than half [d]
    empty: Array  # days before the first that ends with the reservoir empty [d]
    anyway: NDArray[np.int64]  # days of the stay on which the twin goes short too [d]


def lasting(run: Run, untended: slice, tended: slice, *, days: int) -> Lasting:
    """How long each case of a run lasts, beside its twin that is filled every morning.

    A day counts from morning to morning: a case that lasts 11 days fails its plants on the
    twelfth. The plants go short on a day on which they ask for water and take less than
    `NEED_LIMIT` of what they ask for: the dry day of :func:`bedtide.readings.dryness`. Where their
    twin goes short as well it is not for want of somebody who fills. The reservoir is empty when
    less than `EMPTY` stands above what the mix can't reach.
    """
    values = variables_of(run)
    wanted = values["transpiration_potential"][:, untended]
    took, could = (values["transpiration"][:, columns] for columns in (untended, tended))
    asked = wanted > 0.0
    usable = values["open_water"][:, untended] - _dead(run)[untended]
    return Lasting(
        lasted=_first(asked & (took < NEED_LIMIT * wanted)),
        half=_first(asked & (took < HALF * wanted)),
        empty=_first(usable < EMPTY),
        anyway=(asked & (could < NEED_LIMIT * wanted))[:days].sum(axis=0),
    )


def safe_days(lasted: Array, horizon: int) -> Array:
    """Days that are safe in nine of ten cases along the last axis, as :func:`whole_days`."""
    return whole_days(lasted, horizon, 1.0 - SAFE)


def whole_days(lasted: Array, horizon: int, share: float) -> Array:
    """A percentile of days lasted along the last axis, whole days, rounded down [d].

    Infinite where even that case outlasts the horizon [d]; NaN is left out.
    """
    # A case that outlasts the horizon counts as the horizon, so that what lies between it and one
    # that failed is no more than is known.
    found = np.floor(percentile(np.minimum(lasted, horizon), share) + 1e-9)
    return np.where(found >= horizon, np.inf, found)


def _first(marked: NDArray[np.bool_]) -> Array:
    """Days before the first marked one, infinite where there is none."""
    return np.where(marked.any(axis=0), marked.argmax(axis=0).astype(np.float64), np.inf)


def _dead(run: Run) -> Array:
    return np.repeat([dead_storage(bed) for bed in run.beds], len(run.starts))


# --- water that comes meanwhile --------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Answer:
    """What came of one way of leaving the bed."""

    found: Lasting
    brought: Array  # water that was put in while away, (cases,) [m3]
    visit: float = np.nan  # day of the visit, NaN without one [d]
    visit_first: float = np.nan  # the first and the last day that are as good [d]
    visit_last: float = np.nan


@dataclass(frozen=True, eq=False)
class _Left:
    """One way of leaving the bed, as it was run without help: it and its twin."""

    scenario: Scenario
    run: Run
    weather: xr.Dataset
    starts: Starts
    alone: slice
    twin: slice


def answers_of(
    scenarios: Sequence[Scenario],
    run: Run,
    weather: xr.Dataset,
    starts: Starts,
    *,
    days: int,
    drum: float,
) -> list[Answer]:
    """What came of each way of leaving the bed, :func:`stepped`, with its helper if it has one."""
    n = len(starts.dates)
    answers = []
    for k, scenario in enumerate(scenarios):
        alone, twin = (slice(i * n, (i + 1) * n) for i in (k, len(scenarios) + k))
        left = _Left(scenario, run, weather, starts, alone, twin)
        if scenario.helper == "drum":
            answers.append(_with_drum(left, days=days, drum=drum))
        elif scenario.helper == "visit":
            answers.append(_with_visit(left, days=days))
        else:
            answers.append(Answer(lasting(run, alone, twin, days=days), np.zeros(n)))
    return answers


def _with_drum(left: _Left, *, days: int, drum: float) -> Answer:
    """A drum fills the bed to the lip each morning until it is empty.

    Until then the bed is its twin that is filled every morning, so the twin's fills, cut off
    where they have used up the drum, are exactly what the float valve lets in.
    """
    area = plan_area(left.scenario.bed)
    wanted = left.run.series.refill[:, left.twin]
    total = np.cumsum(wanted, axis=0)
    rest = np.maximum(drum / area - (total - wanted), 0.0)
    # Not a difference of sums while the drum lasts, so that the bed is its twin to the last bit.
    given = np.where(total <= drum / area, wanted, np.minimum(wanted, rest))
    found = _helped(left, given, days)[0]
    return Answer(found, given[:days].sum(axis=0) * area)


def _with_visit(left: _Left, *, days: int) -> Answer:
    """A neighbour fills the bed to the lip once, on the day that does most good."""
    horizon, n = left.starts.horizon, len(left.starts.dates)
    values = variables_of(left.run)
    cap, held = (values[name][:, left.alone] for name in ("capacity", "open_water"))
    mornings = np.arange(1, days)
    given = np.zeros((horizon, mornings.size, n))
    given[mornings, mornings - 1] = np.maximum(cap[mornings] - held[mornings - 1], 0.0)
    tries = _helped(left, given.reshape(horizon, -1), days)
    lasted = np.stack([found.lasted for found in tries])
    # First the years that get through, then the safe days away, then the mean of all.
    whole = (lasted >= days).sum(axis=1)
    safe = np.minimum(safe_days(lasted, horizon), days)
    good = whole == whole.max()
    good &= safe == safe[good].max()
    best = int(np.argmax(np.where(good, np.minimum(lasted, horizon).mean(axis=1), -np.inf)))
    as_good = mornings[good]
    return Answer(
        tries[best],
        given[mornings[best], best] * plan_area(left.scenario.bed),
        float(mornings[best]),
        float(as_good[0]),
        float(as_good[-1]),
    )


def _helped(left: _Left, given: Array, days: int) -> list[Lasting]:
    """Run it again with water given, (time, tries * cases); one answer for each try."""
    n = len(left.starts.dates)
    tries = given.shape[1] // n
    beds = [replace(left.scenario.bed, watering=NEVER)] * tries
    beds.append(replace(left.scenario.bed, watering=EVERY_MORNING))
    begun = side_by_side([left.run.start] * (tries + 1), [left.alone] * tries + [left.twin])
    run = run_many(
        beds,
        left.weather,
        left.starts.dates,
        days=left.starts.horizon,
        start=begun,
        given=np.concatenate([given, np.zeros((given.shape[0], n))], axis=1),
    )
    last = slice(tries * n, (tries + 1) * n)
    return [lasting(run, slice(t * n, (t + 1) * n), last, days=days) for t in range(tries)]
