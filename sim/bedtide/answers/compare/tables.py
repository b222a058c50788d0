"""The figures of a comparison under their keys, and its tables for a spreadsheet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.compare.choice import choose
from bedtide.constants import AIR_LIMIT
from bedtide.units import System

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = ["compare_summary", "compare_table", "years_table"]

_US_GALLON = 3.785411784e-3  # m3
_POUND = 0.45359237  # kg
_FOOT = 0.3048  # m

# Reading, name in the summary, kind, statistics of the years that are given.
_READINGS: tuple[tuple[str, str, str, tuple[str, ...]], ...] = (
    ("refill_count", "refills", "plain", ("mean", "median", "p10", "p90")),
    ("interval_median", "days_between_refills", "plain", ("median", "p10", "p90")),
    ("refill_volume", "refill_litres", "litres", ("mean", "p10", "p90")),
    ("rain_share", "rain_share_percent", "percent", ("median",)),
    ("wet_days", "wet_days", "plain", ("mean", "median", "p10", "p90", "max")),
    ("longest_wet_spell", "longest_wet_spell_days", "plain", ("median", "p90", "max")),
    ("air_lowest", "lowest_air_percent", "percent", ("mean", "p10", "min")),
    ("limited_days", "dry_days", "plain", ("mean", "median", "p10", "p90", "max")),
    ("empty_days", "dry_days_reservoir_empty", "plain", ("mean",)),
    ("wick_days", "dry_days_wick_limited", "plain", ("mean",)),
    ("transpiration_ratio", "need_met_percent", "percent", ("mean", "min")),
    ("transpiration_total", "transpiration_litres", "depth", ("mean",)),
    ("evaporation_total", "evaporation_litres", "depth", ("mean",)),
    ("rain_in_total", "rain_caught_litres", "depth", ("mean",)),
    ("overflow_total", "overflow_litres", "depth", ("mean",)),
)

# Reading of one year, name of its column, kind.
_YEARLY = (
    ("refill_count", "refills", "plain"),
    ("refill_volume", "refill", "volume"),
    ("interval_median", "days_between_refills", "plain"),
    ("rain_share", "rain_share_percent", "percent"),
    ("wet_days", "wet_days", "plain"),
    ("longest_wet_spell", "longest_wet_spell_days", "plain"),
    ("air_lowest", "lowest_air_percent", "percent"),
    ("empty_days", "dry_days_reservoir_empty", "plain"),
    ("wick_days", "dry_days_wick_limited", "plain"),
    ("transpiration_ratio", "need_met_percent", "percent"),
    ("overflow_total", "overflow", "depth"),
    ("evaporation_total", "evaporation", "depth"),
)


def compare_summary(comparison: xr.Dataset) -> dict[str, Any]:
    """Every figure that is printed of a comparison, under stable keys: litres, kg, days.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.

    Returns
    -------
    dict
        Keys as docs/compare.md lists them; None for what has no value.
    """
    chosen = choose(comparison)
    beds = [str(letter) for letter in comparison["bed"].to_numpy()]
    starts = comparison["year_start"].to_numpy().astype("datetime64[D]")
    days = int(comparison.attrs["days_of_a_year"])
    return {
        "bedtide_version": comparison.attrs["bedtide_version"],
        "weather_place": comparison.attrs["weather_place"],
        "weather_source": comparison.attrs["weather_source"],
        "years": starts.size,
        "first_days": [str(day) for day in starts],
        "days_of_a_year": days,
        "days_left_out": int(comparison.attrs["days_left_out"]),
        "wet_air_limit_percent": AIR_LIMIT * 100,
        "choice": beds[chosen.pick] if chosen.rival is not None else None,
        "choice_reason": chosen.reason,
        "choice_rival": None if chosen.rival is None else beds[chosen.rival],
        "choice_years_no_worse": chosen.kept_up,
        "beds": [
            _bed_row(comparison.isel(bed=number)) | {"beaten": bool(chosen.beaten[number])}
            for number in range(len(beds))
        ],
        "balance_error_mm": float(comparison.attrs["balance_error"]) * 1e3,
        "assumptions": list(comparison.attrs["assumptions"]),
    }


def compare_table(comparison: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a bed, units in the names of the columns.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    units : {"metric", "us"}
        Litres, kg and kg/m2, or US gallons, lb and lb/ft2.

    Returns
    -------
    DataFrame
        The keys of each bed in the summary, in its order.
    """
    import pandas as pd

    rows = compare_summary(comparison)["beds"]
    if units == "us":
        rows = [dict(_us(name, value) for name, value in row.items()) for row in rows]
    return pd.DataFrame(rows)


def years_table(comparison: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each bed and year, units in the names of the columns.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    units : {"metric", "us"}
        Litres, or US gallons.

    Returns
    -------
    DataFrame
        Volumes for the whole bed; empty where there is no value.
    """
    import pandas as pd

    beds, years = comparison.sizes["bed"], comparison.sizes["year"]
    ending, size = ("US_gal", _US_GALLON) if units == "us" else ("L", 1e-3)
    columns: dict[str, Any] = {
        "bed": np.repeat(comparison["bed"].to_numpy(), years),
        "label": np.repeat(comparison["label"].to_numpy(), years),
        "from": np.tile(comparison["year_start"].to_numpy(), beds),
    }
    for name, label, kind in _YEARLY:
        values = comparison[name].transpose("bed", "year").to_numpy()
        if kind == "depth":
            values = values * comparison["plan_area"].to_numpy()[:, None]
        water = kind in ("volume", "depth")
        factor = 1 / size if water else 100.0 if kind == "percent" else 1.0
        columns[f"{label}_{ending}" if water else label] = (values * factor).reshape(-1)
    return pd.DataFrame(columns)


def _bed_row(bed: xr.Dataset) -> dict[str, Any]:
    """Figures of one bed."""
    area = float(bed["plan_area"])
    factors = {"plain": 1.0, "percent": 100.0, "litres": 1e3, "depth": area * 1e3}
    row: dict[str, Any] = {
        "bed": bed["bed"].item(),
        "label": bed["label"].item(),
        "plan_area_m2": area,
        "reservoir_litres": float(bed["reservoir_volume"]) * 1e3,
        "reservoir_litres_out_of_reach": float(bed["dead_volume"]) * 1e3,
        "mix_above_reservoir_cm": float(bed["mix_depth"]) * 100,
        "mix_litres": float(bed["mix_volume"]) * 1e3,
        "full_kg": float(bed["brimful_weight"]),
        "full_kg_per_m2": float(bed["brimful_load"]),
        "full_water_kg": float(bed["brimful_water"]),
        "dry_mix_kg": float(bed["mix_weight"]),
        "reservoir_kg": float(bed["reservoir_weight"]),
    }
    for reading, name, kind, statistics in _READINGS:
        for statistic in statistics:
            value = float(bed[f"{reading}_{statistic}"]) * factors[kind]
            row[f"{name}_{statistic}"] = value if np.isfinite(value) else None
    row["years_with_two_refills"] = int((bed["interval_count"] > 0).sum())
    return row


def _us(name: str, value: Any) -> tuple[str, Any]:
    """Name of a column and its value in US units."""
    for part, other, size in (
        ("kg_per_m2", "lb_per_ft2", _POUND / _FOOT**2),
        ("cm", "inch", 2.54),
        ("litres", "US_gal", _US_GALLON * 1e3),
        ("kg", "lb", _POUND),
        ("m2", "ft2", _FOOT**2),
    ):
        if part in name:
            return name.replace(part, other), None if value is None else value / size
    return name, value
