"""What beds come to at many places: one block of places at a time, and which bed suits where."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.balance import run_many
from bedtide.bed import Bed
from bedtide.constants import ALLOWANCE, FAILS
from bedtide.many.leaving import (
    FOLLOWED,
    NEVER,
    SPIN_UP,
    first_day,
    kept,
    morning,
    room_in,
    safe_days,
    season_left,
    short,
    standing,
)
from bedtide.many.runs import readable
from bedtide.many.statistics import percentile
from bedtide.many.years import on_that_day
from bedtide.readings import (
    NEED_LIMIT,
    by_month_of_year,
    dryness,
    refills,
    water_account,
    wetness,
)
from bedtide.terms import attributes

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Days = NDArray[np.datetime64]

_TO_JULY: Final = 181  # days from 1 January to 1 July, in a year without 29 February
_PLAIN: Final = 365
_MEASURED: Final = {"humidity": 4, "wind": 8, "radiation": 16}  # bits of `measured`
_OF_BED: Final = (
    *("days", "refill_count", "refill_volume", "refill_each", "interval_count"),
    *("interval_median", "interval_p10", "interval_p90", "first_month", "last_month"),
    *("rain_share", "rooted_days", "wet_days", "longest_wet_spell", "excess_water"),
    *("demand_days", "limited_days", "empty_days", "wick_days", "longest_dry_spell"),
    *("transpiration_ratio", "rain_total", "et0_total", "rain_in_total", "transpiration_total"),
    *("evaporation_total", "overflow_total", "rim_spill_total", "balance_error"),
)
_OF_MONTH: Final = (
    *("refill_count", "refill_volume", "interval_count", "interval_median", "interval_p10"),
    *("wet_days", "empty_days", "wick_days"),
)
_OF_PLACE: Final = (
    *("frost_days", "last_frost", "first_frost", "filled_days"),
    *(f"{name}_estimated_days" for name in _MEASURED),
)
BY_MONTH: Final = "_by_month"
"""Ending of what is told by month of the year."""


@dataclass(frozen=True, kw_only=True)
class Ask:
    """What is asked of every place."""

    first: datetime.date | None = None  # first day that is run; that of each record if left out
    last: datetime.date | None = None
    leave: datetime.date | None = None  # day from which nobody comes to the beds


class Place(NamedTuple):
    """A place with its weather, or with the reason why that is unfit."""

    name: str
    latitude: float
    longitude: float
    elevation: float
    weather: xr.Dataset | None
    unfit: str = ""


def place_figures(beds: Sequence[Bed], places: Sequence[Place], ask: Ask) -> xr.Dataset:
    """Readings of every bed at every place, dims (bed, place) and month; NaN where it is unfit.

    Those by month of the year end in `BY_MONTH`; why a place is unfit stands in ``unfit``.
    """
    found = no_figures([bed.name for bed in beds], len(places), leave=ask.leave is not None)
    why = []
    for at, place in enumerate(places):
        weather, unfit = place.weather, place.unfit
        if weather is not None:
            unfit = _lacking(weather, ask)
        if weather is not None and not unfit:
            for name, values in _figures(beds, weather, ask):
                found[name].isel(place=at)[...] = values
        why.append(unfit)
    found["unfit"] = ("place", np.array(why, dtype=object))
    return found


def no_figures(beds: Sequence[str], places: int, *, leave: bool) -> xr.Dataset:
    """What `place_figures` gives, without any figure."""
    import xarray as xr

    names = (*_OF_BED, *(("days_safe",) if leave else ()))
    of_bed, of_month, of_place = ("bed", "place"), ("bed", "place", "month"), ("place",)
    shapes: dict[str, tuple[str, ...]] = dict.fromkeys(names, of_bed)
    shapes |= {f"{name}{BY_MONTH}": of_month for name in _OF_MONTH}
    shapes |= dict.fromkeys(_OF_PLACE, of_place)
    sizes = {"bed": len(beds), "place": places, "month": 12}
    return xr.Dataset(
        {
            name: (
                dims,
                np.full([sizes[dim] for dim in dims], np.nan),
                attributes(name.removesuffix(BY_MONTH)),
            )
            for name, dims in shapes.items()
        },
        coords={"bed": ("bed", np.array(beds, dtype=object)), "month": np.arange(1, 13)},
    )


def _lacking(weather: xr.Dataset, ask: Ask) -> str:
    """Why a record can't tell of the days that are asked for; nothing where it can."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    if (ask.first or axis[0]) < axis[0] or (ask.last or axis[-1]) > axis[-1]:
        return f"its record goes from {axis[0]} to {axis[-1]}"
    return ""


def _figures(beds: Sequence[Bed], weather: xr.Dataset, ask: Ask) -> Iterator[tuple[str, Array]]:
    """Figures of one place by their names, (bed,) or (bed, month)."""
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = ask.first or axis[0].item(), ask.last or axis[-1].item()
    days = (last - first).days + 1
    run = readable(run_many(beds, weather, [first], days=days), weather).isel(year=0)
    read: dict[Any, Any] = {}
    for each in (refills(run), wetness(run), dryness(run), water_account(run)):
        read |= {name: each[name] for name in each.data_vars}
    months = by_month_of_year(run)
    for name in _OF_BED:
        yield name, read[name].to_numpy()
    for name in _OF_MONTH:
        yield f"{name}{BY_MONTH}", months[name].to_numpy()
    within = weather.sel(time=slice(str(first), str(last)))
    measured = within["measured"].to_numpy()
    for name, bit in _MEASURED.items():
        yield f"{name}_estimated_days", ((measured & bit) == 0).sum(axis=-1)
    yield "filled_days", within["filled"].to_numpy().sum(axis=-1)
    dates = within["time"].to_numpy().astype("datetime64[D]")
    cold = frost(within["tmin"].to_numpy(), dates, south=weather.attrs["latitude"] < 0.0)
    yield from cold._asdict().items()
    if ask.leave is not None:
        yield "days_safe", days_left_alone(beds, weather, ask.leave)


# --- left alone -------------------------------------------------------------------------------


def days_left_alone(beds: Sequence[Bed], weather: xr.Dataset, leave: datetime.date) -> Array:
    """Days that each bed lasts in nine years of ten when left full on a date [d].

    As `bedtide away` has it, for the years whose weather has the 30 days before and the 60 after;
    infinite where it outlasts these, or all that grows in it, NaN where no year has them.
    """
    axis = weather["time"].to_numpy().astype("datetime64[D]")
    room = room_in(weather)
    years = range(axis[0].item().year, axis[-1].item().year + 1)
    dates = [on_that_day(leave, year) for year in years]
    dates = [day for day in dates if room(day, FOLLOWED).fits(SPIN_UP, FOLLOWED)]
    if not dates:
        return np.full(len(beds), np.nan)
    before = [day - datetime.timedelta(days=SPIN_UP) for day in dates]
    eve = run_many([kept(bed) for bed in beds], weather, before, days=SPIN_UP).end
    count = len(dates)
    parts = [eve.columns(slice(at * count, (at + 1) * count)) for at in range(len(beds))]
    full = [morning(bed, dates, part, 1.0) for bed, part in zip(beds, parts, strict=True)]
    left = [replace(bed, plantings=tuple(standing(bed, leave)), watering=NEVER) for bed in beds]
    begun = type(eve)(*(np.concatenate(values) for values in zip(*full, strict=True)))
    run = run_many(left, weather, dates, days=FOLLOWED, start=begun)
    failing = short(run, NEED_LIMIT).reshape(FOLLOWED, len(beds), count)
    found = []
    for at, bed in enumerate(beds):
        horizon = season_left(bed, leave, FOLLOWED) or FOLLOWED
        found.append(safe_days(first_day(failing[:horizon, at]), horizon))
    return np.array(found)


# --- frost ------------------------------------------------------------------------------------


class Frost(NamedTuple):
    """Frost at a place, or at several (...,)."""

    frost_days: Any  # a year [d]
    last_frost: Any  # day of a year without 29 February, from 1; NaN for none
    first_frost: Any


def frost(tmin: ArrayLike, days: Days, *, south: bool) -> Frost:
    """Frost days a year, and between which dates there is none in 9 years of 10.

    A day with a lowest temperature (..., time) under 0 degC is a frost day. The year is cut at
    midwinter and its halves at midsummer, 1 January and 1 July or the other way round; years that
    the record holds whole are counted, and one without a frost in a half counts as the best.
    """
    lowest = np.asarray(tmin, dtype=np.float64)
    cold = lowest < 0.0
    months = days.astype("datetime64[M]")
    number = (days - months).astype(int) + 1
    before = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    month = months.astype(int) % 12
    at = before[month] + np.where((month == 1) & (number == 29), 28, number) - 1
    shift = _TO_JULY if south else 0
    year, place = days.astype("datetime64[Y]").astype(int) - (at < shift), (at - shift) % _PLAIN
    spring = place < (_PLAIN - _TO_JULY if south else _TO_JULY)
    last, first = [], []
    for each in np.unique(year):
        own = year == each
        if np.unique(place[own]).size < _PLAIN:
            continue
        last.append(np.where(cold & own & spring, place, -np.inf).max(axis=-1))
        first.append(np.where(cold & own & ~spring, place, np.inf).min(axis=-1))
    shape = lowest.shape[:-1]
    dates = [np.full(shape, np.nan)] * 2
    if last:
        late = -percentile(-np.stack(last, axis=-1), 0.1)
        early = percentile(np.stack(first, axis=-1), 0.1)
        ends = np.where(np.isinf([late, early]), np.nan, [np.ceil(late), np.floor(early)])
        dates = list((ends + shift) % _PLAIN + 1.0)
    known = ~np.isnan(lowest).any(axis=-1)
    yearly = cold.sum(axis=-1) / (days.size / 365.25)
    return Frost(*(np.where(known, each, np.nan) for each in (yearly, *dates)))


# --- which bed suits ---------------------------------------------------------------------------


def suited(figures: xr.Dataset) -> NDArray[np.int64]:
    """Number of the bed that suits each place (place,), -1 where each fails its plants, -2 unfit.

    A bed fails where its roots lack air or water on more than `FAILS` of the days with roots. Of
    the others those stay that lack it on no more than `ALLOWANCE` days a year beyond the best; of
    these the one with the fewest fills a year suits, of equals the one with the least water poured
    in, then the first.
    """
    years = figures["days"].to_numpy() / 365.25
    want = (figures["wet_days"] + figures["limited_days"]).to_numpy()
    fails = want > FAILS * figures["rooted_days"].to_numpy()
    yearly = np.where(fails, np.inf, np.round(want / years))
    out = fails | (yearly > yearly.min(axis=0) + ALLOWANCE)
    fills = np.where(out, np.inf, np.round(figures["refill_count"].to_numpy() / years))
    water = np.where(out, np.inf, figures["refill_volume"].to_numpy())
    best = np.lexsort((water, fills), axis=0)[0]
    unfit = np.isnan(years).all(axis=0)
    return np.asarray(np.select([unfit, fails.all(axis=0)], [-2, -1], best), dtype=np.int64)
