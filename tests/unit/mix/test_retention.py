"""Water retention: limits, inverse, and the container integral against other ways to get it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import hyp2f1

from bedtide.mix import Mix, mean_water_content, media, medium, suction_at, water_content


def make_mix(n=1.6, alpha=10.0, theta_r=0.1, theta_s=0.8):
    return Mix("test mix", theta_r, theta_s, alpha, n, 5.0, 0.5, 120.0, 1.0, 25.0, 0.0, 1.0)


@pytest.mark.parametrize("suction", [0.0, -0.3, -1e9])
def test_mix_is_saturated_at_and_below_the_water_level(suction):
    assert water_content(suction, make_mix()) == pytest.approx(0.8, abs=1e-15)


@pytest.mark.parametrize("name", media())
def test_no_suction_warns_or_gives_nan(name):
    mix = medium(name)
    suction = np.array([-1.0, 0.0, 5e-324, 1e-300, 1e-12, 1e-3, 1.0, 1e5, 1e30])
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        held = water_content(suction, mix)
    assert np.isfinite(held).all()
    assert (np.diff(held) <= 0).all()
    assert mix.theta_r <= held[-1] < mix.theta_r + 1e-3


def test_shape_is_kept_and_a_scalar_gives_the_same():
    suction = np.array([[0.0, 0.1], [0.5, 3.0]])
    held = water_content(suction, make_mix())
    assert held.shape == (2, 2)
    assert float(water_content(0.5, make_mix())) == held[1, 0]


@pytest.mark.parametrize("name", media())
def test_suction_at_undoes_water_content(name):
    mix = medium(name)
    suction = np.geomspace(1e-2, 1e3, 40)
    assert suction_at(water_content(suction, mix), mix) == pytest.approx(suction, rel=1e-6, abs=0.0)


def test_suction_near_saturation_keeps_its_digits():
    mix = make_mix(n=1.6, alpha=10.0, theta_r=0.0, theta_s=1.0)
    held = 1.0 - 1e-12
    # For small x, S = 1 - m x, so x is what is missing over m.
    expected = ((1.0 - held) / 0.375) ** (1 / 1.6) / 10.0
    assert suction_at(held, mix) == pytest.approx(expected, rel=1e-9, abs=0.0)


def test_suction_at_is_bounded_at_both_ends():
    mix = make_mix()
    assert suction_at([0.9, 0.8], mix) == pytest.approx([0.0, 0.0], abs=1e-300)
    assert suction_at([0.1, 0.0], mix) == pytest.approx([1e5, 1e5], rel=1e-9, abs=0.0)


@pytest.mark.parametrize("name", media())
@pytest.mark.parametrize("height", [0.01, 0.076, 0.3, 0.6, 2.0])
def test_container_mean_is_the_adaptive_quadrature(name, height):
    mix = medium(name)
    integral, _ = quad(
        lambda s: float(water_content(s, mix)), 0.0, height, epsabs=1e-13, epsrel=1e-13, limit=200
    )
    assert mean_water_content(height, mix) == pytest.approx(integral / height, abs=1e-10)


@pytest.mark.parametrize("n", [1.05, 1.31, 2.0, 5.0])
def test_container_mean_is_the_hypergeometric_closed_form(n):
    mix, height = make_mix(n=n), 0.42
    m = 1.0 - 1.0 / n
    share = hyp2f1(m, 1.0 / n, 1.0 + 1.0 / n, -((10.0 * height) ** n))
    assert mean_water_content(height, mix) == pytest.approx(0.1 + 0.7 * share, abs=1e-8)


def test_container_mean_for_n_of_two_is_an_inverse_hyperbolic_sine():
    expected = 0.1 + 0.7 * np.arcsinh(10.0 * 0.3) / (10.0 * 0.3)
    assert mean_water_content(0.3, make_mix(n=2.0)) == pytest.approx(expected, abs=1e-12)


def test_container_without_height_is_saturated_and_heights_broadcast():
    means = mean_water_content([[0.0, 0.1], [0.2, 0.4]], make_mix())
    assert means.shape == (2, 2)
    assert means[0, 0] == pytest.approx(0.8, abs=1e-9)


@given(
    low=st.floats(0.01, 1.0),
    taller=st.floats(0.01, 1.0),
    n=st.floats(1.05, 4.0),
    alpha=st.floats(1.0, 100.0),
)
def test_a_taller_container_holds_less_water_on_average(low, taller, n, alpha):
    mix = make_mix(n=n, alpha=alpha)
    short, tall = mean_water_content([low, low + taller], mix)
    assert tall <= short
    assert tall >= water_content(low + taller, mix) - 1e-12
