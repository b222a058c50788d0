"""Where rainy spells lie in a record."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.crop import crop_days
from bedtide.errors import RangeError
from bedtide.many.spells import RainSpell, Wanted, wettest_spell, with_rain
from bedtide.many.years import repeated

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["Placed", "place_spells", "room_around", "rooted_days", "undated"]

_STANDING = 7  # days that plants stand after a spell, for it to be looked for among them


class Placed(NamedTuple):
    """A spell and the record that holds it.

    Attributes
    ----------
    spell : RainSpell
        Where it lies.
    weather : Dataset, dims (time,)
        The record, with the spell's rain in it where that was stated.
    """

    spell: RainSpell
    weather: xr.Dataset


def rooted_days(beds: Sequence[Bed], weather: xr.Dataset) -> NDArray[np.bool_]:
    """Days of a record on which something grows in at least one of the beds.

    Parameters
    ----------
    beds : sequence of Bed
        The beds.
    weather : Dataset, dims (time,)
        A daily record.

    Returns
    -------
    ndarray of bool, shape (time,)
        Every day where nothing ever grows in any of them: a bare bed is looked at all the year.
    """
    days = weather["time"].to_numpy().astype("datetime64[D]")
    wind, humidity = weather["wind_speed"].to_numpy(), weather["rh_min"].to_numpy()
    found = np.zeros(days.size, dtype=bool)
    for plantings in dict.fromkeys(bed.plantings for bed in beds):
        found |= crop_days(plantings, days, wind_speed=wind, rh_min=humidity).root_depth > 0.0
    return found if found.any() else np.ones(days.size, dtype=bool)


def place_spells(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    wanted: Sequence[Wanted],
    *,
    first: datetime.date | None = None,
) -> list[Placed]:
    """Where the spells lie in the record.

    Parameters
    ----------
    beds : sequence of Bed
        The beds that will go through them.
    weather : Dataset, dims (time,)
        A daily record.
    wanted : sequence of Wanted
        The spells that are asked for.
    first : date, optional
        First day of the spell. Where left out, it is the wettest stretch of that length while
        something grows in the beds, and for a week after; the rain of a stated spell takes the
        place of that rain, so that the days are as dull as rainy days are.

    Returns
    -------
    list of Placed
        One for each.

    Raises
    ------
    RangeError
        If the days are not in the record, or the record has no rain to look for.
    """
    among = None if first is not None else _lasting(rooted_days(undated(beds), weather))
    found = []
    for each in wanted:
        if first is None:
            try:
                spell = wettest_spell(weather, each.days, among=among)
            except RangeError:
                if each.rain is None or weather.sizes["time"] < each.days:
                    raise
                axis = weather["time"].to_numpy().astype("datetime64[D]")
                spell = RainSpell(axis[axis.size // 2].item(), each.days, 0.0)
        else:
            spell = _on(weather, first, each.days)
        held = weather
        if each.rain is not None:
            held = with_rain(weather, spell.first, each)
            spell = RainSpell(spell.first, each.days, each.days * each.rain, stated=True)
        found.append(Placed(spell, held))
    return found


def undated(beds: Sequence[Bed]) -> list[Bed]:
    """The beds with their full dates taken as days of every year.

    Parameters
    ----------
    beds : sequence of Bed
        The beds.

    Returns
    -------
    list of Bed
        The same, in order.
    """
    return [repeated(bed)[0] for bed in beds]


def room_around(placed: Placed) -> tuple[int, int]:
    """Days of the record before a spell and after it.

    Parameters
    ----------
    placed : Placed
        The spell in its record.

    Returns
    -------
    tuple of int
        How many before, and how many after [d].
    """
    axis = placed.weather["time"].to_numpy().astype("datetime64[D]")
    at = int((np.datetime64(placed.spell.first, "D") - axis[0]).astype(np.int64))
    return at, axis.size - at - placed.spell.days


def _lasting(rooted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rooted days whose plants stand another week, so that their recovery is seen; else all."""
    later = np.zeros_like(rooted)
    later[:-_STANDING] = rooted[_STANDING:]
    both = rooted & later
    return both if both.any() else rooted


def _on(weather: xr.Dataset, first: datetime.date, days: int) -> RainSpell:
    """The stretch of the record from a day on."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    at = int((np.datetime64(first, "D") - axis[0]).astype(np.int64))
    if at < 0 or at + days > axis.size:
        raise RangeError(
            "wet spell",
            f"{days} days from {first} are not all in the weather record",
            expected=f"days from {axis[0]} to {axis[-1]}",
        )
    return RainSpell(first, days, float(weather["rain"].to_numpy()[at : at + days].sum()))
