"""What a season comes to: every figure that is told of it."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from bedtide.balance import readable, run_many
from bedtide.constants import AIR_LIMIT
from bedtide.many import (
    LONG_RUN,
    SELDOM,
    Range,
    drawn_beds,
    drawn_demand,
    near,
    ranges_of,
    years_of,
)
from bedtide.readings import (
    all_readings,
    by_month,
    by_month_of_year,
    surface_supply,
)
from bedtide.report.results import figure, figures_of, rests_of, rows_of

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed

WetGrade = Literal[
    "airy", "briefly wet", "wet at times", "too wet low down", "too wet to breathe", "no plants"
]

GRADES: Final[tuple[tuple[WetGrade, int], ...]] = (
    ("airy", 0),
    ("briefly wet", 2),
    ("wet at times", 7),
)
"""Grade and the longest wet spell that it allows [d]; above all, "too wet to breathe", or "too wet
low down" where the roots have air enough on the whole but not deep enough.

Two days: most vegetables recover from waterlogging that lasts under 48 hours (University of
Delaware, Weekly Crop Update, G. Johnson, read in part). Seven days: ours.
"""

_SUPPLIED = 80.0  # under this share of what the weather asks the surface loses clearly less [%]


@dataclass(frozen=True, kw_only=True)
class Month:
    """A month of a season, or of the mean year of a run of several years."""

    month: int | str  # 2023-06, or 1 to 12 of a mean year
    refills: float | None = figure("refill_count")
    refill_litres: float | None = figure("refill_volume")
    days_between_refills_median: float | None = figure("interval_median")
    days_between_refills_shortest: float | None = figure("interval_shortest")
    days_between_refills_longest: float | None = figure("interval_longest")
    rain_mm: float | None = figure("rain_total")
    rain_caught_litres: float | None = figure("rain_in_total")
    transpiration_litres: float | None = figure("transpiration_total")
    evaporation_litres: float | None = figure("evaporation_total")
    overflow_litres: float | None = figure("overflow_total")
    wet_days: float | None = figure("wet_days")
    dry_days_reservoir_empty: float | None = figure("empty_days")
    dry_days_wick_limited: float | None = figure("wick_days")


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
    days: int = figure("days")
    plan_area_m2: float
    reservoir_litres: float
    reservoir_litres_out_of_reach: float
    mix_below_overflow_cm: float  # depth of mix that stands in water at the overflow's highest
    overflow: str  # open, blocked or none
    refills: int = figure("refill_count")
    refill_litres: float = figure("refill_volume")
    refill_litres_each_median: float | None = figure("refill_each")
    days_between_refills_median: float | None = figure("interval_median")
    days_between_refills_p10: float | None = figure("interval_p10")
    days_between_refills_p90: float | None = figure("interval_p90")
    intervals: int = figure("interval_count")
    days_to_first_refill: int | None = figure("first_refill")
    filling_first_month: int | None
    filling_last_month: int | None
    rain_mm: float = figure("rain_total")
    reference_evapotranspiration_mm: float = figure("et0_total")
    rain_caught_litres: float = figure("rain_in_total")
    overflow_litres: float = figure("overflow_total")
    rim_spill_litres: float = figure("rim_spill_total")
    transpiration_litres: float = figure("transpiration_total")
    evaporation_litres: float = figure("evaporation_total")
    evaporation_asked_mm: float = figure("evaporation_potential_total")
    surface_supply_percent: float | None = figure("surface_supply")
    open_water_change_litres: float = figure("open_water_change")
    mix_water_change_litres: float = figure("mix_water_change")
    standing_water_change_litres: float = figure("standing_water_change")
    rain_share_percent: float | None = figure("rain_share")
    days_with_roots: int = figure("rooted_days")
    wet_air_limit_percent: float
    wet_days: int = figure("wet_days")
    wet_days_air_not_deep: int = figure("shallow_air_days")  # of these, the mean is air enough
    lowest_air_percent: float | None = figure("air_lowest")
    least_depth_with_air_cm: float | None = figure("aerated_depth_lowest")
    depth_that_needs_air_cm: float  # at the most
    wet_spells: int = figure("wet_spells")
    longest_wet_spell_days: int = figure("longest_wet_spell")
    longest_wet_spell_start: str | None = figure("wet_spell_start")
    wet_grade: WetGrade
    wet_days_top_15_cm: int = figure("wet_days_top")
    excess_water_cm_days: float = figure("excess_water")
    days_with_demand: int = figure("demand_days")
    dry_days: int = figure("limited_days")
    dry_days_reservoir_empty: int = figure("empty_days")
    dry_days_wick_limited: int = figure("wick_days")
    longest_dry_spell_days: int = figure("longest_dry_spell")
    need_met_percent: float | None = figure("transpiration_ratio")
    balance_error_mm: float = figure("balance_error")
    safe_step_days: int
    assumptions: tuple[str, ...]
    months: tuple[Month, ...]
    range: dict[str, Range] | None = None  # left out of the figures where it was not asked for

    @property
    def years(self) -> float:
        """By how much the figures of a long run are divided [1]; one for a shorter one."""
        return float(years_of(self.days))

    @property
    def wet_low_down(self) -> bool:
        """Whether on every wet day the roots have air enough on the whole, but not deep enough."""
        return 0 < self.wet_days == self.wet_days_air_not_deep

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
    area = season["plan_area"]
    found = all_readings(season).assign({**surface_supply(season), "plan_area": area})
    times = season["time"].to_numpy().astype("datetime64[D]")
    held, litres = float(season["capacity"].max()), float(area) * 1e3
    soaked = np.maximum(season["lip_height"].to_numpy() - float(season["crown_height"]), 0.0)
    return figures_of(
        Season,
        found,
        **rests_of(season),
        bed=season.attrs["title"],
        from_=str(times[0]),
        to=str(times[-1]),
        plan_area_m2=float(area),
        reservoir_litres=held * litres,
        reservoir_litres_out_of_reach=min(float(season["dead_storage"]), held) * litres,
        mix_below_overflow_cm=float(soaked.max()) * 100,
        overflow=season.attrs["overflow"],
        filling_first_month=int(found["first_month"]) or None,
        filling_last_month=int(found["last_month"]) or None,
        wet_air_limit_percent=AIR_LIMIT * 100,
        depth_that_needs_air_cm=float(season["air_depth_needed"].max()) * 100,
        wet_grade=wet_grade(
            int(found["longest_wet_spell"]),
            rooted_days=int(found["rooted_days"]),
            low_down=bool(found["shallow_air_days"] == found["wet_days"]),
        ),
        safe_step_days=int(season["safe_step_days"]),
        months=months_of(season),
        range=ranges,
    )


def months_of(season: xr.Dataset) -> tuple[Month, ...]:
    """Each month of a season; of a run of more than 400 days, those of its mean year."""
    mean_year = season.sizes["time"] > LONG_RUN
    months = by_month_of_year(season) if mean_year else by_month(season)
    labels = months["month"].to_numpy()
    names = labels.tolist() if mean_year else labels.astype("datetime64[M]").astype(str).tolist()
    return rows_of(Month, months.assign(plan_area=season["plan_area"]), "month", month=names)


def wet_grade(longest_wet_spell: int, *, rooted_days: int, low_down: bool = False) -> WetGrade:
    """Grade of a run by its longest spell of wet days [d], if there were roots at all.

    `low_down`: every wet day is one by the depth with air alone.

    >>> wet_grade(3, rooted_days=150)
    'wet at times'
    """
    if rooted_days == 0:
        return "no plants"
    fitting = (grade for grade, most in GRADES if longest_wet_spell <= most)
    return next(fitting, "too wet low down" if low_down else "too wet to breathe")


# --- ranges -----------------------------------------------------------------------------------


def season_ranges(
    bed: Bed, weather: xr.Dataset, first: datetime.date, last: datetime.date
) -> dict[str, Range]:
    """Headlines over the drawn beds; those whose mix mostly lifts too slowly stay out."""
    weather, drawn = near(weather, first, last), drawn_beds(bed)
    days, demand = (last - first).days + 1, drawn_demand(drawn, weather)
    runs = readable(run_many(drawn.beds, weather, [first], days=days, demand=demand), weather)
    found = all_readings(runs.isel(year=0))
    return ranges_of(
        {
            "days_between_refills_median": found["interval_median"],
            "refills": found["refill_count"],
            "refill_litres": found["refill_volume"] / 1e-3,
            "wet_days": found["wet_days"],
            "dry_days": found["limited_days"],
        },
        works=found["wick_days"] <= SELDOM * found["demand_days"],
    )
