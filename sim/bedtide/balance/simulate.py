"""The loop over days, for any number of beds stepped together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.day import OPEN, Limits, Noon, State, limits_of, one_day
from bedtide.balance.watering import Rules
from bedtide.profile import BedTables, stacked

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_BLOCK = 16384  # beds stepped together: their state stays in the processor's cache


class Forcing(NamedTuple):
    """Rain and demand of every day, each (time, columns) with columns shared among beds.

    Attributes
    ----------
    rain : ndarray of float
        Rain into the bed [m].
    transpiration : ndarray of float
        What the plants would take [m].
    energy, wetted : ndarray of float
        Bounds of the evaporation, by energy and by exposed surface [m].
    exposed : ndarray of float
        Share of the surface that evaporates [1].
    kind : ndarray of int
        Number of the uptake table: rooting depth and demand [1].
    """

    rain: Array
    transpiration: Array
    energy: Array
    wetted: Array
    exposed: Array
    kind: Index


class Series(NamedTuple):
    """Stores at the end of every day and what moved on it.

    Attributes
    ----------
    stores : ndarray, shape (time, 3, beds)
        Open water, lower and upper mix water [m].
    standing, depletion : ndarray, shape (time, beds)
        Water on the mix, and water that the surface layer lacks [m].
    refill, rise, transpiration, evaporation, overflow, rim_spill : ndarray, shape (time, beds)
        What moved, positive as the name says [m].
    """

    stores: Array
    standing: Array
    depletion: Array
    refill: Array
    rise: Array
    transpiration: Array
    evaporation: Array
    overflow: Array
    rim_spill: Array


def simulate(
    tables: Sequence[BedTables],
    which: Index,
    forcing: Forcing,
    rules: Rules,
    start: State,
    *,
    column: Index,
    freeboard: Array,
    progress: Callable[[int], None] | None = None,
) -> Series:
    """Step many beds through the same number of days.

    Parameters
    ----------
    tables : sequence of BedTables
        Every table that is used.
    which : ndarray of int, shape (beds,) or (time, beds)
        Number of the table of each bed, by day where its overflow changes height [1].
    forcing : Forcing
        Rain and demand.
    rules : Rules
        Watering.
    start : State
        Stores before the first day.
    column : ndarray of int, shape (beds,)
        Column of `forcing` that each bed sees [1].
    freeboard : ndarray of float, shape (beds,)
        Height of the rim above the surface [m].
    progress : callable, optional
        Told how many bed-days were done since it was last told.

    Returns
    -------
    Series
        Shape (time, beds). A bed gives the same numbers whatever others are stepped beside it.
    """
    stack = stacked(tables)
    days, beds = forcing.rain.shape[0], which.shape[-1]
    # Zeros cost nothing until they are written over, and much of this is never anything else.
    series = Series(
        np.zeros((days, 3, beds)), *(np.zeros((days, beds)) for _ in Series._fields[1:])
    )
    rainy = np.asarray(forcing.rain.any(axis=1))
    thirsty = np.asarray(forcing.transpiration.any(axis=1))
    for first in range(0, beds, _BLOCK):
        block = slice(first, min(first + _BLOCK, beds))
        seen = _seen(column[block], forcing)
        state = _picked(start, block)
        due = np.asarray(rules.due[:, block].any(axis=1))
        table = which[block] if which.ndim == 1 else which[0, block]
        limits = limits_of(tables, stack, table, freeboard[block])
        level = _refill_under(rules, block, limits)
        for day in range(days):
            turned = which.ndim == 2 and not np.array_equal(which[day, block], table)
            if turned:
                table = which[day, block]
                limits = limits_of(tables, stack, table, freeboard[block])
                level = _refill_under(rules, block, limits)
            refill = None
            if due[day] or rules.given is not None:
                refill = _refill(rules, day, block, state.stores[OPEN], limits, level)
            if refill is None and (turned or day == 0):
                refill = limits.nothing  # so that what stands over a lowered lip leaves at dawn
            noon = _noon(forcing, day, seen, rainy=bool(rainy[day]), thirsty=bool(thirsty[day]))
            state, moved = one_day(stack, limits, state, refill, noon)
            for kept, value in zip(series, (*state[:3], refill, *moved), strict=True):
                if value is not None and value is not limits.nothing:
                    kept[day, ..., block] = value
        if progress is not None:
            progress(days * (block.stop - block.start))
    return series


def _picked(state: State, block: slice) -> State:
    return State(
        np.ascontiguousarray(state.stores[:, block]),
        state.standing[block],
        state.depletion[block],
        flooded=True,
    )


def _seen(columns: Index, forcing: Forcing) -> Index | slice:
    """Columns of the forcing as a slice where they can be one: that copies nothing."""
    if forcing.rain.shape[1] == 1:
        return slice(None)
    if (np.diff(columns) == 1).all():
        return slice(int(columns[0]), int(columns[-1]) + 1)
    return columns


def _noon(forcing: Forcing, day: int, seen: Index | slice, *, rainy: bool, thirsty: bool) -> Noon:
    return Noon(
        forcing.rain[day, seen],
        forcing.transpiration[day, seen],
        forcing.energy[day, seen],
        forcing.wetted[day, seen],
        forcing.exposed[day, seen],
        forcing.kind[day, seen],
        rainy,
        thirsty,
    )


def _refill_under(rules: Rules, block: slice, limits: Limits) -> Array:
    """Open water under which the rule fills [m]; it looks at what the mix can reach."""
    share = rules.share[block]
    room = np.maximum(limits.cap - limits.dead, 1e-9)
    return np.where(
        np.isinf(share), np.inf, limits.dead + np.where(np.isinf(share), 0, share) * room
    )


def _refill(
    rules: Rules, day: int, block: slice, open_water: Array, limits: Limits, level: Array
) -> Array | None:
    """Water put in this morning [m]; None where nobody puts in any."""
    low = open_water < level
    low &= rules.due[day, block]
    if rules.given is None and not low.any():
        return None
    volume = rules.volume[block]
    to_lip = np.maximum(limits.cap - open_water, 0.0)
    refill = np.where(low, np.where(np.isinf(volume), to_lip, volume), 0.0)
    return refill if rules.given is None else refill + rules.given[day, block]


def share_of_store(open_water: Array, cap: Array, dead: Array) -> Array:
    """How full the store is, of what the mix can reach.

    Parameters
    ----------
    open_water, cap : ndarray, shape (...)
        Open water, and the most that the overflow lets stand [m].
    dead : ndarray or float, shape (...)
        Open water out of reach of the mix [m].

    Returns
    -------
    ndarray, shape (...)
        Share [1]; zero where nothing can be reached.
    """
    room = np.maximum(cap - dead, 1e-9)
    return np.clip((open_water - dead) / room, 0.0, 1.0)
