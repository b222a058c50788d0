"""A bed cut into cells beside a store of open water: plain arrays for the step."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import (
    Bed,
    Pipes,
    crown_height,
    mix_below,
    mix_share,
    open_store,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.mix import Mix, supply_conductivity

Array = NDArray[np.float64]
Index = NDArray[np.int64]

FORM_CELLS = 4
"""Cells over the height of the reservoir at the least, all of one height [1]."""

THINNEST, GROWTH, THICKEST = 0.008, 1.6, 0.060
"""Cell at the surface [m], how much each is thicker than the one above [1], the thickest [m]."""

STEEP_FLUX, STEEP_SHARE, STEEP_LEAST = 0.003, 0.35, 0.012
"""Steep mixes get thinner cells: no thicker than this share of the height over which conductivity
falls e-fold where it is 3 mm a day [m d-1], [1], but no thinner than the last [m]."""

STEEP_BELOW, STEEP_STEP = 0.020, 0.1
"""Where the thickest cell is thinner than this [m], as in bark, no step is longer than this [d]:
rain that runs through such a mix is gone before noon."""

LEAST_CELLS = 4
"""Cells above the reservoir at the least [1]; a thin layer of mix gets thinner ones."""

CONDUCTANCE = 200.0
"""Exchange between mix and open water beside it, per height and head [m-1 d-1]: that of 20 mm of
mix that conducts 5 m/d. Half and four times as much change a store by under 0.2 mm."""

LEAST_SHARE = 1e-3
"""A path of mix narrower than this share still conducts a little [1]."""

LONGEST = 0.5
"""Longest step in ordinary mixes [d]."""

STORE_STEPS = 256
"""Straight pieces of the store's curve [1]."""

_SAMPLES = 64  # heights between two centres at which the width of the path is looked at


class Cells(NamedTuple):
    """Columns of beds, cells from the surface down; arrays (beds, cells) unless said.

    Attributes
    ----------
    number : ndarray of int, shape (beds,)
        Cells of each bed; the rest of its row is padding [1].
    centre, height : ndarray of float
        Centre above the floor, and height [m].
    water : ndarray of float
        Mix in the cell per plan area [m].
    mix : ndarray of int
        Number of its mix [1].
    reach, path, below : ndarray of float
        From the cell up to the centre of the one above it: distance [m], harmonic mean of the
        share of mix [1], and the part of the distance that lies in the cell itself [1]. The first
        holds half the surface cell, up to the surface.
    void_low, void_high : ndarray of float
        Ends of the stretch in which open void lies beside the cell [m]; equal where none does.
    ceiling : ndarray of int, shape (beds,)
        Cell whose foot lies bare over open void, -1 where none does [1].
    ceiling_height, ceiling_pass : ndarray of float, shape (beds,)
        Height of that foot [m], and its conductance [d-1].
    store_base, store_step : ndarray of float, shape (beds,)
        Lowest point of the void and height of a piece of the curve [m].
    store : ndarray of float, shape (beds, STORE_STEPS + 1)
        Open water below each node of the curve [m].
    longest : ndarray of float, shape (beds,)
        Longest step [d].
    """

    number: Index
    centre: Array
    height: Array
    water: Array
    mix: Index
    reach: Array
    path: Array
    below: Array
    void_low: Array
    void_high: Array
    ceiling: Index
    ceiling_height: Array
    ceiling_pass: Array
    store_base: Array
    store_step: Array
    store: Array
    longest: Array


@lru_cache(maxsize=512)
def thickest_cell(mix: Mix) -> float:
    """Thickest cell that follows a mix [m], by how steeply its conductivity falls."""
    suction = np.geomspace(1e-3, 30.0, 400)
    k = supply_conductivity(suction, mix)
    at = int(np.clip(np.searchsorted(-k, -STEEP_FLUX), 1, suction.size - 1))
    fold = (suction[at] - suction[at - 1]) / max(np.log(k[at - 1] / k[at]), 1e-9)
    return float(np.clip(STEEP_SHARE * fold, STEEP_LEAST, THICKEST))


def faces_of(bed: Bed, *, finer: int = 1) -> Array:
    """Heights of the cell faces from the surface down to the foot of the mix.

    Parameters
    ----------
    bed : Bed
        Its box and reservoir.
    finer : int, default 1
        Parts that each cell is cut into, to see how much cells matter [1].

    Returns
    -------
    ndarray, shape (cells + 1,)
        Heights above the floor, falling [m].
    """
    foot, crown, surface = wick_foot(bed), crown_height(bed), surface_height(bed)
    above, most = surface - crown, thickest_cell(bed.top_mix)
    sizes: list[float] = []
    while sum(sizes) < above or len(sizes) < LEAST_CELLS:
        sizes.append(min(THINNEST * GROWTH ** len(sizes), most))
    depths = np.cumsum(np.array(sizes)) * (above / sum(sizes))
    upper = np.concatenate([[surface], surface - depths[:-1], [crown]])
    inside = max(FORM_CELLS, int(np.ceil((crown - foot) / thickest_cell(bed.wick_mix) - 1e-9)))
    form = np.linspace(crown, foot, inside + 1)[1:] if crown > foot else np.empty(0)
    faces = np.concatenate([upper, form])
    parts = np.arange(finer) / finer
    inner = faces[:-1, None] + (faces[1:] - faces[:-1])[:, None] * parts
    return np.append(inner.reshape(-1), faces[-1])


def cells_of(bed: Bed, mixes: tuple[int, int], saturated: float, *, finer: int = 1) -> Cells:
    """The column of one bed.

    Parameters
    ----------
    bed : Bed
        Its box, reservoir and mixes.
    mixes : tuple of int
        Numbers of its wick mix and of its top mix [1].
    saturated : float
        Conductivity of the saturated top mix [m d-1].
    finer : int, default 1
        Parts that each cell is cut into [1].

    Returns
    -------
    Cells
        Of one bed.
    """
    faces = faces_of(bed, finer=finer)
    crown, foot = crown_height(bed), wick_foot(bed)
    centre, height = 0.5 * (faces[:-1] + faces[1:]), faces[:-1] - faces[1:]
    water = np.maximum(-np.diff(mix_below(faces, bed)), LEAST_SHARE * height)
    up = np.append(faces[0], centre[:-1])
    reach = up - centre
    samples = centre[:, None] + reach[:, None] * (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    share = np.maximum(mix_share(samples, bed), LEAST_SHARE)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        wall = 0.5 * (reservoir.outside - reservoir.inside)
        ends = (wall, wall + reservoir.inside)
        bare = 0.0
    else:
        ends = (foot, crown)
        bare = reservoir.void_share * (1.0 - (reservoir.wick_share if crown > foot else 0.0))
        bare *= float(walls_of(bed).share(crown))
    over = int(np.flatnonzero(faces[1:] >= crown - 1e-12)[-1])
    base, top = (ends[0] if isinstance(reservoir, Pipes) else 0.0), ends[1]
    nodes = np.linspace(base, top, STORE_STEPS + 1)
    row = {
        "number": np.array(centre.size),
        "centre": centre,
        "height": height,
        "water": water,
        "mix": np.where(centre < crown, mixes[0], mixes[1]),
        "reach": reach,
        "path": 1.0 / (1.0 / share).mean(axis=1),
        "below": 0.5 * height / reach,
        "void_low": np.clip(faces[1:], *ends),
        "void_high": np.clip(faces[:-1], *ends),
        "ceiling": np.array(over if bare > 0.0 else -1),
        "ceiling_height": np.array(crown),
        "ceiling_pass": np.array(2.0 * bare * saturated / height[over]),
        "store_base": np.array(base),
        "store_step": np.array((top - base) / STORE_STEPS),
        "store": np.asarray(open_store(nodes, bed)),
        "longest": np.array(STEEP_STEP if thickest_cell(bed.top_mix) < STEEP_BELOW else LONGEST),
    }
    return Cells(**{name: np.asarray(value)[None] for name, value in row.items()})


def stacked_cells(each: Sequence[Cells]) -> Cells:
    """Columns of several beds, padded to the longest."""
    most = max(one.centre.shape[1] for one in each)

    def joined(name: str) -> NDArray[Any]:
        rows = [getattr(one, name) for one in each]
        if rows[0].ndim == 2 and name != "store":
            rows = [np.pad(row, ((0, 0), (0, most - row.shape[1])), mode="edge") for row in rows]
        return np.concatenate(rows)

    return Cells(*(joined(name) for name in Cells._fields))
