"""What a weather record comes to and what it is worth: every figure that is told of it."""

from __future__ import annotations

import calendar
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bedtide import __version__
from bedtide.constants import MONTH_LENGTHS
from bedtide.weather import (
    READY_MADE,
    days_text,
    estimated_days,
    known_groups,
    listed,
    measured,
    runs,
    suspicions,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.weather import Record, Suspicion

_YEAR = 365  # days from which on a year is told [d]
_WET = (1, 3, 7, 14, 30)  # lengths of the spells that are looked for [d]
_DRY = (7, 14, 30, 60, 90)
_MANY_YEARS, _FEW_YEARS = 10, 5


@dataclass(frozen=True, kw_only=True)
class RawMonth:
    """A month of the mean year as it was measured; None for what was not."""

    month: int
    days: int
    rain_mm: float | None
    lowest_temperature_C: float | None
    highest_temperature_C: float | None


@dataclass(frozen=True, kw_only=True)
class Month:
    """A month of the mean year: sums of whole months, scaled up where no month is whole."""

    month: int
    days: int
    whole_months: int
    rain_mm: float
    rain_mm_least: float | None
    rain_mm_most: float | None
    reference_evapotranspiration_mm: float
    reference_evapotranspiration_mm_least: float | None
    reference_evapotranspiration_mm_most: float | None
    lowest_temperature_C: float | None
    highest_temperature_C: float | None

    @property
    def et0_a_day(self) -> float:
        """Mean reference evapotranspiration of a day [mm]."""
        return self.reference_evapotranspiration_mm / MONTH_LENGTHS[self.month - 1]


@dataclass(frozen=True, kw_only=True)
class Spell:
    """The wettest or the driest stretch of its length, with its sums."""

    kind: str
    days: int
    from_: str
    to: str
    rain_mm: float
    reference_evapotranspiration_mm: float


@dataclass(frozen=True, kw_only=True)
class Suspicious:
    """A stretch that a careful reader would look at."""

    kind: str
    from_: str
    to: str
    sentence: str


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Days of a record on which a quantity was not measured, and their longest stretch."""

    quantity: str
    days: int
    longest_days: int
    longest_from: str


@dataclass(frozen=True, kw_only=True)
class Measured:
    """Which record it is: where, of what days, read from what."""

    bedtide_version: str = __version__
    place: str
    source: str
    format: str
    latitude: float | None
    elevation_m: float | None
    from_: str
    to: str
    days: int


@dataclass(frozen=True, kw_only=True)
class Described(Measured):
    """What a record holds on which a season can't run yet, and what is in the way."""

    columns_read: tuple[str, ...]
    columns_not_used: tuple[str, ...]
    gaps: tuple[Gap, ...]
    months: tuple[RawMonth, ...]
    problems: tuple[str, ...]
    command: str  # that settles them, as far as options can


@dataclass(frozen=True, kw_only=True)
class Weather(Measured):
    """Every figure that is told of a weather record, its unit in its name."""

    grade: str  # good: nothing against it; usable: something to know; doubtful: look first
    reasons: tuple[str, ...]  # plain sentences, the weightiest first
    rain_mm_a_year: float | None
    reference_evapotranspiration_mm_a_year: float | None
    days_with_rain: int
    rain_day: str
    days_filled: int
    days_estimated: int
    days_estimated_humidity: int
    days_estimated_wind: int
    days_estimated_radiation: int
    columns_read: tuple[str, ...]
    columns_not_used: tuple[str, ...]
    assumptions: tuple[str, ...]
    months: tuple[Month, ...]
    spells: tuple[Spell, ...]
    suspicious: tuple[Suspicious, ...]
    own_evapotranspiration_days: int | None = None  # where the file has ET0 of its own beside ours
    own_evapotranspiration_ratio: float | None = None  # its sum over ours on these days


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


# a record that a season can run on -----------------------------------------------------------


def summary_of(weather: xr.Dataset) -> Weather:
    """Span, columns, gaps, estimates, a verdict, and rain and ET0 by month of a daily record."""
    attrs, total = weather.attrs, weather.sizes["time"]
    first, last = weather["time"].values.astype("datetime64[D]")[[0, -1]]
    found = suspicions(weather)
    grade, reasons = verdict(weather, found)
    counts = estimated_days(weather)
    guessed: dict[str, Any] = {f"days_estimated_{name}": count for name, count in counts.items()}
    rain, et0 = (
        float((weather[name].values * 1000.0).sum() / (total / 365.25)) if total >= _YEAR else None
        for name in ("rain", "et0")
    )
    return Weather(
        place=attrs["place"],
        source=attrs["source"],
        format=attrs["format"],
        latitude=attrs["latitude"],
        elevation_m=attrs["elevation"],
        from_=str(first),
        to=str(last),
        days=total,
        grade=grade,
        reasons=reasons,
        rain_mm_a_year=rain,
        reference_evapotranspiration_mm_a_year=et0,
        days_with_rain=int((weather["rain"] > 0).sum()),
        rain_day=attrs["rain_day"],
        days_filled=int(weather["filled"].values.sum()),
        days_estimated=int((weather["estimated"] > 0).sum()),
        **guessed,
        columns_read=tuple(attrs["columns_read"]),
        columns_not_used=tuple(attrs["columns_ignored"]),
        assumptions=tuple(attrs["assumptions"]),
        months=tuple(_months(weather)),
        spells=tuple(spells(weather)),
        suspicious=tuple(
            Suspicious(kind=one.kind, from_=str(one.first), to=str(one.last), sentence=one.sentence)
            for one in found
        ),
        own_evapotranspiration_days=attrs.get("et0_given_days"),
        own_evapotranspiration_ratio=attrs.get("et0_given_ratio"),
    )


def verdict(weather: xr.Dataset, found: list[Suspicion]) -> tuple[str, tuple[str, ...]]:
    """How far the record can be trusted, with the reasons."""
    total = weather.sizes["time"]
    years = round(total / 365.25, 1)  # as it is told: five calendar years may have one leap day
    filled = int(weather["filled"].values.sum())
    method = weather.attrs.get("et0_method")
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
    if method == "hargreaves":
        against.append((1, "ET0 rests on temperature alone and can be a fifth or more off."))
    elif method == READY_MADE:
        against.append((1, "ET0 is the file's own and could not be checked."))
    else:
        against += _guessed(weather)
    if total < _YEAR:
        against.append((1, f"It has {days_text(total)}; odds need at least 5 years, better 10."))
    elif years < _FEW_YEARS:
        against.append((1, f"It has {years:.1f} years; odds need at least 5, better 10."))
    elif years < _MANY_YEARS:
        against.append((0, f"It has {years:.1f} years, enough for odds; 10 would be better."))
    worst = max((weight for weight, _ in against), default=0)
    reasons = [text for _, text in sorted(against, key=lambda pair: -pair[0])]
    if not reasons:
        reasons = [f"{years:.0f} years, all measured, nothing suspicious."]
    return ("good", "usable", "doubtful")[worst], tuple(reasons)


def _guessed(weather: xr.Dataset) -> Iterator[tuple[int, str]]:
    """Which of the columns behind ET0 are stand-ins, on how many days, and how that weighs."""
    total, days = weather.sizes["time"], int((weather["estimated"].values > 0).sum())
    if not days:
        return
    counts = {name: count for name, count in estimated_days(weather).items() if count}
    alike = len(set(counts.values())) <= 1
    words = listed(list(counts), "and" if alike else "or")
    verb = "were" if alike and len(counts) > 1 else "was"
    share = "every day" if days == total else f"{100 * days / total:.0f} % of the days"
    weight = 1 if days > 0.1 * total else 0
    yield weight, f"{words[0].upper()}{words[1:]} {verb} estimated on {share}."


def coverage(weather: xr.Dataset) -> pd.DataFrame:
    """Share of the days of each year on which each quantity was measured, years by quantity.

    Days of the year before the first or after the last count as not measured.
    """
    names = str(weather["measured"].attrs["flag_meanings"]).split()
    years = weather["time"].dt.year.values
    counted = pd.DataFrame({name: measured(weather, name) for name in names}).groupby(years).sum()
    length = [365 + calendar.isleap(year) for year in counted.index]
    return counted.div(np.asarray(length), axis=0).rename_axis("year")


def estimated_share(weather: xr.Dataset) -> pd.Series:
    """Share of the days of each year that rest on a stand-in or a filled gap."""
    guessed = pd.Series((weather["estimated"].values > 0) | weather["filled"].values)
    return guessed.groupby(weather["time"].dt.year.values).mean().rename_axis("year")


def spells(weather: xr.Dataset) -> Iterator[Spell]:
    """The wettest stretches by rain, the driest by reference evapotranspiration less rain."""
    days = weather["time"].values.astype("datetime64[D]")
    rain, et0 = weather["rain"].values, weather["et0"].values
    for kind, windows, weight in (("wet", _WET, rain), ("dry", _DRY, et0 - rain)):
        total = np.concatenate(([0.0], np.cumsum(weight)))
        for window in (each for each in windows if each <= len(days)):
            start = int(np.argmax(np.round(total[window:] - total[:-window], 9)))
            part = slice(start, start + window)
            yield Spell(
                kind=kind,
                days=window,
                from_=str(days[start]),
                to=str(days[part][-1]),
                rain_mm=float(rain[part].sum()) * 1e3,
                reference_evapotranspiration_mm=float(et0[part].sum()) * 1e3,
            )


def _months(weather: xr.Dataset) -> Iterator[Month]:
    """The months that the record holds, in the order of the year."""
    month = weather["time"].dt.month.to_numpy()
    days = np.bincount(month)
    names = {"rain": "rain_mm", "et0": "reference_evapotranspiration_mm"}
    daily = weather[list(names)].to_dataframe() * 1000.0
    grouped = daily.groupby(daily.index.to_period("M"))  # type: ignore[attr-defined]
    size: Any = grouped.size()
    sums: Any = grouped.sum()[size.to_numpy() == size.index.days_in_month]
    whole = sums.groupby(sums.index.month).agg(["size", "mean", "min", "max"]).to_dict("index")
    for at in np.flatnonzero(days).tolist():
        mean = {
            name: float(np.bincount(month, weights=weather[name].to_numpy())[at] / days[at])
            for name in (*names, "tmin", "tmax")
        }
        told: dict[str, Any] = {}
        for name, key in names.items():
            scaled = {(name, "mean"): mean[name] * MONTH_LENGTHS[at - 1] * 1e3}
            found = whole.get(at, scaled)
            for of, ending in (("mean", ""), ("min", "_least"), ("max", "_most")):
                told[key + ending] = found.get((name, of))
        yield Month(
            month=at,
            days=int(days[at]),
            whole_months=int(whole[at]["rain", "size"]) if at in whole else 0,
            **told,
            lowest_temperature_C=_known(mean["tmin"]),
            highest_temperature_C=_known(mean["tmax"]),
        )


# a record that can't be used yet ---------------------------------------------------------------


def described(
    record: Record, read: tuple[str, ...], problems: tuple[str, ...], command: str
) -> Described:
    """Days, columns, gaps and months of a record as it was read."""
    days = record.times.astype("datetime64[D]")
    return Described(
        place=record.place,
        source=record.source,
        format=record.format,
        latitude=record.latitude,
        elevation_m=record.elevation,
        from_=str(days[0]),
        to=str(days[-1]),
        days=len(days),
        columns_read=read,
        columns_not_used=tuple(record.ignored),
        gaps=tuple(_gaps(record)),
        months=tuple(_raw_months(record)),
        problems=problems,
        command=command,
    )


def _gaps(record: Record) -> Iterator[Gap]:
    """Days without each group of quantities that the record has at all."""
    days = record.times.astype("datetime64[D]")
    every = np.arange(days[0], days[-1] + np.timedelta64(1, "D"))
    columns = {key: column.values for key, column in record.columns.items()}
    for name, measured_on in known_groups(columns).items():
        unknown = np.ones(len(every), dtype=bool)
        unknown[(days - days[0]).astype(np.int64)] = ~measured_on
        if stretches := list(runs(unknown)):
            a, b = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
            count, since = int(unknown.sum()), str(every[a])
            yield Gap(quantity=name, days=count, longest_days=b - a, longest_from=since)


def _raw_months(record: Record) -> Iterator[RawMonth]:
    """By month: days, rain of a whole month [mm], mean lowest and highest temperature [degC]."""
    names = ("rain", "tmin", "tmax")
    held = {name: record.columns[name].values for name in names if name in record.columns}
    index = pd.DatetimeIndex(record.times).month
    grouped = pd.DataFrame(held, index=index, columns=names, dtype=float).groupby(level=0)
    for month, rain, low, high in grouped.mean().itertuples():
        yield RawMonth(
            month=month,
            days=int(grouped.size()[month]),
            rain_mm=_known(rain * MONTH_LENGTHS[month - 1]),
            lowest_temperature_C=_known(low),
            highest_temperature_C=_known(high),
        )
