"""What a mix does with water: how much it holds at rest, and how it conducts.

References
----------
.. [1] van Genuchten M.Th. (1980). A closed-form equation for predicting the hydraulic
   conductivity of unsaturated soils. Soil Sci. Soc. Am. J. 44: 892-898.
   doi 10.2136/sssaj1980.03615995004400050002x. From memory.
.. [2] Mualem Y. (1976). A new model for predicting the hydraulic conductivity of unsaturated
   porous media. Water Resour. Res. 12: 513-522. doi 10.1029/WR012i003p00513. From memory.
.. [3] Fonteno W.C. (1989). An approach to modeling air and water status of horticultural
   substrates. Acta Hort. 238: 67-74. From memory.
.. [4] Philip J.R., de Vries D.A. (1957). Moisture movement in porous materials under
   temperature gradients. Trans. AGU 38: 222-232. From memory.
.. [5] Moldrup P. et al. (2000). Predicting the gas diffusion coefficient in repacked soil.
   Soil Sci. Soc. Am. J. 64: 1588-1594. From memory; it fits growing media best of several:
   Schmitz, Anlauf, Rehrmann (2013), Am. J. Plant Sci. 4: 955-963, read in part.
.. [6] Kool J.B., Parker J.C. (1987). Development and evaluation of closed-form expressions
   for hysteretic soil hydraulic properties. Water Resour. Res. 23: 105-114. From memory.
.. [7] Londra P.A. (2010). Simultaneous determination of water retention curve and unsaturated
   hydraulic conductivity of substrates. HortScience 45: 1106-1112. Abstract read.
.. [8] Gardner W.R. (1958). Some steady-state solutions of the unsaturated moisture flow
   equation. Soil Sci. 85: 228-232. From memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.mix.media import Mix

DRIEST = 1e5
"""Suction head of an oven-dry mix [m]: pF 7, common practice, no source."""

VAPOUR_LENGTH = 13_796.0
"""Suction over which the vapour pressure in the pores falls e-fold, RT/(Mg) at 20 degC [m]."""

_VAPOUR = 2.09 * 1.73e-5
# Diffusivity of vapour in air [m2 d-1] times its saturated density over that of water [1], 20 degC.
_LEAST_HEIGHT = 1e-12  # of a container, below which a mix is saturated to the last digit [m]
_LEAST_SCALED = 1e-30  # alpha times suction under which the formula is not followed further [1]
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)


def water_content(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Water content of a mix at a suction head.

    Answers: how much water is left in the mix at this height above free water, at rest.
    Main drying curve, without hysteresis: a mix wetted from dry holds less.

    Parameters
    ----------
    suction : array_like of float, shape (...)
        Suction head, positive when dry; zero or less is saturated [m].
    mix : Mix
        Retention parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Water content [m3 m-3].

    Notes
    -----
    Eq. 3 of [1]_ with :math:`m = 1 - 1/n`,

    .. math:: \theta = \theta_r + (\theta_s - \theta_r) \left[1 + (\alpha s)^n\right]^{-m}
    """
    scaled = mix.alpha * np.maximum(np.asarray(suction, dtype=np.float64), 0.0)
    return mix.theta_r + (mix.theta_s - mix.theta_r) * _saturation(scaled, mix.n)


def suction_at(water_content: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Suction head at which a mix holds this much water.

    Answers: how hard must a root pull at this water content.

    Parameters
    ----------
    water_content : array_like of float, shape (...)
        Water content [m3 m-3]. At or above `mix.theta_s` the suction is zero; at or below
        `mix.theta_r` it is that of an oven-dry mix, 1e5 m.
    mix : Mix
        Retention parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Suction head, between 0 and 1e5 [m].

    Notes
    -----
    The inverse of Eq. 3 of [1]_, with :math:`S` the effective saturation,

    .. math:: s = \frac{1}{\alpha} \left(S^{-1/m} - 1\right)^{1/n}
    """
    theta = np.asarray(water_content, dtype=np.float64)
    least = _saturation(np.asarray(mix.alpha * DRIEST), mix.n)
    share = np.clip((theta - mix.theta_r) / (mix.theta_s - mix.theta_r), least, 1.0)
    m = 1.0 - 1.0 / mix.n
    suction: NDArray[np.float64] = np.expm1(-np.log(share) / m) ** (1.0 / mix.n) / mix.alpha
    return suction


def mean_water_content(height: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Mean water content of a container that drained to rest.

    Answers: how much water stays in a pot of this height once it has stopped dripping: the
    container capacity. Suction is zero at the bottom and grows with height.

    Parameters
    ----------
    height : array_like of float, shape (...)
        Height of mix in the container, zero or more [m].
    mix : Mix
        Retention parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Mean water content [m3 m-3].

    Notes
    -----
    .. math:: \bar\theta = \frac{1}{H} \int_0^H \theta(s)\,ds

    the container integral of [3]_ for straight walls, with :math:`H` `height` and the retention
    curve of `water_content`. By Gauss-Legendre quadrature with 96 nodes in :math:`t`, where
    :math:`\alpha s = \sinh(V t^2)`; within 1e-10 of an adaptive quadrature
    (tests/unit/mix/test_retention.py).
    """
    top = np.maximum(np.asarray(height, dtype=np.float64), _LEAST_HEIGHT) * mix.alpha
    span = np.arcsinh(top)[..., None]
    t = 0.5 * (_NODES + 1.0)
    v = span * t**2
    scaled = np.sinh(v)
    integrand = _saturation(scaled, mix.n) * np.cosh(v) * 2.0 * t * span
    mean = (integrand * (0.5 * _WEIGHTS)).sum(axis=-1) / top
    held: NDArray[np.float64] = mix.theta_r + (mix.theta_s - mix.theta_r) * np.minimum(mean, 1.0)
    return held


def _saturation(scaled: NDArray[np.float64], n: float) -> NDArray[np.float64]:
    """Effective saturation at alpha times suction, which is zero or more [1]."""
    return (1.0 + scaled**n) ** (1.0 / n - 1.0)


def conductivity(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Hydraulic conductivity [m d-1] of a mix at a suction head [m], saturated at zero or less.

    How easily water moves through the mix when it is this dry, shape (...). For n near 1 it falls
    steeply in the first millimetres of suction, a known trait of the formula; the flow from the
    gaps that empty at once is not in it. Eq. 8 of [1]_ on the pore model of [2]_:
    :math:`K = K_s S^l [1 - (1 - S^{1/m})^m]^2` with effective saturation :math:`S`,
    :math:`1 - S^{1/m} = 1 / (1 + 1/x)`, :math:`m = 1 - 1/n` and :math:`x = (\alpha s)^n`;
    :math:`1 - (1 + 1/x)^{-m}` is taken through log1p and expm1, so that neither a nearly saturated
    nor a very dry mix loses digits.
    """
    scaled = mix.alpha * np.asarray(suction, dtype=np.float64)
    x = np.maximum(scaled, _LEAST_SCALED) ** mix.n
    m = 1.0 - 1.0 / mix.n
    pores = np.expm1(-m * np.log1p(1.0 / x))
    unsaturated = mix.k_s * (1.0 + x) ** (-m * mix.l) * pores**2
    return np.where(scaled > 0.0, unsaturated, mix.k_s)[()]


def vapour_conductivity(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Conductivity [m d-1] for vapour through the air of a mix at a suction head [m], shape (...).

    What still rises through a crust too dry for liquid water. Isothermal: heat from the sun, which
    drives vapour as well, is not in it. Fick's law for the vapour over water at suction :math:`s`,
    whose density is :math:`\rho_s e^{-s/L}` with :math:`L = RT/(Mg)`, written as a flux over a
    gradient of suction [4]_:
    :math:`K_v = D_0 \varepsilon^{2.5} \theta_s^{-1/2} (\rho_s / \rho_w) L^{-1} e^{-s/L}` with the
    diffusivity of [5]_ and :math:`\varepsilon` the air-filled porosity. Through 1, 2 and 5 cm of
    dry potting mix into air of half saturation it lets 0.7, 0.4 and 0.1 mm a day.
    """
    s = np.maximum(np.asarray(suction, dtype=np.float64), 0.0)
    air = np.maximum(mix.theta_s - water_content(s, mix), 0.0)
    spread = _VAPOUR * air**2.5 / np.sqrt(mix.theta_s)
    return np.asarray(spread / VAPOUR_LENGTH * np.exp(-s / VAPOUR_LENGTH))[()]


def supply_conductivity(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Conductivity of a mix that is fed from below and dries at its top.

    Answers: how easily does water climb, in a bed that lives between drying and being wetted.

    Parameters
    ----------
    suction : array_like of float, shape (...)
        Suction head, positive when dry; zero or less is saturated [m].
    mix : Mix
        Retention and conductivity parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Conductivity [m d-1].

    Notes
    -----
    :math:`K(w s) + K_v(s)`: the curve of :func:`conductivity` at :math:`w` times the suction,
    `Mix.wetting`, and vapour. The published curves were measured on drying samples; at one
    suction a mix that is wetted holds and conducts less, as if :math:`\alpha` were up to doubled
    [6]_, while conductivity against water content hardly differs [7]_. Retention is left on the
    drying curve, which is the cautious one for air. Why no film flow: docs/physics/column.md.
    """
    s = np.asarray(suction, dtype=np.float64)
    return np.asarray(conductivity(mix.wetting * s, mix) + vapour_conductivity(s, mix))[()]


def lift_height(flux: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Highest column of a mix through which a steady flux still rises out of free water.

    Answers: how high does this mix lift a summer's day of water.
    Settled, at the typical `Mix.wetting`; roots take water lower down and are served from higher.

    Parameters
    ----------
    flux : array_like of float, shape (...)
        Upward flux, more than zero [m d-1].
    mix : Mix
        Retention and conductivity parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Height above free water of a surface as dry as air of half saturation [m].

    Notes
    -----
    .. math:: z = \int_0^{L \ln 2} \frac{ds}{1 + q / K(s)}

    with :math:`q` `flux`, :math:`K` of :func:`supply_conductivity`, :math:`L` of
    :func:`vapour_conductivity` [8]_, by the trapezium rule in :math:`\ln s` from a micrometre;
    within 1e-3 of an adaptive quadrature and of the closed forms for K exponential and a power of
    suction (tests/unit/mix/test_lift.py).
    """
    s = np.geomspace(1e-6, VAPOUR_LENGTH * np.log(2.0), 1501)
    k = supply_conductivity(s, mix)
    slope = s / (1.0 + np.asarray(flux, dtype=np.float64)[..., None] / k)
    return np.asarray(np.trapezoid(slope, np.log(s), axis=-1))[()]
