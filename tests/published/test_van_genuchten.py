"""van Genuchten (1980), SSSAJ 44: 892-898, and Mualem (1976) where they can be written out by hand.

Equations from memory. Class means of Carsel & Parrish (1988), Water Resour. Res. 24: 755-769.
"""

import csv
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from bedtide.mix import Mix, mean_water_content, medium, water_content
from bedtide.mix.hydraulics import conductivity

VALUES = Path(__file__).parent / "values"
CLASSES = list(csv.DictReader((VALUES / "carsel_parrish_1988.csv").read_text("utf-8").splitlines()))


def make_mix(n, exponent=0.5, alpha=4.0, theta_r=0.1):
    return Mix("test mix", theta_r, 0.5, alpha, n, 2.0, exponent, 1300.0, 1.0, 3.0, -2.0, 3.0)


def share(suction, mix):
    return (water_content(suction, mix) - 0.1) / 0.4


@pytest.mark.parametrize("n", [1.09, 1.56, 2.0, 2.68, 6.0])
@pytest.mark.parametrize("exponent", [-1.0, 0.5, 2.0])
def test_where_alpha_times_suction_is_one(n, exponent):
    # x = 1: S = 2^-m and K = K_s 2^(-m l) (1 - 2^-m)^2
    mix, m = make_mix(n, exponent), 1.0 - 1.0 / n
    assert share(0.25, mix) == pytest.approx(2.0**-m, rel=1e-13, abs=0.0)
    expected = 2.0 * 2.0 ** (-m * exponent) * (1.0 - 2.0**-m) ** 2
    assert conductivity(0.25, mix) == pytest.approx(expected, rel=1e-12, abs=0.0)


def test_n_of_two_at_half_saturation():
    # m = 1/2: alpha s = sqrt(3) gives S = 1/2 and K = K_s sqrt(1/2) (1 - sqrt(3)/2)^2
    mix = make_mix(2.0)
    assert share(sqrt(3.0) / 4.0, mix) == pytest.approx(0.5, rel=1e-14, abs=0.0)
    expected = 2.0 * sqrt(0.5) * (1.0 - sqrt(3.0) / 2.0) ** 2
    assert conductivity(sqrt(3.0) / 4.0, mix) == pytest.approx(expected, rel=1e-12, abs=0.0)


@pytest.mark.parametrize("n", [1.2, 1.56, 2.68])
def test_dry_end_is_the_power_law_of_brooks_and_corey(n):
    # x -> infinity: S -> (alpha s)^-(n-1) and K -> K_s m^2 S^(l + 2 + 2/(n-1)) = K_s m^2 S^(l+2/m)
    mix, m = make_mix(n, theta_r=0.0), 1.0 - 1.0 / n
    s = 1e9
    assert water_content(s, mix) / 0.5 == pytest.approx((4.0 * s) ** -(n - 1.0), rel=1e-6, abs=0.0)
    expected = 2.0 * m**2 * (4.0 * s) ** (-(n - 1.0) * (0.5 + 2.0 / m))
    assert conductivity(s, mix) == pytest.approx(expected, rel=1e-6, abs=0.0)


def test_water_released_by_a_fine_soil_is_small_beside_that_by_a_sand():
    # The reason for potting mixes in the table: at 30 cm of suction topsoil is still nearly full.
    air = {
        name: medium(name).theta_s - water_content(0.3, medium(name))
        for name in ("topsoil silt loam", "topsoil sandy loam", "potting mix")
    }
    assert air["topsoil silt loam"] < 0.05 < 0.10 < air["topsoil sandy loam"] < air["potting mix"]


@pytest.mark.parametrize("row", CLASSES, ids=lambda row: row["id"])
def test_soil_rows_are_the_class_means(row):
    mix = medium(row["medium"])
    assert mix.theta_r == pytest.approx(float(row["theta_r"]), abs=1e-12)
    assert mix.theta_s == pytest.approx(float(row["theta_s"]), abs=1e-12)
    assert mix.alpha == pytest.approx(100.0 * float(row["alpha_per_cm"]), rel=1e-12, abs=0.0)
    assert mix.n == pytest.approx(float(row["n"]), abs=1e-12)
    assert mix.k_s == pytest.approx(float(row["k_s_cm_per_d"]) / 100.0, rel=1e-12, abs=0.0)


def test_column_at_rest_holds_the_integral_of_the_curve():
    # By the trapezium rule on a fine grid, another way than the function's own quadrature.
    mix = medium("topsoil loam")
    heights = np.linspace(0.0, 0.42, 200_001)
    held = np.trapezoid(water_content(heights, mix), heights) / 0.42
    assert mean_water_content(0.42, mix) == pytest.approx(held, abs=1e-9)
