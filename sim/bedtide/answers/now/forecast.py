"""What stands in a bed on a morning, and how it goes on: the forecast, then past years' days."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance import Demand, Run, State, demand_of, due_days, run_many, set_store
from bedtide.bed import Bed, Watering, capacity, dead_storage, lip_on, open_store, plan_area
from bedtide.errors import RangeError, TimeAxisError, UnitError, shown
from bedtide.many import every_year, near, on_that_day, room_in
from bedtide.readings import EMPTY
from bedtide.units import length_text, parse, volume_text

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

NEVER: Final = Watering("never")
"""Nobody fills but for what is noted."""

NOTED: Final = Watering("every n days", every=1)
"""To the lip, on the days that are due."""

HORIZON: Final = 60
"""Days that are looked ahead [d]; ours."""

_DAY: Final = datetime.timedelta(days=1)


# --- what stands in it ------------------------------------------------------------------------


class Known(NamedTuple):
    """What is known of the water on the morning of a day: put in, standing, or not run out."""

    day: datetime.date
    what: Literal["lip", "added", "is", "top", "dry"]  # top: on the mix; dry: no overflow
    water: float = np.nan  # put in, or standing; to the lip: how much it took, if counted [m3]


class Walk(NamedTuple):
    """Beds walked through what is known of them."""

    state: State  # on the evening of the last day, or of the next morning
    begun: datetime.date  # day from which on only what is known is poured in
    overflow: Array  # of the days from then on (days, beds) [m]
    error: float  # largest error of the water balance [m]


def walk(
    beds: Sequence[Bed],
    weather: xr.Dataset,
    first: datetime.date,
    last: datetime.date,
    known: Sequence[Known],
) -> Walk:
    """Beds from rest through a record: by their own rule until the first level or fill.

    That is from the day `first`, or 400 days before that level where it is later. From there on
    nothing is poured in but what is known. Readings set the store. Water from above falls as rain
    does. `known` is in order, its days from `first` to the day after `last`.
    """
    told = [each for each in known if each.what in ("is", "lip", "added")]
    at = begun = told[0].day if told else last + _DAY
    if told:
        weather = near(weather, begun, last)
    first, demand = max(first, ends(weather)[0]), watered(beds, weather, known)
    run = run_many(beds, weather, [first], days=max((begun - first).days, 1), demand=demand)
    state, runs, put = run.end if begun > first else run.start, [run], list[Known]()
    for each in [*told, None]:
        until = last + _DAY if each is None else each.day
        if each is not None and each.what != "is":
            put.append(each)
            continue
        if until > at:
            run = as_noted(beds, weather, at, (until - at).days, put, start=state, demand=demand)
            state, at = run.end, until
            runs.append(run)
        if each is not None:
            put, state = [], set_store(state, beds, each.water / _areas(beds))
    late = [each for each in known if each.day > last and (each in put or each.what == "top")]
    for each in late:
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
    """Beds filled as noted and never else, less what is `drained` each morning (days, beds) [m]."""
    given, due = np.zeros((days, len(beds))) - drained, np.zeros(days, dtype=bool)
    for each in known:
        day = (each.day - first).days
        if 0 <= day < days and each.what == "lip":
            due[day] = True
        elif 0 <= day < days and each.what == "added":
            given[day] += each.water / _areas(beds)
    return run_many(
        [bed if bed.watering is NOTED else replace(bed, watering=NOTED) for bed in beds],
        weather, [first], days=days, start=start, given=given,
        due=np.tile(due, (len(beds), 1)), demand=demand,
    )  # fmt: skip


def watered(beds: Sequence[Bed], weather: xr.Dataset, known: Sequence[Known]) -> list[Demand]:
    """What the days bring and ask, with the water that was poured on the mix as rain."""
    first, found = ends(weather)[0], []
    for bed, demand in zip(beds, [demand_of(bed, weather) for bed in beds], strict=True):
        rain = demand.rain_in.copy()
        for each in known:
            if each.what == "top" and 0 <= (at := (each.day - first).days) < rain.size:
                rain[at] += each.water / plan_area(bed)
        found.append(demand._replace(rain_in=rain))
    return found


def ends(weather: xr.Dataset) -> tuple[datetime.date, datetime.date]:
    """First and last day of a record."""
    first, last = weather["time"].to_numpy()[[0, -1]].astype("datetime64[D]")
    return first.item(), last.item()


def full_on(day: datetime.date, bed: Bed) -> tuple[float, float]:
    """Height of the lip on a day, infinite without one, and open water up to it [m]."""
    lip = float(lip_on(np.array([day], "datetime64[D]"), bed.overflow)[0])
    return lip, float(capacity(bed, lip))


def _areas(beds: Sequence[Bed]) -> Array:
    return np.array([plan_area(bed) for bed in beds])


def _put_in(known: Known, beds: Sequence[Bed], state: State) -> State:
    """The state after water came in on the morning after the record.

    What is over the lip runs out; in a bed without an outlet it comes to stand on the mix, as does
    what is poured there.
    """
    lip, full = np.array([full_on(known.day, bed) for bed in beds]).T
    room = np.maximum(full - state.open_water, 0.0)
    if known.what == "lip":
        return set_store(state, beds, state.open_water + room)
    depth = known.water / _areas(beds)
    below = np.zeros(len(beds)) if known.what == "top" else np.minimum(depth, room)
    stays = np.isinf(lip) | (known.what == "top")
    standing = state.standing + np.where(stays, depth - below, 0.0)
    return set_store(state, beds, state.open_water + below)._replace(standing=standing)


def water_at(reading: str, bed: Bed, day: datetime.date, *, where: str) -> float:
    """Open water that a reading means: a height, a volume, a share of what is usable [m3]."""
    area = plan_area(bed)
    full, brim = full_on(day, bed)[1], float(capacity(bed, np.inf))
    dead = min(dead_storage(bed), full)
    said, expected = f'"{shown(reading)}"', 'such as "6 cm", "2.5 in", "30 L" or "40 %"'
    with suppress(ValueError):
        float(reading.replace(",", "."))
        raise UnitError(where, f"{said} has no unit", expected=expected)
    for unit in ("1", "m3", "m"):
        try:
            value = parse(reading, unit, where=where)
        except UnitError:
            continue
        top = {"1": 1.0, "m3": brim * area, "m": bed.box.depth}[unit]
        if not 0.0 <= value <= top * (1.0 + 1e-9):
            texts = {"1": "100 %", "m3": volume_text(top), "m": length_text(top)}
            raise RangeError(
                where,
                f"{said} is not a level of {bed.name}",
                expected=f"from nothing to {texts[unit]}",
                hint="Heights start at the floor of the liner" if unit == "m" else "",
            )
        if unit == "m":
            return float(open_store(value, bed)) * area
        return value if unit == "m3" else (dead + value * (full - dead)) * area
    raise UnitError(where, f"{said} is no height, volume or share", expected=expected)


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


def outlook(
    bed: Bed,
    weather: xr.Dataset,
    forecast: xr.Dataset | None,
    state: State,
    *,
    counted: datetime.date,
) -> Outlook:
    """The days after a record: those of the forecast, then the same days of every past year.

    `state` is that of the record's last evening, or of the next morning; days of a rule are
    `counted` from a date on.
    """
    today = ends(weather)[1] + _DAY
    ahead = 0 if forecast is None else min(forecast.sizes["time"], HORIZON)
    stores, error, begin = [], 0.0, state
    if forecast is not None:
        joined, alone = joined_with(weather, forecast), replace(bed, watering=NEVER)
        run = run_many([alone], joined, [today], days=ahead, start=state)
        stores, error, state = [run.series.open_water], float(run.error.max()), run.end
    resume, rest = today + ahead * _DAY, HORIZON - ahead
    starts = _same_days(weather, resume, rest) if rest else []
    dropped: list[str] = []
    if starts:
        plain, dropped = every_year(bed, resume, resume + (rest - 1) * _DAY)
        each = State(*(np.repeat(values, len(starts), axis=0) for values in state))
        alone = replace(plain, watering=NEVER)
        run = run_many([alone], weather, starts, days=rest, start=each)
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
    fill, poured = next_fill(bed, today, left, begin.open_water, counted=counted)
    gone = left - dead_storage(bed) < EMPTY
    years = tuple(day.year for day in starts)
    empty = _first(gone)
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
    room = np.maximum(full - held, 0.0)
    if rule.when == "never":
        due = left - dead < EMPTY
    else:
        axis = np.arange(np.datetime64(counted, "D"), calendar[-1] + np.timedelta64(1, "D"))
        due = np.broadcast_to(due_days(rule, axis)[-days:, None], left.shape)
    if rule.when == "below share":
        assert rule.share is not None
        due = due & (held < dead + rule.share * np.maximum(full - dead, 1e-9))
    volume = np.inf if rule.volume is None else rule.volume / plan_area(bed)
    poured = room if volume == np.inf else np.full(left.shape, volume)
    at = _first(due & ((poured > 0.0) | (rule.when == "never")))
    each = np.minimum(at, days - 1)
    return at, np.where(at < days, poured[each, np.arange(at.size)], np.nan)


def _first(marked: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Number of the first marked day of each case; the number of days where there is none."""
    return np.asarray(np.where(marked.any(axis=0), marked.argmax(axis=0), marked.shape[0]))


def _same_days(weather: xr.Dataset, day: datetime.date, days: int) -> list[datetime.date]:
    """The same day of every past year that has so many days [d] from it on and few gaps."""
    room = room_in(weather)
    each = [on_that_day(day, year) for year in range(ends(weather)[0].year, day.year)]
    return [start for start in each if room(start, days).fits(0, days)]


def joined_with(weather: xr.Dataset, forecast: xr.Dataset) -> xr.Dataset:
    """A record and the days of a forecast after it."""
    import xarray as xr

    names = [name for name in weather.data_vars if name in forecast.data_vars]
    joined = xr.concat([weather[names], forecast[names]], dim="time", data_vars="minimal")
    joined.attrs = weather.attrs
    return joined


def days_after(weather: xr.Dataset, forecast: xr.Dataset, *, where: str) -> tuple[xr.Dataset, int]:
    """The days of a forecast after a record, and how many of its days the record has itself."""
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
    return forecast.sel(time=slice(str(last + _DAY), None)), max((last - begins).days + 1, 0)
