r"""Independent solution of the Richards equation in a sub-irrigated bed, to check the daily model.

Nothing here is shared with bedtide: own formulas for the mix, own geometry of the pipes, another
method (a hundred finite volumes in height; in time two implicit stages a step, of second order,
the step as short as its measured error asks). Only numpy and scipy.

A column of unit plan area, heights z upward from the floor [m], suction head s [m] positive when
dry, water per plan area [m], days. Of each height the share f_m(z) is mix and f_v(z) is void of the
pipes, open water up to the level h, :math:`R(h) = \int_0^h f_v dz`.

.. math::

    f_m \frac{\partial\theta}{\partial t} = -\frac{\partial q}{\partial z} + e - u, \qquad
    q = f_m K(s) \left(\frac{\partial s}{\partial z} - 1\right), \qquad
    \frac{dR}{dt} = -\int e\,dz - o

with q the flux upward, nought at the floor. Up to the crown of the pipes stands one mix, above it
another; a cell lies half on either side of the join, so that suction is one there and flux is kept.

The exchange with the open water runs through the perforated walls: where a height is under
water :math:`e = G (h - z + s)`; where it is not, mix under pressure seeps into the pipe,
:math:`e = -G \max(-s, 0)`. G is so large that it hardly matters (see the tests); that of 20 mm of
loam between two pipes is about as large, of potting mixes larger. The overflow is
:math:`o = 1000 d^{-1} (h - z_o)` while that is positive.

Uptake :math:`u = T_p(t) g(z) \alpha(s)`: g falls in a straight line from the surface to nought at
the lower end of the roots, :math:`\alpha` is the dry branch of Feddes et al. (1978).

On the surface stands a pond. Rain enters it and leaves it for the mix, at no more than the top
half cell lets through under the head of the pond; above the freeboard it spills. Evaporation takes
from the pond first, then from the mix: the energy of the hour, at most what the half cell passes to
a surface in air at 50 % humidity. Here as at all faces K is the mean over suction.

Demand and energy run from 6 to 18 h as a squared sine, rain at a constant rate in hours of its own,
where a step ends.

The unknown of each cell is asinh(s / 0.05 m), which follows a saturated and a parched cell alike;
what is balanced is its water. So that each change of suction is one of water, saturated mix takes
up 0.1 % per metre of pressure and dry mix gives 0.001 % when suction rises e times: 0.05 mm in a
bed, more only where fine mix is under water up to the surface.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from scipy.linalg import solve_banded

from numeric.laws import DAYLIGHT, DRY_SURFACE, Array, Feddes, Medium, Shape, least

SCALE = 0.05  # of suction in the unknown asinh(s / SCALE) [m]
WETTEST, DRIEST = -5.0, 13.0  # of that unknown: -3.7 and 11,000 m
STORAGE = 1e-3  # of saturated mix per head [m-1]
TAPER = 0.01  # suction over which that storage fades [m]
ADSORBED = 1e-5  # of water that parched mix gives for suction e times as high [1]
OVERFLOW_RATE = 1000.0  # of the level above the lip [d-1]
SPILL_RATE = 1000.0  # of the pond above the freeboard [d-1]
POND_RATE = 5000.0  # how fast a pond that the mix takes in is gone [d-1]
POND_FILM = 1e-4  # pond below which evaporation turns to the mix [m]
LAST_FILM = 1e-4  # open water below which it no longer feeds the mix in full [m]
TOLERANCE = 5e-6  # water that a step may misplace [m]
RESIDUAL = 5e-7  # of the balance of a cell in a step, over its thickness [1]
LONGEST, SHORTEST = 1 / 24, 1e-12  # steps [d]
PASSES, WHOLE = 16, 4  # of Newton's method in a stage; from then on halved where they circle
CLOSURE = 1e-4  # water that may appear or vanish in a run [m]


def segment(height: Array, diameter: float) -> Array:
    """Area of a circle below `height` above its lowest point [m2]: r2 (a - sin a cos a)."""
    half = np.arccos(np.clip(1 - 2 * height / diameter, -1.0, 1.0))
    return 0.25 * diameter**2 * (half - np.sin(half) * np.cos(half))


def graded(surface: float, crown: float, fine: float) -> Array:
    """Faces of cells 0.3 mm thick at the surface and 2 mm at the join, up to 5.5 mm between."""
    top, join, most = fine * 0.0003, fine * 0.002, fine * 0.0055

    def part(low: float, high: float) -> Array:
        z = np.linspace(low, high, 4001)[1:]
        growing = np.minimum(top + 0.15 * (surface - z), join + 0.15 * abs(z - crown))
        count = np.cumsum((high - low) / 4000 / np.minimum(growing, most))
        cells = int(np.ceil(count[-1]))
        return np.interp(np.linspace(0, count[-1], cells + 1), np.r_[0.0, count], np.r_[low, z])

    return np.r_[part(0.0, crown - join / 2), part(crown + join / 2, surface)]


class Table:
    """K of a mix and phi, K summed from s to DRIEST, over u = asinh(s / SCALE)."""

    def __init__(self, medium: Medium, nodes: int = 9001) -> None:
        nodes_u = np.linspace(WETTEST, DRIEST, nodes)
        self.step = (DRIEST - WETTEST) / (nodes - 1)
        slope = lambda u: medium.conductivity(SCALE * np.sinh(u)) * SCALE * np.cosh(u)  # noqa: E731
        at, weight = np.polynomial.legendre.leggauss(5)
        parts = slope(nodes_u[:-1, None] + self.step * (at + 1) / 2) @ weight * self.step / 2
        self.phi = np.r_[np.cumsum(parts[::-1])[::-1], 0.0]
        self.slope = -slope(nodes_u) * self.step
        self.k_full = float(medium.conductivity(np.zeros(1))[0])
        ends = self.flow(np.arcsinh(np.array([0.0, DRY_SURFACE]) / SCALE))[0]
        self.phi_full, self.phi_dry = float(ends[0]), float(ends[1])

    def flow(self, u: Array) -> tuple[Array, Array]:
        """phi [m2 d-1] and K [m d-1], cubic between nodes."""
        x = (u - WETTEST) / self.step
        j = np.minimum(x.astype(int), self.phi.size - 2)
        x = x - j
        low, a, b = self.phi[j], self.slope[j], self.slope[j + 1]
        rise = self.phi[j + 1] - low
        c, d = 3 * rise - 2 * a - b, a + b - 2 * rise
        k = -(a + x * (2 * c + 3 * x * d)) / (self.step * SCALE * np.cosh(u))
        return low + x * (a + x * (c + x * d)), k


def mean_k(drop: Array, away: Array, middle: Array) -> Array:
    """Mean of K over suction between places whose phi differs by `drop`, suction by `away`."""
    near = np.abs(away) < 1e-6
    return np.where(near, middle, drop / np.where(near, 1.0, away))


class Forcing(NamedTuple):
    """Of a moment [m d-1]; demand is the mean of the day."""

    rain: float
    demand: float
    uptake: float
    energy: float
    trickle: float


@dataclass(frozen=True)
class Column:
    """A bed cut into cells; lengths in m, `pipe_share` of the floor is pipe.

    `fine` multiplies the thickness of the cells, `rounding` is the width of the switches.
    """

    wick: Medium
    top: Medium
    feddes: Feddes
    surface: float
    lip: float
    pipe_share: float
    inside: float
    outside: float
    root_depth: float = np.inf
    freeboard: float = 0.03
    conductance: float = 400.0  # G of the pipe walls [m-1 d-1]
    fine: float = 1.0
    rounding: float = 0.01
    faces: Array = field(init=False)
    z: Array = field(init=False)
    dz: Array = field(init=False)
    join: int = field(init=False)  # cell that lies across the crown
    mix_share: Array = field(init=False)  # of the cells, mean
    top_part: float = field(init=False)  # of the mix of the cell at the join
    mix_share_faces: Array = field(init=False)
    walls: Array = field(init=False)  # 1 where a cell touches open void
    roots: Array = field(init=False)  # g [m-1]
    levels: tuple[Array, Array] = field(init=False)  # height and open store R(h)
    tables: tuple[Table, Table] = field(init=False)

    def __post_init__(self) -> None:
        put = lambda name, value: object.__setattr__(self, name, value)  # noqa: E731
        crown, wall = self.outside, (self.outside - self.inside) / 2
        faces = graded(self.surface, crown, self.fine)
        join = int(np.searchsorted(faces, crown)) - 1
        put("faces", faces)
        put("z", (faces[1:] + faces[:-1]) / 2)
        put("dz", np.diff(faces))
        per_pipe = self.pipe_share / self.outside
        inside = per_pipe * segment(faces - wall, self.inside)
        outside = per_pipe * segment(faces, self.outside)
        put("mix_share", 1 - np.diff(outside) / self.dz)
        put("join", join)
        put("top_part", (faces[join + 1] - crown) / (self.dz * self.mix_share)[join])
        chord = 2 * np.sqrt(np.maximum(faces * (self.outside - faces), 0.0))
        put("mix_share_faces", 1 - per_pipe * chord)
        put("walls", (np.diff(inside) > 1e-9 * self.dz).astype(float))
        roots = np.clip(self.z - max(self.lip, self.surface - self.root_depth), 0.0, None)
        put("roots", roots / (roots @ self.dz))
        height = np.linspace(wall, wall + self.inside, 2001)
        put("levels", (height, per_pipe * segment(height - wall, self.inside)))
        wick = Table(self.wick)
        put("tables", (wick, wick if self.top == self.wick else Table(self.top)))

    @property
    def cells(self) -> int:
        return self.z.size

    def level(self, store: Array) -> Array:
        """Height of open water that holds `store` [m]."""
        return np.interp(store, self.levels[1], self.levels[0])

    def open_store(self, level: float) -> float:
        """Open water below `level` [m]."""
        return float(np.interp(level, *self.levels))

    def water_content(self, s: Array) -> Array:
        """Of the mix of the cells, with what pressure adds and parching takes [1]."""
        j = self.join
        below, above = self.wick.water_content(s[: j + 1]), self.top.water_content(s[j:])
        both = (1 - self.top_part) * below[j:] + self.top_part * above[:1]
        dry = np.maximum(s, 0.0)
        pressed = np.maximum(-s, 0.0) - TAPER * (1 - np.exp(-dry / TAPER))
        more = STORAGE * pressed - ADSORBED * np.log1p(dry)
        return np.concatenate([below[:j], both, above[1:]]) + more

    def water(self, x: Array) -> Array:
        """Water of cells, pond and store at unknowns x (cells + 2, k): u, pond, store [m]."""
        cells = (self.mix_share * self.dz)[:, None] * self.water_content(SCALE * np.sinh(x[:-2]))
        return np.concatenate([cells, x[-2:]])

    def root_zone_air(self, s: Array) -> float:
        """Air share of the mix that holds roots, mean over its volume [1]."""
        rooted = self.mix_share * (self.roots > 0) * self.dz
        air = self.water_content(0 * s) - self.water_content(s)
        return float((rooted @ np.maximum(air, 0.0)) / rooted.sum())

    def flow(self, u: Array, s: Array) -> tuple[Array, Array, Array]:
        """Flux up through the inner faces [m d-1]; phi and K of the top cell."""
        (wick, top), j = self.tables, self.join
        phi, k = top.flow(u if top is wick else u[j:])
        drop, middle = phi[:-1] - phi[1:], (k[:-1] + k[1:]) / 2
        if top is not wick:
            below, slow = wick.flow(u[: j + 1])
            drop = np.concatenate([below[:-1] - below[1:], drop])
            middle = np.concatenate([(slow[:-1] + slow[1:]) / 2, middle])
        q = drop / np.diff(self.z)[:, None] - mean_k(drop, s[1:] - s[:-1], middle)
        return self.mix_share_faces[1:-1, None] * q, phi[-1], k[-1]

    def surface_flow(
        self, phi: Array, k: Array, s: Array, pond: Array, now: Forcing
    ) -> tuple[Array, Array, Array]:
        """Infiltration, evaporation from the pond and from the mix [m d-1]; top cell given."""
        half, of = self.dz[-1] / 2, self.tables[1]
        head = np.maximum(pond, 0.0)
        drop = of.phi_full + of.k_full * head - phi
        into = drop / half + mean_k(drop, head + s, (of.k_full + k) / 2)
        into = least(now.rain + POND_RATE * pond, into, self.rounding)
        drop = phi - of.phi_dry
        lift = drop / half - mean_k(drop, DRY_SURFACE - s, k)
        wetted = np.clip(pond / POND_FILM, 0.0, 1.0)
        from_mix = least(now.energy * (1 - wetted), np.maximum(lift, 0.0), self.rounding)
        return into, now.energy * wetted, from_mix

    def exchange(self, s: Array, store: Array) -> Array:
        """Water from the pipes into the mix [d-1]."""
        h, dz = self.level(store), self.dz[:, None]
        under = np.clip((h - self.faces[:-1, None]) / dz, 0.0, 1.0)  # share of the cell
        dry_middle = under * dz / 2  # of the part above water, over that of the cell
        e = under * (h - self.z[:, None] + s) - (1 - under) * np.maximum(-s - dry_middle, 0.0)
        e *= self.conductance * self.walls[:, None]
        return np.where(e > 0, e * np.clip(store / LAST_FILM, 0.0, 1.0), e)

    def rates(self, x: Array, now: Forcing) -> tuple[Array, Array, Array]:
        """Gains of cells, pond and store; what leaves; exchange of the cells [m d-1].

        x as for `water`, k states at once. What leaves (4, k): is taken up, evaporates, runs over
        the lip, spills over the rim.
        """
        u, pond, store = x[:-2], x[-2], x[-1]
        s, dz = SCALE * np.sinh(u), self.dz[:, None]
        q, phi, k = self.flow(u, s)
        into, from_pond, from_mix = self.surface_flow(phi, k, s[-1], pond, now)
        e = self.exchange(s, store) * dz
        taken = now.uptake * self.roots[:, None] * self.feddes.factor(s, now.demand) * dz
        over = OVERFLOW_RATE * np.maximum(self.level(store) - self.lip, 0.0)
        spill = SPILL_RATE * np.maximum(pond - self.freeboard, 0.0)
        gain = np.empty_like(x)
        gain[:-2] = e - taken
        gain[:-3] -= q
        gain[1:-2] += q
        gain[-3] += into - from_mix
        gain[-2] = now.rain - into - from_pond - spill
        gain[-1] = now.trickle - e.sum(0) - over
        return gain, np.array([taken.sum(0), from_pond + from_mix, over, spill]), e


class Point(NamedTuple):
    """The column at a moment."""

    x: Array  # unknowns
    water: Array  # of each [m]
    gain: Array  # its change [m d-1]
    leaves: Array  # see Column.rates


Answer = tuple[Array, Array, Array, Callable[[Array], Array]]


def settle(column: Column, x: Array, known: Array, span: float, now: Forcing) -> Answer | None:
    """x with water(x) = known + span * gain(x), by Newton's method; gain and what leaves there.

    Also a function from a change of the water to that of x. None where no x is found. Slopes are
    differences: a cell acts on its neighbours and, by the exchange, on the store; that on all.
    """
    n = x.size - 1  # cells and pond, in one band; the store borders it
    row, colour = np.arange(n), np.arange(n) % 3
    small = np.r_[np.full(n - 1, 1e-7), 1e-8]
    enough = RESIDUAL * np.r_[column.dz, 0.005, 0.005]
    size = np.inf
    for turn in range(PASSES):
        states = np.repeat(x[:, None], 5, axis=1)
        states[row, colour] += small  # every third at once
        states[n, 3] += 1e-8
        gain, leaves, e = column.rates(states, now)
        left = column.water(states) - span * gain
        off = left[:, 4] - known
        slope = left[:, :3] - left[:, 4:]
        band = np.zeros((3, n))
        band[0, 1:] = slope[row[:-1], colour[1:]] / small[1:]
        band[1] = slope[row, colour] / small
        band[2, :-1] = slope[row[1:], colour[:-1]] / small[:-1]
        by_store = (left[:, 3] - left[:, 4]) / 1e-8
        to_store = span * (e[row[:-1], colour[:-1]] - e[:, 4]) / small[:-1]

        def back(
            off: Array, band: Array = band, by: Array = by_store, to: Array = to_store
        ) -> Array:
            direct, bordered = solve_banded((1, 1), band, np.stack([off[:n], by[:n]], axis=1)).T
            store = (off[n] - to @ direct[:-1]) / (by[n] - to @ bordered[:-1])
            return np.r_[direct - store * bordered, store]

        size, before = float(np.max(np.abs(off) / enough)), size
        if size < 1:
            return x, gain[:, 4], leaves[:, 4], back
        circling = turn >= WHOLE and size > 0.6 * before
        x = moved(x, back(off) * (0.5 if circling else 1.0))
    return None


def moved(x: Array, change: Array) -> Array:
    """x less a change that is held within what the slopes can tell."""
    far = 0.7 + 0.2 * np.abs(x[:-2])
    u = np.clip(x[:-2] - np.clip(change[:-2], -far, far), WETTEST, DRIEST)
    return np.r_[u, x[-2:] - change[-2:]]


def advance(
    column: Column, at: Point, h: float, between: Forcing, then: Forcing
) -> tuple[Point, Array, float] | None:
    """One step: the next point, what left in it [m] and the water misplaced [m].

    Trapezoid to 2 - sqrt(2) of the step, then the second backward difference: Bank et al. (1985),
    error and its damping of Hosea and Shampine (1996), Appl. Numer. Math. 20: 21-37. From memory.
    """
    part, weight = 1 - np.sqrt(0.5), np.sqrt(2) / 4
    first = settle(column, at.x, at.water + part * h * at.gain, part * h, between)
    if first is None:
        return None
    x, gain, leaves, _ = first
    known = at.water + weight * h * (at.gain + gain)
    second = settle(column, x, known, part * h, then)
    if second is None:
        return None
    x, last_gain, last_leaves, back = second
    weights = np.array([weight, weight, part])
    third_order = np.array([1 - weight, 3 * weight + 1, part]) / 3
    gains = h * np.stack([at.gain, gain, last_gain], axis=1)
    left = h * np.stack([at.leaves, leaves, last_leaves], axis=1) @ weights
    change = back(gains @ (weights - third_order))
    both = column.water(np.stack([x, moved(x, change)], axis=1))
    error = float(np.abs(both[:, 1] - both[:, 0]).sum())
    return Point(x, at.water + gains @ weights, last_gain, last_leaves), left, error


class Run(NamedTuple):
    """One row a day, at its end; depths of water [m], fluxes of the day."""

    open_water: Array  # (day,)
    mix_water: Array
    pond: Array
    transpiration: Array
    evaporation: Array
    overflow: Array
    rim_spill: Array
    refill: Array  # in the morning, before all else
    air_root_zone: Array  # [1]
    suction: Array  # (day, cell) [m]
    start: tuple[float, float]  # open water and mix water before the first day
    closure: float  # largest error of the water account [m]


def solve(
    column: Column,
    rain: Array,
    demand: Array,
    energy: Array,
    *,
    rain_hours: tuple[float, float] = (9.0, 15.0),
    refill_below: float | None = None,
    start: Array | None = None,
    trickle: float = 0.0,
    shape: Shape = DAYLIGHT,
    tolerance: float = TOLERANCE,
) -> Run:
    """Solve day by day from a full store and the mix at rest above it (or suction `start`).

    `rain`, `demand` and `energy` [m d-1], one a day. A morning that finds less than the share
    `refill_below` of the store fills it to the lip. `trickle` runs into the store all day [m d-1].
    Raises RuntimeError when no step is short enough or the water account does not close.
    """
    full = column.open_store(column.lip)
    s = column.z - column.lip if start is None else start
    x = np.r_[np.arcsinh(s / SCALE), 0.0, full]
    water = column.water(x[:, None])[:, 0]
    before = (full, float(water[:-2].sum()))
    begin, end = (hour / 24 for hour in rain_hours)

    def forcing(day: int, t: float, falling: float) -> Forcing:
        now = shape(t - day)
        return Forcing(falling, demand[day], demand[day] * now, energy[day] * now, trickle)

    def better(error: float) -> float:
        return float(np.clip(0.9 * (tolerance / (error + 1e-20)) ** (1 / 3), 0.2, 2.5))

    t, h, left = 0.0, 1e-3, np.zeros(4)
    rows, suction = [], []
    for day in range(len(rain)):
        refill = 0.0
        if refill_below is not None and water[-1] < refill_below * full:
            refill = full - water[-1]
            water, x = (np.r_[v[:-1], full] for v in (water, x))
        pieces = [(day + 1.0, 0.0)]
        if rain[day] > 0:
            pieces = [(day + begin, 0.0), (day + end, rain[day] / (end - begin)), *pieces]
        for stop, falling in pieces:
            gain, leaves, _ = (v[:, 0] for v in column.rates(x[:, None], forcing(day, t, falling)))
            at = Point(x, water, gain, leaves)
            h = min(h, 1e-3) if refill or len(pieces) > 1 else h
            while t < stop:
                h = min(h, LONGEST)
                last = t + 1.1 * h > stop
                step = stop - t if last else h
                middle = forcing(day, t + (2 - np.sqrt(2)) * step, falling)
                found = advance(column, at, step, middle, forcing(day, t + step, falling))
                if found is None or found[2] > tolerance:
                    h = step / 4 if found is None else step * better(found[2])
                    if h < SHORTEST:
                        raise RuntimeError(f"day {t:.4f}: no step is short enough")
                    continue
                at, left, t = found[0], left + found[1], stop if last else t + step
                h = max(h if last else 0.0, step * better(found[2]))
            x, water = at.x, at.water
        s = SCALE * np.sinh(x[:-2])
        rows.append((water[:-2].sum(), *water[-2:], refill, column.root_zone_air(s), *left))
        suction.append(s)

    mix, pond, store, refills, air, *total = np.array(rows).T
    given = sum(before) + np.cumsum(rain + refills + trickle)
    closure = float(np.abs(given - store - mix - pond - sum(total)).max())
    if not closure < CLOSURE:
        raise RuntimeError(f"the water account is {closure * 1000:.3f} mm off")
    daily = [np.diff(one, prepend=0.0) for one in total]
    return Run(store, mix, pond, *daily, refills, air, np.array(suction), before, closure)
