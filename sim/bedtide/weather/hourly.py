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
from bedtide.weather.et0 import saturation_pressure
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record, days_text, named_lines

LEAST_HOURS = 20
"""Clock hours of a day that must hold a reading [1]; our choice: a front or a storm of up to four
hours can be missed, and on the day summer time begins there are only 23."""
_SEEN_DAYS = 20  # days of which the mean hour of warmth is looked at
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])(\d{1,2}):?(\d{2})?")
_EXTREMES = ("temperature", "tmax", "tmin", "rh_mean", "rh_max", "rh_min")


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
    else they stay if they are local, and are refused if they are universal. Times that say nothing
    are local, unless `stamps` names their zone.
    """
    if record.daily or not len(record.times):
        return []
    try:
        home = options.time_zone and _zone(options.time_zone, "time_zone")
        theirs = options.stamps and _zone(options.stamps, "stamps")
    except InputError as error:
        return [error]
    offset = record.offset
    if offset is not None and np.isnan(offset).any():
        row = int(np.flatnonzero(np.isnan(offset))[0])
        return [
            FieldError(
                f"{record.source}, line {record.lines[row]}",
                "its time does not say its zone while others do",
                expected="all times with their zone, or none",
            )
        ]
    if offset is None and not theirs:
        if "columns" not in options.accept and (turn := _middle_of_day(record)):
            what, hour, low, high = turn
            return [
                TimeAxisError(
                    record.source,
                    f"its times can't be local: the day is {what} at {hour} h",
                    expected=f"the {what} hour between {low:.0f} and {high:.0f} h",
                    hint=Pieces(
                        "If they are universal time, say  ",
                        Option("stamps", "UTC"),
                        "  and  ",
                        Option("time_zone"),
                        " ; if they are right all the same,  ",
                        Option("accept", "columns"),
                    ),
                )
            ]
        record.notes.append(
            f"Times of {record.source} were taken as local clock time; its days begin at that "
            "midnight."
        )
        return []
    if offset is not None and not home:
        if not offset.any() and record.longitude is not None:
            hours = round(record.longitude / 15.0)
            home = datetime.timezone(datetime.timedelta(hours=hours))
            record.notes.append(
                f"Times of {record.source} are universal time; at longitude {record.longitude:g} "
                f"the sun is {abs(hours)} h {'ahead' if hours >= 0 else 'behind'}, so its days "
                f"were cut at midnight of UTC{hours:+d}."
            )
        elif not offset.any():
            return [
                FieldError(
                    record.source,
                    "its times are universal time, so its days would not begin at your midnight",
                    expected="the time zone of the place",
                    hint=Pieces(
                        "Say  ",
                        Option("time_zone", "Europe/Berlin"),
                        "  (or yours), or  ",
                        Option("time_zone", "UTC"),
                    ),
                )
            ]
        else:
            record.notes.append(f"Days of {record.source} run by the local time that it gives.")
            return []
    if offset is not None:
        seconds = record.times.astype("datetime64[s]").astype(np.int64) - (offset * 60).astype(int)
        universal = pd.DatetimeIndex(seconds.astype("datetime64[s]")).tz_localize("UTC")
    else:
        index = pd.DatetimeIndex(record.times)
        # of an hour that comes twice the first is summer time; one that comes once is not
        summer = index.duplicated(keep="last")
        universal = index.tz_localize(
            theirs, ambiguous=summer, nonexistent="shift_forward"
        ).tz_convert("UTC")
        home = home or theirs
    local = universal.tz_convert(home).tz_localize(None)
    record.times = local.to_numpy().astype("datetime64[s]")
    if options.time_zone or theirs:
        record.notes.append(
            f"Days of {record.source} run from midnight to midnight in {options.time_zone or home}."
        )
    return []


def _middle_of_day(record: Record) -> tuple[str, int, float, float] | None:
    """When the mean day is brightest or warmest [h], where that can't be by the local clock."""
    days = record.times.astype("datetime64[D]")
    hour = (record.times - days).astype(np.int64) // 3600
    for key, what, low, high, least in (
        ("solar_radiation", "brightest", 10.0, 15.0, 0.5),
        ("temperature", "warmest", 10.0, 19.0, 1.0),
    ):
        column = record.columns.get(key)
        if column is None or len(np.unique(days)) < _SEEN_DAYS:
            continue
        mean = pd.Series(column.values).groupby(hour).mean().to_numpy()
        if len(mean) < 24 or np.isnan(mean).any():
            continue
        turn = np.sum(mean * np.exp(2j * np.pi * (np.arange(24) + 0.5) / 24.0)) / 12.0
        if abs(turn) < least:
            continue  # no run of the day to speak of
        middle = float(np.angle(turn) * 12.0 / np.pi % 24.0)
        return None if low <= middle <= high else (what, round(middle), low, high)
    return None


def to_days(record: Record, options: Options) -> Record:
    """Daily values from a record of several rows a day, sorted by the clock that cuts its days.

    Rows within an hour are averaged, or added, first. Temperatures give the highest and lowest of
    the day; humidity the mean vapour pressure and the highest and lowest; wind the mean; rain,
    sunshine and radiation the sum, or the mean where rows are rates. Hours of rain are kept where
    rows are an hour or less apart. NaN where fewer than `LEAST_HOURS` hours hold a reading.
    """
    seconds = record.times.astype("datetime64[s]").astype(np.int64)
    if record.ends:
        seconds = seconds - 1
    hour = seconds // 3600
    hours, first_row = np.unique(hour, return_index=True)
    day_of_hour = hours // 24
    days, first_hour = np.unique(day_of_hour, return_index=True)
    errors = list(record.errors)
    made: dict[str, Column] = {}
    short = np.zeros(len(days), dtype=bool)
    partly = np.zeros(len(days), dtype=bool)
    columns = dict(record.columns)
    if "rain_counter" in columns and "rain" not in columns:
        columns["rain"], wrong = _counted(record, columns["rain_counter"], seconds // 86400)
        errors += wrong
    columns.pop("rain_counter", None)
    rain_hours: NDArray[np.float64] | None = None
    vapour = _vapour_pressure(columns)
    if vapour is not None:
        columns["vapour_pressure"] = vapour
        columns.pop("dew_point", None)
    for shadowed, by in (("temperature", ("tmax", "tmin")), ("rh_mean", ("rh_max", "rh_min"))):
        if set(by) <= set(columns):
            columns.pop(shadowed, None)
    for key, column in columns.items():
        adds = key in ("rain", "sunshine", "solar_radiation", "et0") and not column.rate
        frame = pd.Series(column.values).groupby(hour)
        by_hour = (frame.sum(min_count=1) if adds else frame.mean()).to_numpy()
        present = pd.Series(~np.isnan(by_hour)).groupby(day_of_hour).sum().to_numpy()
        enough = present >= LEAST_HOURS
        daily = pd.Series(by_hour).groupby(day_of_hour)
        result = (daily.sum(min_count=1) if adds else daily.mean()).to_numpy()
        if adds and key == "solar_radiation":
            # the missing hours of a day shine as the others do
            result = result * 24.0 / np.maximum(present, 1)
        if key == "rain" and _apart(seconds[~np.isnan(column.values)]) <= 3600:
            rain_hours = np.full((len(days), 24), np.nan)
            rain_hours[enough] = _shares(by_hour, hours, days)[enough]
        if key in _EXTREMES:
            rows = pd.Series(column.values).groupby(seconds // 86400)
            for name, values in _extremes(key, rows).items():
                made[name] = _daily(column, name, np.where(enough, values, np.nan))
        if key not in _EXTREMES or key == "rh_mean":
            made[key] = _daily(column, key, np.where(enough, result, np.nan))
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
        lines=record.lines[first_row[first_hour]],
        columns=made,
        daily=True,
        notes=notes,
        errors=errors,
        offset=None,
        rain_hours=rain_hours,
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
) -> NDArray[np.float64]:
    """Share of each clock hour in the rain of its day (days, 24); one without reading is dry."""
    found = np.zeros((len(days), 24))
    found[np.searchsorted(days, hours // 24), hours % 24] = np.nan_to_num(rain)
    total = found.sum(axis=1, keepdims=True)
    shares: NDArray[np.float64] = found / np.where(total > 0.0, total, 1.0)
    return shares


def _daily(column: Column, key: str, values: NDArray[np.float64]) -> Column:
    return replace(column, quantity=key, values=values, rate=False)


def _extremes(key: str, rows: Any) -> dict[str, NDArray[np.float64]]:
    if key == "temperature":
        return {"tmax": rows.max().to_numpy(), "tmin": rows.min().to_numpy()}
    if key == "rh_mean":
        return {"rh_max": rows.max().to_numpy(), "rh_min": rows.min().to_numpy()}
    return {key: (rows.max() if key in ("tmax", "rh_max") else rows.min()).to_numpy()}


def _vapour_pressure(columns: Mapping[str, Column]) -> Column | None:
    """Vapour pressure of each row: as given, from dew point, or from humidity and temperature."""
    if "vapour_pressure" in columns:
        return columns["vapour_pressure"]
    source = columns.get("dew_point")
    values = saturation_pressure(source.values) if source is not None else None
    if "rh_mean" in columns and "temperature" in columns:
        rh = columns["rh_mean"]
        other = rh.values / 100.0 * saturation_pressure(columns["temperature"].values)
        values = other if values is None else np.where(np.isnan(values), other, values)
        source = source or rh
    if source is None or values is None:
        return None
    return Column("vapour_pressure", source.name, source.unit, values, rate=True)


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
        errors.append(
            RangeError(
                f"{record.source}, line {record.lines[back[0]]}, column {counter.name}",
                f"the rain counted since midnight goes down{named_lines(record.lines[back[1:]])}",
                expected="a counter that starts again at midnight only",
                hint=Pieces(
                    "If the column is the rain of each row, say  ",
                    Option("columns", {counter.name: f"rain, {counter.unit}"}),
                ),
            )
        )
    amount = np.where(np.isnan(values), np.nan, np.maximum(amount, 0.0))
    return replace(counter, quantity="rain", values=amount, rate=False), errors
