"""Dry days by cause, counted by hand."""

import numpy as np
import pytest

from bedtide.readings import dryness, limited_days
from helpers.seasons import by_hand, drought_by_hand


def test_dryness_counted_by_hand():
    found = dryness(drought_by_hand())
    assert int(found["demand_days"]) == 6
    assert int(found["limited_days"]) == 3
    assert int(found["empty_days"]) == 2  # 3 and 4 August
    assert int(found["wick_days"]) == 1  # 5 August, the reservoir just filled
    assert int(found["longest_dry_spell"]) == 3
    assert float(found["transpiration_ratio"]) == pytest.approx(28.9 / 34)


def test_dead_storage_is_not_water_at_hand():
    season = drought_by_hand()
    season["dead_storage"] = 0.0  # now the 2 mm that are left are within reach
    found = dryness(season)
    assert (int(found["empty_days"]), int(found["wick_days"])) == (0, 3)


@pytest.mark.parametrize(("left", "empty"), [(2.4, True), (2.6, False)])
def test_half_a_millimetre_is_empty(left, empty):
    season = drought_by_hand()
    season["open_water"][2] = left / 1000
    by_cause = limited_days(season)
    assert bool(by_cause.empty[2]) is empty
    assert bool(by_cause.wick[2]) is not empty


def test_nine_tenths_is_enough():
    season = drought_by_hand()
    season["uptake_factor"][2] = 0.9
    assert int(dryness(season)["limited_days"]) == 2


def test_a_bed_without_plants_is_never_dry():
    season = by_hand()
    for name in ("transpiration_potential", "transpiration"):
        season[name] = season[name] * 0
    season["uptake_factor"] = season["uptake_factor"] * 0
    found = dryness(season)
    assert int(found["demand_days"]) == int(found["limited_days"]) == 0
    assert np.isnan(float(found["transpiration_ratio"]))
