"""Surface evaporation: limits, and a drying surface against its closed form."""

import numpy as np
import pytest

from bedtide.crop import (
    evaporation_coefficient,
    evaporation_reduction,
    mulch_factor,
    total_evaporable_water,
    upper_coefficient,
)


def test_reduction_is_one_up_to_rew_and_zero_at_tew():
    depletion = np.array([-0.001, 0.0, 0.009, 0.0145, 0.020, 0.030])
    found = evaporation_reduction(depletion, 0.020, 0.009)
    assert found == pytest.approx([1.0, 1.0, 1.0, 0.5, 0.0, 0.0])


def test_reduction_without_a_falling_stage_is_a_step():
    assert evaporation_reduction([0.009, 0.011], 0.010, 0.010) == pytest.approx([1.0, 0.0])


def test_evaporation_is_limited_by_energy_or_by_the_open_surface():
    assert evaporation_coefficient(1.0, 0.15, 1.2, 1.0) == pytest.approx(1.05)
    assert evaporation_coefficient(1.0, 0.15, 1.2, 0.3) == pytest.approx(0.36)
    assert evaporation_coefficient(0.5, 0.15, 1.2, 1.0) == pytest.approx(0.525)
    assert evaporation_coefficient(1.0, 1.3, 1.2, 1.0) == 0.0


def test_total_evaporable_water_by_hand():
    assert total_evaporable_water(0.60, 0.20, 0.10) == pytest.approx(0.050)


def test_full_mulch_halves_evaporation():
    assert mulch_factor([0.0, 0.1, 1.0]) == pytest.approx([1.0, 0.95, 0.5])


def test_drying_surface_decays_geometrically_past_rew():
    # With D the depletion, each day takes a (TEW - D) / (TEW - REW), a = 4.725 mm: so TEW - D
    # shrinks by the same factor every day.
    total, ready, rate = 0.020, 0.009, 1.05 * 0.0045
    depletion, left = 0.010, []
    for _ in range(8):
        kr = evaporation_reduction(depletion, total, ready)
        depletion += float(evaporation_coefficient(kr, 0.15, 1.20, 1.0)) * 0.0045
        left.append(total - depletion)
    assert left == pytest.approx([0.010 * (1 - rate / 0.011) ** n for n in range(1, 9)])


def test_upper_coefficient_of_bare_ground_does_not_follow_the_weather():
    found = upper_coefficient(0.0, wind_speed=[1.0, 6.0], rh_min=[80.0, 20.0], height=0.0)
    assert found == pytest.approx([1.2, 1.2])


def test_upper_coefficient_is_never_below_that_of_the_plants():
    assert upper_coefficient(1.3, wind_speed=2.0, rh_min=45.0, height=1.0) == pytest.approx(1.35)


def test_weather_outside_the_tested_range_counts_as_its_end():
    inside = upper_coefficient(0.5, wind_speed=6.0, rh_min=20.0, height=2.0)
    assert upper_coefficient(0.5, wind_speed=20.0, rh_min=5.0, height=2.0) == inside
