"""Half a day of exchange between open water, lower and upper mix, from every state of the three."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bedtide.profile.grid import Array, Grid
from bedtide.profile.lower import FLUX, SUCTION, Lower
from bedtide.profile.upper import Upper

HALF_DAY = 0.5
"""Length of one relaxation [d]; the day's rain and uptake fall between two of them."""

_FAST = 0.02  # a flux that turned around by more than this was not followed by its step [m d-1]
_HALVINGS = 8
_LITTLE = 2e-5  # water that moves in a step and is not worth a second look [m]
_STEPS = 20
_GROWTH = 1.22  # each step is so much longer than the last: the state starts far from rest


@dataclass(frozen=True, eq=False)
class Stores:
    """Rates of exchange of the three stores.

    Attributes
    ----------
    grid : Grid
        The column.
    lower, upper : Lower, Upper
        Their curves.
    levels : int
        Number of levels that `lower` holds, even in the square root of the usable store.
    hanging : float
        Water in the lower store under which none of it stands free when the reservoir is empty [m].
    climb_empty : ndarray, shape (lower water, upper water)
        Flux through the split with an empty reservoir, positive up [m d-1].
    suction_empty : ndarray, shape (lower water, upper water)
        Transformed suction at the split with an empty reservoir.
    """

    grid: Grid
    lower: Lower
    upper: Upper
    levels: int
    hanging: float
    climb_empty: Array
    suction_empty: Array


@dataclass(frozen=True, eq=False)
class _Spot:
    """Where values lie on an even axis: node below, and how far on to the next."""

    node: NDArray[np.intp]
    part: Array
    scale: float


def joined(grid: Grid, lower: Lower, upper: Upper, *, hanging: float) -> Stores:
    """The curves of two stores, joined at the split.

    Parameters
    ----------
    grid : Grid
        The column.
    lower, upper : Lower, Upper
        Their curves.
    hanging : float
        Water in the lower store at rest over an empty reservoir [m].

    Returns
    -------
    Stores
        With the joint solution for an empty reservoir, found by bisection: there the suction at
        the split depends on the very flux that it drives.
    """
    shape = (lower.water.size, upper.water.size)
    rows, columns = np.indices(shape)
    low, high = np.zeros(shape), np.full(shape, lower.fluxes[-1])

    def climb(flux: Array) -> tuple[Array, Array]:
        at = np.clip(np.searchsorted(lower.fluxes, flux) - 1, 0, lower.fluxes.size - 2)
        part = (flux - lower.fluxes[at]) / (lower.fluxes[at + 1] - lower.fluxes[at])
        suction = lower.empty[SUCTION]
        x = suction[rows, at] * (1.0 - part) + suction[rows, at + 1] * part
        spot = _spot(x, upper.suction)
        table = upper.table[FLUX]
        return (
            table[spot.node, columns] * (1.0 - spot.part)
            + table[spot.node + 1, columns] * spot.part
        ), x

    at_rest, _ = climb(low)
    for _ in range(30):
        middle = 0.5 * (low + high)
        up = climb(middle)[0] > middle
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    flux = np.where(at_rest <= 0.0, at_rest, low)
    _, suction = climb(np.maximum(flux, 0.0))
    return Stores(grid, lower, upper, lower.by_level.shape[1], hanging, flux, suction)


def usable_axis(open_water: Array, grid: Grid, levels: int) -> Array:
    """Place of a store of open water [m] on the axis of levels, counted in nodes."""
    return np.sqrt(np.clip((open_water - grid.dead) / usable(grid), 0.0, 1.0)) * (levels - 1)


def usable(grid: Grid) -> float:
    """Open water at most that the mix can reach [m]; a little where there is none."""
    return max(grid.cap - grid.dead, 1e-6)


def relaxed(stores: Stores, open_water: Array, lower: Array, upper: Array) -> tuple[Array, Array]:
    r"""Exchange over half a day without rain, uptake or refill.

    Parameters
    ----------
    stores : Stores
        Rates of exchange.
    open_water, lower, upper : ndarray, shape (...)
        The three stores [m].

    Returns
    -------
    rise : ndarray, shape (...)
        Water drawn by the lower store from the open water; negative where it drains [m].
    climb : ndarray, shape (...)
        Water drawn by the upper store from the lower; negative where it drains [m].

    Notes
    -----
    :math:`\dot R = -X, \ \dot L = X - Y, \ \dot U = Y`, with :math:`X(R, L)` and
    :math:`Y(R, L, U)` from the profiles, by a linearly implicit step that grows. Open water above
    the lip leaves at once. No store leaves its bounds: what finds no room stays where it was.
    """
    grid = stores.grid
    bounds = (stores.lower.water, stores.upper.water)
    r, m, u = (np.array(part, dtype=np.float64).reshape(-1) for part in (open_water, lower, upper))
    rise, climb = np.zeros_like(r), np.zeros_like(r)
    lengths = _GROWTH ** np.arange(_STEPS)
    for length in HALF_DAY * lengths / lengths.sum():
        x, y = _step(stores, r, m, u, length)
        x, y = _no_further_than_rest(stores, r, m, u, x, y)
        if not np.isfinite(grid.lip):
            x = np.maximum(x, r - grid.cap)
        y = np.clip(y, bounds[1][0] - u, bounds[1][-1] - u)
        over = np.maximum(m + x - y - bounds[0][-1], 0.0)
        less = np.minimum(over, np.maximum(x, 0.0))
        x, y = x - less, y + (over - less)
        short = np.maximum(bounds[0][0] - (m + x - y), 0.0)
        less = np.minimum(short, np.maximum(y, 0.0))
        x, y = x + (short - less), y - less
        r, m, u = np.minimum(r - x, grid.cap), m + x - y, u + y
        rise, climb = rise + x, climb + y
    return rise.reshape(np.shape(open_water)), climb.reshape(np.shape(open_water))


def readings_at(stores: Stores, open_water: Array, lower: Array, upper: Array) -> Array:
    """Readings of both zones, one row each, at states of the three stores.

    Parameters
    ----------
    stores : Stores
        The curves.
    open_water, lower, upper : ndarray, shape (...)
        The three stores [m].

    Returns
    -------
    ndarray, shape (2, readings, ...)
        Of the lower and of the upper zone.
    """
    at_r, at_l, at_u = _spots(stores, open_water, lower, upper)
    x = _bilinear(stores.lower.by_level[SUCTION], at_r, at_l)
    empty = _empty_weight(stores, at_r, lower)
    x = empty * _bilinear(stores.suction_empty, at_l, at_u) + (1.0 - empty) * x
    climb = np.maximum(_bilinear(stores.climb_empty, at_l, at_u), 0.0)
    at_q = np.clip(np.searchsorted(stores.lower.fluxes, climb) - 1, 0, stores.lower.fluxes.size - 2)
    width = np.diff(stores.lower.fluxes)[at_q]
    at_flux = _Spot(at_q, (climb - stores.lower.fluxes[at_q]) / width, 1.0)
    at_x = _spot(x, stores.upper.suction)
    low, high = [], []
    for row in range(stores.upper.table.shape[0] - 1):
        standing = _bilinear(stores.lower.by_level[2 + row], at_r, at_l)
        alone = _bilinear(stores.lower.empty[2 + row], at_l, at_flux)
        low.append(empty * alone + (1.0 - empty) * standing)
        high.append(_bilinear(stores.upper.table[1 + row], at_x, at_u))
    return np.stack([np.stack(low), np.stack(high)])


def _no_further_than_rest(
    stores: Stores, r: Array, m: Array, u: Array, x: Array, y: Array
) -> tuple[Array, Array]:
    """The rise and the climb of a step [m], neither beyond the point where it would turn around.

    Close to saturation a mix holds nearly the same at any suction: a hair more or less water turns
    a flux around, and no slope at the start of a step tells.
    """
    least, most = stores.upper.water[0], stores.upper.water[-1]
    x = np.minimum(x, np.maximum(r - stores.grid.dead, 0.0))
    y = np.clip(y, least - u, most - u)

    def rise_rate(moved: Array, where: Any) -> Array:
        at_r, at_l, _ = _spots(stores, r[where] - moved, m[where] + moved - y[where], u[where])
        return _bilinear(stores.lower.by_level[FLUX], at_r, at_l)

    x = _before_it_turns(rise_rate, x)

    def climb_rate(moved: Array, where: Any) -> Array:
        left = m[where] + x[where] - moved
        return _climb_rate(stores, r[where] - x[where], left, u[where] + moved)

    return x, _before_it_turns(climb_rate, y)


def _before_it_turns(rate: Callable[[Array, Any], Array], amount: Array) -> Array:
    """The amount [m], or the part of it after which a flux [m d-1] is at rest."""
    much = np.flatnonzero(np.abs(amount) > _LITTLE)
    moved = amount[much]
    beyond = rate(moved, much) * np.sign(moved) < -_FAST
    if not beyond.any():
        return amount
    where, part = much[beyond], moved[beyond]
    low, high = np.zeros_like(part), np.ones_like(part)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        turned = rate(part * middle, where) * part < 0.0
        low, high = np.where(turned, low, middle), np.where(turned, middle, high)
    amount = amount.copy()
    amount[where] = part * low
    return amount


def _climb_rate(stores: Stores, r: Array, m: Array, u: Array) -> Array:
    """Flux through the split, positive up [m d-1]."""
    at_r, at_l, at_u = _spots(stores, r, m, u)
    s = _bilinear(stores.lower.by_level[SUCTION], at_r, at_l)
    rate = _bilinear(stores.upper.table[FLUX], _spot(s, stores.upper.suction), at_u)
    empty = _empty_weight(stores, at_r, m)
    if empty.any():
        rate = empty * _bilinear(stores.climb_empty, at_l, at_u) + (1.0 - empty) * rate
    return rate


def _step(stores: Stores, r: Array, m: Array, u: Array, length: float) -> tuple[Array, Array]:
    """One linearly implicit step of the two exchanges [m]."""
    at_r, at_l, at_u = _spots(stores, r, m, u)
    x_rate, x_r, x_l = _with_slopes(stores.lower.by_level[FLUX], at_r, at_l)
    s, s_r, s_l = _with_slopes(stores.lower.by_level[SUCTION], at_r, at_l)
    # The axis of levels is even in the square root of the store: chain rule, bounded at its end.
    stretch = 0.5 / (usable(stores.grid) * np.maximum(at_r.node + at_r.part, 0.5))
    stretch *= (stores.levels - 1) ** 2
    x_r, s_r = x_r * stretch, s_r * stretch
    y_rate, y_s, y_u = _with_slopes(stores.upper.table[FLUX], _spot(s, stores.upper.suction), at_u)
    empty = _empty_weight(stores, at_r, m)
    if empty.any():
        e_rate, e_l, e_u = _with_slopes(stores.climb_empty, at_l, at_u)
        y_rate = empty * e_rate + (1.0 - empty) * y_rate
        y_u = np.minimum(y_u, empty * e_u)
        y_l = empty * e_l + (1.0 - empty) * y_s * s_l
    else:
        y_l = y_s * s_l
    a = 1.0 - length * np.minimum(x_l - x_r, 0.0)
    b = -length * np.maximum(-x_l, 0.0)
    c = -length * np.maximum(y_l - y_s * s_r * (1.0 - empty), 0.0)
    d = 1.0 - length * np.minimum(y_u - y_l, 0.0)
    det = a * d - b * c
    return length * (d * x_rate - b * y_rate) / det, length * (a * y_rate - c * x_rate) / det


def _spots(stores: Stores, r: Array, m: Array, u: Array) -> tuple[_Spot, _Spot, _Spot]:
    place = usable_axis(r, stores.grid, stores.levels)
    node = np.minimum(place.astype(np.intp), stores.levels - 2)
    at_r = _Spot(node, place - node, 1.0)
    return at_r, _spot(m, stores.lower.water), _spot(u, stores.upper.water)


def _empty_weight(stores: Stores, at_r: _Spot, lower: Array) -> Array:
    """One where the reservoir is empty and no water stands free in the mix, else nearly zero."""
    near = np.clip(1.0 - at_r.node - at_r.part, 0.0, 1.0)
    return np.where(lower < stores.hanging, near, 0.0)


def _spot(value: Array, axis: Array) -> _Spot:
    scale = (axis.size - 1) / (axis[-1] - axis[0])
    place = (value - axis[0]) * scale
    place = np.minimum(np.maximum(place, 0.0), axis.size - 1.0)
    node = np.minimum(place.astype(np.intp), axis.size - 2)
    return _Spot(node, place - node, float(scale))


def _bilinear(table: Array, first: _Spot, second: _Spot) -> Array:
    """Value alone."""
    flat, wide = table.reshape(-1), table.shape[1]
    at = first.node * wide + second.node
    low, high = flat[at], flat[at + wide]
    low += (flat[at + 1] - low) * second.part
    high += (flat[at + wide + 1] - high) * second.part
    high -= low
    high *= first.part
    low += high
    return low


def _with_slopes(table: Array, first: _Spot, second: _Spot) -> tuple[Array, Array, Array]:
    """Value and slopes along both axes, per unit of the axes."""
    flat, wide = table.reshape(-1), table.shape[1]
    at = first.node * wide + second.node
    v00, v01 = flat[at], flat[at + 1]
    v10, v11 = flat[at + wide], flat[at + wide + 1]
    low = v00 + (v01 - v00) * second.part
    high = v10 + (v11 - v10) * second.part
    across = (v01 - v00) * (1.0 - first.part) + (v11 - v10) * first.part
    return low + (high - low) * first.part, (high - low) * first.scale, across * second.scale
