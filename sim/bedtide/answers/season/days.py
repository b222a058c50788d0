"""The days of a season in the reader's units: its table, and what its page and pictures draw."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.readings import days_to_refill, limited_days, wet_days
from bedtide.report.results import UNITS, air_classes, amounts, column_of, series

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.units import System

_MOST: Final = 800  # days that are drawn one by one; of more the last year is [d]; ours

_DAILY: Final = (
    "rain", "rain_in", "refill", "overflow", "rim_spill", "et0", "transpiration_potential",
    "transpiration", "evaporation", "rise", "open_water", "store_share", "level", "lip_height",
    "mix_water", "standing_water", "air_root_zone", "air_top", "aerated_depth", "uptake_factor",
    "surface_suction", "root_depth", "cover", "kcb",
)  # fmt: skip
USES: Final = ("transpiration", "evaporation", "transpiration_potential")
"""Water that the plants took, that dried off the surface, that the plants wanted."""


def daily(season: xr.Dataset, name: str, units: System) -> NDArray[np.float64]:
    """A variable of every day in the reader's unit, of the whole bed where it is a volume."""
    return np.asarray(amounts(season, name, units))


def table_of_days(season: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a day, units in the names of the columns, volumes for the whole bed."""
    import pandas as pd

    columns: dict[str, Any] = {"date": season["time"].to_numpy()}
    for name in _DAILY:
        columns[column_of(name, units)] = daily(season, name, units)
    columns["days_to_refill"] = days_to_refill(season).to_numpy()
    columns["wet_day"] = wet_days(season).astype(int)
    cause = limited_days(season)
    columns["dry_day"] = np.select([cause.empty, cause.wick], ["reservoir empty", "wick"], "")
    asked = "evaporation_potential"
    columns[column_of(asked, units)] = daily(season, asked, units)
    return pd.DataFrame(columns)


def days_of(season: xr.Dataset, bed: Bed, units: System) -> dict[str, Any]:
    """Series of a run that its page draws, by name, to two digits; None where there is nothing.

    Volumes are of the whole bed, heights above the floor, air in %; of a long run its last year.
    """
    season, whole = drawn_days(season)
    times = season["time"].to_numpy().astype("datetime64[D]")
    dates = times.astype(str).tolist()
    rooted, filled = (season[name].to_numpy() > 0 for name in ("root_depth", "refill"))
    wet, limited = wet_days(season), limited_days(season)
    height, surface = UNITS["height"][units][1], float(season["surface_height"])
    taken, dried, wanted = (daily(season, name, units) for name in USES)
    refill, air_roots = (daily(season, name, units) for name in ("refill", "air_root_zone"))
    roots = np.maximum(surface / height - daily(season, "root_depth", units), 0.0)
    faces, air = _air(season, bed)

    return {
        "dates": dates,
        "whole": whole,  # every day of the run is here
        "rain": series(daily(season, "rain_in", units)),
        "refill": series(refill),
        "fills": [*zip(times[filled].astype(str).tolist(), series(refill[filled]), strict=True)],
        "level": series(np.maximum(daily(season, "level", units), 0.0)),
        "lip": series(daily(season, "lip_height", units)),
        "has_lip": has_lip(season),
        "air_roots": series(air_roots, rooted),
        "air_wet": series(air_roots, wet),
        "taken": series(taken),
        "dried": series(dried),
        "used": (np.round(taken, 2) + np.round(dried, 2)).tolist(),
        "wanted": series(wanted, wanted > taken * 1.001),  # where the plants did not get it
        "filled": filled.tolist(),
        "wet": wet.tolist(),
        "dry": (limited.empty | limited.wick).tolist(),
        "lowest_roots": series(roots, rooted),
        "faces": series(faces / height),  # between the cells of the mix, from the floor up
        "air": air_classes(air),  # its class in each cell, the lowest first
        "months": _months(times, air, faces, float(season["crown_height"])),
    }


def drawn_days(season: xr.Dataset) -> tuple[xr.Dataset, bool]:
    """The days that are drawn one by one, and whether these are all of the run."""
    whole = season.sizes["time"] <= _MOST
    return season if whole else season.isel(time=slice(-365, None)), whole


def has_lip(season: xr.Dataset) -> bool:
    """Whether an outlet stands below the surface of the mix on any day."""
    return bool((season["lip_height"] < season["surface_height"] - 1e-9).any())


def _air(season: xr.Dataset, bed: Bed) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Faces of the cells [m] and the air in them (cell, day) [1], from the floor up."""
    centre = season["height"].to_numpy()
    faces = [float(season["surface_height"])]
    for middle in centre:
        faces.append(2.0 * middle - faces[-1])
    mixes = np.where(
        centre < float(season["crown_height"]), bed.wick_mix.theta_s, bed.top_mix.theta_s
    )
    water = season["water_content"].transpose("height", "time").to_numpy()
    return np.abs(faces[::-1]), np.maximum(mixes[:, None] - water, 0.0)[::-1]


def _months(
    times: NDArray[np.datetime64],
    air: NDArray[np.float64],
    faces: NDArray[np.float64],
    crown: float,
) -> list[tuple[str, list[float]]]:
    """Mean air in the top, middle and bottom third of the mix above the reservoir [%]."""
    edges = np.linspace(crown, faces[-1], 4)
    inside = np.minimum(faces[1:, None], edges[1:]) - np.maximum(faces[:-1, None], edges[:-1])
    share = np.maximum(inside, 0.0)
    thirds = 100.0 * (share / share.sum(axis=0)).T @ air
    month = times.astype("datetime64[M]")
    return [
        (str(each), thirds[::-1, month == each].mean(axis=1).round(1).tolist())
        for each in np.unique(month)
    ]
