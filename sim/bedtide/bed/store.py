"""The open-water store: how much stands below a level, and which level belongs to how much."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from bedtide.bed.circle import segment_area, segment_depth
from bedtide.bed.forms import Pipes, crown_height, plan_area, wick_foot

if TYPE_CHECKING:
    from bedtide.bed.description import Bed


def open_store(level: ArrayLike, bed: Bed) -> Any:
    r"""Open water in the reservoir at a water level, per plan area.

    Answers: how much can be drawn from the reservoir when the water stands this high.

    Parameters
    ----------
    level : array_like of float, shape (...)
        Height of the water above the floor [m]; infinite is allowed.
    bed : Bed
        The bed.

    Returns
    -------
    float or ndarray, shape (...)
        Depth of water over the plan area [m].

    Notes
    -----
    :math:`R(h) = \int_0^h f_v \, dz` in closed form: circle segments for pipes, straight lines
    for layers (see ``docs/physics/geometry.md``).
    """
    h = np.asarray(level, dtype=np.float64)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        wall = 0.5 * (reservoir.outside - reservoir.inside)
        area = segment_area(h - wall, 0.5 * reservoir.inside)
        return (area * (reservoir.count * reservoir.run / plan_area(bed)))[()]
    heights, stores = _corners(bed)
    return np.interp(h, heights, stores)[()]


def level_of(store: ArrayLike, bed: Bed) -> Any:
    r"""Water level at which the reservoir holds a given store: the inverse of `open_store`.

    Answers: how high does the water stand.

    Parameters
    ----------
    store : array_like of float, shape (...)
        Depth of open water over the plan area [m], held within zero and the full reservoir.
    bed : Bed
        The bed.

    Returns
    -------
    float or ndarray, shape (...)
        Height above the floor [m]. The lowest point of the void for an empty store, its highest
        for a full one; where the water stands beyond these, the store can't tell.

    Notes
    -----
    Pipes: Newton's method on the angle of the segment, right to rounding. Layers: straight lines.
    """
    r = np.asarray(store, dtype=np.float64)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        wall = 0.5 * (reservoir.outside - reservoir.inside)
        per_run = r * (plan_area(bed) / (reservoir.count * reservoir.run))
        return (wall + segment_depth(per_run, 0.5 * reservoir.inside))[()]
    heights, stores = _corners(bed)
    return np.interp(r, stores, heights)[()]


def capacity(bed: Bed, lip: ArrayLike) -> Any:
    """Open water that the reservoir holds with the overflow's lip at a height, per plan area.

    Parameters
    ----------
    bed : Bed
        The bed.
    lip : array_like of float, shape (...)
        Height of the lip above the floor [m]; infinite where nothing lets water out.

    Returns
    -------
    float or ndarray, shape (...)
        Depth of water over the plan area [m]; the full reservoir for a lip above its crown.
    """
    return open_store(lip, bed)


def dead_storage(bed: Bed) -> float:
    """Open water below what the mix reaches, per plan area: it is never drawn up.

    Answers: how much of the water is of no use to the plants.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Depth of water over the plan area [m]; zero for pipes with mix between them. A lip below
        the foot of the mix leaves the reservoir less than that.
    """
    return float(open_store(wick_foot(bed), bed))


def mix_below(height: ArrayLike, bed: Bed) -> Any:
    r"""Mix below a height, its volume over the plan area.

    Answers: how much mix to fill in up to here.

    Parameters
    ----------
    height : array_like of float, shape (...)
        Height above the floor [m], not above the mix surface.
    bed : Bed
        The bed.

    Returns
    -------
    float or ndarray, shape (...)
        Depth of mix over the plan area [m].

    Notes
    -----
    :math:`\int_0^z f_m \, dz` in closed form.
    """
    z = np.maximum(np.asarray(height, dtype=np.float64), 0.0)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        area = segment_area(z, 0.5 * reservoir.outside)
        return (z - area * (reservoir.count * reservoir.run / plan_area(bed)))[()]
    crown = crown_height(bed)
    legs = reservoir.wick_share * np.clip(z - wick_foot(bed), 0.0, crown - wick_foot(bed))
    return (legs + np.maximum(z - crown, 0.0))[()]


def _corners(bed: Bed) -> tuple[list[float], list[float]]:
    """Heights [m] and stores [m] between which a layer's store is a straight line."""
    layer = bed.reservoir
    assert not isinstance(layer, Pipes)
    foot = wick_foot(bed)
    below = layer.void_share * foot
    beside = layer.void_share * (1.0 - layer.wick_share) * (layer.height - foot)
    if foot <= 0.0:
        return [0.0, layer.height], [0.0, beside]
    if foot >= layer.height:
        return [0.0, layer.height], [0.0, below]
    return [0.0, foot, layer.height], [0.0, below, below + beside]
