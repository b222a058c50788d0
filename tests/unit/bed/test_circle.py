"""Circle segments: closed forms, limits, shapes, and the inverse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.bed.forms import chord, segment_area, segment_depth

RADIUS = 0.05


def test_half_and_whole_circle():
    assert segment_area(RADIUS, RADIUS) == pytest.approx(np.pi * RADIUS**2 / 2, rel=1e-14)
    assert segment_area(2 * RADIUS, RADIUS) == pytest.approx(np.pi * RADIUS**2, rel=1e-14)
    assert chord(RADIUS, RADIUS) == pytest.approx(2 * RADIUS, rel=1e-14)


def test_third_of_a_turn():
    # Depth of half the radius: angle 120 degrees, area r2 (pi/3 - sqrt(3)/4), width r sqrt(3).
    assert segment_area(RADIUS / 2, RADIUS) == pytest.approx(
        RADIUS**2 * (np.pi / 3 - np.sqrt(3) / 4), rel=1e-14
    )
    assert chord(RADIUS / 2, RADIUS) == pytest.approx(RADIUS * np.sqrt(3), rel=1e-14)


def test_nothing_outside_the_circle():
    assert segment_area([-1.0, 0.0], RADIUS).tolist() == [0.0, 0.0]
    assert segment_area(9.0, RADIUS) == segment_area(2 * RADIUS, RADIUS)
    assert chord([-1.0, 0.0, 9.0], RADIUS).tolist() == [0.0, 0.0, 0.0]
    assert segment_depth(-1.0, RADIUS) == 0.0
    assert segment_depth(9.0, RADIUS) == pytest.approx(2 * RADIUS, rel=1e-14)


def test_shallow_water_keeps_its_digits():
    # Little water in a pipe: area tends to 4/3 sqrt(2 r) y^(3/2).
    y = 1e-7
    assert segment_area(y, RADIUS) == pytest.approx(4 / 3 * np.sqrt(2 * RADIUS) * y**1.5, rel=1e-5)


def test_area_is_the_integral_of_the_width():
    heights = np.linspace(0, 2 * RADIUS, 20_001)
    middle = (heights[1:] + heights[:-1]) / 2
    summed = np.cumsum(chord(middle, RADIUS)) * (heights[1] - heights[0])
    np.testing.assert_allclose(segment_area(heights[1:], RADIUS), summed, atol=2e-9)


@given(st.floats(0, 1), st.floats(1e-3, 1))
def test_depth_and_area_are_inverse(share, radius):
    area = share * np.pi * radius**2
    assert segment_area(segment_depth(area, radius), radius) == pytest.approx(
        area, abs=1e-14 * radius**2
    )


def test_scalar_and_array_agree():
    depths = np.linspace(0, 0.1, 7).reshape(7, 1)
    for function in (chord, segment_area, segment_depth):
        found = function(depths * 0.01, RADIUS)
        assert found.shape == (7, 1)
        one = function(float(depths[3, 0]) * 0.01, RADIUS)
        assert np.ndim(one) == 0
        assert one == found[3, 0]
