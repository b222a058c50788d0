"""The equations of a column written down anew, densely and slowly, from the mixes themselves.

Of the engine it takes what a bed is cut into (`cells_of`) and nothing of its step, its tables or
their slopes. All at the suctions `s` of the cells and the level `h` of the store.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import Bed
from bedtide.column.step import Sky
from bedtide.mix import supply_conductivity, water_content
from helpers.columns import Column

Array = NDArray[np.float64]
NODES = 0.02 * np.sinh(0.05 * np.arange(301))
WEIR, LATERAL, TOUCH, UNDER_PRESSURE = 1000.0, 200.0, 1e-3, 1e-4


class Curves:
    """One mix, straight between the nodes of suction."""

    def __init__(self, mix):
        self.content, self.k = water_content(NODES, mix), supply_conductivity(NODES, mix)
        areas = 0.5 * (self.k[1:] + self.k[:-1]) * np.diff(NODES)
        self.area = np.append(0.0, np.cumsum(areas))

    def theta(self, s):
        """Water content."""
        return np.interp(s, NODES, self.content) - UNDER_PRESSURE * np.minimum(s, 0.0)

    def mean(self, a, b):
        """Conductivity between two suctions, its mean over suction."""
        if abs(b - a) < 1e-9:
            return np.interp(0.5 * (a + b), NODES, self.k)
        low, high = min(a, b), max(a, b)
        inside = NODES[(low < NODES) & (high > NODES)]
        at = np.concatenate([[low], inside, [high]])
        return np.trapezoid(np.interp(at, NODES, self.k), at) / (high - low)


class Equations:
    """Fluxes of one column under one sky, and what is left over of its implicit step."""

    def __init__(self, bed: Bed, column: Column, sky: Sky, *, lip=np.inf, dt=0.1, pond=0.0,
                 root=None, dry=0.0):  # fmt: skip
        self.c = type(column.cells)(*(values[0] for values in column.cells))
        self.n, self.sky, self.lip, self.dt, self.pond = column.n, sky, lip, dt, pond
        mixes = list(dict.fromkeys([bed.wick_mix, bed.top_mix]))
        self.curves = [Curves(mix) for mix in mixes]
        self.own = [self.curves[number] for number in self.c.mix]
        self.root = np.zeros(self.n) if root is None else root
        self.dry = dry
        self.levels = self.c.store_base + self.c.store_step * np.arange(self.c.store.size)

    def theta(self, s):
        """Water content of the cells."""
        return np.array([own.theta(each) for own, each in zip(self.own, s, strict=True)])

    def store(self, h):
        """Open water below a level."""
        beyond = h - np.clip(h, self.levels[0], self.levels[-1])
        return np.interp(h, self.levels, self.c.store) + 1e-5 * beyond

    def face(self, i, s):
        """Flux up through the top of a cell."""
        low, high, reach = s[i], s[i - 1], self.c.reach[i]
        if self.own[i] is self.own[i - 1]:
            k = self.own[i].mean(low, high)
        else:
            part = self.c.below[i]
            k = 1.0 / (part / self.own[i].mean(low, high) +
                       (1.0 - part) / self.own[i - 1].mean(low, high))  # fmt: skip
        return self.c.path[i] * k * ((high - low) / reach - 1.0)

    def exchange(self, i, s, h):
        """From open water into a cell, beside it and under it."""
        low, high, z = self.c.void_low[i], self.c.void_high[i], self.c.centre[i]
        wet = np.clip(h - low, 0.0, high - low)
        over = high - low - wet
        given = LATERAL * (wet * (h - z + s[i]) - over * max(-s[i] - 0.5 * wet, 0.0))
        if i == self.c.ceiling:
            foot, c = self.c.ceiling_height, self.c.ceiling_pass
            head = max(h, foot) - z + s[i]
            touch = np.clip((h - foot) / TOUCH, 0.0, 1.0)
            given += c * (min(head, 0.0) + touch * max(head, 0.0))
        return given

    def surface(self, s):
        """Evaporation of the pond, of the mix, and infiltration."""
        half, own = self.c.reach[0], self.own[0]
        offer = self.pond / self.dt + self.sky.rain
        from_pond = min(self.sky.energy, offer) if self.pond > 0.0 else 0.0
        top = -self.pond
        takes = own.mean(top, s[0]) * ((s[0] - top) / half + 1.0)
        passes = own.mean(s[0], self.dry) * ((self.dry - s[0]) / half - 1.0)
        evaporated = min(self.sky.energy - from_pond, max(passes, 0.0))
        return from_pond, evaporated, min(offer - from_pond, takes)

    def uptake(self, s):
        """Water that roots take, by cell."""
        h3, h4 = self.sky.h3, self.sky.h4
        return self.sky.demand * self.root * np.clip((h4 - s) / (h4 - h3), 0.0, 1.0)

    def rates(self, s, h):
        """Net gain of each cell [m d-1], that of the store, and what leaves by the overflow."""
        _, evaporated, infiltrated = self.surface(s)
        up = [evaporated - infiltrated, *(self.face(i, s) for i in range(1, self.n)), 0.0]
        given = np.array([self.exchange(i, s, h) for i in range(self.n)])
        over = WEIR * max(h - self.lip, 0.0)
        return np.diff(up) + given - self.uptake(s), -given.sum() - over, over

    def misses(self, q, h, theta, water):
        """What an implicit step from `theta` and `water` leaves over, by cell and of the store."""
        s = suction(q)
        gains, gain, _ = self.rates(s, h)
        mix = self.c.water * (self.theta(s) - theta) - self.dt * gains
        return np.append(mix, self.store(h) - water - self.dt * gain)

    def jacobian(self, q, h, theta, water, eps=1e-5):
        """Slopes of the misses over the places and the level, by differences."""
        columns = []
        for j in range(self.n + 1):
            d = np.zeros(self.n + 1)
            d[j] = eps if j < self.n else 1e-7
            low, high = (
                self.misses(q + sign * d[:-1], h + sign * d[-1], theta, water) for sign in (-1, 1)
            )
            columns.append((high - low) / (2.0 * d[j]))
        return np.array(columns).T

    def newton(self, q, h, theta, water):
        """Change of the places and of the level that one pass of Newton's makes."""
        change = np.linalg.solve(
            self.jacobian(q, h, theta, water), -self.misses(q, h, theta, water)
        )
        return change[:-1], change[-1]

    def solved(self, q, h, theta, water):
        """Places and level at the end of the step, right to rounding, and passes to 1e-9 m."""
        for turn in range(1, 60):
            dq, dh = self.newton(q, h, theta, water)
            q, h = q + dq, h + dh
            if np.abs(self.misses(q, h, theta, water)).max() < 1e-9:
                dq, dh = self.newton(q, h, theta, water)  # one more, to rounding
                return q + dq, h + dh, turn
        raise AssertionError("no solution")


def suction(q):
    """Suction at places on the nodes."""
    q = np.asarray(q, float)
    return np.where(q < 0.0, q * NODES[1], np.interp(q, np.arange(301), NODES))
