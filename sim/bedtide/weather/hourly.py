"""Rows of an hour or less to days; a day with too few hours is a gap, not a guess."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.constants import RAIN_HOURS
from bedtide.errors import InputError, RangeError
from bedtide.weather.humidity import saturation_pressure
from bedtide.weather.record import Column, Options, Record, days_text, named_lines

__all__ = ["LEAST_HOURS", "to_days", "usual_rain_hours"]

LEAST_HOURS = 20
"""Clock hours of a day that must hold a reading [1]; our choice: a front or a storm of up to
four hours can be missed, and on the day summer time begins there are only 23."""

_EXTREMES = ("temperature", "tmax", "tmin", "rh_mean", "rh_max", "rh_min")


def to_days(record: Record, options: Options) -> Record:
    """Daily values from a record of several rows a day.

    Temperatures give the highest and lowest of the day; humidity the mean vapour pressure of
    its hours, and the highest and lowest relative humidity; wind the mean; rain, sunshine and
    radiation the sum, or the mean rate over the day where rows are rates. Within an hour rows
    are averaged, or added, first.

    Parameters
    ----------
    record : Record
        Times in the clock by which days are cut, in order.
    options : Options
        Whether rows carry the time at which they start or end.

    Returns
    -------
    Record
        One row a day; NaN where fewer than `LEAST_HOURS` hours hold a reading. The hours of rain
        are kept where its rows are an hour or less apart.
    """
    seconds = record.times.astype("datetime64[s]").astype(np.int64)
    if options.hour_stamp == "end":
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
        adds = key in ("rain", "sunshine", "solar_radiation") and not column.rate
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
            f"{days_text(int(short.sum()), 'has', 'have', of=record.source)} fewer than "
            f"{LEAST_HOURS} hours of one reading or more; those readings count as not measured."
        )
    if partly.any():
        notes.append(
            f"On {days_text(int(partly.sum()), of=record.source)} up to {24 - LEAST_HOURS} hours "
            "of a reading are missing; rain of those hours counts as none, and the extremes are "
            "those of the other hours."
        )
    return Record(
        record.source,
        record.format,
        days.astype("datetime64[D]").astype("datetime64[s]"),
        record.lines[first_row[first_hour]],
        made,
        daily=True,
        latitude=record.latitude,
        elevation=record.elevation,
        place=record.place,
        wind_height=record.wind_height,
        rain_day=record.rain_day,
        ignored=record.ignored,
        notes=notes,
        errors=errors,
        rain_hours=rain_hours,
    )


def usual_rain_hours(days: int) -> NDArray[np.float64]:
    """Hours of rain where they are not known: evenly between `RAIN_HOURS`.

    Parameters
    ----------
    days : int
        How many [d].

    Returns
    -------
    ndarray of float, shape (days, 24)
        Share of each hour in the rain of the day [1].
    """
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
    return np.divide(found, total, out=np.zeros_like(found), where=total > 0.0)


def _daily(column: Column, key: str, values: NDArray[np.float64]) -> Column:
    return Column(key, column.name, column.unit, values, column.factor, column.offset)


def _extremes(key: str, rows: Any) -> dict[str, NDArray[np.float64]]:
    if key == "temperature":
        return {"tmax": rows.max().to_numpy(), "tmin": rows.min().to_numpy()}
    if key == "rh_mean":
        return {"rh_max": rows.max().to_numpy(), "rh_min": rows.min().to_numpy()}
    return {key: (rows.max() if key in ("tmax", "rh_max") else rows.min()).to_numpy()}


def _vapour_pressure(columns: dict[str, Column]) -> Column | None:
    """Vapour pressure of each row: as given, from dew point, or from humidity and temperature."""
    if "vapour_pressure" in columns:
        return columns["vapour_pressure"]
    if "dew_point" in columns:
        dew = columns["dew_point"]
        values = saturation_pressure(dew.values)
        if "rh_mean" in columns and "temperature" in columns:
            other = columns["rh_mean"].values / 100.0
            other = other * saturation_pressure(columns["temperature"].values)
            values = np.where(np.isnan(values), other, values)
        return Column("vapour_pressure", dew.name, dew.unit, values, rate=True)
    if "rh_mean" in columns and "temperature" in columns:
        rh = columns["rh_mean"]
        values = rh.values / 100.0 * saturation_pressure(columns["temperature"].values)
        return Column("vapour_pressure", rh.name, rh.unit, values, rate=True)
    return None


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
                hint="If the column is the rain of each row, map it: columns = "
                f'{{"{counter.name}": "rain, {counter.unit}"}}',
            )
        )
    amount = np.where(np.isnan(values), np.nan, np.maximum(amount, 0.0))
    name = counter.name
    return Column("rain", name, counter.unit, amount, counter.factor, counter.offset), errors
