"""The dry side of uptake."""

import numpy as np
import pytest

from bedtide.crop import crop, dry_factor, dry_start, in_potting_mix

LIMITS = {"h3_high": 8.0, "h3_low": 15.0, "h4": 80.0}


def test_uptake_is_whole_up_to_h3_and_ends_at_h4():
    suction = np.array([-1.0, 0.0, 8.0, 44.0, 80.0, 1e5])
    found = dry_factor(suction, demand=0.005, **LIMITS)
    assert found == pytest.approx([1.0, 1.0, 1.0, 0.5, 0.0, 0.0])


@pytest.mark.parametrize(
    ("demand", "h3"), [(0.0, 15.0), (0.001, 15.0), (0.003, 11.5), (0.005, 8.0), (0.012, 8.0)]
)
def test_h3_lies_between_its_ends_by_demand(demand, h3):
    assert dry_factor(h3, demand=demand, **LIMITS) == pytest.approx(1.0)
    half = (h3 + 80.0) / 2
    assert dry_factor(half, demand=demand, **LIMITS) == pytest.approx(0.5)


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


def test_arrays_broadcast():
    found = dry_factor(np.zeros((3, 1)), demand=np.array([0.001, 0.005]), **LIMITS)
    assert found.shape == (3, 2)


def test_higher_demand_never_takes_a_larger_share():
    demand = np.linspace(0.0, 0.01, 21)
    assert (np.diff(dry_factor(20.0, demand=demand, **LIMITS)) <= 0).all()


def test_cautious_limits_for_a_potting_mix():
    tomato = crop("tomato")
    cautious = in_potting_mix(tomato)
    assert (cautious.h3_high, cautious.h3_low, cautious.h4) == (0.5, 1.0, 80.0)
    assert "potting mix" in cautious.note
    assert cautious.kcb_mid == tomato.kcb_mid
