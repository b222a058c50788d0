"""Wet days and spells, counted by hand."""

import numpy as np
import pytest

from bedtide import read_weather, run_season, sample_weather
from bedtide.balance.season import air_depth_needed
from bedtide.readings import wet_days, wetness
from helpers.beds import bed_with
from helpers.seasons import by_hand


def test_wetness_counted_by_hand():
    found = wetness(by_hand())
    # 9 % on 28 June, then 8 and 5 % on 2 and 3 July; 10 % on 29 June is not under 10 %
    assert int(found["wet_days"]) == 3
    assert int(found["wet_spells"]) == 2
    assert int(found["longest_wet_spell"]) == 2
    assert found["wet_spell_start"].values == np.datetime64("2023-07-02")
    assert int(found["wet_days_top"]) == 1
    # wet above 15 cm: 5 cm on 2 July, 10 cm on 3 July
    assert float(found["excess_water"]) == pytest.approx(0.15)


def test_a_mean_does_not_hide_roots_that_stand_in_the_wet():
    """On 4 July the mean is 20 % again, but only the upper 14.9 of 15 cm have air."""
    season = by_hand()
    season["aerated_depth"][9] = 0.149
    found = wetness(season)
    assert int(found["wet_days"]) == 4
    assert int(found["longest_wet_spell"]) == 3
    assert int(found["shallow_air_days"]) == 1
    # under 13 %: 9 and 10 % on 28 and 29 June, 8 and 5 % on 2 and 3 July
    assert int(found["low_air_days"]) == 4
    assert float(found["air_lowest"]) == 0.05
    assert float(found["aerated_depth_lowest"]) == 0.05
    season["aerated_depth"][9] = 0.150  # just what is needed
    assert int(wetness(season)["wet_days"]) == 3


def test_another_limit_and_depth():
    found = wetness(by_hand(), air_limit=0.21, excess_depth=0.30)
    assert int(found["wet_days"]) == 12
    assert int(found["longest_wet_spell"]) == 12
    # 5 cm on nine days, 10, 20 and 25 cm on the others
    assert float(found["excess_water"]) == pytest.approx(1.00)


def test_a_bed_without_roots_is_never_wet():
    season = by_hand()
    season["root_depth"] = season["root_depth"] * 0
    found = wetness(season)
    assert int(found["rooted_days"]) == 0
    assert int(found["wet_days"]) == 0
    assert np.isnat(found["wet_spell_start"].values)
    assert np.isnan(found["air_lowest"])
    assert np.isnan(found["aerated_depth_lowest"])
    assert int(found["wet_days_top"]) == 1


def test_air_that_is_missing_counts_for_nothing():
    season = by_hand()
    for name in ("air_root_zone", "aerated_depth"):
        season[name][7] = np.nan
    assert wet_days(season).sum() == 2


def test_a_spell_that_lasts_to_the_end():
    season = by_hand()
    season["air_root_zone"][-4:] = 0.01
    found = wetness(season)
    assert int(found["longest_wet_spell"]) == 5
    assert found["wet_spell_start"].values == np.datetime64("2023-07-02")


def test_a_spell_from_the_first_day_on():
    season = by_hand()
    season["air_root_zone"][:4] = 0.01
    found = wetness(season)
    assert int(found["longest_wet_spell"]) == 4
    assert found["wet_spell_start"].values == np.datetime64("2023-06-25")


def test_days_with_the_lower_half_of_the_roots_in_the_wet_are_counted_cell_by_cell():
    """A box of 32 cm of fine peat whose roots have 10 % air in the mean on most days.

    Tomatoes root 20 cm deep in it, down to the lip, and need 15 cm with air: counted here from the
    water content of the cells. Where between two cells the wet begins is not looked into: the depth
    is short for sure where a cell within 15 cm is wet.
    """
    mix = {"medium": "peat fine"}
    bed = bed_with({"mix": {"wick": mix, "top": mix}, "box.depth": "32 cm"})
    weather = read_weather(sample_weather(), start="2014-01-01", end="2015-12-31")
    season = run_season(bed, weather)
    depths = 0.29 - season["height"].to_numpy()
    rooted = by_mean = wet = 0
    for day in range(season.sizes["time"]):
        if season["root_depth"].to_numpy()[day] == 0.0:
            continue
        air = bed.top_mix.theta_s - season["water_content"].to_numpy()[day]
        little = season["air_root_zone"].to_numpy()[day] < 0.10
        rooted += 1
        by_mean += little
        wet += little or any(a < 0.10 for a, z in zip(air, depths, strict=True) if z < 0.15)
    found = wetness(season)
    assert 0 < by_mean < 0.2 * rooted
    assert wet == rooted
    assert int(found["wet_days"]) == wet
    assert int(found["shallow_air_days"]) == wet - by_mean


@pytest.mark.parametrize(
    ("roots", "reach", "needed"),
    [
        (0.0, 0.36, 0.0),  # nothing grows
        (0.10, 0.36, 0.10),  # all of very shallow roots
        (0.30, 0.36, 0.15),
        (0.70, 0.36, 0.18),  # half of what they reach
        (0.70, 0.60, 0.30),
        (0.70, 0.05, 0.15),  # a shallow bed is no excuse
    ],
)
def test_depth_that_needs_air_by_hand(roots, reach, needed):
    assert air_depth_needed(roots, reach) == pytest.approx(needed)
