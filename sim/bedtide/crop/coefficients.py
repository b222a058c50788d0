"""Crop coefficients of FAO-56: climate adjustment, upper limit, ground cover."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

KC_MIN = 0.15
"""Coefficient of dry bare ground with hardly any plants [1]; FAO-56 Eq. 76, from memory."""

_WIND = (1.0, 6.0)  # range of wind speed for which the adjustment holds [m s-1]
_HUMIDITY = (20.0, 80.0)  # range of lowest humidity for which it holds [%]
_HEIGHT = (0.1, 10.0)  # range of height for which it holds [m]
_ADJUSTED_FROM = 0.45  # coefficients below it are not adjusted [1]


def adjusted_coefficient(
    tabulated: ArrayLike, *, wind_speed: ArrayLike, rh_min: ArrayLike, height: ArrayLike
) -> NDArray[np.float64]:
    r"""Crop coefficient of the mid-season or the end, adjusted to the climate.

    Answers: how much more do tall plants use where it is windy and dry.
    Of use for means over a stage, not for single days.

    Parameters
    ----------
    tabulated : array_like of float, shape (...)
        Coefficient in the standard climate [1]. Below 0.45 it is returned as it is.
    wind_speed : array_like of float, shape (...)
        Mean wind speed at 2 m [m s-1]; taken as 1 to 6.
    rh_min : array_like of float, shape (...)
        Mean of the daily lowest relative humidity [%]; taken as 20 to 80.
    height : array_like of float, shape (...)
        Height of the plants [m]; taken as 0.1 to 10.

    Returns
    -------
    ndarray of float, shape (...)
        Adjusted coefficient [1].

    Notes
    -----
    Eq. 62, 65 and 70 of [1]_, with :math:`u_2` `wind_speed` and :math:`h` `height`,

    .. math:: K = K_{tab} + [0.04 (u_2 - 2) - 0.004 (RH_{min} - 45)] (h / 3)^{0.3}

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
       Irrigation and Drainage Paper 56, Rome. From memory.
    """
    value = np.asarray(tabulated, dtype=np.float64)
    plants = np.clip(height, *_HEIGHT)
    adjusted = value + _climate(wind_speed, rh_min) * (plants / 3.0) ** 0.3
    return np.where(value >= _ADJUSTED_FROM, adjusted, value)


def upper_coefficient(
    kcb: ArrayLike, *, wind_speed: ArrayLike, rh_min: ArrayLike, height: ArrayLike
) -> NDArray[np.float64]:
    r"""Largest evapotranspiration over reference evapotranspiration, the surface being wet.

    Parameters
    ----------
    kcb : array_like of float, shape (...)
        Basal crop coefficient [1].
    wind_speed : array_like of float, shape (...)
        Wind speed at 2 m [m s-1]; taken as 1 to 6.
    rh_min : array_like of float, shape (...)
        Lowest relative humidity of the day [%]; taken as 20 to 80.
    height : array_like of float, shape (...)
        Height of the plants, zero where bare [m].

    Returns
    -------
    ndarray of float, shape (...)
        Upper limit of the crop coefficient [1].

    Notes
    -----
    Eq. 72 of [1]_,

    .. math:: K_{c,max} = \max\{1.2 + [0.04 (u_2 - 2) - 0.004 (RH_{min} - 45)] (h / 3)^{0.3},
              \; K_{cb} + 0.05\}

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    plants = np.clip(height, 0.0, _HEIGHT[1])
    climate = 1.2 + _climate(wind_speed, rh_min) * (plants / 3.0) ** 0.3
    return np.maximum(climate, np.asarray(kcb, dtype=np.float64) + 0.05)


def cover_fraction(kcb: ArrayLike, *, kc_max: ArrayLike, height: ArrayLike) -> NDArray[np.float64]:
    r"""Share of the ground that leaves cover.

    Parameters
    ----------
    kcb : array_like of float, shape (...)
        Basal crop coefficient [1].
    kc_max : array_like of float, shape (...)
        Upper limit of the crop coefficient [1].
    height : array_like of float, shape (...)
        Height of the plants [m].

    Returns
    -------
    ndarray of float, shape (...)
        Between 0 and 0.99 [1].

    Notes
    -----
    Eq. 76 of [1]_ with :math:`K_{c,min} = 0.15`,

    .. math:: f_c = \left(\frac{K_{cb} - K_{c,min}}{K_{c,max} - K_{c,min}}\right)^{1 + 0.5 h}

    with the numerator at least 0.01 for plants that have just come up.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). FAO Irrigation and Drainage
       Paper 56, Rome. From memory.
    """
    above = np.maximum(np.asarray(kcb, dtype=np.float64) - KC_MIN, 0.01)
    room = np.maximum(np.asarray(kc_max, dtype=np.float64) - KC_MIN, 0.01)
    share = np.minimum(above / room, 1.0) ** (1.0 + 0.5 * np.asarray(height, dtype=np.float64))
    return np.clip(share, 0.0, 0.99)


def _climate(wind_speed: ArrayLike, rh_min: ArrayLike) -> NDArray[np.float64]:
    """Climate term of Eq. 62, before the height [1]."""
    return 0.04 * (np.clip(wind_speed, *_WIND) - 2.0) - 0.004 * (np.clip(rh_min, *_HUMIDITY) - 45.0)
