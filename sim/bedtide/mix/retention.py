"""Water held by a mix against suction, the inverse, and the mean of a drained container."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.mix.parameters import Mix

DRIEST = 1e5
"""Suction head of an oven-dry mix [m]: pF 7, common practice, no source."""

_LEAST = 1e-12  # suction head below which a mix is saturated to the last digit [m]
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

    References
    ----------
    .. [1] van Genuchten M.Th. (1980). A closed-form equation for predicting the hydraulic
       conductivity of unsaturated soils. Soil Sci. Soc. Am. J. 44: 892-898.
       doi 10.2136/sssaj1980.03615995004400050002x. From memory.
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

    References
    ----------
    .. [1] van Genuchten M.Th. (1980). Soil Sci. Soc. Am. J. 44: 892-898.
       doi 10.2136/sssaj1980.03615995004400050002x. From memory.
    """
    theta = np.asarray(water_content, dtype=np.float64)
    least = _saturation(np.asarray(mix.alpha * DRIEST), mix.n)
    share = np.clip((theta - mix.theta_r) / (mix.theta_s - mix.theta_r), least, 1.0)
    m = 1.0 - 1.0 / mix.n
    return np.expm1(-np.log(share) / m) ** (1.0 / mix.n) / mix.alpha


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

    the container integral of [1]_ for straight walls, with :math:`H` `height` and the retention
    curve of `water_content`. By Gauss-Legendre quadrature with 96 nodes in :math:`t`, where
    :math:`\alpha s = \sinh(V t^2)`; within 1e-10 of an adaptive quadrature
    (tests/unit/mix/test_retention.py).

    References
    ----------
    .. [1] Fonteno W.C. (1989). An approach to modeling air and water status of horticultural
       substrates. Acta Hort. 238: 67-74. From memory.
    """
    top = np.maximum(np.asarray(height, dtype=np.float64), _LEAST) * mix.alpha
    span = np.arcsinh(top)[..., None]
    t = 0.5 * (_NODES + 1.0)
    v = span * t**2
    scaled = np.sinh(v)
    integrand = _saturation(scaled, mix.n) * np.cosh(v) * 2.0 * t * span
    mean = (integrand * (0.5 * _WEIGHTS)).sum(axis=-1) / top
    return mix.theta_r + (mix.theta_s - mix.theta_r) * np.minimum(mean, 1.0)


def _saturation(scaled: NDArray[np.float64], n: float) -> NDArray[np.float64]:
    """Effective saturation at alpha times suction, which is zero or more [1]."""
    return (1.0 + scaled**n) ** (1.0 / n - 1.0)
