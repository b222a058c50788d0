"""Labels of a picture moved apart until none covers another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["moved_apart"]

_ROUNDS, _STEP = 200, 0.6


def moved_apart(
    at: NDArray[np.float64], size: NDArray[np.float64], *, second: NDArray[np.bool_], lift: float
) -> NDArray[np.float64]:
    """Places near the dots where round labels do not cover one another.

    Parameters
    ----------
    at : ndarray of float, shape (n, 2)
        Places of the dots [pt].
    size : ndarray of float, shape (n,)
        Diameters of the labels [pt].
    second : ndarray of bool, shape (n,)
        Labels that give way to the others.
    lift : float
        How far above their dot these start [pt].

    Returns
    -------
    ndarray of float, shape (n, 2)
        Places of the labels [pt]; the same every time, for ties are broken by a fixed spiral.
    """
    turn = 2.4 * np.arange(len(at))[:, None]
    placed = at + 0.05 * np.concatenate([np.cos(turn), np.sin(turn)], axis=1)
    placed[second, 1] += lift
    weight = np.where(second, 1.0, 0.35)
    share = weight[:, None] / (weight[:, None] + weight[None, :])
    for _ in range(_ROUNDS):
        apart = placed[:, None] - placed[None, :]
        far = np.hypot(apart[..., 0], apart[..., 1]) + np.eye(len(at)) * 1e6
        overlap = np.maximum(0.5 * (size[:, None] + size[None, :]) - far, 0.0)
        if not (overlap > 0.05).any():
            break
        step = apart / np.maximum(far, 1e-6)[..., None] * (overlap * share)[..., None]
        placed += _STEP * step.sum(axis=1)
    return placed
