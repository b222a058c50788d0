"""Figures of an answer from a Dataset, and the columns and classes that tables and pages share."""

import numpy as np
import pytest
import xarray as xr

from bedtide.report.results import air_classes, amounts, rests_of


def test_air_is_told_in_classes_of_a_tenth_up_to_four():
    air = np.array([0.05, 0.099, 0.101, 0.25, 0.35, 0.45, 0.9])
    assert np.asarray(air_classes(air)).tolist() == [0, 0, 1, 2, 3, 4, 4]


def test_amounts_are_in_the_readers_unit():
    """By hand: 3 mm on 2 m2 are 6 L, 1.585 US gal, 0.118 inches."""
    found = xr.Dataset(
        {"refill": 0.003, "rain": 0.003, "plan_area": 2.0, "uptake_factor": 0.7},
    )
    assert float(amounts(found, "refill", "metric")) == pytest.approx(6.0)
    assert float(amounts(found, "refill", "us")) == pytest.approx(1.585, abs=5e-4)
    assert float(amounts(found, "rain", "us")) == pytest.approx(0.1181, abs=5e-5)


def test_a_balance_error_is_told_in_millimetres():
    attrs = dict.fromkeys(("bedtide_version", "weather_place", "weather_source"), "x")
    found = xr.Dataset(attrs=attrs | {"balance_error": 2e-9, "assumptions": ["Wind."]})
    assert rests_of(found)["balance_error_mm"] == pytest.approx(2e-6)
    assert rests_of(found)["assumptions"] == ("Wind.",)
