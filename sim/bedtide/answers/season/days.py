"""The days of a season as its page draws them, in the reader's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.readings import limited_days, wet_days
from bedtide.units import INCH, US_GALLON

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

_MOST = 800  # days; of more the last 365 are drawn
_CLASSES = (0.1, 0.2, 0.3, 0.4)  # air shares that part the colours [1]

Values = tuple[float, ...]


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
    whole = season.sizes["time"] <= _MOST
    season = season if whole else season.isel(time=slice(-365, None))
    us = units == "us"
    height, depth, volume = (INCH, INCH, US_GALLON) if us else (0.01, 1e-3, 1e-3)
    area = float(season["plan_area"])
    times = season["time"].to_numpy().astype("datetime64[D]")
    roots = season["root_depth"].to_numpy()
    surface = float(season["surface_height"])
    wanted, taken = (season[n].to_numpy() for n in ("transpiration_potential", "transpiration"))
    lip = season["lip_height"].to_numpy()
    faces, air = _air(season, bed)
    limited = limited_days(season)

    def told(values: Any, size: float, where: Any = True) -> Any:
        known = np.broadcast_to(where, np.shape(values))
        figures = np.round(np.asarray(values) / size, 2).tolist()
        return tuple(v if there else None for v, there in zip(figures, known, strict=True))

    return Days(
        dates=tuple(map(str, times)),
        whole=whole,
        rain=told(season["rain_in"], volume / area),
        refill=told(season["refill"], volume / area),
        level=told(np.maximum(season["level"], 0.0), height),
        lip=told(lip, height),
        has_lip=bool((lip < surface - 1e-9).any()),
        air_roots=told(season["air_root_zone"], 0.01, roots > 0),
        taken=told(taken, depth),
        dried=told(season["evaporation"], depth),
        wanted=told(wanted, depth, wanted > taken * 1.001),
        filled=tuple((season["refill"].to_numpy() > 0).tolist()),
        wet=tuple(wet_days(season).tolist()),
        dry=tuple((limited.empty | limited.wick).tolist()),
        lowest_roots=told(np.maximum(surface - roots, 0.0), height, roots > 0),
        faces=told(faces, height),
        air=tuple(map(tuple, np.digitize(air, _CLASSES).tolist())),
        months=_months(times, air, faces, float(season["crown_height"])),
    )


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
