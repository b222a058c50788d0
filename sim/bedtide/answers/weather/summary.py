"""What a weather record comes to: every figure that is told of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide import __version__
from bedtide.constants import MONTH_LENGTHS

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.weather import Description, WeatherReport

_YEAR = 365  # days from which on a year is told [d]


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
    """The wettest or the driest stretch of its length."""

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
class Measured:
    """Which record it is: where, of what days, read from what."""

    bedtide_version: str
    place: str
    source: str
    format: str
    latitude: float | None
    elevation_m: float | None
    from_: str
    to: str
    days: int


@dataclass(frozen=True, kw_only=True)
class Weather(Measured):
    """Every figure that is told of a weather record, its unit in its name."""

    grade: str
    reasons: tuple[str, ...]
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


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Days of a record on which a quantity was not measured, and their longest stretch."""

    quantity: str
    days: int
    longest_days: int
    longest_from: str


@dataclass(frozen=True, kw_only=True)
class RawMonth:
    """A month of the mean year as it was measured; None for what was not."""

    month: int
    days: int
    rain_mm: float | None
    lowest_temperature_C: float | None
    highest_temperature_C: float | None


@dataclass(frozen=True, kw_only=True)
class Described(Measured):
    """What a record holds on which a season can't run yet, and what is in the way."""

    columns_read: tuple[str, ...]
    columns_not_used: tuple[str, ...]
    gaps: tuple[Gap, ...]
    months: tuple[RawMonth, ...]
    problems: tuple[str, ...]
    command: str  # that settles them, as far as options can


def _which(found: Description | WeatherReport) -> dict[str, Any]:
    """The figures of `Measured`."""
    return {
        "bedtide_version": __version__,
        "place": found.place,
        "source": found.source,
        "format": found.format,
        "latitude": found.latitude,
        "elevation_m": found.elevation,
        "from_": str(found.first),
        "to": str(found.last),
        "days": found.days,
    }


def described(found: Description, problems: tuple[str, ...], command: str) -> Described:
    """Figures of a record that can't be used yet."""

    def known(value: float) -> float | None:
        return None if np.isnan(value) else float(value)

    return Described(
        **_which(found),
        columns_read=found.columns_read,
        columns_not_used=found.columns_ignored,
        gaps=tuple(
            Gap(
                quantity=gap.quantity,
                days=gap.days,
                longest_days=gap.longest,
                longest_from=str(gap.first),
            )
            for gap in found.gaps
        ),
        months=tuple(
            RawMonth(
                month=int(str(month)),
                days=int(row["days"]),
                rain_mm=known(row["rain"]),
                lowest_temperature_C=known(row["tmin"]),
                highest_temperature_C=known(row["tmax"]),
            )
            for month, row in found.months.to_dict("index").items()
        ),
        problems=problems,
        command=command,
    )


def summary_of(weather: xr.Dataset, report: WeatherReport) -> Weather:
    """Figures of a record and of what `weather_report` says of it."""
    whole_year = report.days >= _YEAR
    return Weather(
        **_which(report),
        grade=report.verdict.grade,
        reasons=tuple(report.verdict.reasons),
        rain_mm_a_year=report.rain_year if whole_year else None,
        reference_evapotranspiration_mm_a_year=report.et0_year if whole_year else None,
        days_with_rain=int((weather["rain"] > 0).sum()),
        rain_day=report.rain_day,
        days_filled=report.filled_days,
        days_estimated=int((weather["estimated"] > 0).sum()),
        days_estimated_humidity=report.estimated_days["humidity"],
        days_estimated_wind=report.estimated_days["wind"],
        days_estimated_radiation=report.estimated_days["radiation"],
        columns_read=tuple(report.columns_read),
        columns_not_used=tuple(report.columns_ignored),
        assumptions=tuple(report.assumptions),
        months=tuple(_months(weather, report)),
        spells=tuple(
            Spell(
                kind=spell.kind,
                days=spell.window,
                from_=str(spell.first),
                to=str(spell.last),
                rain_mm=spell.rain * 1e3,
                reference_evapotranspiration_mm=spell.et0 * 1e3,
            )
            for spell in report.spells
        ),
        suspicious=tuple(
            Suspicious(kind=one.kind, from_=str(one.first), to=str(one.last), sentence=one.sentence)
            for one in report.suspicions
        ),
        own_evapotranspiration_days=report.et0_given_days or None,
        own_evapotranspiration_ratio=report.et0_given_ratio,
    )


def _months(weather: xr.Dataset, report: WeatherReport) -> list[Month]:
    """The months that the record holds, in the order of the year."""
    month_of_day = weather["time"].to_numpy().astype("datetime64[M]").astype(int) % 12
    days = np.bincount(month_of_day, minlength=12)

    whole = report.months.to_dict("index")  # by the number of the month

    def mean(name: str, at: int) -> float:
        sums = np.bincount(month_of_day, weights=weather[name].to_numpy(), minlength=12)
        return float(sums[at] / days[at])

    def known(name: str, at: int) -> float | None:
        return None if np.isnan(mean(name, at)) else mean(name, at)

    def of_month(name: str, at: int) -> tuple[float, float | None, float | None]:
        if at + 1 not in whole:
            return mean(name, at) * MONTH_LENGTHS[at] * 1e3, None, None
        row = whole[at + 1]
        return float(row[name]), float(row[f"{name}_least"]), float(row[f"{name}_most"])

    rows = []
    for at in np.flatnonzero(days).tolist():
        rain, et0 = of_month("rain", at), of_month("et0", at)
        rows.append(
            Month(
                month=at + 1,
                days=int(days[at]),
                whole_months=int(whole[at + 1]["months"]) if at + 1 in whole else 0,
                rain_mm=rain[0],
                rain_mm_least=rain[1],
                rain_mm_most=rain[2],
                reference_evapotranspiration_mm=et0[0],
                reference_evapotranspiration_mm_least=et0[1],
                reference_evapotranspiration_mm_most=et0[2],
                lowest_temperature_C=known("tmin", at),
                highest_temperature_C=known("tmax", at),
            )
        )
    return rows
