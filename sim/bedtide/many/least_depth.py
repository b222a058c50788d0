"""How deep a box must be for its roots to have air all through a rainy spell."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from bedtide.balance import run_many
from bedtide.bed import Bed, crown_height
from bedtide.constants import AIR_LIMIT
from bedtide.many.places import Placed, room_around, undated
from bedtide.many.wet_spell import AFTER, LEAD

__all__ = ["DEEPEST", "TOLERANCE", "LeastDepth", "least_air", "least_depth"]

DEEPEST = 1.0
"""Depth of the deepest box that is tried [m]; our choice."""

TOLERANCE = 0.005
"""Width to which the depth is narrowed down [m]; our choice."""

_LEAST_MIX = 0.05  # mix above the reservoir and the lip, in the shallowest box that is tried [m]


@dataclass(frozen=True)
class LeastDepth:
    """Answer of the search.

    Attributes
    ----------
    found : {"within", "any", "none", "no roots"}
        Whether there is such a depth between the bounds, every depth between them does, none
        does, or nothing grows in the bed in these spells.
    depth : float
        The least depth that does, floor to rim [m]; the shallowest tried for "any", NaN otherwise.
    air : float
        Least air among the roots at that depth [m3 m-3]; that of the deepest for "none".
    too_shallow : float
        The greatest depth tried that does not do [m]; NaN for "any".
    air_too_shallow : float
        Least air at that depth [m3 m-3].
    shallowest, deepest : float
        Bounds of the search [m].
    tried : int
        Depths that were run [1].
    """

    found: Literal["within", "any", "none", "no roots"]
    depth: float
    air: float
    too_shallow: float
    air_too_shallow: float
    shallowest: float
    deepest: float
    tried: int


def least_depth(
    bed: Bed, placed: Sequence[Placed], *, progress: Callable[[int], None] | None = None
) -> LeastDepth:
    """Least depth of the box with which the roots have air on every day of the spells.

    Answers: how deep must I build it. The reservoir, the overflow, the mixes, the freeboard and
    the plants stay as they are; only the depth of mix changes.

    Parameters
    ----------
    bed : Bed
        Its depth itself is of no account.
    placed : sequence of Placed
        The spells, all of which it is to stand.
    progress : callable, optional
        Told 1 after each depth that was run.

    Returns
    -------
    LeastDepth
        To `TOLERANCE`.

    Notes
    -----
    Bisection between the shallowest box (5 cm of mix above crown and lip) and `DEEPEST`, on
    whether the root zone holds 10 % air at the end of every day from the first of each spell to
    `AFTER` days past its last. It takes for granted that a deeper bed is airier among its roots;
    both ends are run first. Each depth takes about 0.3 s.
    """
    (plain,) = undated([bed])
    lips = [plain.overflow.height, *(change.height for change in plain.overflow.changes)]
    top = max([crown_height(plain), *(lip for lip in lips if lip is not None)])
    bounds = (top + plain.box.freeboard + _LEAST_MIX, DEEPEST)
    tried: dict[float, float] = {}

    def air(depth: float) -> float:
        if depth not in tried:
            tried[depth] = least_air(_deep(plain, depth), placed)
            if progress is not None:
                progress(1)
        return tried[depth]

    low, high = bounds[0], max(bounds)
    ends = (air(low), air(high))
    if np.isnan(ends[0]):
        return LeastDepth("no roots", np.nan, np.nan, np.nan, np.nan, low, high, 2)
    if ends[0] >= AIR_LIMIT:
        return LeastDepth("any", low, ends[0], np.nan, np.nan, low, high, 2)
    if ends[1] < AIR_LIMIT:
        return LeastDepth("none", np.nan, ends[1], high, ends[1], low, high, 2)
    shallow, deep = low, high
    while deep - shallow > TOLERANCE:
        middle = 0.5 * (shallow + deep)
        if air(middle) >= AIR_LIMIT:
            deep = middle
        else:
            shallow = middle
    return LeastDepth("within", deep, air(deep), shallow, air(shallow), low, high, len(tried))


def least_air(bed: Bed, placed: Sequence[Placed]) -> float:
    """Least air among the roots of a bed in the spells, its overflow as described.

    Parameters
    ----------
    bed : Bed
        The bed, without full dates.
    placed : sequence of Placed
        The spells.

    Returns
    -------
    float
        Air-filled porosity [m3 m-3], NaN where nothing grows in any of them.
    """
    least = np.inf
    for each in placed:
        room, rest = room_around(each)
        lead = min(LEAD, room)
        days = lead + each.spell.days + min(AFTER, rest)
        start = each.spell.first - datetime.timedelta(days=lead)
        run = run_many([bed], each.weather, [start], days=days)
        rooted = run.demand[0].root_depth[run.windows[lead:, 0]] > 0.0
        air = run.series.air_root_zone[lead:, 0]
        least = min(least, float(np.where(rooted, air, np.inf).min()))
    return least if np.isfinite(least) else np.nan


def _deep(bed: Bed, depth: float) -> Bed:
    """The bed with another depth of box."""
    return replace(bed, box=replace(bed.box, depth=depth), description="")
