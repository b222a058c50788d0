"""Flow through an outlet by hand."""

import math

import numpy as np
import pytest

from bedtide.bed import outlet_flow


def per_minute(head: float, bore: float) -> float:
    return float(outlet_flow(head, bore)) * 1000 / 1440


@pytest.mark.parametrize(("bore", "litres"), [(0.013, 3.3), (0.019, 7.1), (0.025, 12.4)])
def test_usual_fittings_under_25_mm_of_water(bore, litres):
    """0.6 times area times the root of 2 g h; worked with a pocket calculator, from memory."""
    assert per_minute(0.025, bore) == pytest.approx(litres, abs=0.05)


def test_flow_goes_with_the_root_of_the_head_and_the_square_of_the_bore():
    assert per_minute(0.4, 0.02) == pytest.approx(2 * per_minute(0.1, 0.02))
    assert per_minute(0.1, 0.04) == pytest.approx(4 * per_minute(0.1, 0.02))
    by_hand = 0.6 * math.pi * 0.01**2 * math.sqrt(2 * 9.80665 * 0.1) * 60_000
    assert per_minute(0.1, 0.02) == pytest.approx(by_hand)


def test_without_water_above_it_nothing_runs():
    np.testing.assert_array_equal(outlet_flow([0.0, -0.1], 0.02), [0.0, 0.0])
