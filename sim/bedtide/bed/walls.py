"""The inside of a box whose walls may lean outward: how wide it is at a height, what lies below."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

_STEPS = 30  # Newton steps at the most; a straight wall takes one, a tub five


class Walls(NamedTuple):
    """Inside of a box: four flat walls from the rectangle of its floor to that of its rim."""

    length: float  # at the rim [m]
    width: float
    length_at_floor: float  # [m]
    width_at_floor: float
    depth: float  # from floor to rim [m]

    @property
    def area(self) -> float:
        """Plan area: that of the rim, which catches rain [m2]."""
        return self.length * self.width

    @property
    def floor(self) -> float:
        """Area of the floor [m2]."""
        return self.length_at_floor * self.width_at_floor

    def share(self, height: ArrayLike) -> Any:
        r"""Area at a height above the floor [m] over the plan area, shape (...) [1].

        .. math:: \frac{(L_0 + a z)(W_0 + b z)}{L W}, \quad
                  a = \frac{L - L_0}{D}, \; b = \frac{W - W_0}{D}

        with :math:`L_0, W_0` at the floor, :math:`L, W` at the rim, :math:`D` `depth`; exactly 1
        where the walls are upright. Heights are held within floor and rim. Geometry, no source.
        """
        z = np.clip(np.asarray(height, dtype=np.float64), 0.0, self.depth)
        constant, linear, square = self._terms()
        return (constant + z * (linear + z * square))[()]

    def below(self, height: ArrayLike) -> Any:
        r"""Volume below a height above the floor [m] over the plan area, shape (...) [m].

        The integral of `share`, a cubic, exactly the height where the walls are upright: the
        prismatoid's :math:`\tfrac{h}{6}(A_0 + 4 A_m + A_1)` in other words. Weisstein, E. W.
        "Prismatoid". MathWorld, from memory; checked by hand in tests/unit/bed/test_walls.py.
        """
        z = np.clip(np.asarray(height, dtype=np.float64), 0.0, self.depth)
        constant, linear, square = self._terms()
        return (z * (constant + z * (linear / 2.0 + z * square / 3.0)))[()]

    def level(self, volume: ArrayLike) -> Any:
        """Height [m] below which a volume over the plan area [m] lies, `below` back, by Newton."""
        whole = np.clip(np.asarray(volume, dtype=np.float64), 0.0, self.below(self.depth))
        z = np.minimum(whole / self._terms()[0], self.depth)
        for _ in range(_STEPS):
            step = (self.below(z) - whole) / self.share(z)
            z = z - step
            if not np.any(np.abs(step) > 1e-15):
                break
        return np.asarray(z)[()]

    def _terms(self) -> tuple[float, float, float]:
        """Share of the area as constant [1], linear [m-1] and square [m-2] terms of the height."""
        if self.floor == self.area:
            return 1.0, 0.0, 0.0
        a = (self.length - self.length_at_floor) / self.depth
        b = (self.width - self.width_at_floor) / self.depth
        linear = a * self.width_at_floor + b * self.length_at_floor
        return self.floor / self.area, linear / self.area, a * b / self.area
