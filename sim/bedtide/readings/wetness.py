"""Wetness: days and spells on which the roots lack air."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import AIR_LIMIT, TOP_LAYER
from bedtide.readings.arrays import dataset_of, longest_run, time_last

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["wet_days", "wetness"]


def wet_days(season: xr.Dataset, *, air_limit: float = AIR_LIMIT) -> NDArray[np.bool_]:
    """Whether each day is wet: roots there, and less air among them than the limit.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``air_root_zone`` [m3 m-3] and ``root_depth`` [m].
    air_limit : float, default 0.10
        Air-filled porosity under which a day is wet [m3 m-3].

    Returns
    -------
    ndarray of bool, shape (..., time)
        Never true where the bed holds no roots, whatever its air.
    """
    rooted = time_last(season, "root_depth") > 0
    return np.asarray(rooted & (time_last(season, "air_root_zone") < air_limit))


def wetness(
    season: xr.Dataset, *, air_limit: float = AIR_LIMIT, excess_depth: float = TOP_LAYER
) -> xr.Dataset:
    r"""Wet days, wet spells and the sum of excess water of a run.

    Answers: how often, and how long at a stretch, is this bed too wet for roots to breathe.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``air_root_zone``, ``air_top`` [m3 m-3], ``aerated_depth``, ``root_depth`` [m].
    air_limit : float, default 0.10
        Air-filled porosity under which a day is wet [m3 m-3].
    excess_depth : float, default 0.15
        Depth below the surface above which wet mix counts as excess [m].

    Returns
    -------
    Dataset, dims (...)
        ``rooted_days``, ``wet_days``, ``wet_days_top``, ``longest_wet_spell`` [d],
        ``wet_spells`` [1], ``wet_spell_start`` (a date, NaT where there is no spell),
        ``excess_water`` [m d].

    Notes
    -----
    A day is wet when the mean air-filled porosity of the root zone at its end is under the
    limit, 10 % [1]_; no single limit holds for every mix, temperature and root [2]_. Days
    without roots are never wet. ``wet_days_top`` counts days under the limit in the top 15 cm,
    with roots or without.

    Excess water follows the sum of excess water of drainage work [3]_,

    .. math:: SEW = \sum_{days} \max(0,\; d - x)

    with an adaptation of ours. There :math:`d` is 30 cm and :math:`x` the depth of the water
    table below the surface. A bed of this kind holds a water table within 30 cm of its surface
    nearly always and by design, so here :math:`x` is the depth at which the air share falls
    under 10 % (``aerated_depth``) and :math:`d` is `excess_depth`, 15 cm. The figures that are
    published for field crops do not carry over; compare beds with it, nothing else.

    References
    ----------
    .. [1] Grable A.R., Siemer E.G. (1968). Effects of bulk density, aggregate size, and soil
       water suction on oxygen diffusion, redox potentials, and elongation of corn roots. Soil
       Sci. Soc. Am. Proc. 32:180-186. From memory.
    .. [2] Cook F.J., Knight J.H. (2003). Oxygen transport to plant roots: modeling for physical
       understanding of soil aeration. Soil Sci. Soc. Am. J. 67(1):20-31. Read in part.
    .. [3] Sieben W.H. (1964). Van Zee tot Land 40. From memory; the sum as defined in Kanwar R.S.,
       Baker J.L., Mukhtar S. (1988). Trans. ASAE 31(1):133-141. Read in part.
    """
    wet = wet_days(season, air_limit=air_limit)
    spells = longest_run(wet)
    time = season["time"].values
    shallow = np.maximum(excess_depth - time_last(season, "aerated_depth"), 0.0)
    return dataset_of(
        season,
        {
            "rooted_days": (time_last(season, "root_depth") > 0).sum(axis=-1),
            "wet_days": wet.sum(axis=-1),
            "wet_days_top": (time_last(season, "air_top") < air_limit).sum(axis=-1),
            "wet_spells": spells.runs,
            "longest_wet_spell": spells.longest,
            "wet_spell_start": np.where(
                spells.start >= 0, time[np.maximum(spells.start, 0)], np.datetime64("NaT", "ns")
            ),
            "excess_water": shallow.sum(axis=-1),
        },
    )
