"""Rainy spells: which are asked for, and where each lies in a record."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from bedtide.balance import days_of
from bedtide.bed import Bed
from bedtide.crop import crop_days
from bedtide.errors import ChoiceError, RangeError, shown
from bedtide.many.years import undated
from bedtide.units import parse
from bedtide.weather import usual_rain_hours

if TYPE_CHECKING:
    import xarray as xr

_LONGEST, _MOST_RAIN, _MOST_TEXT = 60, 0.5, 200  # days, metres a day, characters
_STANDING = 7  # days that plants stand after a spell, for it to be looked for among them
_STATED = re.compile(r"^\s*(?P<days>.+?)\s+(?:of|x|\u00d7)\s+(?P<rain>.+?)\s*$")
_EXPECTED = 'the length of a spell to look for, such as "7 days", or one such as "10 days of 20 mm"'


class Wanted(NamedTuple):
    """A spell that is asked for: its length [d]; the rain of each day [m] where it is stated."""

    days: int
    rain: float | None = None


class RainSpell(NamedTuple):
    """A spell on its days: the first, how many [d], all its rain on open ground [m]."""

    first: datetime.date
    days: int
    rain: float
    stated: bool = False  # whether its rain was put there; else the record holds it


class Placed(NamedTuple):
    """A spell and the record that holds it, with the spell's rain in it where that was stated."""

    spell: RainSpell
    weather: xr.Dataset

    @property
    def room(self) -> tuple[int, int]:
        """Days of the record before the spell and after it [d]."""
        at = (self.spell.first - _day(self.weather)).days
        return at, self.weather.sizes["time"] - at - self.spell.days


def parse_spells(text: str, *, where: str = "--wet-spell") -> list[Wanted]:
    """Spells from text such as ``"3, 7, 14 days"`` or ``"10 days of 20 mm"``, each of them once.

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
    return list(dict.fromkeys(Wanted(_days(part, text, where)) for part in text.split(",")))


def place_spells(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    wanted: Sequence[Wanted],
    *,
    first: datetime.date | None = None,
    air: NDArray[np.float64] | None = None,
) -> list[Placed]:
    """Where the spells lie in the record that these beds will go through, one for each.

    Without a `first` day it is the wettest stretch of that length while something grows in the
    beds, and for a week after; where the `air` of roots is known (time,), the one that left them
    the least, of the stretches with at least half as much rain as the wettest. The rain of a stated
    spell takes the place of that rain, so that the days are as dull as rainy days are.
    """
    among = None if first is not None else _rooted_days(undated(beds), weather)
    found = []
    for each in wanted:
        held, days = weather, each.days
        if first is not None:
            at = _stretch(weather, first, days)
            spell = RainSpell(first, days, float(weather["rain"][at : at + days].sum()))
        else:
            try:
                spell = wettest_spell(weather, days, among=among, air=air)
            except RangeError:
                if each.rain is None or weather.sizes["time"] < days:
                    raise
                middle = weather.sizes["time"] // 2  # no rain to take the place of
                spell = RainSpell(_day(weather, middle), days, 0.0)
        if each.rain is not None:
            held = with_rain(weather, spell.first, each)
            spell = RainSpell(spell.first, days, days * each.rain, stated=True)
        found.append(Placed(spell, held))
    return found


def wettest_spell(
    weather: xr.Dataset,
    days: int,
    *,
    among: NDArray[np.bool_] | None = None,
    air: NDArray[np.float64] | None = None,
) -> RainSpell:
    """The stretch of a record with the most rain, the first of equals, `among` these days alone.

    Where `air` is known (time,), the one with the least of it, of those with half of that rain.
    """
    rain = weather["rain"].to_numpy()
    if rain.size < days:
        raise RangeError(
            "wet spell",
            f"{days} days are more than the record of {rain.size} days holds",
            expected='a longer record, or a shorter spell, such as  --spell "3 days"',
        )
    sums = sliding_window_view(rain, days).sum(axis=-1)
    if among is not None:
        sums = np.where(sliding_window_view(among, days).all(axis=-1), sums, -1.0)
    at = int(sums.argmax())
    if sums[at] <= 0.0:
        raise RangeError(
            "wet spell",
            f"no {days} days of the record with plants in the bed bring rain",
            expected="a record with rain in the growing season",
            hint='State one, such as "10 days of 20 mm"',
        )
    if air is not None:
        means = sliding_window_view(air, days).mean(axis=-1)
        hardest = np.where(sums >= 0.5 * sums[at], means, np.inf)
        at = int(hardest.argmin()) if np.isfinite(hardest).any() else at
    return RainSpell(_day(weather, at), days, float(sums[at]))


def with_rain(weather: xr.Dataset, first: datetime.date, wanted: Wanted) -> xr.Dataset:
    """A copy of a record with the rain of some days replaced, and its hours."""
    at = _stretch(weather, first, wanted.days)
    rain = weather["rain"].to_numpy().copy()
    rain[at : at + wanted.days] = wanted.rain
    changed = weather.copy()
    changed["rain"] = ("time", rain, weather["rain"].attrs)
    if "rain_hours" in weather:
        hours = weather["rain_hours"].transpose("time", "hour").to_numpy().copy()
        hours[at : at + wanted.days] = usual_rain_hours(wanted.days)
        changed["rain_hours"] = (("time", "hour"), hours, weather["rain_hours"].attrs)
    return changed


def whole_record(weather: xr.Dataset) -> Placed:
    """The record as one spell: every day of it counts."""
    rain = float(weather["rain"].sum())
    return Placed(RainSpell(_day(weather), weather.sizes["time"], rain), weather)


def _rooted_days(beds: Sequence[Bed], weather: xr.Dataset) -> NDArray[np.bool_]:
    """Days on which something grows in at least one of the beds; every day where nothing does.

    Of these, those whose plants stand another week, so that their recovery is seen, if there are.
    """
    days = days_of(weather)
    wind, humidity = weather["wind_speed"].to_numpy(), weather["rh_min"].to_numpy()
    rooted = np.zeros(days.size, dtype=bool)
    for plantings in dict.fromkeys(bed.plantings for bed in beds):
        rooted |= crop_days(plantings, days, wind_speed=wind, rh_min=humidity).root_depth > 0.0
    lasting = np.zeros_like(rooted)
    lasting[:-_STANDING] = rooted[:-_STANDING] & rooted[_STANDING:]
    return next((found for found in (lasting, rooted) if found.any()), ~rooted)


def _day(weather: xr.Dataset, at: int = 0) -> datetime.date:
    """A day of a record by its number."""
    day: datetime.date = days_of(weather)[at].item()
    return day


def _stretch(weather: xr.Dataset, first: datetime.date, days: int) -> int:
    """Where a stretch of days begins in the record, which must hold all of it."""
    at = (first - _day(weather)).days
    if at < 0 or at + days > weather.sizes["time"]:
        raise RangeError(
            "wet spell",
            f"{days} days from {first} are not all in the weather record",
            expected=f"days from {_day(weather)} to {_day(weather, -1)}",
        )
    return at


def _days(text: str, whole: str, where: str) -> int:
    """Length of a spell [d]."""
    match = re.fullmatch(r"\s*(\d{1,6})\s*(?:d|days?)?\s*", text)
    if match is None:
        raise ChoiceError(where, f'"{whole}" is not a rainy spell', expected=_EXPECTED)
    days = int(match[1])
    if not 1 <= days <= _LONGEST:
        raise RangeError(where, f'"{whole}": {days} days', expected=f"from 1 to {_LONGEST} days")
    return days
