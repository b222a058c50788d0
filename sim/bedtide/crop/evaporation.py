"""Evaporation from the mix surface between the plants."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def evaporation_coefficient(
    kcb: ArrayLike, kc_max: ArrayLike, wetted_exposed: ArrayLike
) -> NDArray[np.float64]:
    r"""Evaporation that the weather asks of a wet surface, over reference evapotranspiration.

    Answers: how much could the mix lose between the plants if it stayed wet.

    Parameters
    ----------
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
    Eq. 71 of [1]_ with the reduction of a drying surface left out, which is for the column to say:
    :math:`K_e = \min\{K_{c,max} - K_{cb}, \; f_{ew} K_{c,max}\}`.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    upper = np.asarray(kc_max, dtype=np.float64)
    by_energy = upper - np.asarray(kcb, dtype=np.float64)
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
