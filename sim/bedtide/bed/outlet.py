"""What an overflow can carry, from its bore and the water that stands above it."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike

from bedtide.constants import GRAVITY

__all__ = ["DISCHARGE", "outlet_flow"]

DISCHARGE: Final = 0.6
"""Discharge coefficient of a sharp-edged round opening [1]: handbook value, from memory."""

_SECONDS = 86_400.0  # in a day


def outlet_flow(head: ArrayLike, bore: float) -> Any:
    r"""Flow through a round outlet with water standing over it.

    Answers: how many litres a minute can this overflow carry. Only where the water covers the
    whole opening, that is, where the head over its centre is at least half its bore; and for a
    clean opening: a screen, roots or worm casts may halve it.

    Parameters
    ----------
    head : array_like of float, shape (...)
        Height of the free water above the centre of the outlet [m]; none or less gives no flow.
    bore : float
        Inside diameter [m].

    Returns
    -------
    float or ndarray, shape (...)
        Flow [m3 d-1].

    Notes
    -----
    :math:`Q = C_d \frac{\pi d^2}{4} \sqrt{2 g h}` with :math:`C_d = 0.6` [1]_; :math:`d` `bore`,
    :math:`h` `head`.

    References
    ----------
    .. [1] Flow through a small sharp-edged orifice under a steady head, as in any handbook of
       hydraulics. From memory.

    Examples
    --------
    >>> round(float(outlet_flow(0.025, 0.019)) * 1000 / 1440, 1)  # L a minute, 25 mm over 19 mm
    7.1
    """
    above = np.maximum(np.asarray(head, dtype=np.float64), 0.0)
    area = 0.25 * np.pi * bore**2
    return (DISCHARGE * area * np.sqrt(2.0 * GRAVITY * above) * _SECONDS)[()]
