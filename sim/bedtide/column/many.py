"""Columns of many beds: made ready, set to rest, and moved through their days on all cores."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.column.cells import Cells, cells_of, stacked_cells
from bedtide.column.compiled import prepared
from bedtide.column.hydraulics import SCALE, STRETCH, THETA, K, node_suctions, stacked_tables
from bedtide.column.run import FIGURES, Beds, Columns, Days, Mixes, States, run_columns
from bedtide.constants import AIR_LIMIT
from bedtide.mix import VAPOUR_LENGTH, Mix, suction_at

Array = NDArray[np.float64]
Index = NDArray[np.int64]

AIR_DRY = VAPOUR_LENGTH * float(np.log(2.0))
"""Suction of a surface dried by air of half saturation [m]: with vapour in the pores at rest with
the air above; the flux hardly depends on it."""

_FIRST_STEP = 0.06  # of a run [d]
_PIECE = 64  # columns that a thread takes at a time


def stacked_mixes(mixes: Sequence[Mix]) -> Mixes:
    """Tables and marks of several mixes.

    Parameters
    ----------
    mixes : sequence of Mix
        In the order of their numbers.

    Returns
    -------
    Mixes
        For :func:`move`.
    """
    shape = np.array([(mix.alpha, mix.n) for mix in mixes])
    m = 1.0 - 1.0 / shape[:, 1]
    inflection = m ** (1.0 / shape[:, 1]) / shape[:, 0]
    wet = [float(suction_at(mix.theta_s - AIR_LIMIT, mix)) for mix in mixes]
    return Mixes(
        stacked_tables(mixes), np.arcsinh(inflection / SCALE) / STRETCH, np.array(wet), AIR_DRY
    )


def layouts_of(beds: Sequence[Bed], *, finer: int = 1) -> tuple[Cells, Mixes, Index]:
    """Columns of beds; those that share box, reservoir and mixes share one.

    Parameters
    ----------
    beds : sequence of Bed
        At least one.
    finer : int, default 1
        Parts that each cell is cut into, to see how much cells matter [1].

    Returns
    -------
    cells : Cells
        One row a layout.
    mixes : Mixes
        All that they hold.
    layout : ndarray of int, shape (beds,)
        Which row is each bed's [1].
    """
    numbers: dict[Mix, int] = {}
    for bed in beds:
        for mix in (bed.wick_mix, bed.top_mix):
            numbers.setdefault(mix, len(numbers))
    mixes = stacked_mixes(list(numbers))
    known: dict[object, int] = {}
    each: list[Cells] = []
    layout = []
    for bed in beds:
        key = (bed.box, bed.reservoir, bed.wick_mix, bed.top_mix)
        if key not in known:
            known[key] = len(each)
            pair = (numbers[bed.wick_mix], numbers[bed.top_mix])
            each.append(cells_of(bed, pair, float(mixes.tables[pair[1], 0, K]), finer=finer))
        layout.append(known[key])
    return stacked_cells(each), mixes, np.array(layout, dtype=np.int64)


def at_rest(cells: Cells, mixes: Mixes, layout: Index, open_water: Array, level: Array) -> States:
    """Mix at rest above the level of its store.

    Parameters
    ----------
    cells, mixes : NamedTuple
        From :func:`layouts_of`.
    layout : ndarray of int, shape (columns,)
        Row of the cells of each column [1].
    open_water, level : ndarray, shape (columns,)
        Water in the store and its level [m].

    Returns
    -------
    States
        Each cell holds what its centre holds at that height above the level.
    """
    suction = cells.centre[layout] - level[:, None]
    nodes = node_suctions()
    place = np.interp(suction, nodes, np.arange(nodes.size))
    wet = suction < 0.0
    place[wet] = suction[wet] / nodes[1]
    row = np.where(wet, 0, place.astype(np.int64) + 1)
    table = mixes.tables[cells.mix[layout], row]
    content = table[..., THETA] + (place - np.maximum(row - 1, 0)) * table[..., THETA + 1]
    zero = np.zeros(layout.size)
    rest = np.stack([open_water, level, zero, zero + _FIRST_STEP], axis=1)
    return States(content, place, rest)


def move(
    cells: Cells,
    mixes: Mixes,
    beds: Beds,
    days: Days,
    columns: Columns,
    states: States,
    *,
    profile: bool = False,
    threads: int | None = None,
    progress: Callable[[int], None] | None = None,
) -> tuple[Array, Array, Array]:
    """Move all columns through their days.

    Parameters
    ----------
    cells, mixes, beds, days, columns : NamedTuple
        What they are and what they meet.
    states : States
        Changed in place to those of the last evening.
    profile : bool, default False
        Whether to keep the water content of every cell on every evening.
    threads : int, optional
        How many to use; one for each core of the process where left out [1].
    progress : callable, optional
        Told how many column-days were done since it was last told.

    Returns
    -------
    figures : ndarray, shape (len(FIGURES), columns, time)
        Stores of the evening, fluxes of the day, readings; in the units of the glossary.
    profile : ndarray, shape (columns, time, cells)
        Water content [m3 m-3]; empty where it was not wanted.
    counts : ndarray, shape (columns, 4)
        Steps, passes, safe steps, and days with one [1].
    """
    count, time = columns.due.shape
    figures = np.empty((len(FIGURES), count, time))
    kept = np.empty((count, time, cells.centre.shape[1]) if profile else (0, 0, 0))
    counts = np.zeros((count, 4))

    def run(first: int, last: int) -> int:
        run_columns(
            cells, mixes, beds, days, columns, states, figures, kept, counts, first, last
        )  # fmt: skip
        return last - first

    prepared(run_columns, lambda: run(0, 0))
    workers = min(threads or len(os.sched_getaffinity(0)), count)
    piece = max(1, min(_PIECE, -(-count // workers)))
    ends = [(first, min(first + piece, count)) for first in range(0, count, piece)]
    with ThreadPoolExecutor(workers) as pool:
        for done in pool.map(run, *zip(*ends, strict=True)):
            if progress is not None:
                progress(done * time)
    return figures, kept, counts
