"""Beds left alone side by side with twins that are filled every morning."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from bedtide.answers.away.measures import Scenario
from bedtide.answers.away.starts import Starts
from bedtide.balance import Run, State, run_many, set_store
from bedtide.bed import Bed, Watering, capacity, dead_storage, lip_on

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["EVERY_MORNING", "NEVER", "kept", "side_by_side", "spun_up", "stepped"]

NEVER = Watering("never")
"""Nobody fills."""

EVERY_MORNING = Watering("below share", share=1.0)
"""Somebody fills to the lip every morning."""


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
    days = np.array(starts.dates, dtype="datetime64[D]")
    cap = np.concatenate([capacity(s.bed, lip_on(days, s.bed.overflow)) for s in scenarios])
    dead = np.repeat([dead_storage(s.bed) for s in scenarios], days.size)
    dead = np.minimum(dead, cap)
    beds = [s.bed for s in scenarios for _ in days]
    return set_store(state, beds, dead + level * (cap - dead))


def side_by_side(states: Sequence[State], columns: Sequence[slice] | None = None) -> State:
    """States joined, or some columns of each.

    Parameters
    ----------
    states : sequence of State
        In their order.
    columns : sequence of slice, optional
        What to take of each; all if left out.

    Returns
    -------
    State
        Columns one after another; new arrays.
    """
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

    Parameters
    ----------
    bed : Bed
        The bed with its own rule.

    Returns
    -------
    Bed
        The same; filled every morning where its rule is never to fill, which nobody who has
        plants to come home to follows.
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

    Parameters
    ----------
    scenarios : sequence of Scenario
        Beds as they are left.
    weather : Dataset, dims (time,)
        The record.
    starts : Starts
        The cases.
    states : tuple of State
        As :func:`spun_up` gives them.
    level : float
        Share of the store on the morning of leaving [1].

    Returns
    -------
    Run
        Columns by scenario, then case; the twins' in the second half.
    """
    left = [replace(s.bed, watering=NEVER) for s in scenarios]
    tended = [replace(s.bed, watering=EVERY_MORNING) for s in scenarios]
    begun = _begun(scenarios, starts, states, level)
    both = side_by_side([begun, begun])
    return run_many(left + tended, weather, starts.dates, days=starts.horizon, start=both)
