"""What the page tells of a bed: its year, its stay away, and every year of the record."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bedtide.balance import run_season
from bedtide.bed import brimful_weight, capacity, full_level, plan_area
from bedtide.building import build
from bedtide.many import away, compare, whole_years
from bedtide.readings import dryness, refills, wetness
from bedtide.statistics import finite_or_none

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed
    from bedtide.units import System

_SURE = 10  # years from which nine in ten are spoken of, as `bedtide away` does


@dataclass(frozen=True, kw_only=True)
class Year:
    """A year of a bed as `bedtide season` and `away` tell it, its weight, its cost."""

    first: str
    last: str
    refills: int
    refill_litres: float
    wet_days: int
    days_with_roots: int
    dry_days: int
    days_with_demand: int
    reservoir_litres: float
    full_kg: float
    full_kg_per_m2: float
    leave: str
    days_away: int
    growing: bool
    days_safe: float | None  # None is longer than was followed
    days_followed: int
    cases: int
    cases_lasting: int
    sure: bool
    cost: float
    currency: str
    without_price: tuple[str, ...]
    failing: tuple[str, ...]  # checks that keep it from being built


@dataclass(frozen=True, kw_only=True)
class Spread:
    """Mean of the years, and what 8 in 10 of them lie between."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Years:
    """Every year of the record by itself, as `bedtide compare` tells it."""

    years: int
    first: str
    last: str
    refills: Spread
    refill_litres: Spread
    wet_days: Spread
    dry_days: Spread


def year_of(
    bed: Bed, weather: xr.Dataset, span: tuple[datetime.date, datetime.date],
    leave: datetime.date, days: int, prices: Path | None, units: System,
) -> Year:  # fmt: skip
    """Figures of one year of a bed, of a stay away, and of building it."""
    season = run_season(bed, weather, start=span[0], end=span[1])
    filled, wet, dry = refills(season), wetness(season), dryness(season)
    stay = away(bed, weather, leave, days=days, measures=[])
    weight, sheet = brimful_weight(bed), build(bed, prices, units=units)
    return Year(
        first=str(span[0]),
        last=str(span[1]),
        refills=int(filled["refill_count"]),
        refill_litres=float(filled["refill_volume"]) / 1e-3,
        wet_days=int(wet["wet_days"]),
        days_with_roots=int(wet["rooted_days"]),
        dry_days=int(dry["limited_days"]),
        days_with_demand=int(dry["demand_days"]),
        reservoir_litres=1e3 * float(capacity(bed, full_level(bed))) * plan_area(bed),
        full_kg=weight.total,
        full_kg_per_m2=weight.per_area,
        leave=str(leave),
        days_away=days,
        growing=bool(stay.attrs["growing"]),
        days_safe=finite_or_none(stay["days_safe"][0]),
        days_followed=int(stay.attrs["days_followed"]),
        cases=stay.sizes["case"],
        cases_lasting=int(stay["cases_lasting"][0]),
        sure=int(stay.attrs["independent_years"]) >= _SURE,
        cost=sheet.cost,
        currency=sheet.currency,
        without_price=sheet.without_price,
        failing=tuple(check.name for check in sheet.failing),
    )


def years_of(bed: Bed, weather: xr.Dataset) -> Years:
    """Figures of every year of the record."""
    years = whole_years(weather)
    found = compare([bed], weather, years=years).isel(bed=0)

    def spread(name: str, size: float = 1.0) -> Spread:
        ends: list[Any] = [float(found[f"{name}_{end}"]) * size for end in ("mean", "p10", "p90")]
        return Spread(mean=ends[0], low=ends[1], high=ends[2])

    return Years(
        years=found.sizes["year"],
        first=str(years.starts[0]),
        last=str(years.starts[-1]),
        refills=spread("refill_count"),
        refill_litres=spread("refill_volume", 1e3),
        wet_days=spread("wet_days"),
        dry_days=spread("limited_days"),
    )
