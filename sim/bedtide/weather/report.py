"""What was read and what it is worth; what files hold that a season can't run on yet."""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.constants import MONTH_LENGTHS
from bedtide.errors import InputError
from bedtide.weather.fill import core_of, fill_gaps, lacking
from bedtide.weather.join import GROUPS, shift_rain
from bedtide.weather.names import read_heading
from bedtide.weather.options import READY_MADE, Options, Paths, answers_to, takes_options
from bedtide.weather.read import gather, known_place, noted
from bedtide.weather.record import Record, days_text, listed, runs
from bedtide.weather.suspicious import Suspicion, measured, suspicions

if TYPE_CHECKING:
    import xarray as xr


Days = NDArray[np.datetime64]
Floats = NDArray[np.float64]

_WET = (1, 3, 7, 14, 30)  # lengths of the spells that are looked for [d]
_DRY = (7, 14, 30, 60, 90)
_MANY_YEARS, _FEW_YEARS = 10, 5


@dataclass(frozen=True)
class Spell:
    """The wettest or driest stretch of so many days."""

    kind: str  # wet or dry
    window: int  # [d]
    first: np.datetime64
    last: np.datetime64
    rain: float  # sum over it [m], as et0
    et0: float


@dataclass(frozen=True)
class Verdict:
    """How far a record can be trusted."""

    grade: str  # good: nothing against it; usable: something to know; doubtful: look first
    years: float
    reasons: tuple[str, ...]  # plain sentences, the weightiest first


def coverage(weather: xr.Dataset) -> pd.DataFrame:
    """Share of the days of each year on which each quantity was measured, years by quantity.

    Days of the year before the first or after the last count as not measured.
    """
    names = str(weather["measured"].attrs["flag_meanings"]).split()
    years = weather["time"].dt.year.values
    counted = pd.DataFrame({name: measured(weather, name) for name in names}).groupby(years).sum()
    length = [365 + calendar.isleap(year) for year in counted.index]
    return counted.div(np.asarray(length), axis=0).rename_axis("year")


def spells(weather: xr.Dataset) -> list[Spell]:
    """The wettest stretches by rain, the driest by reference evapotranspiration less rain."""
    days = weather["time"].values.astype("datetime64[D]")
    rain, et0 = weather["rain"].values, weather["et0"].values
    found = []
    for kind, windows, weight in (("wet", _WET, rain), ("dry", _DRY, et0 - rain)):
        for window in windows:
            if window > len(days):
                continue
            start = int(np.argmax(_sums(weight, window)))
            part = slice(start, start + window)
            sums = float(rain[part].sum()), float(et0[part].sum())
            found.append(Spell(kind, window, days[part][0], days[part][-1], *sums))
    return found


def _sums(values: Floats, window: int) -> Floats:
    total = np.concatenate(([0.0], np.cumsum(values)))
    return np.round(total[window:] - total[:-window], 9)


def verdict(weather: xr.Dataset, found: list[Suspicion]) -> Verdict:
    """How far the record can be trusted, with the reasons."""
    total = weather.sizes["time"]
    years = total / 365.25
    filled = int(weather["filled"].values.sum())
    by_temperature = weather.attrs.get("et0_method") == "hargreaves"
    against: list[tuple[int, str]] = []
    if found:
        odd = np.zeros(total, dtype=bool)
        first = weather["time"].values.astype("datetime64[D]")[0]
        for one in found:
            odd[(one.first - first).astype(int) : (one.last - first).astype(int) + 1] = True
        heavy = odd.mean() > 0.05 or any(s.kind in ("dry month", "no dry day") for s in found)
        kinds = f"{len(found)} suspicious stretch{'es' if len(found) > 1 else ''}"
        against.append((2 if heavy else 1, f"{kinds} on {days_text(int(odd.sum()))}; see below."))
    if filled:
        weight = 2 if filled > 0.05 * total else 0
        against.append((weight, f"Gaps were filled on {filled:,} of {total:,} days."))
    if by_temperature:
        against.append((1, "ET0 rests on temperature alone and can be a fifth or more off."))
    elif weather.attrs.get("et0_method") == READY_MADE:
        against.append((1, "ET0 is the file's own and could not be checked."))
    elif guess := _guessed(weather):
        against.append(guess)
    if years < _FEW_YEARS:
        against.append((1, f"It has {years:.1f} years; odds need at least 5, better 10."))
    elif years < _MANY_YEARS:
        against.append((0, f"It has {years:.1f} years, enough for odds; 10 would be better."))
    worst = max((weight for weight, _ in against), default=0)
    grade = ("good", "usable", "doubtful")[worst]
    reasons = [text for _, text in sorted(against, key=lambda pair: -pair[0])]
    if not reasons:
        reasons = [f"{years:.0f} years, all measured, nothing suspicious."]
    return Verdict(grade, years, tuple(reasons))


def estimated_days(weather: xr.Dataset) -> dict[str, int]:
    """Days on which humidity, wind or radiation rests on a stand-in, filled gaps aside [d]."""
    whole = ~weather["filled"].values
    names = ("humidity", "wind", "radiation")
    counts = {name: int((~measured(weather, name) & whole).sum()) for name in names}
    if weather.attrs.get("et0_method") == READY_MADE:
        counts["radiation"] = 0  # nothing rests on it
    return counts


def _guessed(weather: xr.Dataset) -> tuple[int, str] | None:
    """Which of the columns behind ET0 are stand-ins, on how many days, and how that weighs."""
    total, days = weather.sizes["time"], int((weather["estimated"].values > 0).sum())
    if not days:
        return None
    counts = {name: count for name, count in estimated_days(weather).items() if count}
    alike = len(set(counts.values())) <= 1
    words = listed(list(counts), "and" if alike else "or")
    verb = "were" if alike and len(counts) > 1 else "was"
    share = "every day" if days == total else f"{100 * days / total:.0f} % of the days"
    weight = 1 if days > 0.1 * total else 0
    return weight, f"{words[0].upper()}{words[1:]} {verb} estimated on {share}."


@dataclass(frozen=True)
class WeatherReport:
    """A weather record at a glance."""

    place: str
    source: str
    format: str
    latitude: float  # [degree]
    elevation: float  # [m]
    rain_day: str
    first: np.datetime64
    last: np.datetime64
    days: int  # [d]
    columns_read: tuple[str, ...]  # with quantity and unit
    columns_ignored: tuple[str, ...]
    filled_days: int
    estimated_days: dict[str, int]
    months: pd.DataFrame  # mean, least and most of whole months of rain and ET0 [mm]; how many
    rain_year: float  # mean yearly sum [mm], as et0_year
    et0_year: float
    et0_given_days: int  # on which the file has ET0 of its own beside ours [d]
    et0_given_ratio: float | None  # its sum over ours on these days [1]
    assumptions: tuple[str, ...]
    verdict: Verdict
    coverage: pd.DataFrame  # share of days measured, years by quantity
    estimated_share: pd.Series  # share of days with a stand-in, by year
    spells: tuple[Spell, ...]
    suspicions: tuple[Suspicion, ...]


def weather_report(weather: xr.Dataset) -> WeatherReport:
    """Span, columns, gaps, estimates, a verdict, and rain and ET0 by month of a daily record."""
    days = weather["time"].values.astype("datetime64[D]")
    depth = {
        name: pd.Series(weather[name].values * 1000.0, index=weather["time"].to_index())
        for name in ("rain", "et0")
    }
    years = len(days) / 365.25
    found = suspicions(weather)
    attrs = weather.attrs
    return WeatherReport(
        place=attrs["place"],
        source=attrs["source"],
        format=attrs["format"],
        latitude=attrs["latitude"],
        elevation=attrs["elevation"],
        rain_day=attrs["rain_day"],
        first=days[0],
        last=days[-1],
        days=len(days),
        columns_read=tuple(attrs["columns_read"]),
        columns_ignored=tuple(attrs["columns_ignored"]),
        filled_days=int(weather["filled"].values.sum()),
        estimated_days=estimated_days(weather),
        months=_months(depth),
        rain_year=float(depth["rain"].sum() / years),
        et0_year=float(depth["et0"].sum() / years),
        et0_given_days=int(attrs.get("et0_given_days", 0)),
        et0_given_ratio=attrs.get("et0_given_ratio"),
        assumptions=tuple(attrs["assumptions"]),
        verdict=verdict(weather, found),
        coverage=coverage(weather),
        estimated_share=_estimated_share(weather),
        spells=tuple(spells(weather)),
        suspicions=tuple(found),
    )


def _estimated_share(weather: xr.Dataset) -> pd.Series:
    guessed = pd.Series((weather["estimated"].values > 0) | weather["filled"].values)
    return guessed.groupby(weather["time"].dt.year.values).mean().rename_axis("year")


def _months(depth: dict[str, pd.Series]) -> pd.DataFrame:
    """Mean, least and most of the sums of whole months [mm]."""
    table: dict[str, pd.Series] = {}
    for name, daily in depth.items():
        month = daily.index.to_period("M")  # type: ignore[attr-defined]
        grouped = daily.groupby(month)
        size = grouped.size()
        whole = size.to_numpy() == pd.PeriodIndex(size.index).days_in_month
        sums = grouped.sum()[whole]
        by_month = sums.groupby(sums.index.month)
        table[name] = by_month.mean()
        table[f"{name}_least"] = by_month.min()
        table[f"{name}_most"] = by_month.max()
        table["months"] = by_month.size()
    return pd.DataFrame(table).rename_axis("month")


# files that can't be used yet --------------------------------------------------------------------


@dataclass(frozen=True)
class Gap:
    """Days between the first and the last of a record on which a quantity was not measured."""

    quantity: str
    days: int
    longest: int  # [d]
    first: np.datetime64  # day of the longest stretch


@dataclass(frozen=True)
class Description:
    """What is known of a record before it can be used, and what is in the way."""

    place: str
    source: str
    format: str
    latitude: float | None  # [degree]; None where it is not known, as elevation
    elevation: float | None  # [m]
    first: np.datetime64
    last: np.datetime64
    days: int  # that have a row [d]
    columns_read: tuple[str, ...]
    columns_ignored: tuple[str, ...]
    gaps: tuple[Gap, ...]
    months: pd.DataFrame  # by month: days, mean rain of a month [mm], tmin and tmax [degC]
    problems: tuple[InputError, ...]


@takes_options(Options)
def describe_weather(path: Paths, options: Options) -> Description | None:
    """Days, columns, gaps, months and all problems of files; None where nothing can be read."""
    options = replace(options, every_column=isinstance(path, (str, Path)))
    found = gather(path, options)
    record, problems = found.record, found.problems
    if record is None:
        return None
    record.rain_day = options.rain_day or record.rain_day
    _missing(record, options, problems)
    days = record.times.astype("datetime64[D]")
    return Description(
        place=record.place,
        source=record.source,
        format=record.format,
        latitude=record.latitude,
        elevation=record.elevation,
        first=days[0],
        last=days[-1],
        days=len(days),
        columns_read=found.read,
        columns_ignored=tuple(record.ignored),
        gaps=tuple(_gaps(record)),
        months=_months_so_far(record),
        problems=tuple({problem.text: problem for problem in problems}.values()),
    )


def _missing(record: Record, options: Options, problems: list[InputError]) -> None:
    """Note a place that is not known, columns and days that a season needs."""
    with noted(problems):
        known_place(record)
    unsettled = {read_heading(name).key for name in answers_to(problems).get("columns", {})}
    core = core_of(record)
    absent = [key for key in core if key not in record.columns]
    if waiting := [key for key in absent if key not in unsettled]:
        problems.append(lacking(record, waiting))
    there = [record.columns[key] for key in core if key in record.columns]
    if there:  # for one that is absent another tells of its gaps
        columns = {**dict.fromkeys(absent, there[0]), **record.columns}
        with noted(problems):
            shifted = shift_rain(replace(record, columns=columns), record.rain_day)
            fill_gaps(shifted, max_gap_days=options.max_gap_days, rain_day=record.rain_day)


def _gaps(record: Record) -> Iterator[Gap]:
    """Days without each group of quantities that the record has at all."""
    days = record.times.astype("datetime64[D]")
    every = np.arange(days[0], days[-1] + np.timedelta64(1, "D"))
    at = (days - days[0]).astype(np.int64)
    for name, keys in GROUPS.items():
        columns = [record.columns[key].values for key in keys if key in record.columns]
        if not columns:
            continue
        known = np.zeros(len(every), dtype=bool)
        together = np.all if name == "temperature" else np.any
        known[at] = together([~np.isnan(values) for values in columns], axis=0)
        stretches = list(runs(~known))
        if stretches:
            a, b = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
            yield Gap(name, int((~known).sum()), b - a, every[a])


def _months_so_far(record: Record) -> pd.DataFrame:
    """By month: days, rain of a whole month [mm], mean lowest and highest temperature [degC]."""
    month = record.times.astype("datetime64[M]").astype(np.int64) % 12 + 1
    nothing: NDArray[np.float64] = np.full(len(month), np.nan)
    daily = pd.DataFrame(
        {
            name: record.columns[name].values if name in record.columns else nothing
            for name in ("rain", "tmin", "tmax")
        }
    )
    grouped = daily.groupby(month)
    table = grouped.mean()
    table["rain"] *= [MONTH_LENGTHS[number - 1] for number in table.index]
    table.insert(0, "days", grouped.size())
    return table.rename_axis("month")
