"""Bed descriptions for tests: a plain one to change key by key."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np

from bedtide.bed import (
    Bed,
    bed_from_mapping,
    crown_height,
    mix_below,
    open_store,
    surface_height,
    walls_of,
)
from bedtide.mix import water_content

LAYER = {"height": "15 cm", "void_share": "90 %", "wick_share": "10 %", "wick_foot": "0 cm"}

PLAIN: dict[str, Any] = {
    "bed": {"name": "plain"},
    "box": {"length": "2 m", "width": "60 cm", "depth": "42 cm", "freeboard": "3 cm"},
    "reservoir": {"form": "pipes", "inside": "10 cm", "outside": "12 cm", "count": 4},
    "overflow": {"height": "9 cm"},
    "mix": {"wick": {"medium": "peat"}, "top": {"medium": "potting mix"}},
    "planting": [{"crop": "tomato", "planted": "05-10", "area_share": "60 %"}],
    "watering": {"when": "below share", "share": "30 %"},
    "site": {"exposure": 1.0},  # figures by hand are those of a field
}


def described(changes: dict[str, Any] | None = None, *, without: str = "") -> dict[str, Any]:
    """Return the plain description with keys set by their path, and one taken out."""
    mapping = copy.deepcopy(PLAIN)
    for path, value in (changes or {}).items():
        *outer, last = path.split(".")
        inner: Any = mapping
        for name in outer:
            inner = inner[int(name)] if isinstance(inner, list) else inner.setdefault(name, {})
        inner[last] = copy.deepcopy(value)
    if without:
        *outer, last = without.split(".")
        inner = mapping
        for name in outer:
            inner = inner[int(name)] if isinstance(inner, list) else inner[name]
        del inner[last]
    return mapping


def bed_with(changes: dict[str, Any] | None = None, *, without: str = "") -> Bed:
    """Return the bed of the plain description with these changes."""
    return bed_from_mapping(described(changes, without=without), where="bed.toml")


def layered(form: str, **keys: str) -> Bed:
    """Return a bed on a layer with 15 cm, 90 % void, 10 % legs down to the floor, unless told."""
    return bed_with({"reservoir": {"form": form, **LAYER, **keys}})


def void_share(height: Any, bed: Bed) -> Any:
    """Return the share of the plan area that is open to water at a height [1]."""
    return bed.reservoir.shares(height, walls_of(bed)).void


def rest_store(bed: Bed, level: float) -> float:
    """Open water and water in the mix at rest over a level [m], by fine sums of our own."""
    z = np.linspace(0.0, surface_height(bed), 20001)
    middle, step = 0.5 * (z[1:] + z[:-1]), z[1] - z[0]
    share = np.diff(mix_below(z, bed)) / step
    wick = water_content(np.maximum(middle - level, 0.0), bed.wick_mix)
    top = water_content(np.maximum(middle - level, 0.0), bed.top_mix)
    content = np.where(middle < crown_height(bed), wick, top)
    return float(open_store(level, bed) + (share * content).sum() * step)
