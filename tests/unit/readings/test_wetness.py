"""Wet days and spells, counted by hand."""

import numpy as np
import pytest

from bedtide.readings import wet_days, wetness
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
    assert int(found["wet_days_top"]) == 1


def test_air_that_is_missing_counts_for_nothing():
    season = by_hand()
    season["air_root_zone"][7] = np.nan
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
