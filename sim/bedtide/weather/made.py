r"""Made-up daily weather from twelve monthly normals.

The generator is that of Richardson (1981) [1]_ with the short cuts of Geng et al. (1986) [2]_ for
places of which only monthly means are known: a chain of wet and dry days, gamma amounts of rain,
and highest temperature, lowest temperature and radiation that remember the day before and hang
together as Matalas (1967) [3]_ arranges it. Nothing in it is weather of a day that was.

What such weather lacks: its years and its long droughts differ less from one another than real
ones do (Katz & Parlange 1998 [4]_), because nothing in it lasts longer than some days.

References
----------
.. [1] Richardson C.W. (1981). Stochastic simulation of daily precipitation, temperature, and solar
   radiation. Water Resour. Res. 17: 182-190. From memory.
.. [2] Geng S., Penning de Vries F.W.T., Supit I. (1986). A simple method for generating daily
   rainfall data. Agric. For. Meteorol. 36: 363-376. From memory; the same figures read in open code
   of climate science.
.. [3] Matalas N.C. (1967). Mathematical assessment of synthetic hydrology. Water Resour. Res. 3:
   937-945. From memory.
.. [4] Katz R.W., Parlange M.B. (1998). Overdispersion phenomenon in stochastic modeling of
   precipitation. J. Climate 11: 591-601. From memory.
.. [5] Rymes M.D., Myers D.R. (2001). Mean preserving algorithm for smoothly interpolating averaged
   data. Solar Energy 71: 225-231. Method read in open code of climate science.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, gammaincinv, log_ndtr, ndtr
from scipy.special import gamma as gamma_of

from bedtide.weather.et0 import (
    clear_sky_radiation,
    extraterrestrial_radiation,
    radiation_from_sunshine,
    radiation_from_temperature,
)
from bedtide.weather.normals import LENGTHS, MONTH_OF_DAY, YEAR, Normals
from bedtide.weather.options import Setting

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MEMORY: Final = 0.25
"""Chance of rain after a wet day less that after a dry one [1]; Geng et al. (1986)."""

SAME_DAY: Final = np.array(((1.0, 0.633, 0.186), (0.633, 1.0, -0.193), (0.186, -0.193, 1.0)))
"""Correlations of highest, lowest temperature and radiation on one day (M0); means of 31 places in
the USA, Richardson (1982) as in Richardson & Wright (1984), ARS-8. From memory."""

DAY_BEFORE: Final = np.array(
    ((0.621, 0.445, 0.087), (0.563, 0.674, -0.100), (0.015, -0.091, 0.251))
)
"""Correlations with the day before (M1): rows of today, columns of yesterday. From memory; the
matrices A and B that follow are those in print (read in open code) within 0.003."""

_LAST_YEAR = 2024  # of a made-up record
_COOLER = 0.25  # a wet day's high below a dry one's, as a share of the mean range; our choice
_DULLER = 0.55  # radiation of a wet day over that of a dry one; our choice
_BRIGHTEST = 0.98  # mean share of clear sky that can still vary; our choice
_DARKEST = 0.10  # share of clear sky that the darkest day lets through; our choice
_GATHERED = 5.0  # how closely shares of clear sky lie about their mean (a + b of beta); our choice
_WIND_SHAPE = 4.0  # of the gamma distribution of the day's wind: it varies by half; our choice
_MOST_RAIN = 1500.0  # of a day [mm]; 1825 have been measured, from memory
_HEADS = {
    "tmax": "tmax (C)",
    "tmin": "tmin (C)",
    "solar_radiation": "solar radiation (MJ/m2)",
    "rain": "rain (mm)",
    "wind_speed": "wind at 2 m (m/s)",
}
_COLDEST, _HOTTEST = -89.0, 56.5  # [degC]; about what has been measured, from memory


def smooth_days(
    monthly: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    low: float = -np.inf,
    high: float = np.inf,
) -> Floats:
    """Days of a year (365,) whose months have these means (12,), without a jump between them.

    Rymes & Myers (2001) [5]_: each day becomes the mean of itself and its neighbours, and each
    month is moved back to its mean, 365 times over. With bounds we move it in proportion to the
    distance from the bound, so that no day passes it. `weights` (365,) of days in the mean of
    their month [1]: a month without weight is filled in from its neighbours.
    """
    target = np.asarray(monthly, dtype=np.float64)
    weight = np.ones(len(YEAR)) if weights is None else np.asarray(weights, dtype=np.float64)
    total = np.bincount(MONTH_OF_DAY, weights=weight, minlength=12)
    known = total > 1e-9
    target = np.where(known, target, _between(target, known))
    values = target[MONTH_OF_DAY]
    for _ in range(len(YEAR)):
        values = (np.roll(values, 1) + values + np.roll(values, -1)) / 3.0
        mean = np.bincount(MONTH_OF_DAY, weights=weight * values, minlength=12)
        mean = np.where(known, mean / np.where(known, total, 1.0), target)
        miss = target - mean
        step = miss[MONTH_OF_DAY]
        with np.errstate(divide="ignore", invalid="ignore"):
            down = np.where(mean > low, (target - low) / (mean - low), 1.0)[MONTH_OF_DAY]
            up = np.where(mean < high, (high - target) / (high - mean), 1.0)[MONTH_OF_DAY]
            lowered = low + (values - low) * down if np.isfinite(low) else values + step
            raised = high - (high - values) * up if np.isfinite(high) else values + step
        values = np.where(step < 0.0, lowered, raised)
    return values


def _between(target: Floats, known: Flags) -> Floats:
    """Values of the months that have none, on a line between those that have; 0 without any."""
    at = np.flatnonzero(known)
    return np.interp(np.arange(12), at, target[at], period=12) if len(at) else np.zeros(12)


def wet_chances(share: ArrayLike) -> tuple[Floats, Floats]:
    r"""Chance [1] that a day is wet after a dry and a wet day, from the share of wet days [1].

    Geng et al. (1986): :math:`p_{01} = 0.75 f`, :math:`p_{11} = p_{01} + 0.25`. Here :math:`f`
    changes from day to day, so :math:`p_{01} = f_d - 0.25 f_{d-1}`, with which exactly a share
    :math:`f_d` of the days :math:`d` is wet. Where that would leave 0 to 1 the memory gives way.
    """
    now = np.asarray(share, dtype=np.float64)
    before = np.roll(now, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        least = np.where(before < 1.0, (now - before) / (1.0 - before), 0.0)
        after_dry = np.clip(np.maximum(now - MEMORY * before, least), 0.0, 1.0)
        after_wet = np.where(before > 0.0, (now - (1.0 - before) * after_dry) / before, 0.0)
    return after_dry, np.clip(after_wet, 0.0, 1.0)


def rain_shape(mean: ArrayLike) -> Floats:
    r"""Shape [1] of the gamma distribution of rain on wet days, from their mean [mm].

    Geng et al. (1986): scale :math:`\beta = -2.16 + 1.83 \mu`, shape :math:`\alpha = \mu / \beta`.
    Under 2.6 mm that would give a shape above 1 and then none at all; there we take 1.

    >>> rain_shape([1.0, 6.0, 20.0]).round(3).tolist()
    [1.0, 0.68, 0.581]
    """
    mu = np.asarray(mean, dtype=np.float64)
    return np.asarray(mu / np.maximum(-2.16 + 1.83 * mu, np.maximum(mu, 1e-9))).clip(max=1.0)


def memory_matrices() -> tuple[Floats, Floats]:
    r"""What is kept of the day before and what chance adds, to give the correlations above back.

    Matalas (1967): :math:`A = M_1 M_0^{-1}`, :math:`B B^T = M_0 - M_1 M_0^{-1} M_1^T`; of the many
    :math:`B` the lower triangle.

    >>> memory_matrices()[0].round(3)[0].tolist()
    [0.567, 0.086, -0.002]
    """
    a = DAY_BEFORE @ np.linalg.inv(SAME_DAY)
    return a, np.linalg.cholesky(SAME_DAY - a @ DAY_BEFORE.T)


def residuals(chance: ArrayLike) -> Floats:
    r"""Departures of high, low and radiation that remember the day before and hang together.

    Richardson (1981): :math:`\chi_d = A \chi_{d-1} + B \epsilon_d` with `chance` (n, 3) of the
    standard normal distribution; the first day is drawn from the distribution that all days have.
    """
    epsilon = np.asarray(chance, dtype=np.float64)
    a, b = memory_matrices()
    new = epsilon @ b.T
    made = np.empty_like(new)
    made[0] = np.linalg.cholesky(SAME_DAY) @ epsilon[0]
    for day in range(1, len(made)):
        made[day] = a @ made[day - 1] + new[day]
    return made


def temperature_spread(high: ArrayLike, low: ArrayLike) -> Floats:
    r"""Standard deviation of highest temperatures by month [K]; that of the lowest is 0.85 of it.

    Normals do not say it. :math:`\sigma = 1.5 + 0.12 R + 0.07 (\bar T - T)`, at least 1, with
    :math:`T` the month's mean temperature, :math:`\bar T` and :math:`R` mean and range of the
    twelve: small near the equator and by a sea, large inland and in winter. Our own rule, no
    source; the mean of the months is 3.6 K in four years of Seattle, the rule gives 3.3 there.
    """
    mean = (np.asarray(high, dtype=np.float64) + np.asarray(low, dtype=np.float64)) / 2.0
    return np.asarray(np.maximum(1.5 + 0.12 * np.ptp(mean) + 0.07 * (mean.mean() - mean), 1.0))


def made_weather(
    normals: Normals, *, years: int = 30, seed: int = 1, setting: Setting = "inland"
) -> tuple[Days, dict[str, Floats]]:
    """Made-up days of a climate, the last year 2024, with columns as a file has them, rounded.

    They are ``tmax``, ``tmin`` [degC], ``solar_radiation`` [MJ m-2 d-1], ``rain`` [mm] and, where
    the normals have wind, ``wind_speed`` at 2 m [m s-1]. The same seed makes the same days again.

    * Rain of a wet day is the least that makes a rain day and a gamma amount above it.
    * The high of a wet day lies a quarter of the mean range below that of a dry one; the low does
      not know of rain (as in Richardson & Wright 1984, from memory).
    * The low is normal. The range above it has the mean and the variance that two correlated
      normals give (to 2 %), but a Weibull distribution, so that no high falls below its low; the
      shape is the coefficient of variation to the power of -1.086 (Justus et al. 1978, J. Appl.
      Meteorol. 17: 350-353, from memory), and that coefficient at most 0.5.
    * Radiation is a share of clear sky (FAO-56 Eq. 37), :math:`0.1 + 0.9 k`, :math:`k` of a beta
      distribution, so that none exceeds it; of a wet day on average 0.55 of a dry one's. Its mean
      comes from sunshine by FAO-56 Eq. 35, else from the range by Eq. 50.
    * Both follow Richardson's departures by their rank.
    """
    # RandomState and not Generator: its streams are promised never to change.
    random = np.random.RandomState(seed)
    first, end = f"{_LAST_YEAR + 1 - years}-01-01", f"{_LAST_YEAR + 1}-01-01"
    days = np.arange(first, end, dtype="datetime64[D]")
    at = _day_of_year(days)
    count = len(days)
    draw, amounts, wind = random.random_sample((3, count))
    high_of, low_of, sun_of = residuals(random.standard_normal((count, 3))).T

    share = smooth_days(normals.rain_days / LENGTHS, low=0.0, high=1.0)
    after_dry, after_wet = wet_chances(share)
    wet = _wet_days(draw, after_dry[at], after_wet[at], float(share[at[0]]))
    rain = np.where(wet, _amounts(normals, share, at, amounts), 0.0)

    range_ = smooth_days(normals.high - normals.low, low=0.0)[at]
    of_wet, of_dry = 1.0 - (1.0 - share[at]) * _COOLER, 1.0 + share[at] * _COOLER
    range_ = range_ * np.where(wet, of_wet, of_dry)
    spread = smooth_days(temperature_spread(normals.high, normals.low), low=0.0)[at]
    tmin = smooth_days(normals.low)[at] + 0.85 * spread * low_of
    apart = (1.0 + 0.85**2 - 2.0 * 0.85 * SAME_DAY[0, 1]) ** 0.5
    # 1 / shape of a Weibull distribution from its coefficient of variation: Justus et al. (1978)
    power = np.minimum(apart * spread / range_, 0.5) ** 1.086
    rank = (0.85 * low_of - high_of) / apart
    tmax = tmin + range_ * (-log_ndtr(rank)) ** power / gamma_of(1.0 + power)

    above = extraterrestrial_radiation(days, normals.latitude)
    clear = clear_sky_radiation(above, normals.elevation)
    mean = _share_of_clear_sky(normals, setting)[at]
    dry = np.minimum(mean / (1.0 - share[at] * (1.0 - _DULLER)), _BRIGHTEST)
    with np.errstate(divide="ignore", invalid="ignore"):
        dull = np.where(share[at] > 0.0, (mean - (1.0 - share[at]) * dry) / share[at], dry)
    mean = (np.where(wet, dull, dry) - _DARKEST) / (1.0 - _DARKEST)
    mean = np.clip(mean, 0.02, _BRIGHTEST)
    lit = betaincinv(_GATHERED * mean, _GATHERED * (1.0 - mean), ndtr(sun_of))
    columns = {
        "tmax": np.round(np.clip(tmax, _COLDEST, _HOTTEST), 1),
        "tmin": np.round(np.clip(tmin, _COLDEST, _HOTTEST), 1),
        "solar_radiation": np.floor(clear * (_DARKEST + (1.0 - _DARKEST) * lit) * 100.0) / 100.0,
        "rain": rain,
    }
    if normals.wind is not None:
        speed = smooth_days(normals.wind, low=0.0)[at]
        columns["wind_speed"] = np.round(
            np.maximum(speed * gammaincinv(_WIND_SHAPE, wind) / _WIND_SHAPE, 0.1), 1
        )
    return days, columns


def made_text(
    normals: Normals, *, years: int = 30, seed: int = 1, setting: Setting = "inland"
) -> str:
    """A weather file of made-up days, which says in its first line what it is."""
    days, columns = made_weather(normals, years=years, seed=seed, setting=setting)
    radiation = "sunshine" if normals.sunshine is not None else f"the range ({setting})"
    length = "1 year" if years == 1 else f"{years} years"
    lines = [
        f"# Made-up weather, {length} from {normals.source}, seed {seed}. No day was measured.",
        f"# place: {normals.name} (made-up weather)",
        f"# latitude: {normals.latitude:g}",
        f"# elevation: {normals.elevation:g} m",
        "# rain day: midnight",
        "# Means of the months are those of the source; years and long droughts differ less here"
        " than in nature.",
        f"# A rain day has {normals.least_rain:g} mm or more. Radiation follows from {radiation}.",
        "# Made after Richardson (1981), Water Resour. Res. 17, 182-190.",
        ",".join(["date", *(_HEADS[name] for name in columns)]),
    ]
    texts = [
        [f"{value + 0.0:.{2 if name == 'solar_radiation' else 1}f}" for value in values.tolist()]
        for name, values in columns.items()
    ]
    # + 0.0 turns -0.0 into 0.0
    lines += map(",".join, zip(days.astype(str).tolist(), *texts, strict=True))
    return "\n".join(lines) + "\n"


def _day_of_year(days: Days) -> NDArray[np.int64]:
    """Index into a year of 365 days; 29 February is taken as the 28th."""
    index = pd.DatetimeIndex(days)
    late = index.is_leap_year & (index.day_of_year > 59)
    return np.asarray(index.day_of_year - 1 - late, dtype=np.int64)


def _wet_days(draw: Floats, after_dry: Floats, after_wet: Floats, first: float) -> Flags:
    """Whether each day is wet, the day before the first with the chance `first`."""
    wet = np.empty(len(draw), dtype=bool)
    wet[0] = draw[0] < first
    for day in range(1, len(draw)):
        wet[day] = draw[day] < (after_wet if wet[day - 1] else after_dry)[day]
    return wet


def _amounts(normals: Normals, share: Floats, at: NDArray[np.int64], chance: Floats) -> Floats:
    """Rain of each day, were it wet [mm]."""
    with np.errstate(divide="ignore", invalid="ignore"):
        monthly = np.where(normals.rain_days > 0.0, normals.rain / normals.rain_days, 0.0)
    above = np.maximum(monthly - normals.least_rain, 0.0)
    mean = smooth_days(above, share, low=0.0)[at]
    shape = rain_shape(mean + normals.least_rain)
    rain = normals.least_rain + mean * gammaincinv(shape, chance) / shape
    return np.asarray(np.clip(np.round(rain, 1), 0.1, _MOST_RAIN))


def _share_of_clear_sky(normals: Normals, setting: Setting) -> Floats:
    """Mean radiation over that of a clear sky on each day of a year [1], FAO-56 Eq. 35 or 50."""
    above = extraterrestrial_radiation(YEAR, normals.latitude)
    clearest = float(clear_sky_radiation(1.0, normals.elevation))
    if normals.sunshine is not None:
        sunshine = smooth_days(normals.sunshine, above, low=0.0, high=1.0)
        share = radiation_from_sunshine(sunshine, 1.0, 1.0)
    else:
        range_ = smooth_days(normals.high - normals.low, low=0.0)
        share = radiation_from_temperature(range_, 0.0, 1.0, setting=setting)
    return np.clip(share / clearest, 0.15, _BRIGHTEST)
