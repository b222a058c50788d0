"""One whole row for each day: short gaps filled, long ones refused, stand-ins counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, TimeAxisError, raise_all
from bedtide.weather.et0 import (
    clear_sky_radiation,
    daylight_hours,
    extraterrestrial_radiation,
    first_known,
    radiation_from_sunshine,
    radiation_from_temperature,
    saturation_pressure,
    vapour_pressure_from_rh,
)
from bedtide.weather.hourly import usual_rain_hours
from bedtide.weather.options import RainDay, Setting
from bedtide.weather.record import GROUPS, QUANTITIES, Record, days_text, listed, runs

Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CORE = {"tmax": "highest temperature", "tmin": "lowest temperature", "rain": "rain"}
"""What a day must have; all else has a stand-in."""
_READY = {"et0": "reference evapotranspiration", "rain": "rain"}
"""What it must have where a file has no temperature but ready-made ET0."""
FLAGS = {name: 1 << bit for bit, name in enumerate(GROUPS)}
"""Bits of the variable that says what was measured on a day."""
STAND_INS = ("humidity", "wind", "radiation")
"""Groups of columns that have a stand-in."""
ASSUMED_HUMIDITY = 45.0  # lowest of a day where there is no temperature [%]: FAO-56, as the wind
ASSUMED_WIND = 2.0  # where none was measured [m s-1]: FAO-56 chapter 3, from memory
_RAIN_DAY = {
    "to morning": "Rain under a date fell up to that morning, so it was put on the day before.",
    "from morning": "Rain under a date fell from that morning on; it was left on that date.",
}
_NAMES = {name: about.group for name, about in QUANTITIES.items()} | {
    "temperature": "mean temperature",
    "sunshine": "sunshine",
    "et0": "ET0",
}


@dataclass(frozen=True)
class DailyColumns:
    """Columns on strictly consecutive days, in the units of `record.QUANTITIES`; wind at 2 m."""

    days: Days
    columns: dict[str, Floats]
    filled: Flags
    measured: NDArray[np.int8]  # sum of the FLAGS of what was measured that day
    sentences: list[str] = field(default_factory=list)  # what was filled or assumed, with counts
    rain_hours: Floats | None = None  # share of each hour in the day's rain; None: never known
    estimated: NDArray[np.int8] | int = 0  # how many of humidity, wind and radiation are stand-ins


def count_text(days: Flags) -> str:
    """``on 3 of 365 days`` or ``on every day``."""
    return "on every day" if days.all() else f"on {days.sum():,} of {len(days):,} days"


def core_of(record: Record) -> dict[str, str]:
    """What each day of a record must have: temperatures and rain, or ready-made ET0 and rain."""
    warm = record.columns.keys() & {"tmax", "tmin"}
    return _READY if "et0" in record.columns and not warm else CORE


def fill_gaps(record: Record, *, max_gap_days: int, rain_day: RainDay) -> DailyColumns:
    """Columns of a sorted daily record on consecutive days, its gaps filled and counted.

    Days before the first and after the last that has both temperatures and rain are cut off.
    Gaps of up to `max_gap_days` are filled: a straight line between the days on either side, rain
    as none. Longer ones are refused in temperature and rain, and left to `fill_in` elsewhere.
    `rain_day` is for the sentence alone: the rain stands on its days already.
    """
    core = core_of(record)
    if absent := [key for key in core if key not in record.columns]:
        raise lacking(record, absent)
    if not len(record.times):
        raise TimeAxisError(record.source, "there is not one day in it", expected="daily rows")
    given = record.times.astype("datetime64[D]")
    every = np.arange(given.min(), given.max() + np.timedelta64(1, "D"))
    daily = record.on(every)
    whole = np.flatnonzero(~_lacks(daily, core))
    if not len(whole):
        needed = "both temperatures and rain" if core is CORE else "both ET0 and rain"
        have = [
            f"{word} {(~np.isnan(record.columns[key].values)).sum()}" for key, word in core.items()
        ]
        hint = f"Days that have each: {', '.join(have)}" + record.fullest
        problem = f"no day has {needed}"
        raise TimeAxisError(record.source, problem, expected="at least one day", hint=hint)
    daily.select(np.arange(whole[0], whole[-1] + 1))
    days, columns = daily.times, {key: column.values for key, column in daily.columns.items()}
    sentences = [_RAIN_DAY[rain_day]] if rain_day != "midnight" else []
    if cut := len(every) - len(days):
        lack = days_text(cut, "lacks", "lack", at="at the ends of the record")
        what = "temperature" if core is CORE else "ET0"
        sentences.append(f"{lack} {what} or rain; it is used from {days[0]} to {days[-1]}.")
    _refuse_long(daily, core, max_gap_days)
    measured = np.zeros(len(days), dtype=np.int8)
    for name, known in known_groups(columns).items():
        measured += np.int8(FLAGS[name]) * known.astype(np.int8)
    filled: dict[str, Flags] = {}
    for key, values in columns.items():
        if key in core or key != "et0":
            name, flag = _NAMES[key], _fill(key, values, max_gap_days)
            filled[name] = filled.get(name, np.False_) | flag
    if core is CORE:
        np.minimum(columns["tmin"], columns["tmax"], out=columns["tmin"])
    for name, flag in filled.items():
        if flag.any():
            how = "taken as dry" if name == "rain" else "filled from the days on either side"
            sentences.append(f"Gaps: {name} {how} {count_text(flag)}.")
    hours = daily.rain_hours
    if hours is not None:
        unknown = np.isnan(hours)
        guessed = unknown.all(axis=1) & (columns["rain"] > 0.0)
        if guessed.any() and not unknown.all():
            sentences.append(
                f"Hours of rain: not known {count_text(guessed)}, taken as evenly from 9 to 15 h."
            )
        usual = usual_rain_hours(len(days))
        hours = None if unknown.all() else np.where(unknown, usual, hours)
    any_filled = np.any([*filled.values()], axis=0)
    return DailyColumns(days, columns, any_filled, measured, sentences, hours)


def _lacks(record: Record, core: Mapping[str, str]) -> Flags:
    """On which days one of these columns has nothing."""
    lacks = [np.isnan(record.columns[key].values) for key in core]
    return np.asarray(np.any(lacks, axis=0))


def known_groups(columns: Mapping[str, Floats]) -> dict[str, Flags]:
    """On which days each group that has columns was measured: both temperatures, or any else."""
    found: dict[str, Flags] = {}
    for name, keys in GROUPS.items():
        if known := [~np.isnan(columns[key]) for key in keys if key in columns]:
            together = np.all if name == "temperature" else np.any
            found[name] = np.asarray(together(known, axis=0))
    return found


def lacking(record: Record, absent: Sequence[str], *how: str) -> FieldError:
    """What is said where columns of `CORE` are not there; `how` to mend it, if not as in a file."""
    names = {"tmax": "HIGHEST", "tmin": "LOWEST", "rain": "RAIN"}
    hint: tuple[str | Option, ...] = how
    if not how and record.ignored:
        columns = {names[key]: f"{key}, UNIT" for key in absent}
        hint = (". Say which it is with  ", Option("columns", columns))
    elif not how:
        hint = (". Take it from another file with  ", Option("borrow", "FILE"))
    found = [f"{column.name} ({key})" for key, column in record.columns.items()]
    text = f"Found: {', '.join(found) or 'no weather column'}"
    if record.ignored:
        text += f"; not understood: {', '.join(record.ignored[:12])}"
    problem = f"there is no {' and no '.join(CORE[key] for key in absent)} in it"
    wanted = "columns for the highest and the lowest temperature and for rain"
    return FieldError(record.source, problem, expected=wanted, hint=Pieces(text, *hint))


def _refuse_long(record: Record, core: Mapping[str, str], most: int) -> None:
    """Refuse gaps of more than so many days in what each day must have."""
    days, columns = record.times, {key: record.columns[key].values for key in core}
    long = [(a, b) for a, b in runs(_lacks(record, core)) if _longest(columns, a, b) > most]
    if not long:
        return
    parts = zip([0, *(b for _, b in long)], [*(a for a, _ in long), len(days)], strict=True)
    start, stop = max(parts, key=lambda part: part[1] - part[0])
    hint = Pieces(
        "Choose the longest part without such a gap with  ",
        Option("start", str(days[start])),
        "  and  ",
        Option("end", str(days[stop - 1])),
        " , or allow longer gaps with  ",
        Option("max_gap_days"),
    )
    errors: list[InputError] = []
    for a, b in long:
        words = [word for key, word in core.items() if np.isnan(columns[key][a:b]).any()]
        before = record.lines[:a].max()
        errors.append(
            TimeAxisError(
                record.source + (f", after line {before}" if before else ""),
                f"{listed(words)} missing from {days[a]} to {days[b - 1]} ({b - a} days)",
                expected=f"gaps of at most {most} days",
                hint=hint if (a, b) == long[0 if len(long) > 10 else -1] else "",
            )
        )
    raise_all(errors)


def _longest(columns: Mapping[str, Floats], a: int, b: int) -> int:
    """The longest gap of any column from a day to a day."""
    return max(d - c for values in columns.values() for c, d in runs(np.isnan(values[a:b])))


def _fill(key: str, values: Floats, most: int) -> Flags:
    """Fill short gaps in place; returns where."""
    missing = np.isnan(values)
    flag = np.zeros(len(values), dtype=bool)
    if not missing.any() or missing.all():
        return flag
    for a, b in runs(missing):
        flag[a:b] = b - a <= most and a > 0 and b < len(values)
    if key == "rain":
        values[flag] = 0.0
    else:
        known = np.flatnonzero(~missing)
        values[flag] = np.interp(np.flatnonzero(flag), known, values[known])
    return flag


def fill_in(
    daily: DailyColumns, *, latitude: float, elevation: float, setting: Setting = "inland"
) -> DailyColumns:
    """All that ET0 and crops need on each day, measured or a stand-in; place in [degree] and [m].

    FAO-56 chapter 3, from memory: the dew point at the lowest temperature (Eq. 48); radiation by
    sunshine, else by temperature and capped at clear sky; wind of 2 m/s; the lowest humidity from
    vapour pressure and highest temperature (Eq. 10). Beside ready-made ET0 the wind and damp that
    crops respond to: where not measured, those for which the table of crop coefficients holds
    (chapter 6), 45 % at the least and 2 m/s.
    """
    have = dict.fromkeys(QUANTITIES, np.full(len(daily.days), np.nan)) | daily.columns
    warm, cold = have["tmax"], have["tmin"]
    calm = np.isnan(have["wind_speed"])
    wind = np.where(calm, ASSUMED_WIND, have["wind_speed"])
    sentences = [*daily.sentences]

    def said(what: str, days: Flags, more: str = "") -> None:
        if days.any():
            sentences.append(f"{what} {count_text(days)}{more}.")

    if "tmax" not in daily.columns:
        sentences.append("ET0: the file's own, as it has no temperature to work it out from.")
        damp = np.isnan(have["rh_min"])
        said("Humidity: 45 % at the least was assumed", damp)
        said("Wind: 2 m/s was assumed", calm)
        lowest = np.where(damp, ASSUMED_HUMIDITY, have["rh_min"])
        unknown = np.full_like(wind, np.nan)
        columns = have | {"vapour_pressure": unknown, "rh_min": lowest, "wind_speed": wind}
        estimated = damp.astype(np.int8) + calm
        return replace(daily, columns=columns, estimated=estimated, sentences=sentences)

    humidity = {name: have[name] for name in ("rh_max", "rh_min", "rh_mean")}
    vapour = first_known(
        have["vapour_pressure"],
        saturation_pressure(have["dew_point"]),
        vapour_pressure_from_rh(warm, cold, **humidity),
    )
    dry = np.isnan(vapour)
    vapour = np.where(dry, saturation_pressure(cold), vapour)
    said("Humidity: the dew point was taken as the lowest temperature", dry)
    most = (saturation_pressure(warm) + saturation_pressure(cold)) / 2.0
    said("Humidity: more than the air can hold, taken as saturated,", vapour > most * 1.005)
    vapour = np.minimum(vapour, most)
    from_vapour = np.minimum(100.0 * vapour / saturation_pressure(warm), 100.0)
    said("Wind: 2 m/s was assumed", calm)

    above = extraterrestrial_radiation(daily.days, latitude)
    by_hours = np.isnan(have["solar_radiation"]) & ~np.isnan(have["sunshine"])
    said("Solar radiation: worked out from hours of sunshine", by_hours)
    daylight = daylight_hours(daily.days, latitude)
    by_range = radiation_from_temperature(warm, cold, above, setting=setting)
    dark = np.isnan(have["solar_radiation"]) & np.isnan(have["sunshine"])
    where = "near a coast" if setting == "coast" else "away from the coast"
    said("Solar radiation: estimated from the day's range of temperature", dark, f" ({where})")
    sun = first_known(
        have["solar_radiation"],
        radiation_from_sunshine(have["sunshine"], daylight, above),
        np.minimum(by_range, clear_sky_radiation(above, elevation)),
    )
    whole = {
        "vapour_pressure": vapour,
        "rh_min": first_known(have["rh_min"], from_vapour),
        "wind_speed": wind,
        "solar_radiation": sun,
    }
    estimated = dry.astype(np.int8) + calm + dark
    return replace(daily, columns=have | whole, estimated=estimated, sentences=sentences)
