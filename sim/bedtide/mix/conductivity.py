"""Hydraulic conductivity of a mix against suction: of liquid, of vapour, and as a bed is fed."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.mix.parameters import Mix
from bedtide.mix.retention import water_content

_LEAST = 1e-30  # alpha times suction under which the formula is not followed further down [1]


def conductivity(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Hydraulic conductivity of a mix at a suction head.

    Answers: how easily water moves through the mix when it is this dry.
    For n near 1 it falls steeply in the first millimetres of suction, a known trait of the
    formula; the flow from the gaps that empty at once is not in it.

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
    Eq. 8 of [1]_ on the pore model of [2]_, with effective saturation :math:`S`,
    :math:`m = 1 - 1/n` and :math:`x = (\alpha s)^n`,

    .. math:: K = K_s S^l \left[1 - (1 - S^{1/m})^m\right]^2,
              \quad 1 - S^{1/m} = \frac{1}{1 + 1/x}

    with :math:`1 - (1 + 1/x)^{-m}` taken through log1p and expm1, so that neither a nearly
    saturated nor a very dry mix loses digits.

    References
    ----------
    .. [1] van Genuchten M.Th. (1980). Soil Sci. Soc. Am. J. 44: 892-898.
       doi 10.2136/sssaj1980.03615995004400050002x. From memory.
    .. [2] Mualem Y. (1976). A new model for predicting the hydraulic conductivity of unsaturated
       porous media. Water Resour. Res. 12: 513-522. doi 10.1029/WR012i003p00513. From memory.
    """
    scaled = mix.alpha * np.asarray(suction, dtype=np.float64)
    x = np.maximum(scaled, _LEAST) ** mix.n
    m = 1.0 - 1.0 / mix.n
    pores = np.expm1(-m * np.log1p(1.0 / x))
    unsaturated = mix.k_s * (1.0 + x) ** (-m * mix.l) * pores**2
    return np.where(scaled > 0.0, unsaturated, mix.k_s)[()]


VAPOUR_LENGTH = 13_796.0
"""Suction over which the vapour pressure in the pores falls e-fold, RT/(Mg) at 20 degC [m]."""

_VAPOUR = 2.09 * 1.73e-5
# Diffusivity of vapour in air [m2 d-1] times its saturated density over that of water [1], 20 degC.


def vapour_conductivity(suction: ArrayLike, mix: Mix) -> NDArray[np.float64]:
    r"""Conductivity for vapour that moves through the air of a mix.

    Answers: what still rises through a crust too dry for liquid water.
    Isothermal: heat from the sun, which drives vapour as well, is not in it.

    Parameters
    ----------
    suction : array_like of float, shape (...)
        Suction head [m].
    mix : Mix
        Retention parameters.

    Returns
    -------
    ndarray of float, shape (...)
        Conductivity [m d-1].

    Notes
    -----
    Fick's law for the vapour over water at suction :math:`s`, whose density is
    :math:`\rho_s e^{-s/L}` with :math:`L = RT/(Mg)`, written as a flux over a gradient of suction
    [1]_:

    .. math:: K_v = D_0 \frac{\varepsilon^{2.5}}{\sqrt{\theta_s}} \frac{\rho_s}{\rho_w}
              \frac{1}{L} e^{-s/L}

    with the diffusivity of [2]_ and :math:`\varepsilon` the air-filled porosity. Through 1, 2 and
    5 cm of dry potting mix into air of half saturation it lets 0.7, 0.4 and 0.1 mm a day.

    References
    ----------
    .. [1] Philip J.R., de Vries D.A. (1957). Moisture movement in porous materials under
       temperature gradients. Trans. AGU 38: 222-232. From memory.
    .. [2] Moldrup P. et al. (2000). Predicting the gas diffusion coefficient in repacked soil.
       Soil Sci. Soc. Am. J. 64: 1588-1594. From memory; it fits growing media best of several:
       Schmitz, Anlauf, Rehrmann (2013), Am. J. Plant Sci. 4: 955-963, read in part.
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
    [1]_, while conductivity against water content hardly differs [2]_. Retention is left on the
    drying curve, which is the cautious one for air. Why no film flow: docs/physics/column.md.

    References
    ----------
    .. [1] Kool J.B., Parker J.C. (1987). Development and evaluation of closed-form expressions
       for hysteretic soil hydraulic properties. Water Resour. Res. 23: 105-114. From memory.
    .. [2] Londra P.A. (2010). Simultaneous determination of water retention curve and unsaturated
       hydraulic conductivity of substrates. HortScience 45: 1106-1112. Abstract read.
    """
    s = np.asarray(suction, dtype=np.float64)
    return np.asarray(conductivity(mix.wetting * s, mix) + vapour_conductivity(s, mix))[()]
