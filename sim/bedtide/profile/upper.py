"""The upper store of mix water: from the split up to the surface.

For every suction at the split its profiles form one curve over the water they hold: from roots
that drink all they are given, through rest, to drainage after rain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bedtide.crop import dry_factor
from bedtide.profile.functionals import Reading, between
from bedtide.profile.grid import Array, Grid, mix_water, root_density, saturated_water
from bedtide.profile.lower import SCALE
from bedtide.profile.march import march_down, march_up

_DEMAND = 0.003  # demand at which the family's own uptake falls with suction [m d-1]
_DRY = 0.999


@dataclass(frozen=True, eq=False)
class Upper:
    """Tables of the upper store.

    Attributes
    ----------
    suction : ndarray, shape (suctions,)
        Transformed suction at the split, evenly spaced.
    water : ndarray, shape (water,)
        Water in the upper store, evenly spaced [m].
    table : ndarray, shape (rows, suctions, water)
        Rows: flux through the split, positive up [m d-1], then the readings.
    """

    suction: Array
    water: Array
    table: Array


def upper_store(grid: Grid, *, suctions: int, nodes: int, reading: Reading) -> Upper:
    """Curves of the upper store for every suction at the split.

    Parameters
    ----------
    grid : Grid
        The column.
    suctions, nodes : int
        Number of suctions and of water contents to tabulate.
    reading : Reading
        What to read off the profiles.

    Returns
    -------
    Upper
        The tables.
    """
    cells, split = grid.share.size, grid.split
    height = grid.surface - grid.node[split]
    driest = grid.roots.h4 * _DRY
    axis = np.linspace(np.arcsinh(-height / SCALE), np.arcsinh(driest / SCALE), suctions)

    at_split, flux, water, rows = _uptake_family(grid, driest, height, reading)
    drained = _drainage_family(grid, np.sinh(axis) * SCALE)
    drained_water = mix_water(drained[0], grid, split)
    drained_rows = reading.of(drained[0], split)

    dry = np.full((cells - split + 1, 1), driest)
    dry_water = float(mix_water(dry, grid, split)[0])
    dry_rows = reading.of(dry, split)[:, 0]
    full = saturated_water(grid, split, cells)
    even = np.linspace(min(dry_water, float(water.min())), full, nodes)

    # Along the suction at the split, for every demand of the family.
    demands = flux.shape[1]
    on_axis = np.empty((2 + reading.count, suctions, demands))
    for b in range(demands):
        order = np.argsort(at_split[:, b], kind="stable")
        values = np.vstack([water[order, b], flux[order, b], rows[:, order, b]])
        on_axis[:, :, b] = between(axis, np.arcsinh(at_split[order, b] / SCALE), values)

    table = np.empty((1 + reading.count, suctions, nodes))
    for j in range(suctions):
        stores = np.concatenate(
            [[dry_water], np.maximum(on_axis[0, j, ::-1], dry_water), drained_water[:, j]]
        )
        rising = np.maximum.accumulate(stores + 1e-13 * np.arange(stores.size))
        driest_rows = np.concatenate([[on_axis[1, j, -1]], dry_rows])[:, None]
        draining = np.vstack([-drained[1], drained_rows[:, :, j]])
        values = np.concatenate([driest_rows, on_axis[1:, j, ::-1], draining], axis=1)
        table[:, j] = between(even, rising, values)
    return Upper(axis, even, table)


def _uptake_family(
    grid: Grid, driest: float, height: float, reading: Reading
) -> tuple[Array, Array, Array, Array]:
    r"""Profiles with uptake that falls with the local suction, by start and demand.

    The start is the suction at the surface or, once that is as dry as roots can make it, the
    height under which there is still water to drink.

    Notes
    -----
    :math:`dq/dz = -T_p \, g(z) \, a(s)`, with :math:`q = 0` at the surface: whatever the demand,
    the flux ends there. The factor :math:`a` is that of :func:`bedtide.crop.dry_factor`.
    """
    cells, split = grid.share.size, grid.split
    surface = np.concatenate(
        [
            np.linspace(-height, 0.0, 8)[:-1],
            np.linspace(0.0, 1.0, 44),
            np.geomspace(1.06, driest, 20),
        ]
    )
    dried = grid.node[split] + height * np.linspace(1.0, 0.02, 24)
    start = np.concatenate([surface, np.full(dried.size, driest)])[:, None]
    dry_above = np.concatenate([np.full(surface.size, grid.surface + 1.0), dried])[:, None]
    demand = np.concatenate([[0.0], np.geomspace(1e-5, 1.0, 40)])[None, :]
    density = root_density(grid, grid.roots_from) * grid.step
    roots = grid.roots

    def drinking(cell: int, suction: Array, above: Array) -> Array:
        met = dry_factor(
            suction, h3_high=roots.h3_high, h3_low=roots.h3_low, h4=roots.h4, demand=_DEMAND
        )
        return above + demand * density[cell] * met

    suction, flux = march_down(
        grid, cells, split, suction=start, flux=drinking, dry_above=dry_above
    )
    return suction[0], flux, mix_water(suction, grid, split), reading.of(suction, split)


def _drainage_family(grid: Grid, suction: Array) -> tuple[Array, Array]:
    """Profiles that drain, (nodes, fluxes, suctions) [m], and their fluxes through the split.

    The flux grows from nothing at the surface: the whole height gives water at one rate.
    """
    cells, split = grid.share.size, grid.split
    flux = np.geomspace(1e-5, 0.999 * grid.top_mix.k_s, 44)
    weight = np.zeros(cells)
    centre = grid.centre[split:]
    weight[split:] = (grid.surface - centre) / (grid.surface - grid.node[split])
    profile = march_up(
        grid, split, cells, suction=suction[None, :], drainage=flux[:, None], weight=weight
    )
    return profile, flux
