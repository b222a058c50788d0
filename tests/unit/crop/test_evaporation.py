"""What the weather asks of a wet surface: by energy or by what lies open, less under mulch."""

import numpy as np
import pytest

from bedtide.crop import evaporation_coefficient, mulch_factor
from bedtide.crop.coefficients import upper_coefficient


@pytest.mark.parametrize(
    ("kcb", "exposed", "expected"),
    [
        (0.15, 1.0, 1.05),  # by energy: 1.20 - 0.15
        (0.15, 0.3, 0.36),  # by what lies open: 0.3 x 1.20
        (0.90, 0.3, 0.30),  # by energy again: the plants take the rest
        (1.20, 1.0, 0.0),
        (1.30, 1.0, 0.0),  # never less than none
        (0.15, 0.0, 0.0),
    ],
)
def test_a_wet_surface_loses_by_energy_or_by_what_lies_open(kcb, exposed, expected):
    assert evaporation_coefficient(kcb, 1.2, exposed) == pytest.approx(expected)


def test_arrays_broadcast():
    found = evaporation_coefficient(np.array([[0.15], [0.9]]), 1.2, np.array([0.1, 1.0]))
    assert found == pytest.approx(np.array([[0.12, 1.05], [0.12, 0.30]]))


def test_full_mulch_halves_evaporation():
    assert mulch_factor([-0.5, 0.0, 0.1, 1.0, 1.5]) == pytest.approx([1.0, 1.0, 0.95, 0.5, 0.5])


def test_upper_coefficient_of_bare_ground_does_not_follow_the_weather():
    found = upper_coefficient(0.0, wind_speed=[1.0, 6.0], rh_min=[80.0, 20.0], height=0.0)
    assert found == pytest.approx([1.2, 1.2])


def test_upper_coefficient_is_never_below_that_of_the_plants():
    assert upper_coefficient(1.3, wind_speed=2.0, rh_min=45.0, height=1.0) == pytest.approx(1.35)


def test_weather_outside_the_tested_range_counts_as_its_end():
    inside = upper_coefficient(0.5, wind_speed=6.0, rh_min=20.0, height=2.0)
    assert upper_coefficient(0.5, wind_speed=20.0, rh_min=5.0, height=2.0) == inside
