"""The lower store of mix water: from the foot of the mix up to the split.

For every level of the open water its profiles form one curve over the water they hold: from a
wetting front that has just left the water, through steady rise, rest, to drainage.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bedtide.profile.functionals import ROWS, UPTAKE_ROWS, Reader, reader, readings_of
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


def transformed(suction: Array) -> Array:
    """Suction [m] on the scale of the tables, fine near zero."""
    return np.arcsinh(suction / SCALE)


def lower_store(grid: Grid, levels: Array, *, nodes: int) -> Lower:
    """Curves of the lower store for every level of open water.

    Parameters
    ----------
    grid : Grid
        The column.
    levels : ndarray, shape (levels,)
        Levels of the open water, rising; the first is that of a store without usable water [m].
    nodes : int
        Number of water contents to tabulate.

    Returns
    -------
    Lower
        The tables.
    """
    zone = reader(grid, 0, grid.split)
    steady = _Steady(grid, zone)
    front = _Fronts(grid, zone)
    rest = grid.node[: grid.split + 1, None]
    full = saturated_water(grid, 0, grid.split)
    suctions = np.concatenate([np.linspace(0.0, 1.0, 60), np.geomspace(1.05, steady.driest, 30)])
    hanging = suctions[None, :] + rest - grid.foot
    hanging_water = mix_water(hanging, grid, 0)
    water = np.linspace(min(hanging_water.min(), steady.water.min()), full, nodes)

    table = np.empty((2 + ROWS, levels.size, nodes))
    outlet = [_drained_to(level, grid, top=i == levels.size - 1) for i, level in enumerate(levels)]
    drain = _drainage(grid, np.array(outlet), zone)
    for j, level in enumerate(levels):
        wet, rows = steady.at(level)
        front_water, front_rows = front.at(level, above=rows[FLUX, 0], below=wet[0])
        drain_water, drain_rows = (part[..., j] for part in drain)
        stores = np.concatenate([front_water, wet, drain_water])
        values = np.concatenate([front_rows, rows, drain_rows], axis=1)
        table[:, j] = _on(water, stores, values)
    if grid.cap >= grid.full:
        _close_full(table[:, -1], water, grid, levels[-1])
    # Without usable water nothing rises, and what hangs in the mix is at rest.
    table[FLUX, 0] = np.minimum(table[FLUX, 0], 0.0)

    fluxes, empty = steady.hanging(water)
    at_rest = readings_of(hanging, grid, zone)
    alone = _on(water, hanging_water[::-1], at_rest[:, ::-1])
    empty[2:][UPTAKE_ROWS] = np.minimum(empty[2:][UPTAKE_ROWS], alone[UPTAKE_ROWS][:, :, None])
    return Lower(water, table, fluxes, empty)


class _Steady:
    """Steady rise to the split, by suction there and flux, whatever the level that results."""

    def __init__(self, grid: Grid, zone: Reader) -> None:
        self.grid = grid
        self.driest = grid.roots.h4 * _DRY
        deepest = grid.surface - grid.node[grid.split]
        self.suction = np.concatenate(
            [
                np.linspace(-deepest, 0.0, 8)[:-1],
                np.linspace(0.0, 1.0, 48),
                np.geomspace(1.06, self.driest, 18),
            ]
        )
        self.flux = np.concatenate([[0.0], np.geomspace(1e-5, 0.6, 40)])
        # The lower roots take their share on the way: what passes a node is what roots above use.
        density = root_density(grid, grid.roots_from) * grid.step
        above = 1.0 - np.concatenate([[0.0], np.cumsum(density)])
        self.passing = above / above[grid.split]
        suction, _ = march_down(
            grid,
            grid.split,
            0,
            suction=self.suction[:, None],
            flux=lambda cell, s, q: self.flux[None, :] * self.passing[cell],
            start=self.flux[None, :],
        )
        self.water = mix_water(suction, grid, 0)
        self.level = water_table(suction, grid)
        self.readings = readings_of(suction, grid, zone)

    def at(self, level: float) -> tuple[Array, Array]:
        """Water and rows of the profiles over one level, from the driest to the one at rest."""
        kept = self.suction >= self.grid.node[self.grid.split] - level - 1e-9
        count = int(kept.sum())
        water, rows = np.empty(count), np.empty((2 + ROWS, count))
        passing = np.interp(level, self.grid.node, self.passing)
        # From the driest: the last suctions first.
        for to, i in enumerate(np.flatnonzero(kept)[::-1]):
            order = np.argsort(self.level[i], kind="stable")
            heights = self.level[i, order]
            water[to] = np.interp(level, heights, self.water[i, order])
            rows[FLUX, to] = passing * np.interp(level, heights, self.flux[order])
            rows[SUCTION, to] = np.arcsinh(self.suction[i] / SCALE)
            for row in range(ROWS):
                rows[2 + row, to] = np.interp(level, heights, self.readings[row, i, order])
        return water, rows

    def hanging(self, water: Array) -> tuple[Array, Array]:
        """Rows by water and by flux through the split, no water below.

        The flux grows from nothing at the floor to its full size at the split, so that a profile
        with half of it all the way stands for it.
        """
        table = np.empty((2 + ROWS, water.size, self.flux.size))
        for b in range(self.flux.size):
            order = np.argsort(self.water[:, b], kind="stable")
            stores = self.water[order, b]
            table[FLUX, :, b] = 0.0
            table[SUCTION, :, b] = np.interp(water, stores, np.arcsinh(self.suction[order] / SCALE))
            for row in range(ROWS):
                table[2 + row, :, b] = np.interp(water, stores, self.readings[row, order, b])
        return 2.0 * self.flux, table


class _Fronts:
    """Water on its way into dry mix: flux falling to nothing at a front, dry above it."""

    def __init__(self, grid: Grid, zone: Reader) -> None:
        self.grid = grid
        foot, split = grid.foot, grid.node[grid.split]
        self.front = foot + (split - foot) * np.linspace(1.0, 0.02, _FRONTS)
        self.flux = np.geomspace(1e-4, 3.0, 44)
        driest = grid.roots.h4 * _DRY
        reach = self.front[:, None] - foot

        def falling(cell: int, suction: Array, above: Array) -> Array:
            share = np.clip((self.front[:, None] - grid.node[cell]) / reach, 0.0, 1.0)
            return self.flux[None, :] * share

        suction, _ = march_down(
            grid,
            grid.split,
            0,
            suction=np.full((_FRONTS, 1), driest),
            flux=falling,
            dry_above=self.front[:, None],
        )
        self.water = mix_water(suction, grid, 0)
        self.level = water_table(suction, grid)
        self.readings = readings_of(suction, grid, zone)
        self.suction = np.arcsinh(driest / SCALE)

    def at(self, level: float, *, above: float, below: float) -> tuple[Array, Array]:
        """Water and rows over one level, faster than `above` [m d-1], drier than `below` [m]."""
        foot = self.grid.foot
        water, rows = [], []
        for a, front in enumerate(self.front):
            order = np.argsort(self.level[a], kind="stable")
            heights = self.level[a, order]
            if level > front - 0.01 or heights[-1] <= level or heights[0] >= level:
                continue
            store = np.interp(level, heights, self.water[a, order])
            at_foot = np.interp(level, heights, self.flux[order])
            rise = at_foot * (front - level) / (front - foot)
            if store < below - 1e-5 and rise > above:
                readings = [np.interp(level, heights, row[a, order]) for row in self.readings]
                water.append(store)
                rows.append([rise, self.suction, *readings])
        if not water:
            return np.empty(0), np.empty((2 + ROWS, 0))
        order = np.argsort(water)
        return np.array(water)[order], np.array(rows).T[:, order]


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


def _drained_to(level: float, grid: Grid, *, top: bool) -> float:
    """Level to which the mix drains: the open water, or the lip where that is higher."""
    if top and grid.cap >= grid.full and np.isfinite(grid.lip):
        return max(level, grid.lip)
    return level


def _drainage(grid: Grid, levels: Array, zone: Reader) -> tuple[Array, Array]:
    """Water (fluxes, levels) and rows (rows, fluxes, levels) of drainage down to each level."""
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
    head = np.stack([np.broadcast_to(-flux, water.shape), np.arcsinh(suction[-1] / SCALE)])
    return water, np.concatenate([head, readings_of(suction, grid, zone)])


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
    return np.stack([np.interp(water, rising, row) for row in values])
