"""What the overflow of a bed can carry before water stands where it should not."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from bedtide.bed import Bed, crown_height, outlet_flow, plan_area, surface_height

__all__ = ["Outlet", "outlet_of"]


class Outlet(NamedTuple):
    """The overflow of a bed as an opening under water; NaN where it has none, or no bore is given.

    Attributes
    ----------
    outlet_bore : float
        Inside diameter [m].
    outlet_height : float
        Height of its lower lip above the floor [m].
    head_in_reservoir, head_at_surface : float
        Water above its centre when the reservoir is full and the opening covered, and when water
        is about to stand on the mix [m].
    flow_in_reservoir, flow_at_surface : float
        What it carries then, clean [m3 d-1].
    rain_in_reservoir, rain_at_surface : float
        The rain that brings as much [m d-1].
    """

    outlet_bore: float
    outlet_height: float
    head_in_reservoir: float
    head_at_surface: float
    flow_in_reservoir: float
    flow_at_surface: float
    rain_in_reservoir: float
    rain_at_surface: float


def outlet_of(bed: Bed, lip: float) -> Outlet:
    """The overflow of a bed with its lip at a height.

    Answers: how hard may it rain before the overflow can't keep up. The daily model lets an open
    overflow carry whatever comes in a day; this tells whether it could.

    Parameters
    ----------
    bed : Bed
        Its outlet, reservoir and surface.
    lip : float
        Height of the lip above the floor [m].

    Returns
    -------
    Outlet
        The first pair of figures is for water at the crown of the reservoir, or at the top of the
        opening where that is higher: above it, rain soaks the mix. The second is for water at the
        surface of the mix. Rain without end where a cover lets none in.
    """
    if bed.overflow.state != "open" or bed.overflow.bore is None:
        missing = [np.nan] * 6
        bore = np.nan if bed.overflow.bore is None else bed.overflow.bore
        return Outlet(bore, lip if bed.overflow.state == "open" else np.nan, *missing)
    bore = bed.overflow.bore
    centre, surface = lip + 0.5 * bore, surface_height(bed)
    low = min(max(crown_height(bed), lip + bore), surface)
    heads = (low - centre, surface - centre)
    flows = [float(outlet_flow(head, bore)) if head >= 0.5 * bore else np.nan for head in heads]
    catching = plan_area(bed) * bed.surface.open_share
    rains = [flow / catching if catching > 0.0 else np.inf for flow in flows]
    return Outlet(bore, lip, *heads, *flows, *rains)
