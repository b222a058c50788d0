"""Water that comes while nobody is there: a drum on a float valve, a neighbour who calls once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.lasting import Lasting, lasting, safe_days
from bedtide.answers.away.measures import Scenario
from bedtide.answers.away.starts import Starts
from bedtide.answers.away.stepping import EVERY_MORNING, NEVER, side_by_side
from bedtide.balance import Run, run_many, variables_of
from bedtide.bed import plan_area

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Answer", "answers_of"]

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Answer:
    """What came of one way of leaving the bed.

    Attributes
    ----------
    found : Lasting
        How long each case lasted.
    brought : ndarray, shape (cases,)
        Water that was put in while away [m3].
    visit, visit_first, visit_last : float
        Day of the visit, and the first and last that are as good; NaN without a visit [d].
    """

    found: Lasting
    brought: Array
    visit: float = np.nan
    visit_first: float = np.nan
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
    """What came of each way of leaving the bed, with its helper where it has one.

    Parameters
    ----------
    scenarios : sequence of Scenario
        As they were run.
    run : Run
        All of them without helpers and then their twins, from
        :func:`bedtide.many.stepping.stepped`.
    weather : Dataset, dims (time,)
        The record that was run.
    starts : Starts
        The cases.
    days : int
        Days away [d].
    drum : float
        What the drum holds [m3].

    Returns
    -------
    list of Answer
        In the order of the scenarios.
    """
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
