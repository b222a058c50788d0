"""Mix that its own roots dry while no water comes from below or leaves at the top."""

from __future__ import annotations

import numpy as np

from bedtide.crop import dry_factor
from bedtide.mix import Mix, water_content
from bedtide.profile.grid import Array, Grid, cell_values, root_density
from bedtide.profile.march import march_down

_DEMAND = 0.004  # a common demand on the days when a store runs dry [m d-1]; our choice
_PASSES = 6


def drying_profiles(grid: Grid, driest: float) -> Array:
    r"""Suction in the lower zone while its roots empty it, no water below.

    Answers: how the last water below the split is found by the roots above it.

    Parameters
    ----------
    grid : Grid
        The column.
    driest : float
        Suction that the tables go up to [m].

    Returns
    -------
    ndarray, shape (nodes, profiles)
        From wet to dry [m].

    Notes
    -----
    With the store empty a profile is not steady: what the roots take comes out of the mix itself.
    With the same rise of suction at every height, each gives by its capacity :math:`C`,

    .. math:: \frac{dq}{dz} = \rho(z) - T_p \, g \, a(s), \qquad
              \rho = T \, \frac{C f_m}{\int C f_m dz}, \qquad q = 0 \text{ at foot and split}

    solved by repeating :func:`march_down` with the release :math:`\rho` of the pass before.
    """
    split = grid.split
    height = grid.node[split] - grid.foot
    top = np.concatenate([np.linspace(0.0, 1.0, 50), np.geomspace(1.05, driest, 30)])
    dried = grid.node[split] - height * np.linspace(0.02, 0.98, 24)
    start = np.concatenate([top, np.full(dried.size, driest)])
    dry_above = np.concatenate([np.full(top.size, grid.surface + 1.0), dried])
    density = root_density(grid, grid.roots_from) * grid.step
    release = np.zeros((split, start.size))
    roots = grid.roots

    def drinking(cell: int, suction: Array, above: Array) -> Array:
        met = dry_factor(
            suction, h3_high=roots.h3_high, h3_low=roots.h3_low, h4=roots.h4, demand=_DEMAND
        )
        return above + _DEMAND * density[cell] * met - release[cell]

    for _ in range(_PASSES):
        suction, left = march_down(
            grid, split, 0, suction=start, flux=drinking, dry_above=dry_above
        )
        taken = left + release.sum(axis=0)
        middle = 0.5 * (suction[1:] + suction[:-1])
        gives = cell_values(middle, grid, 0, _capacity) * grid.share[:split, None]
        gives[grid.centre[:split, None] > dry_above] = 0.0
        next_release = gives / np.maximum(gives.sum(axis=0), 1e-12) * taken
        release = 0.5 * (release + next_release) if release.any() else next_release
    return suction


def _capacity(suction: Array, mix: Mix) -> Array:
    """Water that a mix gives for a small rise of suction [m-1]."""
    small = 0.01 * np.abs(suction) + 1e-4
    return (water_content(suction - small, mix) - water_content(suction, mix)) / small
