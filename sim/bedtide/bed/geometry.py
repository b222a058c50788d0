"""Heights, shares and stores of a bed, its outlet, and what it weighs.

All heights are above the floor of the liner. The equations of void, mix and stores stand with each
form of reservoir in ``forms.py``.
"""

from __future__ import annotations

import datetime
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.bed.forms import Stone, Walls
from bedtide.bed.model import Bed
from bedtide.bed.sections import Overflow
from bedtide.constants import GRAVITY, WATER_DENSITY

_DISCHARGE: Final = 0.6
"""Discharge coefficient of a sharp-edged round opening [1]: handbook value, from memory."""
_SECONDS: Final = 86_400.0  # in a day
_STONE: Final = 2650.0
"""Density of the grains of stone [kg m-3]: that of quartz; common practice, no source."""
_PLASTIC: Final = 1000.0
"""Density of pipe walls, crates and floors [kg m-3]. The plastic itself is lighter (about 950,
common practice, no source), but the ribs of a pipe hold water and mix: rounded up."""


def plan_area(bed: Bed) -> float:
    """Area of the bed seen from above, inside the liner at its rim [m2]."""
    return bed.box.length * bed.box.width


def walls_of(bed: Bed) -> Walls:
    """Inside of the box, whose walls may lean."""
    box = bed.box
    floor = (box.length_at_floor or box.length, box.width_at_floor or box.width)
    return Walls(box.length, box.width, *floor, box.depth)


def surface_height(bed: Bed) -> float:
    """Height of the mix surface: the rim less the freeboard [m]."""
    return bed.box.depth - bed.box.freeboard


def crown_height(bed: Bed) -> float:
    """Height of the top of the reservoir [m]; above it there is nothing but mix."""
    return bed.reservoir.crown


def wick_foot(bed: Bed) -> float:
    """Height down to which mix that wicks reaches [m]; open water below it is dead storage."""
    return bed.reservoir.foot


def mix_share(height: ArrayLike, bed: Bed) -> Any:
    """Share of the plan area that is mix at a height [m]: from the crown up all of it [1]."""
    return bed.reservoir.shares(height, walls_of(bed)).mix


def open_store(level: ArrayLike, bed: Bed) -> Any:
    """Open water with its level at a height [m], infinite allowed [m over the plan area]."""
    return bed.reservoir.below(level, walls_of(bed)).void


def full_level(bed: Bed) -> float:
    """Height to which a bed is called full [m]: the overflow, or the top of the reservoir."""
    if bed.overflow.state == "none" or bed.overflow.height is None:
        return crown_height(bed)
    return bed.overflow.height


def level_of(store: ArrayLike, bed: Bed) -> Any:
    """Level at which the reservoir holds a store [m over the plan area]: `open_store` back [m].

    The lowest point of the void for an empty store, its highest for a full one: where the water
    stands beyond these, the store can't tell.
    """
    return bed.reservoir.level(store, walls_of(bed))


def capacity(bed: Bed, lip: ArrayLike) -> Any:
    """Open water [m over the plan area] with the lip at a height [m]; infinite fills the void."""
    return open_store(lip, bed)


def full_store(bed: Bed) -> float:
    """Open water of a bed that is called full [m over the plan area]."""
    return float(capacity(bed, full_level(bed)))


def dead_storage(bed: Bed) -> float:
    """Open water below what the mix reaches, which is never drawn up [m over the plan area]."""
    return float(open_store(wick_foot(bed), bed))


def mix_below(height: ArrayLike, bed: Bed) -> Any:
    """Mix below a height [m] that is not above its surface [m over the plan area]."""
    return bed.reservoir.below(height, walls_of(bed)).mix


def lip_on(days: NDArray[np.datetime64], overflow: Overflow) -> NDArray[np.float64]:
    """Height of the overflow's lip on each date, infinite where no water leaves by it [m].

    Depends on the date alone, not on where a record begins.
    """
    dates = np.asarray(days).astype("datetime64[D]")
    if overflow.state != "open" or overflow.height is None:
        return np.full(dates.shape, np.inf)
    if not overflow.changes:
        return np.full(dates.shape, overflow.height)
    heights = np.array([change.height for change in overflow.changes], dtype=np.float64)
    full = [c.start for c in overflow.changes if isinstance(c.start, datetime.date)]
    if full:
        heights = np.append(overflow.height, heights)
        return heights[np.searchsorted(np.array(full, "datetime64[D]"), dates, side="right")]
    # Month and day go round the year: before the first of them the last one still holds.
    yearly = [c.start for c in overflow.changes if isinstance(c.start, tuple)]
    begins = np.array([month * 100 + day for month, day in yearly])
    months = dates.astype("datetime64[M]")
    today = (months.astype(int) % 12 + 1) * 100 + (dates - months).astype(int) + 1
    return heights[np.searchsorted(begins, today, side="right") - 1]


def outlet_flow(head: ArrayLike, bore: float) -> Any:
    r"""Flow [m3 d-1] through a round outlet of a `bore` [m] under a `head` over its centre [m].

    How many litres a minute can this overflow carry. Only where the water covers the whole
    opening, that is, where the head is at least half the bore, shape (...); and for a clean
    opening: a screen, roots or worm casts may halve it.

    :math:`Q = C_d \frac{\pi d^2}{4} \sqrt{2 g h}` with :math:`C_d = 0.6`, :math:`d` `bore`,
    :math:`h` `head`: a small sharp-edged orifice under a steady head, as in any handbook of
    hydraulics, from memory.

    >>> round(float(outlet_flow(0.025, 0.019)) * 1000 / 1440, 1)  # L a minute, 25 mm over 19 mm
    7.1
    """
    above = np.maximum(np.asarray(head, dtype=np.float64), 0.0)
    area = 0.25 * np.pi * bore**2
    return (_DISCHARGE * area * np.sqrt(2.0 * GRAVITY * above) * _SECONDS)[()]


class Weight(NamedTuple):
    """Parts of the weight of a bed that is full to the rim."""

    water: float  # in the reservoir, the pores and above the mix [kg]
    mix: float  # dry [kg]
    reservoir: float  # pipes, crates, floor or stone [kg]
    total: float  # all three [kg]
    per_area: float  # total over the area of the floor [kg m-2]


def mix_volume(bed: Bed) -> float:
    """Mix that the bed takes, between and above the reservoir, as it lies in it [m3]."""
    return float(mix_below(surface_height(bed), bed)) * plan_area(bed)


def brimful_weight(bed: Bed) -> Weight:
    """Weight of the bed with every pore full and water up to the rim [kg].

    What must the ground, the deck or the trolley carry on the worst day. A blocked overflow and a
    storm fill a bed to its rim, so that is what counts. Left out: the box, its liner, the plants,
    mulch, snow and people.

    Water: the open voids of the reservoir, the porosity of both mixes, the freeboard. Mix: dry
    bulk densities of the table of mixes. Reservoir: what is neither void nor mix, as plastic at
    1000 kg m-3 (a wall of pipe as the whole ring between its diameters, whose ribs hold water) or
    stone of 2650 kg m-3. Geometry, no source.
    """
    area, crown, walls = plan_area(bed), crown_height(bed), walls_of(bed)
    low = float(mix_below(crown, bed))
    high = float(mix_below(surface_height(bed), bed)) - low
    freeboard = float(walls.below(bed.box.depth) - walls.below(surface_height(bed)))
    store = float(capacity(bed, crown))
    pores = low * bed.wick_mix.theta_s + high * bed.top_mix.theta_s
    water = WATER_DENSITY * area * (store + pores + freeboard)
    mix = area * (low * bed.wick_mix.bulk_density + high * bed.top_mix.bulk_density)
    density = _STONE if isinstance(bed.reservoir, Stone) else _PLASTIC
    reservoir = area * (float(walls.below(crown)) - store - low) * density
    total = water + mix + reservoir
    return Weight(water, mix, reservoir, total, total / walls.floor)


def lowest_roots(bed: Bed) -> float:
    """Height [m] that roots do not pass: the highest lip of the year, or the reservoir's top.

    Blocked or not: the roots do not move when the outlet clogs or an elbow is turned.
    """
    heights = [bed.overflow.height, *(change.height for change in bed.overflow.changes)]
    crown = crown_height(bed)
    highest = max((height for height in heights if height is not None), default=crown)
    return max(min(highest, crown), wick_foot(bed))
