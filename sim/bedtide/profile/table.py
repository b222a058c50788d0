"""All that the daily balance looks up for one bed, made once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed, Overflow, Site, Surface, Watering, lip_on
from bedtide.crop import total_evaporable_water
from bedtide.mix import water_content
from bedtide.profile import functionals as rows
from bedtide.profile.exchange import Stores, joined, readings_at, relaxed
from bedtide.profile.functionals import DEMANDS, ROOTING
from bedtide.profile.grid import Array, Grid, Roots, grid_of, level_in, mix_water
from bedtide.profile.lower import lower_store
from bedtide.profile.upper import upper_store

LEVELS, LOWER, UPPER = 24, 32, 40
"""Nodes of the tables: open water, lower and upper mix."""

_DRIEST = 300.0  # suction at the surface at most [m]
_FINE_LOWER, _FINE_UPPER, _SUCTIONS = 64, 72, 64

Pairs = NDArray[np.complex64]


@dataclass(frozen=True, eq=False)
class BedTables:
    """Exchange and readings of one bed on an even grid of its three stores.

    Pairs of numbers that are always wanted together are kept as one complex number, so that one
    look-up brings both.

    Attributes
    ----------
    grid : Grid
        The column.
    lower_bounds, upper_bounds : tuple of float
        Least and most water in the two stores of the mix [m].
    exchange : ndarray of complex, shape (levels, lower, upper)
        Rise and climb over half a day [m].
    uptake : ndarray of complex, shape (rooting, demands, levels, lower, upper)
        Share of the plants' need met from the lower and from the upper mix, after half a day [1].
    depletion : ndarray, shape (levels, lower, upper)
        Most that the surface layer can lack, after half a day [m].
    air : ndarray of complex, shape (rooting, levels, lower, upper)
        Air in the root zone and in the top layer [m3 m-3].
    edge : ndarray of complex, shape (levels, lower, upper)
        Depth down to which there is air [m], and water content at the surface [m3 m-3].
    store, level : ndarray, shape (points,)
        Open water [m] and the level that belongs to it [m].
    standing, standing_level : ndarray, shape (points,)
        Water in the mix at rest [m] over levels above the crown [m].
    content, suction : ndarray, shape (points,)
        Water content of the top mix, rising [m3 m-3], and the suction that belongs to it [m].
    total_evaporable : float
        What the surface layer can lose by evaporation [m].
    passing : float
        Flux that the saturated column lets through under its own weight [m d-1].
    """

    grid: Grid
    lower_bounds: tuple[float, float]
    upper_bounds: tuple[float, float]
    exchange: Pairs
    uptake: Pairs
    depletion: NDArray[np.float32]
    air: Pairs
    edge: Pairs
    store: Array
    level: Array
    standing: Array
    standing_level: Array
    content: Array
    suction: Array
    total_evaporable: float
    passing: float


def roots_of(bed: Bed) -> Roots:
    """The plants of a bed as the tables see them.

    Parameters
    ----------
    bed : Bed
        Its plantings.

    Returns
    -------
    Roots
        The deepest roots; suction limits weighted by area and length of the season. Bare mix
        is given shallow roots, through which its evaporation is drawn.
    """
    if not bed.plantings:
        return Roots()
    weight = np.array([p.area_share * sum(p.stages or p.crop.stages) for p in bed.plantings])
    weight = weight / weight.sum()

    def mean(name: str) -> float:
        values = np.array([getattr(p.crop, name) for p in bed.plantings])
        return float(np.round(weight @ values, 6))

    depth = max(p.crop.root_depth for p in bed.plantings)
    return Roots(depth, mean("h3_high"), mean("h3_low"), mean("h4"))


def bed_tables(bed: Bed, lip: float | None = None) -> BedTables:
    """Tables of one bed with one height of the overflow's lip.

    Answers: from any state of the bed, what moves in half a day and what the roots find.

    Parameters
    ----------
    bed : Bed
        Its box, reservoir, mixes, overflow and plantings.
    lip : float, optional
        Height of the lip [m], infinite where nothing lets water out; if left out, the height
        that the overflow itself names.

    Returns
    -------
    BedTables
        Made in about 0.2 s, then kept for every bed that shares these measures.
    """
    if lip is None:
        first = np.array(["2000-01-01"], dtype="datetime64[D]")
        lip = float(lip_on(first, replace(bed.overflow, changes=()))[0])
    return _tables(_stripped(bed), float(lip), roots_of(bed), _highest_lip(bed))


def _column(bed: Bed, lip: float) -> tuple[Grid, Bed]:
    """The column of a bed, and the bed without what the column does not look at."""
    stripped = _stripped(bed)
    return grid_of(stripped, lip, roots=roots_of(bed), highest_lip=_highest_lip(bed)), stripped


def _highest_lip(bed: Bed) -> float:
    """Highest lip of the year [m], blocked or not: the roots do not move when the outlet clogs."""
    heights = [bed.overflow.height, *(change.height for change in bed.overflow.changes)]
    return max((height for height in heights if height is not None), default=0.0)


def _stripped(bed: Bed) -> Bed:
    """The bed with only its box, reservoir and mixes: beds that share them share their tables."""
    return replace(
        bed,
        name="",
        overflow=Overflow(None, state="none"),
        surface=Surface(),
        plantings=(),
        watering=Watering("never"),
        site=Site(),
        start_level=1.0,
        description="",
    )


@lru_cache(maxsize=512)
def _tables(bed: Bed, lip: float, roots: Roots, highest_lip: float) -> BedTables:
    return tables_of(grid_of(bed, lip, roots=roots, highest_lip=highest_lip), bed)


def _open_water(grid: Grid, levels: int) -> Array:
    """Stores of open water on the axis of levels [m]."""
    return grid.dead + np.linspace(0.0, 1.0, levels) ** 2 * max(grid.cap - grid.dead, 0.0)


def _stores(grid: Grid, bed: Bed, reading: rows.Reading, open_water: Array) -> Stores:
    """The joined curves of both mix stores."""
    levels = np.maximum(level_in(open_water, bed), grid.foot)
    lower = lower_store(grid, levels, nodes=_FINE_LOWER, reading=reading)
    upper = upper_store(grid, suctions=_SUCTIONS, nodes=_FINE_UPPER, reading=reading)
    rest = grid.node[: grid.split + 1, None] - levels[0]
    return joined(grid, lower, upper, hanging=float(mix_water(rest, grid, 0)[0]))


def tables_of(
    grid: Grid, bed: Bed, *, nodes: tuple[int, int, int] = (LEVELS, LOWER, UPPER)
) -> BedTables:
    """Tables of a column.

    Parameters
    ----------
    grid : Grid
        The column.
    bed : Bed
        The bed that it was cut from.
    nodes : tuple of int
        Levels, lower and upper water contents to tabulate.

    Returns
    -------
    BedTables
        The tables.
    """
    open_water = _open_water(grid, nodes[0])
    stores = _stores(grid, bed, rows.tabulated(grid), open_water)
    lower, upper = stores.lower, stores.upper
    axes = np.meshgrid(
        open_water,
        np.linspace(lower.water[0], lower.water[-1], nodes[1]),
        np.linspace(upper.water[0], upper.water[-1], nodes[2]),
        indexing="ij",
    )
    rise, climb = relaxed(stores, *axes)
    at_noon = (
        np.minimum(axes[0] - rise, grid.cap),
        axes[1] + rise - climb,
        axes[2] + climb,
    )
    uptake, depletion = _for_plants(readings_at(stores, *at_noon), grid)
    air, edge = _for_people(readings_at(stores, *axes), grid)
    store = grid.full * np.linspace(0.0, 1.0, 400) ** 2
    standing_level = np.linspace(grid.crown, grid.surface, 60)
    at_rest = grid.node[:, None] - standing_level[None, :]
    suction = np.append(np.geomspace(_DRIEST, 1e-3, 300), 0.0)
    return BedTables(
        grid=grid,
        lower_bounds=(float(lower.water[0]), float(lower.water[-1])),
        upper_bounds=(float(upper.water[0]), float(upper.water[-1])),
        exchange=_pairs(rise, climb),
        uptake=uptake,
        depletion=depletion,
        air=air,
        edge=edge,
        store=store,
        level=level_in(store, bed),
        standing=mix_water(at_rest, grid, 0),
        standing_level=standing_level,
        content=water_content(suction, grid.top_mix),
        suction=suction,
        total_evaporable=_evaporable(grid),
        passing=_passing(grid),
    )


def air_profile(bed: Bed, *, lip: float, stores: Array, slices: int = 24) -> tuple[Array, Array]:
    """Air share by height for states of a bed, for pictures of height against time.

    Parameters
    ----------
    bed : Bed
        As for :func:`bed_tables`.
    lip : float
        Height of the overflow's lip [m]; infinite where nothing lets water out.
    stores : ndarray, shape (3, n)
        Open water, lower and upper mix water [m].
    slices : int, default 24
        Number of heights, even from the foot of the mix to its surface [1].

    Returns
    -------
    faces : ndarray, shape (slices + 1,)
        Heights of the faces of the slices above the floor [m].
    air : ndarray, shape (slices, n)
        Air-filled porosity, mean over each slice [m3 m-3].
    """
    grid, stripped = _column(bed, lip)
    faces = np.linspace(grid.foot, grid.surface, slices + 1)
    open_water = _open_water(grid, LEVELS)
    joint = _stores(grid, stripped, rows.sliced(grid, faces), open_water)
    held = readings_at(joint, *stores).sum(axis=0)
    inside = np.clip(
        np.minimum(grid.node[1:], faces[1:, None]) - np.maximum(grid.node[:-1], faces[:-1, None]),
        0.0,
        None,
    )
    return faces, np.maximum(held / (inside * grid.share).sum(axis=1)[:, None], 0.0)


def rest_state(tables: BedTables, open_water: Array | float) -> tuple[Array, Array]:
    """Water in the lower and the upper mix at rest over a store of open water.

    Parameters
    ----------
    tables : BedTables
        Tables of the bed.
    open_water : float or ndarray, shape (...)
        Open water [m].

    Returns
    -------
    lower, upper : ndarray, shape (...)
        Water in the two stores of the mix [m].
    """
    grid = tables.grid
    level = np.maximum(np.interp(open_water, tables.store, tables.level), grid.foot)
    suction = grid.node.reshape((-1,) + (1,) * np.ndim(level)) - level
    lower = mix_water(suction[: grid.split + 1], grid, 0)
    return lower, mix_water(suction[grid.split :], grid, grid.split)


def _for_plants(readings: Array, grid: Grid) -> tuple[Pairs, NDArray[np.float32]]:
    """Uptake met from each zone, and the depletion that the surface layer's air allows."""
    met = readings[:, rows.UPTAKE_ROWS]
    met = met.reshape(2, ROOTING.size, DEMANDS.size, *met.shape[2:])
    missing = readings[:, rows.AIR_SURFACE_ROW].sum(axis=0)
    mix = grid.top_mix
    held = float(water_content(rows.FIELD_SUCTION, mix))
    allowed = missing - (mix.theta_s - held) * rows.EVAPORATING_LAYER
    return _pairs(met[0], met[1]), np.maximum(allowed, 0.0).astype(np.float32)


def _for_people(readings: Array, grid: Grid) -> tuple[Pairs, Pairs]:
    """Air of root zone and top layer; depth of the airy layer and content at the surface.

    Not the suction there: between two nodes of the tables it can change a hundredfold.
    """
    volume = rows.layers(grid).sum(axis=1)
    air = readings.sum(axis=0)
    root = air[rows.AIR_ROOT_ROWS] / volume[1 : 1 + ROOTING.size].reshape(-1, 1, 1, 1)
    top = np.broadcast_to(air[rows.AIR_TOP_ROW] / volume[0], root.shape)
    split = grid.node[grid.split]
    low, high = readings[:, rows.AERATED_ROW]
    from_height = np.where(high <= split + 1e-6, low, high)
    return _pairs(root, top), _pairs(grid.surface - from_height, readings[1, rows.CONTENT_ROW])


def _evaporable(grid: Grid) -> float:
    """Total evaporable water of the surface layer [m], FAO-56 Eq. 73."""
    held = float(water_content(rows.FIELD_SUCTION, grid.top_mix))
    wilted = float(water_content(rows.WILTING_SUCTION, grid.top_mix))
    return float(total_evaporable_water(held, wilted, rows.EVAPORATING_LAYER))


def _passing(grid: Grid) -> float:
    """Downward flux through the saturated column, head falling by its height [m d-1]."""
    conductivity = np.where(grid.wick, grid.wick_mix.k_s, grid.top_mix.k_s)
    return float((grid.surface - grid.foot) / (grid.step / (grid.share * conductivity)).sum())


def _pairs(first: Array, second: Array) -> Pairs:
    """Two numbers as one complex number of single precision."""
    return (first + 1j * second).astype(np.complex64)
