"""Readings of the suction profile from the stores, for every day of a run."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from bedtide.balance.day import LOWER, OPEN, UPPER
from bedtide.balance.simulate import Array, Index, Series
from bedtide.profile import ROOTING, BedTables, axes_of, look_up, place, stacked

_AT_ONCE = 16384  # bed-days looked up together


class ProfileReadings(NamedTuple):
    """Each (time, beds).

    Attributes
    ----------
    air_root_zone, air_top : ndarray of float
        Air-filled porosity of the root zone and of the top layer [m3 m-3].
    aerated_depth : ndarray of float
        Depth down to which the air share is above the limit [m].
    surface_suction : ndarray of float
        Suction at the surface [m].
    level : ndarray of float
        Height of the free water above the floor [m].
    """

    air_root_zone: Array
    air_top: Array
    aerated_depth: Array
    surface_suction: Array
    level: Array


def profile_readings(
    tables: Sequence[BedTables], which: Index, series: Series, rooting: Index
) -> ProfileReadings:
    """Read the profiles of a run.

    Parameters
    ----------
    tables : sequence of BedTables
        Every table that was used.
    which : ndarray of int, shape (beds,) or (time, beds)
        Number of the table of each bed.
    series : Series
        The run.
    rooting : ndarray of int, shape (time, 1) or (time, beds)
        Number of the tabulated rooting depth [1].

    Returns
    -------
    ProfileReadings
        Shape (time, beds). Where water stands on the mix, its level is counted from there.
    """
    stack = stacked(tables)
    days, beds = series.standing.shape
    found = ProfileReadings(*(np.empty((days, beds)) for _ in ProfileReadings._fields))
    content = found.surface_suction  # first the water content there, below the suction in its place
    at_once = max(1, _AT_ONCE // max(beds, 1))
    for first in range(0, days, at_once):
        part = slice(first, min(first + at_once, days))
        shape = (part.stop - part.start, beds)
        table = np.broadcast_to(which if which.ndim == 1 else which[part], shape).reshape(-1)
        roots = np.broadcast_to(rooting[part], shape).reshape(-1)
        stores = series.stores[part].swapaxes(0, 1).reshape(3, -1)
        axes = axes_of(stack, table)
        at = place(stack, axes, stores)
        air = look_up(stack.air, at, axes.base * (ROOTING.size - 1) + roots * stack.size)
        edge = look_up(stack.edge, at)
        found.air_root_zone[part] = np.maximum(air.real, 0.0).reshape(shape)
        found.air_top[part] = np.maximum(air.imag, 0.0).reshape(shape)
        found.aerated_depth[part] = np.maximum(edge.real, 0.0).reshape(shape)
        content[part] = edge.imag.reshape(shape)
    mix = series.stores[:, LOWER] + series.stores[:, UPPER]
    parts = (series.stores[:, OPEN], mix, series.standing)
    for number, own in enumerate(tables):
        where: Any = np.asarray(which == number)
        if not where.any():
            continue
        where = (slice(None), np.flatnonzero(where)) if where.ndim == 1 else where
        found.level[where] = _level(own, *(part[where] for part in parts))
        content[where] = np.interp(content[where], own.content, own.suction)
    return found


def _level(table: BedTables, open_water: Array, mix: Array, standing: Array) -> Array:
    """Level of the free water [m]: in the reservoir, in the mix over a full one, or on the mix."""
    height = np.interp(open_water, table.store, table.level)
    full = open_water >= table.grid.full * (1.0 - 1e-9)
    in_mix = np.interp(mix, table.standing, table.standing_level)
    height = np.where(full, np.maximum(in_mix, table.grid.crown), height)
    return np.where(standing > 0.0, table.grid.surface + standing, height)
