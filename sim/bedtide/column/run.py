"""Many columns through many days, compiled; each is alone in its loop."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.column.cells import CONDUCTANCE, Cells
from bedtide.column.compiled import cached, compiled
from bedtide.column.day import AFTER_RAIN, Day, one_day
from bedtide.column.hydraulics import THETA
from bedtide.column.step import (
    BELOW,
    BEND,
    CENTRE,
    GEOMETRY,
    HEIGHT,
    HELD,
    HIGH,
    LATERAL,
    LOW,
    MIX,
    NO_LIP,
    PATH,
    PER_REACH,
    PER_WATER,
    REACH,
    ROOT,
    SCRATCH,
    WATER,
    Q,
    Store,
    held,
    index_of,
    level_at,
    look_up,
    place_of,
)  # fmt: skip
from bedtide.constants import TOP_LAYER

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Flags = NDArray[np.bool_]

FIGURES = (
    "open_water", "mix_water", "standing_water", "refill", "rise", "transpiration", "evaporation",
    "overflow", "rim_spill", "level", "surface_suction", "air_root_zone", "air_top",
    "aerated_depth",
)  # fmt: skip
"""Rows of the daily figures."""


class Mixes(NamedTuple):
    """Mixes of all beds.

    Attributes
    ----------
    tables : ndarray, shape (mixes, NODES + 1, 8)
        From :func:`bedtide.column.hydraulics.mix_table`.
    bend : ndarray, shape (mixes,)
        Place of the inflection of the retention curve [1].
    wet : ndarray, shape (mixes,)
        Suction under which the air share is below the limit [m].
    dry : float
        Suction of an air-dry surface [m].
    """

    tables: Array
    bend: Array
    wet: Array
    dry: float


class Beds(NamedTuple):
    """What sets beds apart besides their cells, each (beds,) unless said.

    Attributes
    ----------
    layout : ndarray of int
        Row of its cells [1].
    surface, freeboard : ndarray of float
        Height of the mix surface, and of the rim over it [m].
    roots_from : ndarray of float
        Height below which no roots grow [m].
    dead : ndarray of float
        Open water out of reach of the mix [m].
    lip : ndarray of float, shape (beds, time) or (beds, 1)
        Height of the overflow's lip by day of the record [m]; infinite where nothing lets water
        out.
    below, volume : ndarray of float
        Share of the store under which it is filled [1], infinite fills each time; water of one
        fill [m], infinite fills to the lip.
    """

    layout: Index
    surface: Array
    freeboard: Array
    roots_from: Array
    dead: Array
    lip: Array
    below: Array
    volume: Array


class Days(NamedTuple):
    """Rain and demand by day of the record, (sets, time) unless said; beds may share a set.

    Attributes
    ----------
    rain : ndarray of float
        Into the bed [m].
    hours : ndarray of float, shape (records, time, 24)
        Share of each hour in the day's rain [1].
    begin, end : float
        Between which rain falls evenly that has no hours [d].
    energy : ndarray of float
        What the surface could lose [m].
    demand, depth, h3, h4 : ndarray of float, shape (sets, time, plantings)
        What the plants would take, how deep they root, and their limits of uptake [m].
    zone : ndarray of float
        Depth of the root zone whose air is read [m]; zero reads the top layer.
    """

    rain: Array
    hours: Array
    begin: float
    end: float
    energy: Array
    demand: Array
    depth: Array
    h3: Array
    h4: Array
    zone: Array


class Columns(NamedTuple):
    """What each column runs, each (columns,) unless said.

    Attributes
    ----------
    bed, days, start : ndarray of int
        Its bed, its set of days, and the day of the record on which it begins [1].
    hours : ndarray of int
        Which hours its rain has; -1 for none [1].
    due : ndarray of bool, shape (columns, time)
        Whether somebody comes who may fill.
    given : ndarray of float, shape (columns, time) or (0, 0)
        Water put in besides, or taken out where negative, but never more than is there [m].
    """

    bed: Index
    days: Index
    start: Index
    hours: Index
    due: Flags
    given: Array


class States(NamedTuple):
    """Water of each column, changed in place from the first morning to the last evening.

    Attributes
    ----------
    content, place : ndarray, shape (columns, cells)
        Water content [m3 m-3], and place on the nodes of suction [1].
    rest : ndarray, shape (columns, 4)
        Open water, level, water on the mix [m], and length of the next step [d].
    """

    content: Array
    place: Array
    rest: Array


@compiled
def geometry_of(cells: Cells, b: int, mixes: Mixes, g: Array) -> int:
    """Fill in the geometry of one bed; its number of cells."""
    n = cells.number[b]
    for i in range(n):
        g[CENTRE, i], g[HEIGHT, i] = cells.centre[b, i], cells.height[b, i]
        g[WATER, i] = cells.water[b, i]
        g[REACH, i], g[PATH, i], g[BELOW, i] = (
            cells.reach[b, i],
            cells.path[b, i],
            cells.below[b, i],
        )
        g[LOW, i], g[HIGH, i] = cells.void_low[b, i], cells.void_high[b, i]
        g[LATERAL, i] = CONDUCTANCE * (g[HIGH, i] - g[LOW, i])
        g[MIX, i] = cells.mix[b, i]
        g[PER_REACH, i], g[PER_WATER, i] = 1.0 / g[REACH, i], 1.0 / g[WATER, i]
        g[BEND, i] = mixes.bend[cells.mix[b, i]]
    return n


@compiled
def fill_from_below(tables: Array, g: Array, w: Array, n: int, water: float) -> float:
    """Let water that no outlet takes climb into the pores from the floor up; what is left [m]."""
    for i in range(n - 1, -1, -1):
        if water <= 0.0:
            break
        table = tables[int(g[MIX, i])]
        room = min(max(g[WATER, i] * (table[0, THETA] - w[HELD, i]), 0.0), water)
        w[HELD, i] += room / g[WATER, i]
        w[Q, i] = place_of(table, w[HELD, i])
        water -= room
    return water


@compiled
def dawn(
    tables: Array, g: Array, w: Array, n: int, store: Store, lip: float, added: float, state: Array
) -> tuple[float, float]:
    """Put in the morning's water and let go of what stands over the lip.

    What left by the overflow, and what climbed into the mix or over it where nothing lets it out
    [m].
    """
    top = store.base + (store.curve.size - 1) * store.step
    cap = held(min(lip, top), store)[0]
    full = store.curve[store.curve.size - 1]
    before = state[0]
    state[0] += added
    over, climbed = 0.0, 0.0
    if lip < NO_LIP:
        over = max(state[0] - max(cap, before if state[1] <= lip else 0.0), 0.0)
        state[0] -= over
    elif state[0] > full and added > 0.0:
        climbed = state[0] - max(full, before)
        state[0] -= climbed
        state[2] += fill_from_below(tables, g, w, n, climbed)
    if state[0] != before:
        state[1] = max(level_at(state[0], store), state[1] if before > full else store.base)
        state[1] = min(state[1], max(lip, top)) if over > 0.0 else state[1]
        state[3] = min(state[3], AFTER_RAIN)
    return over, climbed


@compiled
def roots_in(
    g: Array, w: Array, n: int, surface: float, floor: float,
    demand: Array, depth: Array, h3: Array, h4: Array,
) -> tuple[float, float, float]:  # fmt: skip
    """Share of the uptake in each cell, into ``w[ROOT]``; the demand and its limits [m].

    Roots thin out in a straight line from the surface to their depth; the plantings count by what
    they ask for.
    """
    total = 0.0
    for p in range(demand.size):
        total += demand[p]
    for i in range(n):
        w[ROOT, i] = 0.0
    if total <= 0.0:
        return 0.0, 5.0, 80.0
    start, end = 0.0, 0.0
    for p in range(demand.size):
        part = demand[p] / total
        if part <= 0.0:
            continue
        start += part * h3[p]
        end += part * h4[p]
        lowest = min(max(surface - depth[p], floor), g[CENTRE, 0])
        span = (surface - lowest) ** 2
        for i in range(n):
            top = max(g[CENTRE, i] + 0.5 * g[HEIGHT, i] - lowest, 0.0)
            foot = max(g[CENTRE, i] - 0.5 * g[HEIGHT, i] - lowest, 0.0)
            w[ROOT, i] += part * (top * top - foot * foot) / span
    return total, start, end


@compiled
def air_above(tables: Array, g: Array, w: Array, n: int, lowest: float) -> float:
    """Mean air-filled porosity of the mix above a height [1]."""
    air, mix = 0.0, 0.0
    for i in range(n):
        top, foot = g[CENTRE, i] + 0.5 * g[HEIGHT, i], g[CENTRE, i] - 0.5 * g[HEIGHT, i]
        if top <= lowest:
            break
        inside = g[WATER, i] * min((top - lowest) / (top - foot), 1.0)
        air += inside * max(tables[int(g[MIX, i]), 0, THETA] - w[HELD, i], 0.0)
        mix += inside
    return air / mix


@compiled
def read(
    mixes: Mixes, g: Array, w: Array, n: int, surface: float, zone: float, state: Array,
    figures: Array,
) -> None:  # fmt: skip
    """Read the evening's figures of one column, level and below in `FIGURES`."""
    water = 0.0
    for i in range(n):
        water += g[WATER, i] * w[HELD, i]
    figures[0], figures[1], figures[2] = state[0], water, state[2]
    figures[9] = state[1] if state[2] <= 0.0 else surface + state[2]
    first = max(suction_of(mixes.tables[int(g[MIX, 0])], w[Q, 0]), 0.0)
    second = max(suction_of(mixes.tables[int(g[MIX, 1])], w[Q, 1]), 0.0)
    # In a straight line to the surface, unless the top cell dries faster than that tells.
    slope = (first - second) / g[REACH, 1]
    figures[10] = max(first + max(min(slope, 1.0), -1.0) * g[REACH, 0], 0.0)
    figures[11] = air_above(mixes.tables, g, w, n, surface - zone)
    figures[12] = air_above(mixes.tables, g, w, n, surface - TOP_LAYER)
    figures[13] = airy_depth(mixes, g, w, n, surface)


@compiled
def suction_of(table: Array, q: float) -> float:
    """Suction at a place on the nodes [m]."""
    return look_up(table, q)[0]


@compiled
def airy_depth(mixes: Mixes, g: Array, w: Array, n: int, surface: float) -> float:
    """Depth down to which the air share is above the limit [m]."""
    over = surface
    last = 0.0
    for i in range(n):
        mix = int(g[MIX, i])
        excess = suction_of(mixes.tables[mix], w[Q, i]) - mixes.wet[mix]
        if excess <= 0.0:
            if i == 0:
                return 0.0
            share = last / (last - excess)
            return surface - (over - share * (over - g[CENTRE, i]))
        over, last = g[CENTRE, i], excess
    return surface - (g[CENTRE, n - 1] - 0.5 * g[HEIGHT, n - 1])


@cached
@compiled
def run_columns(
    cells: Cells, mixes: Mixes, beds: Beds, days: Days, columns: Columns, states: States,
    figures: Array, profile: Array, counts: Array, first: int, last: int,
) -> None:  # fmt: skip
    """Columns `first` to `last` through all their days.

    Parameters
    ----------
    cells, mixes, beds, days, columns, states : NamedTuple
        As described there; `states` is changed.
    figures : ndarray, shape (len(FIGURES), columns, time)
        Filled in.
    profile : ndarray, shape (columns, time, cells) or (0, 0, 0)
        Water content of each evening, where wanted [m3 m-3]; filled in.
    counts : ndarray, shape (columns, 4)
        Steps, passes, safe steps, and days with one [1]; added to.
    first, last : int
        Which columns [1].
    """
    most = cells.centre.shape[1]
    g, w = np.zeros((GEOMETRY, most)), np.zeros((SCRATCH, most))
    out, total, bends = np.zeros(8), np.zeros(8), np.zeros(5)
    row = np.zeros(len(FIGURES))
    no_hours = np.zeros(0)
    for c in range(first, last):
        b, own, when = columns.bed[c], columns.days[c], columns.hours[c]
        layout = beds.layout[b]
        n = geometry_of(cells, layout, mixes, g)
        store = Store(cells.store_base[layout], cells.store_step[layout], cells.store[layout])
        foot = cells.ceiling_height[layout]
        ceiling = (cells.ceiling[layout], foot, cells.ceiling_pass[layout])
        at_dry = look_up(mixes.tables[int(g[MIX, 0])], index_of(mixes.dry))
        dry = (at_dry[0], at_dry[4], at_dry[6])
        top = store.base + (store.curve.size - 1) * store.step
        bends[0], bends[1], bends[2], bends[4] = store.base, top, foot, g[LOW, n - 1]
        state = states.rest[c]
        for i in range(n):
            w[HELD, i], w[Q, i] = states.content[c, i], states.place[c, i]
        for d in range(columns.due.shape[1]):
            at = columns.start[c] + d
            lip = beds.lip[b, min(at, beds.lip.shape[1] - 1)]
            bends[3] = lip if lip < NO_LIP else top
            added = columns.given[c, d] if columns.given.size > 0 else 0.0
            if columns.due[c, d]:
                cap = held(min(lip, top), store)[0]
                room = max(cap - beds.dead[b], 1e-9)
                low = beds.dead[b] + beds.below[b] * room
                if beds.below[b] == np.inf or state[0] < low:
                    full = beds.volume[b] == np.inf
                    added += max(cap - state[0], 0.0) if full else beds.volume[b]
            added = max(added, -max(state[0], 0.0))
            over, climbed = dawn(mixes.tables, g, w, n, store, lip, added, state)
            spilt = max(state[2] - beds.freeboard[b], 0.0)
            state[2] -= spilt
            demand, h3, h4 = roots_in(
                g, w, n, beds.surface[b], beds.roots_from[b], days.demand[own, at],
                days.depth[own, at], days.h3[own, at], days.h4[own, at],
            )  # fmt: skip
            day = Day(
                days.rain[own, at], days.begin, days.end, demand, days.energy[own, at], h3, h4,
                lip, beds.freeboard[b], cells.longest[layout],
            )  # fmt: skip
            one_day(
                mixes.tables, g, w, n, store, ceiling, dry, bends, day,
                days.hours[when, at] if when >= 0 else no_hours, state, total, out,
            )  # fmt: skip
            deepest = beds.surface[b] - beds.roots_from[b]
            zone = min(days.zone[own, at], deepest) if days.zone[own, at] > 0.0 else TOP_LAYER
            read(mixes, g, w, n, beds.surface[b], zone, state, row)
            row[3], row[4] = added, total[3] + climbed
            row[5], row[6], row[7] = total[0], total[1], total[2] + over
            row[8] = total[4] + spilt
            for r in range(row.size):
                figures[r, c, d] = row[r]
            if profile.size > 0:
                for i in range(n):
                    profile[c, d, i] = w[HELD, i]
            for r in range(3):
                counts[c, r] += total[5 + r]
            if total[7] > 0.0:
                counts[c, 3] += 1.0
        for i in range(n):
            states.content[c, i], states.place[c, i] = w[HELD, i], w[Q, i]
