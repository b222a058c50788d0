"""How uptake falls as the mix around the roots dries."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.crop.table import Crop

HIGH_DEMAND = 0.005
"""Demand that goes with h3_high [m d-1]; Feddes et al. (1978), read in a secondary source."""

LOW_DEMAND = 0.001
"""Demand that goes with h3_low [m d-1]; Feddes et al. (1978), read in a secondary source."""

_MIX_H3_HIGH = 0.5  # cautious limits for a potting mix [m]
_MIX_H3_LOW = 1.0


def dry_factor(
    suction: ArrayLike,
    *,
    h3_high: ArrayLike,
    h3_low: ArrayLike,
    h4: ArrayLike,
    demand: ArrayLike,
) -> NDArray[np.float64]:
    r"""Uptake from a drying mix over uptake with water at hand.

    Answers: how much less do plants take when the mix is this dry.
    The dry side only; too little air is a reading of its own, not a factor here.

    Parameters
    ----------
    suction : array_like of float, shape (...)
        Suction head around the roots, positive when dry [m].
    h3_high, h3_low : array_like of float, shape (...)
        Suction head at which uptake starts to fall at a demand of 5 and of 1 mm/d [m].
    h4 : array_like of float, shape (...)
        Suction head at which it ends, above both [m].
    demand : array_like of float, shape (...)
        Potential transpiration [m d-1].

    Returns
    -------
    ndarray of float, shape (...)
        Between 0 and 1 [1].

    Notes
    -----
    The dry branch of the trapezium of [1]_: 1 up to :math:`h_3`, then in a straight line to 0
    at :math:`h_4`; :math:`h_3` in a straight line between the two demands and constant beyond.

    References
    ----------
    .. [1] Feddes R.A., Kowalik P.J., Zaradny H. (1978). Simulation of field water use and crop
       yield. Pudoc, Wageningen. From memory; the two demands read in a secondary source.
    """
    h3 = dry_start(demand, h3_high=h3_high, h3_low=h3_low)
    end = np.asarray(h4, dtype=np.float64)
    left = end - np.asarray(suction, dtype=np.float64)
    return np.clip(left / np.maximum(end - h3, 1e-12), 0.0, 1.0)


def dry_start(demand: ArrayLike, *, h3_high: ArrayLike, h3_low: ArrayLike) -> NDArray[np.float64]:
    """Suction at which uptake starts to fall, by what is asked for.

    Parameters
    ----------
    demand : array_like of float, shape (...)
        Potential transpiration [m d-1].
    h3_high, h3_low : array_like of float, shape (...)
        That suction at a demand of 5 and of 1 mm/d [m].

    Returns
    -------
    ndarray of float, shape (...)
        Suction head, in a straight line between the two demands and constant beyond [m].

    References
    ----------
    .. [1] Feddes R.A., Kowalik P.J., Zaradny H. (1978). Simulation of field water use and crop
       yield. Pudoc, Wageningen. From memory; the two demands read in a secondary source.
    """
    share = np.clip(
        (np.asarray(demand, dtype=np.float64) - LOW_DEMAND) / (HIGH_DEMAND - LOW_DEMAND), 0.0, 1.0
    )
    low = np.asarray(h3_low, dtype=np.float64)
    return low + share * (np.asarray(h3_high, dtype=np.float64) - low)


def in_potting_mix(crop: Crop) -> Crop:
    """Return the crop with cautious limits of uptake for a potting mix.

    Answers: what if roots in a loose mix suffer long before the published limits, which come
    from mineral soil, where far more water is left at 4 m of suction.

    Parameters
    ----------
    crop : Crop
        With the published limits.

    Returns
    -------
    Crop
        With h3 of at most 0.5 m at high and 1.0 m at low demand; h4 as it was.

    Notes
    -----
    A judgement. Roses in a coarse mix transpired less above 0.23 m of suction, where the
    conductivity of the mix fell below that of coir [1]_. In the model that fall is in the
    conductivity itself, so these limits are for a second opinion, not the default.

    References
    ----------
    .. [1] Raviv M., Lieth J.H., Wallach R. (2001). The effect of root-zone physical properties of
       coir and UC mix on performance of cut rose (cv. Kardinal). Acta Hort. 554. Abstract read.
    """
    return replace(
        crop,
        h3_high=min(crop.h3_high, _MIX_H3_HIGH),
        h3_low=min(crop.h3_low, _MIX_H3_LOW),
        note=f"{crop.note} Uptake limits lowered to 0.5 and 1.0 m for a potting mix.".strip(),
    )
