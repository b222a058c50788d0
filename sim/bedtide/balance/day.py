"""One day of many beds: refill, a morning of exchange, uptake and rain at noon, an evening."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.profile import (
    DEMANDS,
    ROOTING,
    Axes,
    BedTables,
    Pairs,
    Place,
    Stack,
    axes_of,
    look_up,
    place,
)

Array = NDArray[np.float64]
Index = NDArray[np.intp]

OPEN, LOWER, UPPER = 0, 1, 2
"""Rows of the stores: open water, lower and upper mix water."""

KINDS = DEMANDS.size * ROOTING.size
"""Uptake tables of one bed."""

READY = 0.010
"""Water that the surface layer gives at the full rate [m]: 8 to 11 mm for loams to clays in
FAO-56 Table 19, from memory; none is published for potting mixes."""


class Limits(NamedTuple):
    """What bounds the stores of each bed.

    Attributes
    ----------
    axes : Axes
        Axes of the table in use.
    uptake : ndarray of int, shape (beds,)
        How much further the uptake tables of the bed begin than its others.
    cap, dead : ndarray, shape (beds,)
        Open water at most, and what the mix can't reach [m].
    open : ndarray of bool, shape (beds,)
        Whether the overflow lets water out.
    all_open : bool
        Whether it does in every bed.
    least, most : ndarray, shape (3, beds)
        Bounds of the stores [m].
    passing : ndarray, shape (beds,)
        Water that half a day lets through when every pore is full [m].
    freeboard : ndarray, shape (beds,)
        Height of the rim above the surface [m].
    evaporable, slowing : ndarray, shape (beds,)
        What the surface layer can lose, and the last part of it, which it loses ever slower [m].
    nothing : ndarray, shape (beds,)
        Zeros, for fluxes that do not occur [m].
    """

    axes: Axes
    uptake: Index
    cap: Array
    dead: Array
    open: NDArray[np.bool_]
    all_open: bool
    least: Array
    most: Array
    passing: Array
    freeboard: Array
    evaporable: Array
    slowing: Array
    nothing: Array


class State(NamedTuple):
    """The stores of each bed.

    Attributes
    ----------
    stores : ndarray, shape (3, beds)
        Open water, lower and upper mix water [m].
    standing : ndarray, shape (beds,)
        Water on the mix [m].
    depletion : ndarray, shape (beds,)
        Water that the surface layer lacks [m].
    flooded : bool
        Whether water stands on any of the beds; false saves the work of looking.
    """

    stores: Array
    standing: Array
    depletion: Array
    flooded: bool = True


class Noon(NamedTuple):
    """What the day brings and asks for, each of shape (beds,) or (1,) for all.

    Attributes
    ----------
    rain : ndarray of float
        Rain into the bed [m].
    transpiration : ndarray of float
        What the plants would take [m].
    energy, wetted : ndarray of float
        Bounds of the evaporation, by energy and by exposed surface [m].
    exposed : ndarray of float
        Share of the surface that evaporates [1].
    kind : ndarray of int
        Number of the uptake table: rooting depth and demand [1].
    rainy : bool
        Whether rain falls into any of the beds.
    thirsty : bool
        Whether the plants of any of them ask for water.
    """

    rain: Array
    transpiration: Array
    energy: Array
    wetted: Array
    exposed: Array
    kind: Index
    rainy: bool
    thirsty: bool


class Fluxes(NamedTuple):
    """What moved on a day, shape (beds,) [m], positive as the name says."""

    rise: Array
    transpiration: Array
    evaporation: Array
    overflow: Array
    rim_spill: Array


def limits_of(tables: Sequence[BedTables], stack: Stack, which: Index, freeboard: Array) -> Limits:
    """Limits of each bed.

    Parameters
    ----------
    tables : sequence of BedTables
        All tables.
    stack : Stack
        The same, stacked.
    which : ndarray of int, shape (beds,)
        Number of the table that each bed uses.
    freeboard : ndarray, shape (beds,)
        Height of the rim above the surface [m].

    Returns
    -------
    Limits
        For :func:`one_day`.
    """

    def column(values: list[float]) -> Array:
        return np.array(values, dtype=np.float64)[which]

    evaporable = column([t.total_evaporable for t in tables])
    cap = column([t.grid.cap for t in tables])
    lower = [column([t.lower_bounds[i] for t in tables]) for i in (0, 1)]
    upper = [column([t.upper_bounds[i] for t in tables]) for i in (0, 1)]
    is_open = np.array([np.isfinite(t.grid.lip) for t in tables])[which]
    return Limits(
        axes=axes_of(stack, which),
        uptake=which * ((KINDS - 1) * stack.size),
        cap=cap,
        dead=column([t.grid.dead for t in tables]),
        open=is_open,
        all_open=bool(is_open.all()),
        least=np.stack([np.zeros(which.size), lower[0], upper[0]]),
        most=np.stack([cap, lower[1], upper[1]]),
        passing=column([0.5 * t.passing for t in tables]),
        freeboard=freeboard,
        evaporable=evaporable,
        slowing=np.maximum(evaporable - READY, 0.4 * evaporable),
        nothing=np.zeros(which.size),
    )


def one_day(
    stack: Stack, limits: Limits, state: State, refill: Array | None, noon: Noon
) -> tuple[State, Fluxes]:
    r"""The stores of many beds after one day.

    Answers: where does the day's water go.

    Parameters
    ----------
    stack : Stack
        Tables of all beds.
    limits : Limits
        Bounds of each bed.
    state : State
        Stores in the morning; not changed.
    refill : ndarray, shape (beds,), or None
        Water put into the reservoir in the morning [m]; None where nobody fills and no overflow
        was turned down.
    noon : Noon
        Rain and demand.

    Returns
    -------
    state : State
        Stores at the end of the day.
    fluxes : Fluxes
        What moved.

    Notes
    -----
    With :math:`\Phi` the exchange of half a day, tabulated, and :math:`f` what noon adds and takes:
    :math:`\Phi_{1/2} \circ f \circ \Phi_{1/2}`, the splitting of [1]_. Every amount that leaves one
    store enters another or a flux, so water is conserved whatever the tables say. Rain that the
    mix has no room for stands on it, passes through as fast as the saturated column conducts, and
    spills once it reaches the rim. Evaporation follows Eq. 71 to 77 of [2]_, its depletion bounded
    by that which the profile sustains from below.

    References
    ----------
    .. [1] Strang G. (1968). On the construction and comparison of difference schemes. SIAM J.
       Numer. Anal. 5: 506-517. From memory.
    .. [2] Allen R.G., Pereira L.S., Raes D., Smith M. (1998). Crop evapotranspiration. FAO
       Irrigation and Drainage Paper 56, Rome. From memory.
    """
    stores, standing = state.stores.copy(), state.standing.copy()
    at_dawn = climbed = None
    if refill is not None:
        stores[OPEN] += refill
        at_dawn, climbed = _settle(limits, stores, standing)
    at, rise, overflow = _half_day(stack, limits, stores, standing)
    if at_dawn is not None:
        overflow += at_dawn
    if climbed is not None:
        rise += climbed

    transpiration = limits.nothing
    if noon.thirsty:
        taken = _pair(look_up(stack.uptake, at, limits.uptake + noon.kind * stack.size))
        taken *= noon.transpiration
        mix = stores[LOWER:]
        np.minimum(taken, mix - limits.least[LOWER:], out=taken)
        np.maximum(taken, 0.0, out=taken)
        mix -= taken
        transpiration = taken[0] + taken[1]
    flooded = state.flooded or not limits.all_open
    depletion, evaporation = _evaporate(stack, limits, state, noon, at, stores, standing, flooded)
    if noon.rainy:
        flooded |= _rain(limits, noon.rain, stores, standing)
    if flooded:
        rise -= _sink(limits, stores, standing)
    _, more, lost = _half_day(stack, limits, stores, standing)
    rise += more
    overflow += lost
    spill = limits.nothing
    if flooded:
        _soak(limits, stores, standing)
        spill = np.maximum(standing - limits.freeboard, 0.0)
        standing -= spill
        flooded = bool(standing.any())
    fluxes = Fluxes(rise, transpiration, evaporation, overflow, spill)
    return State(stores, standing, depletion, flooded), fluxes


def _half_day(
    stack: Stack, limits: Limits, stores: Array, standing: Array
) -> tuple[Place, Array, Array]:
    """Move half a day's exchange; the place before it, the rise and the overflow [m]."""
    at = place(stack, limits.axes, stores)
    rise, climb = _pair(look_up(stack.exchange, at))
    usable = stores[OPEN] - limits.dead
    np.maximum(usable, 0.0, out=usable)
    np.minimum(rise, usable, out=rise)
    stores[OPEN] -= rise
    stores[LOWER] += rise
    stores[LOWER] -= climb
    stores[UPPER] += climb
    lost, climbed = _settle(limits, stores, standing)
    if climbed is not None:
        rise += climbed
    return at, rise, lost


def _pair(values: Pairs) -> Array:
    """Pairs kept as complex numbers, as two rows (2, beds) in double precision."""
    return values.view(np.float32).reshape(-1, 2).T.astype(np.float64)


def _settle(limits: Limits, stores: Array, standing: Array) -> tuple[Array, Array | None]:
    """Let open water above its cap leave by the overflow or, where it can't, climb into the mix.

    What left and what climbed [m]; None where it can leave from every bed.
    """
    over = stores[OPEN] - limits.cap
    np.maximum(over, 0.0, out=over)
    stores[OPEN] -= over
    if limits.all_open:
        return over, None
    climbed = np.where(limits.open, 0.0, over)
    over -= climbed
    held = climbed.copy()
    for row in (LOWER, UPPER):
        room = np.minimum(held, np.maximum(limits.most[row] - stores[row], 0.0))
        stores[row] += room
        held -= room
    standing += held
    return over, climbed


def _evaporate(
    stack: Stack,
    limits: Limits,
    state: State,
    noon: Noon,
    at: Place,
    stores: Array,
    standing: Array,
    flooded: bool,
) -> tuple[Array, Array]:
    """Take the day's evaporation from standing water and upper mix; depletion and loss [m]."""
    depletion = state.depletion - noon.rain if noon.rainy else state.depletion
    depletion = np.minimum(depletion, look_up(stack.depletion, at))
    np.maximum(depletion, 0.0, out=depletion)
    evaporation = limits.evaporable - depletion
    evaporation /= limits.slowing
    np.minimum(evaporation, 1.0, out=evaporation)
    if flooded:
        evaporation[standing > 0.0] = 1.0
    evaporation *= noon.energy
    np.minimum(evaporation, noon.wetted, out=evaporation)
    within = evaporation
    if flooded:
        above = np.minimum(standing, evaporation)
        standing -= above
        within = evaporation - above
    left = stores[UPPER] - limits.least[UPPER]
    np.maximum(left, 0.0, out=left)
    within = np.minimum(within, left)
    stores[UPPER] -= within
    depletion += within / noon.exposed
    np.minimum(depletion, limits.evaporable, out=depletion)
    return depletion, above + within if flooded else within


def _rain(limits: Limits, rain: Array, stores: Array, standing: Array) -> bool:
    """Let rain into the upper mix; what finds no room stands on it. Whether any does."""
    stores[UPPER] += rain
    excess = stores[UPPER] - limits.most[UPPER]
    if not (excess > 0.0).any():
        return False
    np.maximum(excess, 0.0, out=excess)
    stores[UPPER] -= excess
    standing += excess
    return True


def _soak(limits: Limits, stores: Array, standing: Array) -> None:
    """Let standing water into what room the upper mix has."""
    room = np.minimum(standing, limits.most[UPPER] - stores[UPPER])
    np.maximum(room, 0.0, out=room)
    stores[UPPER] += room
    standing -= room


def _sink(limits: Limits, stores: Array, standing: Array) -> Array:
    """Let standing water into the mix, then through it where the reservoir has room [m]."""
    _soak(limits, stores, standing)
    below = np.where(limits.open, np.inf, limits.cap - stores[OPEN])
    through = np.minimum(np.minimum(standing, limits.passing), np.maximum(below, 0.0))
    standing -= through
    stores[OPEN] += through
    return through
