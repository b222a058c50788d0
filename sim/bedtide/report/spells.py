"""Rainy spells for the answers that tell of them: run, summed up, and as a table of days."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from bedtide.constants import AIR_LIMIT
from bedtide.many import (
    OUTLETS,
    LeastDepth,
    Range,
    least_depth,
    place_spells,
    spell_ranges,
    wet_record,
    wet_spells,
    whole_record,
)
from bedtide.report.results import amounts, column_of, figure, rests_of, rows_of

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.many import Placed, Variant, Wanted
    from bedtide.units import System

_DIMS = ("spell", "bed", "outlet", "day")
_DEPTH = "box.depth"
_MOST_SEARCHES = 8  # of about three seconds each
_A_MINUTE, _AN_HOUR = 1e3 / 1440.0, 1e3 / 24.0  # litres, millimetres of m3, m a day


@dataclass(frozen=True, kw_only=True)
class Spell:
    """A spell on its days."""

    from_: str = figure("spell_start")
    days: int = figure("spell_days")
    rain_mm: float = figure("spell_rain")
    stated: bool = figure("spell_stated")
    days_followed_after: int


@dataclass(frozen=True, kw_only=True)
class Course:
    """How a bed came through a spell with its overflow open, or blocked."""

    wet_days: int = figure("wet_days")
    days_until_first_wet_day: float | None = figure("first_wet")
    lowest_air_percent: float | None = figure("air_lowest")
    days_until_air_again: float | None = figure("recovery")
    overflow_litres: float = figure("overflow_total")
    overflow_litres_largest_day: float = figure("overflow_largest")
    rim_spill_litres: float = figure("rim_spill_total")


@dataclass(frozen=True, kw_only=True)
class BedSpell:
    """One bed in one spell."""

    from_: str = figure("spell_start")
    spell_days: int = figure("spell_days")
    open: Course
    blocked: Course


@dataclass(frozen=True, kw_only=True)
class Record:
    """How one bed came through the whole record; None for what never was."""

    days: int = figure("days")
    days_with_roots: int = figure("rooted_days")
    wet_days: int = figure("wet_days")
    days_under_potting_standard: int = figure("low_air_days")
    longest_wet_days: int = figure("longest_wet_spell")
    longest_wet_from: str | None = figure("wet_spell_start")
    lowest_air_percent: float | None = figure("air_lowest")
    lowest_air_on: str | None = figure("air_lowest_day")
    least_depth_with_air_cm: float | None = figure("aerated_depth_lowest")
    least_depth_with_air_on: str | None = figure("aerated_depth_lowest_day")
    overflow_litres_largest_day: float = figure("overflow_largest", 1e3)
    overflow_largest_on: str | None = figure("overflow_largest_day")
    rim_spill_days: int = figure("rim_spill_days")
    rim_spill_litres_largest_day: float = figure("rim_spill_largest", 1e3)
    rim_spill_largest_on: str | None = figure("rim_spill_largest_day")
    heaviest_kg: float = figure("weight_largest")
    heaviest_on: str | None = figure("weight_largest_day")


@dataclass(frozen=True, kw_only=True)
class SpellBed:
    """One bed in all spells, and what its overflow carries; None where that can't be told."""

    bed: str = figure("bed")
    label: str = figure("label")
    plan_area_m2: float = figure("plan_area")
    has_roots: bool
    spells: tuple[BedSpell, ...]
    outlet_bore_mm: float | None = figure("outlet_bore")
    outlet_height_cm: float | None = figure("outlet_height")
    head_reservoir_full_mm: float | None = figure("head_in_reservoir")
    head_mix_full_mm: float | None = figure("head_at_surface")
    outlet_litres_a_minute_reservoir_full: float | None = figure("flow_in_reservoir", _A_MINUTE)
    outlet_litres_a_minute_mix_full: float | None = figure("flow_at_surface", _A_MINUTE)
    rain_mm_an_hour_reservoir_full: float | None = figure("rain_in_reservoir", _AN_HOUR)
    rain_mm_an_hour_mix_full: float | None = figure("rain_at_surface", _AN_HOUR)
    record: Record | None = None
    range: dict[str, Range] | None = None  # left out of the figures where it was not asked for

    @property
    def largest(self) -> float:
        """Most that left by the overflow on a day of the spells or of the record [L]."""
        days = [row.open.overflow_litres_largest_day for row in self.spells]
        return max([*days, self.record.overflow_litres_largest_day if self.record else 0.0])

    @property
    def worst(self) -> BedSpell:
        """The spell with the most wet days, the first of equals."""
        return max(self.spells, key=lambda row: row.open.wet_days)


@dataclass(frozen=True, kw_only=True)
class Spells:
    """Every figure that is told of rainy spells, its unit in its name; None for no value."""

    bedtide_version: str
    weather_place: str
    weather_source: str
    weather_doubts: tuple[str, ...]
    wet_air_limit_percent: float
    spells: tuple[Spell, ...]
    beds: tuple[SpellBed, ...]
    least_depths: tuple[LeastDepth, ...]
    balance_error_mm: float
    assumptions: tuple[str, ...]
    on: str | None = None  # first day that was asked for; left out of the figures where none was

    @property
    def outlets(self) -> list[list[SpellBed]]:
        """The beds by their overflows: together stand those that share one."""
        groups: dict[tuple[float | None, ...], list[SpellBed]] = {}
        for bed in self.beds:
            flow = bed.outlet_litres_a_minute_reservoir_full
            key = (bed.outlet_bore_mm, bed.outlet_height_cm, flow, bed.plan_area_m2)
            groups.setdefault(key, []).append(bed)
        return list(groups.values())


# --- run and written --------------------------------------------------------------------------


class SpellRun(NamedTuple):
    """Rainy spells that were run, and the figures that are told of them."""

    result: xr.Dataset
    summary: Spells

    def files(self, units: System, *, first: str | None = None) -> dict[str, Any]:
        """Contents of the files of rainy spells, but for the figures, by file name.

        Of many beds only some are drawn, the `first` among them.
        """
        from bedtide.report.spell_pictures import wet_spell_figure

        order = sorted(self.result["bed"].to_numpy().tolist(), key=lambda bed: bed != first)
        figure = wet_spell_figure(self.result.sel(bed=order), units=units)
        return {
            "wet_spell.csv": table_of_spells(self.result, units=units),
            "wet_spell.nc": self.result,
            "wet_spell.png": figure,
        }


def run_spells(
    variants: Sequence[Variant],
    weather: xr.Dataset,
    wanted: Sequence[Wanted],
    first: datetime.date | None,
    begin: Callable[[str], None],
    *,
    with_range: bool = False,
) -> SpellRun:
    """Run the beds through the spells; search least depths and ranges where these are asked for."""
    begin("Running the rainy spells")
    beds = [variant.bed for variant in variants]
    records, air = wet_record(beds, weather)
    placed = place_spells(beds, weather, wanted, first=first, air=air)
    result = wet_spells(beds, placed, labels=[variant.label for variant in variants])
    begin("Searching the least depth")
    depths = _depths(variants, [whole_record(weather), *placed])
    ranges: list[dict[str, Range]] = []
    if with_range:
        begin("Trying other values")
        ranges = [spell_ranges(bed, placed) for bed in beds]
    summary = spells_summary(result, depths, records, ranges)
    return SpellRun(result, replace(summary, on=None if first is None else str(first)))


def _depths(variants: Sequence[Variant], placed: Sequence[Placed]) -> list[LeastDepth]:
    """Least depth for each setting of the other keys, where the depth is varied or the bed alone.

    Of more than eight settings only the first eight are searched; the others are in the table.
    """
    groups: dict[str, Variant] = {}
    for variant in variants:
        if _DEPTH in dict(variant.settings) or len(variants) == 1:
            groups.setdefault(variant.label_without(_DEPTH), variant)
    chosen = list(groups.items())[:_MOST_SEARCHES]
    return [least_depth(variant.bed, placed, with_=name) for name, variant in chosen]


# --- the figures ------------------------------------------------------------------------------


def spells_summary(
    spells: xr.Dataset,
    depths: Sequence[LeastDepth] = (),
    records: xr.Dataset | None = None,
    ranges: Sequence[dict[str, Range]] = (),
) -> Spells:
    """Figures of `wet_spells`, of least depths, of records, of ranges."""
    first = int(np.flatnonzero(spells["day"].to_numpy() == 0)[0])
    seen = np.isfinite(spells["rain"].transpose("spell", "day").to_numpy()).sum(axis=-1)
    followed = seen - first - spells["spell_days"].to_numpy()
    beds = [spells.isel(bed=at) for at in range(spells.sizes["bed"])]
    none = [None] * len(beds)
    return Spells(
        **rests_of(spells),
        wet_air_limit_percent=AIR_LIMIT * 100,
        spells=rows_of(Spell, spells, "spell", days_followed_after=followed.tolist()),
        beds=rows_of(
            SpellBed,
            spells,
            "bed",
            has_roots=[bool(np.isfinite(bed["air_lowest"]).any()) for bed in beds],
            spells=[_in_spells(bed) for bed in beds],
            record=none if records is None else rows_of(Record, records, "bed"),
            range=ranges or none,
        ),
        least_depths=tuple(depths),
    )


def _in_spells(bed: xr.Dataset) -> tuple[BedSpell, ...]:
    courses = {outlet: rows_of(Course, bed.sel(outlet=outlet), "spell") for outlet in OUTLETS}
    return rows_of(BedSpell, bed, "spell", **courses)


# --- the table of days ------------------------------------------------------------------------

_DAILY: Final = (
    "spell_days", "bed", "label", "outlet", "day", "date", "rain", "air_root_zone", "air_top",
    "aerated_depth", "level", "root_depth", "standing_water", "overflow", "rim_spill",
)  # fmt: skip


def table_of_spells(spells: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each spell, bed, outlet and day, units in the names of the columns."""
    import pandas as pd

    columns = {}
    for name in _DAILY:
        whole = amounts(spells, name, units).broadcast_like(spells["air_root_zone"])
        columns[column_of(name, units)] = whole.transpose(*_DIMS).to_numpy().reshape(-1)
    table = pd.DataFrame(columns).assign(day_of_spell=columns["day_of_spell"] + 1)
    return table[table["date"].notna()].reset_index(drop=True)
