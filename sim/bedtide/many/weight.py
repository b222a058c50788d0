"""What a bed weighs when it is full to the rim, from its measures."""

from __future__ import annotations

from typing import Final, NamedTuple

from bedtide.bed import (
    Bed,
    Stone,
    capacity,
    crown_height,
    mix_below,
    plan_area,
    surface_height,
)
from bedtide.constants import WATER_DENSITY

__all__ = ["Weight", "brimful_weight", "mix_volume"]

_STONE: Final = 2650.0
"""Density of the grains of stone [kg m-3]: that of quartz; common practice, no source."""
_PLASTIC: Final = 1000.0
"""Density of pipe walls, crates and floors [kg m-3]. The plastic itself is lighter (about 950,
common practice, no source), but the ribs of a pipe hold water and mix: rounded up."""


class Weight(NamedTuple):
    """Parts of the weight of a bed that is full to the rim.

    Attributes
    ----------
    water, mix, reservoir : float
        Water in the reservoir, the pores and above the mix; dry mix; pipes, crates, floor or
        stone [kg].
    total : float
        All three [kg].
    per_area : float
        Total over the plan area [kg m-2].
    """

    water: float
    mix: float
    reservoir: float
    total: float
    per_area: float


def mix_volume(bed: Bed) -> float:
    """Mix that the bed takes, between and above the reservoir.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    float
        Volume [m3], as it lies in the bed.
    """
    return float(mix_below(surface_height(bed), bed)) * plan_area(bed)


def brimful_weight(bed: Bed) -> Weight:
    """Weight of the bed with every pore full and water up to the rim.

    Answers: what must the ground, the deck or the trolley carry on the worst day. A blocked
    overflow and a storm fill a bed to its rim, so that is what counts. Left out: the box, its
    liner, the plants, mulch, snow and people.

    Parameters
    ----------
    bed : Bed
        The bed.

    Returns
    -------
    Weight
        Its parts [kg].

    Notes
    -----
    Water: the open voids of the reservoir, the porosity of both mixes, the freeboard. Mix: dry
    bulk densities of the table of mixes. Reservoir: what is neither void nor mix, as plastic at
    1000 kg m-3 (a wall of pipe as the whole ring between its diameters, whose ribs hold water) or
    stone of 2650 kg m-3. Geometry, no source.
    """
    area, crown = plan_area(bed), crown_height(bed)
    low = float(mix_below(crown, bed))
    high = surface_height(bed) - crown
    store = float(capacity(bed, crown))
    pores = low * bed.wick_mix.theta_s + high * bed.top_mix.theta_s
    water = WATER_DENSITY * area * (store + pores + bed.box.freeboard)
    mix = area * (low * bed.wick_mix.bulk_density + high * bed.top_mix.bulk_density)
    density = _STONE if isinstance(bed.reservoir, Stone) else _PLASTIC
    reservoir = area * (crown - store - low) * density
    total = water + mix + reservoir
    return Weight(water, mix, reservoir, total, total / area)
