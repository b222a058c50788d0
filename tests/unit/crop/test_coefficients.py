"""What plants and a wet surface ask for by hand: coefficients of FAO-56, and when uptake falls."""

import numpy as np
import pytest

from bedtide.crop import dry_start, evaporation_coefficient, mulch_factor
from bedtide.crop.coefficients import adjusted_coefficient, cover_fraction, upper_coefficient


@pytest.mark.parametrize(
    ("wind", "humidity", "height", "expected"),
    [
        (2.0, 45.0, 0.6, 1.0),  # the standard climate
        (6.0, 20.0, 10.0, 1.37311),  # (0.16 + 0.10) (10/3)^0.3
        (9.0, 5.0, 12.0, 1.37311),  # beyond the range, as at its end
        (1.0, 80.0, 0.1, 0.93512),  # -(0.04 + 0.14) (1/30)^0.3
        (0.0, 95.0, 0.01, 0.93512),
    ],
)
def test_adjustment_to_the_climate(wind, humidity, height, expected):
    found = adjusted_coefficient(1.0, wind_speed=wind, rh_min=humidity, height=height)
    assert found == pytest.approx(expected, abs=5e-6)


def test_low_coefficients_are_not_adjusted():
    windy = {"wind_speed": 6.0, "rh_min": 20.0, "height": 3.0}
    assert adjusted_coefficient([0.44, 0.45], **windy) == pytest.approx([0.44, 0.71])


@pytest.mark.parametrize(
    ("height", "expected"),
    [(0.0, 1.2), (0.3, 1.28019), (3.0, 1.36), (10.0, 1.42961), (15.0, 1.42961)],
)
def test_upper_limit_grows_with_height_where_it_is_windy_and_dry(height, expected):
    found = upper_coefficient(0.5, wind_speed=4.0, rh_min=25.0, height=height)
    assert found == pytest.approx(expected, abs=5e-6)  # 1.2 + 0.16 (h/3)^0.3
    outside = upper_coefficient(0.5, wind_speed=20.0, rh_min=5.0, height=height)
    assert outside == upper_coefficient(0.5, wind_speed=6.0, rh_min=20.0, height=height)


@pytest.mark.parametrize(
    ("kcb", "kc_max", "height", "expected"),
    [
        (1.15, 1.25, 0.6, 0.88347),  # (1.0 / 1.1)^1.3
        (0.50, 0.85, 0.0, 0.5),  # 0.35 / 0.70
        (0.0, 1.2, 0.0, 0.00952),  # 0.01 / 1.05: just come up
        (1.30, 1.2, 1.0, 0.99),  # never all of the ground
    ],
)
def test_cover(kcb, kc_max, height, expected):
    assert cover_fraction(kcb, kc_max=kc_max, height=height) == pytest.approx(expected, abs=5e-6)


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


@pytest.mark.parametrize(
    ("demand", "h3"),
    [(0.0, 15.0), (0.001, 15.0), (0.002, 13.25), (0.003, 11.5), (0.005, 8.0), (0.012, 8.0)],
)
def test_uptake_starts_to_fall_sooner_the_more_is_asked_for(demand, h3):
    assert dry_start(demand, h3_high=8.0, h3_low=15.0) == pytest.approx(h3)


def test_the_start_is_each_plants_own():
    demand = np.array([[0.001, 0.001], [0.003, 0.005]])
    found = dry_start(demand, h3_high=[8.0, 4.0], h3_low=[15.0, 6.0])
    assert found == pytest.approx(np.array([[15.0, 6.0], [11.5, 4.0]]))
