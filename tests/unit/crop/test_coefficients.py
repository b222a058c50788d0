"""Coefficients of FAO-56 by hand: adjustment to the climate, upper limit, leaf cover."""

import pytest

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
