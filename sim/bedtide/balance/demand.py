"""What each day brings to a bed and asks of it, and the days on which the keeper may fill."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed, Watering
from bedtide.crop import (
    CropDays,
    Planting,
    crop_days,
    dry_start,
    evaporation_coefficient,
    mulch_factor,
)

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Calendar = NDArray[np.datetime64]


ASKED = ("et0", "rain", "wind_speed", "rh_min")
"""What a run takes from the weather."""


class Demand(NamedTuple):
    """What the days of a record bring to one bed and ask of it, (time,) unless said."""

    rain_in: Array  # rain into the bed [m]
    energy: Array  # what the surface could lose if it were wet [m]
    uptake: Array  # (time, plantings) what each planting would take [m]
    depth: Array  # (time, plantings) how deep it roots [m]
    h3: Array  # (time, plantings) suction at which its uptake starts to fall [m]
    h4: Array  # (plantings,) suction at which its uptake ends [m]
    kcb: Array  # basal coefficient [1]
    cover: Array  # leaf cover [1]
    root_depth: Array  # mean rooting depth [m]
    et0: Array  # reference evapotranspiration [m]
    rain: Array  # rain on open ground [m]


def days_of(weather: xr.Dataset) -> Calendar:
    """Days of a record [d]."""
    return weather["time"].to_numpy().astype("datetime64[D]")


def demand_of(bed: Bed, weather: xr.Dataset) -> Demand:
    r"""Rain and demand of one bed over a record.

    Answers: how much falls in, how much would the plants take, how much could the surface lose.

    Parameters
    ----------
    bed : Bed
        Its plantings, cover, mulch and exposure.
    weather : Dataset, dims (time,) or (place, time)
        As :func:`bedtide.weather.read_weather` gives it, or several places on the same days.

    Returns
    -------
    Demand
        Of several places with these first, but for `depth`, `h4` and `root_depth`, on which the
        weather has no say. A roof keeps rain off, a cover keeps evaporation in; both leave the
        plants' demand.

    Notes
    -----
    The energy for evaporation is that of Eq. 71 of [1]_ for a wet surface, times the mulch factor
    and the bed's own factor on drying,

    .. math:: \min(K_{c,max} - K_{cb},\; f_{ew} K_{c,max})\, ET_0\, f_{mulch}\, f_{own}

    What the surface does lose is for the column to say: the drying layer of [1]_ (its Eq. 73 to
    77) is for soil wetted from above and is not used.

    References
    ----------
    .. [1] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
       Irrigation and Drainage Paper 56, Rome. From memory.
    """
    days = days_of(weather)
    et0 = weather["et0"].to_numpy()
    rain = weather["rain"].to_numpy()
    wind, humidity = (
        weather[name].to_numpy().astype(np.float64) for name in ("wind_speed", "rh_min")
    )
    if et0.ndim == 1:
        key = (days.tobytes(), wind.tobytes(), humidity.tobytes())
        crops = _crops(bed.plantings, bed.site.exposure, *key)
    else:
        crops = crop_days(
            bed.plantings, days, wind_speed=wind, rh_min=humidity, exposure=bed.site.exposure
        )
    exposed = np.minimum(crops.wetted_exposed, 1.0 - bed.surface.covered)
    energy = evaporation_coefficient(crops.kcb, crops.kc_max, exposed)
    energy = energy * et0 * float(mulch_factor(bed.surface.mulch_share)) * bed.surface.drying
    own = crops.kcb_each * et0[..., None]
    limits = np.array([(p.crop.h3_high, p.crop.h3_low, p.crop.h4) for p in bed.plantings])
    limits = limits.reshape(-1, 3)
    return Demand(
        rain_in=rain * bed.surface.open_to_rain,
        energy=energy,
        uptake=own,
        depth=crops.root_depth_each,
        h3=dry_start(own / crops.area_each, h3_high=limits[:, 0], h3_low=limits[:, 1]),
        h4=limits[:, 2],
        kcb=crops.kcb,
        cover=crops.cover,
        root_depth=crops.root_depth,
        et0=et0,
        rain=rain,
    )


def demands_of(beds: Sequence[Bed], weather: xr.Dataset) -> list[Demand]:
    """What each bed is brought and asked for, at each place in turn; like beds share one."""
    like = {asking(bed): bed for bed in beds}
    at = _at_places if "place" in weather.dims else _at_one
    known = {key: at(bed, weather) for key, bed in like.items()}
    return [each for bed in beds for each in known[asking(bed)]]


def asking(bed: Bed) -> object:
    """What its demand hangs on."""
    return (bed.plantings, bed.surface, bed.site.exposure)


def _at_one(bed: Bed, weather: xr.Dataset) -> list[Demand]:
    return [demand_of(bed, weather)]


def _at_places(bed: Bed, weather: xr.Dataset) -> list[Demand]:
    """At each place over its own days, since crops adjust to the weather of all of these."""
    axis, found = days_of(weather).size, dict[int, Demand]()
    before, size = _spans(weather)
    for begin, length in set(zip(before.tolist(), size.tolist(), strict=True)):
        own = np.flatnonzero((before == begin) & (size == length)).tolist()
        part = weather.isel(place=own, time=slice(begin, begin + length))
        demand = _padded(demand_of(bed, part), begin, axis - begin - length)
        found |= {at: _at_place(demand, row) for row, at in enumerate(own)}
    return [found[at] for at in sorted(found)]


def places_with(weather: xr.Dataset, first: datetime.date, days: int) -> Index:
    """Numbers of the places that have all of these days, and none missing among their own."""
    begin = int((np.datetime64(first, "D") - days_of(weather)[0]).astype(np.int64))
    before, size = _spans(weather)
    return np.flatnonzero((size > 0) & (before <= begin) & (begin + days <= before + size))


def _spans(weather: xr.Dataset) -> tuple[Index, Index]:
    """Days before the own ones of each place, and how many these are; none where some are missing.

    That is seen from the weather itself, so that it holds for weather of any making.
    """
    axis = days_of(weather).size
    known = np.ones((weather.sizes["place"], axis), dtype=bool)
    for name in ASKED:
        known &= ~np.isnan(weather[name].to_numpy())
    before, after = known.argmax(axis=1), known[:, ::-1].argmax(axis=1)
    size = axis - before - after
    return before, np.where(known.sum(axis=1) == size, size, 0)


def _padded(demand: Demand, before: int, after: int) -> Demand:
    """The same with days around it on which nothing is asked; they are not run."""
    if not before and not after:
        return demand

    def longer(name: str, values: Array) -> Array:
        ends = [(0, 0)] * values.ndim
        ends[-2 if name in ("uptake", "depth", "h3") else -1] = (before, after)
        return values if name == "h4" else np.pad(values, ends)

    return Demand(**{name: longer(name, values) for name, values in demand._asdict().items()})


def _at_place(demand: Demand, row: int) -> Demand:
    """That of one of several places."""
    same = ("depth", "h4", "root_depth")
    own = {name: values[row] for name, values in demand._asdict().items() if name not in same}
    return demand._replace(**own)


@lru_cache(maxsize=8)
def _crops(
    plantings: tuple[Planting, ...], exposure: float, days: bytes, wind: bytes, humidity: bytes
) -> CropDays:
    """The same plants in the same weather, which one answer asks for a dozen times; read only."""
    found = crop_days(
        plantings,
        np.frombuffer(days, dtype="datetime64[D]"),
        wind_speed=np.frombuffer(wind),
        rh_min=np.frombuffer(humidity),
        exposure=exposure,
    )
    for values in found:
        values.setflags(write=False)
    return found


def due_days(watering: Watering, days: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Whether a rule lets the keeper fill on each day; counting starts with the first.

    Answers: on which mornings does somebody look, or come with the can.

    Parameters
    ----------
    watering : Watering
        The rule.
    days : ndarray of datetime64, shape (time,)
        Dates, one after another [d].

    Returns
    -------
    ndarray of bool, shape (time,)
        Days on which the keeper may fill; whether it is low enough is for the column to say.
    """
    number = np.arange(days.size)
    looks: NDArray[np.bool_] = number % max(watering.check_every, 1) == 0
    if watering.when == "never":
        return np.zeros(days.size, dtype=bool)
    if watering.when == "below share":
        return looks
    if watering.when == "every n days":
        return np.asarray((number + 1) % max(watering.every or 1, 1) == 0)
    # 1970-01-01 was a Thursday: Monday is day 0.
    weekday = (days.astype("datetime64[D]").astype(np.int64) + 3) % 7
    return np.isin(weekday, watering.weekdays)
