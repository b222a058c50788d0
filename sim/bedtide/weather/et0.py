"""Humidity, radiation, wind and reference evapotranspiration of the grass of FAO-56.

Equation numbers are those of Allen, Pereira, Raes & Smith (1998), Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56, from memory. This is the one module that knows pyet (Vremec,
Collenteur & Birk 2024, Geosci. Model Dev. 17: 7083-7103). pyet wants latitude in radians, works on
series with a date index and joins them on the dates that they share; here latitude is in degrees,
arrays must already have the same days, and what comes back is a plain array.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial, reduce
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from bedtide.chunks import by_chunk, on_dask
from bedtide.errors import (
    FieldError,
    Option,
    Pieces,
    TimeAxisError,
    choice,
    consecutive_days,
    in_range,
)
from bedtide.tables import attributes
from bedtide.weather.options import OPTIONS, Method, Setting

if TYPE_CHECKING:
    import xarray as xr

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]


def saturation_pressure(temperature: ArrayLike) -> Floats:
    """Vapour pressure of saturated air [kPa] at a temperature or dew point [degC]; Eq. 11.

    >>> round(float(saturation_pressure(24.5)), 3)
    3.075
    """
    celsius = np.asarray(temperature, dtype=np.float64)
    return np.asarray(0.6108 * np.exp(17.27 * celsius / (celsius + 237.3)))


def vapour_pressure_from_rh(
    tmax: ArrayLike,
    tmin: ArrayLike,
    *,
    rh_max: ArrayLike | None = None,
    rh_min: ArrayLike | None = None,
    rh_mean: ArrayLike | None = None,
) -> Floats:
    """Mean vapour pressure of the day [kPa] from temperatures [degC] and relative humidity [%].

    Day by day the best of Eq. 17 (highest and lowest), 18 (highest), 19 (mean), or the lowest
    humidity at the highest temperature. What is missing (NaN) in all stays missing.
    """
    warm, cold = saturation_pressure(tmax), saturation_pressure(tmin)
    high, low, mean = (
        np.full_like(warm, np.nan) if rh is None else np.asarray(rh, dtype=np.float64) / 100.0
        for rh in (rh_max, rh_min, rh_mean)
    )
    both = (cold * high + warm * low) / 2.0
    return first_known(both, cold * high, (warm + cold) / 2.0 * mean, warm * low)


def first_known(*columns: Floats) -> Floats:
    """Of each day the value of the first column that has one, in their unit."""
    return reduce(lambda best, other: np.where(np.isnan(best), other, best), columns)


def wind_at_2m(wind_speed: ArrayLike, height: float) -> Floats:
    """Wind 2 m above short grass [m s-1] from wind at another height [m]; Eq. 47.

    At 2 m the factor is 1 within 0.04 %, and is taken as exactly 1.

    >>> round(float(wind_at_2m(3.2, 10.0)), 1)
    2.4
    """
    speed = np.asarray(wind_speed, dtype=np.float64)
    return speed * (1.0 if height == 2.0 else 4.87 / np.log(67.8 * height - 5.42))


def extraterrestrial_radiation(days: Days, latitude: ArrayLike) -> Floats:
    r"""Solar radiation on a level plane above the air [MJ m-2 d-1] at a latitude [degree].

    Eq. 21 to 25: :math:`R_a = \frac{24 \cdot 60}{\pi} G_{sc} d_r [\omega_s \sin\varphi \sin\delta
    + \cos\varphi \cos\delta \sin\omega_s]`, :math:`G_{sc}` = 0.0820 MJ m-2 min-1.
    """
    from pyet.meteo_utils import extraterrestrial_r

    return np.maximum(_by_day_of_year(extraterrestrial_r, days, latitude), 0.0)


def daylight_hours(days: Days, latitude: ArrayLike) -> Floats:
    r"""Hours from sunrise to sunset [h] at a latitude [degree]; Eq. 34, :math:`24\omega_s/\pi`."""
    from pyet.meteo_utils import daylight_hours as pyet_daylight_hours

    return _by_day_of_year(pyet_daylight_hours, days, latitude)


def clear_sky_radiation(extraterrestrial: ArrayLike, elevation: ArrayLike) -> Floats:
    r"""Radiation that a cloudless sky lets through [MJ m-2 d-1] at a height [m]; Eq. 37.

    :math:`(0.75 + 2 \cdot 10^{-5} z) R_a`, with `extraterrestrial` in MJ m-2 d-1.
    """
    from pyet.rad_utils import calc_rso

    result = calc_rso(ra=np.asarray(extraterrestrial, dtype=np.float64), elevation=elevation)
    return np.asarray(result, dtype=np.float64)


def radiation_from_sunshine(sunshine: ArrayLike, daylight: ArrayLike, above: ArrayLike) -> Floats:
    """Solar radiation [MJ m-2 d-1] from hours of sun and of daylight [h]; Eq. 35.

    `above` is the radiation above the air [MJ m-2 d-1]. The coefficients are those that the paper
    gives where none were calibrated; more sun than daylight counts as daylight.
    """
    most = np.asarray(daylight, dtype=np.float64)
    share = np.minimum(np.asarray(sunshine, dtype=np.float64) / np.maximum(most, 1e-6), 1.0)
    return np.where(most > 0, 0.25 + 0.50 * share, 0.25) * np.asarray(above, dtype=np.float64)


def radiation_from_temperature(
    tmax: ArrayLike, tmin: ArrayLike, above: ArrayLike, *, setting: Setting = "inland"
) -> Floats:
    """Solar radiation [MJ m-2 d-1] from the day's range of temperature [degC]; Eq. 50.

    `above` is the radiation above the air [MJ m-2 d-1]; the result is not capped at clear sky.
    """
    factor = {"inland": 0.16, "coast": 0.19}[setting]
    spread = np.asarray(tmax, dtype=np.float64) - np.asarray(tmin, dtype=np.float64)
    return factor * np.sqrt(spread) * np.asarray(above, dtype=np.float64)


def penman_monteith(
    *,
    days: Days,
    tmax: ArrayLike,
    tmin: ArrayLike,
    vapour_pressure: ArrayLike,
    wind_speed: ArrayLike,
    solar_radiation: ArrayLike,
    latitude: ArrayLike,
    elevation: ArrayLike,
    soil_heat: float = 0.0,
) -> Floats:
    r"""How much water a wide, short, well-watered lawn loses on each day [m d-1]; Eq. 6.

    :math:`ET_0 = \frac{0.408 \Delta (R_n - G) + \gamma \frac{900}{T + 273} u_2 (e_s - e_a)}
    {\Delta + \gamma (1 + 0.34 u_2)}` in mm, :math:`T` the mean of `tmax` and `tmin` [degC],
    :math:`e_a` `vapour_pressure` [kPa], :math:`u_2` `wind_speed` at 2 m [m s-1], radiation and
    :math:`G` `soil_heat` in MJ m-2 d-1, latitude [degree], elevation [m]. No value may be missing.
    Less than nothing (dew on a winter night) counts as nothing. Weather is (..., time), latitude
    and elevation (...,): each place has the bits that it has alone.
    """
    from pyet import pm_fao56
    from pyet.meteo_utils import calc_press, extraterrestrial_r

    heights = in_range(elevation, *OPTIONS["elevation"].bounds, where=Option("elevation"), unit="m")
    warm, cold, vapour, wind, sun = _columns(
        days, tmax, tmin, vapour_pressure, wind_speed, solar_radiation
    )
    above = _by_day_of_year(extraterrestrial_r, days, latitude)
    shape = np.broadcast_shapes(warm.shape, above.shape, (*heights.shape, 1))
    clear = clear_sky_radiation(above, heights[..., None])
    pressure = np.reshape(
        [calc_press(height) for height in heights.reshape(-1).tolist()], heights.shape
    )

    def one_after_another(values: Floats) -> pd.Series:
        return pd.Series(np.broadcast_to(values, shape).reshape(-1))

    warm, cold = one_after_another(warm), one_after_another(cold)
    depth = pm_fao56(
        tmean=(warm + cold) / 2.0,
        wind=one_after_another(wind),
        rs=one_after_another(sun),
        g=soil_heat,
        tmax=warm,
        tmin=cold,
        ea=one_after_another(vapour),
        pressure=one_after_another(pressure[..., None]),
        rso=one_after_another(clear),
    )
    return np.asarray(depth, dtype=np.float64).reshape(shape) / 1000.0


def hargreaves(*, days: Days, tmax: ArrayLike, tmin: ArrayLike, latitude: ArrayLike) -> Floats:
    """Reference evapotranspiration [m d-1] from temperature [degC] alone, the last resort; Eq. 52.

    pyet's own function divides the radiation above the air by a latent heat that changes with
    temperature, the paper by 2.45 MJ kg-1 (x 0.408), so only that radiation is taken from it.
    """
    warm, cold = _columns(days, tmax, tmin)
    sun = 0.408 * extraterrestrial_radiation(days, latitude)
    mean = (warm + cold) / 2.0
    depth = np.maximum(0.0023 * (mean + 17.8) * np.sqrt(warm - cold) * sun, 0.0)
    return np.asarray(depth, dtype=np.float64) / 1000.0


EQUATIONS: dict[str, tuple[Callable[..., Floats], tuple[str, ...], tuple[str, ...]]] = {
    "penman-monteith": (
        penman_monteith,
        ("tmax", "tmin", "vapour_pressure", "wind_speed", "solar_radiation"),
        ("latitude", "elevation"),
    ),
    "hargreaves": (hargreaves, ("tmax", "tmin"), ("latitude",)),
}
"""Each method with what it takes of the days and of the place."""


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
    weather : Dataset, dims (time,) or (place, time)
        With ``time`` (days) and ``tmax``, ``tmin``; for Penman-Monteith also
        ``vapour_pressure``, ``wind_speed`` and ``solar_radiation``, in the units of the glossary.
    latitude : float, optional
        Latitude, north positive [degree]. By default the record's own, an attribute or a
        coordinate of the places.
    elevation : float, optional
        Height above the sea [m]. By default the record's own.
    method : {"penman-monteith", "hargreaves"}
        Equation to use.

    Returns
    -------
    DataArray
        ``et0`` (time,) or (place, time) [m d-1].

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

    Examples
    --------
    >>> from bedtide import read_weather, reference_et, sample_weather
    >>> weather = read_weather(sample_weather())
    >>> bool((reference_et(weather) == weather["et0"]).all())
    True

    See Also
    --------
    penman_monteith, hargreaves : the equations and their sources.
    """
    make = partial(by_chunk, _as_dataset) if on_dask(weather) else _as_dataset
    return make(weather, latitude=latitude, elevation=elevation, method=method)["et0"]


def _as_dataset(
    weather: xr.Dataset, *, latitude: float | None, elevation: float | None, method: Method
) -> xr.Dataset:
    """What `reference_et` gives, in memory."""
    import xarray as xr

    equation, needed, of_place = EQUATIONS[choice(method, EQUATIONS, where=Option("method"))]
    if missing := [name for name in needed if name not in weather]:
        raise FieldError("weather", f"{', '.join(missing)} not in the record")
    place: dict[str, ArrayLike] = {}
    for name, given in (("latitude", latitude), ("elevation", elevation)):
        if given is None and name not in weather.attrs and name not in weather.coords:
            raise FieldError(
                "weather", f"the {name} is not known", hint=Pieces("Give ", Option(name))
            )
        own = weather.attrs.get(name, weather.get(name)) if given is None else given
        place[name] = np.asarray(own, dtype=np.float64)
    days = consecutive_days(weather["time"].values, where="weather")
    columns: dict[str, Any] = {name: weather[name].transpose(..., "time").values for name in needed}
    values = equation(days=days, **{name: place[name] for name in of_place}, **columns)
    dims = weather["tmax"].transpose(..., "time").dims
    return xr.Dataset({"et0": (dims, values, attributes("et0"))}, coords=weather["tmax"].coords)


def _by_day_of_year(of: Callable[..., Any], days: Days, latitude: ArrayLike) -> Floats:
    """What pyet makes of the day of the year and of latitudes (...,) alone, (..., time)."""
    about = OPTIONS["latitude"]
    degrees = in_range(latitude, *about.bounds, where=Option("latitude"), unit=about.unit)
    number = pd.DatetimeIndex(days).day_of_year.to_numpy() - 1
    found = [_year_of(of, each)[number] for each in degrees.reshape(-1).tolist()]
    return np.reshape(found, (*degrees.shape, number.size))


@lru_cache(maxsize=512)
def _year_of(of: Callable[..., Any], latitude: float) -> Floats:
    """What pyet makes of each of the 366 days at a latitude [degree]; read only."""
    leap = np.arange(np.datetime64("2000-01-01"), np.datetime64("2001-01-01"))
    index = pd.DatetimeIndex(leap.astype("datetime64[ns]"))
    found = np.asarray(of(index, float(np.deg2rad(latitude))), dtype=np.float64)
    found.setflags(write=False)
    return found


def _columns(days: Days, *columns: ArrayLike) -> list[Any]:
    """Arrays (..., time) of these days; refuses other lengths, which pyet would join in silence."""
    made = []
    for column in columns:
        values = np.asarray(column, dtype=np.float64)
        if values.shape[-1:] != days.shape:
            raise TimeAxisError(
                "weather", f"a column has {values.size} values for {days.size} days"
            )
        made.append(in_range(values, -1e6, 1e6, where="weather", unit=""))
    return made
