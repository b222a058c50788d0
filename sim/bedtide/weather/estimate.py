"""Stand-ins for what was not measured (FAO-56 chapter 3), every one of them counted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.weather.et0 import (
    clear_sky_radiation,
    daylight_hours,
    extraterrestrial_radiation,
)
from bedtide.weather.gaps import DailyColumns, count_text
from bedtide.weather.humidity import saturation_pressure, vapour_pressure_from_rh

__all__ = [
    "ASSUMED_WIND",
    "Demand",
    "fill_in",
    "radiation_from_sunshine",
    "radiation_from_temperature",
    "wind_at_2m",
]

Setting = Literal["inland", "coast"]
ASSUMED_WIND = 2.0
"""Wind where none was measured [m s-1]: FAO-56 chapter 3, from memory."""

_RANGE_FACTOR = {"inland": 0.16, "coast": 0.19}
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Demand:
    """What reference evapotranspiration needs, complete.

    Attributes
    ----------
    vapour_pressure : ndarray of float
        Mean vapour pressure [kPa].
    rh_min : ndarray of float
        Lowest relative humidity [%].
    wind_speed : ndarray of float
        Wind 2 m above the ground [m s-1].
    solar_radiation : ndarray of float
        Solar radiation [MJ m-2 d-1].
    estimated : ndarray of int8
        How many of humidity, wind and radiation are stand-ins that day.
    none_measured : bool
        Not one of the three was measured on any day.
    sentences : list of str
        What was assumed, with counts.
    """

    vapour_pressure: Floats
    rh_min: Floats
    wind_speed: Floats
    solar_radiation: Floats
    estimated: NDArray[np.int8]
    none_measured: bool
    sentences: list[str]


def wind_at_2m(wind_speed: ArrayLike, height: float) -> Floats:
    r"""Wind 2 m above short grass from wind at another height.

    Parameters
    ----------
    wind_speed : array_like of float, shape (...)
        Wind at `height` [m s-1].
    height : float
        Height of the gauge above the ground [m].

    Returns
    -------
    ndarray of float, shape (...)
        Wind at 2 m [m s-1].

    Notes
    -----
    .. math:: u_2 = u_z \frac{4.87}{\ln(67.8 z - 5.42)}

    Eq. 47 of [1]_, :math:`u_z` `wind_speed`, :math:`z` `height`. At 2 m the factor is 1 within
    0.04 %, and is taken as exactly 1.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 47. From memory.

    Examples
    --------
    >>> round(float(wind_at_2m(3.2, 10.0)), 1)
    2.4
    """
    speed = np.asarray(wind_speed, dtype=np.float64)
    return speed * (1.0 if height == 2.0 else 4.87 / np.log(67.8 * height - 5.42))


def radiation_from_sunshine(sunshine: ArrayLike, daylight: ArrayLike, above: ArrayLike) -> Floats:
    r"""Solar radiation from hours of sunshine.

    Parameters
    ----------
    sunshine : array_like of float, shape (...)
        Hours of bright sun [h]. More than `daylight` counts as `daylight`.
    daylight : array_like of float, shape (...)
        Hours from sunrise to sunset [h].
    above : array_like of float, shape (...)
        Radiation above the air [MJ m-2 d-1].

    Returns
    -------
    ndarray of float, shape (...)
        Solar radiation [MJ m-2 d-1].

    Notes
    -----
    .. math:: R_s = (0.25 + 0.50\, n / N) R_a

    Eq. 35 of [1]_ with the coefficients that it gives where none were calibrated;
    :math:`n` `sunshine`, :math:`N` `daylight`, :math:`R_a` `above`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 35. From memory.
    """
    hours = np.asarray(daylight, dtype=np.float64)
    share = np.minimum(np.asarray(sunshine, dtype=np.float64) / np.maximum(hours, 1e-6), 1.0)
    return np.where(hours > 0, 0.25 + 0.50 * share, 0.25) * np.asarray(above, dtype=np.float64)


def radiation_from_temperature(
    tmax: ArrayLike, tmin: ArrayLike, above: ArrayLike, *, setting: Setting = "inland"
) -> Floats:
    r"""Solar radiation from the range of temperature of the day: clear days range widely.

    Parameters
    ----------
    tmax, tmin : array_like of float, shape (...)
        Highest and lowest air temperature [degC].
    above : array_like of float, shape (...)
        Radiation above the air [MJ m-2 d-1].
    setting : {"inland", "coast"}
        Where the site is.

    Returns
    -------
    ndarray of float, shape (...)
        Solar radiation [MJ m-2 d-1], not capped at clear sky.

    Notes
    -----
    .. math:: R_s = k_{Rs} \sqrt{T_{max} - T_{min}}\, R_a

    Eq. 50 of [1]_, :math:`k_{Rs}` 0.16 inland and 0.19 on a coast, :math:`R_a` `above`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 50. From memory.
    """
    spread = np.asarray(tmax, dtype=np.float64) - np.asarray(tmin, dtype=np.float64)
    return _RANGE_FACTOR[setting] * np.sqrt(spread) * np.asarray(above, dtype=np.float64)


def fill_in(
    daily: DailyColumns,
    *,
    latitude: float,
    elevation: float,
    setting: Setting = "inland",
) -> Demand:
    """Humidity, wind and radiation of each day, measured or by a stand-in.

    Parameters
    ----------
    daily : DailyColumns
        Temperature and rain complete, the others as far as they go, wind at 2 m.
    latitude : float
        Latitude, north positive [degree].
    elevation : float
        Height above the sea [m].
    setting : {"inland", "coast"}
        Where the site is.

    Returns
    -------
    Demand
        Complete columns, and sentences with counts.

    Notes
    -----
    Dew point at the lowest temperature: Eq. 48 of [1]_. Radiation by `radiation_from_sunshine`,
    else by `radiation_from_temperature`, capped at clear sky. Wind 2 m/s. Lowest humidity from
    vapour pressure and highest temperature: Eq. 10.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Chapter 3. From memory.
    """
    total = len(daily.days)
    none = np.full(total, np.nan)
    get = daily.columns.get
    warm, cold = daily.columns["tmax"], daily.columns["tmin"]
    sentences: list[str] = []

    vapour = np.array(get("vapour_pressure", none))
    dew = saturation_pressure(get("dew_point", none))
    vapour = np.where(np.isnan(vapour), dew, vapour)
    from_rh = vapour_pressure_from_rh(
        warm, cold, rh_max=get("rh_max"), rh_min=get("rh_min"), rh_mean=get("rh_mean")
    )
    vapour = np.where(np.isnan(vapour), from_rh, vapour)
    dry = np.isnan(vapour)
    vapour = np.where(dry, saturation_pressure(cold), vapour)
    if dry.any():
        sentences.append(
            f"Humidity was not measured {count_text(int(dry.sum()), total)}; the dew point was "
            "taken to be the lowest temperature of the day."
        )
    most = (saturation_pressure(warm) + saturation_pressure(cold)) / 2.0
    over = vapour > most * 1.005
    if over.any():
        sentences.append(
            f"The air held more vapour than it can {count_text(int(over.sum()), total)}; it was "
            "taken as saturated."
        )
    vapour = np.minimum(vapour, most)
    lowest = np.array(get("rh_min", none))
    from_vapour = np.minimum(100.0 * vapour / saturation_pressure(warm), 100.0)
    lowest = np.where(np.isnan(lowest), from_vapour, lowest)

    measured_wind = np.array(get("wind_speed", none))
    calm = np.isnan(measured_wind)
    wind = np.where(calm, ASSUMED_WIND, measured_wind)
    if calm.any():
        sentences.append(
            f"Wind was not measured {count_text(int(calm.sum()), total)}; 2 m/s was assumed."
        )

    above = extraterrestrial_radiation(daily.days, latitude)
    clear = clear_sky_radiation(above, elevation)
    sun = np.array(get("solar_radiation", none))
    hours = get("sunshine", none)
    by_hours = np.isnan(sun) & ~np.isnan(hours)
    if by_hours.any():
        daylight = daylight_hours(daily.days, latitude)
        sun = np.where(by_hours, radiation_from_sunshine(hours, daylight, above), sun)
        sentences.append(
            "Solar radiation was worked out from the hours of sunshine "
            f"{count_text(int(by_hours.sum()), total)}."
        )
    dark = np.isnan(sun)
    if dark.any():
        guess = radiation_from_temperature(warm, cold, above, setting=setting)
        sun = np.where(dark, np.minimum(guess, clear), sun)
        sentences.append(
            f"Solar radiation was not measured {count_text(int(dark.sum()), total)}; it was "
            "estimated from the difference between the highest and the lowest temperature "
            f"({'near a coast' if setting == 'coast' else 'away from the coast'})."
        )
    estimated = dry.astype(np.int8) + calm.astype(np.int8) + dark.astype(np.int8)
    none_measured = bool(dry.all() and calm.all() and dark.all())
    return Demand(vapour, lowest, wind, sun, estimated, none_measured, sentences)
