"""Steady flux profiles: the suction through the mix, integrated cell by cell.

Upward flux is integrated from the top down and drainage from the bottom up: each is stable in
that direction only.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from bedtide.profile.curve import Array, Curve, curve_of, potential_at, suction_and_conductivity
from bedtide.profile.grid import Grid

Flux = Callable[[int, Array, Array], Array]
"""(cell, suction at its top [m], flux through its top) -> flux through its bottom [m d-1]."""


def march_down(
    grid: Grid,
    top: int,
    bottom: int,
    *,
    suction: Array,
    flux: Flux,
    start: Array | float = 0.0,
    dry_above: Array | None = None,
) -> tuple[Array, Array]:
    r"""Suction below a node with given suction, for flux that goes up.

    Parameters
    ----------
    grid : Grid
        The column.
    top, bottom : int
        Nodes between which to integrate.
    suction : ndarray, shape (...)
        Suction at the top node [m].
    flux : callable
        Flux at the bottom of a cell from that at its top, positive up [m d-1].
    start : ndarray or float, shape (...)
        Flux through the top node, positive up [m d-1].
    dry_above : ndarray, optional, shape (...)
        Height above which the mix keeps the suction of the top node and lets nothing through [m].

    Returns
    -------
    suction : ndarray, shape (nodes, ...)
        From the bottom node up; negative below a water table [m].
    flux : ndarray, shape (...)
        Through the bottom node, positive up [m d-1].

    Notes
    -----
    Darcy-Buckingham, :math:`ds/dz = 1 + q / (f_m K(s))`, in the form of :func:`curve_of`, by
    Heun's rule in the flux potential.
    """
    # Shapes may only broadcast to the full one after the first flux.
    q = np.asarray(flux(top - 1, suction, np.asarray(start)), dtype=np.float64)
    shape = np.broadcast_shapes(suction.shape, q.shape)
    s = np.empty((top - bottom + 1, *shape))
    s[-1] = suction
    through = np.broadcast_to(np.asarray(start, dtype=np.float64), shape)
    curve = _curve(grid, top - 1)
    potential = potential_at(np.broadcast_to(suction, shape), curve)
    _, k = suction_and_conductivity(potential, curve)
    for i in range(top - bottom, 0, -1):
        cell = bottom + i - 1
        if _curve(grid, cell) is not curve:
            curve = _curve(grid, cell)
            potential = potential_at(s[i], curve)
            _, k = suction_and_conductivity(potential, curve)
        below = np.asarray(flux(cell, s[i], through))
        if dry_above is not None:
            dry = grid.node[cell] + 0.5 * grid.step > dry_above
            below = np.where(dry, through, below)
        drive = 0.5 * (through + below) / grid.share[cell]
        tried = np.clip(potential + grid.step * (drive + k), curve.least, curve.most)
        _, k_tried = suction_and_conductivity(tried, curve)
        reached = np.maximum(potential + grid.step * (drive + 0.5 * (k + k_tried)), curve.least)
        kept = np.minimum(reached, curve.most)
        here, k_here = suction_and_conductivity(kept, curve)
        # Where the cell holds the water table, only the part above it is unsaturated.
        rise = np.maximum(reached - potential, 1e-300)
        part = np.clip((curve.most - potential) / rise, 0.0, 1.0)
        slope = grid.step * (1.0 + drive / curve.saturated)
        here = np.where(reached >= curve.most, -(1.0 - part) * slope - 1e-12, here)
        here = np.where(s[i] <= 0.0, s[i] - slope, here)
        if dry_above is not None:
            here, kept = np.where(dry, s[i], here), np.where(dry, potential, kept)
            k_here = np.where(dry, k, k_here)
        s[i - 1], potential, k, through = here, kept, k_here, below
    return s, np.array(np.broadcast_to(through, shape))


def march_up(
    grid: Grid, bottom: int, top: int, *, suction: Array, drainage: Array, weight: Array
) -> Array:
    r"""Suction above a node with given suction, for flux that goes down.

    Parameters
    ----------
    grid : Grid
        The column.
    bottom, top : int
        Nodes between which to integrate.
    suction : ndarray, shape (...)
        Suction at the bottom node, negative below a water table [m].
    drainage : ndarray, shape (...)
        Flux, positive down [m d-1].
    weight : ndarray, shape (cells,)
        Share of `drainage` that passes each cell [1].

    Returns
    -------
    ndarray, shape (nodes, ...)
        Suction from the bottom node up [m].

    Notes
    -----
    As :func:`march_down`, by the exact solution for a conductivity that is linear in the potential
    over the step, since the profile is stiff near a water table.
    """
    shape = np.broadcast_shapes(suction.shape, drainage.shape)
    s = np.empty((top - bottom + 1, *shape))
    s[0] = suction
    curve = _curve(grid, bottom)
    potential = potential_at(s[0], curve)
    for i in range(top - bottom):
        cell = bottom + i
        if _curve(grid, cell) is not curve:
            curve = _curve(grid, cell)
            potential = potential_at(s[i], curve)
        _, k = suction_and_conductivity(potential, curve)
        nearby = np.maximum(potential * (1.0 - 1e-4), curve.least)
        _, k_nearby = suction_and_conductivity(nearby, curve)
        slope = (k - k_nearby) / np.maximum(potential - nearby, 1e-300)
        down = drainage * weight[cell] / grid.share[cell]
        wet = s[i] < 0.0
        gradient = 1.0 - down / curve.saturated
        to_table = grid.step + s[i] / np.maximum(gradient, 1e-9)
        above = np.where(
            wet, np.where(gradient > 0.0, np.clip(to_table, 0.0, grid.step), 0.0), grid.step
        )
        potential = np.clip(
            potential + (down - k) * -np.expm1(-above * slope) / np.maximum(slope, 1e-12),
            curve.least,
            curve.most,
        )
        here, _ = suction_and_conductivity(potential, curve)
        still = wet & (s[i] + grid.step * gradient < 0.0)
        full = np.minimum(grid.step * gradient, 0.0)
        here = np.where(potential >= curve.most, np.where(wet, 0.0, full), here)
        s[i + 1] = np.where(still, s[i] + grid.step * gradient, here)
        potential = np.where(s[i + 1] < 0.0, curve.most, potential)
    return s


def _curve(grid: Grid, cell: int) -> Curve:
    return curve_of(grid.wick_mix if grid.wick[cell] else grid.top_mix)
