"""The highest column that a mix feeds: closed forms, quadrature, growers' order."""

from dataclasses import replace
from itertools import pairwise
from math import log, pi, sin
from unittest.mock import patch

import numpy as np
import pytest
from scipy.integrate import quad

from bedtide.mix import lift_height, media, medium, supply_conductivity


def with_conductivity(law):
    return patch("bedtide.mix.hydraulics.supply_conductivity", lambda s, _: law(np.asarray(s)))


def test_through_an_exponential_conductivity():
    # q = K / (exp(a z) - 1) to a dry surface: z = ln(1 + K / q) / a; Gardner 1958, from memory
    with with_conductivity(lambda s: 0.5 * np.exp(-8.0 * s) + 1e-30):
        assert lift_height(0.003, medium("peat")) == pytest.approx(
            log(1 + 0.5 / 0.003) / 8.0, abs=1e-4
        )


@pytest.mark.parametrize("power", [2.0, 3.0, 4.0])
def test_through_a_power_of_suction(power):
    # K = a / s^N: q = a [pi / (N sin(pi / N))]^N / z^N; Gardner 1958, from memory
    with with_conductivity(lambda s: 2e-4 / s**power):
        exact = (2e-4 / 0.003) ** (1 / power) * pi / (power * sin(pi / power))
        assert lift_height(0.003, medium("peat")) == pytest.approx(exact, rel=1e-3)


@pytest.mark.parametrize("name", media())
def test_is_the_integral_over_suction(name):
    mix = medium(name)

    def slope(u):
        return np.exp(u) / (1.0 + 0.003 / float(supply_conductivity(np.exp(u), mix)))

    marks = np.log([1e-7, 1e-3, 0.03, 0.3, 1.0, 10.0, 13_796.0 * np.log(2.0)])
    exact = sum(quad(slope, a, b, limit=200)[0] for a, b in pairwise(marks))
    assert lift_height(0.003, mix) == pytest.approx(exact, abs=1e-3)


def test_less_is_lifted_higher_and_a_wetted_mix_lifts_less():
    mix = medium("potting mix")
    heights = lift_height([0.001, 0.003, 0.005], mix)
    assert heights.shape == (3,)
    assert (np.diff(heights) < 0).all()
    assert np.ndim(lift_height(0.003, mix)) == 0
    # conductivity at w times the suction: w times less high, but for vapour
    halved = lift_height(0.003, replace(mix, wetting=2.0))
    assert halved == pytest.approx(0.5 * lift_height(0.003, replace(mix, wetting=1.0)), rel=0.03)


def test_the_order_that_growers_know():
    # scoria and coarse bark lift next to nothing (tubes in water, 2019, read: scoria of 15 mm
    # almost none in two weeks); washed sand was damp to 0.365 m (the same), without a flux; peat
    # and coir wick over 30 cm (common practice, no source)
    lift = {name: float(lift_height(0.003, medium(name))) for name in media()}
    assert lift["scoria"] < 0.10
    assert lift["pine bark coarse"] < 0.20
    assert lift["sand"] < 0.365
    assert lift["pine bark coarse"] < lift["pine bark fine"] < lift["potting mix"] < lift["coir"]
    assert min(lift["peat"], lift["coir"], lift["coir coarse"], lift["potting mix"]) > 0.30
