"""Evaporation from the mix surface between the plants."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def total_evaporable_water(
    theta_fc: ArrayLike, theta_wp: ArrayLike, layer: ArrayLike
) -> NDArray[np.float64]:
    r"""Water that can evaporate from the surface layer once it is wet.

    Parameters
    ----------
    theta_fc : array_like of float, shape (...)
        Water content at field capacity [m3 m-3].
    theta_wp : array_like of float, shape (...)
        Water content at the wilting point [m3 m-3].
    layer : array_like of float, shape (...)
        Depth of the layer that dries by evaporation, 0.10 to 0.15 [m].

    Returns
    -------
    ndarray of float, shape (...)
        Total evaporable water [m].

    Notes
    -----
    Eq. 73 of [1]_, :math:`TEW = (\theta_{FC} - 0.5 \theta_{WP}) Z_e`. Table 19 there ends at
    29 mm for clay; a potting mix gives more, which is outside what was tested.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    held = np.asarray(theta_fc, dtype=np.float64)
    bound = 0.5 * np.asarray(theta_wp, dtype=np.float64)
    return (held - bound) * np.asarray(layer, dtype=np.float64)


def evaporation_reduction(
    depletion: ArrayLike, total_evaporable: ArrayLike, readily_evaporable: ArrayLike
) -> NDArray[np.float64]:
    r"""Evaporation of a drying surface over that of a wet one.

    Parameters
    ----------
    depletion : array_like of float, shape (...)
        Water missing from the surface layer at the start of the day [m].
    total_evaporable : array_like of float, shape (...)
        Depletion at which evaporation ends [m].
    readily_evaporable : array_like of float, shape (...)
        Depletion at which evaporation starts to fall, less than `total_evaporable` [m].

    Returns
    -------
    ndarray of float, shape (...)
        Reduction coefficient, 0 to 1 [1].

    Notes
    -----
    Eq. 74 of [1]_,

    .. math:: K_r = \frac{TEW - D_e}{TEW - REW}

    and 1 while the depletion is not above REW.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    total = np.asarray(total_evaporable, dtype=np.float64)
    room = np.maximum(total - np.asarray(readily_evaporable, dtype=np.float64), 1e-12)
    return np.clip((total - np.asarray(depletion, dtype=np.float64)) / room, 0.0, 1.0)


def evaporation_coefficient(
    kr: ArrayLike, kcb: ArrayLike, kc_max: ArrayLike, wetted_exposed: ArrayLike
) -> NDArray[np.float64]:
    r"""Evaporation from the surface over reference evapotranspiration.

    Parameters
    ----------
    kr : array_like of float, shape (...)
        Reduction coefficient of the drying surface [1].
    kcb : array_like of float, shape (...)
        Basal crop coefficient [1].
    kc_max : array_like of float, shape (...)
        Upper limit of the crop coefficient [1].
    wetted_exposed : array_like of float, shape (...)
        Share of the surface that is both wetted and exposed to the sun [1].

    Returns
    -------
    ndarray of float, shape (...)
        Evaporation coefficient, zero or more [1].

    Notes
    -----
    Eq. 71 of [1]_, :math:`K_e = \min\{K_r (K_{c,max} - K_{cb}), \; f_{ew} K_{c,max}\}`.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    upper = np.asarray(kc_max, dtype=np.float64)
    by_energy = np.asarray(kr, dtype=np.float64) * (upper - np.asarray(kcb, dtype=np.float64))
    return np.maximum(np.minimum(by_energy, np.asarray(wetted_exposed) * upper), 0.0)


def mulch_factor(mulch_share: ArrayLike) -> NDArray[np.float64]:
    r"""Evaporation of a surface with organic mulch over that of a bare one.

    Parameters
    ----------
    mulch_share : array_like of float, shape (...)
        Share of the surface that organic mulch covers [1].

    Returns
    -------
    ndarray of float, shape (...)
        Between 0.5, all covered, and 1 [1].

    Notes
    -----
    Chapter 11 of [1]_: evaporation falls by about 5 % for each 10 % of the surface under organic
    mulch, :math:`1 - 0.5 f_{mulch}`. Lysimeters under chipped wood lost about half as much as
    bare ones from the second day after rain on, but no less on the first [2]_.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    .. [2] Gilman E.F., Beeson R.C., Meador D. (2012). Impact of mulch on water loss from a
       container substrate and native soil. Arboric. Urban For. 38: 18-23. Table 1 read, authors
       from memory.
    """
    return 1.0 - 0.5 * np.clip(np.asarray(mulch_share, dtype=np.float64), 0.0, 1.0)
