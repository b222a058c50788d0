"""Reference evapotranspiration and the radiation behind it: the one module that knows pyet.

pyet wants latitude in radians, works on series with a date index and joins them on the dates
that they share. Here latitude is in degrees, arrays must already have the same days, and what
comes back is a plain array.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from bedtide.checks import choice, consecutive_days, in_range
from bedtide.errors import FieldError, TimeAxisError
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

__all__ = [
    "METHODS",
    "clear_sky_radiation",
    "daylight_hours",
    "extraterrestrial_radiation",
    "hargreaves",
    "net_radiation",
    "penman_monteith",
    "reference_et",
]

Method = Literal["penman-monteith", "hargreaves"]
METHODS: tuple[Method, ...] = ("penman-monteith", "hargreaves")

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]


def extraterrestrial_radiation(days: Days, latitude: float) -> Floats:
    r"""Solar radiation on a level plane above the air.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates [d].
    latitude : float
        Latitude, north positive [degree].

    Returns
    -------
    ndarray of float, shape (time,)
        Daily sum [MJ m-2 d-1].

    Notes
    -----
    .. math:: R_a = \frac{24 \cdot 60}{\pi} G_{sc} d_r
              [\omega_s \sin\varphi \sin\delta + \cos\varphi \cos\delta \sin\omega_s]

    Eq. 21 to 25 of [1]_, :math:`G_{sc}` = 0.0820 MJ m-2 min-1, :math:`\varphi` `latitude`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 21. From memory.
    """
    from pyet.meteo_utils import extraterrestrial_r

    result = extraterrestrial_r(_index(days), _radians(latitude))
    return np.maximum(np.asarray(result, dtype=np.float64), 0.0)


def daylight_hours(days: Days, latitude: float) -> Floats:
    r"""Hours from sunrise to sunset.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates [d].
    latitude : float
        Latitude, north positive [degree].

    Returns
    -------
    ndarray of float, shape (time,)
        Hours [h].

    Notes
    -----
    .. math:: N = 24\,\omega_s / \pi

    Eq. 34 of [1]_, :math:`\omega_s` the sunset hour angle at `latitude`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 34. From memory.
    """
    from pyet.meteo_utils import daylight_hours as pyet_daylight_hours

    return np.asarray(pyet_daylight_hours(_index(days), _radians(latitude)), dtype=np.float64)


def clear_sky_radiation(extraterrestrial: ArrayLike, elevation: float) -> Floats:
    r"""Solar radiation that reaches the ground on a cloudless day.

    Parameters
    ----------
    extraterrestrial : array_like of float, shape (...)
        Radiation above the air [MJ m-2 d-1].
    elevation : float
        Height above the sea [m].

    Returns
    -------
    ndarray of float, shape (...)
        Daily sum [MJ m-2 d-1].

    Notes
    -----
    .. math:: R_{so} = (0.75 + 2 \cdot 10^{-5} z) R_a

    Eq. 37 of [1]_, :math:`z` `elevation`, :math:`R_a` `extraterrestrial`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 37. From memory.
    """
    from pyet.rad_utils import calc_rso

    result = calc_rso(ra=np.asarray(extraterrestrial, dtype=np.float64), elevation=elevation)
    return np.asarray(result, dtype=np.float64)


def net_radiation(
    *,
    days: Days,
    tmax: ArrayLike,
    tmin: ArrayLike,
    vapour_pressure: ArrayLike,
    solar_radiation: ArrayLike,
    latitude: float,
    elevation: float,
) -> Floats:
    r"""Net radiation of the grass reference, albedo 0.23.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates [d].
    tmax, tmin : array_like of float, shape (time,)
        Highest and lowest air temperature [degC].
    vapour_pressure : array_like of float, shape (time,)
        Mean vapour pressure [kPa].
    solar_radiation : array_like of float, shape (time,)
        Solar radiation on the ground [MJ m-2 d-1].
    latitude : float
        Latitude, north positive [degree].
    elevation : float
        Height above the sea [m].

    Returns
    -------
    ndarray of float, shape (time,)
        Net radiation, positive toward the ground [MJ m-2 d-1].

    Notes
    -----
    .. math:: R_n = 0.77 R_s - \sigma \frac{T_{max,K}^4 + T_{min,K}^4}{2}
              (0.34 - 0.14\sqrt{e_a}) (1.35 R_s / R_{so} - 0.35)

    Eq. 38 to 40 of [1]_, :math:`R_s` `solar_radiation`, :math:`e_a` `vapour_pressure`.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 38 to 40. From memory.
    """
    from pyet.rad_utils import calc_rad_net

    when = _index(days)
    warm, cold, vapour, sun = _columns(when, tmax, tmin, vapour_pressure, solar_radiation)
    result = calc_rad_net(
        tmean=(warm + cold) / 2.0,
        rs=sun,
        lat=_radians(latitude),
        tmax=warm,
        tmin=cold,
        elevation=elevation,
        ea=vapour,
    )
    return np.asarray(result, dtype=np.float64)


def penman_monteith(
    *,
    days: Days,
    tmax: ArrayLike,
    tmin: ArrayLike,
    vapour_pressure: ArrayLike,
    wind_speed: ArrayLike,
    solar_radiation: ArrayLike,
    latitude: float,
    elevation: float,
    soil_heat: float = 0.0,
) -> Floats:
    r"""Evapotranspiration of the grass reference by FAO-56 Penman-Monteith.

    Answers: how much water would a wide, short, well-watered lawn lose on this day. No value
    may be missing. Less than nothing (dew on a winter night) counts as nothing.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates [d].
    tmax, tmin : array_like of float, shape (time,)
        Highest and lowest air temperature [degC].
    vapour_pressure : array_like of float, shape (time,)
        Mean vapour pressure [kPa].
    wind_speed : array_like of float, shape (time,)
        Mean wind 2 m above the ground [m s-1].
    solar_radiation : array_like of float, shape (time,)
        Solar radiation on the ground [MJ m-2 d-1].
    latitude : float
        Latitude, north positive [degree].
    elevation : float
        Height above the sea [m].
    soil_heat : float, default 0.0
        Heat into the soil; 0 for days [MJ m-2 d-1].

    Returns
    -------
    ndarray of float, shape (time,)
        Reference evapotranspiration [m d-1].

    Raises
    ------
    TimeAxisError
        If a column has another number of days than `days`.
    RangeError
        If latitude, elevation or any value is out of range or not finite.

    Notes
    -----
    .. math:: ET_0 = \frac{0.408 \Delta (R_n - G) + \gamma \frac{900}{T + 273} u_2 (e_s - e_a)}
              {\Delta + \gamma (1 + 0.34 u_2)}

    Eq. 6 of [1]_ in mm, :math:`G` `soil_heat`, :math:`u_2` `wind_speed`, :math:`T` the mean of
    `tmax` and `tmin`, :math:`e_s` of Eq. 12. Computed by pyet [2]_.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 6. From memory.
    .. [2] Vremec M., Collenteur R.A., Birk S. (2024). PyEt v1.3.1. Geoscientific Model
       Development 17: 7083-7103. From memory.
    """
    from pyet import pm_fao56

    in_range(elevation, -430.0, 6000.0, where="elevation", unit="m")
    when = _index(days)
    warm, cold, vapour, wind, sun = _columns(
        when, tmax, tmin, vapour_pressure, wind_speed, solar_radiation
    )
    depth = pm_fao56(
        tmean=(warm + cold) / 2.0,
        wind=wind,
        rs=sun,
        g=soil_heat,
        tmax=warm,
        tmin=cold,
        ea=vapour,
        elevation=elevation,
        lat=_radians(latitude),
    )
    return np.asarray(depth, dtype=np.float64) / 1000.0


def hargreaves(*, days: Days, tmax: ArrayLike, tmin: ArrayLike, latitude: float) -> Floats:
    r"""Reference evapotranspiration from temperature alone.

    The last resort: nothing is known of wind, humidity or sunshine.

    Parameters
    ----------
    days : ndarray of datetime64, shape (time,)
        Dates [d].
    tmax, tmin : array_like of float, shape (time,)
        Highest and lowest air temperature [degC].
    latitude : float
        Latitude, north positive [degree].

    Returns
    -------
    ndarray of float, shape (time,)
        Reference evapotranspiration [m d-1].

    Notes
    -----
    .. math:: ET_0 = 0.0023 (T + 17.8) \sqrt{T_{max} - T_{min}}\; 0.408\, R_a

    Eq. 52 of [1]_ in mm, :math:`T` the mean of `tmax` and `tmin`. Where we differ from pyet's
    own function: it divides :math:`R_a` by a latent heat that changes with temperature, the
    paper by 2.45 MJ kg-1, so only :math:`R_a` is taken from it.

    References
    ----------
    .. [1] Allen et al. (1998). FAO Irrigation and Drainage Paper 56. Eq. 52. From memory.
    """
    warm, cold = (series.to_numpy() for series in _columns(_index(days), tmax, tmin))
    sun = 0.408 * extraterrestrial_radiation(days, latitude)
    mean = (warm + cold) / 2.0
    return np.maximum(0.0023 * (mean + 17.8) * np.sqrt(warm - cold) * sun, 0.0) / 1000.0


def reference_et(
    weather: xr.Dataset,
    *,
    latitude: float | None = None,
    elevation: float | None = None,
    method: Method = "penman-monteith",
) -> xr.DataArray:
    """Reference evapotranspiration of a weather record.

    Parameters
    ----------
    weather : Dataset
        With ``time`` (days) and ``tmax``, ``tmin``; for Penman-Monteith also
        ``vapour_pressure``, ``wind_speed`` and ``solar_radiation``, in the units of the glossary.
    latitude : float, optional
        Latitude, north positive [degree]. By default the record's own attribute.
    elevation : float, optional
        Height above the sea [m]. By default the record's own attribute.
    method : {"penman-monteith", "hargreaves"}
        Equation to use.

    Returns
    -------
    DataArray
        ``et0`` (time,) [m d-1].

    Raises
    ------
    FieldError
        If a column, the latitude or the elevation is missing.
    TimeAxisError
        If the days are not consecutive.
    RangeError
        If a value is missing or out of range.
    ChoiceError
        If there is no such method.

    See Also
    --------
    penman_monteith, hargreaves : the equations and their sources.
    """
    import xarray as xr

    route = choice(method, METHODS, where="method")
    needed = ["tmax", "tmin"]
    if route == "penman-monteith":
        needed += ["vapour_pressure", "wind_speed", "solar_radiation"]
    missing = [name for name in needed if name not in weather]
    if missing:
        raise FieldError("weather", f"{', '.join(missing)} not in the record")
    place: dict[str, float] = {}
    for name, given in (("latitude", latitude), ("elevation", elevation)):
        if given is None and name not in weather.attrs:
            raise FieldError(
                "weather", f"the {name} is not known", hint=f"Give {name}= to the function"
            )
        place[name] = float(weather.attrs[name] if given is None else given)
    days = consecutive_days(weather["time"].values, where="weather")
    columns: dict[str, Any] = {name: weather[name].values for name in needed}
    if route == "hargreaves":
        values = hargreaves(days=days, latitude=place["latitude"], **columns)
    else:
        values = penman_monteith(
            days=days, latitude=place["latitude"], elevation=place["elevation"], **columns
        )
    return xr.DataArray(
        values, coords={"time": weather["time"]}, name="et0", attrs=attributes("et0")
    )


def _index(days: Days) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(np.asarray(days).astype("datetime64[ns]"))


def _radians(latitude: float) -> float:
    return float(np.deg2rad(in_range(latitude, -90.0, 90.0, where="latitude", unit="degrees")))


def _columns(index: pd.DatetimeIndex, *columns: ArrayLike) -> list[Any]:
    """Series that share one index; refuses other lengths, which pyet would join in silence."""
    made = []
    for column in columns:
        values = np.asarray(column, dtype=np.float64)
        if values.shape != index.shape:
            raise TimeAxisError(
                "weather", f"a column has {values.size} values for {index.size} days"
            )
        in_range(values, -1e6, 1e6, where="weather", unit="")
        made.append(pd.Series(values, index=index))
    return made
