r"""Independent solution of the Richards equation in a sub-irrigated bed, to check the daily model.

Nothing here is shared with bedtide: own formulas for the mix, own geometry of the pipes, another
method (finite volumes in height, a stiff ODE solver in time). Only numpy and scipy.

A column of unit plan area, heights z upward from the floor [m], suction head s [m] positive when
dry, water per plan area [m], days. Of each height the share f_m(z) is mix and f_v(z) is void of the
pipes, open water up to the level h, :math:`R(h) = \int_0^h f_v dz`.

.. math::

    f_m \frac{\partial\theta}{\partial t} = -\frac{\partial q}{\partial z} + e - u, \qquad
    q = f_m K(s) \left(\frac{\partial s}{\partial z} - 1\right), \qquad
    \frac{dR}{dt} = -\int e\,dz - o

with q the flux upward. It is nought at the floor and minus the rain at the surface, all of which
enters. The exchange with the open water runs through the perforated walls: where a height is under
water :math:`e = G (h - z + s)`; where it is not, mix under pressure seeps into the pipe,
:math:`e = -G \max(-s, 0)`. G is so large that it hardly matters (see the tests); that of 20 mm of
loam between two pipes is about as large, of potting mixes larger. Uptake
:math:`u = T_p(t) g(z) \alpha(s)`: g falls in a straight line from the surface to nought at the
lower end of the roots, :math:`\alpha` is the dry branch of Feddes et al. (1978). The overflow is
:math:`o = 200 d^{-1} (R - R(z_o))` while that is positive.

Rain falls from 8 to 16 h and uptake runs from 6 to 18 h, both as a squared sine.

The unknown of each cell is asinh(s / 0.05 m), which follows a saturated and a parched cell alike.
Saturated mix takes up 0.1 % of water per metre of pressure: the system stays one of ODEs, and the
most that this adds to a bed is 0.05 mm.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from scipy.integrate import BDF

from numeric.laws import RAIN_HOURS, UPTAKE_HOURS, Array, Feddes, Medium, Shape

SCALE = 0.05  # of suction in the unknown asinh(s / SCALE) [m]
STORAGE = 1e-3  # of saturated mix per head, so that the system stays an ODE [m-1]
TAPER = 0.01  # suction over which that storage fades [m]
OVERFLOW_RATE = 200.0  # how fast a surplus leaves [d-1]
LAST_FILM = 1e-4  # open water below which it no longer feeds the mix in full [m]
TOLERANCE = 3e-6  # of the unknowns of the cells [1]
CLOSURE = 1e-4  # water that may appear or vanish in a run [m]


def segment(height: Array, diameter: float) -> Array:
    """Area of a circle below `height` above its lowest point [m2]: r2 (a - sin a cos a)."""
    half = np.arccos(np.clip(1 - 2 * height / diameter, -1.0, 1.0))
    return 0.25 * diameter**2 * (half - np.sin(half) * np.cos(half))


@dataclass(frozen=True)
class Column:
    """A bed cut into `cells` of equal height; lengths in m, `pipe_share` of the floor is pipe."""

    medium: Medium
    feddes: Feddes
    surface: float
    lip: float
    pipe_share: float
    inside: float
    outside: float
    root_depth: float = np.inf
    cells: int = 127
    conductance: float = 400.0  # G of the pipe walls [m-1 d-1]
    faces: Array = field(init=False)
    z: Array = field(init=False)
    dz: float = field(init=False)
    mix_share: Array = field(init=False)  # of the cells, mean
    mix_share_faces: Array = field(init=False)
    walls: Array = field(init=False)  # 1 where a cell touches open void
    roots: Array = field(init=False)  # g [m-1]
    levels: tuple[Array, Array] = field(init=False)  # height and open store R(h)

    def __post_init__(self) -> None:
        put = lambda name, value: object.__setattr__(self, name, value)  # noqa: E731
        faces = np.linspace(0.0, self.surface, self.cells + 1)
        put("faces", faces)
        put("z", (faces[1:] + faces[:-1]) / 2)
        put("dz", self.surface / self.cells)
        inside = self.pipe_share / self.outside * segment(faces - self._wall, self.inside)
        outside = self.pipe_share / self.outside * segment(faces, self.outside)
        put("mix_share", 1 - np.diff(outside) / self.dz)
        chord = 2 * np.sqrt(np.maximum(faces * (self.outside - faces), 0.0))
        put("mix_share_faces", 1 - self.pipe_share / self.outside * chord)
        put("walls", (np.diff(inside) > 1e-9 * self.dz).astype(float))
        roots = np.clip(self.z - max(self.lip, self.surface - self.root_depth), 0.0, None)
        put("roots", roots / (roots.sum() * self.dz))
        height = np.linspace(self._wall, self._wall + self.inside, 2001)
        store = self.pipe_share / self.outside * segment(height - self._wall, self.inside)
        put("levels", (height, store))

    @property
    def _wall(self) -> float:
        return (self.outside - self.inside) / 2

    def level(self, store: Array) -> Array:
        """Height of open water that holds `store` [m]."""
        return np.interp(store, self.levels[1], self.levels[0])

    def open_store(self, level: float) -> float:
        """Open water below `level` [m]."""
        return float(np.interp(level, *self.levels))

    def mix_store(self, s: Array) -> float:
        """Water in the mix [m]."""
        squeezed = np.maximum(-s, 0.0) - TAPER * (1 - np.exp(-np.maximum(s, 0.0) / TAPER))
        water = self.medium.water_content(s) + STORAGE * squeezed
        return float((water * self.mix_share).sum() * self.dz)

    def root_zone_air(self, s: Array) -> float:
        """Air share of the mix that holds roots, mean over its volume [1]."""
        rooted = self.mix_share * (self.roots > 0)
        air = self.medium.water_content(np.zeros(1)) - self.medium.water_content(s)
        return float((rooted * air).sum() / rooted.sum())

    def fluxes(
        self, s: Array, store: Array, uptake: float, demand: float
    ) -> tuple[Array, Array, Array]:
        """Flux up through the inner faces [m d-1]; exchange e and uptake u of the cells [d-1].

        `s` (cells, k), `store` (k,): k states at once.
        """
        k = self.medium.conductivity(s)
        up = (s[1:] - s[:-1]) / self.dz - 1
        q = self.mix_share_faces[1:-1, None] * 0.5 * (k[1:] + k[:-1]) * up
        h = self.level(store)
        under = np.clip((h - self.faces[:-1, None]) / self.dz, 0.0, 1.0)  # share of the cell
        dry_middle = under * self.dz / 2  # of the part above water, over that of the cell
        e = under * (h - self.z[:, None] + s) - (1 - under) * np.maximum(-s - dry_middle, 0.0)
        e *= self.conductance * self.walls[:, None]
        e = np.where(e > 0, e * np.clip(store / LAST_FILM, 0.0, 1.0), e)
        u = uptake * self.roots[:, None] * self.feddes.factor(s, demand)
        return q, e, u

    def rates(
        self,
        y: Array,
        *,
        rain: float,
        uptake: float,
        demand: float,
        trickle: float,
    ) -> tuple[Array, Array, Array]:
        """dy/dt, exchange and uptake; y (cells + 3, k): unknowns, open store, uptake, overflow."""
        n = self.cells
        s = SCALE * np.sinh(np.clip(y[:n], -12.0, 12.0))
        q, e, u = self.fluxes(s, y[n], uptake, demand)
        gain = e - u
        gain[:-1] -= q / self.dz
        gain[1:] += q / self.dz
        gain[-1] += rain / self.dz
        elastic = STORAGE * np.exp(-np.maximum(s, 0.0) / TAPER)
        capacity = self.mix_share[:, None] * (self.medium.capacity(s) + elastic)
        over = OVERFLOW_RATE * np.maximum(y[n] - self.open_store(self.lip), 0.0)
        change = np.empty_like(y)
        change[:n] = -gain / capacity / np.sqrt(SCALE**2 + s**2)
        change[n] = trickle - e.sum(0) * self.dz - over
        change[n + 1] = u.sum(0) * self.dz
        change[n + 2] = over
        return change, e, u


class Run(NamedTuple):
    """One row a day, at its end; depths of water [m], fluxes of the day."""

    open_water: Array  # (day,)
    mix_water: Array
    transpiration: Array
    overflow: Array
    refill: Array  # in the morning, before all else
    air_root_zone: Array  # [1]
    suction: Array  # (day, cell) [m]
    start: tuple[float, float]  # open water and mix water before the first day
    closure: float  # largest error of the water account [m]


def solve(
    column: Column,
    rain: Array,
    demand: Array,
    *,
    refill_below: float | None = None,
    start: Array | None = None,
    trickle: float = 0.0,
    rain_shape: Shape = RAIN_HOURS,
    uptake_shape: Shape = UPTAKE_HOURS,
    rtol: float = 1e-6,
) -> Run:
    """Solve day by day from a full store and the mix at rest above it (or suction `start`).

    `rain` and `demand` [m d-1], one a day. A morning that finds less than the share
    `refill_below` of the store fills it to the lip. `trickle` runs into the store all day [m d-1].
    Raises RuntimeError when the solver fails or the water account does not close.
    """
    n = column.cells
    capacity = column.open_store(column.lip)
    s = column.z - column.lip if start is None else start
    y = np.concatenate([np.arcsinh(s / SCALE), [capacity, 0.0, 0.0]])
    before = (capacity, column.mix_store(s))

    def forced(t: float, states: Array) -> tuple[Array, Array, Array]:
        day = min(int(t), len(rain) - 1)
        return column.rates(
            states,
            rain=rain[day] * rain_shape(t),
            uptake=demand[day] * uptake_shape(t),
            demand=demand[day],
            trickle=trickle,
        )

    def change(t: float, y: Array) -> Array:
        return forced(t, y[:, None])[0][:, 0]

    def jacobian(t: float, y: Array) -> Array:
        """By differences: a cell acts on its neighbours and, through e and u, on the sums."""
        step = 1e-7
        states = np.repeat(y[:, None], 5, axis=1)
        for colour in range(3):  # every third cell at once
            states[colour:n:3, colour] += step
        states[n, 3] += 1e-8
        f, e, u = forced(t, states)
        j = np.zeros((n + 3, n + 3))
        cell = np.arange(n)
        slope = (f[:, :3] - f[:, 4:]) / step
        for away in (-1, 0, 1):
            row = cell + away
            inside = (row >= 0) & (row < n)
            j[row[inside], cell[inside]] = slope[row[inside], cell[inside] % 3]
        j[n, :n] = -(e[cell, cell % 3] - e[:, 4]) / step * column.dz
        j[n + 1, :n] = (u[cell, cell % 3] - u[:, 4]) / step * column.dz
        j[:, n] = (f[:, 3] - f[:, 4]) / 1e-8
        return j

    tolerance = np.concatenate([np.full(n, TOLERANCE), [1e-7, 1e-7, 1e-7]])

    def solver_from(t: float, y: Array) -> BDF:
        return BDF(change, t, y, len(rain), max_step=0.05, rtol=rtol, atol=tolerance, jac=jacobian)

    rows, suction = [], []
    solver = solver_from(0.0, y)
    for day in range(len(rain)):
        low = refill_below is not None and y[n] < refill_below * capacity
        refill = capacity - y[n] if low else 0.0
        if refill > 0:
            y = y.copy()
            y[n] += refill
            solver = solver_from(float(day), y)
        while solver.t < day + 1:
            message = solver.step()
            if solver.status == "failed":
                raise RuntimeError(f"day {day}: {message}")
        y = solver.dense_output()(day + 1.0)
        s = SCALE * np.sinh(y[:n])
        rows.append(
            (y[n], column.mix_store(s), y[n + 1], y[n + 2], refill, column.root_zone_air(s))
        )
        suction.append(s)

    store, mix, taken, over, refills, air = np.array(rows).T
    given = sum(before) + np.cumsum(rain + refills + trickle)
    closure = float(np.abs(given - store - mix - taken - over).max())
    if not closure < CLOSURE:
        raise RuntimeError(f"the water account is {closure * 1000:.3f} mm off")
    daily = lambda total: np.diff(total, prepend=0.0)  # noqa: E731
    return Run(
        store, mix, daily(taken), daily(over), refills, air, np.array(suction), before, closure
    )
