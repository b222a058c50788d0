"""How a mix supplies its surface: the curve of a mix that is wetted, and vapour through a crust.

Figures of vapour: E = D (rho_s - rho_a) / L, with the diffusivity of water vapour in air 2.42e-5
m2/s and its density over water 17.3 g/m3, both at 20 degC (common tables, from memory), air of half
saturation, and Moldrup's D / D_0 = air^2.5 / porosity^0.5.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from bedtide.errors import RangeError
from bedtide.mix import (
    VAPOUR_LENGTH,
    Mix,
    media,
    medium,
    supply_conductivity,
    water_content,
)
from bedtide.mix.hydraulics import conductivity, vapour_conductivity
from bedtide.mix.media import WETTING

IN_AIR, SATURATED, WATER = 2.42e-5 * 86_400, 17.3e-3, 998.0  # m2/d, kg/m3, kg/m3
DRY_AIR = VAPOUR_LENGTH * np.log(2.0)


def mix_of(wetting=1.4):
    """n = 2, l = 0: K = K_s [1 - (x / (1 + x))^0.5]^2 with x = (alpha s)^2."""
    return Mix("test mix", 0.1, 0.8, 10.0, 2.0, 5.0, 0.0, 120.0, 1.0, 25.0, 0.0, 1.0, None, None,
               wetting)  # fmt: skip


@pytest.mark.parametrize("wetting", [1.0, 1.4, 2.0])
def test_liquid_is_conducted_as_at_more_suction(wetting):
    # where w alpha s = 1: 5 (1 - 1 / sqrt 2)^2 = 0.428932 m/d
    assert supply_conductivity(0.1 / wetting, mix_of(wetting)) == pytest.approx(0.428932, rel=1e-6)


def test_the_drying_curve_is_left_alone():
    s = np.geomspace(1e-3, 1.0, 40)
    drying, wetted = mix_of(1.0), mix_of(2.0)
    assert (water_content(s, drying) == water_content(s, wetted)).all()
    assert (conductivity(s, drying) == conductivity(s, wetted)).all()
    # while the wet end is still far above vapour, the supply is that curve
    assert supply_conductivity(s[:20], drying) == pytest.approx(conductivity(s[:20], drying))


@pytest.mark.parametrize("name", media())
def test_a_mix_that_feels_more_suction_supplies_less(name):
    low, typical, high = (
        supply_conductivity(np.geomspace(0.02, 5.0, 40), replace(medium(name), wetting=w))
        for w in WETTING
    )
    assert (low > typical).all()
    assert (typical > high).all()


def test_a_saturated_mix_supplies_all_that_it_conducts():
    assert supply_conductivity([-0.5, 0.0], mix_of()) == pytest.approx([5.0, 5.0], abs=1e-15)
    assert vapour_conductivity([-0.5, 0.0], mix_of()).tolist() == [0.0, 0.0]


def test_the_typical_factor_lies_in_the_middle_of_its_ends():
    low, typical, high = WETTING
    assert typical == pytest.approx(np.sqrt(low * high), abs=0.05)
    assert medium("peat").wetting == typical
    assert (low, high) == (1.0, 2.0)  # as measured on drying; alpha doubled on wetting


@pytest.mark.parametrize("wetting", [0.4, 4.1, float("nan")])
def test_a_factor_that_no_mix_has_is_refused(wetting):
    with pytest.raises(RangeError, match="test mix, wetting"):
        mix_of(wetting)


def test_vapour_at_a_suction_by_hand():
    # At 9,562 m the air of the pores is half saturated; the mix holds its residual 0.1 and
    # 0.7 (1 + 95,620^2)^-0.5 = 7.3e-6 more, so that 0.69999 is air:
    # 2.09 x 0.69999^2.5 / 0.8^0.5 x 1.73e-5 x 0.5 / 13,796 = 6.006e-10
    assert vapour_conductivity(DRY_AIR, mix_of()) == pytest.approx(6.006e-10, rel=2e-3)


def test_the_length_is_that_of_kelvins_law():
    # R T / (M g) at 20 degC: 8.314 x 293.15 / (0.018015 x 9.80665)
    found = 8.314462618 * 293.15 / (0.01801528 * 9.80665)
    assert pytest.approx(found, abs=0.5) == VAPOUR_LENGTH


@pytest.mark.parametrize("name", ["potting mix", "peat", "pine bark fine"])
@pytest.mark.parametrize("depth", [0.01, 0.02, 0.05])
def test_vapour_through_a_dry_crust_is_ficks_law(name, depth):
    """From wet mix under the crust to air of half saturation; nearly all of the crust is dry."""
    mix = medium(name)
    spread = IN_AIR * (mix.theta_s - mix.theta_r) ** 2.5 / mix.theta_s**0.5
    expected = spread * 0.5 * SATURATED / WATER / depth
    found = quad(lambda s: vapour_conductivity(s, mix), 0.0, DRY_AIR, limit=200)[0] / depth
    assert found == pytest.approx(expected, rel=0.02)


@pytest.mark.parametrize(
    ("depth", "least", "most"), [(0.01, 0.7, 1), (0.02, 0.4, 0.5), (0.05, 0.1, 0.2)]
)
def test_a_crust_of_potting_mix_lets_tenths_of_a_millimetre_through(depth, least, most):
    # 0.8, 0.4 and 0.16 mm/d with an air share of 0.70, by the formula above
    mix = medium("potting mix")
    through = quad(lambda s: vapour_conductivity(s, mix), 0.0, DRY_AIR, limit=200)[0] / depth
    assert least < 1000 * through < most


@pytest.mark.parametrize("name", media())
def test_no_suction_warns_or_gives_nan(name):
    suction = np.array([-1.0, 0.0, 5e-324, 1e-300, 1e-12, 1e-3, 1.0, 1e5, 1e20])
    with np.errstate(over="raise", invalid="raise", divide="raise"):
        rate = supply_conductivity(suction, medium(name))
    assert np.isfinite(rate).all()
    assert (rate >= 0).all()
    assert (rate[:8] > 0).all()


def test_shapes_are_kept_and_a_number_gives_a_number():
    grid = np.full((2, 3), 0.1)
    for function in (supply_conductivity, vapour_conductivity):
        assert np.ndim(function(0.1, mix_of())) == 0
        assert function(grid, mix_of()).shape == (2, 3)
