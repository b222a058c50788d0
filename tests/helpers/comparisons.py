"""A comparison and rainy spells of small beds in plain weather, run once for all tests of show."""

from __future__ import annotations

from functools import cache

import numpy as np
import xarray as xr

from bedtide.many import (
    LeastDepth,
    Variant,
    Wanted,
    least_depth,
    place_spells,
    varied_beds,
    wet_spells,
)
from bedtide.many.comparison import compare
from helpers.beds import described
from helpers.plain_weather import plain_weather

KEYS = {"mix.top.medium": ["peat fine", "potting mix"], "box.depth": ["30 cm", "45 cm"]}
PLANTED = [{"crop": "tomato", "planted": "04-01", "area_share": "60 %"}]


@cache
def weather(years: int = 2) -> xr.Dataset:
    """Return years of 4 mm a day with a wet fortnight, wetter every year."""
    days = np.arange(14)
    rain = {
        str(np.datetime64(f"{2021 + year}-07-01") + day): 8.0 + 8.0 * year
        for year in range(years)
        for day in days
    }
    return plain_weather("2021-01-01", 365 * years, et0_mm=4.0, rain_mm=rain)


@cache
def variants() -> tuple[Variant, ...]:
    """Return four beds, two keys varied."""
    mapping = described({"planting": PLANTED, "overflow.bore": "19 mm"})
    return tuple(varied_beds(mapping, KEYS))


@cache
def comparison(years: int = 2) -> xr.Dataset:
    """Return the four beds compared."""
    found = variants()
    return compare([v.bed for v in found], weather(years), labels=[v.label for v in found])


@cache
def spells() -> xr.Dataset:
    """Return the four beds in two rainy spells."""
    beds = [variant.bed for variant in variants()]
    placed = place_spells(beds, weather(), [Wanted(3), Wanted(7)])
    return wet_spells(beds, placed, labels=[variant.label for variant in variants()])


@cache
def depths() -> tuple[LeastDepth, ...]:
    """Return the least depths with one mix and with the other."""
    placed = place_spells([variants()[0].bed], weather(), [Wanted(7)])
    beds = {"peat fine": variants()[0].bed, "potting mix": variants()[2].bed}
    return tuple(least_depth(bed, placed, with_=name) for name, bed in beds.items())
