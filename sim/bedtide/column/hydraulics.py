"""What one mix holds and conducts at every suction, as one table on shared nodes."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bedtide.mix import Mix, supply_conductivity, water_content

Array = NDArray[np.float64]

NODES = 301
SCALE, STRETCH = 0.02, 0.05
"""Nodes of suction at ``SCALE * sinh(STRETCH * j)`` [m]: even when wet, 5 % apart when dry."""

STORAGE = 1e-4
"""Water that saturated mix takes up per head of pressure [m-1]: there to keep the step solvable;
a metre of head hides 0.03 mm in 0.30 m of mix."""

S, DS, THETA, DTHETA, K, DK, F = range(7)
"""Columns of a record: suction [m], water content [m3 m-3], conductivity [m d-1], and their slopes
over the interval; flux potential [m2 d-1]."""


def node_suctions() -> Array:
    """Suction at the nodes that all mixes share.

    Returns
    -------
    ndarray, shape (NODES,)
        Rising from zero [m].
    """
    return SCALE * np.sinh(STRETCH * np.arange(NODES))


@lru_cache(maxsize=512)
def mix_table(mix: Mix) -> Array:
    r"""Hydraulic functions of a mix between nodes of suction.

    Answers: from a place on the axis of suction, everything that the step asks of the mix, with
    no logarithm and no power.

    Parameters
    ----------
    mix : Mix
        Retention and conductivity.

    Returns
    -------
    ndarray, shape (NODES + 1, 8)
        One record an interval, columns as `S` to `F`; the first is the saturated mix under
        pressure, the last goes on beyond the driest node. Not to be written to.

    Notes
    -----
    At the fractional index :math:`q`, with :math:`t` its part within the interval,
    :math:`s`, :math:`\theta` and :math:`K` run in straight lines and the flux potential

    .. math:: F(s) = -\int_s^{s_{end}} K \, ds

    is the exact integral of that K; counted from the dry end it keeps its digits there. 75 nodes
    are too few, 150 to 1500 agree (tests/numeric/test_refinement.py).

    References
    ----------
    .. [1] Gardner W.R. (1958). Some steady-state solutions of the unsaturated moisture flow
       equation. Soil Sci. 85: 228-232. From memory.
    """
    suction = node_suctions()
    theta = water_content(suction, mix)
    k = supply_conductivity(suction, mix)
    steps = np.diff(suction)
    pieces = 0.5 * (k[1:] + k[:-1]) * steps
    potential = -np.append(np.cumsum(pieces[::-1])[::-1], 0.0)
    table = np.zeros((NODES + 1, 8))
    inner = table[1:NODES]
    inner[:, S], inner[:, DS] = suction[:-1], steps
    inner[:, THETA], inner[:, DTHETA] = theta[:-1], np.minimum(np.diff(theta), -1e-13)
    inner[:, K], inner[:, DK] = k[:-1], np.diff(k)
    inner[:, F] = potential[:-1]
    table[0, [S, DS, THETA, DTHETA, K, F]] = (
        0.0, steps[0], theta[0], -STORAGE * steps[0], k[0], potential[0],
    )  # fmt: skip
    table[NODES, [S, DS, THETA, DTHETA, K, F]] = (
        suction[-1], steps[-1], theta[-1], -1e-13, k[-1], 0.0,
    )  # fmt: skip
    table.setflags(write=False)
    return table


def stacked_tables(mixes: Sequence[Mix]) -> Array:
    """Tables of several mixes, shape (mixes, NODES + 1, 8)."""
    return np.stack([mix_table(mix) for mix in mixes])
