"""One mix as curves over its flux potential, tabulated once: the fast inside of every profile."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bedtide.mix import Mix, conductivity

Array = NDArray[np.float64]

_NODES = 2400
_WETTEST, _DRIEST = 1e-4, 300.0  # suction heads that bound the fine grid [m]


@dataclass(frozen=True, eq=False)
class Curve:
    """Suction and conductivity of a mix on an even grid of the logarithm of its flux potential.

    Attributes
    ----------
    start, scale : float
        Logarithm of the least potential, and nodes per unit of the logarithm [1].
    log_suction, log_conductivity : ndarray, shape (nodes,)
        Logarithms of suction [m] and conductivity [m d-1].
    suction, potential : ndarray, shape (fine,)
        Suction rising from zero [m] and the potential there [m2 d-1].
    least, most : float
        Potential of the driest and of the saturated mix [m2 d-1].
    saturated : float
        Conductivity when saturated [m d-1].
    """

    start: float
    scale: float
    log_suction: Array
    log_conductivity: Array
    suction: Array
    potential: Array
    least: float
    most: float
    saturated: float


@lru_cache(maxsize=256)
def curve_of(mix: Mix) -> Curve:
    r"""Curves of a mix.

    Parameters
    ----------
    mix : Mix
        Retention and conductivity.

    Returns
    -------
    Curve
        Made once for each mix.

    Notes
    -----
    The flux potential of [1]_, :math:`\phi(s) = \int_s^\infty K \, ds`, turns a steady flux
    :math:`q` (positive up) through a mix share :math:`f` into

    .. math:: \frac{d\phi}{dz} = -\left(\frac{q}{f} + K(\phi)\right)

    which stays smooth where the suction itself runs away.

    References
    ----------
    .. [1] Gardner W.R. (1958). Some steady-state solutions of the unsaturated moisture flow
       equation with application to evaporation from a water table. Soil Sci. 85: 228-232. From
       memory.
    """
    near = np.linspace(0.0, _WETTEST, 12)[:-1]
    suction = np.concatenate([near, np.geomspace(_WETTEST, _DRIEST, 5000)])
    k = conductivity(suction, mix)
    steps = 0.5 * (k[1:] + k[:-1]) * np.diff(suction)
    # Beyond the driest suction K falls at least as fast as 1/s^2: the tail is K s or less.
    potential = np.append(np.cumsum(steps[::-1])[::-1], 0.0) + 0.5 * k[-1] * suction[-1]
    log_potential = np.log(potential[::-1])
    even = np.linspace(log_potential[0], log_potential[-1], _NODES)
    return Curve(
        start=float(even[0]),
        scale=float((_NODES - 1) / (even[-1] - even[0])),
        log_suction=np.interp(even, log_potential, np.log(suction[::-1] + _WETTEST)),
        log_conductivity=np.interp(even, log_potential, np.log(k[::-1])),
        suction=suction,
        potential=potential,
        least=float(potential[-1]),
        most=float(potential[0]),
        saturated=float(k[0]),
    )


def potential_at(suction: Array, curve: Curve) -> Array:
    """Flux potential at a suction.

    Parameters
    ----------
    suction : ndarray, shape (...)
        Suction [m]; at or below zero the mix is saturated.
    curve : Curve
        The mix.

    Returns
    -------
    ndarray, shape (...)
        Flux potential [m2 d-1].
    """
    return np.interp(suction, curve.suction, curve.potential)


def suction_and_conductivity(potential: Array, curve: Curve) -> tuple[Array, Array]:
    """Suction and conductivity at a flux potential.

    Parameters
    ----------
    potential : ndarray, shape (...)
        Flux potential within the bounds of the curve [m2 d-1].
    curve : Curve
        The mix.

    Returns
    -------
    suction, conductivity : ndarray, shape (...)
        Suction [m] and conductivity [m d-1].
    """
    at = (np.log(potential) - curve.start) * curve.scale
    at = np.minimum(np.maximum(at, 0.0), _NODES - 1.0)
    node = np.minimum(at.astype(np.intp), _NODES - 2)
    part = at - node
    suction = _between(curve.log_suction, node, part)
    return np.maximum(np.exp(suction) - _WETTEST, 0.0), np.exp(
        _between(curve.log_conductivity, node, part)
    )


def _between(values: Array, node: NDArray[np.intp], part: Array) -> Array:
    low = values[node]
    return low + (values[node + 1] - low) * part
