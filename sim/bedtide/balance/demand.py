"""Weather and plantings of a bed turned into what each day brings and asks for."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.balance.simulate import Array, Forcing, Index
from bedtide.bed import Bed
from bedtide.crop import crop_days, mulch_factor
from bedtide.profile import DEMANDS, ROOTING, BedTables, rooting_depths

if TYPE_CHECKING:
    import xarray as xr

_LEAST_EXPOSED = 0.01


class Demand(NamedTuple):
    """What the days of a record bring to one bed and ask of it, shape (time,).

    Attributes
    ----------
    forcing : Forcing
        Columns of one.
    kcb, cover, root_depth, et0, rain : ndarray of float
        Basal coefficient [1], leaf cover [1], rooting depth [m], reference evapotranspiration and
        rain on open ground [m].
    rooting : ndarray of int
        Number of the tabulated rooting depth [1].
    """

    forcing: Forcing
    kcb: Array
    cover: Array
    root_depth: Array
    et0: Array
    rain: Array
    rooting: Index


def demand_of(bed: Bed, weather: xr.Dataset, tables: BedTables) -> Demand:
    """Rain and demand of one bed over a record.

    Parameters
    ----------
    bed : Bed
        Its plantings, cover, mulch and exposure.
    weather : Dataset, dims (time,)
        As :func:`bedtide.weather.read_weather` gives it.
    tables : BedTables
        Tables of the bed, for the rooting depths that they know.

    Returns
    -------
    Demand
        For :func:`simulate`. A cover keeps rain off and evaporation in, and leaves the plants'
        demand as it is.
    """
    days = weather["time"].to_numpy().astype("datetime64[D]")
    et0 = weather["et0"].to_numpy()
    rain = weather["rain"].to_numpy()
    crops = crop_days(
        bed.plantings,
        days,
        wind_speed=weather["wind_speed"].to_numpy(),
        rh_min=weather["rh_min"].to_numpy(),
        exposure=bed.site.exposure,
    )
    mulch = float(mulch_factor(bed.surface.mulch_share))
    open_share = bed.surface.open_share
    exposed = np.minimum(crops.wetted_exposed, open_share)
    transpiration = crops.kcb * et0
    depths = rooting_depths(tables.grid)
    rooting = _nearest(np.minimum(crops.root_depth, depths[-1]), depths)
    kind = rooting * DEMANDS.size + _nearest(transpiration, DEMANDS)
    forcing = Forcing(
        rain=_column(rain * open_share),
        transpiration=_column(transpiration),
        energy=_column(np.maximum(crops.kc_max - crops.kcb, 0.0) * et0 * mulch),
        wetted=_column(exposed * crops.kc_max * et0 * mulch),
        exposed=_column(np.maximum(exposed, _LEAST_EXPOSED)),
        kind=kind[:, None],
    )
    return Demand(forcing, crops.kcb, crops.cover, crops.root_depth, et0, rain, rooting)


def _nearest(values: Array, nodes: Array) -> NDArray[np.intp]:
    """Number of the node that lies nearest."""
    return np.searchsorted(0.5 * (nodes[1:] + nodes[:-1]), values)


def _column(values: Array) -> Array:
    return np.ascontiguousarray(values[:, None])


assert ROOTING[-1] == 1.0  # the deepest tabulated roots are the grown plants'
