"""The lower store of mix water: from the foot of the mix up to the split.

For every level of the open water its profiles form one curve over the water they hold: from a
wetting front that has just left the water, through steady rise, rest, to drainage.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from bedtide.profile.drying import drying_profiles
from bedtide.profile.functionals import Reading, between
from bedtide.profile.grid import Array, Grid, mix_water, root_density, saturated_water
from bedtide.profile.march import march_down, march_up

FLUX, SUCTION = 0, 1
"""First rows of the tables: rise out of the open water [m d-1], suction at the split [asinh]."""

SCALE = 0.03
"""Suction below which the transformed suction is linear [m]."""

_FRONTS = 24
_DRY = 0.999  # of the suction at which uptake ends: as dry as the tables go


@dataclass(frozen=True, eq=False)
class Lower:
    """Tables of the lower store.

    Attributes
    ----------
    water : ndarray, shape (water,)
        Water in the lower store, evenly spaced [m].
    by_level : ndarray, shape (rows, levels, water)
        Rows: rise [m d-1], transformed suction at the split, then the readings.
    fluxes : ndarray, shape (fluxes,)
        Flux through the split while the store below is empty [m d-1].
    empty : ndarray, shape (rows, water, fluxes)
        The same rows with no water below, by what leaves upward.
    """

    water: Array
    by_level: Array
    fluxes: Array
    empty: Array


def lower_store(grid: Grid, levels: Array, *, nodes: int, reading: Reading) -> Lower:
    """Curves of the lower store for every level of open water.

    Parameters
    ----------
    grid : Grid
        The column.
    levels : ndarray, shape (levels,)
        Levels of the open water, rising; the first is that of a store without usable water [m].
    nodes : int
        Number of water contents to tabulate.
    reading : Reading
        What to read off the profiles.

    Returns
    -------
    Lower
        The tables.
    """
    driest = grid.roots.h4 * _DRY
    steady, fronts = _steady(grid, reading, driest), _fronts(grid, reading, driest)
    drying = drying_profiles(grid, driest)
    drying_water = mix_water(drying, grid, 0)
    least = min(drying_water.min(), steady.water.min())
    water = np.linspace(least, saturated_water(grid, 0, grid.split), nodes)

    rising, entering = _over(levels, steady), _over(levels, fronts)
    drained = _drainage(grid, _drained_to(levels, grid), reading)
    table = np.empty((2 + reading.count, levels.size, nodes))
    for j, level in enumerate(levels):
        curve = _joined(
            _rising(rising[..., j], level, steady, grid),
            _entering(entering[..., j], level, fronts, grid),
            drained[..., j],
        )
        table[:, j] = _on(water, curve[0], curve[1:])
    if grid.cap >= grid.full:
        _close_full(table[:, -1], water, grid, levels[-1])
    # Without usable water nothing rises, and what hangs in the mix is at rest.
    table[FLUX, 0] = np.minimum(table[FLUX, 0], 0.0)

    empty = _without_water(water, steady)
    order = np.argsort(drying_water, kind="stable")
    alone = _on(water, drying_water[order], reading.of(drying, 0)[:, order])
    met = empty[2:][reading.met]
    empty[2:][reading.met] = np.minimum(met, alone[reading.met][:, :, None])
    return Lower(water, table, 2.0 * steady.flux, empty)


class _Family(NamedTuple):
    """Profiles by what they have at the top and by their flux, whatever level that needs.

    Attributes
    ----------
    top : ndarray, shape (tops,)
        Suction at the split, or height of the front [m].
    flux : ndarray, shape (fluxes,)
        Flux through the split, or at the foot of the mix [m d-1].
    level, water : ndarray, shape (tops, fluxes)
        Level of free water that the profile stands over, and water that it holds [m].
    readings : ndarray, shape (rows, tops, fluxes)
        Readings.
    """

    top: Array
    flux: Array
    level: Array
    water: Array
    readings: Array


def _steady(grid: Grid, reading: Reading, driest: float) -> _Family:
    """Steady rise to the split, by suction there and flux."""
    deepest = grid.surface - grid.node[grid.split]
    top = np.concatenate(
        [
            np.linspace(-deepest, 0.0, 8)[:-1],
            np.linspace(0.0, 1.0, 48),
            np.geomspace(1.06, driest, 18),
        ]
    )
    flux = np.concatenate([[0.0], np.geomspace(1e-5, 0.6, 40)])
    passing = _passing(grid)
    suction, _ = march_down(
        grid,
        grid.split,
        0,
        suction=top[:, None],
        flux=lambda cell, suction, above: flux[None, :] * passing[cell],
        start=flux[None, :],
    )
    return _Family(
        top, flux, water_table(suction, grid), mix_water(suction, grid, 0), reading.of(suction, 0)
    )


def _passing(grid: Grid) -> Array:
    """Flux through each node over that through the split: the lower roots drink on the way [1]."""
    density = root_density(grid, grid.roots_from) * grid.step
    above = 1.0 - np.concatenate([[0.0], np.cumsum(density)])
    return np.asarray(above / above[grid.split])


def _fronts(grid: Grid, reading: Reading, driest: float) -> _Family:
    """Water on its way into dry mix: flux falling to nothing at a front, dry above it."""
    foot, split = grid.foot, grid.node[grid.split]
    front = foot + (split - foot) * np.linspace(1.0, 0.02, _FRONTS)
    flux = np.geomspace(1e-4, 3.0, 44)
    reach = front[:, None] - foot

    def falling(cell: int, suction: Array, above: Array) -> Array:
        share = np.clip((front[:, None] - grid.node[cell]) / reach, 0.0, 1.0)
        return flux[None, :] * share

    suction, _ = march_down(
        grid,
        grid.split,
        0,
        suction=np.full((_FRONTS, 1), driest),
        flux=falling,
        dry_above=front[:, None],
    )
    return _Family(
        front, flux, water_table(suction, grid), mix_water(suction, grid, 0), reading.of(suction, 0)
    )


def _over(levels: Array, family: _Family) -> Array:
    """Profiles of a family that stand over each level, (tops, water and flux and rows, levels)."""
    found = []
    for a in range(family.top.size):
        order = np.argsort(family.level[a], kind="stable")
        height = family.level[a, order]
        values = np.vstack(
            [family.water[a, order], family.flux[order], family.readings[:, a, order]]
        )
        found.append(between(levels, height, values))
    return np.stack(found)


def _rising(over: Array, level: float, steady: _Family, grid: Grid) -> Array:
    """Curve of steady rise over one level, (water, flux, suction, rows) from dry to at rest."""
    kept = np.flatnonzero(steady.top >= grid.node[grid.split] - level - 1e-9)[::-1]
    water, flux, rows = over[kept, 0], over[kept, 1], over[kept, 2:].T
    rise = flux * np.interp(level, grid.node, _passing(grid))
    return np.vstack([water, rise, np.arcsinh(steady.top[kept] / SCALE), rows])


def _entering(over: Array, level: float, fronts: _Family, grid: Grid) -> Array:
    """Curve of wetting fronts over one level, as :func:`_rising`, from the lowest front up."""
    low, high = fronts.level.min(axis=1), fronts.level.max(axis=1)
    kept = np.flatnonzero((fronts.top >= level + 0.01) & (low < level) & (level < high))
    front = fronts.top[kept]
    rise = over[kept, 1] * (front - level) / (front - grid.foot)
    dry = np.full(kept.size, np.arcsinh(grid.roots.h4 * _DRY / SCALE))
    curve = np.vstack([over[kept, 0], rise, dry, over[kept, 2:].T])
    return curve[:, np.argsort(curve[0], kind="stable")]


def _joined(rising: Array, entering: Array, draining: Array) -> Array:
    """One curve over the water held: fronts drier and faster than any steady rise come first."""
    faster = (entering[0] < rising[0, 0] - 1e-5) & (entering[1] > rising[1, 0])
    return np.concatenate([entering[:, faster], rising, draining], axis=1)


def _without_water(water: Array, steady: _Family) -> Array:
    """Rows (rows, water, fluxes) by what leaves through the split, no water below.

    The flux grows from nothing at the floor to its full size at the split, so that a profile with
    half of it all the way stands for it.
    """
    table = np.zeros((2 + steady.readings.shape[0], water.size, steady.flux.size))
    for b in range(steady.flux.size):
        order = np.argsort(steady.water[:, b], kind="stable")
        suction = np.arcsinh(steady.top[order] / SCALE)
        values = np.vstack([suction, steady.readings[:, order, b]])
        table[SUCTION:, :, b] = between(water, steady.water[order, b], values)
    return table


def water_table(suction: Array, grid: Grid) -> Array:
    """Height at which suction passes zero, going up from the foot; beyond the zone, its trend."""
    nodes = suction.shape[0]
    wet = (suction <= 0.0).sum(axis=0)
    upper = np.clip(wet, 1, nodes - 1)
    low = np.take_along_axis(suction, (upper - 1)[None], 0)[0]
    high = np.take_along_axis(suction, upper[None], 0)[0]
    between = grid.node[upper - 1] - grid.step * low / (high - low)
    hanging = grid.foot - suction[0]
    drowned = grid.node[nodes - 1] - suction[-1]
    return np.where(wet == 0, hanging, np.where(wet == nodes, drowned, between))


def _drained_to(levels: Array, grid: Grid) -> Array:
    """Level to which the mix drains: the open water, or the lip where a full one lies lower."""
    drained = levels.copy()
    if grid.cap >= grid.full and np.isfinite(grid.lip):
        drained[-1] = max(levels[-1], grid.lip)
    return drained


def _drainage(grid: Grid, levels: Array, reading: Reading) -> Array:
    """Curves of drainage down to each level, (water, flux, suction, rows; fluxes; levels)."""
    narrowest = grid.share[: grid.split].min()
    flux = np.geomspace(1e-5, 0.999 * narrowest * grid.wick_mix.k_s, 44)[:, None]
    suction = march_up(
        grid,
        0,
        grid.split,
        suction=(grid.foot - levels)[None, :],
        drainage=flux,
        weight=np.ones(grid.share.size),
    )
    water = mix_water(suction, grid, 0)
    at_split = np.arcsinh(suction[-1] / SCALE)
    head = np.stack([water, np.broadcast_to(-flux, water.shape), at_split])
    return np.concatenate([head, reading.of(suction, 0)])


def _close_full(rows: Array, water: Array, grid: Grid, crown: float) -> None:
    """Mend the curve of a full reservoir: its level stands in the mix, and nothing fits below.

    Between the crown and the lip the water is at rest; above the lip it leaves by the overflow;
    without an outlet it stays.
    """
    levels = np.linspace(crown, grid.node[grid.split], 60)
    at_rest = grid.node[: grid.split + 1, None] - levels[None, :]
    stores = mix_water(at_rest, grid, 0)
    standing = water >= stores[0]
    lip = grid.lip if np.isfinite(grid.lip) else np.inf
    kept = standing & (water <= np.interp(min(lip, levels[-1]), levels, stores))
    if not np.isfinite(lip):
        kept = standing
    rows[FLUX, kept] = 0.0
    level = np.interp(water[kept], stores, levels)
    rows[SUCTION, kept] = np.arcsinh((grid.node[grid.split] - level) / SCALE)


def _on(water: Array, stores: Array, values: Array) -> Array:
    """Rows (rows, points) over rising stores, on the even axis."""
    rising = np.maximum.accumulate(stores + 1e-13 * np.arange(stores.size))
    return between(water, rising, values)
