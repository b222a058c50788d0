"""What is read off a suction profile: uptake, air, the surface; one row a quantity."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bedtide.constants import AIR_LIMIT, TOP_LAYER
from bedtide.crop import dry_factor
from bedtide.mix import Mix, suction_at, water_content
from bedtide.profile.grid import Array, Grid, cell_values, root_density

DEMANDS = np.array([0.001, 0.003, 0.005])
"""Demands for which the uptake factor is tabulated [m d-1]; the nearest is used."""

ROOTING = np.array([0.34, 0.67, 1.0])
"""Rooting depths that are tabulated, as shares of the grown plants' depth; the nearest is used."""

EVAPORATING_LAYER = 0.10
"""Depth of the layer that dries by evaporation [m]: the lower end of the 0.10 to 0.15 m of FAO-56
chapter 7, from memory."""

FIELD_SUCTION, WILTING_SUCTION = 1.0, 150.0
"""Suction heads of field capacity and wilting point in FAO-56's terms [m]; 10 and 1500 kPa,
common practice, no source for mixes."""


@dataclass(frozen=True, eq=False)
class Reader:
    """Weights that turn the cells of one zone into readings.

    Attributes
    ----------
    first, last : int
        Cells of the zone.
    uptake : ndarray, shape (rooting, cells)
        Share of all uptake that each cell has, for each rooting depth [1].
    layers : ndarray, shape (layers, cells)
        Height of each cell that lies in a layer whose air is read [m]: the top layer, then the
        rooting depths, then the evaporating layer.
    """

    first: int
    last: int
    uptake: Array
    layers: Array


def rooting_depths(grid: Grid) -> Array:
    """Depths of the roots that are tabulated, within the mix above the lip [m]."""
    return (grid.surface - grid.roots_from) * ROOTING


def reader(grid: Grid, first: int, last: int) -> Reader:
    """Weights of a zone.

    Parameters
    ----------
    grid : Grid
        The column.
    first, last : int
        Cells of the zone.

    Returns
    -------
    Reader
        For :func:`readings_of`.
    """
    depths = rooting_depths(grid)
    uptake = np.stack([root_density(grid, grid.surface - d) * grid.step for d in depths])
    depth_list = [TOP_LAYER, *depths, EVAPORATING_LAYER]
    inside = [np.clip((grid.node[1:] - (grid.surface - d)) / grid.step, 0, 1) for d in depth_list]
    layers = np.stack(inside) * grid.step * grid.share
    return Reader(first, last, uptake[:, first:last], layers[:, first:last])


def readings_of(suction: Array, grid: Grid, zone: Reader) -> Array:
    """Readings of profiles in one zone.

    Parameters
    ----------
    suction : ndarray, shape (nodes, ...)
        Suction at the nodes of the zone, from below [m].
    grid : Grid
        The column.
    zone : Reader
        Its weights.

    Returns
    -------
    ndarray, shape (readings, ...)
        Rows: share of the uptake that is met, for each rooting depth and demand (9) [1]; air in
        the top layer, in each rooting depth and in the evaporating layer (5), per plan area [m];
        height of the lowest node over which the air share stays above the limit [m]; suction at
        the topmost node [m].
    """
    middle = 0.5 * (suction[1:] + suction[:-1])
    roots = grid.roots
    rows = []
    for share in zone.uptake:
        for demand in DEMANDS:
            met = dry_factor(
                middle, h3_high=roots.h3_high, h3_low=roots.h3_low, h4=roots.h4, demand=demand
            )
            rows.append(np.tensordot(share, met, axes=(0, 0)))
    air = cell_values(middle, grid, zone.first, _air)
    rows.extend(np.tensordot(weight, air, axes=(0, 0)) for weight in zone.layers)
    rows.append(_aerated_from(suction, grid, zone.first))
    rows.append(suction[-1])
    return np.stack(rows)


UPTAKE_ROWS = slice(0, DEMANDS.size * ROOTING.size)
AIR_TOP_ROW = UPTAKE_ROWS.stop
AIR_ROOT_ROWS = slice(AIR_TOP_ROW + 1, AIR_TOP_ROW + 1 + ROOTING.size)
AIR_SURFACE_ROW = AIR_ROOT_ROWS.stop
AERATED_ROW = AIR_SURFACE_ROW + 1
SUCTION_ROW = AERATED_ROW + 1
ROWS = SUCTION_ROW + 1


def _air(suction: Array, mix: Mix) -> Array:
    """Air-filled porosity at a suction [m3 m-3]."""
    return mix.theta_s - np.asarray(water_content(suction, mix))


def _aerated_from(suction: Array, grid: Grid, first: int) -> Array:
    """Height down to which, from the top of the zone, the air share is above the limit [m]."""
    nodes = suction.shape[0]
    heights = grid.node[first : first + nodes]
    limit = np.where(
        np.append(grid.wick, grid.wick[-1])[first : first + nodes],
        _limit_suction(grid.wick_mix),
        _limit_suction(grid.top_mix),
    ).reshape((-1,) + (1,) * (suction.ndim - 1))
    airy = suction >= limit
    # Lowest node of the unbroken airy stretch that ends at the top.
    unbroken = np.flip(np.logical_and.accumulate(np.flip(airy, 0), axis=0), 0)
    count = unbroken.sum(axis=0)
    at = np.clip(nodes - count, 0, nodes - 1)
    below = np.clip(at - 1, 0, nodes - 1)
    s_at = np.take_along_axis(suction, at[None], 0)[0]
    s_below = np.take_along_axis(suction, below[None], 0)[0]
    limit_at = np.take_along_axis(np.broadcast_to(limit, suction.shape), at[None], 0)[0]
    part = np.clip((s_at - limit_at) / np.maximum(s_at - s_below, 1e-9), 0.0, 1.0)
    height = heights[at] - np.where(count < nodes, part, 0.0) * grid.step
    return np.where(count > 0, height, heights[-1])


def _limit_suction(mix: Mix) -> float:
    """Suction at which the air share reaches the limit [m]."""
    return float(suction_at(max(mix.theta_s - AIR_LIMIT, mix.theta_r * 1.0001), mix))
