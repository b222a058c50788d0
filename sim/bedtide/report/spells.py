"""Rainy spells for the answers that tell of them: run, summed up, and as a table of days."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from bedtide.constants import AIR_LIMIT
from bedtide.many import (
    LeastDepth,
    Range,
    label_without,
    least_depth,
    place_spells,
    spell_ranges,
    wet_record,
    wet_spells,
    whole_record,
)
from bedtide.report.results import rests_of
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.many import Placed, Variant, Wanted, WetRecord
    from bedtide.report.results import Writer
    from bedtide.units import System

_DEPTH = "box.depth"
_MOST_SEARCHES = 8  # of about three seconds each
_MINUTES, _HOURS = 1440.0, 24.0  # in a day
_HOSE: Final = (15.0, 20.0)  # litres a minute of a garden hose; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Spell:
    """A spell on its days."""

    from_: str
    days: int
    rain_mm: float
    stated: bool
    days_followed_after: int


@dataclass(frozen=True, kw_only=True)
class Course:
    """How a bed came through a spell with its overflow open, or blocked."""

    wet_days: int
    days_until_first_wet_day: float | None
    lowest_air_percent: float | None
    days_until_air_again: float | None
    overflow_litres: float
    overflow_litres_largest_day: float
    rim_spill_litres: float


@dataclass(frozen=True, kw_only=True)
class BedSpell:
    """One bed in one spell."""

    from_: str
    spell_days: int
    open: Course
    blocked: Course


@dataclass(frozen=True, kw_only=True)
class Record:
    """How one bed came through the whole record; None for what never was."""

    days: int
    days_with_roots: int
    wet_days: int
    days_under_potting_standard: int
    longest_wet_days: int
    longest_wet_from: str | None
    lowest_air_percent: float | None
    lowest_air_on: str | None
    least_depth_with_air_cm: float | None
    least_depth_with_air_on: str | None
    overflow_litres_largest_day: float
    overflow_largest_on: str | None
    rim_spill_days: int
    rim_spill_litres_largest_day: float
    rim_spill_largest_on: str | None
    heaviest_kg: float
    heaviest_on: str | None


@dataclass(frozen=True, kw_only=True)
class SpellBed:
    """One bed in all spells, and what its overflow carries; None where that can't be told."""

    bed: str
    label: str
    plan_area_m2: float
    has_roots: bool
    spells: tuple[BedSpell, ...]
    outlet_bore_mm: float | None
    outlet_height_cm: float | None
    head_reservoir_full_mm: float | None
    head_mix_full_mm: float | None
    outlet_litres_a_minute_reservoir_full: float | None
    outlet_litres_a_minute_mix_full: float | None
    rain_mm_an_hour_reservoir_full: float | None
    rain_mm_an_hour_mix_full: float | None
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

    @property
    def wet_blocked(self) -> int:
        """Most wet days in any spell with the overflow blocked."""
        return max(row.blocked.wet_days for row in self.spells)

    @property
    def least_air(self) -> float | None:
        """Least air of all spells with the overflow open [%]."""
        airs = [row.open.lowest_air_percent for row in self.spells]
        return min((air for air in airs if air is not None), default=None)

    @property
    def least_air_blocked(self) -> float | None:
        """Least air of all spells with the overflow blocked [%]."""
        airs = [row.blocked.lowest_air_percent for row in self.spells]
        return min((air for air in airs if air is not None), default=None)


@dataclass(frozen=True, kw_only=True)
class DepthSearch:
    """Answer of the search for the least depth of box."""

    with_: str  # the other keys that it was searched for with
    found: str
    depth_cm: float | None
    lowest_air_percent: float | None
    too_shallow_cm: float | None
    lowest_air_percent_too_shallow: float | None
    searched_from_cm: float
    searched_to_cm: float
    depths_tried: int


class SharedOutlet(NamedTuple):
    """An overflow that beds have in common: the first of them, their letters, what it must do."""

    bed: SpellBed
    letters: tuple[str, ...]
    mix_full: float | None  # what it carries before water stands on the mix [L min-1]
    largest: float  # day in any of the spells [L]

    @property
    def low(self) -> float | None:
        """What it carries with the reservoir full [L min-1]."""
        return self.bed.outlet_litres_a_minute_reservoir_full

    @property
    def known(self) -> bool:
        """Whether what it carries can be told."""
        bed = self.bed
        needed = (bed.outlet_height_cm, bed.outlet_bore_mm, self.low, self.mix_full)
        return all(value is not None for value in needed)


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
    least_depths: tuple[DepthSearch, ...]
    balance_error_mm: float
    assumptions: tuple[str, ...]

    @property
    def followed(self) -> tuple[int, int]:
        """Fewest and most days that a spell is followed past its last [d]."""
        after = [spell.days_followed_after for spell in self.spells]
        return min(after), max(after)

    @property
    def hose(self) -> tuple[float, float]:
        """What a garden hose brings [L min-1]."""
        return _HOSE

    @property
    def outlets(self) -> list[SharedOutlet]:
        """The overflows, one for all beds that share it."""
        groups: dict[tuple[Any, ...], list[SpellBed]] = {}
        for bed in self.beds:
            low = bed.outlet_litres_a_minute_reservoir_full
            key = (bed.outlet_bore_mm, bed.outlet_height_cm, low, bed.plan_area_m2)
            groups.setdefault(key, []).append(bed)
        return [_shared(beds) for beds in groups.values()]


def _shared(beds: Sequence[SpellBed]) -> SharedOutlet:
    flows = [bed.outlet_litres_a_minute_mix_full for bed in beds]
    known = [flow for flow in flows if flow is not None]
    return SharedOutlet(
        beds[0],
        tuple(bed.bed for bed in beds),
        min(known) if len(known) == len(flows) else None,
        max(bed.largest for bed in beds),
    )


# --- run and written --------------------------------------------------------------------------


class SpellRun(NamedTuple):
    """Rainy spells that were run, and the figures that are told of them."""

    result: xr.Dataset
    summary: Spells

    def files(self, units: System, *, first: str | None = None) -> dict[str, Writer]:
        """Writers of the files of rainy spells, but for the figures, by file name.

        Of many beds only some are drawn, the `first` among them.
        """
        from bedtide.files import write_csv, write_figure, write_netcdf
        from bedtide.report.spell_pictures import wet_spell_figure

        order = sorted(self.result["bed"].to_numpy().tolist(), key=lambda bed: bed != first)
        figure = wet_spell_figure(self.result.sel(bed=order), units=units)
        return {
            "wet_spell.csv": partial(write_csv, table=table_of_spells(self.result, units=units)),
            "wet_spell.nc": partial(write_netcdf, dataset=self.result),
            "wet_spell.png": partial(write_figure, figure=figure),
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
    ranges = []
    if with_range:
        begin("Trying other values")
        ranges = [spell_ranges(bed, placed) for bed in beds]
    return SpellRun(result, spells_summary(result, depths, records, ranges))


def _depths(variants: Sequence[Variant], placed: Sequence[Placed]) -> dict[str, LeastDepth]:
    """Least depth for each setting of the other keys, where the depth is varied or the bed alone.

    Of more than eight settings only the first eight are searched; the others are in the table.
    """
    groups: dict[str, Variant] = {}
    for variant in variants:
        keys = [key.strip().lower() for key, _ in variant.settings]
        if _DEPTH in keys or len(variants) == 1:
            groups.setdefault(label_without(variant, _DEPTH), variant)
    chosen = list(groups.items())[:_MOST_SEARCHES]
    return {name: least_depth(variant.bed, placed) for name, variant in chosen}


# --- the figures ------------------------------------------------------------------------------


def spells_summary(
    spells: xr.Dataset,
    depths: Mapping[str, LeastDepth] | None = None,
    records: Sequence[WetRecord] = (),
    ranges: Sequence[dict[str, Range]] = (),
) -> Spells:
    """Figures of `wet_spells`, of least depths by what each was searched for with, of records."""
    whole: list[WetRecord | None] = [*records] or [None] * spells.sizes["bed"]
    ranged: list[dict[str, Range] | None] = [*ranges] or [None] * spells.sizes["bed"]
    first = int(np.flatnonzero(spells["day"].to_numpy() == 0)[0])
    seen = np.isfinite(spells["rain"].transpose("spell", "day").to_numpy()).sum(axis=-1)
    starts, lengths = _starts(spells), spells["spell_days"].to_numpy().tolist()
    return Spells(
        **rests_of(spells),
        wet_air_limit_percent=AIR_LIMIT * 100,
        spells=tuple(
            Spell(
                from_=starts[s],
                days=lengths[s],
                rain_mm=float(spells["spell_rain"][s]) * 1e3,
                stated=bool(spells["spell_stated"][s]),
                days_followed_after=int(seen[s]) - first - lengths[s],
            )
            for s in range(spells.sizes["spell"])
        ),
        beds=tuple(
            _bed(spells.isel(bed=b), *each)
            for b, each in enumerate(zip(whole, ranged, strict=True))
        ),
        least_depths=tuple(_search(name, depth) for name, depth in (depths or {}).items()),
    )


def _record(record: WetRecord, area: float) -> Record:
    return Record(
        days=record.days,
        days_with_roots=record.rooted_days,
        wet_days=record.wet_days,
        days_under_potting_standard=record.low_air_days,
        longest_wet_days=record.longest_wet,
        longest_wet_from=_day(record.longest_wet_from),
        lowest_air_percent=_number(record.air.value, 100),
        lowest_air_on=_day(record.air.day),
        least_depth_with_air_cm=_number(record.airy_depth.value, 100),
        least_depth_with_air_on=_day(record.airy_depth.day),
        overflow_litres_largest_day=record.overflow.value * area * 1e3,
        overflow_largest_on=_day(record.overflow.day),
        rim_spill_days=record.spill_days,
        rim_spill_litres_largest_day=record.rim_spill.value * area * 1e3,
        rim_spill_largest_on=_day(record.rim_spill.day),
        heaviest_kg=record.weight.value,
        heaviest_on=_day(record.weight.day),
    )


def _day(day: datetime.date | None) -> str | None:
    return None if day is None else day.isoformat()


def _bed(bed: xr.Dataset, record: WetRecord | None, ranged: dict[str, Range] | None) -> SpellBed:
    flow, rain = 1e3 / _MINUTES, 1e3 / _HOURS
    starts, lengths = _starts(bed), bed["spell_days"].to_numpy().tolist()
    return SpellBed(
        bed=bed["bed"].item(),
        label=bed["label"].item(),
        plan_area_m2=float(bed["plan_area"]),
        has_roots=bool(np.isfinite(bed["air_lowest"].to_numpy()).any()),
        spells=tuple(
            BedSpell(
                from_=starts[s],
                spell_days=lengths[s],
                open=_course(bed.isel(spell=s).sel(outlet="open")),
                blocked=_course(bed.isel(spell=s).sel(outlet="blocked")),
            )
            for s in range(bed.sizes["spell"])
        ),
        outlet_bore_mm=_number(bed["outlet_bore"], 1e3),
        outlet_height_cm=_number(bed["outlet_height"], 1e2),
        head_reservoir_full_mm=_number(bed["head_in_reservoir"], 1e3),
        head_mix_full_mm=_number(bed["head_at_surface"], 1e3),
        outlet_litres_a_minute_reservoir_full=_number(bed["flow_in_reservoir"], flow),
        outlet_litres_a_minute_mix_full=_number(bed["flow_at_surface"], flow),
        rain_mm_an_hour_reservoir_full=_number(bed["rain_in_reservoir"], rain),
        rain_mm_an_hour_mix_full=_number(bed["rain_at_surface"], rain),
        record=None if record is None else _record(record, float(bed["plan_area"])),
        range=ranged,
    )


def _course(one: xr.Dataset) -> Course:
    litres = float(one["plan_area"]) * 1e3
    return Course(
        wet_days=int(one["wet_days"]),
        days_until_first_wet_day=_number(one["first_wet"]),
        lowest_air_percent=_number(one["air_lowest"], 100),
        days_until_air_again=_number(one["recovery"]),
        overflow_litres=float(one["overflow_total"]) * litres,
        overflow_litres_largest_day=float(one["overflow_largest"]) * litres,
        rim_spill_litres=float(one["rim_spill_total"]) * litres,
    )


def _search(name: str, depth: LeastDepth) -> DepthSearch:
    return DepthSearch(
        with_=name,
        found=depth.found,
        depth_cm=_number(depth.depth, 100),
        lowest_air_percent=_number(depth.air, 100),
        too_shallow_cm=_number(depth.too_shallow, 100),
        lowest_air_percent_too_shallow=_number(depth.air_too_shallow, 100),
        searched_from_cm=depth.shallowest * 100,
        searched_to_cm=depth.deepest * 100,
        depths_tried=depth.tried,
    )


def _starts(spells: xr.Dataset) -> list[str]:
    return [str(day) for day in spells["spell_start"].to_numpy().astype("datetime64[D]")]


def _number(value: Any, factor: float = 1.0) -> float | None:
    """Number times the factor; None where it is missing or infinite."""
    return float(value) * factor if np.isfinite(value) else None


# --- the table of days ------------------------------------------------------------------------


def table_of_spells(spells: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each spell, bed, outlet and day, units in the names of the columns."""
    import pandas as pd

    us = units == "us"
    small, high = ("inch", "inch") if us else ("mm", "cm")
    water, size = ("US_gal", US_GALLON) if us else ("L", 1e-3)
    depth, height = (1 / INCH, 1 / INCH) if us else (1e3, 1e2)
    dims = ("spell", "bed", "outlet", "day")
    like = spells["air_root_zone"]

    def column(name: str, factor: float = 1.0) -> Any:
        values = spells[name].broadcast_like(like).transpose(*dims).to_numpy().reshape(-1)
        return values * factor if values.dtype.kind == "f" else values

    areas = column("plan_area")
    table = pd.DataFrame(
        {
            "spell_days": column("spell_days"),
            "bed": column("bed"),
            "label": column("label"),
            "outlet": column("outlet"),
            "day_of_spell": column("day") + 1,
            "date": column("date"),
            f"rain_{small}": column("rain", depth),
            "air_root_zone_percent": column("air_root_zone", 100.0),
            "air_top_15_cm_percent": column("air_top", 100.0),
            f"depth_with_air_{high}": column("aerated_depth", height),
            f"water_level_{high}": column("level", height),
            f"root_depth_{high}": column("root_depth", height),
            f"water_standing_on_mix_{small}": column("standing_water", depth),
            f"overflow_{water}": column("overflow") * areas / size,
            f"spill_over_rim_{water}": column("rim_spill") * areas / size,
        }
    )
    return table[table["date"].notna()].reset_index(drop=True)
