"""Conductivity: the Mualem integral by quadrature, many digits, limits."""

from decimal import Decimal, getcontext

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from bedtide.mix import Mix, media, medium
from bedtide.mix.hydraulics import conductivity


def make_mix(n=1.6, exponent=0.5, alpha=10.0):
    low, high = min(exponent, 0.0), max(exponent, 1.0)
    return Mix("test mix", 0.1, 0.8, alpha, n, 5.0, exponent, 120.0, 1.0, 25.0, low, high)


def mualem_by_quadrature(suction, mix):
    """K_s S^l [int_0^S dS/h / int_0^1 dS/h]^2, straight from Mualem (1976)."""
    m = 1.0 - 1.0 / mix.n
    upper = (1.0 + (mix.alpha * suction) ** mix.n) ** -m

    def smooth(share):
        # (1 - S)^(1/n) / h(S), the singular end taken out for quad's weight
        if share >= 1.0:
            return mix.alpha * m ** (1.0 / mix.n)
        if share <= 0.0:
            return 0.0
        head = (share ** (-1.0 / m) - 1.0) ** (1.0 / mix.n) / mix.alpha
        return (1.0 - share) ** (1.0 / mix.n) / head

    part, _ = quad(
        lambda s: smooth(s) * (1.0 - s) ** (-1.0 / mix.n), 0.0, upper, epsrel=1e-11, limit=400
    )
    whole, _ = quad(
        smooth, 0.0, 1.0, weight="alg", wvar=(0.0, -1.0 / mix.n), epsrel=1e-11, limit=400
    )
    return mix.k_s * upper**mix.l * (part / whole) ** 2


@pytest.mark.parametrize("name", media())
@pytest.mark.parametrize("suction", [0.02, 0.1, 0.3, 1.0, 5.0])
def test_conductivity_is_the_mualem_integral(name, suction):
    mix = medium(name)
    assert conductivity(suction, mix) == pytest.approx(
        mualem_by_quadrature(suction, mix), rel=1e-6, abs=0.0
    )


@pytest.mark.parametrize("n", [1.02, 1.31, 2.5, 9.0])
@pytest.mark.parametrize("suction", ["1e-15", "1e-6", "0.001", "0.1", "10", "10000"])
def test_conductivity_has_all_its_digits(n, suction):
    getcontext().prec = 60
    mix = make_mix(n=n)
    power = (Decimal(10) * Decimal(suction)).ln() * Decimal(n)
    x = power.exp()
    m = 1 - 1 / Decimal(n)
    saturation = (-m * (1 + x).ln()).exp()
    pores = 1 - (m * (x / (1 + x)).ln()).exp()
    expected = 5 * saturation.sqrt() * pores**2
    assert float(conductivity(float(suction), mix)) == pytest.approx(
        float(expected), rel=1e-11, abs=0.0
    )


@pytest.mark.parametrize("suction", [0.0, -1.0])
@pytest.mark.parametrize("n", [1.02, 1.6, 9.0])
def test_a_saturated_mix_conducts_at_its_full_rate(suction, n):
    assert conductivity(suction, make_mix(n=n)) == pytest.approx(5.0, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("name", media())
def test_no_suction_warns_or_gives_nan(name):
    suction = np.array([-1.0, 0.0, 5e-324, 1e-300, 1e-12, 1e-3, 1.0, 1e5, 1e20])
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        rate = conductivity(suction, medium(name))
    assert np.isfinite(rate).all()
    assert (rate >= 0).all()


@given(n=st.floats(1.02, 9.0), exponent=st.floats(-2.0, 5.0), alpha=st.floats(1.0, 200.0))
def test_a_drier_mix_never_conducts_better(n, exponent, alpha):
    rate = conductivity(np.geomspace(1e-4, 1e3, 200), make_mix(n, exponent, alpha))
    assert (np.diff(rate) <= 1e-12 * rate[:-1]).all()


def test_a_lower_exponent_conducts_better_when_half_dry():
    suction = np.array([0.05, 0.5])
    lower = conductivity(suction, make_mix(exponent=-1.0))
    assert (lower > conductivity(suction, make_mix(exponent=0.5))).all()
