"""The Richards solver against solutions known without it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from numeric.laws import DAYLIGHT, DRY_SURFACE, Array, Feddes, VanGenuchten, least
from numeric.richards import SCALE, Column, Forcing, Run, Table, segment, solve

PEAT = VanGenuchten(theta_r=0.2, theta_s=0.87, alpha=10.58, n=2.083, k_s=5.0, l=-1.0)
LOAM = VanGenuchten(theta_r=0.078, theta_s=0.43, alpha=3.6, n=1.56, k_s=0.2496, l=0.5)
SAND = VanGenuchten(theta_r=0.045, theta_s=0.43, alpha=14.5, n=2.68, k_s=7.128, l=0.5)
UPTAKE = Feddes(h3_high=5.0, h3_low=15.0, h4=80.0)
PIPES = {"lip": 0.089, "pipe_share": 0.85, "inside": 0.101, "outside": 0.120}
BED = Column(PEAT, PEAT, UPTAKE, surface=0.30, **PIPES)
LAYERS = replace(BED, top=LOAM)
NONE = np.zeros
ALL_DAY = lambda t: 1.0  # noqa: E731
ALWAYS = {"shape": ALL_DAY, "rain_hours": (0.0, 24.0)}
WET_AND_DRY = (np.r_[0.05, NONE(4)], np.full(5, 0.006), np.full(5, 0.003))


@dataclass(frozen=True)
class Exponential:
    """K = k_s exp(-a s) of Gardner (1958); water content falls with it."""

    k_s: float
    a: float

    def water_content(self, s: Array) -> Array:
        return 0.1 + 0.5 * np.exp(-self.a * np.maximum(s, 0.0))

    def conductivity(self, s: Array) -> Array:
        return self.k_s * np.exp(-self.a * np.maximum(s, 0.0))


@dataclass(frozen=True)
class Chino:
    """K = a / (s2 + b) of Chino clay in Gardner and Fireman (1958); holds little, to be quick."""

    a: float = 1100.0  # cm3 d-1
    b: float = 565.0  # cm2

    def water_content(self, s: Array) -> Array:
        return 0.1 + 0.02 * np.exp(-np.maximum(s, 0.0) / 0.3)

    def conductivity(self, s: Array) -> Array:
        return 0.01 * self.a / ((100 * np.maximum(s, 0.0)) ** 2 + self.b)


def apart(one: Run, other: Run) -> dict[str, float]:
    """Largest differences of stores and of sums of fluxes [mm]."""
    stores = ("open_water", "mix_water", "pond")
    fluxes = ("transpiration", "evaporation", "overflow", "rim_spill")
    rows = {name: getattr(one, name) - getattr(other, name) for name in stores + fluxes}
    sums = rows | {name: np.cumsum(rows[name]) for name in fluxes}
    return {name: 1000 * float(np.abs(row).max()) for name, row in sums.items()}


@pytest.mark.parametrize("bed", [BED, replace(BED, wick=LOAM, top=LOAM), LAYERS])
def test_a_column_at_rest_stays_at_rest(bed: Column) -> None:
    run = solve(bed, NONE(3), NONE(3), NONE(3))
    assert run.suction[-1] == pytest.approx(bed.z - bed.lip, abs=1e-6)
    assert run.open_water[-1] == pytest.approx(bed.open_store(bed.lip), abs=1e-9)
    assert run.overflow.sum() < 1e-9


@pytest.mark.parametrize("bed", [BED, LAYERS])
def test_water_out_of_balance_comes_to_rest(bed: Column) -> None:
    """From a uniform suction, by exchange with the pipes alone: suction is height over water."""
    run = solve(bed, NONE(25), NONE(25), NONE(25), start=np.full(bed.cells, 0.15))
    level = float(bed.level(run.open_water[-1]))
    assert run.open_water[-1] < 0.9 * run.start[0]
    assert run.suction[-1] == pytest.approx(bed.z - level, abs=5e-4)


@pytest.mark.parametrize("flux", [0.004, -0.02])
def test_steady_flux_through_an_exponential_mix(flux: float) -> None:
    """Closed form of Gardner (1958), Soil Sci. 85: 228-232, for K = k_s exp(-a s), from memory:
    exp(-a s) + q / k_s falls as exp(-a z).  Checked by putting it into ds/dz = 1 + q / K."""
    medium = Exponential(k_s=0.5, a=8.0)
    bed = replace(BED, wick=medium, top=medium, surface=0.42)
    run = steady(bed, flux)
    free = bed.z > bed.outside  # above the pipes
    z, s = bed.z[free], run.suction[-1][free]
    decay = np.exp(-medium.a * (z - z[0]))
    relative = (np.exp(-medium.a * s[0]) + flux / medium.k_s) * decay - flux / medium.k_s
    assert s == pytest.approx(-np.log(relative) / medium.a, abs=2e-4)
    assert abs(s[-1] - (z[-1] - bed.lip)) > 0.005  # flux matters here


@pytest.mark.parametrize(
    ("medium", "flux"), [(PEAT, 0.005), (LOAM, 0.002), (LOAM, -0.01), (SAND, -0.01)]
)
def test_steady_flux_through_a_real_mix(medium: VanGenuchten, flux: float) -> None:
    """Suction upward from the pipes by ds/dz = 1 + q / K, with an ODE solver."""
    bed = replace(BED, wick=medium, top=medium, surface=0.42)
    run = steady(bed, flux)
    free = np.flatnonzero(bed.z > bed.outside)[::5]
    z, s = bed.z[free], run.suction[-1][free]
    known = solve_ivp(
        lambda _, s: 1 + flux / medium.conductivity(s),
        (z[0], z[-1]),
        s[:1],
        method="LSODA",
        t_eval=z,
        rtol=1e-8,
        atol=1e-10,
    ).y[0]
    assert s == pytest.approx(known, abs=2e-4, rel=2e-3)
    assert abs(s[-1] - (z[-1] - bed.lip)) > 0.005  # flux matters here


def steady(bed: Column, flux: float) -> Run:
    """Up to a surface that asks for no more, or down from steady rain."""
    days = 20
    rain, energy = np.full(days, max(-flux, 0.0)), np.full(days, max(flux, 0.0))
    run = solve(bed, rain, NONE(days), energy, trickle=max(flux, 0.0) + 0.001, **ALWAYS)
    assert run.evaporation[-1] == pytest.approx(max(flux, 0.0), rel=1e-3)
    return run


@pytest.mark.parametrize(
    ("depth", "largest"), [(0.3, 0.016379), (0.6, 0.005807), (0.9, 0.002914), (1.2, 0.001731)]
)
def test_largest_steady_evaporation_of_a_clay(depth: float, largest: float) -> None:
    """Gardner (1958): q = a (sqrt(1 + 4 b (pi / 2 L)2) - 1) / 2 b over water at depth L."""
    clay = Chino()
    head = np.sqrt(1 + 4 * clay.b * (np.pi / (200 * depth)) ** 2)
    assert 0.01 * clay.a * (head - 1) / (2 * clay.b) == pytest.approx(largest, abs=5e-7)
    bed = replace(BED, wick=clay, top=clay, surface=0.089 + depth, pipe_share=0.01, conductance=4e4)
    run = solve(bed, NONE(8), NONE(8), np.full(8, 0.05), trickle=0.03, **ALWAYS)
    assert run.evaporation[-1] == pytest.approx(run.evaporation[-3], rel=1e-4)  # steady
    assert run.evaporation[-1] == pytest.approx(largest, rel=3e-3)


def test_saturated_flux_under_a_pond() -> None:
    """Darcy by hand between the pond and a height: rain that neither spills nor stays goes down."""
    bed = replace(LAYERS, top=replace(LOAM, k_s=0.02))
    run = solve(bed, np.full(12, 0.2), NONE(12), NONE(12), **ALWAYS)
    above = (bed.z > bed.outside) & (run.suction[-1] < 0)
    z, s, down = bed.z[above], run.suction[-1][above], 0.2 - run.rim_spill[-1]
    assert above.sum() > 10
    head = (run.pond[-1] + s) / (bed.surface - z)
    assert down == pytest.approx(0.02 * (1 + head), rel=2e-3)
    assert run.pond[-1] == pytest.approx(bed.freeboard + run.rim_spill[-1] / 1000, rel=1e-6)


def test_pond_on_a_tight_mix() -> None:
    """Hardly anything enters: 50 mm stand up to the freeboard, the rest spills, the sun takes."""
    tight = replace(LOAM, k_s=1e-9, l=0.5)
    bed = replace(BED, wick=tight, top=tight)
    run = solve(bed, np.array([0.05, 0, 0]), NONE(3), np.array([0, 0.004, 0.004]))
    assert run.rim_spill == pytest.approx([0.02, 0, 0], abs=1e-4)
    assert run.pond == pytest.approx([0.03, 0.026, 0.022], abs=1e-4)
    assert run.evaporation == pytest.approx([0, 0.004, 0.004], rel=1e-3)


def test_rain_falls_in_its_hours() -> None:
    """A burst is not stepped over, however calm the days before; slow rain leaves no pond."""
    rain = np.r_[NONE(4), 0.06]
    slow = solve(LAYERS, rain, NONE(5), NONE(5), rain_hours=(0.0, 24.0))
    burst = solve(LAYERS, rain, NONE(5), NONE(5), rain_hours=(22.0, 23.0))
    assert slow.rim_spill.sum() == 0
    assert burst.rim_spill[-1] > 0.005
    assert burst.pond[-1] > 0.01


def test_water_account_by_hand() -> None:
    """Rain, uptake, evaporation, refills, overflow, a pond and spill all occur; added up anew."""
    rain = np.array([0.03, 0.0, 0.0, 0.0, 0.0, 0.0, 0.08, 0.0])
    run = solve(
        LAYERS, rain, np.full(8, 0.006), np.full(8, 0.004), refill_below=0.7, rain_hours=(22, 24)
    )
    cells = LAYERS.mix_share * LAYERS.dz
    mix = (LAYERS.water_content(run.suction.T) * cells[:, None]).sum(0)
    assert mix == pytest.approx(run.mix_water, abs=1e-6)
    given = sum(run.start) + np.cumsum(rain + run.refill)
    gone = run.transpiration + run.evaporation + run.overflow + run.rim_spill
    kept = run.open_water + mix + run.pond
    assert given == pytest.approx(kept + np.cumsum(gone), abs=2e-6)
    assert run.transpiration == pytest.approx(np.full(8, 0.006), rel=2e-3)
    assert run.evaporation[1:6] == pytest.approx(np.full(5, 0.004), rel=2e-3)
    for some in (run.overflow, run.rim_spill, run.refill, run.pond):
        assert some.max() > 0.005


def test_an_account_that_does_not_close_is_refused() -> None:
    class Leaking(Column):
        def rates(self, x: Array, now: Forcing) -> tuple[Array, Array, Array]:
            gain, leaves, e = super().rates(x, now)
            gain[:-2] -= 1e-3 * self.dz[:, None]
            return gain, leaves, e

    bed = Leaking(PEAT, PEAT, UPTAKE, surface=0.30, **PIPES)
    with pytest.raises(RuntimeError, match="water account"):
        solve(bed, NONE(2), NONE(2), NONE(2))


@pytest.mark.slow
@pytest.mark.parametrize("bed", [BED, LAYERS, replace(BED, wick=SAND, top=SAND)])
def test_what_should_not_matter_does_not(bed: Column) -> None:
    """Twice as many cells, half as wide switches, a twentieth of the error allowed in time."""
    run = solve(bed, *WET_AND_DRY)
    assert max(apart(solve(replace(bed, fine=0.5), *WET_AND_DRY), run).values()) < 0.1
    assert max(apart(solve(replace(bed, rounding=0.005), *WET_AND_DRY), run).values()) < 0.02
    assert max(apart(solve(bed, *WET_AND_DRY, tolerance=2.5e-7), run).values()) < 0.05


@pytest.mark.slow
def test_walls_of_the_pipes_hardly_resist() -> None:
    run = solve(BED, *WET_AND_DRY)
    freer = solve(replace(BED, conductance=1600.0), *WET_AND_DRY)
    assert max(apart(run, freer).values()) < 0.4
    tight = solve(replace(BED, conductance=4.0), *WET_AND_DRY)
    assert max(apart(run, tight).values()) > 1.0


@pytest.mark.slow
def test_another_method_in_time_gives_the_same() -> None:
    """The same rates, without the steps of `solve`: scipy's implicit Runge-Kutta of order 5."""
    bed = replace(LAYERS, fine=3.0)
    rain, demand, energy = np.array([0.0, 0.03]), 0.004, 0.003
    run = solve(bed, rain, np.full(2, demand), np.full(2, energy), tolerance=1e-7)

    def change(t: float, x: Array, falling: float) -> Array:
        now = DAYLIGHT(t)
        gain = bed.rates(x, Forcing(falling, demand, demand * now, energy * now, 0.0))[0]
        step = 1e-6
        return gain / (bed.water(x + step) - bed.water(x - step)) * 2 * step

    x = np.r_[np.arcsinh((bed.z - bed.lip) / SCALE), 0.0, bed.open_store(bed.lip)]
    limits = {"method": "Radau", "vectorized": True, "max_step": 0.05, "rtol": 1e-5, "atol": 1e-6}
    for low, high, falling in ((0, 33, 0.0), (33, 39, 0.12), (39, 48, 0.0)):
        found = solve_ivp(change, (low / 24, high / 24), x, args=(falling,), **limits)
        x = found.y[:, -1]
    assert x[-1] == pytest.approx(run.open_water[-1], abs=3e-5)
    assert bed.water(x[:, None])[:-2].sum() == pytest.approx(run.mix_water[-1], abs=3e-5)
    assert run.overflow.sum() > 0.002


def test_geometry_against_quadrature() -> None:
    per_pipe = BED.pipe_share / BED.outside

    def chord(z: float, diameter: float, foot: float) -> float:
        return 2 * np.sqrt(max((z - foot) * (foot + diameter - z), 0.0))

    for level in (0.02, 0.089, 0.1105):
        area = quad(chord, 0.0095, min(level, 0.1105), args=(0.101, 0.0095), epsabs=1e-12)[0]
        assert BED.open_store(level) == pytest.approx(per_pipe * area, abs=2e-7)
    mix = 0.30 - per_pipe * np.pi * 0.12**2 / 4
    assert BED.mix_share @ BED.dz == pytest.approx(mix, abs=1e-9)
    assert float(segment(np.array(0.05), 0.1)) == pytest.approx(np.pi * 0.05**2 / 2)


@pytest.mark.parametrize("surface", [0.2, 0.3, 0.7])
def test_cells_grow_from_the_surface_and_the_join(surface: float) -> None:
    bed = replace(BED, surface=surface)
    assert bed.faces[[0, -1]] == pytest.approx([0, surface], abs=1e-12)
    assert bed.dz[-1] == pytest.approx(0.0003, rel=0.2)
    assert bed.dz.max() < 0.0056
    assert bed.z[bed.join] == pytest.approx(bed.outside)
    top = bed.top_part * bed.mix_share[bed.join] * bed.dz[bed.join]
    assert top == pytest.approx(bed.dz[bed.join] / 2)  # no pipe above the crown
    ratio = bed.dz[1:] / bed.dz[:-1]
    assert ratio.max() < 1.4
    assert ratio.min() > 0.7


def test_daylight_has_mean_one() -> None:
    assert quad(DAYLIGHT, 0, 1, points=[0.25, 0.75])[0] == pytest.approx(1)
    assert DAYLIGHT(0.24) == DAYLIGHT(0.76) == 0


def test_roots_take_nothing_below_the_lip() -> None:
    assert BED.roots[BED.z < BED.lip].max() == 0
    assert BED.roots @ BED.dz == pytest.approx(1)
    shallow = replace(BED, root_depth=0.1)
    assert shallow.roots[shallow.z < 0.2].max() == 0


@pytest.mark.parametrize("medium", [PEAT, LOAM])
def test_laws_of_the_mix_where_alpha_times_suction_is_one(medium: VanGenuchten) -> None:
    """There S = 2^-m; K = k_s 2^(-m l) (1 - 2^-m)^2, on the branch at alpha b s = 1."""
    m = 1 - 1 / medium.n
    theta = medium.theta_r + (medium.theta_s - medium.theta_r) * 2**-m
    assert float(medium.water_content(np.array(1 / medium.alpha))) == pytest.approx(theta)
    k = medium.k_s * 2 ** (-m * medium.l) * (1 - 2**-m) ** 2
    at = np.array(1 / (1.4 * medium.alpha))
    assert float(medium.conductivity(at)) == pytest.approx(k, rel=1e-6)
    full = np.array([-0.3, 0.0])
    assert medium.water_content(full) == pytest.approx(medium.theta_s)
    assert medium.conductivity(full) == pytest.approx(medium.k_s)


def test_vapour_by_hand() -> None:
    """At 9563 m in air at half humidity, with 0.383 of air:
    2.09 x 0.383^2.5 / 0.43^0.5 x 1.73e-5 / 13796 x 0.5 = 1.814e-10 m/d."""
    dry = float(SAND.conductivity(np.array(DRY_SURFACE)))
    air = 0.43 - float(SAND.water_content(np.array(DRY_SURFACE)))
    assert pytest.approx(9563, abs=1) == DRY_SURFACE
    assert air == pytest.approx(0.385, abs=1e-3)
    assert dry == pytest.approx(2.09 * air**2.5 / 0.43**0.5 * 1.73e-5 / 13796 * 0.5, rel=1e-3)


@pytest.mark.parametrize("medium", [PEAT, LOAM, SAND])
def test_table_against_quadrature(medium: VanGenuchten) -> None:
    table = Table(medium)
    for low, high in ((-0.05, 0.01), (0.01, 0.1), (0.1, 1.0), (1.0, 30.0), (30.0, DRY_SURFACE)):
        phi, k = table.flow(np.arcsinh(np.array([low, high]) / SCALE))
        assert k == pytest.approx(medium.conductivity(np.array([low, high])), rel=1e-4)
        sum_k = quad(
            lambda x: float(medium.conductivity(np.array(SCALE * np.sinh(x)))) * np.cosh(x) * SCALE,
            *np.arcsinh(np.array([low, high]) / SCALE),
            limit=400,
            epsabs=0,
            epsrel=1e-8,
        )[0]
        assert phi[0] - phi[1] == pytest.approx(sum_k, rel=1e-5)


def test_uptake_falls_between_its_limits() -> None:
    """By hand: at 5 mm/d from 5 m, at 1 mm/d from 15 m, at 3 mm/d from 10 m, to nought at 80 m."""
    s = np.array([-1.0, 5.0, 42.5, 80.0, 200.0])
    assert UPTAKE.factor(s, 0.006) == pytest.approx([1, 1, 0.5, 0, 0])
    assert UPTAKE.factor(np.array([15.0, 47.5]), 0.0005) == pytest.approx([1, 0.5])
    assert UPTAKE.factor(np.array([10.0, 45.0]), 0.003) == pytest.approx([1, 0.5])


def test_the_lesser_of_two_is_rounded_near_equality_alone() -> None:
    a, b = np.array([1.0, 3.0, 0.0, 2.0, -1.0, 2.0]), np.array([2.0, 1.0, 2.0, 2.0, 5.0, -3.0])
    assert least(a, b, 0.01) == pytest.approx([1, 1, 0, 1.98, -1, -3], rel=3e-4)
