"""Seasons for tests that need a result without running the model.

Two are worked by hand, day by day, in millimetres (the sums are in the comments); one is a
made-up year from a plain bucket. In all of them water is conserved, so that a check of the
balance has something true to find.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import xarray as xr

from bedtide.tables import attributes

PLAN_AREA = 2.0  # m2, so that 1 mm is 2 L


def season_from_mm(
    start: str,
    *,
    before: tuple[float, float, float],
    mm: Mapping[str, Sequence[float]],
    shares: Mapping[str, Sequence[float]] | None = None,
    dead_storage: float = 2.0,
    capacity: float = 50.0,
) -> xr.Dataset:
    """Put together a Dataset as a run of one bed gives it, from columns in mm and shares."""
    days = len(next(iter(mm.values())))
    columns = {
        "rain": mm.get("rain_in"),
        "et0": [5.0] * days,
        "transpiration_potential": mm.get("transpiration"),
        "evaporation_potential": mm.get("evaporation"),
        "overflow": [0.0] * days,
        "rim_spill": [0.0] * days,
        "standing_water": [0.0] * days,
        "capacity": [capacity] * days,
        "level": [1.2 * value for value in mm["open_water"]],
        "lip_height": [1.2 * capacity] * days,
        "aerated_depth": [250.0] * days,
        "air_depth_needed": [150.0] * days,
        "surface_suction": [300.0] * days,
        "root_depth": [250.0] * days,
        **mm,
    }
    data = {name: np.asarray(column, float) / 1000 for name, column in columns.items()}
    wanted = data["transpiration_potential"]
    data |= {
        "uptake_factor": np.divide(
            data["transpiration"], wanted, out=np.ones(days), where=wanted > 0
        ),
        "store_share": data["open_water"] / data["capacity"],
        "air_root_zone": np.full(days, 0.22),
        "air_top": np.full(days, 0.28),
        "kcb": np.full(days, 1.1),
        "cover": np.full(days, 0.8),
        **{name: np.asarray(column, float) for name, column in (shares or {}).items()},
    }
    time = np.datetime64(start, "ns") + np.arange(days) * np.timedelta64(1, "D")
    season = xr.Dataset(
        {name: ("time", column) for name, column in data.items()}, coords={"time": time}
    )
    scalars = {
        "plan_area": PLAN_AREA,
        "dead_storage": dead_storage / 1000,
        "surface_height": 0.42,
        "crown_height": 0.12,
        "start_open_water": before[0] / 1000,
        "start_mix_water": before[1] / 1000,
        "start_standing_water": before[2] / 1000,
        "safe_steps": 0.0,
        "safe_step_days": 0.0,
    }
    season = season.assign(scalars)
    for name in data:
        season[name].attrs = attributes(name)
    season.attrs = {
        "Conventions": "CF-1.8",
        "bedtide_version": "0.1.0",
        "title": "Bed by hand",
        "bed_description": 'name = "Bed by hand"\n',
        "overflow": "open",
        "assumptions": ["Wind was taken as 2 m/s on 3 of the days."],
        "balance_error": 0.0,
        "weather_place": "Nowhere (invented)",
        "weather_source": "by_hand.csv",
    }
    return season


def by_hand() -> xr.Dataset:
    """Twelve days across two months, with two refills, two days of rain that overflow, one wet."""
    season = season_from_mm(
        "2023-06-25",
        before=(50.0, 120.0, 0.0),
        mm={
            # day           25   26   27   28   29   30    1    2    3    4    5    6
            "rain_in": [0, 0, 0, 10, 0, 0, 0, 20, 15, 0, 0, 0],
            "refill": [0, 0, 0, 0, 0, 26, 0, 0, 0, 0, 14, 0],
            "transpiration": [4, 5, 4, 2, 5, 6, 6, 1, 1, 5, 6, 7],
            "evaporation": [1, 1, 1, 1, 1, 2, 2, 1, 1, 2, 2, 2],
            "rise": [5, 6, 5, -4, 6, 8, 7, -14, -12, 6, 8, 9],
            "overflow": [0, 0, 0, 0, 0, 0, 0, 7, 12, 0, 0, 0],
            # open water: before + refill - rise - overflow
            "open_water": [45, 39, 34, 38, 32, 50, 43, 50, 50, 44, 50, 41],
            # mix: before + rain - transpiration - evaporation + rise
            "mix_water": [120, 120, 120, 123, 123, 123, 122, 126, 127, 126, 126, 126],
            "aerated_depth": [250, 250, 250, 200, 250, 250, 250, 100, 50, 250, 250, 250],
        },
        shares={
            "air_root_zone": [0.2, 0.2, 0.2, 0.09, 0.1, 0.2, 0.2, 0.08, 0.05, 0.2, 0.2, 0.2],
            "air_top": [0.3, 0.3, 0.3, 0.2, 0.3, 0.3, 0.3, 0.1, 0.06, 0.3, 0.3, 0.3],
        },
    )
    return season


def drought_by_hand() -> xr.Dataset:
    """Seven days: the reservoir runs out, the mix dries, a refill comes, the wick lags a day."""
    return season_from_mm(
        "2023-08-01",
        before=(6.0, 120.0, 0.0),
        mm={
            "rain_in": [0, 0, 0, 0, 0, 0, 0],
            "refill": [0, 0, 0, 0, 48, 0, 0],
            "transpiration_potential": [5, 5, 6, 6, 6, 6, 0],
            "transpiration": [5, 5, 5.1, 3, 4.8, 6, 0],
            "evaporation": [1, 0.5, 0.4, 0.2, 0.2, 1, 1],
            "rise": [4, 0, 0, 0, 10, 12, 0],
            # of the open water, 2 mm is out of the mix's reach
            "open_water": [2, 2, 2, 2, 40, 28, 28],
            "mix_water": [118, 112.5, 107, 103.8, 108.8, 113.8, 112.8],
        },
        # nothing is asked for on the last day, so its factor counts for nothing
        shares={"uptake_factor": [1, 1, 0.85, 0.5, 0.8, 1, 0.5]},
    )


def bucket_year(
    start: str = "2023-01-01", *, days: int = 365, south: bool = False, refill: bool = True
) -> xr.Dataset:
    """Make up a year: a bucket with rain in spells and a demand that follows the sun.

    Not the model and not weather: only something as long and as varied as a real result.
    """
    draw = np.random.default_rng(20230101)
    time = np.datetime64(start, "D") + np.arange(days)
    day_of_year = (time - time.astype("datetime64[Y]")).astype(int)
    sun = -np.cos(2 * np.pi * (day_of_year - 10) / 365) * (-1 if south else 1)
    et0 = np.maximum(3.0 + 2.6 * sun + draw.normal(0, 0.7, days), 0.2)
    wet_day = np.zeros(days, bool)
    for day in range(1, days):
        wet_day[day] = draw.random() < (0.55 if wet_day[day - 1] else 0.12)
    rain = np.where(wet_day, draw.gamma(0.9, 9.0, days), 0.0)
    capacity, dead, full_mix, least_mix = 52.0, 2.0, 130.0, 70.0
    open_water, mix_water = capacity, full_mix
    names = (
        "rain_in refill transpiration evaporation rise overflow open_water mix_water "
        "transpiration_potential"
    )
    rows: dict[str, list[float]] = {name: [] for name in names.split()}
    for day in range(days):
        poured = capacity - open_water if refill and open_water < 0.25 * capacity else 0.0
        wanted = et0[day] * float(np.clip(0.5 + 0.55 * sun[day], 0.0, 1.05))
        took = wanted * float(np.clip((mix_water - least_mix) / 25, 0, 1))
        dried = 0.2 * et0[day] * float(np.clip((mix_water - least_mix) / 50, 0, 1))
        mix_water += rain[day] - took - dried
        rise = min(full_mix - mix_water, open_water + poured - dead)
        mix_water += rise
        open_water += poured - rise
        lost = max(open_water - capacity, 0.0)
        open_water -= lost
        for name, value in zip(
            rows,
            (rain[day], poured, took, dried, rise, lost, open_water, mix_water, wanted),
            strict=True,
        ):
            rows[name].append(float(value))
    soaked = np.convolve(rain, [0.5, 0.3, 0.2])[:days]
    missing = full_mix - np.array(rows["mix_water"])
    air = np.clip(0.2 + missing / 300 - 0.006 * soaked, 0.02, None)
    return season_from_mm(
        start,
        before=(capacity, full_mix, 0.0),
        dead_storage=dead,
        capacity=capacity,
        mm={**rows, "et0": list(et0), "aerated_depth": list(np.clip(air * 1250, 0, 300))},
        shares={
            "air_root_zone": list(air),
            "air_top": list(np.clip(air + 0.06, 0.02, None)),
        },
    )
