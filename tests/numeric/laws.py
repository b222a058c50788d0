"""What holds at each height: water in the mix, its conductivity, uptake, and the hours of a day.

Nothing here is shared with bedtide. Water retention and conductivity: van Genuchten (1980), Soil
Sci. Soc. Am. J. 44: 892-898, eq. 3, 9, 23; uptake: dry branch of Feddes et al. (1978), Simulation
of field water use and crop yield, Pudoc. Formulas from memory.
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


class Medium(Protocol):
    """What the solver asks of a mix; each method takes suction [m] and broadcasts."""

    def water_content(self, s: Array) -> Array: ...
    def capacity(self, s: Array) -> Array: ...
    def conductivity(self, s: Array) -> Array: ...


@dataclass(frozen=True)
class VanGenuchten:
    """theta_r, theta_s [1], alpha [m-1], n [1], k_s [m d-1], l [1]; m = 1 - 1/n."""

    theta_r: float
    theta_s: float
    alpha: float
    n: float
    k_s: float
    l: float  # noqa: E741  the usual symbol

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
        m = 1 - 1 / self.n
        x = (self.alpha * np.maximum(s, 0.0)) ** self.n
        saturation = (1 + x) ** -m
        return self.k_s * saturation**self.l * (1 - (x / (1 + x)) ** m) ** 2


class Feddes(NamedTuple):
    """Suction at which uptake falls, at 5 mm/d and at 1 mm/d, and at which it ends [m]."""

    h3_high: float
    h3_low: float
    h4: float

    def factor(self, s: Array, demand: float) -> Array:
        share = np.clip((demand - 0.001) / 0.004, 0.0, 1.0)
        h3 = self.h3_low + (self.h3_high - self.h3_low) * share
        return np.clip((self.h4 - np.maximum(s, 0.0)) / (self.h4 - h3), 0.0, 1.0)


def noon_bell(first: float, last: float) -> Shape:
    """Squared sine between two times of day [d], mean of the day 1."""
    length = last - first

    def shape(t: float) -> float:
        x = (t % 1.0 - first) / length
        return 2 / length * np.sin(np.pi * x) ** 2 if 0 < x < 1 else 0.0

    return shape


RAIN_HOURS = noon_bell(8 / 24, 16 / 24)
UPTAKE_HOURS = noon_bell(6 / 24, 18 / 24)
