"""The bed as one column: heights, mix, void, roots, and the split into two stores of mix water."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import (
    Bed,
    crown_height,
    level_of,
    mix_below,
    open_store,
    surface_height,
    wick_foot,
)
from bedtide.mix import Mix, water_content

Array = NDArray[np.float64]

CELLS = 110
_SPLIT = 0.45  # height of the split, as a share of the mix above crown and lip
_LEAST_SHARE = 1e-3  # a path narrower than this share still conducts a little, for finite tables


@dataclass(frozen=True)
class Roots:
    """What the tables need to know of the plants: how deep, and when they stop drinking.

    Attributes
    ----------
    depth : float
        Rooting depth of the grown plants [m].
    h3_high, h3_low : float
        Suction at which uptake starts to fall, at 5 and at 1 mm a day of demand [m].
    h4 : float
        Suction at which it ends [m].
    """

    depth: float = 0.15
    h3_high: float = 5.0
    h3_low: float = 15.0
    h4: float = 80.0


@dataclass(frozen=True, eq=False)
class Grid:
    """A bed cut into even cells from the foot of its mix to the surface.

    Attributes
    ----------
    node : ndarray, shape (cells + 1,)
        Heights of the cell faces above the floor [m].
    step : float
        Height of a cell [m].
    share : ndarray, shape (cells,)
        Share of the plan area that is mix, mean over each cell [1].
    wick : ndarray of bool, shape (cells,)
        Whether the cell lies below the crown and holds the wick mix.
    wick_mix, top_mix : Mix
        The two mixes.
    split : int
        Node between the lower and the upper store of mix water.
    roots_from : float
        Height of the lowest roots of grown plants [m].
    roots : Roots
        The plants' limits.
    lip : float
        Height of the overflow's lip [m]; infinite where nothing lets water out.
    crown : float
        Top of the reservoir [m].
    dead, full, cap : float
        Open water [m]: out of reach of the mix, in a full reservoir, and at most.
    """

    node: Array
    step: float
    share: Array
    wick: NDArray[np.bool_]
    wick_mix: Mix
    top_mix: Mix
    split: int
    roots_from: float
    roots: Roots
    lip: float
    crown: float
    dead: float
    full: float
    cap: float

    @property
    def centre(self) -> Array:
        """Heights of the cell centres [m]."""
        return 0.5 * (self.node[1:] + self.node[:-1])

    @property
    def surface(self) -> float:
        """Height of the mix surface [m]."""
        return float(self.node[-1])

    @property
    def foot(self) -> float:
        """Height of the foot of the mix [m]."""
        return float(self.node[0])


def grid_of(bed: Bed, lip: float, *, roots: Roots, highest_lip: float) -> Grid:
    """The column of a bed.

    Parameters
    ----------
    bed : Bed
        Its box, reservoir and mixes; the rest is not looked at.
    lip : float
        Height of the overflow's lip [m]; infinite where nothing lets water out.
    roots : Roots
        The plants' limits.
    highest_lip : float
        Highest finite lip of the year [m]; zero if there is none. It fixes the split and the
        lowest roots, which must not move when an elbow is turned.

    Returns
    -------
    Grid
        The cells.
    """
    foot, crown, surface = wick_foot(bed), crown_height(bed), surface_height(bed)
    node = np.linspace(foot, surface, CELLS + 1)
    step = (surface - foot) / CELLS
    share = np.maximum(np.diff(mix_below(node, bed)) / step, _LEAST_SHARE)
    base = min(max(crown, highest_lip), surface)
    split = int(np.clip(round((base + _SPLIT * (surface - base) - foot) / step), 4, CELLS - 4))
    wet = min(highest_lip if highest_lip > 0.0 else crown, crown)
    roots_from = float(np.clip(surface - roots.depth, max(wet, foot), surface - 4 * step))
    full = float(open_store(crown, bed))
    return Grid(
        node=node,
        step=step,
        share=share,
        wick=0.5 * (node[1:] + node[:-1]) < crown,
        wick_mix=bed.wick_mix,
        top_mix=bed.top_mix,
        split=split,
        roots_from=roots_from,
        roots=roots,
        lip=lip,
        crown=crown,
        dead=float(open_store(foot, bed)),
        full=full,
        cap=float(open_store(lip, bed)) if np.isfinite(lip) else full,
    )


def level_in(store: Array, bed: Bed) -> Array:
    """Level of the open water [m] at a store [m], within the reservoir."""
    return np.asarray(level_of(store, bed), dtype=np.float64)


def root_density(grid: Grid, roots_from: float) -> Array:
    r"""Share of the uptake in each cell per height, falling linearly with depth.

    Parameters
    ----------
    grid : Grid
        The column.
    roots_from : float
        Height of the lowest roots [m].

    Returns
    -------
    ndarray, shape (cells,)
        Density whose integral over the column is one [m-1].

    Notes
    -----
    :math:`g(z) = 2 (z - z_b) / (z_s - z_b)^2`: the linear model of [1]_.

    References
    ----------
    .. [1] Prasad R. (1988). A linear root water uptake model. J. Hydrol. 99: 297-306. From memory.
    """
    # Integral of the density over each cell, so that coarse cells hold the right share.
    above = np.clip(grid.node - roots_from, 0.0, None) ** 2 / (grid.surface - roots_from) ** 2
    return np.diff(above) / grid.step


def mix_water(suction: Array, grid: Grid, first: int) -> Array:
    """Water that the mix holds in a run of cells, per plan area.

    Parameters
    ----------
    suction : ndarray, shape (nodes, ...)
        Suction at the nodes of the cells, from below [m].
    grid : Grid
        The column.
    first : int
        Number of the lowest of the cells [1].

    Returns
    -------
    ndarray, shape (...)
        Water [m].
    """
    middle = 0.5 * (suction[1:] + suction[:-1])
    last = first + middle.shape[0]
    content = cell_values(middle, grid, first, water_content)
    return np.tensordot(grid.share[first:last] * grid.step, content, axes=(0, 0))


def cell_values(middle: Array, grid: Grid, first: int, quantity: object) -> Array:
    """A quantity of the mix at suctions (cells, ...) [m], each cell with its own mix."""
    call = quantity
    assert callable(call)
    if grid.wick_mix == grid.top_mix:
        return np.asarray(call(middle, grid.top_mix))
    wicks = int(grid.wick[first : first + middle.shape[0]].sum())
    low = call(middle[:wicks], grid.wick_mix)
    return np.concatenate([low, call(middle[wicks:], grid.top_mix)])


def saturated_water(grid: Grid, first: int, last: int) -> float:
    """Water in the cells from `first` to `last` when every pore is full [m]."""
    porosity = np.where(grid.wick, grid.wick_mix.theta_s, grid.top_mix.theta_s)
    return float((grid.share * porosity)[first:last].sum() * grid.step)
