"""What stands in a bed on a morning, and how it goes on: the forecast, then past years' days."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import compress
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import (
    Demand,
    Run,
    State,
    days_of,
    demands_of,
    due_days,
    run_many,
    set_store,
)
from bedtide.bed import (
    Bed,
    Watering,
    capacity,
    crown_height,
    dead_storage,
    level_of,
    lip_on,
    open_store,
    plan_area,
)
from bedtide.errors import RangeError, TimeAxisError, UnitError, shown
from bedtide.many import (
    NEVER,
    SPIN_UP,
    every_year,
    first_day,
    kept,
    near,
    on_that_day,
    usable,
)
from bedtide.readings import EMPTY
from bedtide.units import INCH, length_text, parse, volume_text

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

Array = NDArray[np.float64]

NOTED: Final = Watering("every n days", every=1)
"""To the lip, on the days that are due."""

READING_ERROR: Final = 0.005
"""Standard error of a stick's reading [m]; ours."""

OVER_LIP: Final = 3.0 * READING_ERROR
"""How far a reading must stand above the lip for a blocked outlet [m]."""

HORIZON: Final = 60
"""Days that are looked ahead [d]; ours."""

_STEP: Final[dict[System, float]] = {"metric": 0.01, "us": INCH / 2}  # between two marks [m]
_LONGEST: Final = 60  # days that a full store may last in a month that is told [d]; ours
_DAY: Final = datetime.timedelta(days=1)


# --- what is known ----------------------------------------------------------------------------


class Known(NamedTuple):
    """What is known of the water on the morning of a day: put in, standing, or not run out."""

    day: datetime.date
    what: Literal["lip", "added", "is", "top", "dry"]  # top: on the mix; dry: no overflow
    water: float = np.nan  # put in, or standing; to the lip: how much it took, if counted [m3]


class Standing(NamedTuple):
    """A bed as it stands, and what is known of its water."""

    bed: Bed
    known: Sequence[Known] = ()  # in order, to the day after the record
    known_from: Literal["reading", "fill", "notes", "record"] = "record"
    notes_before: int = 0  # notes of days before the record, left out


class Days(NamedTuple):
    """The weather to yesterday and, where there is one, the forecast from today on."""

    record: xr.Dataset
    forecast: xr.Dataset | None = None
    recent: int = 0  # last days of the record that a service had [d]
    overlap: int = 0  # days of the forecast that the record has itself [d]


def ends(weather: xr.Dataset) -> tuple[datetime.date, datetime.date]:
    """First and last day of a record."""
    first, last = days_of(weather)[[0, -1]].tolist()
    return first, last


def joined_with(weather: xr.Dataset, forecast: xr.Dataset) -> xr.Dataset:
    """A record and the days of a forecast after it."""
    import xarray as xr

    names = [name for name in weather.data_vars if name in forecast.data_vars]
    joined = xr.concat([weather[names], forecast[names]], dim="time", data_vars="minimal")
    hours = [each["rain_hours"] for each in (weather, forecast) if "rain_hours" in each]
    if len(hours) == 1:  # zeros are not known
        joined["rain_hours"] = hours[0].reindex(time=joined["time"], fill_value=0.0)
    joined.attrs = weather.attrs
    return joined


def parted(weather: xr.Dataset, later: xr.Dataset, today: datetime.date) -> Days:
    """A record with those of the later days that are over, and those to come."""
    over = later.sel(time=slice(None, str(today - _DAY)))
    ahead = later.sel(time=slice(str(today), None))
    record = joined_with(weather, over) if over.sizes["time"] else weather
    return Days(record, ahead if ahead.sizes["time"] else None, recent=over.sizes["time"])


def days_after(weather: xr.Dataset, forecast: xr.Dataset, *, where: str) -> Days:
    """A record, and the days of a forecast after it."""
    last, (begins, finishes) = ends(weather)[1], ends(forecast)
    expected = f"days from {last + _DAY} on"
    if finishes <= last:
        problem = f"it ends on {finishes}, before the weather record does, on {last}"
        raise TimeAxisError(where, problem, expected=expected)
    if begins > last + _DAY:
        raise TimeAxisError(
            where,
            f"it begins on {begins}, but the weather record ends on {last}",
            expected=f"{expected}, so that none is missing",
            hint="Get weather of the days between, or an older forecast",
        )
    after = forecast.sel(time=slice(str(last + _DAY), None))
    return Days(weather, after, overlap=(last - begins).days + 1)


def full_on(day: datetime.date, bed: Bed) -> tuple[float, float]:
    """Height of the lip on a day, infinite without one, and open water up to it [m]."""
    lip = float(lip_on(np.array([day], "datetime64[D]"), bed.overflow)[0])
    return lip, float(capacity(bed, lip))


def over_lip(known: Known, bed: Bed) -> bool:
    """Whether a reading stands well above the lip, as over an outlet that is blocked."""
    if known.what != "is":
        return False
    level = float(level_of(known.water / plan_area(bed), bed))
    return level > full_on(known.day, bed)[0] + OVER_LIP


def water_at(reading: str, bed: Bed, day: datetime.date, *, where: str) -> float:
    """Open water that a reading means: a height, a volume, a share of what is usable [m3]."""
    area = plan_area(bed)
    full, brim = full_on(day, bed)[1], float(capacity(bed, np.inf)) * area
    dead = min(dead_storage(bed), full)
    said, expected = f'"{shown(reading)}"', 'such as "6 cm", "2.5 in", "30 L" or "40 %"'
    with suppress(ValueError):
        float(reading.replace(",", "."))
        raise UnitError(where, f"{said} has no unit", expected=expected)
    most = {
        "1": (1.0, "100 %"),
        "m3": (brim, volume_text(brim)),
        "m": (bed.box.depth, length_text(bed.box.depth)),
    }
    for unit, (top, text) in most.items():
        try:
            value = parse(reading, unit, where=where)
        except UnitError:
            continue
        if not 0.0 <= value <= top * (1.0 + 1e-9):
            raise RangeError(
                where,
                f"{said} is not a level of {bed.name}",
                expected=f"from nothing to {text}",
                hint="Heights start at the floor of the liner" if unit == "m" else "",
            )
        if unit == "m":
            return float(open_store(value, bed)) * area
        return value if unit == "m3" else (dead + value * (full - dead)) * area
    raise UnitError(where, f"{said} is no height, volume or share", expected=expected)


# --- what stands in it ------------------------------------------------------------------------


class Walk(NamedTuple):
    """Beds walked through what is known of them."""

    state: State  # on the evening of the last day, or of the next morning
    begun: datetime.date  # day from which on only what is known is poured in
    overflow: Array  # of the days from then on (days, beds) [m]
    error: float  # largest error of the water balance [m]


def walk(beds: Sequence[Bed], weather: xr.Dataset, known: Sequence[Known]) -> Walk:
    """Beds from rest through a record: by their own rule until the first level or fill.

    That is from its first day, or 400 days before that level where it is later. From there on
    nothing is poured in but what is known. Readings set the store. Water from above falls as rain
    does. `known` is in order, to the day after the record.
    """
    last, area = ends(weather)[1], plan_area(beds[0])
    told = [each for each in known if each.what in ("is", "lip", "added")]
    at = begun = told[0].day if told else last + _DAY
    if told:
        weather = near(weather, begun, last)
    first, demand = ends(weather)[0], watered(beds, weather, known)
    run = run_many(beds, weather, [first], days=max((begun - first).days, 1), demand=demand)
    state, runs, put = run.end if begun > first else run.start, [run], list[Known]()
    for each in [*told, Known(last + _DAY, "dry")]:
        if each.what in ("lip", "added"):
            put.append(each)
            continue
        if each.day > at:
            days = (each.day - at).days
            runs.append(as_noted(beds, weather, at, days, put, start=state, demand=demand))
            state, at = runs[-1].end, each.day
        if each.what == "is":
            put, state = [], set_store(state, beds, np.full(len(beds), each.water / area))
    for each in known:
        if each.day > last and (each in put or each.what == "top"):
            state = _put_in(each, beds, state)
    overflow = [run.series.overflow for run in runs[1:]]
    error = max(float(run.error.max()) for run in runs)
    return Walk(state, begun, np.concatenate([np.zeros((0, len(beds))), *overflow]), error)


def as_noted(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    first: datetime.date,
    days: int,
    known: Sequence[Known],
    *,
    start: State,
    demand: Sequence[Demand],
    drained: float | Array = 0.0,
) -> Run:
    """Beds filled as noted and never else, less what is `drained` each morning [m]."""
    given, due = np.zeros((days, len(beds))) - drained, np.zeros((len(beds), days), dtype=bool)
    for each in known:
        day = (each.day - first).days
        if 0 <= day < days and each.what == "lip":
            due[:, day] = True
        elif 0 <= day < days and each.what == "added":
            given[day] += each.water / plan_area(beds[0])
    return run_many(
        [replace(bed, watering=NOTED) for bed in beds], weather, [first], days=days,
        start=start, given=given, due=due, demand=demand,
    )  # fmt: skip


def watered(beds: Sequence[Bed], weather: xr.Dataset, known: Sequence[Known]) -> list[Demand]:
    """What the days bring and ask, with the water that was poured on the mix as rain."""
    demand, poured = demands_of(beds, weather), np.zeros(weather.sizes["time"])
    for each in known:
        at = (each.day - ends(weather)[0]).days
        if each.what == "top" and 0 <= at < poured.size:
            poured[at] += each.water / plan_area(beds[0])
    made = {id(each): each._replace(rain_in=each.rain_in + poured) for each in demand}
    return [made[id(each)] for each in demand]


def _put_in(known: Known, beds: Sequence[Bed], state: State) -> State:
    """The state after water came in on the morning after the record.

    What is over the lip runs out; in a bed without an outlet it comes to stand on the mix, as does
    what is poured there.
    """
    lip, full = full_on(known.day, beds[0])
    room = np.maximum(full - state.open_water, 0.0)
    if known.what == "lip":
        return set_store(state, beds, state.open_water + room)
    depth = known.water / plan_area(beds[0])
    below = np.zeros(len(beds)) if known.what == "top" else np.minimum(depth, room)
    stays = known.what == "top" or np.isinf(lip)
    state = set_store(state, beds, state.open_water + below)
    return state._replace(standing=state.standing + (depth - below) * stays)


# --- how it goes on ---------------------------------------------------------------------------


class Outlook(NamedTuple):
    """A bed that nobody fills from a morning on, (days,) or (days, cases); a case a past year."""

    today: datetime.date  # first day
    forecast: int  # days of the forecast [d]
    years: tuple[int, ...]  # that the days after it are taken from; empty where there are none
    dropped: tuple[str, ...]  # crops that do not stand on those days
    left: Array  # open water on each evening [m]
    fill: NDArray[np.int64]  # (cases,) day on which the bed's rule fills; the number of days: none
    poured: Array  # (cases,) water of that fill [m]; NaN without one
    empty: NDArray[np.int64]  # (cases,) day on which the usable water is gone, likewise
    error: float  # largest error of the water balance [m]


def outlook(bed: Bed, days: Days, state: State, *, counted: datetime.date) -> Outlook:
    """The days after a record: those of the forecast, then the same days of every past year.

    `state` is that of the record's last evening, or of the next morning; days of a rule are
    `counted` from a date on.
    """
    weather, forecast = days.record, days.forecast
    today = ends(weather)[1] + _DAY
    ahead = 0 if forecast is None else min(forecast.sizes["time"], HORIZON)
    stores, error, begin = [], 0.0, state.open_water
    if forecast is not None:
        alone = replace(bed, watering=NEVER)
        run = run_many([alone], joined_with(weather, forecast), [today], days=ahead, start=state)
        stores, error, state = [run.series.open_water], float(run.error.max()), run.end
    resume, rest = today + ahead * _DAY, HORIZON - ahead
    starts = _same_days(weather, resume, rest) if rest else []
    dropped: list[str] = []
    if starts:
        plain, dropped = every_year(bed, resume, resume + (rest - 1) * _DAY)
        state = State(*(np.repeat(values, len(starts), axis=0) for values in state))
        alone = replace(plain, watering=NEVER)
        run = run_many([alone], weather, starts, days=rest, start=state)
        stores = [np.repeat(store, len(starts), axis=1) for store in stores]
        stores.append(run.series.open_water)
        error = max(error, float(run.error.max()))
    elif not ahead:
        raise TimeAxisError(
            "weather",
            f"after {today - _DAY} there is no forecast, and no past year has the {rest} days from "
            f"{resume:%m-%d} on",
            expected="a forecast, or a record of more than a year that ends now",
            hint="Give a forecast file after the weather file, or weather from further back",
        )
    left = np.concatenate(stores)
    fill, poured = next_fill(bed, today, left, begin, counted=counted)
    empty = _first(left - dead_storage(bed) < EMPTY)
    years = tuple(day.year for day in starts)
    return Outlook(today, ahead, years, tuple(dropped), left, fill, poured, empty, error)


def next_fill(
    bed: Bed, today: datetime.date, left: Array, begin: Array, *, counted: datetime.date
) -> tuple[NDArray[np.int64], Array]:
    """Day on which the bed's rule would fill first, and its water (cases,) [m], if nobody fills.

    `left` are the evenings (days, cases), `begin` what stands in it before the first [m]. A bed
    whose rule is never to fill is filled on the day on which its usable water would be gone.
    """
    rule, days, dead = bed.watering, left.shape[0], dead_storage(bed)
    calendar = np.datetime64(today, "D") + np.arange(days)
    full = capacity(bed, lip_on(calendar, bed.overflow))[:, None]
    held = np.concatenate([np.broadcast_to(begin, left[:1].shape), left[:-1]])
    poured = np.maximum(full - held, 0.0)
    if rule.volume is not None:
        poured = np.full(left.shape, rule.volume / plan_area(bed))
    if rule.when == "never":
        due = left - dead < EMPTY
    else:
        axis = np.arange(np.datetime64(counted, "D"), calendar[-1] + np.timedelta64(1, "D"))
        due = due_days(rule, axis)[-days:, None] & (poured > 0.0)
    if rule.share is not None and rule.when == "below share":
        due = due & (held < dead + rule.share * np.maximum(full - dead, 1e-9))
    at = _first(due)
    each = np.minimum(at, days - 1)
    return at, np.where(at < days, poured[each, np.arange(at.size)], np.nan)


def _first(marked: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Number of the first marked day of each case; the number of days where there is none."""
    return np.minimum(first_day(marked), marked.shape[0]).astype(np.int64)


def _same_days(weather: xr.Dataset, day: datetime.date, days: int) -> list[datetime.date]:
    """The same day of every past year that has so many days [d] from it on and few gaps."""
    each = [on_that_day(day, year) for year in range(ends(weather)[0].year, day.year)]
    return list(compress(each, usable(weather, each, days)))


# --- how long each mark of a stick lasts -------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A height of the water over the floor of the liner, and what it means."""

    height_cm: float
    litres: float
    usable_litres: float
    days: dict[int, float]  # that the usable water lasts, by the number of the month


def readings_of(bed: Bed, weather: xr.Dataset, units: System) -> tuple[Reading, ...]:
    """Marks of a stick from the floor up to the highest lip of the year, and how long each lasts.

    From the middle of every month of the record the bed, kept by its own rule until then, is run
    from each mark without a fill, its plants and its rain as they were; told is the middle one of
    the years. Months in which a full store lasts very long are left out.
    """
    lip = min(float(lip_on(days_of(weather), bed.overflow).max()), crown_height(bed))
    step, dead = _STEP[units], dead_storage(bed)
    heights = [*(number * step for number in range(1, math.ceil(lip / step - 1e-6))), lip]
    held = open_store(np.array(heights), bed)
    middles = [day for day in days_of(weather)[SPIN_UP:-_LONGEST].tolist() if day.day == 15]
    usual: dict[int, Array] = {}
    if middles:
        left = [replace(bed, watering=NEVER)] * held.size
        eves = [day - SPIN_UP * _DAY for day in middles]
        eve = run_many([kept(bed)], weather, eves, days=SPIN_UP).end
        begun = State(*(np.concatenate([values] * held.size) for values in eve))
        begun = set_store(begun, left * len(middles), np.repeat(held, len(middles)))
        run = run_many(left, weather, middles, days=_LONGEST, start=begun)
        empty = run.series.open_water - dead < EMPTY
        lasting = first_day(empty).reshape(held.size, len(middles))
        month = np.array([day.month for day in middles])
        usual = {m: np.median(lasting[:, month == m], axis=1) for m in np.unique(month).tolist()}
    area = plan_area(bed) * 1e3
    found = [
        Reading(
            height_cm=height * 100,
            litres=water * area,
            usable_litres=max(water - dead, 0.0) * area,
            days={m: float(days[at]) for m, days in usual.items() if days[-1] < _LONGEST},
        )
        for at, (height, water) in enumerate(zip(heights, held.tolist(), strict=True))
    ]
    return tuple(reading for reading in found if reading.litres >= 0.05)
