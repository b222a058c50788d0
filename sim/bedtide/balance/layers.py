"""Air by height in even slices of a bed, from the water content of its cells."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.run import Run
from bedtide.bed import crown_height

Array = NDArray[np.float64]


class Layers(NamedTuple):
    """How slices of equal height lie over the cells of a bed.

    Attributes
    ----------
    faces : ndarray, shape (slices + 1,)
        Heights of their faces above the floor, rising [m].
    share : ndarray, shape (slices, cells)
        Part of the mix of a slice that lies in each cell [1].
    porosity : ndarray, shape (cells,)
        Water content of the saturated cells [m3 m-3].
    """

    faces: Array
    share: Array
    porosity: Array


def air_layers(run: Run, number: int, slices: int) -> Layers:
    """Slices of one bed of a run.

    Parameters
    ----------
    run : Run
        The run.
    number : int
        Which of its beds [1].
    slices : int
        How many [1].

    Returns
    -------
    Layers
        From the foot of the mix to its surface.
    """
    bed, row = run.beds[number], int(run.layout[number])
    count = int(run.cells.number[row])
    centre, height = run.cells.centre[row, :count], run.cells.height[row, :count]
    water = run.cells.water[row, :count]
    top, foot = centre + 0.5 * height, centre - 0.5 * height
    faces = np.linspace(foot[-1], top[0], slices + 1)
    inside = np.minimum(top, faces[1:, None]) - np.maximum(foot, faces[:-1, None])
    held = np.clip(inside, 0.0, None) / height * water
    below = centre < crown_height(bed)
    porosity = np.where(below, bed.wick_mix.theta_s, bed.top_mix.theta_s)
    return Layers(faces, held / held.sum(axis=1, keepdims=True), porosity)


def air_by_height(content: Array, layers: Layers) -> Array:
    """Air-filled porosity of slices.

    Parameters
    ----------
    content : ndarray, shape (..., cells)
        Water content of the cells [m3 m-3]; padding beyond the bed's cells is dropped.
    layers : Layers
        The slices.

    Returns
    -------
    ndarray, shape (..., slices)
        Mean air-filled porosity of each [m3 m-3].
    """
    own = content[..., : layers.porosity.size]
    return np.asarray(np.maximum(layers.porosity - own, 0.0) @ layers.share.T)
