"""Arrays of a run as an xarray Dataset: names, units and attributes from the glossary, set last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide import __version__
from bedtide.terms import attributes, terms

if TYPE_CHECKING:
    import xarray as xr

CONVENTIONS = "CF-1.8"


def run_dataset(
    variables: Mapping[str, tuple[Sequence[str], Any]],
    *,
    coords: Mapping[str, Any],
    attrs: Mapping[str, Any],
) -> xr.Dataset:
    """Dataset of a run.

    Parameters
    ----------
    variables : mapping of (dims, values)
        Values by name, each a name of the glossary.
    coords : mapping
        Coordinates.
    attrs : mapping
        What is said of the run as a whole.

    Returns
    -------
    Dataset
        Every variable with its units and names.
    """
    import xarray as xr

    dataset = xr.Dataset(
        {
            name: (tuple(dims), np.asarray(values), attributes(name))
            for name, (dims, values) in variables.items()
        },
        coords=dict(coords),
    )
    for name in dataset.coords:
        if name in terms():
            dataset[name].attrs = attributes(str(name))
    dataset.attrs = {"Conventions": CONVENTIONS, "bedtide_version": __version__, **attrs}
    return dataset
