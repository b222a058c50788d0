"""Trilinear look-up in the tables of many beds at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.profile.exchange import usable
from bedtide.profile.grid import Array
from bedtide.profile.table import BedTables, Pairs

Index = NDArray[np.intp]
Single = NDArray[np.float32]

_END = 1.0 - 1e-12  # the last node belongs to the cell before it


class Place(NamedTuple):
    """Where states lie in the tables.

    Attributes
    ----------
    corners : ndarray of int, shape (8, beds)
        Flat index of the eight corners around each state, in a table of one layer a bed [1].
    weights : ndarray of float, shape (8, beds)
        Weight of each corner; they sum to one [1].
    """

    corners: Index
    weights: Single


@dataclass(frozen=True, eq=False)
class Stack:
    """Tables of several beds behind one another, and the axes of each.

    Attributes
    ----------
    exchange, uptake, depletion, air, edge : ndarray, flat
        As in :class:`BedTables`, table after table. `uptake` and `air` hold one table for each
        rooting depth (and demand) of a bed.
    size : int
        Numbers in one table [1].
    strides : tuple of float
        Steps of the flat index along the first two axes [1].
    around : ndarray of int, shape (8, 1)
        Steps from the lowest corner to all eight.
    least, scale : ndarray, shape (3, tables)
        Origin of the axes [m], and nodes per metre along them [m-1]; for open water the square of
        the node's number, since its axis is even in the square root.
    end : tuple of float
        Ends of the axes in those units, a hair short of the last node.
    """

    exchange: Pairs
    uptake: Pairs
    depletion: Single
    air: Pairs
    edge: Pairs
    size: int
    strides: tuple[float, float]
    around: Index
    least: Array
    scale: Array
    end: tuple[float, float, float]


class Axes(NamedTuple):
    """Axes of the table that each bed uses.

    Attributes
    ----------
    base : ndarray of int, shape (beds,)
        Start of the table of each bed [1].
    least, scale, end : ndarray, shape (3, beds)
        As in :class:`Stack`.
    """

    base: Index
    least: Array
    scale: Array
    end: Array


def stacked(tables: Sequence[BedTables]) -> Stack:
    """Tables one behind the other; the last ones made are kept.

    Parameters
    ----------
    tables : sequence of BedTables
        Of one shape.

    Returns
    -------
    Stack
        For :func:`axes_of` and :func:`look_up`.
    """
    return _stacked(tuple(tables))


@lru_cache(maxsize=2)
def _stacked(tables: tuple[BedTables, ...]) -> Stack:
    levels, lowers, uppers = tables[0].exchange.shape
    strides = np.array([[lowers * uppers], [uppers], [1]])
    around = (np.indices((2, 2, 2)).reshape(3, 8) * strides).sum(axis=0)
    ends = ((levels - 1.0) ** 2, lowers - 1.0, uppers - 1.0)
    lower = np.array([t.lower_bounds for t in tables])
    upper = np.array([t.upper_bounds for t in tables])
    reach = np.array([usable(t.grid) for t in tables])
    width = [reach, (lower[:, 1] - lower[:, 0]), (upper[:, 1] - upper[:, 0])]

    def flat(name: str) -> Any:
        return np.concatenate([getattr(t, name).reshape(-1) for t in tables])

    return Stack(
        exchange=flat("exchange"),
        uptake=flat("uptake"),
        depletion=flat("depletion"),
        air=flat("air"),
        edge=flat("edge"),
        size=levels * lowers * uppers,
        strides=(float(strides[0, 0]), float(strides[1, 0])),
        around=around[:, None],
        least=np.stack([np.array([t.grid.dead for t in tables]), lower[:, 0], upper[:, 0]]),
        scale=np.array([ends]).T / np.stack(width),
        end=(ends[0] * _END, ends[1] * _END, ends[2] * _END),
    )


def axes_of(stack: Stack, which: Index) -> Axes:
    """Axes for each bed.

    Parameters
    ----------
    stack : Stack
        The tables.
    which : ndarray of int, shape (beds,)
        Number of the table that each bed uses [1].

    Returns
    -------
    Axes
        Picked out once, then used every day.
    """
    end = np.repeat(np.array([stack.end]).T, which.size, axis=1)
    return Axes(which * stack.size, stack.least[:, which], stack.scale[:, which], end)


def place(stack: Stack, axes: Axes, stores: Array) -> Place:
    """Place of states in their tables.

    Parameters
    ----------
    stack : Stack
        The tables.
    axes : Axes
        The axes of each bed.
    stores : ndarray, shape (3, beds)
        Open water, lower and upper mix water [m].

    Returns
    -------
    Place
        For :func:`look_up`; states outside the tables lie on their edge.
    """
    at = stores - axes.least
    at *= axes.scale
    np.maximum(at, 0.0, out=at)
    np.minimum(at, axes.end, out=at)
    np.sqrt(at[0], out=at[0])
    node = np.floor(at)
    at -= node
    corner = node[0] * stack.strides[0]
    corner += node[1] * stack.strides[1]
    corner += node[2]
    lowest = corner.astype(np.intp)
    lowest += axes.base
    part = np.empty((2, *at.shape), dtype=np.float32)
    part[1] = at
    np.subtract(1.0, part[1], out=part[0])
    weights = part[:, None, None, 0] * part[None, :, None, 1] * part[None, None, :, 2]
    return Place(stack.around + lowest, weights.reshape(8, -1))


def look_up(table: NDArray[Any], at: Place, layer: Index | None = None) -> Any:
    """Values between the eight corners around each state.

    Parameters
    ----------
    table : ndarray, shape (nodes,)
        One of the tables of a stack, in its own unit [1].
    at : Place
        Where.
    layer : ndarray of int, shape (beds,), optional
        In tables of several layers a bed, how much further on the one to use begins [1].

    Returns
    -------
    ndarray, shape (beds,)
        In the kind of the table. The sum runs in one order, however many beds there are.
    """
    corners = table.take(at.corners if layer is None else at.corners + layer)
    corners *= at.weights
    four = corners[:4]
    four += corners[4:]
    two = four[:2]
    two += four[2:]
    return two[0] + two[1]
