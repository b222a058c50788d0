"""Reservoir forms, and what each leaves open and fills with mix at every height.

Heights run upward from the floor of the liner. A new form is one class here, one branch in each
function of this module and of ``store.py``, and one section in ``sections.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from bedtide.bed.circle import chord

if TYPE_CHECKING:
    from bedtide.bed.description import Bed


@dataclass(frozen=True)
class Pipes:
    """Round perforated pipes lying on the floor, mix packed between them down to the floor.

    Attributes
    ----------
    inside : float
        Inside diameter [m].
    outside : float
        Outside diameter [m].
    count : int
        Number of runs of pipe side by side [1].
    run : float
        Length of each run [m].
    """

    inside: float
    outside: float
    count: int
    run: float


@dataclass(frozen=True)
class Layer:
    """A reservoir of one height with legs or columns of mix through it.

    Attributes
    ----------
    height : float
        Height of the layer [m].
    void_share : float
        Share of the layer beside the legs that water can fill [1].
    wick_share : float
        Share of the plan area that is legs or columns of mix; zero where nothing wicks [1].
    wick_foot : float
        Height of the foot of the legs above the floor [m]; below it the layer has no mix.
    """

    height: float
    void_share: float
    wick_share: float
    wick_foot: float


@dataclass(frozen=True)
class Crates(Layer):
    """Void crates with legs of mix between them."""


@dataclass(frozen=True)
class FalseFloor(Layer):
    """A floor on supports with legs of mix through it."""


@dataclass(frozen=True)
class Stone(Layer):
    """Stone with columns of mix through it; the stone itself does not wick."""


Reservoir = Pipes | Crates | FalseFloor | Stone


def plan_area(bed: Bed) -> float:
    """Area of the bed seen from above, inside the liner.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Area [m2].
    """
    return bed.box.length * bed.box.width


def surface_height(bed: Bed) -> float:
    """Height of the mix surface above the floor: the rim less the freeboard.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Height [m].
    """
    return bed.box.depth - bed.box.freeboard


def crown_height(bed: Bed) -> float:
    """Height of the top of the reservoir above the floor: the outside of the pipes, or the layer.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Height [m]. Above it there is nothing but mix.
    """
    reservoir = bed.reservoir
    return reservoir.outside if isinstance(reservoir, Pipes) else reservoir.height


def wick_foot(bed: Bed) -> float:
    """Height above the floor down to which mix that wicks reaches.

    Answers: from which level on can the bed drink its water. Open water below is dead storage.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Height [m]. Zero for pipes; the crown where the reservoir has no legs or columns.
    """
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        return 0.0
    return reservoir.wick_foot if reservoir.wick_share > 0.0 else reservoir.height


def void_share(height: ArrayLike, bed: Bed) -> Any:
    r"""Share of the plan area that is open to water at a height.

    Answers: how much water does the reservoir hold per depth, here.

    Parameters
    ----------
    height : array_like of float, shape (...)
        Height above the floor [m].
    bed : Bed
        The bed.

    Returns
    -------
    float or ndarray, shape (...)
        Share [1]; zero below the floor and above the crown.

    Notes
    -----
    Pipes: the chord of the inside circle, times run and count over the plan area,

    .. math:: f_v = \frac{N L}{A} \, 2 \sqrt{(z - t)(D_i + t - z)}

    with :math:`t` the thickness of the wall that lies under the water, half of outside less
    inside diameter. Layers: the void share of the layer beside the legs, and all over below
    their foot. At a foot or a crown itself the value is that just above. Geometry, no source.
    """
    z = np.asarray(height, dtype=np.float64)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        wall = 0.5 * (reservoir.outside - reservoir.inside)
        width = chord(z - wall, 0.5 * reservoir.inside)
        return (width * (reservoir.count * reservoir.run / plan_area(bed)))[()]
    beside = reservoir.void_share * (1.0 - reservoir.wick_share)
    share = np.where(z < wick_foot(bed), reservoir.void_share, beside)
    return np.where((z < 0.0) | (z >= reservoir.height), 0.0, share)[()]


def mix_share(height: ArrayLike, bed: Bed) -> Any:
    r"""Share of the plan area that is mix at a height.

    Answers: how wide is the path by which water can climb, here.

    Parameters
    ----------
    height : array_like of float, shape (...)
        Height above the floor [m].
    bed : Bed
        The bed.

    Returns
    -------
    float or ndarray, shape (...)
        Share [1]; one above the crown.

    Notes
    -----
    Pipes: all that the outside circles leave,

    .. math:: f_m = 1 - \frac{N L}{A} \, 2 \sqrt{z (D_o - z)}

    so that the pipe's wall is neither void nor mix. Layers: the share of legs or columns above
    their foot, zero below. At a foot or a crown itself the value is that just above.
    Geometry, no source.
    """
    z = np.asarray(height, dtype=np.float64)
    reservoir = bed.reservoir
    if isinstance(reservoir, Pipes):
        width = chord(z, 0.5 * reservoir.outside)
        return (1.0 - width * (reservoir.count * reservoir.run / plan_area(bed)))[()]
    share = np.where(z < wick_foot(bed), 0.0, reservoir.wick_share)
    return np.where(z >= reservoir.height, 1.0, share)[()]
