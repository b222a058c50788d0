"""Stone that nothing wicks from: what stands in the mix above it is in reach, and told so."""

import numpy as np
import pytest

from bedtide import run_season
from bedtide.answers.season.summary import summary_of
from bedtide.readings import limited_days
from bedtide.report.templates import render
from helpers.beds import LAYER, bed_with
from helpers.plain_weather import plain_weather
from helpers.seasons import drought_by_hand

STONE = {"form": "stone", **LAYER, "wick_share": "0 %", "void_share": "40 %"}


def season_of(**overflow):
    """A dry year on 15 cm of stone, with 60 mm of rain on one day in July."""
    weather = plain_weather("2023-01-01", 300, rain_mm={"2023-07-01": 60.0})
    changes = {"reservoir": STONE, "box.depth": "55 cm", "overflow": overflow}
    return run_season(bed_with(changes | {"watering": {"when": "never"}}), weather)


def told(season) -> str:
    return render("answers/season/text.j2", s=summary_of(season))


def test_water_in_the_mix_above_the_stone_is_in_reach():
    """By hand: dead storage and no more on every day, but on two of them a level in the mix."""
    season = drought_by_hand()
    season["open_water"][:] = season["dead_storage"]
    season["level"][:] = 0.12  # just the crown
    season["level"][2:4] = [0.13, 0.1206]
    cause = limited_days(season)
    np.testing.assert_array_equal(cause.wick, [0, 0, 1, 1, 0, 0, 0])
    np.testing.assert_array_equal(cause.empty, [0, 0, 0, 0, 1, 0, 0])


def test_a_lip_above_the_stone_is_told_with_the_mix_that_it_soaks():
    text = " ".join(told(season_of(height="18 cm")).split())
    assert "only what stands in the mix above it, up to the overflow." in text
    assert "the lowest 3 cm of the mix can stand in water, which it does reach." in text
    level = " ".join(told(season_of(height="15 cm")).split())
    assert "can stand in water" not in level
    assert "the mix can't reach the water in the reservoir." in level


@pytest.mark.parametrize(
    ("overflow", "advice"),
    [
        ({"height": "9 cm"}, "A lower overflow, an airier mix"),
        ({"height": "9 cm", "state": "blocked"}, "Clearing the overflow, an airier mix"),
        ({"state": "none"}, "Fitting an overflow, an airier mix"),
    ],
)
def test_a_wet_bed_is_told_what_its_overflow_needs(overflow, advice):
    changes = {"overflow": overflow, "mix.top.medium": "topsoil clay loam", "box.depth": "30 cm"}
    rain = {f"2023-06-{day:02}": 40.0 for day in range(1, 29)}
    season = run_season(bed_with(changes), plain_weather("2023-04-01", 120, rain_mm=rain))
    text = " ".join(told(season).split())
    assert "Grade: too wet to breathe" in text
    assert advice in text
