"""Vapour pressure from what a station reports of the air's humidity (FAO-56 chapter 3)."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["dew_point", "saturation_pressure", "vapour_pressure_from_rh"]


def saturation_pressure(temperature: ArrayLike) -> NDArray[np.float64]:
    r"""Vapour pressure of saturated air.

    Answers: how much vapour can air of this temperature hold. At the dew point it is the
    vapour pressure that the air has.

    Parameters
    ----------
    temperature : array_like of float, shape (...)
        Air temperature, or dew point [degC].

    Returns
    -------
    ndarray of float, shape (...)
        Saturation vapour pressure [kPa].

    Notes
    -----
    .. math:: e^\circ(T) = 0.6108 \exp\frac{17.27\,T}{T + 237.3}

    :math:`T` `temperature`. Eq. 11 of [1]_.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
       Irrigation and Drainage Paper 56. Eq. 11 and 14. From memory.

    Examples
    --------
    >>> round(float(saturation_pressure(24.5)), 3)
    3.075
    """
    celsius = np.asarray(temperature, dtype=np.float64)
    return np.asarray(0.6108 * np.exp(17.27 * celsius / (celsius + 237.3)))


def dew_point(vapour_pressure: ArrayLike) -> NDArray[np.float64]:
    r"""Temperature at which air of this vapour pressure is saturated.

    Parameters
    ----------
    vapour_pressure : array_like of float, shape (...)
        Vapour pressure, more than 0 [kPa].

    Returns
    -------
    ndarray of float, shape (...)
        Dew point [degC].

    Notes
    -----
    The inverse of Eq. 11 of [1]_:

    .. math:: T_{dew} = \frac{237.3\,\ln(e_a / 0.6108)}{17.27 - \ln(e_a / 0.6108)}

    :math:`e_a` `vapour_pressure`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 11. From memory.
    """
    ratio = np.log(np.asarray(vapour_pressure, dtype=np.float64) / 0.6108)
    return np.asarray(237.3 * ratio / (17.27 - ratio))


def vapour_pressure_from_rh(
    tmax: ArrayLike,
    tmin: ArrayLike,
    *,
    rh_max: ArrayLike | None = None,
    rh_min: ArrayLike | None = None,
    rh_mean: ArrayLike | None = None,
) -> NDArray[np.float64]:
    r"""Mean vapour pressure of the day from relative humidity, by the best rule at hand.

    Missing values (NaN) stay missing in the result.

    Parameters
    ----------
    tmax, tmin : array_like of float, shape (...)
        Highest and lowest air temperature of the day [degC].
    rh_max, rh_min, rh_mean : array_like of float, shape (...), optional
        Highest, lowest and mean relative humidity of the day [%]. At least one.

    Returns
    -------
    ndarray of float, shape (...)
        Vapour pressure [kPa].

    Notes
    -----
    In this order, day by day (Eq. 17, 18, 19 of [1]_):

    .. math::
        e_a &= \tfrac12 \left[e^\circ(T_{min}) RH_{max} + e^\circ(T_{max}) RH_{min}\right] / 100 \\
        e_a &= e^\circ(T_{min})\, RH_{max} / 100 \\
        e_a &= \tfrac12 \left[e^\circ(T_{max}) + e^\circ(T_{min})\right] RH_{mean} / 100

    and, where the lowest humidity alone is known, :math:`e^\circ(T_{max}) RH_{min} / 100`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 17 to 19. From memory.
    """
    warm, cold = saturation_pressure(tmax), saturation_pressure(tmin)
    high = _or_missing(rh_max, warm) / 100.0
    low = _or_missing(rh_min, warm) / 100.0
    mean = _or_missing(rh_mean, warm) / 100.0
    result = (cold * high + warm * low) / 2.0
    for stand_in in (cold * high, (warm + cold) / 2.0 * mean, warm * low):
        result = np.where(np.isnan(result), stand_in, result)
    return result


def _or_missing(value: ArrayLike | None, like: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.full_like(like, np.nan) if value is None else np.asarray(value, dtype=np.float64)
