"""What holds at each height: water in the mix, its conductivity, uptake, and the hours of a day.

Nothing here is shared with bedtide. Water retention and conductivity: van Genuchten (1980), Soil
Sci. Soc. Am. J. 44: 892-898, eq. 3, 9, 23; vapour: diffusivity of Moldrup et al. (2000), Soil Sci.
Soc. Am. J. 64: 1588-1594; uptake: dry branch of Feddes et al. (1978), Simulation of field water use
and crop yield, Pudoc. Formulas from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Shape = Callable[[float], float]
"""Time [d] to intensity over the mean of the day [1]."""

VAPOUR_LENGTH = 13796.0  # R T / (M g) at 20 C [m]: humidity over the mix is exp(-s / this)
DRY_SURFACE = VAPOUR_LENGTH * np.log(2.0)  # suction of a surface at 50 % humidity [m]
VAPOUR = 2.09 * 1.73e-5 / VAPOUR_LENGTH  # diffusivity x density over water's / length [m d-1]


class Medium(Protocol):
    """What the solver asks of a mix; each method takes suction [m] and broadcasts."""

    def water_content(self, s: Array) -> Array: ...
    def capacity(self, s: Array) -> Array: ...
    def conductivity(self, s: Array) -> Array: ...


@dataclass(frozen=True)
class VanGenuchten:
    """theta_r, theta_s [1], alpha [m-1], n [1], k_s [m d-1], l [1]; m = 1 - 1/n.

    `b` multiplies suction in the conductivity alone: a mix that was wetted from below.
    """

    theta_r: float
    theta_s: float
    alpha: float
    n: float
    k_s: float
    l: float  # noqa: E741  the usual symbol
    b: float = 1.4

    def water_content(self, s: Array) -> Array:
        x = (self.alpha * np.maximum(s, 0.0)) ** self.n
        return self.theta_r + (self.theta_s - self.theta_r) * (1 + x) ** (1 / self.n - 1)

    def capacity(self, s: Array) -> Array:
        """-d(theta)/ds [m-1]."""
        m = 1 - 1 / self.n
        x = self.alpha * np.maximum(s, 0.0)
        steep = (self.theta_s - self.theta_r) * self.alpha * m * self.n
        return steep * x ** (self.n - 1) * (1 + x**self.n) ** (-m - 1)

    def conductivity(self, s: Array) -> Array:
        """Of liquid and of vapour."""
        m, s = 1 - 1 / self.n, np.maximum(s, 0.0)
        x = (self.alpha * self.b * s) ** self.n
        pores = np.maximum(-np.expm1(-m * np.log1p(1 / np.maximum(x, 1e-300))), 0.0)
        liquid = self.k_s * (1 + x) ** (-m * self.l) * pores**2
        air = self.theta_s - self.water_content(s)
        vapour = VAPOUR * air**2.5 / np.sqrt(self.theta_s) * np.exp(-s / VAPOUR_LENGTH)
        return liquid + vapour


class Feddes(NamedTuple):
    """Suction at which uptake falls, at 5 mm/d and at 1 mm/d, and at which it ends [m]."""

    h3_high: float
    h3_low: float
    h4: float

    def factor(self, s: Array, demand: float) -> Array:
        share = np.clip((demand - 0.001) / 0.004, 0.0, 1.0)
        h3 = self.h3_low + (self.h3_high - self.h3_low) * share
        return np.clip((self.h4 - np.maximum(s, 0.0)) / (self.h4 - h3), 0.0, 1.0)


def least(a: Array, b: Array, width: float) -> Array:
    """The lesser of two, rounded where they differ by less than about `width` of themselves."""
    a, b = np.broadcast_arrays(a, b)
    c, d = np.maximum(a, 0.0), np.maximum(b, 0.0)
    spread = np.sqrt((c - d) ** 2 + 4 * width**2 * c * d)
    smooth = 2 * (1 - width**2) * c * d / np.maximum(c + d + spread, 1e-300)
    return np.where(np.minimum(a, b) > 0, smooth, np.minimum(a, b))


def noon_bell(first: float, last: float) -> Shape:
    """Squared sine between two times of day [d], mean of the day 1."""
    length = last - first

    def shape(t: float) -> float:
        x = (t % 1.0 - first) / length
        return 2 / length * np.sin(np.pi * x) ** 2 if 0 < x < 1 else 0.0

    return shape


DAYLIGHT = noon_bell(6 / 24, 18 / 24)
