"""The cells of a bed against closed forms of steady flow, as coarse as they are and finer.

Steady flux through a mix whose conductivity is exponential in suction, and the highest steady rise
out of a water table where it is a power of suction: Gardner (1958), Some steady-state solutions of
the unsaturated moisture flow equation with application to evaporation from a water table, Soil
Sci. 85: 228-232. Chino clay: Gardner & Fireman (1958), Soil Sci. 85: 244-249. All from memory; the
closed form for a power of 2 was derived anew. Real mixes: height against suction by quadrature,
z = integral of ds / (1 + q / K).
"""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from bedtide.column import mix_table
from bedtide.mix import medium, supply_conductivity
from helpers.columns import WATER, over_water, sky, table_of

MIXES = ["peat", "peat and vermiculite", "pine bark fine", "topsoil loam"]
HIGH = 10.0  # energy for evaporation beyond what any mix passes up [m/d]


def content(s):
    return 0.1 + 0.5 / np.sqrt(1.0 + (4.0 * s) ** 2)


def exponential(k, a):
    return table_of(lambda s: k * np.exp(-a * s) + 1e-13, content)


@pytest.mark.parametrize("name", MIXES)
@pytest.mark.parametrize("height", [0.10, 0.40, 0.80])
def test_at_rest_suction_is_the_height_over_the_water(name, height):
    column, z = over_water(height, mix_table(medium(name)))
    column.put(0.7 * z + 0.02)  # wetter above, drier below
    assert column.settled(sky(), WATER)[5] == pytest.approx(0.0, abs=1e-7)
    assert column.suction == pytest.approx(z, abs=1e-4)


@pytest.mark.parametrize(("flux", "bound"), [(0.002, 3e-4), (0.010, 2e-3)])
def test_rise_through_an_exponential_conductivity(flux, bound):
    # K = k exp(-a s): exp(-a s) = (1 + q/k) exp(-a z) - q/k above a water table at z = 0
    k, a = 0.5, 8.0
    column, z = over_water(0.40, exponential(k, a))
    rates = column.put(z).settled(sky(energy=flux), WATER)
    assert rates[[3, 5]] == pytest.approx([flux, flux], rel=1e-5)  # evaporation is the rise
    exact = -np.log((1 + flux / k) * np.exp(-a * z) - flux / k) / a
    assert exact[0] > z[0] + 10 * bound / 2  # the flux is felt
    assert column.suction == pytest.approx(exact, abs=bound)


@pytest.mark.parametrize("flux", [0.020, 0.100])
def test_drainage_through_an_exponential_conductivity(flux):
    k, a = 0.5, 8.0
    column, z = over_water(0.40, exponential(k, a))
    rates = column.put(z).settled(sky(rain=flux), WATER)
    assert rates[6] == pytest.approx(flux)
    assert rates[5] == pytest.approx(-flux, rel=1e-5)  # into the water, and out of the mix
    exact = -np.log((1 - flux / k) * np.exp(-a * z) + flux / k) / a
    assert exact[0] < z[0] - 0.03
    assert column.suction == pytest.approx(exact, abs=2e-3)


@pytest.mark.parametrize(
    ("power", "printed"), [(1.5, "3.77"), (2, "2.46"), (3, "1.76"), (4, "1.52")]
)
@pytest.mark.parametrize(
    ("height", "finer", "bound"),
    [(0.20, 1, 0.10), (0.40, 1, 0.05), (0.20, 8, 0.01), (0.40, 8, 0.01)],
)
def test_highest_rise_out_of_a_water_table(power, printed, height, finer, bound):
    # K = a / (s^n + b): the most that rises to height L is A a / L^n. The paper's A, from memory,
    # are cut short: within one of their last digit of (pi / (n sin(pi / n)))^n. Here b is small,
    # so that K falls by powers of ten in the first cells over the water, which no mix does.
    a, b = 2e-5, 1e-9
    factor = (np.pi / (power * np.sin(np.pi / power))) ** power
    assert factor == pytest.approx(float(printed), abs=0.01)
    table = table_of(lambda s: a / (s**power + b), content)
    column, z = over_water(height, table, finer=finer)
    rates = column.put(z).settled(sky(energy=HIGH), WATER)
    assert rates[3] == pytest.approx(factor * a / height**power, rel=bound)


@pytest.mark.parametrize(
    ("height", "printed"), [(0.30, "16.379"), (0.60, "5.807"), (0.90, "2.914"), (1.20, "1.731")]
)
def test_highest_rise_through_chino_clay(height, printed):
    # For a power of 2 and any b: q = a [(1 + 4 b (pi / 2 L)^2)^0.5 - 1] / (2 b), in mm/d
    a, b = 1100e-6, 565e-4
    exact = 1000 * a * (np.sqrt(1 + 4 * b * (np.pi / (2 * height)) ** 2) - 1) / (2 * b)
    assert exact == pytest.approx(float(printed), abs=5e-4)
    column, z = over_water(height, table_of(lambda s: a / (s**2 + b), content))
    rates = column.put(z).settled(sky(energy=HIGH), WATER)
    assert 1000 * rates[3] == pytest.approx(exact, rel=0.005)


def steady_height(mix, flux, low, high):
    """Height over which suction goes from one value to another under a steady rise [m]."""

    def slope(s):
        return 1.0 / (1.0 + flux / float(supply_conductivity(s, mix)))

    marks = [low, *(m for m in (0.01, 0.03, 0.1, 0.3, 1.0, 10.0, 100.0) if low < m < high), high]
    return sum(quad(slope, x, y, epsabs=1e-10, limit=400)[0] for x, y in pairwise(marks))


@pytest.mark.parametrize(
    ("name", "flux"),
    [("peat", 0.1), ("peat and vermiculite", 0.006), ("pine bark fine", 0.002),
     ("topsoil loam", 0.001), ("topsoil loam", 0.006)],
)  # fmt: skip
def test_rise_through_real_mixes(name, flux):
    mix = medium(name)
    column, z = over_water(0.25, mix_table(mix))
    rates = column.put(z).settled(sky(energy=flux), WATER)
    assert rates[[3, 5]] == pytest.approx([flux, flux], rel=1e-4)
    assert column.suction[0] > z[0] + 0.01
    heights = [steady_height(mix, flux, 0.0, end) for end in column.suction]
    assert z == pytest.approx(heights, abs=3e-3)


@pytest.mark.parametrize("name", MIXES)
@pytest.mark.parametrize(("finer", "bound"), [(1, 0.08), (4, 0.01)])
def test_the_highest_rise_through_real_mixes(name, finer, bound):
    """The flux that ends at an air-dry surface, found by bisection on the quadrature."""
    mix = medium(name)
    column, z = over_water(0.25, mix_table(mix), finer=finer)
    found = column.put(z).settled(sky(energy=HIGH), WATER)[3]
    low, high = 1e-5, 1.0
    for _ in range(40):
        middle = np.sqrt(low * high)
        too_much = steady_height(mix, middle, 0.0, 9562.0) < 0.25
        low, high = (low, middle) if too_much else (middle, high)
    assert found == pytest.approx(low, rel=bound)


@pytest.mark.parametrize("name", MIXES)
@pytest.mark.parametrize(("finer", "bound"), [(1, 1e-2), (4, 1e-3)])
def test_drainage_through_real_mixes(name, finer, bound):
    """Upward from the water: ds / dz = 1 - q / K."""
    mix = medium(name)
    column, z = over_water(0.25, mix_table(mix), finer=finer)
    flux = 0.2 if name == "peat" else 0.02
    rates = column.put(z).settled(sky(rain=flux), WATER)
    assert rates[[5, 6]] == pytest.approx([-flux, flux], rel=1e-4)
    exact = solve_ivp(
        lambda _, s: 1.0 - flux / supply_conductivity(s, mix),
        (0.0, 0.25), [0.0], method="LSODA", t_eval=z[::-1], rtol=1e-9, atol=1e-12,
    )  # fmt: skip
    assert column.suction == pytest.approx(exact.y[0][::-1], abs=bound)
    assert column.suction[0] < z[0] - 0.02
