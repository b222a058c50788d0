"""What is read off a suction profile: uptake, air, the surface; one row a quantity."""

from __future__ import annotations

from collections.abc import Callable
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
class Reading:
    """A way to read profiles.

    Attributes
    ----------
    count : int
        Number of rows that it gives [1].
    met : slice
        Rows that are shares of the uptake; a store without water below bounds them.
    of : callable
        (suction at the nodes of a zone from below (nodes, ...) [m], its first cell) to rows
        (count, ...).
    """

    count: int
    met: slice
    of: Callable[[Array, int], Array]


def rooting_depths(grid: Grid) -> Array:
    """Depths of the roots that are tabulated.

    Parameters
    ----------
    grid : Grid
        The column.

    Returns
    -------
    ndarray, shape (depths,)
        Depths below the surface, within the mix above the lip [m].
    """
    return (grid.surface - grid.roots_from) * ROOTING


def layers(grid: Grid) -> Array:
    """Mix of each cell that lies in a layer whose air is read, (layers, cells) [m].

    The top layer, then the rooting depths, then the evaporating layer.
    """
    depths = [TOP_LAYER, *rooting_depths(grid), EVAPORATING_LAYER]
    inside = [np.clip((grid.node[1:] - (grid.surface - d)) / grid.step, 0, 1) for d in depths]
    return np.stack(inside) * grid.step * grid.share


def tabulated(grid: Grid) -> Reading:
    """What the tables hold of every profile.

    Parameters
    ----------
    grid : Grid
        The column.

    Returns
    -------
    Reading
        Rows: share of the uptake that is met, for each rooting depth and demand (9) [1]; air in
        the top layer, in each rooting depth and in the evaporating layer (5), per plan area [m];
        height from which, up to the top of the zone, the air share is above the limit [m];
        water content of the top mix at the topmost node [m3 m-3].
    """
    density = [root_density(grid, grid.surface - depth) for depth in rooting_depths(grid)]
    uptake = np.stack(density) * grid.step
    weights = layers(grid)
    roots = grid.roots

    def of(suction: Array, first: int) -> Array:
        middle = 0.5 * (suction[1:] + suction[:-1])
        cells = slice(first, first + middle.shape[0])
        met = [
            np.tensordot(
                uptake[:, cells],
                dry_factor(
                    middle, h3_high=roots.h3_high, h3_low=roots.h3_low, h4=roots.h4, demand=demand
                ),
                axes=(1, 0),
            )
            for demand in DEMANDS
        ]
        by_rooting = np.stack(met, axis=1).reshape(-1, *middle.shape[1:])
        air = np.tensordot(weights[:, cells], cell_values(middle, grid, first, _air), axes=(1, 0))
        edge = [_aerated_from(suction, grid, first), water_content(suction[-1], grid.top_mix)]
        return np.concatenate([by_rooting, air, np.stack(edge)])

    return Reading(ROWS, UPTAKE_ROWS, of)


def sliced(grid: Grid, faces: Array) -> Reading:
    """Air in slices of the column.

    Parameters
    ----------
    grid : Grid
        The column.
    faces : ndarray, shape (slices + 1,)
        Heights of their faces, rising [m].

    Returns
    -------
    Reading
        Rows: air in each slice, per plan area [m].
    """
    low, high = faces[:-1, None], faces[1:, None]
    inside = np.minimum(grid.node[1:], high) - np.maximum(grid.node[:-1], low)
    weights = np.clip(inside, 0.0, None) * grid.share

    def of(suction: Array, first: int) -> Array:
        middle = 0.5 * (suction[1:] + suction[:-1])
        cells = slice(first, first + middle.shape[0])
        air = cell_values(middle, grid, first, _air)
        return np.tensordot(weights[:, cells], air, axes=(1, 0))

    return Reading(faces.size - 1, slice(0, 0), of)


def between(at: Array, points: Array, rows: Array) -> Array:
    """Rows of values (rows, points) between rising points, at places (...), all in one search.

    Parameters
    ----------
    at : ndarray, shape (places,)
        Where; beyond the points the first or last value holds.
    points : ndarray, shape (points,)
        Rising.
    rows : ndarray, shape (rows, points)
        Values.

    Returns
    -------
    ndarray, shape (rows, places)
        Straight lines between the points.
    """
    right = np.clip(np.searchsorted(points, at, side="right"), 1, points.size - 1)
    left = right - 1
    width = points[right] - points[left]
    part = np.clip((at - points[left]) / np.where(width > 0.0, width, 1.0), 0.0, 1.0)
    low = rows[:, left]
    return low + (rows[:, right] - low) * part


UPTAKE_ROWS = slice(0, DEMANDS.size * ROOTING.size)
AIR_TOP_ROW = UPTAKE_ROWS.stop
AIR_ROOT_ROWS = slice(AIR_TOP_ROW + 1, AIR_TOP_ROW + 1 + ROOTING.size)
AIR_SURFACE_ROW = AIR_ROOT_ROWS.stop
AERATED_ROW = AIR_SURFACE_ROW + 1
CONTENT_ROW = AERATED_ROW + 1
ROWS = CONTENT_ROW + 1


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
