"""What a comparison comes to: every figure that is told of it, its ranges, and its tables."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Final

import numpy as np

from bedtide.constants import AIR_LIMIT, ALLOWANCE, ROOM
from bedtide.files import plain
from bedtide.many import Ranges, Reason, choose
from bedtide.report.results import figure, rests_of, rows_of, size_in
from bedtide.units import FOOT, POUND, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.report.spells import Spells
    from bedtide.units import System


@dataclass(frozen=True, kw_only=True)
class ComparedBed:
    """What one bed is and does, over the years; None for what has no value."""

    bed: str = figure("bed")
    label: str = figure("label")
    plan_area_m2: float = figure("plan_area")
    reservoir_litres: float = figure("reservoir_volume")
    reservoir_litres_out_of_reach: float = figure("dead_volume")
    mix_above_reservoir_cm: float = figure("mix_depth")
    mix_litres: float = figure("mix_volume")
    full_kg: float = figure("brimful_weight")
    full_kg_per_m2: float = figure("brimful_load")
    full_water_kg: float = figure("brimful_water")
    dry_mix_kg: float = figure("mix_weight")
    reservoir_kg: float = figure("reservoir_weight")
    refills_mean: float = figure("refill_count_mean")
    refills_median: float = figure("refill_count_median")
    refills_p10: float = figure("refill_count_p10")
    refills_p90: float = figure("refill_count_p90")
    days_between_refills_median: float | None = figure("interval_median_median")
    days_between_refills_p10: float | None = figure("interval_median_p10")
    days_between_refills_p90: float | None = figure("interval_median_p90")
    refill_litres_mean: float = figure("refill_volume_mean")
    refill_litres_p10: float = figure("refill_volume_p10")
    refill_litres_p90: float = figure("refill_volume_p90")
    rain_share_percent_median: float | None = figure("rain_share_median")
    wet_days_mean: float = figure("wet_days_mean")
    wet_days_median: float = figure("wet_days_median")
    wet_days_p10: float = figure("wet_days_p10")
    wet_days_p90: float = figure("wet_days_p90")
    wet_days_max: float = figure("wet_days_max")
    longest_wet_spell_days_median: float = figure("longest_wet_spell_median")
    longest_wet_spell_days_p90: float = figure("longest_wet_spell_p90")
    longest_wet_spell_days_max: float = figure("longest_wet_spell_max")
    lowest_air_percent_mean: float | None = figure("air_lowest_mean")
    lowest_air_percent_p10: float | None = figure("air_lowest_p10")
    lowest_air_percent_min: float | None = figure("air_lowest_min")
    dry_days_mean: float = figure("limited_days_mean")
    dry_days_median: float = figure("limited_days_median")
    dry_days_p10: float = figure("limited_days_p10")
    dry_days_p90: float = figure("limited_days_p90")
    dry_days_max: float = figure("limited_days_max")
    dry_days_reservoir_empty_mean: float = figure("empty_days_mean")
    dry_days_wick_limited_mean: float = figure("wick_days_mean")
    need_met_percent_mean: float | None = figure("transpiration_ratio_mean")
    need_met_percent_min: float | None = figure("transpiration_ratio_min")
    transpiration_litres_mean: float = figure("transpiration_total_mean")
    evaporation_litres_mean: float = figure("evaporation_total_mean")
    rain_caught_litres_mean: float = figure("rain_in_total_mean")
    overflow_litres_mean: float = figure("overflow_total_mean")
    years_with_two_refills: int
    beaten: bool
    fails: bool

    @property
    def verdict(self) -> str:
        """What speaks against building it, in a word; empty where nothing does."""
        return "fails" if self.fails else "drop" if self.beaten else ""

    @property
    def want(self) -> int:
        """Whole days a year without enough air or water, as the choice counts them [d]."""
        return round(self.wet_days_mean) + round(self.dry_days_mean)

    @property
    def roomy(self) -> bool:
        """Whether it gives roots the room that a bed should, to the centimetre."""
        return self.mix_above_reservoir_cm >= ROOM * 100 - 0.5

    @property
    def reach_litres(self) -> float:
        """Open water that the mix can reach [L]."""
        return self.reservoir_litres - self.reservoir_litres_out_of_reach


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Every figure that is told of a comparison, its unit in its name."""

    room_cm: ClassVar[float] = ROOM * 100  # mix above the reservoir that a bed should have
    allowance: ClassVar[int] = ALLOWANCE  # days of want that a bed may have and still be good
    bedtide_version: str
    weather_place: str
    weather_source: str
    weather_doubts: tuple[str, ...]
    years: int
    first_days: tuple[str, ...]
    days_of_a_year: int
    days_left_out: int
    wet_air_limit_percent: float
    choice: str | None  # of a single bed there is none
    choice_reason: Reason
    choice_rival: str | None
    choice_years_no_worse: int
    beds: tuple[ComparedBed, ...]
    balance_error_mm: float
    assumptions: tuple[str, ...]
    range: Ranges | None = None  # left out of the figures where not asked for
    wet_spell: Spells | None = None

    def bed(self, letter: str | None) -> ComparedBed:
        """The bed of a letter; the first where there is none."""
        return next((bed for bed in self.beds if bed.bed == letter), self.beds[0])

    @property
    def each(self) -> str:
        """What the figures are for: a year, or a season where only part of each was run."""
        return "a year" if self.days_of_a_year == 365 else "a season"

    @property
    def in_order(self) -> list[ComparedBed]:
        """The choice, then by their fills the beds that none beats, the beaten, those that fail."""
        worth = ["", "drop", "fails"]
        return sorted(
            self.beds, key=lambda b: (b.bed != self.choice, worth.index(b.verdict), b.refills_mean)
        )

    def fills(self, bed: ComparedBed) -> tuple[float, float]:
        """Fills of 8 in 10 of the years, or of the sets of values where there is a range."""
        if self.range is None:
            return bed.refills_p10, bed.refills_p90
        own = self.range.beds[bed.bed]["refills_mean"]
        return own.low or 0.0, own.high or 0.0

    @property
    def able(self) -> int:
        """Beds that keep their plants."""
        return sum(not bed.fails for bed in self.beds)

    def worst_want(self, bed: ComparedBed) -> float:
        """Days without air or water at the upper ends of the ranges of a bed [d]."""
        own = self.range.beds[bed.bed] if self.range else {}
        return sum(own[name].high or 0.0 for name in ("wet_days_mean", "dry_days_mean") if own)

    @property
    def cramped(self) -> bool:
        """Whether some beds, but not all, lack room for roots."""
        return len({bed.roomy for bed in self.beds}) == 2

    @property
    def most_want(self) -> int:
        """Most days of want with which a bed could be chosen [d]."""
        able = [bed for bed in self.beds if not bed.fails] or self.beds
        roomy = [bed for bed in able if bed.roomy] or able
        return min(bed.want for bed in roomy) + ALLOWANCE


def summary_of(
    comparison: xr.Dataset, ranges: Ranges | None = None, wet_spell: Spells | None = None
) -> Comparison:
    """Figures of a comparison, with its ranges and rainy spells where these were asked for."""
    chosen = choose(comparison)
    letters = comparison["bed"].to_numpy().tolist()
    starts = comparison["year_start"].to_numpy().astype("datetime64[D]")
    return Comparison(
        **rests_of(comparison),
        years=starts.size,
        first_days=tuple(str(day) for day in starts),
        days_of_a_year=int(comparison.attrs["days_of_a_year"]),
        days_left_out=int(comparison.attrs["days_left_out"]),
        wet_air_limit_percent=AIR_LIMIT * 100,
        choice=letters[chosen.pick] if chosen.rival is not None else None,
        choice_reason=chosen.reason,
        choice_rival=None if chosen.rival is None else letters[chosen.rival],
        choice_years_no_worse=chosen.kept_up,
        beds=rows_of(
            ComparedBed,
            comparison,
            "bed",
            years_with_two_refills=(comparison["interval_count"] > 0).sum("year").values.tolist(),
            beaten=chosen.beaten.tolist(),
            fails=chosen.fails.tolist(),
        ),
        range=ranges,
        wet_spell=wet_spell,
    )


# --- tables -----------------------------------------------------------------------------------

# Part of a key, what it is in US units, how much of the one makes one of the other.
_US = (
    ("kg_per_m2", "lb_per_ft2", POUND / FOOT**2),
    ("cm", "inch", 2.54),
    ("litres", "US_gal", US_GALLON * 1e3),
    ("kg", "lb", POUND),
    ("m2", "ft2", FOOT**2),
)


def table_of_beds(comparison: Comparison, *, units: System = "metric") -> pd.DataFrame:
    """One row a bed, its keys as columns, in litres and kg or in US gallons and lb."""
    import pandas as pd

    rows = [plain(bed) for bed in comparison.beds]
    if units == "us":
        rows = [dict(_in_us(name, value) for name, value in row.items()) for row in rows]
    return pd.DataFrame(rows)


def _in_us(name: str, value: Any) -> tuple[str, Any]:
    for part, other, size in _US:
        if part in name:
            return name.replace(part, other), None if value is None else value / size
    return name, value


# Columns of years.csv, each the start of a key that stands for all years, and their readings.
_YEARLY: Final = {
    "refills": "refill_count",
    "refill_litres": "refill_volume",
    "days_between_refills": "interval_median",
    "rain_share_percent": "rain_share",
    "wet_days": "wet_days",
    "longest_wet_spell_days": "longest_wet_spell",
    "lowest_air_percent": "air_lowest",
    "dry_days_reservoir_empty": "empty_days",
    "dry_days_wick_limited": "wick_days",
    "need_met_percent": "transpiration_ratio",
    "overflow_litres": "overflow_total",
    "evaporation_litres": "evaporation_total",
}


def table_of_years(comparison: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each bed and year, volumes for the whole bed, units in the names of columns."""
    import pandas as pd

    beds, years = comparison.sizes["bed"], comparison.sizes["year"]
    columns: dict[str, Any] = {
        "bed": np.repeat(comparison["bed"].to_numpy(), years),
        "label": np.repeat(comparison["label"].to_numpy(), years),
        "from": np.tile(comparison["year_start"].to_numpy(), beds),
    }
    for name, reading in _YEARLY.items():
        each = comparison[reading]
        whole = comparison["plan_area"] if each.attrs["units"] == "m" else 1.0
        values = (each * whole).transpose("bed", "year").to_numpy().reshape(-1)
        column = (name, values * size_in(name, each))
        told, amounts = _in_us(*column) if units == "us" else column
        columns[told.replace("litres", "L")] = amounts
    return pd.DataFrame(columns)
