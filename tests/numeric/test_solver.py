"""The Richards solver against solutions known without it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.integrate import quad

from numeric.laws import UPTAKE_HOURS, Array, Feddes, VanGenuchten, noon_bell
from numeric.richards import Column, segment, solve

PEAT = VanGenuchten(theta_r=0.2, theta_s=0.87, alpha=10.58, n=2.083, k_s=5.0, l=-1.0)
LOAM = VanGenuchten(theta_r=0.078, theta_s=0.43, alpha=3.6, n=1.56, k_s=0.2496, l=0.5)
UPTAKE = Feddes(h3_high=5.0, h3_low=15.0, h4=80.0)
BED = Column(PEAT, UPTAKE, surface=0.30, lip=0.08, pipe_share=0.85, inside=0.101, outside=0.119)
ALL_DAY = lambda t: 1.0  # noqa: E731


@dataclass(frozen=True)
class Exponential:
    """K = k_s exp(-a s) of Gardner (1958); water content falls with it."""

    k_s: float
    a: float

    def water_content(self, s: Array) -> Array:
        return 0.1 + 0.5 * np.exp(-self.a * np.maximum(s, 0.0))

    def capacity(self, s: Array) -> Array:
        return np.where(s >= 0, 0.5 * self.a * np.exp(-self.a * np.maximum(s, 0.0)), 0.0)

    def conductivity(self, s: Array) -> Array:
        return self.k_s * np.exp(-self.a * np.maximum(s, 0.0))


@pytest.mark.parametrize("medium", [PEAT, LOAM])
def test_a_column_at_rest_stays_at_rest(medium: VanGenuchten) -> None:
    bed = replace(BED, medium=medium)
    run = solve(bed, np.zeros(3), np.zeros(3))
    assert run.suction[-1] == pytest.approx(bed.z - bed.lip, abs=1e-6)
    assert run.open_water[-1] == pytest.approx(bed.open_store(bed.lip), abs=1e-9)
    assert run.overflow.sum() < 1e-9


def test_water_out_of_balance_comes_to_rest() -> None:
    """From a uniform suction, by exchange with the pipes alone: suction is height over water."""
    run = solve(BED, np.zeros(20), np.zeros(20), start=np.full(BED.cells, 0.15))
    level = float(BED.level(run.open_water[-1]))
    assert run.open_water[-1] < 0.9 * run.start[0]
    assert run.suction[-1] == pytest.approx(BED.z - level, abs=2e-4)


@pytest.mark.parametrize("flux", [0.004, -0.02])
def test_steady_flux_through_an_exponential_mix(flux: float) -> None:
    """Closed form of Gardner (1958), Soil Sci. 85: 228-232, for K = k_s exp(-a s), from memory:
    exp(-a s) + q / k_s falls as exp(-a z).  Checked by putting it into ds/dz = 1 + q / K."""
    medium = Exponential(k_s=0.5, a=8.0)
    bed = replace(BED, medium=medium, surface=0.42, cells=254)
    run = solve(
        bed, np.full(30, -flux), np.zeros(30), trickle=max(flux, 0) + 0.001, rain_shape=ALL_DAY
    )
    free = bed.z > bed.outside  # above the pipes
    z, s = bed.z[free], run.suction[-1][free]
    decay = np.exp(-medium.a * (z - z[0]))
    relative = (np.exp(-medium.a * s[0]) + flux / medium.k_s) * decay - flux / medium.k_s
    assert s == pytest.approx(-np.log(relative) / medium.a, abs=2e-4)
    assert abs(s[-1] - (z[-1] - bed.lip)) > 0.005  # flux matters here


@pytest.mark.parametrize(("medium", "flux"), [(PEAT, 0.005), (LOAM, 0.003), (LOAM, -0.01)])
def test_steady_flux_through_a_real_mix(medium: VanGenuchten, flux: float) -> None:
    """Height against suction by quadrature: z = integral of ds / (1 + q / K)."""
    bed = replace(BED, medium=medium, surface=0.42)
    run = solve(
        bed, np.full(40, -flux), np.zeros(40), trickle=max(flux, 0) + 0.001, rain_shape=ALL_DAY
    )
    free = np.flatnonzero(bed.z > bed.outside)[::20]
    z, s = bed.z[free], run.suction[-1][free]

    def slope(s: float) -> float:
        return 1 / (1 + flux / float(medium.conductivity(np.array(s))))

    rise = [quad(slope, s[0], end, epsabs=1e-10)[0] for end in s]
    assert z - z[0] == pytest.approx(rise, abs=5e-4)


def test_water_account_by_hand() -> None:
    """Rain, uptake, refills and overflow all occur; the account is added up here anew."""
    rain = np.array([0.03, 0.0, 0.0, 0.0, 0.0, 0.0, 0.02, 0.0])
    demand = np.full(8, 0.009)
    run = solve(BED, rain, demand, refill_below=0.6)
    end = BED.mix_store(run.suction[-1]) + run.open_water[-1]
    assert sum(run.start) + rain.sum() + run.refill.sum() == pytest.approx(
        end + run.transpiration.sum() + run.overflow.sum(), abs=5e-5
    )
    assert run.overflow[0] > 0.005
    assert run.refill.max() > 0.01
    assert run.transpiration == pytest.approx(demand, abs=1e-5)


def test_an_account_that_does_not_close_is_refused() -> None:
    @dataclass(frozen=True)
    class Wrong(VanGenuchten):
        def capacity(self, s: Array) -> Array:
            return 1.1 * super().capacity(s)

    bed = replace(BED, medium=Wrong(**vars(PEAT)))
    with pytest.raises(RuntimeError, match="water account"):
        solve(bed, np.zeros(5), np.full(5, 0.006))


def test_finer_cells_change_little() -> None:
    rain, demand = np.r_[0.02, 0.02, np.zeros(12)], np.full(14, 0.006)
    coarse = solve(BED, rain, demand)
    fine = solve(replace(BED, cells=254), rain, demand)
    assert coarse.open_water == pytest.approx(fine.open_water, abs=3e-5)
    assert coarse.mix_water == pytest.approx(fine.mix_water, abs=3e-5)
    assert coarse.transpiration == pytest.approx(fine.transpiration, abs=5e-6)


def test_walls_of_the_pipes_hardly_resist() -> None:
    rain, demand = np.r_[0.02, 0.02, np.zeros(12)], np.full(14, 0.006)
    run = solve(BED, rain, demand)
    freer = solve(replace(BED, conductance=1600.0), rain, demand)
    assert run.open_water == pytest.approx(freer.open_water, abs=2e-4)
    assert run.mix_water == pytest.approx(freer.mix_water, abs=2e-4)


def test_geometry_against_quadrature() -> None:
    per_pipe = BED.pipe_share / BED.outside

    def chord(z: float, diameter: float, foot: float) -> float:
        return 2 * np.sqrt(max((z - foot) * (foot + diameter - z), 0.0))

    for level in (0.02, 0.08, 0.11):
        area = quad(chord, 0.009, min(level, 0.11), args=(0.101, 0.009), epsabs=1e-12)[0]
        assert BED.open_store(level) == pytest.approx(per_pipe * area, abs=2e-7)
    mix = 0.30 - per_pipe * np.pi * 0.119**2 / 4
    assert BED.mix_share.sum() * BED.dz == pytest.approx(mix, abs=1e-9)
    assert float(segment(np.array(0.05), 0.1)) == pytest.approx(np.pi * 0.05**2 / 2)


def test_pulses_of_the_day_have_mean_one() -> None:
    for shape in (UPTAKE_HOURS, noon_bell(8 / 24, 16 / 24)):
        assert quad(shape, 0, 1, points=[0.25, 1 / 3, 2 / 3, 0.75])[0] == pytest.approx(1)


def test_roots_take_nothing_below_the_lip() -> None:
    assert BED.roots[BED.z < BED.lip].max() == 0
    assert BED.roots.sum() * BED.dz == pytest.approx(1)
    shallow = replace(BED, root_depth=0.1)
    assert shallow.roots[shallow.z < 0.2].max() == 0


@pytest.mark.parametrize("medium", [PEAT, LOAM])
def test_laws_of_the_mix_where_alpha_times_suction_is_one(medium: VanGenuchten) -> None:
    """There S = 2^-m and K = k_s 2^(-m l) (1 - 2^-m)^2; the capacity is the slope."""
    s, m = np.array(1 / medium.alpha), 1 - 1 / medium.n
    theta = medium.theta_r + (medium.theta_s - medium.theta_r) * 2**-m
    assert float(medium.water_content(s)) == pytest.approx(theta, rel=1e-12)
    k = medium.k_s * 2 ** (-m * medium.l) * (1 - 2**-m) ** 2
    assert float(medium.conductivity(s)) == pytest.approx(k, rel=1e-12)
    slope = (medium.water_content(s - 1e-6) - medium.water_content(s + 1e-6)) / 2e-6
    assert float(medium.capacity(s)) == pytest.approx(float(slope), rel=1e-6)
    full = np.array([-0.3, 0.0])
    assert medium.water_content(full) == pytest.approx(medium.theta_s)
    assert medium.conductivity(full) == pytest.approx(medium.k_s)


def test_uptake_falls_between_its_limits() -> None:
    """By hand: at 5 mm/d from 5 m, at 1 mm/d from 15 m, at 3 mm/d from 10 m, to nought at 80 m."""
    s = np.array([-1.0, 5.0, 42.5, 80.0, 200.0])
    assert UPTAKE.factor(s, 0.006) == pytest.approx([1, 1, 0.5, 0, 0])
    assert UPTAKE.factor(np.array([15.0, 47.5]), 0.0005) == pytest.approx([1, 0.5])
    assert UPTAKE.factor(np.array([10.0, 45.0]), 0.003) == pytest.approx([1, 0.5])
