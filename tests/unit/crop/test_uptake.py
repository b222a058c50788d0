"""Where uptake starts to fall as the mix dries."""

import numpy as np
import pytest

from bedtide.crop import dry_start


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


def test_the_more_is_asked_for_the_sooner_it_falls():
    demand = np.linspace(0.0, 0.01, 21)
    start = dry_start(demand, h3_high=8.0, h3_low=15.0)
    assert (np.diff(start) <= 0).all()
    assert start.min() == pytest.approx(8.0)
    assert start.max() == pytest.approx(15.0)
