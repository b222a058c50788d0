r"""One implicit step of a column of cells beside its store: small compiled functions.

Cells run from the surface (0) down to the foot of the mix. The unknowns are the fractional index q
of each cell on the table of its mix, and the level h of the store. Every update moves water by
fluxes that two neighbours share, so water is conserved whatever the iteration did:

.. math::

    w_i (\theta_i - \theta_i^0) = \Delta t\,(j_{i+1} - j_i + e_i - u_i), \qquad
    V(h) - V^0 = -\Delta t \left(\sum e_i + o\right)

with j the flux upward through the top of a cell, e the exchange with open water, u the uptake and
o the overflow. After each pass the water carried forward is what the linearised fluxes give; how
far the curves are from it is the mismatch, which is bounded, and enters the next pass.

Numbers in, numbers out; nothing here checks, allocates or knows a unit other than metres and days.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.column.compiled import compiled, inlined
from bedtide.column.hydraulics import DK, DS, DTHETA, NODES, THETA, F, K, S

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# Rows of the geometry of one bed, filled by `geometry`; columns are its cells.
CENTRE, HEIGHT, WATER, REACH, PATH, BELOW, LOW, HIGH, LATERAL, MIX, BEND = range(11)
PER_REACH, PER_WATER = 11, 12
GEOMETRY = 13

# Rows of the scratch of one column: values at the iterate, fluxes and their slopes, the solution.
(
    Q, S_, DS_, TH, DTH, K_, DK_, F_, ROOT, TAKE, DTAKE,
    FLUX, FLUX_HERE, FLUX_ABOVE, EX, EX_Q, EX_H,
    DIAG, LOWER, BORDER, RHS, DQ, HELD, CARRY, Q_START, OFF, KBAR,
) = range(27)  # fmt: skip
SCRATCH = 27

OVERFLOW_RATE = 1000.0
"""Weir of the overflow: metres a day for each metre of water over the lip [d-1]."""

NO_LIP = 1e8
"""Height from which on a lip is none [m]."""

HEAD_STORAGE = 1e-5
"""Water that the store takes up per head above the top of its form [1]."""

CONTACT = 1e-3
"""Level over a bare foot of mix at which open water feeds it in full [m]."""

CELL_MISS, STORE_MISS, FLUX_MISS = 1e-5, 1e-5, 2e-5
"""Largest mismatch of an accepted step: of a cell, of the store, of a flux over the step [m]."""

CHANGE_LEAST, DRIER, WETTER = 0.05, 2.0, 0.95
"""Largest change of suction in a pass: this [m], and these shares of the suction [1]."""


class Store(NamedTuple):
    """Open water of one bed: base [m], height of a piece [m], water at the nodes [m]."""

    base: float
    step: float
    curve: Array


class Sky(NamedTuple):
    """What a step brings and asks for: rates over the step [m d-1], limits of uptake [m]."""

    rain: float
    demand: float
    energy: float
    h3: float
    h4: float


@inlined
def held(level: float, store: Store) -> tuple[float, float]:
    """Open water below a level [m] and its slope [1]."""
    at = (level - store.base) / store.step
    last = store.curve.size - 1
    if at >= last:
        return (
            store.curve[last] + HEAD_STORAGE * (level - store.base - last * store.step),
            HEAD_STORAGE,
        )
    if at < 0.0:
        return store.curve[0] + HEAD_STORAGE * (level - store.base), HEAD_STORAGE
    node = int(at)
    low, high = store.curve[node], store.curve[node + 1]
    return low + (at - node) * (high - low), (high - low) / store.step + 1e-12


@compiled
def level_at(water: float, store: Store) -> float:
    """Level [m] at which the store holds this much [m], not above the top of its form."""
    curve = store.curve
    last = curve.size - 1
    if water >= curve[last]:
        return store.base + last * store.step
    if water <= curve[0]:
        return store.base
    low, high = 0, last
    while high - low > 1:
        middle = (low + high) // 2
        if curve[middle] <= water:
            low = middle
        else:
            high = middle
    rise = curve[high] - curve[low]
    part = (water - curve[low]) / rise if rise > 0.0 else 0.0
    return store.base + (low + part) * store.step


@inlined
def look_up(table: Array, q: float) -> tuple[float, float, float, float, float, float, float]:
    """Suction, water content, conductivity, their slopes over q, and the flux potential."""
    if q < 0.0:
        row, t = 0, q
    else:
        row = min(int(q) + 1, NODES)
        t = q - (row - 1)
    ds, k, dk = table[row, DS], table[row, K], table[row, DK]
    return (
        table[row, S] + t * ds,
        ds,
        table[row, THETA] + t * table[row, DTHETA],
        table[row, DTHETA],
        k + t * dk,
        dk,
        table[row, F] + ds * t * (k + 0.5 * dk * t),
    )


@compiled
def place_of(table: Array, theta: float) -> float:
    """Fractional index at which a mix holds this water content; the inverse of the table."""
    if theta >= table[0, THETA]:
        return max((theta - table[0, THETA]) / table[0, DTHETA], -20.0)
    low, high = 1, NODES
    while high - low > 1:
        middle = (low + high) // 2
        if table[middle, THETA] >= theta:
            low = middle
        else:
            high = middle
    return (low - 1) + min(max((theta - table[low, THETA]) / table[low, DTHETA], 0.0), 1.0)


@compiled
def index_of(suction: float) -> float:
    """Fractional index of a suction [m] on the shared nodes; the same for every mix."""
    scale, stretch = 0.02, 0.05
    if suction <= 0.0:
        return suction / (scale * np.sinh(stretch))
    node = int(np.arcsinh(suction / scale) / stretch)
    low, high = scale * np.sinh(stretch * node), scale * np.sinh(stretch * (node + 1))
    return node + (suction - low) / (high - low)


@inlined
def mean_conductivity(
    s_a: float, k_a: float, f_a: float, s_b: float, k_b: float, f_b: float
) -> tuple[float, float, float]:
    """Integral mean of K between two suctions [m d-1], and its slopes over either [d-1]."""
    apart = s_b - s_a
    if abs(apart) > 1e-7 + 1e-6 * abs(s_a):
        over = 1.0 / apart
        mean = (f_b - f_a) * over
        return mean, (mean - k_a) * over, (k_b - mean) * over
    return 0.5 * (k_a + k_b), 0.0, 0.0


@inlined
def face(tables: Array, g: Array, w: Array, i: int, lagged: bool) -> tuple[float, float, float]:
    """Flux up through the top of cell i [m d-1], and its slopes over q of i and of the cell above.

    Where two mixes meet, the two one-sided fluxes are combined harmonically.
    """
    u = i - 1
    s_a, s_b, ds_a, ds_b = w[S_, i], w[S_, u], w[DS_, i], w[DS_, u]
    per_reach = g[PER_REACH, i]
    gradient = (s_b - s_a) * per_reach - 1.0
    if lagged:
        k = w[KBAR, i] * g[PATH, i]
        return k * gradient, -k * ds_a * per_reach, k * ds_b * per_reach
    if g[MIX, i] == g[MIX, u]:
        mean, by_a, by_b = mean_conductivity(s_a, w[K_, i], w[F_, i], s_b, w[K_, u], w[F_, u])
    else:
        below, above = tables[int(g[MIX, i])], tables[int(g[MIX, u])]
        _, _, _, _, k_b, _, f_b = look_up(below, w[Q, u])
        _, _, _, _, k_a, _, f_a = look_up(above, w[Q, i])
        m1, m1_a, m1_b = mean_conductivity(s_a, w[K_, i], w[F_, i], s_b, k_b, f_b)
        m2, m2_a, m2_b = mean_conductivity(s_a, k_a, f_a, s_b, w[K_, u], w[F_, u])
        part = g[BELOW, i]
        mean = 1.0 / (part / m1 + (1.0 - part) / m2)
        c1, c2 = part * (mean / m1) ** 2, (1.0 - part) * (mean / m2) ** 2
        by_a, by_b = c1 * m1_a + c2 * m2_a, c1 * m1_b + c2 * m2_b
    w[KBAR, i] = mean
    path, grade = g[PATH, i], mean * per_reach
    return (
        path * mean * gradient,
        path * ds_a * (by_a * gradient - grade),
        path * ds_b * (by_b * gradient + grade),
    )


@inlined
def exchange(
    level: float, s: float, ds: float, centre: float, low: float, high: float, lateral: float
) -> tuple[float, float, float]:
    """Water from the store into a cell [m d-1], and its slopes over q of the cell and over h.

    Under water by the difference of heads; above it only mix under pressure lets water go.
    """
    if lateral <= 0.0:
        return 0.0, 0.0, 0.0
    head = level - centre + s
    if level >= high:
        return lateral * head, lateral * ds, lateral
    if level < low:  # at its foot there is no water yet, but a slope
        seep = max(-s, 0.0)
        return -lateral * seep, lateral * ds if s < 0.0 else 0.0, 0.0
    tall = high - low
    under = (level - low) / tall
    value, by_s, by_h = under * head, under, head / tall + under
    press = -s - 0.5 * under * tall
    if press > 0.0:
        value -= (1.0 - under) * press
        by_s += 1.0 - under
        by_h += press / tall + 0.5 * (1.0 - under)
    return lateral * value, lateral * by_s * ds, lateral * by_h


@inlined
def through_ceiling(
    level: float, s: float, ds: float, centre: float, foot: float, conductance: float
) -> tuple[float, float, float]:
    """Water into a cell whose foot lies over open void [m d-1], and its slopes over q and h."""
    if level >= foot:
        touch = min((level - foot) / CONTACT, 1.0)
        head = level - centre + s
        if head > 0.0:  # water is drawn up only as far as it touches the mix
            fade = head / CONTACT if touch < 1.0 else 0.0
            return (
                conductance * touch * head,
                conductance * touch * ds,
                (conductance * (touch + fade)),
            )
        return conductance * head, conductance * ds, conductance
    head = foot - centre + s
    if head < 0.0:
        return conductance * head, conductance * ds, 0.0
    return 0.0, 0.0, 0.0


@compiled
def infiltration_capacity(g: Array, w: Array, table: Array, pond: float) -> tuple[float, float]:
    """Most that the surface cell takes in under a film of water [m d-1], and its slope over q."""
    half = g[REACH, 0]
    s, ds, k = w[S_, 0], w[DS_, 0], w[K_, 0]
    top = -max(pond, 0.0)
    f_top = table[0, F] + table[0, K] * top
    mean, _, by_s = mean_conductivity(top, table[0, K], f_top, s, k, w[F_, 0])
    gradient = (s - top) / half + 1.0
    return mean * gradient, ds * (by_s * gradient + mean / half)


@compiled
def evaporation_capacity(
    g: Array, w: Array, dry: tuple[float, float, float]
) -> tuple[float, float]:
    """Most that the surface cell passes to an air-dry surface [m d-1], and its slope over q."""
    half = g[REACH, 0]
    s, ds, k = w[S_, 0], w[DS_, 0], w[K_, 0]
    if s >= dry[0]:
        return 0.0, 0.0
    mean = (dry[2] - w[F_, 0]) / (dry[0] - s)
    by_s = (mean - k) / (dry[0] - s)
    gradient = (dry[0] - s) / half - 1.0
    return mean * gradient, ds * (by_s * gradient - mean / half)


@inlined
def look(tables: Array, g: Array, w: Array, i: int, h3: float, h4: float) -> None:
    """Values of cell i at its iterate: the curves of its mix and the share of its roots' uptake."""
    s, ds, theta, dtheta, k, dk, f = look_up(tables[int(g[MIX, i])], w[Q, i])
    w[S_, i], w[DS_, i], w[TH, i], w[DTH, i] = s, ds, theta, dtheta
    w[K_, i], w[DK_, i], w[F_, i] = k, dk, f
    root = w[ROOT, i]
    if root > 0.0 and s > h3:
        if s < h4:
            w[TAKE, i] = root * (h4 - s) / (h4 - h3)
            w[DTAKE, i] = -root * ds / (h4 - h3)
        else:
            w[TAKE, i] = 0.0
            w[DTAKE, i] = 0.0
    else:
        w[TAKE, i] = root
        w[DTAKE, i] = 0.0


@inlined
def surface(
    tables: Array, g: Array, w: Array, dry: tuple[float, float, float],
    sky: Sky, pond: float, dt: float,
) -> tuple[float, float, float, float, float]:  # fmt: skip
    """Evaporation of the pond and of the mix, infiltration [m d-1]; slopes of the last two over q.

    A pond evaporates first. What is left of it and of the rain goes in as far as the mix can take
    it; the mix evaporates what energy asks for and what it can pass up, whichever is less.
    """
    offer = max(pond, 0.0) / dt + sky.rain
    from_pond = min(sky.energy, offer) if pond > 1e-9 else 0.0
    offer -= from_pond
    evaporation, by_q = sky.energy - from_pond, 0.0
    if evaporation > 0.0:
        most, slope = evaporation_capacity(g, w, dry)
        if most < evaporation:
            evaporation, by_q = most, slope
    infiltration, in_by_q = offer, 0.0
    if offer > 0.0 or w[S_, 0] < 0.0:
        most, slope = infiltration_capacity(g, w, tables[int(g[MIX, 0])], pond)
        if most < offer:
            infiltration, in_by_q = most, slope
    return from_pond, evaporation, infiltration, by_q, in_by_q


@compiled
def attempt(
    tables: Array, g: Array, w: Array, n: int, store: Store, ceiling: tuple[int, float, float],
    dry: tuple[float, float, float], bends: Array, sky: Sky, water: float, level: float,
    pond: float, lip: float, dt: float, passes: int, damped: bool, out: Array,
) -> tuple[int, float]:  # fmt: skip
    """Try one step; the passes that it took (0 if it failed) and the level after it.

    Leaves the water carried forward in ``w[CARRY]`` and in `out`: open water, pond, and over the
    step transpiration, evaporation, overflow, rise, infiltration [m].
    """
    miss_before = 0.0
    for i in range(n):
        miss_before = max(miss_before, abs(g[WATER, i] * (w[TH, i] - w[HELD, i])))
    allowed = max(CELL_MISS, miss_before)
    for turn in range(passes):
        lagged = damped and turn > 0
        from_pond, evap, infil, evap_q, infil_q = surface(tables, g, w, dry, sky, pond, dt)
        over = OVERFLOW_RATE * max(level - lip, 0.0)
        in_store, slope = held(level, store)
        s_diag = slope + (dt * OVERFLOW_RATE if level > lip else 0.0)
        s_rhs = water - in_store - dt * over
        spare = 0.0  # entry of the store's row in the column of the cell at hand
        # From the surface down: assemble a row, take out the cell above it.
        flux, here, above = evap - infil, evap_q - infil_q, 0.0
        for i in range(n):
            w[FLUX, i], w[FLUX_HERE, i], w[FLUX_ABOVE, i] = flux, here, above
            ex, ex_q, ex_h = exchange(
                level, w[S_, i], w[DS_, i], g[CENTRE, i], g[LOW, i], g[HIGH, i], g[LATERAL, i]
            )
            if i == ceiling[0]:
                more, more_q, more_h = through_ceiling(
                    level, w[S_, i], w[DS_, i], g[CENTRE, i], ceiling[1], ceiling[2]
                )
                ex, ex_q, ex_h = ex + more, ex_q + more_q, ex_h + more_h
            w[EX, i], w[EX_Q, i], w[EX_H, i] = ex, ex_q, ex_h
            take = sky.demand * w[TAKE, i]
            row = g[WATER, i] * (w[HELD, i] - w[TH, i]) - dt * (flux + take - ex)
            diag = g[WATER, i] * w[DTH, i] + dt * (here + sky.demand * w[DTAKE, i] - ex_q)
            border = -dt * ex_h
            lower = dt * above
            if i + 1 < n:
                flux, here, above = face(tables, g, w, i + 1, lagged)
                row += dt * flux
                diag -= dt * above
                w[LOWER, i] = -dt * here
            else:
                w[LOWER, i] = 0.0
            entry = dt * ex_q
            if i > 0:
                ratio = lower * w[DIAG, i - 1]
                diag -= ratio * w[LOWER, i - 1]
                row -= ratio * w[RHS, i - 1]
                border -= ratio * w[BORDER, i - 1]
                entry += spare
            inverse = 1.0 / diag
            w[DIAG, i], w[RHS, i], w[BORDER, i] = inverse, row, border
            ratio = entry * inverse
            spare = -ratio * w[LOWER, i]
            s_diag += dt * ex_h - ratio * border
            s_rhs -= dt * ex + ratio * row
        rise_h = s_rhs / s_diag
        if not abs(rise_h) < 1e9:
            return 0, level
        new_level = level + rise_h
        for b in range(bends.size):  # the level stops where the form changes
            if (level - bends[b]) * (new_level - bends[b]) < 0.0 and abs(level - bends[b]) > 1e-9:
                new_level = bends[b]
        if damped:
            new_level = level + 0.7 * (new_level - level)
        dh = new_level - level
        # Back up: the solution, its limits, the fluxes that it gives, the look-up for the next.
        worst = 0.0
        taken, rise, taken_new = 0.0, 0.0, 0.0
        dq_below = 0.0
        flux_in = 0.0
        full_below = 0.0
        for i in range(n - 1, -1, -1):
            dq = (w[RHS, i] - w[LOWER, i] * full_below - w[BORDER, i] * rise_h) * w[DIAG, i]
            full_below = dq
            if not abs(dq) < 1e12:
                return 0, level
            if damped:
                dq *= 0.7
            s, ds = w[S_, i], w[DS_, i]
            most = CHANGE_LEAST + (DRIER if dq > 0.0 else WETTER) * abs(s)
            if abs(dq) * ds > most:
                dq = most / ds if dq > 0.0 else -most / ds
            if abs(dq * ds) > 0.02:
                bend = g[BEND, i]
                if (w[Q, i] - bend) * (w[Q, i] + dq - bend) < 0.0 and abs(
                    w[Q, i] - bend
                ) > 0.01 * bend:
                    dq = bend - w[Q, i]
            w[DQ, i] = dq
            if i + 1 < n:
                # the face between this cell and the one below, both now known
                lin = w[FLUX, i + 1] + w[FLUX_HERE, i + 1] * dq_below + w[FLUX_ABOVE, i + 1] * dq
                w[CARRY, i + 1] -= dt * lin * g[PER_WATER, i + 1]
                miss = abs(g[WATER, i + 1] * (w[TH, i + 1] - w[CARRY, i + 1]))
                worst = max(worst, miss)
                flux_in = lin
            share = w[TAKE, i] + w[DTAKE, i] * dq
            took = sky.demand * min(max(share, 0.0), w[ROOT, i])
            ex = w[EX, i] + w[EX_Q, i] * dq + w[EX_H, i] * dh
            taken += took
            rise += ex
            w[CARRY, i] = w[HELD, i] + dt * (flux_in + ex - took) * g[PER_WATER, i]
            w[Q, i] += dq
            dq_below = dq
            look(tables, g, w, i, sky.h3, sky.h4)
            taken_new += sky.demand * w[TAKE, i]
        evap_lin = min(max(evap + evap_q * dq_below, 0.0), sky.energy)
        infil_lin = infil + infil_q * dq_below
        w[CARRY, 0] -= dt * (evap_lin - infil_lin) / g[WATER, 0]
        worst = max(worst, abs(g[WATER, 0] * (w[TH, 0] - w[CARRY, 0])))
        over_lin = max(over + (OVERFLOW_RATE * dh if level > lip else 0.0), 0.0)
        left = water - dt * (rise + over_lin)
        level = new_level
        # Written so that what is not a number is never accepted.
        if not (worst <= allowed and dt * abs(taken - taken_new) <= FLUX_MISS):
            continue
        if not abs(held(level, store)[0] - left) <= STORE_MISS:
            continue
        if not dt * abs(over_lin - OVERFLOW_RATE * max(level - lip, 0.0)) <= FLUX_MISS:
            continue
        _, evap_new, infil_new, _, _ = surface(tables, g, w, dry, sky, pond, dt)
        if not dt * max(abs(evap_new - evap_lin), abs(infil_new - infil_lin)) <= FLUX_MISS:
            continue
        out[0] = left
        out[1] = pond + dt * (sky.rain - infil_lin - from_pond)
        out[2] = dt * taken
        out[3] = dt * (evap_lin + from_pond)
        out[4] = dt * over_lin
        out[5] = dt * rise
        out[6] = dt * infil_lin
        return turn + 1, level
    return 0, level


@compiled
def safe_step(
    tables: Array, g: Array, w: Array, n: int, store: Store, ceiling: tuple[int, float, float],
    dry: tuple[float, float, float], sky: Sky, water: float, level: float, pond: float,
    lip: float, dt: float, out: Array,
) -> float:  # fmt: skip
    """Move water explicitly where no implicit step was found; the level after it.

    No flux moves more than a quarter of what its giver holds or its taker has room for.
    """
    for i in range(n):
        w[Q, i] = place_of(tables[int(g[MIX, i])], w[HELD, i])
        look(tables, g, w, i, sky.h3, sky.h4)
        w[CARRY, i] = w[HELD, i]
        table = tables[int(g[MIX, i])]
        w[RHS, i] = 0.25 * g[WATER, i] * max(table[0, THETA] - w[HELD, i], 0.0)
        w[DIAG, i] = 0.25 * g[WATER, i] * max(w[HELD, i] - table[NODES, THETA], 0.0)
    top = store.curve[store.curve.size - 1]
    space = 1e9 if lip < NO_LIP else max(top - water, 0.0)
    from_pond, evap, infil, _, _ = surface(tables, g, w, dry, sky, pond, dt)
    evap = min(dt * evap, w[DIAG, 0])
    infil = min(max(dt * infil, 0.0), w[RHS, 0])
    w[CARRY, 0] += (infil - evap) / g[WATER, 0]
    taken, rise = 0.0, 0.0
    for i in range(n):
        if i + 1 < n:
            flux = dt * face(tables, g, w, i + 1, False)[0]
            if flux > 0.0:
                flux = min(flux, min(w[DIAG, i + 1], w[RHS, i]))
            else:
                flux = -min(-flux, min(w[DIAG, i], w[RHS, i + 1]))
            w[CARRY, i] += flux / g[WATER, i]
            w[CARRY, i + 1] -= flux / g[WATER, i + 1]
        ex, _, _ = exchange(
            level, w[S_, i], w[DS_, i], g[CENTRE, i], g[LOW, i], g[HIGH, i], g[LATERAL, i]
        )
        if i == ceiling[0]:
            ex += through_ceiling(level, w[S_, i], w[DS_, i], g[CENTRE, i], ceiling[1], ceiling[2])[
                0
            ]
        ex *= dt
        if ex > 0.0:
            ex = min(ex, min(w[RHS, i], 0.25 * max(water, 0.0) / n))
        else:
            ex = -min(-ex, min(w[DIAG, i], 0.25 * space / n))
        take = min(dt * sky.demand * w[TAKE, i], w[DIAG, i])
        w[CARRY, i] += (ex - take) / g[WATER, i]
        taken += take
        rise += ex
    left = water - rise
    over = 0.0
    if lip < NO_LIP:
        over = max(left - held(lip, store)[0], 0.0)
        left -= over
    for i in range(n):
        w[Q, i] = place_of(tables[int(g[MIX, i])], w[CARRY, i])
        look(tables, g, w, i, sky.h3, sky.h4)
    out[0] = left
    out[1] = pond + dt * (sky.rain - from_pond) - infil
    out[2] = taken
    out[3] = evap + dt * from_pond
    out[4] = over
    out[5] = rise
    out[6] = infil
    return level_at(left, store)
