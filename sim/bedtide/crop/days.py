"""Demand, cover and roots of all plantings of a bed, day by day."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.checks import consecutive_days, finite, in_range
from bedtide.crop.coefficients import adjusted_coefficient, cover_fraction, upper_coefficient
from bedtide.crop.planting import Planting, Season, seasons, stage_lengths
from bedtide.errors import RangeError, TimeAxisError

EXPOSURE = (0.3, 1.5)
"""Least and largest exposure of a bed [1]; a judgement, see `crop_days`."""

HIGHEST_KCB = 2.5
"""Cap on the coefficient of an exposed or overhanging stand [1].

FAO-56 chapter 10, upper limit for small isolated stands, from memory.
"""

ROOT_START = 0.15
"""Depth of the roots on the day of planting [m]; FAO-56 annex 8, from memory."""

_TOTALS = ("kcb", "kc_max", "cover", "wetted_exposed", "root_depth")


class CropDays(NamedTuple):
    """What the plantings of a bed ask for, one value a day, over the plan area of the bed.

    Attributes
    ----------
    kcb : ndarray of float, shape (time,)
        Basal crop coefficient; zero where bare [1].
    kc_max : ndarray of float, shape (time,)
        Upper limit of the crop coefficient [1].
    cover : ndarray of float, shape (time,)
        Share of the bed that leaves shade [1].
    wetted_exposed : ndarray of float, shape (time,)
        Share of the surface open to sun, before any mulch [1].
    root_depth : ndarray of float, shape (time,)
        Depth of the roots, mean by area of what grows; zero where bare [m].
    kcb_each, root_depth_each : ndarray of float, shape (time, plantings)
        Basal crop coefficient over the plan area of the bed [1] and rooting depth [m] of each
        planting; zero where it does not grow.
    area_each : ndarray of float, shape (plantings,)
        Share of the bed of each [1].
    """

    kcb: NDArray[np.float64]
    kc_max: NDArray[np.float64]
    cover: NDArray[np.float64]
    wetted_exposed: NDArray[np.float64]
    root_depth: NDArray[np.float64]
    kcb_each: NDArray[np.float64]
    root_depth_each: NDArray[np.float64]
    area_each: NDArray[np.float64]


def crop_days(
    plantings: Sequence[Planting],
    days: NDArray[np.datetime64],
    *,
    wind_speed: ArrayLike,
    rh_min: ArrayLike,
    exposure: float = 1.0,
) -> CropDays:
    r"""Demand, cover and roots of all plantings of a bed, day by day.

    Answers: how much would the plants use on each day, and how much of the surface lies open.
    Bare mix before, between and after the plantings: no transpiration, evaporation only.

    Parameters
    ----------
    plantings : sequence of Planting
        What grows, in any order; none is bare mix.
    days : ndarray of datetime64, shape (time,)
        Consecutive days [d].
    wind_speed : array_like of float, shape (time,)
        Wind speed at 2 m [m s-1].
    rh_min : array_like of float, shape (time,)
        Lowest relative humidity of the day [%].
    exposure : float, default 1.0
        Factor on demand for where the bed stands, 0.3 to 1.5 [1]: above 1 for a small stand
        open to wind on all sides, below 1 in shade or shelter.

    Returns
    -------
    CropDays
        Arrays of shape (time,).

    Raises
    ------
    TimeAxisError
        If days are not consecutive, or the weather has another length.
    RangeError
        If `exposure` is out of range, weather is not finite, or plantings take more than the bed.

    Notes
    -----
    The coefficient runs in straight lines (Eq. 66 of [1]_) through the climate-adjusted values of
    the stages, adjusted by the mean weather of the days of the mid-season, and of the late stage,
    that the record holds. Height grows with the coefficient until mid-season, roots in a straight
    line from 0.15 m at planting to their full depth at mid-season (annex 8 of [1]_).

    With :math:`a` area share, :math:`c` canopy, :math:`x` exposure, summed over plantings, each
    at most 2.5 on its own area,

    .. math:: K_{cb} = \sum a\, x\, c\, k_{cb}, \qquad
              K_{c,max} = \sum a\, x\, [k_{c,max} + (c - 1) k_{cb}] + (1 - \sum a)\, x\, 1.2

    so that leaves beyond the rim add transpiration and the energy for it, and leave evaporation
    from the surface as it was. Exposure: potted plants three heights apart transpired 1.5 times
    as much as those in a dense group [2]_; 1.1 to 1.5 for one bed in an open yard is a judgement.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
       Irrigation and Drainage Paper 56, Rome. From memory.
    .. [2] Hagishima A., Narita K., Tanimoto J. (2007). Field experiment on transpiration from
       isolated urban plants. Hydrol. Process. 21: 1217-1222. Abstract read.
    """
    axis = consecutive_days(days, where="days")
    wind = _same_length(wind_speed, axis.size, "wind speed")
    humidity = _same_length(rh_min, axis.size, "lowest relative humidity")
    factor = float(
        in_range(exposure, *EXPOSURE, where="exposure", unit="", hint="1 is an ordinary garden")
    )
    total = {name: np.zeros(axis.size) for name in _TOTALS}
    each = {name: np.zeros((axis.size, len(plantings))) for name in ("kcb", "root_depth")}
    live = np.zeros(axis.size)
    first = int(axis[0].astype(np.int64))
    for number, planting in enumerate(plantings):
        own = {name: values[:, number] for name, values in each.items()}
        for season in seasons(planting, axis[0].item(), axis[-1].item()):
            _add(total, own, live, planting, season, first, wind, humidity, factor)
    _check_area(live, axis, plantings)
    bare = np.maximum(1.0 - live, 0.0)
    total["kc_max"] += bare * factor * upper_coefficient(0.0, wind_speed=2.0, rh_min=45.0, height=0)
    growing = live > 0
    np.divide(total["root_depth"], live, out=total["root_depth"], where=growing)
    total["wetted_exposed"] = 1.0 - total["cover"]
    return CropDays(
        **total,
        kcb_each=each["kcb"],
        root_depth_each=each["root_depth"],
        area_each=np.array([planting.area_share for planting in plantings]),
    )


def _add(
    total: dict[str, NDArray[np.float64]],
    own: dict[str, NDArray[np.float64]],
    live: NDArray[np.float64],
    planting: Planting,
    season: Season,
    first: int,
    wind: NDArray[np.float64],
    humidity: NDArray[np.float64],
    exposure: float,
) -> None:
    """Add one season of one planting to the sums by area, and to its own."""
    begin = max(season.start - first, 0)
    end = min(season.start + season.length - first, live.size)
    at = slice(begin, end)
    day = np.arange(begin, end) + first - season.start + 1  # 1 on the day of planting
    crop, share = planting.crop, planting.area_share
    ends = np.cumsum(stage_lengths(planting))
    wind_at, humidity_at = wind[at], humidity[at]
    kcb_mid = _adjust(crop.kcb_mid, crop.height, day, (ends[1], ends[2]), wind_at, humidity_at)
    kcb_end = _adjust(crop.kcb_end, crop.height, day, (ends[2], day[-1]), wind_at, humidity_at)
    knots = (0, *ends)
    kcb = np.interp(day, knots, (crop.kcb_ini, crop.kcb_ini, kcb_mid, kcb_mid, kcb_end))
    young = crop.height * crop.kcb_ini / crop.kcb_mid
    height = np.interp(day, knots[:3], (young, young, crop.height))
    kc_max = upper_coefficient(kcb, wind_speed=wind_at, rh_min=humidity_at, height=height)
    start = min(ROOT_START, crop.root_depth)
    inside = np.minimum(exposure * kcb, HIGHEST_KCB)
    whole = np.minimum(planting.canopy * exposure * kcb, HIGHEST_KCB)
    live[at] += share
    total["kcb"][at] += share * whole
    total["kc_max"][at] += share * (exposure * kc_max + whole - inside)
    total["cover"][at] += share * cover_fraction(kcb, kc_max=kc_max, height=height)
    depth = np.interp(day, (0, ends[1]), (start, crop.root_depth))
    total["root_depth"][at] += share * depth
    own["kcb"][at] += share * whole
    own["root_depth"][at] = np.maximum(own["root_depth"][at], depth)


def _adjust(
    tabulated: float,
    height: float,
    day: NDArray[np.int64],
    stage: tuple[int, int],
    wind: NDArray[np.float64],
    humidity: NDArray[np.float64],
) -> float:
    """Coefficient adjusted by the mean weather of a stage, or of the season where it has none."""
    within = (day > stage[0]) & (day <= stage[1])
    if not within.any():
        within[:] = True
    mean_wind, mean_humidity = wind[within].mean(), humidity[within].mean()
    return float(
        adjusted_coefficient(tabulated, wind_speed=mean_wind, rh_min=mean_humidity, height=height)
    )


def _same_length(values: ArrayLike, size: int, where: str) -> NDArray[np.float64]:
    """Weather as floats, one for each day."""
    array = finite(values, where=where)
    if array.shape != (size,):
        raise TimeAxisError(
            where, f"it has {array.size} values for {size} days", expected="one value for each day"
        )
    return array


def _check_area(
    live: NDArray[np.float64], axis: NDArray[np.datetime64], plantings: Sequence[Planting]
) -> None:
    """Refuse plantings that together take more than the bed on any day."""
    over = np.flatnonzero(live > 1.0 + 1e-9)
    if over.size:
        names = ", ".join(planting.crop.name for planting in plantings)
        raise RangeError(
            "plantings",
            f"on {axis[over[0]]} they take {live[over[0]]:.0%} of the bed ({names})",
            expected="at most 100 % on any day",
            hint="Lower an area share, or let one be removed before the next is planted",
        )
