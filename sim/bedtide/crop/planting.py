"""A crop in a bed: when it is planted and cleared, and what it asks for on every day."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.crop.coefficients import adjusted_coefficient, cover_fraction, upper_coefficient
from bedtide.crop.table import Crop
from bedtide.errors import (
    FieldError,
    InputError,
    RangeError,
    TimeAxisError,
    collect,
    consecutive_days,
    finite,
    in_range,
    raise_all,
)

MonthDay = tuple[int, int]
"""Month and day of the month, which come round every year."""

WIDEST_CANOPY = 2.0
"""Largest leaf area over bed area [1]; a judgement: plants that lean over the rim on all sides."""

_YEAR = 365
_EPOCH = datetime.date(1970, 1, 1)

EXPOSURE = (0.3, 1.5)
"""Least and largest exposure of a bed [1]; a judgement, see `crop_days`."""

EXPOSURES = {"lone bed": 1.2, "among plants": 1.0, "half shade": 0.85, "tunnel": 0.8}
"""Exposure of a bed by where it stands [1]; docs/physics/crop.md says from what.

A lone bed in sun and wind is the ordinary case and the default of a bed.
"""

HIGHEST_KCB = 2.5
"""Cap on the coefficient of an exposed or overhanging stand [1].

FAO-56 chapter 10, upper limit for small isolated stands, from memory.
"""

BARE_KC_MAX = 1.2
"""Upper limit of the crop coefficient of bare wet ground [1]; FAO-56 Eq. 72 at no height."""

ROOT_START = 0.15
"""Depth of the roots on the day of planting [m]; FAO-56 annex 8, from memory."""


@dataclass(frozen=True)
class Planting:
    """A crop in the bed; what can't be is a RangeError or a FieldError, all mistakes at once."""

    crop: Crop
    planted: datetime.date | MonthDay  # planting out, or emergence
    area_share: float = 1.0  # of the bed's plan area [1]
    canopy: float = 1.0  # leaf area over that area, where plants spread beyond the rim [1]
    stages: tuple[int, int, int, int] | None = None  # in place of the crop's [d]
    # The day on which it is cleared, before or after the end of its stages: kept longer, it goes on
    # as at their end. None clears it then. A perennial stays without it; with a month and day it is
    # grown as an annual.
    removed: datetime.date | MonthDay | None = None
    part: str = ""  # of the bed, where crops with the same name of it follow one another

    def __post_init__(self) -> None:
        name, errors = self.crop.name, list[InputError]()
        share, canopy = f"{name}, area share", f"{name}, canopy"
        collect(errors, self.area_share, 0.0, 1.0, where=share, unit="", open_low=True)
        collect(errors, self.canopy, 1.0, WIDEST_CANOPY, where=canopy, unit="")
        lengths = stage_lengths(self)
        if len(lengths) != 4 or min(lengths) < 1 or sum(lengths) > _YEAR:
            told = ", ".join(f"{length:g}" for length in lengths)
            expected = "four lengths of at least 1 day that add up to at most 365 days"
            errors.append(RangeError(f"{name}, stages", f"{told} days can't be", expected))
        for key in ("planted", "removed"):
            day = getattr(self, key)
            try:
                _ = isinstance(day, tuple) and datetime.date(2001, *day)
            except ValueError:
                problem = f"{day[0]:02d}-{day[1]:02d} is not a day of every year"
                leap = "The 29th of February is not in every year: take the 28th"
                expected, hint = "a month and day such as 05-15", leap if day == (2, 29) else ""
                errors.append(RangeError(f"{name}, {key}", problem, expected, hint=hint))
        raise_all(errors)
        where = f"{name}, removed"
        if isinstance(self.removed, datetime.date):
            if isinstance(self.planted, tuple):
                problem = "it is one date, but the planting comes round every year"
                raise FieldError(where, problem, "a month and day, as for the planting")
            if self.removed <= self.planted:
                problem = f"{self.removed} is not after the planting"
                raise RangeError(where, problem, f"a date after {self.planted}")
        elif self.removed is not None and self.removed == self.planted:
            raise RangeError(where, "it is the day of planting itself", "another day of the year")

    @property
    def perennial(self) -> bool:
        """Whether it stays in the bed and grows anew on the same day of every year."""
        return self.crop.kcb_dormant is not None and not isinstance(self.removed, tuple)


class Season(NamedTuple):
    """One season: its first day, counted from 1970-01-01, length [d], and whether roots were there.

    That of a perennial goes round the year, from the day on which it starts to grow.
    """

    start: int
    length: int
    rooted: bool = False


def stage_lengths(planting: Planting) -> tuple[int, int, int, int]:
    """Lengths of the four stages of a planting [d]: its own, or else the crop's."""
    return planting.crop.stages if planting.stages is None else planting.stages


def seasons(planting: Planting, first: datetime.date, last: datetime.date) -> list[Season]:
    """Seasons of a planting that touch a record, in order."""
    once = planting.planted if isinstance(planting.planted, datetime.date) else None
    if once is not None and not planting.perennial:
        starts = [once]
    else:
        # A perennial with a full date stands from that day on; all else has come round for ever.
        month, day = _every_year(planting.planted)
        years = range(max(first.year - 1, once.year if once else 1), last.year + 1)
        starts = [max(datetime.date(y, month, day), once or datetime.date.min) for y in years]
    found = []
    for start in starts:
        length = season_length(planting, start)
        if start <= last and length > 0 and start + datetime.timedelta(days=length - 1) >= first:
            rooted = planting.perennial and start != once
            found.append(Season((start - _EPOCH).days, length, rooted))
    return found


def season_length(planting: Planting, start: datetime.date) -> int:
    """Days from planting until it is cleared, of a perennial until it starts to grow anew [d]."""
    removed = planting.removed
    if isinstance(removed, tuple):
        return (_next(removed, start) - start).days
    ends = [removed] if removed else []
    if planting.perennial:
        ends.append(_next(_every_year(start), start))
    return (min(ends) - start).days if ends else sum(stage_lengths(planting))


def _next(day: MonthDay, start: datetime.date) -> datetime.date:
    """The first such day after a date."""
    this_year = datetime.date(start.year, *day)
    return this_year if this_year > start else datetime.date(start.year + 1, *day)


def _every_year(day: datetime.date | MonthDay) -> MonthDay:
    """Month and day, the last of February for the leap day."""
    found = day if isinstance(day, tuple) else (day.month, day.day)
    return (2, 28) if found == (2, 29) else found


class CropDays(NamedTuple):
    """What the plantings of a bed ask for, one value a day, over the plan area of the bed."""

    kcb: NDArray[np.float64]  # (..., time) basal crop coefficient; zero where bare [1]
    kc_max: NDArray[np.float64]  # (..., time) upper limit of the crop coefficient [1]
    cover: NDArray[np.float64]  # (..., time) share of the bed that leaves shade [1]
    wetted_exposed: NDArray[np.float64]  # (..., time) share open to sun, before any mulch [1]
    root_depth: NDArray[np.float64]  # (time,) mean by area of what grows; zero where bare [m]
    kcb_each: NDArray[np.float64]  # (..., time, plantings) of each; zero where it does not grow [1]
    root_depth_each: NDArray[np.float64]  # (time, plantings) its roots [m]
    area_each: NDArray[np.float64]  # (plantings,) share of the bed of each [1]


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
    wind_speed : array_like of float, shape (..., time)
        Wind speed at 2 m [m s-1], at one place or at several on the same days.
    rh_min : array_like of float, shape (..., time)
        Lowest relative humidity of the day [%].
    exposure : float, default 1.0
        Factor on demand for where the bed stands, 0.3 to 1.5 [1]: above 1 for a small stand
        open to wind on all sides, below 1 in shade or shelter.

    Returns
    -------
    CropDays
        Arrays of shape (..., time), or (time,) where the weather has no say.

    Raises
    ------
    TimeAxisError
        If days are not consecutive, or the weather has another length.
    RangeError
        If `exposure` is out of range, weather is not finite, plantings take more than the bed, or
        two stand in the same part at once.

    Notes
    -----
    The coefficient runs in straight lines (Eq. 66 of [1]_) through the climate-adjusted values of
    the stages, adjusted by the mean weather of the days of the mid-season, and of the late stage,
    that the record holds. Height grows with the coefficient until mid-season, roots in a straight
    line from 0.15 m at planting to their full depth at mid-season (annex 8 of [1]_). A perennial
    starts to grow on its day of every year; from the end of its stages until then it is dormant,
    with a coefficient of its own, and from its second year on its roots are always full grown.

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
    shape = np.broadcast_shapes(wind.shape, humidity.shape)
    factor = float(
        in_range(exposure, *EXPOSURE, where="exposure", unit="", hint="1 is an ordinary garden")
    )
    _check_parts(plantings)
    kcb, kc_max, cover = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    live, roots = np.zeros(axis.size), np.zeros(axis.size)
    kcb_each = np.zeros((*shape, len(plantings)))
    roots_each = np.zeros((axis.size, len(plantings)))
    first = int(axis[0].astype(np.int64))
    for number, planting in enumerate(plantings):
        share = planting.area_share
        for season in seasons(planting, axis[0].item(), axis[-1].item()):
            begin = max(season.start - first, 0)
            at = slice(begin, min(season.start + season.length - first, axis.size))
            day = np.arange(at.start, at.stop) + first - season.start + 1  # 1 when planted
            weather = {"wind_speed": wind[..., at], "rh_min": humidity[..., at]}
            plants = _grown(planting, season, day, **weather)
            upper = upper_coefficient(plants.kcb, height=plants.height, **weather)
            inside = np.minimum(factor * plants.kcb, HIGHEST_KCB)
            whole = np.minimum(planting.canopy * factor * plants.kcb, HIGHEST_KCB)
            live[at] += share
            kcb[..., at] += share * whole
            kc_max[..., at] += share * (factor * upper + whole - inside)
            shaded = cover_fraction(plants.kcb, kc_max=upper, height=plants.height)
            cover[..., at] += share * shaded
            roots[at] += share * plants.roots
            kcb_each[..., at, number] += share * whole
            roots_each[at, number] = np.maximum(roots_each[at, number], plants.roots)
    _check_area(live, axis, plantings)
    kc_max += np.maximum(1.0 - live, 0.0) * factor * BARE_KC_MAX
    np.divide(roots, live, out=roots, where=live > 0)
    area = np.array([planting.area_share for planting in plantings])
    return CropDays(kcb, kc_max, cover, 1.0 - cover, roots, kcb_each, roots_each, area)


class _Grown(NamedTuple):
    """Plants on the days of a season."""

    kcb: NDArray[np.float64]  # (..., time) before canopy and exposure [1]
    height: NDArray[np.float64]  # (time,) [m]
    roots: NDArray[np.float64]  # (time,) [m]


def _grown(
    planting: Planting,
    season: Season,
    day: NDArray[np.int64],
    *,
    wind_speed: NDArray[np.float64],
    rh_min: NDArray[np.float64],
) -> _Grown:
    """Coefficient, height and roots on some days of one season, counted from 1."""
    crop, ends = planting.crop, np.cumsum(stage_lengths(planting))

    def adjusted(tabulated: float, begin: int, end: int) -> NDArray[np.float64]:
        """By the mean weather of a stage, or of the season where the record has none of it."""
        low, high = np.searchsorted(day, (begin, end), side="right")
        within = slice(low, high) if high > low else slice(None)
        wind, humidity = (each[..., within].mean(axis=-1) for each in (wind_speed, rh_min))
        return adjusted_coefficient(tabulated, wind_speed=wind, rh_min=humidity, height=crop.height)

    middle = adjusted(crop.kcb_mid, ends[1], ends[2])
    late = adjusted(crop.kcb_end, ends[2], ends[3] if planting.perennial else day[-1])
    knots = (0, *ends)
    kcb = _through(day, knots, (crop.kcb_ini, crop.kcb_ini, middle, middle, late))
    if planting.perennial:
        kcb[..., day > ends[3]] = crop.kcb_dormant
    young = crop.height * crop.kcb_ini / crop.kcb_mid
    height = np.interp(day, knots[:3], (young, young, crop.height))
    start = min(ROOT_START, crop.root_depth)
    roots = np.interp(day, (0, ends[1]), (start, crop.root_depth))
    return _Grown(kcb, height, np.full(day.size, crop.root_depth) if season.rooted else roots)


def _through(
    day: NDArray[np.int64], knots: Sequence[int], values: Sequence[ArrayLike]
) -> NDArray[np.float64]:
    """Straight lines through values (...,) at some days, level after the last; (..., time)."""
    at = np.clip(np.searchsorted(knots, day, side="right") - 1, 0, len(knots) - 2)
    ends = np.stack(np.broadcast_arrays(*values), axis=-1)
    slope = np.diff(ends, axis=-1) / np.diff(knots)
    found = slope[..., at] * (day - np.array(knots)[at]) + ends[..., at]
    return np.asarray(np.where(day >= knots[-1], ends[..., -1:], found))


def _same_length(values: ArrayLike, size: int, where: str) -> NDArray[np.float64]:
    """Weather as floats, one for each day."""
    array = finite(values, where=where)
    if array.shape[-1:] != (size,):
        problem = f"it has {array.size} values for {size} days"
        raise TimeAxisError(where, problem, "one value for each day")
    return array


def _check_area(
    live: NDArray[np.float64], axis: NDArray[np.datetime64], plantings: Sequence[Planting]
) -> None:
    """Refuse plantings that together take more than the bed on any day."""
    over = np.flatnonzero(live > 1.0 + 1e-9)
    if not over.size:
        return
    day = axis[over[0]].item()
    taken = ", ".join(
        f"{each.crop.name} {each.area_share:.0%} ({_dates(each, season)})"
        for each in plantings
        for season in seasons(each, day, day)
    )
    problem = f"on {day} they take {live[over[0]]:.0%} of the bed: {taken}"
    hint = "Lower an area share, or let one be removed before the next is planted"
    raise RangeError("plantings", problem, "at most 100 % on any day", hint=hint)


def _check_parts(plantings: Sequence[Planting]) -> None:
    """Refuse two plantings that stand in the same part of the bed at once."""
    full = [each.planted for each in plantings if isinstance(each.planted, datetime.date)]
    first = min(full, default=datetime.date(2000, 1, 1))
    last = max(full, default=first) + datetime.timedelta(days=5 * _YEAR)
    for one, two in combinations(plantings, 2):
        if not one.part or one.part != two.part:
            continue
        part = f'in the part "{one.part}" {one.crop.name}'
        if abs(one.area_share - two.area_share) > 1e-9:
            shares = f"{one.area_share:.0%} of the bed and {two.crop.name} {two.area_share:.0%}"
            same = "one share for all that grow in the same part"
            raise RangeError("plantings", f"{part} takes {shares}", same)
        for a, b in product(seasons(one, first, last), seasons(two, first, last)):
            if a.start < b.start + b.length and b.start < a.start + a.length:
                raise RangeError(
                    "plantings",
                    f"{part} ({_dates(one, a)}) meets {two.crop.name} ({_dates(two, b)})",
                    "one crop after the other in the same part",
                    hint="Let the first be removed on the day on which the next is planted, "
                    "or give them parts of their own",
                )


def _dates(planting: Planting, season: Season) -> str:
    """First and last day of a season in words; without the year where it comes round."""
    ends = [_EPOCH + datetime.timedelta(days=season.start)]
    if planting.perennial and planting.removed is None:
        return "all year" if isinstance(planting.planted, tuple) else f"from {ends[0]} on"
    ends.append(ends[0] + datetime.timedelta(days=season.length - 1))
    short = isinstance(planting.planted, tuple)
    return " to ".join(day.isoformat()[5 if short else 0 :] for day in ends)
