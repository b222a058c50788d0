"""Least squares within bounds, against hand arithmetic and scipy."""

import numpy as np
import pytest
from scipy.optimize import least_squares as by_scipy

from bedtide.squares import least_squares

TIMES = np.linspace(0.0, 4.0, 25)


def straight(values):
    """Lines through (0, 1), (1, 3), (2, 5.3): slope 2.15, height 0.95 fit them best."""
    slope = np.array([[0.0, 1.0], [1.0, 1.0], [2.0, 1.0]])
    return slope @ values - np.array([1.0, 3.0, 5.3]), slope


@pytest.mark.parametrize(
    ("low", "high", "best"),
    [
        ([-9.0, -9.0], [9.0, 9.0], [2.15, 0.95]),
        ([-9.0, -9.0], [2.0, 9.0], [2.0, 1.1]),  # the rest of the mean: 3.1 - 2
        ([-9.0, 1.25], [9.0, 9.0], [1.97, 1.25]),  # (1 x 1.75 + 2 x 4.05) / 5
        ([-9.0, 1.25], [1.5, 9.0], [1.5, 1.6]),  # 3.1 - 1.5
        ([3.0, 2.0], [4.0, 4.0], [3.0, 2.0]),  # a corner
    ],
)
def test_a_line_within_bounds_by_hand(low, high, best):
    found = least_squares(
        straight, np.array([9.0, -9.0]), np.array(low), np.array(high), close=1e-9
    )
    assert found == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_a_bent_curve_as_scipy_has_it(seed):
    random = np.random.default_rng(seed)
    heard = 2.0 * np.exp(-0.7 * TIMES) + 0.3 + random.normal(0.0, 0.05, TIMES.size)

    def off(values):
        fading = np.exp(-values[1] * TIMES)
        slope = np.stack([fading, -values[0] * TIMES * fading, np.ones(TIMES.size)], axis=1)
        return values[0] * fading + values[2] - heard, slope

    low, high = np.array([0.0, 0.1, 0.31 if seed % 2 else 0.0]), np.array([1.9, 3.0, 1.0])
    begin = np.array([1.0, 0.2, 0.5])
    known = by_scipy(
        lambda v: off(v)[0], begin, bounds=(low, high), xtol=1e-12, ftol=1e-12, gtol=1e-12
    )
    found = least_squares(off, begin, low, high, close=1e-10)
    assert found == pytest.approx(known.x, abs=1e-5)
    assert np.sum(off(found)[0] ** 2) <= 2.0 * known.cost + 1e-9
