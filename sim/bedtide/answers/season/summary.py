"""What a season comes to: every figure that is told of it, and its table of days."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from bedtide.balance import run_many
from bedtide.constants import AIR_LIMIT
from bedtide.many import (
    SELDOM,
    Range,
    drawn_beds,
    drawn_demand,
    near,
    ranges_of,
    readable,
)
from bedtide.readings import (
    by_month,
    by_month_of_year,
    days_to_refill,
    dryness,
    limited_days,
    refills,
    surface_supply,
    water_account,
    wet_days,
    wetness,
)
from bedtide.report.results import number
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.bed import Bed
    from bedtide.units import System

WetGrade = Literal["airy", "briefly wet", "wet at times", "too wet to breathe", "no plants"]

LONG_RUN: Final = 400
"""Days above which a run is told as a mean year [d]; ours."""

GRADES: Final[tuple[tuple[WetGrade, int], ...]] = (
    ("airy", 0),
    ("briefly wet", 2),
    ("wet at times", 7),
)
"""Grade and the longest wet spell that it allows [d]; above all, "too wet to breathe".

Two days: most vegetables recover from waterlogging that lasts under 48 hours (University of
Delaware, Weekly Crop Update, G. Johnson, read in part). Seven days: ours.
"""


_SUPPLIED = 80.0  # under this share of what the weather asks the surface loses clearly less [%]


@dataclass(frozen=True, kw_only=True)
class Month:
    """A month of a season, or of the mean year of a run of several years."""

    month: int | str  # 2023-06, or 1 to 12 of a mean year
    refills: float | None
    refill_litres: float | None
    days_between_refills_median: float | None
    days_between_refills_shortest: float | None
    days_between_refills_longest: float | None
    rain_mm: float | None
    rain_caught_litres: float | None
    transpiration_litres: float | None
    evaporation_litres: float | None
    overflow_litres: float | None
    wet_days: float | None
    dry_days_reservoir_empty: float | None
    dry_days_wick_limited: float | None


@dataclass(frozen=True, kw_only=True)
class Season:
    """Every figure that is told of a season, its unit in its name; None for what has no value."""

    bedtide_version: str
    bed: str
    weather_place: str
    weather_source: str
    weather_doubts: tuple[str, ...]
    from_: str
    to: str
    days: int
    plan_area_m2: float
    reservoir_litres: float
    reservoir_litres_out_of_reach: float
    mix_below_overflow_cm: float  # depth of mix that stands in water at the overflow's highest
    overflow: str  # open, blocked or none
    refills: int
    refill_litres: float
    refill_litres_each_median: float | None
    days_between_refills_median: float | None
    days_between_refills_p10: float | None
    days_between_refills_p90: float | None
    intervals: int
    days_to_first_refill: int | None
    filling_first_month: int | None
    filling_last_month: int | None
    rain_mm: float
    reference_evapotranspiration_mm: float
    rain_caught_litres: float
    overflow_litres: float
    rim_spill_litres: float
    transpiration_litres: float
    evaporation_litres: float
    evaporation_asked_mm: float
    surface_supply_percent: float | None
    open_water_change_litres: float
    mix_water_change_litres: float
    standing_water_change_litres: float
    rain_share_percent: float | None
    days_with_roots: int
    wet_air_limit_percent: float
    wet_days: int
    wet_spells: int
    longest_wet_spell_days: int
    longest_wet_spell_start: str | None
    wet_grade: WetGrade
    wet_days_top_15_cm: int
    excess_water_cm_days: float
    days_with_demand: int
    dry_days: int
    dry_days_reservoir_empty: int
    dry_days_wick_limited: int
    longest_dry_spell_days: int
    need_met_percent: float | None
    balance_error_mm: float
    safe_step_days: int
    assumptions: tuple[str, ...]
    months: tuple[Month, ...]
    range: dict[str, Range] | None = None  # left out of the figures where it was not asked for

    @property
    def years(self) -> float:
        """By how much the figures of a long run are divided [1]; one for a shorter one."""
        return self.days / 365.25 if self.days > LONG_RUN else 1.0

    @property
    def surface_is_dry(self) -> bool:
        """Whether the surface lost clearly less than the weather asked of it."""
        return self.surface_supply_percent is not None and self.surface_supply_percent < _SUPPLIED

    @property
    def reaches_nothing(self) -> bool:
        """Whether the mix reaches none of the water in the reservoir."""
        dead = self.reservoir_litres_out_of_reach
        return dead >= 0.05 and dead > self.reservoir_litres - 0.05


def summary_of(season: xr.Dataset, ranges: dict[str, Range] | None = None) -> Season:
    """Figures of a run of one bed, with the ranges of its headlines where these were worked out."""
    area = float(season["plan_area"])
    litres = area * 1e3
    filled, wet, dry = refills(season), wetness(season), dryness(season)
    account, surface = water_account(season), surface_supply(season)
    times = season["time"].to_numpy().astype("datetime64[D]")
    start = wet["wet_spell_start"].to_numpy().astype("datetime64[D]")
    longest, rooted = int(wet["longest_wet_spell"]), int(wet["rooted_days"])
    held = float(season["capacity"].max())
    soaked = np.maximum(season["lip_height"].to_numpy() - float(season["crown_height"]), 0.0)
    return Season(
        bedtide_version=season.attrs["bedtide_version"],
        bed=season.attrs["title"],
        weather_place=season.attrs["weather_place"],
        weather_source=season.attrs["weather_source"],
        weather_doubts=tuple(season.attrs.get("weather_doubts", ())),
        from_=str(times[0]),
        to=str(times[-1]),
        days=times.size,
        plan_area_m2=area,
        reservoir_litres=held * litres,
        reservoir_litres_out_of_reach=min(float(season["dead_storage"]), held) * litres,
        mix_below_overflow_cm=float(soaked.max()) * 100,
        overflow=season.attrs["overflow"],
        refills=int(filled["refill_count"]),
        refill_litres=float(filled["refill_volume"]) / 1e-3,
        refill_litres_each_median=number(filled["refill_each"], 1 / 1e-3),
        days_between_refills_median=number(filled["interval_median"]),
        days_between_refills_p10=number(filled["interval_p10"]),
        days_between_refills_p90=number(filled["interval_p90"]),
        intervals=int(filled["interval_count"]),
        days_to_first_refill=number(filled["first_refill"]),
        filling_first_month=int(filled["first_month"]) or None,
        filling_last_month=int(filled["last_month"]) or None,
        rain_mm=float(account["rain_total"]) * 1e3,
        reference_evapotranspiration_mm=float(account["et0_total"]) * 1e3,
        rain_caught_litres=float(account["rain_in_total"]) * litres,
        overflow_litres=float(account["overflow_total"]) * litres,
        rim_spill_litres=float(account["rim_spill_total"]) * litres,
        transpiration_litres=float(account["transpiration_total"]) * litres,
        evaporation_litres=float(account["evaporation_total"]) * litres,
        evaporation_asked_mm=float(surface["evaporation_potential_total"]) * 1e3,
        surface_supply_percent=number(surface["surface_supply"], 100),
        open_water_change_litres=float(account["open_water_change"]) * litres,
        mix_water_change_litres=float(account["mix_water_change"]) * litres,
        standing_water_change_litres=float(account["standing_water_change"]) * litres,
        rain_share_percent=number(filled["rain_share"], 100),
        days_with_roots=rooted,
        wet_air_limit_percent=AIR_LIMIT * 100,
        wet_days=int(wet["wet_days"]),
        wet_spells=int(wet["wet_spells"]),
        longest_wet_spell_days=longest,
        longest_wet_spell_start=None if np.isnat(start) else str(start),
        wet_grade=wet_grade(longest, rooted_days=rooted),
        wet_days_top_15_cm=int(wet["wet_days_top"]),
        excess_water_cm_days=float(wet["excess_water"]) * 100,
        days_with_demand=int(dry["demand_days"]),
        dry_days=int(dry["limited_days"]),
        dry_days_reservoir_empty=int(dry["empty_days"]),
        dry_days_wick_limited=int(dry["wick_days"]),
        longest_dry_spell_days=int(dry["longest_dry_spell"]),
        need_met_percent=number(dry["transpiration_ratio"], 100),
        balance_error_mm=float(account["balance_error"]) * 1e3,
        safe_step_days=int(season["safe_step_days"]),
        assumptions=tuple(season.attrs["assumptions"]),
        months=tuple(months_of(season)),
        range=ranges,
    )


def months_of(season: xr.Dataset) -> list[Month]:
    """Each month of a season; of a run of more than 400 days, those of its mean year."""
    mean_year = season.sizes["time"] > LONG_RUN
    months = by_month_of_year(season) if mean_year else by_month(season)
    litres = float(season["plan_area"]) * 1e3
    rows = []
    for at in range(months.sizes["month"]):
        row = months.isel(month=at)
        label = row["month"].to_numpy()
        rows.append(
            Month(
                month=int(label) if mean_year else str(label.astype("datetime64[M]")),
                refills=number(row["refill_count"]),
                refill_litres=number(row["refill_volume"], 1 / 1e-3),
                days_between_refills_median=number(row["interval_median"]),
                days_between_refills_shortest=number(row["interval_shortest"]),
                days_between_refills_longest=number(row["interval_longest"]),
                rain_mm=number(row["rain_total"], 1e3),
                rain_caught_litres=number(row["rain_in_total"], litres),
                transpiration_litres=number(row["transpiration_total"], litres),
                evaporation_litres=number(row["evaporation_total"], litres),
                overflow_litres=number(row["overflow_total"], litres),
                wet_days=number(row["wet_days"]),
                dry_days_reservoir_empty=number(row["empty_days"]),
                dry_days_wick_limited=number(row["wick_days"]),
            )
        )
    return rows


def wet_grade(longest_wet_spell: int, *, rooted_days: int) -> WetGrade:
    """Grade of a run by its longest spell of wet days [d], if there were roots at all.

    >>> wet_grade(3, rooted_days=150)
    'wet at times'
    """
    if rooted_days == 0:
        return "no plants"
    fitting = (grade for grade, most in GRADES if longest_wet_spell <= most)
    return next(fitting, "too wet to breathe")


# --- ranges -----------------------------------------------------------------------------------


def season_ranges(
    bed: Bed, weather: xr.Dataset, first: datetime.date, last: datetime.date
) -> dict[str, Range]:
    """Headlines over the drawn beds; those whose mix mostly lifts too slowly stay out."""
    weather, drawn = near(weather, first, last), drawn_beds(bed)
    days, demand = (last - first).days + 1, drawn_demand(drawn, weather)
    runs = readable(run_many(drawn.beds, weather, [first], days=days, demand=demand), weather)
    filled, wet, dry = (read(runs.isel(year=0)) for read in (refills, wetness, dryness))
    return ranges_of(
        {
            "days_between_refills_median": filled["interval_median"],
            "refills": filled["refill_count"],
            "refill_litres": filled["refill_volume"] / 1e-3,
            "wet_days": wet["wet_days"],
            "dry_days": dry["limited_days"],
        },
        works=dry["wick_days"] <= SELDOM * dry["demand_days"],
    )


# --- the table of days ------------------------------------------------------------------------

# Ending of the column's name and size of its unit in SI units, for each kind and system.
_UNITS: dict[str, dict[System, tuple[str, float]]] = {
    "depth": {"metric": ("_mm", 1e-3), "us": ("_inch", INCH)},
    "height": {"metric": ("_cm", 1e-2), "us": ("_inch", INCH)},
    "volume": {"metric": ("_L", 1e-3), "us": ("_US_gal", US_GALLON)},
    "share": {"metric": ("_percent", 1e-2), "us": ("_percent", 1e-2)},
    "plain": {"metric": ("", 1.0), "us": ("", 1.0)},
}

# Variable of the season, name of the column, kind. Volumes are for the whole bed.
_DAILY = (
    ("rain", "rain", "depth"),
    ("rain_in", "rain_into_bed", "volume"),
    ("refill", "refill", "volume"),
    ("overflow", "overflow", "volume"),
    ("rim_spill", "spill_over_rim", "volume"),
    ("et0", "reference_evapotranspiration", "depth"),
    ("transpiration_potential", "transpiration_wanted", "depth"),
    ("transpiration", "transpiration", "depth"),
    ("evaporation", "evaporation", "depth"),
    ("rise", "rise_from_reservoir", "depth"),
    ("open_water", "reservoir_water", "volume"),
    ("store_share", "reservoir_filled", "share"),
    ("level", "water_level", "height"),
    ("lip_height", "overflow_lip", "height"),
    ("mix_water", "water_in_mix", "depth"),
    ("standing_water", "water_standing_on_mix", "depth"),
    ("air_root_zone", "air_root_zone", "share"),
    ("air_top", "air_top_15_cm", "share"),
    ("aerated_depth", "depth_with_air", "height"),
    ("uptake_factor", "need_met", "share"),
    ("surface_suction", "surface_suction", "height"),
    ("root_depth", "root_depth", "height"),
    ("cover", "ground_covered", "share"),
    ("kcb", "basal_crop_coefficient", "plain"),
)


def table_of_days(season: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a day, units in the names of the columns, volumes for the whole bed."""
    import pandas as pd

    def column(name: str, kind: str) -> Any:
        share = float(season["plan_area"]) if kind == "volume" else 1.0
        return season[name].to_numpy() * share / _UNITS[kind][units][1]

    columns: dict[str, Any] = {"date": season["time"].to_numpy()}
    columns |= {label + _UNITS[kind][units][0]: column(name, kind) for name, label, kind in _DAILY}
    columns["days_to_refill"] = days_to_refill(season).to_numpy()
    columns["wet_day"] = wet_days(season).astype(int)
    cause = limited_days(season)
    columns["dry_day"] = np.select([cause.empty, cause.wick], ["reservoir empty", "wick"], "")
    # Last, so that the columns before it stay where they were.
    ending = _UNITS["depth"][units][0]
    columns[f"evaporation_asked{ending}"] = column("evaporation_potential", "depth")
    return pd.DataFrame(columns)
