"""What plants and bare mix ask for: coefficients of FAO-56; where uptake starts to fall.

References
----------
.. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
   Irrigation and Drainage Paper 56, Rome. From memory.
.. [2] Gilman E.F., Beeson R.C., Meador D. (2012). Impact of mulch on water loss from a
   container substrate and native soil. Arboric. Urban For. 38: 18-23. Table 1 read, authors
   from memory.
.. [3] Feddes R.A., Kowalik P.J., Zaradny H. (1978). Simulation of field water use and crop
   yield. Pudoc, Wageningen. From memory; the two demands read in a secondary source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

_HIGH_DEMAND, _LOW_DEMAND = 0.005, 0.001  # that go with h3_high and h3_low [m d-1]
_KC_MIN = 0.15  # coefficient of dry bare ground with hardly any plants [1]; FAO-56 Eq. 76
_WIND = (1.0, 6.0)  # range of wind speed for which the adjustment holds [m s-1]
_HUMIDITY = (20.0, 80.0)  # range of lowest humidity for which it holds [%]
_HEIGHT = (0.1, 10.0)  # range of height for which it holds [m]
_ADJUSTED_FROM = 0.45  # coefficients below it are not adjusted [1]


def adjusted_coefficient(
    tabulated: ArrayLike, *, wind_speed: ArrayLike, rh_min: ArrayLike, height: ArrayLike
) -> NDArray[np.float64]:
    r"""Crop coefficient of the mid-season or the end [1], adjusted to the climate, shape (...).

    How much more do tall plants use where it is windy and dry; of use for means over a stage, not
    for single days. Eq. 62, 65 and 70 of [1]_,
    :math:`K_{tab} + [0.04 (u_2 - 2) - 0.004 (RH_{min} - 45)] (h / 3)^{0.3}`, with :math:`K_{tab}`
    `tabulated` in the standard climate [1], below 0.45 left as it is; :math:`u_2` `wind_speed` at
    2 m, taken as 1 to 6 [m s-1]; :math:`RH_{min}` mean of the daily lowest relative humidity, taken
    as 20 to 80 [%]; :math:`h` `height` of the plants, taken as 0.1 to 10 [m].
    """
    value = np.asarray(tabulated, dtype=np.float64)
    plants = np.clip(height, *_HEIGHT)
    adjusted = value + _climate(wind_speed, rh_min) * (plants / 3.0) ** 0.3
    return np.where(value >= _ADJUSTED_FROM, adjusted, value)


def upper_coefficient(
    kcb: ArrayLike, *, wind_speed: ArrayLike, rh_min: ArrayLike, height: ArrayLike
) -> NDArray[np.float64]:
    r"""Largest evapotranspiration over that of the reference, the surface wet, shape (...) [1].

    Eq. 72 of [1]_,
    :math:`\max\{1.2 + [0.04 (u_2 - 2) - 0.004 (RH_{min} - 45)] (h / 3)^{0.3}, \; K_{cb} + 0.05\}`,
    with :math:`K_{cb}` `kcb` [1], :math:`u_2` `wind_speed` at 2 m, taken as 1 to 6 [m s-1],
    :math:`RH_{min}` of the day, taken as 20 to 80 [%], :math:`h` `height`, zero where bare [m].
    """
    plants = np.clip(height, 0.0, _HEIGHT[1])
    climate = 1.2 + _climate(wind_speed, rh_min) * (plants / 3.0) ** 0.3
    return np.maximum(climate, np.asarray(kcb, dtype=np.float64) + 0.05)


def cover_fraction(kcb: ArrayLike, *, kc_max: ArrayLike, height: ArrayLike) -> NDArray[np.float64]:
    r"""Share of the ground that leaves cover, between 0 and 0.99, shape (...) [1].

    Eq. 76 of [1]_, :math:`[(K_{cb} - K_{c,min}) / (K_{c,max} - K_{c,min})]^{1 + 0.5 h}` with
    :math:`K_{c,min} = 0.15`, :math:`K_{cb}` `kcb` [1], :math:`K_{c,max}` `kc_max` [1], :math:`h`
    `height` of the plants [m]; the numerator at least 0.01 for plants that have just come up.
    """
    above = np.maximum(np.asarray(kcb, dtype=np.float64) - _KC_MIN, 0.01)
    room = np.maximum(np.asarray(kc_max, dtype=np.float64) - _KC_MIN, 0.01)
    share = np.minimum(above / room, 1.0) ** (1.0 + 0.5 * np.asarray(height, dtype=np.float64))
    return np.clip(share, 0.0, 0.99)


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
    """
    return 1.0 - 0.5 * np.clip(np.asarray(mulch_share, dtype=np.float64), 0.0, 1.0)


def dry_start(demand: ArrayLike, *, h3_high: ArrayLike, h3_low: ArrayLike) -> NDArray[np.float64]:
    """Suction at which uptake starts to fall, by what is asked for.

    Answers: how dry may the mix be before plants take less. The dry side only: too little air is a
    reading of its own. From there uptake falls in a straight line to 0 at h4, in the column.

    Parameters
    ----------
    demand : array_like of float, shape (...)
        Potential transpiration [m d-1].
    h3_high, h3_low : array_like of float, shape (...)
        That suction at a demand of 5 and of 1 mm/d [m].

    Returns
    -------
    ndarray of float, shape (...)
        Suction head, in a straight line between the two demands [3]_ and constant beyond [m].
    """
    above = np.asarray(demand, dtype=np.float64) - _LOW_DEMAND
    share = np.clip(above / (_HIGH_DEMAND - _LOW_DEMAND), 0.0, 1.0)
    low = np.asarray(h3_low, dtype=np.float64)
    return low + share * (np.asarray(h3_high, dtype=np.float64) - low)


def _climate(wind_speed: ArrayLike, rh_min: ArrayLike) -> NDArray[np.float64]:
    """Climate term of Eq. 62, before the height [1]."""
    return 0.04 * (np.clip(wind_speed, *_WIND) - 2.0) - 0.004 * (np.clip(rh_min, *_HUMIDITY) - 45.0)
