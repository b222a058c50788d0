"""Rows of an hour or less to days, by the right clock; a day of too few hours is a gap."""

from __future__ import annotations

import datetime
import re
import zoneinfo
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.constants import RAIN_HOURS
from bedtide.errors import (
    ChoiceError,
    FieldError,
    InputError,
    Option,
    Pieces,
    RangeError,
    TimeAxisError,
    nearest_names,
)
from bedtide.weather.et0 import first_known, saturation_pressure
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record, days_text, mistake

Floats = NDArray[np.float64]

LEAST_HOURS = 20
"""Clock hours of a day that must hold a reading [1]; our choice: a front or a storm of up to four
hours can be missed, and on the day summer time begins there are only 23."""
_SEEN_DAYS = 20  # days of which the mean hour of warmth is looked at
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])(\d{1,2}):?(\d{2})?")
_SUMS = ("rain", "sunshine", "solar_radiation", "et0")
_EXTREMES = {  # quantities of a day that are the highest or lowest of its rows
    "temperature": (("tmax", "max"), ("tmin", "min")),
    "rh_mean": (("rh_max", "max"), ("rh_min", "min")),
    **{key: ((key, key[-3:]),) for key in ("tmax", "tmin", "rh_max", "rh_min")},
}


def _zone(text: str, option: str) -> datetime.tzinfo:
    """Time zone from its name or its distance from universal time."""
    if match := _OFFSET.fullmatch(text.strip()):
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        if minutes < 24 * 60:
            sign = 1 if match[1] == "+" else -1
            return datetime.timezone(datetime.timedelta(minutes=sign * minutes))
    try:
        return zoneinfo.ZoneInfo(text.strip())
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        close = nearest_names(text, zoneinfo.available_timezones())
        raise ChoiceError(
            Option(option),
            f'"{text}" is not a time zone',
            expected="a name such as Europe/Berlin, or +10:00, or UTC",
            hint=f"Closest: {', '.join(close)}" if close else "",
        ) from None


def to_local_clock(record: Record, options: Options) -> list[InputError]:
    """Move the times of a record to the clock by which its days are to be cut.

    Times that say their distance from universal time are moved to `time_zone` where it is given;
    else they stay if they are local, and are refused if they are universal and no longitude is
    known. Times that say nothing are local, unless `stamps` names their zone.
    """
    if record.daily or not len(record.times):
        return []
    source, offset, notes = record.source, record.offset, record.notes
    try:
        home = options.time_zone and _zone(options.time_zone, "time_zone")
        theirs = options.stamps and _zone(options.stamps, "stamps")
    except InputError as error:
        return [error]
    if offset is not None and np.isnan(offset).any():
        at = record.lines[np.isnan(offset)][:1]
        problem = "its time does not say its zone while others do"
        wanted = "all times with their zone, or none"
        return [mistake(FieldError, source, at, problem, expected=wanted)]
    if offset is None and not theirs:
        notes.append(
            f"Times of {source} were taken as local clock time; its days begin at that midnight."
        )
        return [] if "columns" in options.accept else _not_local(record)
    if offset is not None and not home:
        if offset.any():
            notes.append(f"Days of {source} run by the local time that it gives.")
            return []
        if record.longitude is None:
            problem = "its times are universal time, so its days would not begin at your midnight"
            zones = (Option("time_zone", zone) for zone in ("Europe/Berlin", "UTC"))
            hint = Pieces("Say  ", next(zones), "  (or yours), or  ", next(zones))
            return [FieldError(source, problem, expected="the time zone of the place", hint=hint)]
        hours = round(record.longitude / 15.0)
        home = datetime.timezone(datetime.timedelta(hours=hours))
        notes.append(
            f"Times of {source} are universal time; at longitude {record.longitude:g} the sun is "
            f"{abs(hours)} h {'ahead' if hours >= 0 else 'behind'}, so its days were cut at "
            f"midnight of UTC{hours:+d}."
        )
    index = pd.DatetimeIndex(record.times)
    if offset is not None:
        zoned = (index - pd.to_timedelta(offset, unit="min")).tz_localize("UTC")
    else:
        # of an hour that comes twice the first is summer time; one that comes once is not
        summer = index.duplicated(keep="last")
        zoned = index.tz_localize(theirs, ambiguous=summer, nonexistent="shift_forward")
    local = zoned.tz_convert(home or theirs).tz_localize(None)
    record.times = local.to_numpy().astype("datetime64[s]")
    if options.time_zone or theirs:
        zone = options.time_zone or home or theirs
        notes.append(f"Days of {source} run from midnight to midnight in {zone}.")
    return []


def _not_local(record: Record) -> list[InputError]:
    """That the mean day is brightest or warmest when it can't be by the local clock, if it is."""
    days = record.times.astype("datetime64[D]")
    if len(np.unique(days)) < _SEEN_DAYS:
        return []
    hour = (record.times - days).astype(np.int64) // 3600
    for key, what, low, high, least in (
        ("solar_radiation", "brightest", 10, 15, 0.5),
        ("temperature", "warmest", 10, 19, 1.0),
    ):
        if key not in record.columns:
            continue
        mean = pd.Series(record.columns[key].values).groupby(hour).mean().reindex(range(24))
        turn = np.sum(mean.to_numpy() * np.exp(2j * np.pi * (np.arange(24) + 0.5) / 24.0)) / 12.0
        middle = float(np.angle(turn) * 12.0 / np.pi % 24.0)
        if not abs(turn) >= least:
            continue  # an hour without reading, or no run of the day to speak of
        if low <= middle <= high:
            return []
        problem = f"its times can't be local: the day is {what} at {round(middle)} h"
        wanted = f"the {what} hour between {low} and {high} h"
        said = ("If they are universal time, say  ", Option("stamps", "UTC"), "  and  ")
        true = (" ; if they are right all the same,  ", Option("accept", "columns"))
        hint = Pieces(*said, Option("time_zone"), *true)
        return [TimeAxisError(record.source, problem, expected=wanted, hint=hint)]
    return []


def to_days(record: Record) -> Record:
    """Daily values from a record of several rows a day, sorted by the clock that cuts its days.

    Rows within an hour are averaged, or added, first. Temperatures give the highest and lowest of
    the day; humidity the mean vapour pressure and the highest and lowest; wind the mean; rain,
    sunshine and radiation the sum, or the mean where rows are rates. Hours of rain are kept where
    rows are an hour or less apart. NaN where fewer than `LEAST_HOURS` hours hold a reading.
    """
    seconds = record.times.astype("datetime64[s]").astype(np.int64) - int(record.ends)
    hour, day = seconds // 3600, seconds // 86400
    hours, days = np.unique(hour), np.unique(day)
    columns = dict(record.columns)
    counter = columns.pop("rain_counter", None)
    errors = list(record.errors)
    if counter is not None and "rain" not in columns:
        columns["rain"], wrong = _counted(record, counter, day)
        errors += wrong
    if (vapour := _vapour_pressure(columns)) is not None:
        columns["vapour_pressure"] = vapour
        columns.pop("dew_point", None)
    for shadowed, by in (("temperature", ("tmax", "tmin")), ("rh_mean", ("rh_max", "rh_min"))):
        if set(by) <= set(columns):
            columns.pop(shadowed, None)
    rain_hours: Floats | None = None
    made: dict[str, Column] = {}
    fullest = 0
    short, partly = np.zeros((2, len(days)), dtype=bool)
    for key, column in columns.items():
        adds = key in _SUMS and not column.rate
        rows = pd.Series(column.values)
        by_hour = rows.groupby(hour).sum(min_count=1) if adds else rows.groupby(hour).mean()
        daily = by_hour.groupby(hours // 24)
        present = daily.count().to_numpy()
        result = (daily.sum(min_count=1) if adds else daily.mean()).to_numpy()
        if adds and key == "solar_radiation":
            # the missing hours of a day shine as the others do
            result = result * 24.0 / np.maximum(present, 1)
        enough = present >= LEAST_HOURS
        if key == "rain" and _apart(seconds[~np.isnan(column.values)]) <= 3600:
            shares = _shares(by_hour.to_numpy(), hours, days)
            rain_hours = np.where(enough[:, None], shares, np.nan)
        most = {name: getattr(rows.groupby(day), end)() for name, end in _EXTREMES.get(key, ())}
        values = most if key in _EXTREMES and key != "rh_mean" else {**most, key: result}
        for name, each in values.items():
            kept = np.where(enough, each, np.nan)
            made[name] = replace(column, values=kept, rate=False)
        fullest = max(fullest, int(present.max(initial=0)))
        short |= ~enough & (present > 0)
        partly |= enough & (present < 24)
    notes = list(record.notes)
    if short.any():
        notes.append(
            f"{days_text(int(short.sum()), 'has', 'have', of=record.source)} readings in fewer "
            f"than {LEAST_HOURS} hours; those readings count as not measured."
        )
    if partly.any():
        notes.append(
            f"{days_text(int(partly.sum()), 'lacks', 'lack', of=record.source)} up to "
            f"{24 - LEAST_HOURS} hours of a reading: no rain is counted in them, and highest and "
            "lowest are those of the other hours."
        )
    return replace(
        record,
        times=days.astype("datetime64[D]").astype("datetime64[s]"),
        lines=record.lines[np.unique(day, return_index=True)[1]],
        columns=made,
        daily=True,
        notes=notes,
        errors=errors,
        offset=None,
        rain_hours=rain_hours,
        fullest=f". A day needs readings in {LEAST_HOURS} hours; the fullest has {fullest}",
    )


def usual_rain_hours(days: int) -> NDArray[np.float64]:
    """Share of each hour in a day's rain (days, 24) [1] where not known: even in `RAIN_HOURS`."""
    middle = (np.arange(24) + 0.5) / 24.0
    wet = (middle > RAIN_HOURS[0]) & (middle < RAIN_HOURS[1])
    return np.tile(wet / wet.sum(), (days, 1))


def _apart(seconds: NDArray[np.int64]) -> float:
    """Usual time from one row to the next [s]."""
    return float(np.median(np.diff(seconds))) if len(seconds) > 1 else np.inf


def _shares(
    rain: NDArray[np.floating[Any]], hours: NDArray[np.int64], days: NDArray[np.int64]
) -> Floats:
    """Share of each clock hour in the rain of its day (days, 24); one without reading is dry."""
    found = np.zeros((len(days), 24))
    found[np.searchsorted(days, hours // 24), hours % 24] = np.nan_to_num(rain)
    total = found.sum(axis=1, keepdims=True)
    shares: Floats = found / np.where(total > 0.0, total, 1.0)
    return shares


def _vapour_pressure(columns: Mapping[str, Column]) -> Column | None:
    """Vapour pressure of each row: as given, from dew point, or from humidity and temperature."""
    if "vapour_pressure" in columns:
        return columns["vapour_pressure"]
    source, none = columns.get("dew_point"), np.full(1, np.nan)
    values = none if source is None else saturation_pressure(source.values)
    if {"rh_mean", "temperature"} <= columns.keys():
        share = columns["rh_mean"].values / 100.0
        other = share * saturation_pressure(columns["temperature"].values)
        values, source = first_known(values, other), source or columns["rh_mean"]
    if source is None:
        return None
    return Column(source.name, "kPa", values, rate=True)


def _counted(
    record: Record, counter: Column, day: NDArray[np.int64]
) -> tuple[Column, list[InputError]]:
    """Rain of each row from a gauge that counts from midnight on."""
    values = counter.values
    filled = pd.Series(values).groupby(day).ffill().to_numpy()
    before = pd.Series(filled).groupby(day).shift(1).fillna(0.0).to_numpy()
    amount = filled - before
    back = np.flatnonzero(amount < -1e-6)
    errors: list[InputError] = []
    if len(back):
        problem = "the rain counted since midnight goes down"
        name, wanted = counter.name, "a counter that starts again at midnight only"
        hint = Pieces(
            "If the column is the rain of each row, say  ",
            Option("columns", {name: f"rain, {counter.unit}"}),
        )
        at = record.lines[back]
        errors.append(
            mistake(RangeError, record.source, at, problem, column=name, expected=wanted, hint=hint)
        )
    amount = np.where(np.isnan(values), np.nan, np.maximum(amount, 0.0))
    return replace(counter, values=amount, rate=False), errors
