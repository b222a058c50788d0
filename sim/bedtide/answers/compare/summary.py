"""What a comparison comes to: every figure that is told of it, its ranges, and its tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from bedtide.constants import AIR_LIMIT, ALLOWANCE, ROOM
from bedtide.many import YEARS_DRAWN, Range, Ranges, Reason, choose
from bedtide.report.results import plain, rests_of
from bedtide.units import FOOT, POUND, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.report.spells import Spells
    from bedtide.units import System


# What stands in a row of years.csv, and in the figures for each bed over the years: its name, which
# ends in the statistic there, and the reading. The unit is in the name.
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
_READINGS: Final = _YEARLY | {
    "dry_days": "limited_days",
    "transpiration_litres": "transpiration_total",
    "rain_caught_litres": "rain_in_total",
}
_SIZES: Final = {"percent": 100.0, "cm": 100.0, "litres": 1e3}
_MEASURES: Final = {  # of the bed itself
    "plan_area_m2": "plan_area",
    "reservoir_litres": "reservoir_volume",
    "reservoir_litres_out_of_reach": "dead_volume",
    "mix_above_reservoir_cm": "mix_depth",
    "mix_litres": "mix_volume",
    "full_kg": "brimful_weight",
    "full_kg_per_m2": "brimful_load",
    "full_water_kg": "brimful_water",
    "dry_mix_kg": "mix_weight",
    "reservoir_kg": "reservoir_weight",
}


@dataclass(frozen=True, kw_only=True)
class ComparedBed:
    """What one bed is and does, over the years; None for what has no value."""

    bed: str
    label: str
    plan_area_m2: float
    reservoir_litres: float
    reservoir_litres_out_of_reach: float
    mix_above_reservoir_cm: float
    mix_litres: float
    full_kg: float
    full_kg_per_m2: float
    full_water_kg: float
    dry_mix_kg: float
    reservoir_kg: float
    refills_mean: float
    refills_median: float
    refills_p10: float
    refills_p90: float
    days_between_refills_median: float | None
    days_between_refills_p10: float | None
    days_between_refills_p90: float | None
    refill_litres_mean: float
    refill_litres_p10: float
    refill_litres_p90: float
    rain_share_percent_median: float | None
    wet_days_mean: float
    wet_days_median: float
    wet_days_p10: float
    wet_days_p90: float
    wet_days_max: float
    longest_wet_spell_days_median: float
    longest_wet_spell_days_p90: float
    longest_wet_spell_days_max: float
    lowest_air_percent_mean: float | None
    lowest_air_percent_p10: float | None
    lowest_air_percent_min: float | None
    dry_days_mean: float
    dry_days_median: float
    dry_days_p10: float
    dry_days_p90: float
    dry_days_max: float
    dry_days_reservoir_empty_mean: float
    dry_days_wick_limited_mean: float
    need_met_percent_mean: float | None
    need_met_percent_min: float | None
    transpiration_litres_mean: float
    evaporation_litres_mean: float
    rain_caught_litres_mean: float
    overflow_litres_mean: float
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
class ComparedRanges:
    """Ranges of each bed, with how many sets it fails its plants; the bed chosen with each set."""

    beds: dict[str, dict[str, Range]]
    fails: dict[str, int]
    choices: tuple[str, ...]
    years: int  # that each set was run through, at the most

    @property
    def counted(self) -> list[tuple[str, int]]:
        """Beds that were chosen, with how many sets, the most frequent first."""
        return Counter(self.choices).most_common()


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Every figure that is told of a comparison, its unit in its name."""

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
    range: ComparedRanges | None = None  # left out of the figures where not asked for
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
    def room_cm(self) -> float:
        """Mix above the reservoir that a bed should have [cm]."""
        return ROOM * 100

    @property
    def cramped(self) -> bool:
        """Whether some beds, but not all, lack room for roots."""
        return len({bed.roomy for bed in self.beds}) == 2

    @property
    def allowance(self) -> int:
        """Days of want that a bed may have and still be called good [d]."""
        return ALLOWANCE

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
    letters = [str(letter) for letter in comparison["bed"].to_numpy()]
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
        beds=tuple(
            _bed(comparison.isel(bed=at), beaten=bool(beaten), fails=bool(fails))
            for at, (beaten, fails) in enumerate(zip(chosen.beaten, chosen.fails, strict=True))
        ),
        range=None if ranges is None else _told(ranges, letters),
        wet_spell=wet_spell,
    )


def _bed(bed: xr.Dataset, *, beaten: bool, fails: bool) -> ComparedBed:
    area = float(bed["plan_area"])
    values: dict[str, Any] = {}
    for name in (field.name for field in fields(ComparedBed)):
        over_years, _, statistic = name.rpartition("_")
        reading = _READINGS.get(over_years, "")
        variable = _MEASURES.get(name, f"{reading}_{statistic}")
        if variable in bed:
            value = float(bed[variable]) * (
                (area if reading.endswith("_total") else 1.0) * _size(name)
            )
            values[name] = value if np.isfinite(value) else None
    return ComparedBed(
        bed=bed["bed"].item(),
        label=bed["label"].item(),
        **values,
        years_with_two_refills=int((bed["interval_count"] > 0).sum()),
        beaten=beaten,
        fails=fails,
    )


def _size(name: str) -> float:
    """How many of the unit in a name make one of the reading's."""
    return next((size for unit, size in _SIZES.items() if unit in name), 1.0)


def _told(ranges: Ranges, letters: Sequence[str]) -> ComparedRanges:
    return ComparedRanges(
        beds=dict(zip(letters, ranges.beds, strict=True)),
        fails=dict(zip(letters, ranges.fails, strict=True)),
        choices=tuple(letters[pick] for pick in ranges.picks),
        years=YEARS_DRAWN,
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


def table_of_years(comparison: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each bed and year, volumes for the whole bed, units in the names of columns."""
    import pandas as pd

    beds, years = comparison.sizes["bed"], comparison.sizes["year"]
    water, litres = ("US_gal", US_GALLON * 1e3) if units == "us" else ("L", 1.0)
    columns: dict[str, Any] = {
        "bed": np.repeat(comparison["bed"].to_numpy(), years),
        "label": np.repeat(comparison["label"].to_numpy(), years),
        "from": np.tile(comparison["year_start"].to_numpy(), beds),
    }
    for name, reading in _YEARLY.items():
        each = comparison[reading]
        if reading.endswith("_total"):
            each = each * comparison["plan_area"]
        values = each.transpose("bed", "year").to_numpy().reshape(-1) * _size(name)
        columns[name.replace("litres", water)] = values / (litres if "litres" in name else 1.0)
    return pd.DataFrame(columns)
