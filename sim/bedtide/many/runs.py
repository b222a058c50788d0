"""A run of many beds and starts as the readings take it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.balance import Run, variables_of
from bedtide.bed import crown_height, dead_storage, plan_area

if TYPE_CHECKING:
    import xarray as xr


def readable(run: Run, weather: xr.Dataset) -> xr.Dataset:
    """All that the readings look at, dims (bed, year, time), `year` the starts.

    Of a run at places of the weather: dims (bed, place, year, time).

    The days of the first start stand for those of all: the readings need their months alone.
    """
    import xarray as xr

    shape = (len(run.beds), len(run.starts), run.days)
    dims = ("bed", "year", "time")
    values: dict[str, Any] = {
        name: (dims, array.T.reshape(shape)) for name, array in variables_of(run).items()
    }
    different = {id(demand): demand for demand in run.demand}  # beds that ask the same share it
    for name in ("rain", "et0", "root_depth"):
        series = {key: getattr(demand, name)[run.windows.T] for key, demand in different.items()}
        if len(series) == 1:
            values[name] = (dims, np.broadcast_to(next(iter(series.values())), shape))
        else:
            values[name] = (dims, np.stack([series[id(demand)] for demand in run.demand]))
    measures = {"plan_area": plan_area, "dead_storage": dead_storage, "crown_height": crown_height}
    for name, measure in measures.items():
        values[name] = ("bed", np.array([measure(bed) for bed in run.beds]))
    start = run.start
    stores = {"open": start.open_water, "mix": start.mix_water, "standing": start.standing}
    for name, store in stores.items():
        values[f"start_{name}_water"] = (dims[:2], store.reshape(shape[:2]))
    days = weather["time"].to_numpy()[run.windows[:, 0]]
    found = xr.Dataset(values, coords={"time": days})
    if "place" not in weather.dims:
        return found
    count = weather.sizes["place"]
    return xr.Dataset(
        {
            name: (
                ("bed", "place", *each.dims[1:]),
                each.to_numpy().reshape(-1, count, *each.shape[1:]),
            )
            for name, each in found.items()
        },
        coords={"time": days, **weather["place"].coords},
    )
