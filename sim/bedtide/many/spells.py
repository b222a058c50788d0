"""Rainy spells: the wettest of a record, or one that is stated and put into it."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import ChoiceError, InputError, RangeError, raise_all, shown
from bedtide.units import parse
from bedtide.weather import usual_rain_hours

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["LENGTHS", "RainSpell", "Wanted", "parse_spells", "wettest_spell", "with_rain"]

LENGTHS = (3, 7, 14)
"""Lengths of the spells that are looked for where none is asked for [d]; our choice."""

_LONGEST, _MOST_RAIN, _MOST_TEXT = 60, 0.5, 200  # days, metres a day, characters
_STATED = re.compile(r"^\s*(?P<days>.+?)\s+(?:of|x|\u00d7)\s+(?P<rain>.+?)\s*$")
_EXPECTED = 'the length of a spell to look for, such as "7 days", or one such as "10 days of 20 mm"'


@dataclass(frozen=True)
class Wanted:
    """A spell that is asked for.

    Attributes
    ----------
    days : int
        Its length [d].
    rain : float or None
        Rain on each of its days [m]; None for the wettest of the record.
    """

    days: int
    rain: float | None = None


@dataclass(frozen=True)
class RainSpell:
    """A spell on its days.

    Attributes
    ----------
    first : date
        Its first day.
    days : int
        Its length [d].
    rain : float
        All its rain on open ground [m].
    stated : bool
        Whether its rain was put there; else the record holds it.
    """

    first: datetime.date
    days: int
    rain: float
    stated: bool = False


def parse_spells(text: str, *, where: str = "--wet-spell") -> list[Wanted]:
    """Spells from text such as ``"3, 7, 14 days"`` or ``"10 days of 20 mm"``.

    Parameters
    ----------
    text : str
        Lengths with commas between them, or one stated spell.
    where : str, default "--wet-spell"
        Where it was given, for messages.

    Returns
    -------
    list of Wanted
        In the order given.

    Raises
    ------
    ChoiceError
        If it is neither.
    RangeError
        If a length or a rain is not one that can be.

    Examples
    --------
    >>> parse_spells("10 days of 20 mm")
    [Wanted(days=10, rain=0.02)]
    """
    if len(text) > _MOST_TEXT:
        raise ChoiceError(where, f'"{shown(text)}" is not a rainy spell', expected=_EXPECTED)
    stated = _STATED.match(text)
    if stated:
        days = _days(stated["days"], text, where)
        rain = parse(stated["rain"].removesuffix(" a day"), "m", where=where)
        if not 0.0 < rain <= _MOST_RAIN:
            raise RangeError(
                where,
                f'"{text}": {stated["rain"]} a day is no rain that could be',
                expected=f"more than 0 mm and at most {_MOST_RAIN * 1000:.0f} mm a day",
            )
        return [Wanted(days, rain)]
    found, errors = [], []
    for part in text.split(","):
        try:
            found.append(Wanted(_days(part, text, where)))
        except InputError as error:
            errors.append(error)
    raise_all(errors[:1])
    return list(dict.fromkeys(found))


def wettest_spell(
    weather: xr.Dataset, days: int, *, among: NDArray[np.bool_] | None = None
) -> RainSpell:
    """The stretch of a record with the most rain, the first of equals.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record; ``rain`` [m d-1].
    days : int
        Length of the stretch [d].
    among : ndarray of bool, shape (time,), optional
        Days that it may hold [1]; every day of the record where left out.

    Returns
    -------
    RainSpell
        The spell.

    Raises
    ------
    RangeError
        If the record has no such stretch, or no rain on any.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    rain = weather["rain"].to_numpy()
    allowed = np.ones(axis.size, dtype=bool) if among is None else among
    if axis.size < days:
        raise RangeError(
            "wet spell", f"{days} days are more than the record of {axis.size} days holds"
        )
    sums = np.lib.stride_tricks.sliding_window_view(rain, days).sum(axis=-1)
    whole = np.lib.stride_tricks.sliding_window_view(allowed, days).all(axis=-1)
    sums = np.where(whole, sums, -1.0)
    at = int(sums.argmax())
    if sums[at] <= 0.0:
        raise RangeError(
            "wet spell",
            f"no {days} days of the record with plants in the bed bring rain",
            expected="a record with rain in the growing season",
            hint='State one, such as "10 days of 20 mm"',
        )
    return RainSpell(axis[at].item(), days, float(sums[at]))


def with_rain(weather: xr.Dataset, first: datetime.date, wanted: Wanted) -> xr.Dataset:
    """A record with the rain of some days replaced, and its hours; all else stays as it was.

    Parameters
    ----------
    weather : Dataset, dims (time,)
        A daily record; not changed.
    first : date
        First day of the spell.
    wanted : Wanted
        Its length and its rain.

    Returns
    -------
    Dataset, dims (time,)
        The record with the spell in it.

    Raises
    ------
    RangeError
        If the record does not hold all its days.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    at = int((np.datetime64(first, "D") - axis[0]).astype(np.int64))
    if at < 0 or at + wanted.days > axis.size:
        raise RangeError(
            "wet spell",
            f"{wanted.days} days from {first} are not all in the weather record",
            expected=f"days from {axis[0]} to {axis[-1]}",
        )
    rain = weather["rain"].to_numpy().copy()
    rain[at : at + wanted.days] = wanted.rain
    changed = weather.copy()
    changed["rain"] = ("time", rain, weather["rain"].attrs)
    if "rain_hours" in weather:
        hours = weather["rain_hours"].transpose("time", "hour").to_numpy().copy()
        hours[at : at + wanted.days] = usual_rain_hours(wanted.days)
        changed["rain_hours"] = (("time", "hour"), hours, weather["rain_hours"].attrs)
    return changed


def _days(text: str, whole: str, where: str) -> int:
    """Length of a spell [d]."""
    match = re.fullmatch(r"\s*(\d{1,6})\s*(?:d|days?)?\s*", text)
    if match is None:
        raise ChoiceError(where, f'"{whole}" is not a rainy spell', expected=_EXPECTED)
    days = int(match[1])
    if not 1 <= days <= _LONGEST:
        raise RangeError(where, f'"{whole}": {days} days', expected=f"from 1 to {_LONGEST} days")
    return days
