"""Bed descriptions for tests: a plain one to change key by key."""

from __future__ import annotations

import copy
from typing import Any

from bedtide.bed import Bed, bed_from_mapping

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
        inner[last] = value
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
