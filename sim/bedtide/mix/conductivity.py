"""Hydraulic conductivity of a mix against suction."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.mix.parameters import Mix

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
