"""A function of many places, chunk by chunk, where these are on dask; dask itself stays away."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar, cast

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

_Reading = TypeVar("_Reading", bound=Callable[..., Any])


def on_dask(dataset: xr.Dataset) -> bool:
    """Whether it holds places in chunks that are worked out when asked for."""
    return "place" in dataset.dims and any(
        variable.chunks is not None for variable in dataset.variables.values()
    )


def by_chunk(function: Callable[..., xr.Dataset], dataset: xr.Dataset, **words: Any) -> xr.Dataset:
    """``function(dataset, **words)`` of each chunk of places, when it is asked for.

    It is called once with one place of zeros, to see what comes back. Coordinates of the places
    stay as they are; what comes back without places must not hang on the data.
    """
    import xarray as xr

    whole = dataset.chunk({dim: -1 for dim in dataset.dims if dim != "place"}).unify_chunks()
    like = function(_blank(whole), **words)
    parts = whole.chunks["place"]
    of_place = {name: each for name, each in like.data_vars.items() if "place" in each.dims}
    template = xr.Dataset(
        {name: each.isel(place=[0]).variable for name, each in of_place.items()},
        coords={k: v for k, v in like.coords.items() if "place" not in v.dims},
        attrs=like.attrs,
    )
    if not parts:
        return template
    template = template.chunk().isel(place=np.zeros(sum(parts), dtype=int)).chunk(place=parts)
    places = {k: dataset[k] for k, v in like.coords.items() if "place" in v.dims}
    template = template.assign_coords(places)
    found: xr.Dataset = xr.map_blocks(
        _of_places, whole, kwargs={"function": function, "words": words}, template=template
    )
    others = {k: v for k, v in like.data_vars.items() if k not in of_place}
    return found.assign(others).assign_coords(places)


def chunkwise(read: _Reading) -> _Reading:
    """Let a reading of a run take places on dask as well."""

    @functools.wraps(read)
    def wrapped(season: xr.Dataset, *more: Any, **words: Any) -> Any:
        if on_dask(season):
            return by_chunk(read, season, **words)
        return read(season, *more, **words)

    return cast(_Reading, wrapped)


def _of_places(block: xr.Dataset, *, function: Any, words: Any) -> xr.Dataset:
    """What hangs on the places of a block."""
    found: xr.Dataset = function(block, **words)
    return found.drop_vars([k for k, v in found.data_vars.items() if "place" not in v.dims])


def _blank(dataset: xr.Dataset) -> xr.Dataset:
    """One place of zeros in memory, of the same dimensions."""
    import xarray as xr

    def blank(each: Any) -> Any:
        if each.chunks is None:
            return each.isel(place=[0]) if "place" in each.dims else each
        shape = [1 if dim == "place" else size for dim, size in each.sizes.items()]
        return xr.Variable(each.dims, np.zeros(shape, each.dtype), each.attrs)

    made = {name: blank(each) for name, each in dataset.variables.items()}
    coords = {name: made.pop(name) for name in dataset.coords}
    return xr.Dataset(made, coords=coords, attrs=dataset.attrs)
