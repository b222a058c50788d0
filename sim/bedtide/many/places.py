"""What beds come to at many places: one block of places at a time, and which bed suits where."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.balance import Demand, readable, run_many
from bedtide.bed import Bed, plan_area
from bedtide.errors import BedtideError, printable
from bedtide.many.leaving import (
    FOLLOWED,
    NEVER,
    SPIN_UP,
    first_day,
    kept,
    morning,
    safe_days,
    season_left,
    short,
    standing,
    usable,
    years_of_record,
)
from bedtide.many.years import on_that_day
from bedtide.readings import NEED_LIMIT, all_readings, by_month_of_year
from bedtide.statistics import percentile
from bedtide.tables import attributes
from bedtide.weather import PLACE, estimated_days, one_place

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]
Days = NDArray[np.datetime64]

_TO_JULY: Final = 181  # days from 1 January to 1 July, in a year without 29 February
_PLAIN: Final = 365
_ESTIMATED: Final = ("humidity", "wind", "radiation")
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
    *(f"{name}_estimated_days" for name in _ESTIMATED),
)
BY_MONTH: Final = "_by_month"
"""Ending of what is told by month of the year."""


@dataclass(frozen=True, kw_only=True)
class Ask:
    """What is asked of every place."""

    first: datetime.date | None = None  # first day that is run; that of each record if left out
    last: datetime.date | None = None
    leave: datetime.date | None = None  # day from which nobody comes to the beds


def place_figures(
    beds: Sequence[Bed], ready: xr.Dataset, ask: Ask, *, threads: int | None = None
) -> xr.Dataset:
    """Readings of every bed at every place, dims (bed, place) and month; NaN where it is unfit.

    `ready` as :func:`bedtide.weather.ready_places` gives it. Figures by month of the year end in
    `BY_MONTH`; why a place is unfit stands in ``unfit``. Places with the same days run together,
    in so many threads.
    """
    found = no_figures(beds, ready.sizes["place"], leave=ask.leave is not None)
    for name in (*PLACE, "place_name"):
        found[name][:] = ready[name].to_numpy()
    ends = [ready[name].to_numpy().astype("datetime64[D]") for name in ("first_day", "last_day")]
    why = ready["unfit"].to_numpy().copy()
    spans: dict[tuple[Any, Any], list[int]] = {}
    for at, (first, last) in enumerate(zip(*ends, strict=True)):
        if not why[at] and ((ask.first or first) < first or (ask.last or last) > last):
            why[at] = f"its record goes from {first} to {last}"
        if not why[at]:
            spans.setdefault((first.item(), last.item()), []).append(at)
    found["unfit"][:] = why
    groups = list(spans.items())
    for span, places in groups:  # it grows where one is split
        try:
            figures = dict(_figures(beds, ready.isel(place=places), span, ask, threads))
        except BedtideError as error:  # of which place, each alone tells
            if len(places) > 1:
                groups += [(span, [at]) for at in places]
            else:
                found["unfit"][places] = f"it could not be run: {printable(error.problem)}"
            continue
        for name, values in figures.items():
            found[name].loc[{"place": places}] = values
    return found


def no_figures(beds: Sequence[Bed], places: int, *, leave: bool) -> xr.Dataset:
    """What `place_figures` gives, without any figure."""
    import xarray as xr

    names = (*_OF_BED, *(("days_safe",) if leave else ()))
    shapes: dict[str, tuple[str, ...]] = dict.fromkeys(names, ("bed", "place"))
    shapes |= {f"{name}{BY_MONTH}": ("bed", "place", "month") for name in _OF_MONTH}
    shapes |= dict.fromkeys(_OF_PLACE, ("place",))
    sizes = {"bed": len(beds), "place": places, "month": 12}
    called = np.array([bed.name for bed in beds], dtype=object)
    found = xr.Dataset(coords={"bed": called, "month": np.arange(1, 13)})
    for name, dims in shapes.items():
        none = np.full([sizes[dim] for dim in dims], np.nan)
        found[name] = dims, none, attributes(name.removesuffix(BY_MONTH))
    for name in ("place_name", "unfit"):
        found[name] = "place", np.full(places, "", dtype=object)
    found["plan_area"] = "bed", [plan_area(bed) for bed in beds], attributes("plan_area")
    for name, about in PLACE.items():
        found.coords[name] = "place", np.full(places, np.nan), {**about, "long_name": name}
    return found


def _figures(
    beds: Sequence[Bed],
    ready: xr.Dataset,
    span: tuple[datetime.date, datetime.date],
    ask: Ask,
    threads: int | None,
) -> Iterator[tuple[str, Array]]:
    """Figures by their names of places with the same days, (bed, place) and month, or (place,)."""
    first, last = ask.first or span[0], ask.last or span[1]
    days = (last - first).days + 1
    whole = run_many(beds, ready, [first], days=days, threads=threads)
    run = readable(whole, ready).isel(year=0)
    read, months = all_readings(run), by_month_of_year(run)
    for name in _OF_BED:
        yield name, read[name].to_numpy()
    for name in _OF_MONTH:
        yield f"{name}{BY_MONTH}", months[name].to_numpy()
    within = ready.sel(time=slice(str(first), str(last)))
    estimated = [estimated_days(one_place(within, at)) for at in range(within.sizes["place"])]
    for name in _ESTIMATED:
        yield f"{name}_estimated_days", np.array([each[name] for each in estimated])
    yield "filled_days", within["filled"].to_numpy().sum(axis=-1)
    cold = frost(
        within["tmin"].to_numpy(),
        within["time"].to_numpy().astype("datetime64[D]"),
        south=within["latitude"].to_numpy() < 0.0,
    )
    yield from cold._asdict().items()
    if ask.leave is not None:
        yield "days_safe", _days_left_alone(beds, ready, ask.leave, whole.demand, threads)


# --- left alone -------------------------------------------------------------------------------


def _days_left_alone(
    beds: Sequence[Bed],
    ready: xr.Dataset,
    leave: datetime.date,
    demand: Sequence[Demand],
    threads: int | None,
) -> Array:
    """Days that each bed lasts in nine years of ten when left full on a date, (bed, place) [d].

    As `bedtide away` has it, for the years whose weather has the 30 days before and the 60 after;
    infinite where it outlasts these, or all that grows in it, NaN where no year has them.
    """
    places = ready.sizes["place"]
    own = [one_place(ready, at) for at in range(places)]
    each = [on_that_day(leave, year) for year in years_of_record(ready)]
    good: Any = np.array([usable(o, each, FOLLOWED, before=SPIN_UP) for o in own])
    dates = [day for day, some in zip(each, good.any(axis=0), strict=True) if some]
    if not dates:
        return np.full((len(beds), places), np.nan)
    good = good[:, good.any(axis=0)]
    before = [day - datetime.timedelta(days=SPIN_UP) for day in dates]
    eve = run_many(
        [kept(bed) for bed in beds], ready, before, days=SPIN_UP, demand=demand, threads=threads
    ).end
    left = [replace(bed, plantings=standing(bed, leave), watering=NEVER) for bed in beds]
    begun = morning(beds, dates * places, eve, 1.0)
    run = run_many(left, ready, dates, days=FOLLOWED, start=begun, threads=threads)
    failing = short(run, NEED_LIMIT).reshape(FOLLOWED, len(beds), places, len(dates))
    found = []
    for at, bed in enumerate(beds):
        horizon = season_left(bed, leave, FOLLOWED) or FOLLOWED
        lasted = np.where(good, first_day(failing[:horizon, at]), np.nan)
        found.append(safe_days(lasted, horizon))
    return np.array(found)


# --- frost ------------------------------------------------------------------------------------


class Frost(NamedTuple):
    """Frost at a place, or at several (...,)."""

    frost_days: Any  # a year [d]
    last_frost: Any  # day of a year without 29 February, from 1; NaN for none
    first_frost: Any


def frost(tmin: ArrayLike, days: Days, *, south: ArrayLike) -> Frost:
    """Frost days a year, and between which dates there is none in 9 years of 10.

    A day with a lowest temperature (..., time) under 0 degC is a frost day; `south` (...) says
    which places lie south of the equator. The year is cut at midwinter and at midsummer, 1 January
    and 1 July or the other way round; years that the record holds whole are counted, and one
    without a frost in a half counts as the best.
    """
    lowest = np.asarray(tmin, dtype=np.float64)
    cold = lowest < 0.0
    months = days.astype("datetime64[M]")
    number = (days - months).astype(int) + 1
    before = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
    month = months.astype(int) % 12
    at = before[month] + np.where((month == 1) & (number == 29), 28, number) - 1
    ends = [_frost_dates(cold, days, at, shift) for shift in (0, _TO_JULY)]
    last, first = (np.where(south, other, own) for own, other in zip(*ends, strict=True))
    known = ~np.isnan(lowest).any(axis=-1)
    yearly = cold.sum(axis=-1) / (days.size / 365.25)
    return Frost(*(np.where(known, each, np.nan) for each in (yearly, last, first)))


def _frost_dates(cold: NDArray[np.bool_], days: Days, at: Any, shift: int) -> list[Any]:
    """Last frost of spring and first of autumn of rows of cold days; years begin `shift` later."""
    year, place = days.astype("datetime64[Y]").astype(int) - (at < shift), (at - shift) % _PLAIN
    spring = place < (_PLAIN - shift if shift else _TO_JULY)
    last, first = [], []
    for each in np.unique(year):
        own = year == each
        if np.unique(place[own]).size == _PLAIN:
            frosty, when, early = cold[..., own], place[own], spring[own]
            last.append(np.where(frosty & early, when, -np.inf).max(axis=-1))
            first.append(np.where(frosty & ~early, when, np.inf).min(axis=-1))
    if not last:
        return [np.nan, np.nan]
    late = np.ceil(-percentile(-np.stack(last, axis=-1), 0.1))
    early = np.floor(percentile(np.stack(first, axis=-1), 0.1))
    return [(np.where(np.isinf(e), np.nan, e) + shift) % _PLAIN + 1.0 for e in (late, early)]
