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

__all__ = ["WeatherReport", "weather_report"]


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
        Figures; the words of its own are the verdict's reasons and what is suspicious.
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
