"""The figures of rainy spells under their keys, and their days for a spreadsheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.constants import AIR_LIMIT
from bedtide.many import LeastDepth
from bedtide.units import System

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

__all__ = ["wet_spell_summary", "wet_spell_table"]

_INCH = 0.0254  # m
_US_GALLON = 3.785411784e-3  # m3
_MINUTES, _HOURS = 1440.0, 24.0  # in a day


def wet_spell_summary(
    spells: xr.Dataset, depths: Mapping[str, LeastDepth] | None = None
) -> dict[str, Any]:
    """Every figure that is printed of rainy spells, under stable keys: litres, mm, cm, days.

    Parameters
    ----------
    spells : Dataset, dims (spell, bed, outlet, day)
        As `bedtide.many.wet_spell.wet_spells` returns it.
    depths : mapping of str to LeastDepth, optional
        Least depths of box that were searched for, each under what it was searched for with.

    Returns
    -------
    dict
        Keys as docs/wet_spell.md lists them; None for what has no value.
    """
    days = spells["day"].to_numpy()
    first = int(np.flatnonzero(days == 0)[0])
    found: dict[str, Any] = {
        "bedtide_version": spells.attrs["bedtide_version"],
        "weather_place": spells.attrs["weather_place"],
        "weather_source": spells.attrs["weather_source"],
        "wet_air_limit_percent": AIR_LIMIT * 100,
        "spells": [],
        "beds": [],
        "least_depths": [_depth_row(name, depth) for name, depth in (depths or {}).items()],
        "balance_error_mm": float(spells.attrs["balance_error"]) * 1e3,
        "assumptions": list(spells.attrs["assumptions"]),
    }
    for number in range(spells.sizes["spell"]):
        spell = spells.isel(spell=number)
        length = int(spell["spell_days"])
        seen = int(np.isfinite(spell["rain"].to_numpy()).sum())
        found["spells"].append(
            {
                "from": str(spell["spell_start"].to_numpy().astype("datetime64[D]")),
                "days": length,
                "rain_mm": float(spell["spell_rain"]) * 1e3,
                "stated": bool(spell["spell_stated"]),
                "days_followed_after": seen - first - length,
            }
        )
    for b in range(spells.sizes["bed"]):
        found["beds"].append(_bed_row(spells.isel(bed=b)))
    return found


def wet_spell_table(spells: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row for each spell, bed, outlet and day, units in the names of the columns.

    Parameters
    ----------
    spells : Dataset, dims (spell, bed, outlet, day)
        As `bedtide.many.wet_spell.wet_spells` returns it.
    units : {"metric", "us"}
        mm, cm and litres, or inches and US gallons.

    Returns
    -------
    DataFrame
        States at the end of the day.
    """
    import pandas as pd

    us = units == "us"
    small, high = ("inch", "inch") if us else ("mm", "cm")
    water, size = ("US_gal", _US_GALLON) if us else ("L", 1e-3)
    dims = ("spell", "bed", "outlet", "day")
    shape = tuple(spells.sizes[name] for name in dims)
    like = spells["air_root_zone"]

    def column(name: str, factor: float) -> Any:
        values = spells[name].broadcast_like(like).transpose(*dims).to_numpy()
        return (values * factor).reshape(-1) if values.dtype.kind == "f" else values.reshape(-1)

    areas = np.broadcast_to(spells["plan_area"].to_numpy()[:, None, None], shape).reshape(-1)
    depth, height = (1 / _INCH, 1 / _INCH) if us else (1e3, 1e2)
    grid = np.indices(shape).reshape(4, -1)
    table = pd.DataFrame(
        {
            "spell_days": spells["spell_days"].to_numpy()[grid[0]],
            "bed": spells["bed"].to_numpy()[grid[1]],
            "label": spells["label"].to_numpy()[grid[1]],
            "outlet": spells["outlet"].to_numpy()[grid[2]],
            "day_of_spell": spells["day"].to_numpy()[grid[3]] + 1,
            "date": column("date", 1.0),
            f"rain_{small}": column("rain", depth),
            "air_root_zone_percent": column("air_root_zone", 100.0),
            "air_top_15_cm_percent": column("air_top", 100.0),
            f"depth_with_air_{high}": column("aerated_depth", height),
            f"water_level_{high}": column("level", height),
            f"root_depth_{high}": column("root_depth", height),
            f"water_standing_on_mix_{small}": column("standing_water", depth),
            f"overflow_{water}": column("overflow", 1.0) * areas / size,
            f"spill_over_rim_{water}": column("rim_spill", 1.0) * areas / size,
        }
    )
    return table[table["date"].notna()].reset_index(drop=True)


def _bed_row(bed: xr.Dataset) -> dict[str, Any]:
    """Figures of one bed in all spells."""
    litres = float(bed["plan_area"]) * 1e3
    rows = []
    for s in range(bed.sizes["spell"]):
        spell = bed.isel(spell=s)
        row: dict[str, Any] = {
            "from": str(spell["spell_start"].to_numpy().astype("datetime64[D]")),
            "spell_days": int(spell["spell_days"]),
        }
        for outlet in ("open", "blocked"):
            one = spell.sel(outlet=outlet)
            row[outlet] = {
                "wet_days": int(one["wet_days"]),
                "days_until_first_wet_day": _number(one["first_wet"]),
                "lowest_air_percent": _number(one["air_lowest"], 100),
                "days_until_air_again": _number(one["recovery"]),
                "overflow_litres": float(one["overflow_total"]) * litres,
                "overflow_litres_largest_day": float(one["overflow_largest"]) * litres,
                "rim_spill_litres": float(one["rim_spill_total"]) * litres,
            }
        rows.append(row)
    flow = 1e3 / _MINUTES
    return {
        "bed": bed["bed"].item(),
        "label": bed["label"].item(),
        "plan_area_m2": float(bed["plan_area"]),
        "has_roots": bool(np.isfinite(bed["air_lowest"].to_numpy()).any()),
        "spells": rows,
        "outlet_bore_mm": _number(bed["outlet_bore"], 1e3),
        "outlet_height_cm": _number(bed["outlet_height"], 1e2),
        "head_reservoir_full_mm": _number(bed["head_in_reservoir"], 1e3),
        "head_mix_full_mm": _number(bed["head_at_surface"], 1e3),
        "outlet_litres_a_minute_reservoir_full": _number(bed["flow_in_reservoir"], flow),
        "outlet_litres_a_minute_mix_full": _number(bed["flow_at_surface"], flow),
        "rain_mm_an_hour_reservoir_full": _number(bed["rain_in_reservoir"], 1e3 / _HOURS),
        "rain_mm_an_hour_mix_full": _number(bed["rain_at_surface"], 1e3 / _HOURS),
    }


def _depth_row(name: str, depth: LeastDepth) -> dict[str, Any]:
    """Figures of one search."""
    return {
        "with": name,
        "found": depth.found,
        "depth_cm": _plain(depth.depth, 100),
        "lowest_air_percent": _plain(depth.air, 100),
        "too_shallow_cm": _plain(depth.too_shallow, 100),
        "lowest_air_percent_too_shallow": _plain(depth.air_too_shallow, 100),
        "searched_from_cm": depth.shallowest * 100,
        "searched_to_cm": depth.deepest * 100,
        "depths_tried": depth.tried,
    }


def _number(value: xr.DataArray, factor: float = 1.0) -> float | None:
    return _plain(float(value), factor)


def _plain(number: float, factor: float) -> float | None:
    """Number times the factor; None where it is missing or infinite."""
    return number * factor if np.isfinite(number) else None
