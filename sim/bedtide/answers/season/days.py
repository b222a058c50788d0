"""The days of a season in the reader's units: its table, and what its page and pictures draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.readings import days_to_refill, limited_days, wet_days
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from bedtide.units import System

MOST: Final = 800
"""Days that are drawn one by one; of more the last year is [d]; ours."""
_CLASSES = (0.1, 0.2, 0.3, 0.4)  # air shares that part the colours [1]

# Ending of a column's name, size of the unit in SI units and its word, of each kind and system.
_UNITS: Final[dict[str, dict[System, tuple[str, float, str]]]] = {
    "depth": {"metric": ("_mm", 1e-3, "mm"), "us": ("_inch", INCH, "inches")},
    "height": {"metric": ("_cm", 1e-2, "cm"), "us": ("_inch", INCH, "inches")},
    "volume": {"metric": ("_L", 1e-3, "L"), "us": ("_US_gal", US_GALLON, "US gal")},
    "share": {"metric": ("_percent", 1e-2, "%"), "us": ("_percent", 1e-2, "%")},
    "plain": {"metric": ("", 1.0, ""), "us": ("", 1.0, "")},
}
# Column and kind of each variable of the season. Volumes are for the whole bed.
_DAILY: Final = {
    "rain": ("rain", "depth"),
    "rain_in": ("rain_into_bed", "volume"),
    "refill": ("refill", "volume"),
    "overflow": ("overflow", "volume"),
    "rim_spill": ("spill_over_rim", "volume"),
    "et0": ("reference_evapotranspiration", "depth"),
    "transpiration_potential": ("transpiration_wanted", "depth"),
    "transpiration": ("transpiration", "depth"),
    "evaporation": ("evaporation", "depth"),
    "rise": ("rise_from_reservoir", "depth"),
    "open_water": ("reservoir_water", "volume"),
    "store_share": ("reservoir_filled", "share"),
    "level": ("water_level", "height"),
    "lip_height": ("overflow_lip", "height"),
    "mix_water": ("water_in_mix", "depth"),
    "standing_water": ("water_standing_on_mix", "depth"),
    "air_root_zone": ("air_root_zone", "share"),
    "air_top": ("air_top_15_cm", "share"),
    "aerated_depth": ("depth_with_air", "height"),
    "uptake_factor": ("need_met", "share"),
    "surface_suction": ("surface_suction", "height"),
    "root_depth": ("root_depth", "height"),
    "cover": ("ground_covered", "share"),
    "kcb": ("basal_crop_coefficient", "plain"),
    "evaporation_potential": ("evaporation_asked", "depth"),
}

Values = tuple[float, ...]


def daily(season: xr.Dataset, name: str, units: System) -> NDArray[np.float64]:
    """A variable of every day in the reader's unit, of the whole bed where it is a volume."""
    kind = _DAILY[name][1]
    size = _UNITS[kind][units][1] / (float(season["plan_area"]) if kind == "volume" else 1.0)
    return np.asarray(season[name].to_numpy() / size)


def unit_of(name: str, units: System) -> str:
    """The reader's word for the unit of a variable."""
    return _UNITS[_DAILY[name][1]][units][2]


def table_of_days(season: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a day, units in the names of the columns, volumes for the whole bed."""
    import pandas as pd

    columns: dict[str, Any] = {"date": season["time"].to_numpy()}
    for name, (label, kind) in _DAILY.items():
        columns[label + _UNITS[kind][units][0]] = daily(season, name, units)
    last, values = columns.popitem()  # so that the columns before it stay where they were
    columns["days_to_refill"] = days_to_refill(season).to_numpy()
    columns["wet_day"] = wet_days(season).astype(int)
    cause = limited_days(season)
    columns["dry_day"] = np.select([cause.empty, cause.wick], ["reservoir empty", "wick"], "")
    return pd.DataFrame({**columns, last: values})


@dataclass(frozen=True, kw_only=True)
class Days:
    """Days of a run: volumes of the whole bed, heights above the floor, depths, air in %."""

    dates: tuple[str, ...]
    whole: bool  # every day of the run is here
    rain: Values
    refill: Values
    level: Values
    lip: Values
    has_lip: bool
    air_roots: tuple[float | None, ...]  # None where nothing is rooted
    taken: Values
    dried: Values
    wanted: tuple[float | None, ...]  # None where the plants got it
    filled: tuple[bool, ...]
    wet: tuple[bool, ...]
    dry: tuple[bool, ...]
    lowest_roots: tuple[float | None, ...]
    faces: Values  # between the cells of the mix, from the floor up
    air: tuple[tuple[int, ...], ...]  # class of air of each cell and day, the lowest cell first
    months: tuple[tuple[str, Values], ...]  # mean air in each third of the mix above the reservoir

    @property
    def fills(self) -> list[tuple[str, float]]:
        """Dates and volumes of the fills."""
        rows = zip(self.dates, self.refill, self.filled, strict=True)
        return [(day, volume) for day, volume, filled in rows if filled]

    @property
    def air_wet(self) -> list[float | None]:
        """Air among the roots on wet days."""
        return [a if wet else None for a, wet in zip(self.air_roots, self.wet, strict=True)]

    @property
    def used(self) -> list[float]:
        """What plants and surface took together."""
        return [a + b for a, b in zip(self.taken, self.dried, strict=True)]


def days_of(season: xr.Dataset, bed: Bed, units: System) -> Days:
    """Days of a run as :func:`bedtide.run_season` gives it."""
    whole = season.sizes["time"] <= MOST
    season = season if whole else season.isel(time=slice(-365, None))
    times = season["time"].to_numpy().astype("datetime64[D]")
    rooted = season["root_depth"].to_numpy() > 0
    height, surface = _UNITS["height"][units][1], float(season["surface_height"])
    wanted, taken = (season[n].to_numpy() for n in ("transpiration_potential", "transpiration"))
    faces, air = _air(season, bed)
    limited = limited_days(season)

    def told(values: Any, where: Any = True) -> Any:
        known = np.broadcast_to(where, np.shape(values))
        figures = np.round(values, 2).tolist()
        return tuple(v if there else None for v, there in zip(figures, known, strict=True))

    def day(name: str) -> NDArray[np.float64]:
        return daily(season, name, units)

    return Days(
        dates=tuple(map(str, times)),
        whole=whole,
        rain=told(day("rain_in")),
        refill=told(day("refill")),
        level=told(np.maximum(day("level"), 0.0)),
        lip=told(day("lip_height")),
        has_lip=has_lip(season),
        air_roots=told(day("air_root_zone"), rooted),
        taken=told(day("transpiration")),
        dried=told(day("evaporation")),
        wanted=told(day("transpiration_potential"), wanted > taken * 1.001),
        filled=tuple((season["refill"].to_numpy() > 0).tolist()),
        wet=tuple(wet_days(season).tolist()),
        dry=tuple((limited.empty | limited.wick).tolist()),
        lowest_roots=told(np.maximum(surface / height - day("root_depth"), 0.0), rooted),
        faces=told(faces / height),
        air=tuple(map(tuple, np.digitize(air, _CLASSES).tolist())),
        months=_months(times, air, faces, float(season["crown_height"])),
    )


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
) -> tuple[tuple[str, Values], ...]:
    """Mean air in the top, middle and bottom third of the mix above the reservoir [%]."""
    edges = np.linspace(crown, faces[-1], 4)
    low = np.maximum(faces[:-1, None], edges[:-1])
    high = np.minimum(faces[1:, None], edges[1:])
    share = np.maximum(high - low, 0.0)
    thirds = 100.0 * (share / share.sum(axis=0)).T @ air
    month = times.astype("datetime64[M]")
    return tuple(
        (str(each), tuple(thirds[::-1, month == each].mean(axis=1).round(1).tolist()))
        for each in np.unique(month)
    )
