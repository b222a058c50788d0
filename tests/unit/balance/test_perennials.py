"""A perennial through a whole run: its winter is watered and judged as its summer is."""

import numpy as np
import pytest

from bedtide import run_season, wetness
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

STRAWBERRIES = {
    "planting": [{"crop": "strawberry", "planted": "03-15", "area_share": "100 %"}],
    "mix.top.medium": "peat",
    "box.depth": "25 cm",
    "overflow.state": "blocked",
}


@pytest.fixture(scope="module")
def season():
    """Two years; ten days of rain in a January, long after the stages of the strawberries."""
    rain = {f"2022-01-{day:02d}": 12.0 for day in range(10, 20)}
    weather = plain_weather("2021-01-01", 730, et0_mm=2.0, rain_mm=rain)
    return run_season(bed_with(STRAWBERRIES), weather)


def test_its_roots_are_there_all_year_and_its_winter_counts(season):
    found = wetness(season)
    assert int(found["rooted_days"]) == 730
    january = season.sel(time=slice("2022-01-10", "2022-02-10"))
    wet = (january["air_root_zone"] < 0.10).to_numpy()
    assert wet.sum() >= 10  # 120 mm on mix that can't let it out
    assert int(found["wet_days"]) >= wet.sum()


def test_it_drinks_little_in_winter_and_is_filled_then_too(season):
    taken = season["transpiration"].to_numpy() * 1000
    assert taken[30] == pytest.approx(2.0 * 0.15, abs=0.02)  # 31 January: dormant, Kcb 0.15
    assert taken[180] == pytest.approx(2.0 * 0.80, abs=0.02)  # 30 June: mid-season, Kcb 0.80
    filled = np.flatnonzero(season["refill"].to_numpy() > 0)
    assert any(290 < day < 365 for day in filled)
