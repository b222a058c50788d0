"""Segments of a circle: what a round pipe holds below a water level."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike

_STEPS = 12  # Newton steps; the worst start is right to the last digit after eight


def chord(depth: ArrayLike, radius: float) -> Any:
    r"""Width of a circle at a height above its lowest point.

    Answers: how wide is the water surface in a round pipe.

    Parameters
    ----------
    depth : array_like of float, shape (...)
        Height above the lowest point of the circle [m]. Outside the circle the width is zero.
    radius : float
        Radius [m].

    Returns
    -------
    float or ndarray, shape (...)
        Width [m].

    Notes
    -----
    .. math:: c = 2 \sqrt{y (2 r - y)}

    :math:`y` `depth` held within 0 and :math:`2 r`, :math:`r` `radius`. The theorem of the
    intersecting chords (Euclid, Elements III.35).
    """
    y = np.clip(np.asarray(depth, dtype=np.float64), 0.0, 2.0 * radius)
    return (2.0 * np.sqrt(y * (2.0 * radius - y)))[()]


def segment_area(depth: ArrayLike, radius: float) -> Any:
    r"""Area of a circle below a height above its lowest point.

    Answers: how much water stands in a round pipe, per length of pipe.

    Parameters
    ----------
    depth : array_like of float, shape (...)
        Height above the lowest point [m]; below it the area is zero, above the circle all of it.
    radius : float
        Radius, more than zero [m].

    Returns
    -------
    float or ndarray, shape (...)
        Area [m2].

    Notes
    -----
    .. math:: A = \tfrac12 r^2 (\theta - \sin\theta), \quad
              \theta = 4 \arcsin\sqrt{y / 2 r}

    :math:`\theta` is the angle that the segment takes at the centre; written with the arcsine it
    keeps its digits where little water is left [1]_.

    References
    ----------
    .. [1] Weisstein, E. W. "Circular Segment". MathWorld, Eq. 13 (from memory); the same formula
       stands in any handbook of engineering mathematics. Checked in
       tests/published/test_circle_segment.py.
    """
    y = np.clip(np.asarray(depth, dtype=np.float64), 0.0, 2.0 * radius)
    theta = 4.0 * np.arcsin(np.sqrt(y / (2.0 * radius)))
    return (0.5 * radius**2 * (theta - np.sin(theta)))[()]


def segment_depth(area: ArrayLike, radius: float) -> Any:
    r"""Height above the lowest point of a circle below which a given area lies.

    Answers: how high does this much water stand in a round pipe. Inverse of `segment_area`.

    Parameters
    ----------
    area : array_like of float, shape (...)
        Area [m2], held within zero and the whole circle.
    radius : float
        Radius, more than zero [m].

    Returns
    -------
    float or ndarray, shape (...)
        Height [m].

    Notes
    -----
    Solves :math:`\theta - \sin\theta = 2 A / r^2` by Newton's method for the smaller of the
    segment and its complement, where the left side is convex, so that every step after the first
    comes from the same side. The start :math:`(6 \cdot 2 A / r^2)^{1/3}` is the first term of
    the series of :math:`\theta - \sin\theta`.
    """
    whole = 2.0 * np.pi
    twice = np.clip(2.0 * np.asarray(area, dtype=np.float64) / radius**2, 0.0, whole)
    upper = twice > np.pi
    smaller = np.where(upper, whole - twice, twice)
    theta = np.cbrt(6.0 * smaller)
    for _ in range(_STEPS):
        slope = 1.0 - np.cos(theta)
        safe = np.where(slope > 0.0, slope, 1.0)
        theta = np.where(slope > 0.0, theta - (theta - np.sin(theta) - smaller) / safe, theta)
    y = 2.0 * radius * np.sin(0.25 * theta) ** 2
    return np.where(upper, 2.0 * radius - y, y)[()]
