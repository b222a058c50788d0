"""Days on which roots lack air or water, or the surface water, and why; how runs are read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.chunks import chunkwise
from bedtide.constants import AIR_LIMIT, POTTING_AIR, TOP_LAYER
from bedtide.tables import attributes

if TYPE_CHECKING:
    import xarray as xr

NEED_LIMIT = 0.9
"""Share of the plants' need under which a day is dry [1]; our choice."""

EMPTY = 0.0005
"""Open water that the mix can reach under which the reservoir counts as empty [m]; our choice."""

_ROUNDING = 1e-9  # m


def wet_days(season: xr.Dataset, *, air_limit: float = AIR_LIMIT) -> NDArray[np.bool_]:
    """Whether each day (..., time) is wet: roots there, and too little air, or not deep enough.

    Less air among them than the limit [m3 m-3], or 10 % air less deep than they need.
    """
    little = time_last(season, "air_root_zone") < air_limit
    deep, needed = (time_last(season, name) for name in ("aerated_depth", "air_depth_needed"))
    shallow = deep < needed - _ROUNDING
    return np.asarray((time_last(season, "root_depth") > 0) & (little | shallow))


@chunkwise
def wetness(
    season: xr.Dataset, *, air_limit: float = AIR_LIMIT, excess_depth: float = TOP_LAYER
) -> xr.Dataset:
    r"""Wet days, wet spells and the sum of excess water of a run.

    Answers: how often, and how long at a stretch, is this bed too wet for roots to breathe.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``air_root_zone``, ``air_top`` [m3 m-3], ``aerated_depth``, ``air_depth_needed``,
        ``root_depth`` [m].
    air_limit : float, default 0.10
        Mean air-filled porosity of the root zone under which a day is wet [m3 m-3].
    excess_depth : float, default 0.15
        Depth below the surface above which wet mix counts as excess [m].

    Returns
    -------
    Dataset, dims (...)
        ``rooted_days``, ``wet_days``, ``shallow_air_days``, ``low_air_days``, ``wet_days_top``,
        ``longest_wet_spell`` [d], ``wet_spells`` [1], ``wet_spell_start`` (a date, NaT where there
        is no spell), ``excess_water`` [m d]; ``air_lowest`` [m3 m-3] and ``aerated_depth_lowest``
        [m] over the days with roots, NaN without.

    Notes
    -----
    A day is wet when at its end the mean air-filled porosity of the root zone is under the
    limit, 10 % [1]_, or 10 % reaches less deep than the plants need (``aerated_depth`` under
    ``air_depth_needed``, a judgement): a mean hides roots that stand in water below. No single
    limit holds for every mix, temperature and root [2]_. Days without roots are never wet.
    ``shallow_air_days`` counts the wet days with a mean at the limit or above; ``low_air_days``
    those under the 13 % that a standard for potting mixes asks of a drained pot [4]_;
    ``wet_days_top`` days under the limit in the top 15 cm, with roots or without.

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
    .. [4] Australian Standard AS 3743-2003, Potting mixes, premium grade. Read in part.

    Examples
    --------
    >>> from bedtide import example_bed, read_weather, run_season, sample_weather
    >>> season = run_season(example_bed(), read_weather(sample_weather()), start="2023-06-01")
    >>> int(wetness(season)["wet_days"])
    0
    """
    wet = wet_days(season, air_limit=air_limit)
    spells = longest_run(wet)
    time = season["time"].values
    rooted = time_last(season, "root_depth") > 0
    air, deep = time_last(season, "air_root_zone"), time_last(season, "aerated_depth")
    return dataset_of(
        season,
        {
            "rooted_days": rooted.sum(axis=-1),
            "wet_days": wet.sum(axis=-1),
            "shallow_air_days": (wet & (air >= air_limit)).sum(axis=-1),
            "low_air_days": (rooted & (air < POTTING_AIR)).sum(axis=-1),
            "wet_days_top": (time_last(season, "air_top") < air_limit).sum(axis=-1),
            "wet_spells": spells.runs,
            "longest_wet_spell": spells.longest,
            "wet_spell_start": np.where(
                spells.start >= 0, time[np.maximum(spells.start, 0)], np.datetime64("NaT", "ns")
            ),
            "air_lowest": _least(air, rooted),
            "aerated_depth_lowest": _least(deep, rooted),
            "excess_water": np.maximum(excess_depth - deep, 0.0).sum(axis=-1),
        },
    )


def _least(values: NDArray[np.float64], among: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Least of the values along the last axis `among` some of them; NaN where there is none."""
    least = np.where(among, values, np.inf).min(axis=-1)
    return np.where(np.isinf(least), np.nan, least)


class LimitedDays(NamedTuple):
    """Which days are dry, (..., time); a day is in one of them at the most."""

    empty: NDArray[np.bool_]  # with the reservoir empty
    wick: NDArray[np.bool_]  # with water in it: the mix does not lift it fast or far enough


def limited_days(season: xr.Dataset, *, need_limit: float = NEED_LIMIT) -> LimitedDays:
    """Dry days, told apart by whether the reservoir was empty; as `dryness` counts them."""
    dry = (time_last(season, "uptake_factor") < need_limit) & (
        time_last(season, "transpiration_potential") > 0
    )
    empty = ~_in_reach(season)
    return LimitedDays(dry & empty, dry & ~empty)


def _in_reach(season: xr.Dataset) -> NDArray[np.bool_]:
    """Whether each day ends with open water that the mix can reach, or with the mix in water.

    Above the reservoir free water stands in the mix, whatever lies out of reach below.
    """
    within = time_last(season, "open_water") - per_bed(season, "dead_storage")[..., None]
    above = time_last(season, "level") - per_bed(season, "crown_height")[..., None]
    return np.asarray((within >= EMPTY) | (above >= EMPTY))


@chunkwise
def dryness(season: xr.Dataset, *, need_limit: float = NEED_LIMIT) -> xr.Dataset:
    """Dry days by cause, and how much of their need the plants got over the run.

    Answers: did the plants go short, and was it for want of water or of wicking.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run.
    need_limit : float, default 0.9
        Share of the need under which a day is dry [1].

    Returns
    -------
    Dataset, dims (...)
        ``demand_days``, ``limited_days``, ``empty_days``, ``wick_days``, ``longest_dry_spell``
        [d], ``transpiration_ratio`` [1], NaN where nothing was asked for.

    Notes
    -----
    A day is dry when the plants ask for water and get less than `need_limit` of it. The reservoir
    counts as empty when, at the end of that day, less than half a millimetre of open water stands
    above the dead storage, and none in the mix above the reservoir. Both limits are our choice.

    Examples
    --------
    >>> from bedtide import example_bed, read_weather, run_season, sample_weather
    >>> season = run_season(example_bed(), read_weather(sample_weather()), start="2023-06-01")
    >>> int(dryness(season)["limited_days"])
    0
    """
    by_cause = limited_days(season, need_limit=need_limit)
    dry = by_cause.empty | by_cause.wick
    wanted = time_last(season, "transpiration_potential")
    got = time_last(season, "transpiration").sum(axis=-1)
    return dataset_of(
        season,
        {
            "demand_days": (wanted > 0).sum(axis=-1),
            "limited_days": dry.sum(axis=-1),
            "empty_days": by_cause.empty.sum(axis=-1),
            "wick_days": by_cause.wick.sum(axis=-1),
            "longest_dry_spell": longest_run(dry).longest,
            "transpiration_ratio": share_of(got, wanted.sum(axis=-1)),
        },
    )


def surface_supply(season: xr.Dataset) -> xr.Dataset:
    """How much of the evaporation that the weather asked for the surface gave.

    Answers: did the mix keep its surface wet, or did it dry out above a reservoir with water.

    Parameters
    ----------
    season : Dataset, dims (..., time)
        A run; ``evaporation_potential``, ``evaporation`` [m d-1], ``open_water`` and
        ``dead_storage`` [m].

    Returns
    -------
    Dataset, dims (...)
        ``evaporation_potential_total`` over the run [m]; ``surface_supply``, the evaporation over
        what was asked for on the days that end with water in the reservoir [1], NaN where nothing
        was asked for on them.

    Notes
    -----
    Days that end with the reservoir empty, as `limited_days` has it, don't count: what the surface
    lacks on them is water in the bed, not lift.
    """
    asked, lost = time_last(season, "evaporation_potential"), time_last(season, "evaporation")
    counted = _in_reach(season)
    wanted, got = (np.where(counted, flux, 0.0).sum(axis=-1) for flux in (asked, lost))
    total, share = asked.sum(axis=-1), share_of(got, wanted)
    return dataset_of(season, {"evaporation_potential_total": total, "surface_supply": share})


# --- array work that the readings share: time last, any number of beds before it -----------------


def time_last(season: xr.Dataset, name: str) -> NDArray[Any]:
    """Values of a variable with time as the last axis, shape (..., time), any unit.

    Laid out by time, since sums round by the order in memory, and a bed alone reads as among many.
    """
    return np.ascontiguousarray(season[name].transpose(..., "time").values)


def per_bed(season: xr.Dataset, name: str) -> NDArray[np.float64]:
    """Values of a variable without time that broadcast against one value a bed, any unit."""
    like = season["refill"].isel(time=0, drop=True)
    return np.asarray(season[name].broadcast_like(like).transpose(*like.dims).values, float)


def dataset_of(
    season: xr.Dataset, columns: Mapping[str, ArrayLike], *, dim: str = "", coord: Any = None
) -> xr.Dataset:
    """Readings as a Dataset: the season's dimensions but time, then `dim`; attributes set last."""
    import xarray as xr

    like = season["refill"].isel(time=0, drop=True)
    dims = (*like.dims, dim) if dim else like.dims
    coords = dict(like.coords) if not dim else {**like.coords, dim: coord}
    found = xr.Dataset({name: (dims, np.asarray(v)) for name, v in columns.items()}, coords=coords)
    for name in columns:
        found[name].attrs = attributes(name)
    return found


def share_of(part: NDArray[np.float64], whole: NDArray[np.float64]) -> NDArray[np.float64]:
    """A part over its whole [1]; NaN where the whole is nought."""
    nothing = np.full(np.shape(whole), np.nan)
    return np.asarray(np.divide(part, whole, out=nothing, where=whole > 0.0))


class Runs(NamedTuple):
    """Runs of marked days, each of shape (...)."""

    runs: NDArray[np.int64]  # how many
    longest: NDArray[np.int64]  # length of the longest [d]; 0 where there is none
    start: NDArray[np.int64]  # index of its first day, of equals the first one's; -1 for none


def longest_run(marked: ArrayLike) -> Runs:
    """Runs of marked days along the last axis: how many, the longest, where it starts.

    >>> longest_run([True, False, True, True]).longest
    array(2)
    """
    marked = np.asarray(marked, bool)
    index = np.arange(marked.shape[-1])
    last_clear = np.maximum.accumulate(np.where(marked, -1, index), axis=-1)
    length = index - last_clear
    longest = length.max(axis=-1)
    starts = marked.copy()
    starts[..., 1:] &= ~marked[..., :-1]
    end = length.argmax(axis=-1)
    start = np.where(longest > 0, end - longest + 1, -1)
    return Runs(np.asarray(starts.sum(axis=-1)), np.asarray(longest), np.asarray(start))
