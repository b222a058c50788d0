"""Tables: the figures of a season under their keys, one row a day, one row a month."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.season.grades import LONG_RUN, wet_grade
from bedtide.constants import AIR_LIMIT
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
from bedtide.units import System

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = [
    "month_rows",
    "season_summary",
    "season_table",
]

_INCH = 0.0254  # m
_US_GALLON = 3.785411784e-3  # m3
_LITRE = 1e-3  # m3

# Ending of the column name and size of the unit in SI units, for each kind and system.
_UNITS: dict[str, dict[System, tuple[str, float]]] = {
    "depth": {"metric": ("_mm", 1e-3), "us": ("_inch", _INCH)},
    "height": {"metric": ("_cm", 1e-2), "us": ("_inch", _INCH)},
    "volume": {"metric": ("_L", _LITRE), "us": ("_US_gal", _US_GALLON)},
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


def season_summary(season: xr.Dataset) -> dict[str, Any]:
    """Every figure that is printed of a season, under stable keys: litres, mm, cm, days.

    Answers: the same as the printed lines, for a program to read.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.

    Returns
    -------
    dict
        Keys as docs/outputs.md lists them, each with its unit in the key; None for what has no
        value, such as the days between refills where there was but one.
    """
    litres = float(season["plan_area"]) / _LITRE
    filled, wet, dry = refills(season), wetness(season), dryness(season)
    account, surface = water_account(season), surface_supply(season)
    times = season["time"].to_numpy().astype("datetime64[D]")
    start = wet["wet_spell_start"].to_numpy().astype("datetime64[D]")
    longest = int(wet["longest_wet_spell"])
    return {
        "bedtide_version": season.attrs["bedtide_version"],
        "bed": season.attrs["title"],
        "weather_place": season.attrs["weather_place"],
        "weather_source": season.attrs["weather_source"],
        "from": str(times[0]),
        "to": str(times[-1]),
        "days": times.size,
        "plan_area_m2": float(season["plan_area"]),
        "reservoir_litres": float(season["capacity"].max()) * litres,
        "reservoir_litres_out_of_reach": min(
            float(season["dead_storage"]), float(season["capacity"].max())
        )
        * litres,
        "refills": int(filled["refill_count"]),
        "refill_litres": float(filled["refill_volume"]) / _LITRE,
        "refill_litres_each_median": _number(filled["refill_each"], 1 / _LITRE),
        "days_between_refills_median": _number(filled["interval_median"]),
        "days_between_refills_p10": _number(filled["interval_p10"]),
        "days_between_refills_p90": _number(filled["interval_p90"]),
        "intervals": int(filled["interval_count"]),
        "days_to_first_refill": _number(filled["first_refill"]),
        "filling_first_month": int(filled["first_month"]) or None,
        "filling_last_month": int(filled["last_month"]) or None,
        "rain_mm": float(account["rain_total"]) * 1e3,
        "reference_evapotranspiration_mm": float(account["et0_total"]) * 1e3,
        "rain_caught_litres": float(account["rain_in_total"]) * litres,
        "overflow_litres": float(account["overflow_total"]) * litres,
        "rim_spill_litres": float(account["rim_spill_total"]) * litres,
        "transpiration_litres": float(account["transpiration_total"]) * litres,
        "evaporation_litres": float(account["evaporation_total"]) * litres,
        "evaporation_asked_mm": float(surface["evaporation_potential_total"]) * 1e3,
        "surface_supply_percent": _number(surface["surface_supply"], 100),
        "open_water_change_litres": float(account["open_water_change"]) * litres,
        "mix_water_change_litres": float(account["mix_water_change"]) * litres,
        "standing_water_change_litres": float(account["standing_water_change"]) * litres,
        "rain_share_percent": _number(filled["rain_share"], 100),
        "days_with_roots": int(wet["rooted_days"]),
        "wet_air_limit_percent": AIR_LIMIT * 100,
        "wet_days": int(wet["wet_days"]),
        "wet_spells": int(wet["wet_spells"]),
        "longest_wet_spell_days": longest,
        "longest_wet_spell_start": None if np.isnat(start) else str(start),
        "wet_grade": wet_grade(longest, rooted_days=int(wet["rooted_days"])),
        "wet_days_top_15_cm": int(wet["wet_days_top"]),
        "excess_water_cm_days": float(wet["excess_water"]) * 100,
        "days_with_demand": int(dry["demand_days"]),
        "dry_days": int(dry["limited_days"]),
        "dry_days_reservoir_empty": int(dry["empty_days"]),
        "dry_days_wick_limited": int(dry["wick_days"]),
        "longest_dry_spell_days": int(dry["longest_dry_spell"]),
        "need_met_percent": _number(dry["transpiration_ratio"], 100),
        "balance_error_mm": float(account["balance_error"]) * 1e3,
        "safe_step_days": int(season["safe_step_days"]),
        "assumptions": list(season.attrs["assumptions"]),
        "months": month_rows(season),
    }


def month_rows(season: xr.Dataset) -> list[dict[str, Any]]:
    """One mapping for each month of a season, or of the mean year of a run of several years.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.

    Returns
    -------
    list of dict
        ``month`` is text such as 2023-06, or a number from 1 to 12 for a mean year (a run of more
        than 400 days); litres for the whole bed, mm, days.
    """
    mean_year = season.sizes["time"] > LONG_RUN
    months = by_month_of_year(season) if mean_year else by_month(season)
    litres = float(season["plan_area"]) / _LITRE
    rows = []
    for number in range(months.sizes["month"]):
        row = months.isel(month=number)
        label = row["month"].to_numpy()
        rows.append(
            {
                "month": int(label) if mean_year else str(label.astype("datetime64[M]")),
                "refills": _number(row["refill_count"]),
                "refill_litres": _number(row["refill_volume"], 1 / _LITRE),
                "days_between_refills_median": _number(row["interval_median"]),
                "days_between_refills_shortest": _number(row["interval_shortest"]),
                "days_between_refills_longest": _number(row["interval_longest"]),
                "rain_mm": _number(row["rain_total"], 1e3),
                "rain_caught_litres": _number(row["rain_in_total"], litres),
                "transpiration_litres": _number(row["transpiration_total"], litres),
                "evaporation_litres": _number(row["evaporation_total"], litres),
                "overflow_litres": _number(row["overflow_total"], litres),
                "wet_days": _number(row["wet_days"]),
                "dry_days_reservoir_empty": _number(row["empty_days"]),
                "dry_days_wick_limited": _number(row["wick_days"]),
            }
        )
    return rows


def season_table(season: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a day, units in the names of the columns, volumes for the whole bed.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.
    units : {"metric", "us"}
        mm, cm and litres, or inches and US gallons.

    Returns
    -------
    DataFrame
        Columns as docs/outputs.md lists them.
    """
    import pandas as pd

    area = float(season["plan_area"])
    columns: dict[str, Any] = {"date": season["time"].to_numpy()}
    for name, label, kind in _DAILY:
        ending, size = _UNITS[kind][units]
        share = area if kind == "volume" else 1.0
        columns[label + ending] = season[name].to_numpy() * share / size
    columns["days_to_refill"] = days_to_refill(season).to_numpy()
    columns["wet_day"] = wet_days(season).astype(int)
    cause = limited_days(season)
    columns["dry_day"] = np.select([cause.empty, cause.wick], ["reservoir empty", "wick"], "")
    # Last, so that the columns before it stay where they were.
    asked, size = _UNITS["depth"][units]
    columns["evaporation_asked" + asked] = season["evaporation_potential"].to_numpy() / size
    return pd.DataFrame(columns)


def _number(value: xr.DataArray, factor: float = 1.0) -> float | int | None:
    """Plain number times the factor; None where it is missing, whole where it is a count."""
    number = value.item()
    if isinstance(number, float):
        return None if np.isnan(number) else number * factor
    return int(number) if factor == 1.0 else number * factor
