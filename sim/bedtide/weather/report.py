"""What was read, and what it is worth: figures for the command line and the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from bedtide.weather.suspicious import Suspicion, measured, suspicions
from bedtide.weather.worth import Spell, Verdict, coverage, spells, verdict

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["WeatherReport", "report_lines", "weather_report"]

_SHOWN = 20
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class WeatherReport:
    """A weather record at a glance.

    Attributes
    ----------
    place, source, format : str
        Name of the place, the file, the kind of file.
    latitude, elevation : float
        Place [degree], [m].
    rain_day : str
        Which 24 hours the rain under a date covers.
    first, last : datetime64[D]
        Span.
    days : int
        Days in it [d].
    columns_read, columns_ignored : tuple of str
        Columns found with quantity and unit, and those not used.
    filled_days : int
        Days on which a gap was filled [d].
    estimated_days : dict of int
        Days on which humidity, wind, radiation rest on a stand-in [d].
    months : DataFrame
        One row for each month that occurs: ``rain`` and ``et0`` (mean of the monthly sums), the
        least and the most of each, all [mm], and ``months`` counted. Whole months only.
    rain_year, et0_year : float
        Mean yearly sums [mm yr-1].
    assumptions : tuple of str
        Plain sentences.
    verdict : Verdict
        How far it can be trusted.
    coverage : DataFrame
        Share of the days measured [1], years by quantity.
    estimated_share : Series
        Share of the days with a stand-in [1], by year.
    spells : tuple of Spell
        The wettest and the driest stretches.
    suspicions : tuple of Suspicion
        What a careful reader would look at.
    """

    place: str
    source: str
    format: str
    latitude: float
    elevation: float
    rain_day: str
    first: np.datetime64
    last: np.datetime64
    days: int
    columns_read: tuple[str, ...]
    columns_ignored: tuple[str, ...]
    filled_days: int
    estimated_days: dict[str, int]
    months: pd.DataFrame
    rain_year: float
    et0_year: float
    assumptions: tuple[str, ...]
    verdict: Verdict
    coverage: pd.DataFrame
    estimated_share: pd.Series
    spells: tuple[Spell, ...]
    suspicions: tuple[Suspicion, ...]


def weather_report(weather: xr.Dataset) -> WeatherReport:
    """Span, columns, gaps, estimates, and rain and reference evapotranspiration by month.

    Parameters
    ----------
    weather : Dataset
        As `read_weather` gives it.

    Returns
    -------
    WeatherReport
        Figures only; `report_lines` puts them in words.
    """
    days = weather["time"].values.astype("datetime64[D]")
    depth = {
        name: pd.Series(weather[name].values * 1000.0, index=weather["time"].to_index())
        for name in ("rain", "et0")
    }
    filled = weather["filled"].values
    estimated = {
        name: int((~measured(weather, name) & ~filled).sum())
        for name in ("humidity", "wind", "radiation")
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
        filled_days=int(filled.sum()),
        estimated_days=estimated,
        months=_months(depth),
        rain_year=float(depth["rain"].sum() / years),
        et0_year=float(depth["et0"].sum() / years),
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


def report_lines(report: WeatherReport) -> list[str]:
    """The report in words, one line each, for a terminal.

    Parameters
    ----------
    report : WeatherReport
        From `weather_report`.

    Returns
    -------
    list of str
        Lines without their ends.
    """
    side = "N" if report.latitude >= 0 else "S"
    lines = [
        f"{report.place}: {report.days:,} days, {report.first} to {report.last}",
        f"Rain {report.rain_year:,.0f} mm a year, reference evapotranspiration "
        f"{report.et0_year:,.0f} mm a year.",
        f"Verdict: {report.verdict.grade}. {' '.join(report.verdict.reasons)}",
        "",
        f"File      {report.source} ({report.format})",
        f"Place     {abs(report.latitude):g} {side}, {report.elevation:g} m above the sea",
        f"Rain day  {report.rain_day}",
        "Columns   " + report.columns_read[0],
    ]
    lines += [f"          {column}" for column in report.columns_read[1:]]
    if report.columns_ignored:
        lines.append(f"Not used  {', '.join(report.columns_ignored)}")
    lines.append(f"Gaps      {report.filled_days:,} days filled")
    lines += ["", "Month   Rain, mm (least to most)   ET0, mm (least to most)"]
    for month, row in report.months.iterrows():
        name = _MONTHS[int(str(month)) - 1]
        rain = f"{row['rain']:.0f} ({row['rain_least']:.0f} to {row['rain_most']:.0f})"
        et0 = f"{row['et0']:.0f} ({row['et0_least']:.0f} to {row['et0_most']:.0f})"
        lines.append(f"{name:<8}{rain:<27}{et0}")
    for kind, title in (("wet", "Wettest spells"), ("dry", "Driest spells")):
        lines += ["", title]
        lines += [
            f"{spell.window:>3} days  rain {spell.rain * 1000:.0f} mm, "
            f"ET0 {spell.et0 * 1000:.0f} mm  {spell.first} to {spell.last}"
            for spell in report.spells
            if spell.kind == kind
        ]
    if report.suspicions:
        lines += ["", "Suspicious"]
        lines += [f"- {one.sentence}" for one in report.suspicions[:_SHOWN]]
        more = len(report.suspicions) - _SHOWN
        if more > 0:
            lines.append(f"- and {more} more.")
    lines += ["", "What was assumed"]
    lines += [f"- {sentence}" for sentence in report.assumptions or ("Nothing.",)]
    return lines
