"""Beds whose building was worked out by hand, with the user's file of each."""

from __future__ import annotations

import copy
import tempfile
from pathlib import Path
from typing import Any

import tomlkit

from bedtide.bed import Bed, bed_from_mapping, with_value
from bedtide.building import Build, build
from helpers.beds import PLAIN

PIPES: dict[str, Any] = {
    **PLAIN,
    "bed": {"name": "Pipes"},
    "box": {"length": "2400 mm", "width": "620 mm", "depth": "400 mm", "freeboard": "30 mm"},
    "reservoir": {
        "form": "pipes",
        "inside": "102 mm",
        "outside": "120 mm",
        "count": 4,
        "run": "2340 mm",
    },
    "overflow": {"height": "90 mm", "bore": "20 mm"},
    "mix": {"wick": {"medium": "peat and vermiculite"}, "top": {"medium": "potting mix"}},
}
PIPES_FILE = """
currency = "EUR"
[board]
lengths = { "3.0 m" = 9, "3.6 m" = 11, "4.8 m" = 16, "5.4 m" = 18 }
"""
TUB: dict[str, Any] = {
    **PLAIN,
    "bed": {"name": "Tub"},
    "box": {
        "length": "700 mm",
        "width": "450 mm",
        "depth": "380 mm",
        "freeboard": "30 mm",
        "length_at_floor": "620 mm",
        "width_at_floor": "370 mm",
    },
    "reservoir": {
        "form": "stone",
        "height": "100 mm",
        "void_share": "40 %",
        "wick_share": "15 %",
        "wick_foot": "0 cm",
    },
    "overflow": {"height": "80 mm", "bore": "13 mm"},
}
CRATES: dict[str, Any] = {
    **PLAIN,
    "bed": {"name": "Crates"},
    "box": {"length": "96 in", "width": "48 in", "depth": "18 1/2 in", "freeboard": "2 in"},
    "reservoir": {
        "form": "crates",
        "height": "6 in",
        "void_share": "95 %",
        "wick_share": 2 / 12,
        "wick_foot": "0 in",
    },
    "overflow": {"height": "5 in", "bore": "1 in"},
    "mix": {
        zone: {"recipe": {"peat": "50 %", "perlite": "20 %", "pine bark fine": "30 %"}}
        for zone in ("wick", "top")
    },
}


def changed(mapping: dict[str, Any], changes: dict[str, Any]) -> Bed:
    """Bed of a description with whole sections, or keys by their path, put in their place."""
    mapping = copy.deepcopy(mapping)
    for key, value in changes.items():
        if "." in key:
            mapping = with_value(mapping, key, value)
        else:
            mapping[key] = value
    return bed_from_mapping(mapping)


def built(
    mapping: dict[str, Any],
    file: Path | None = None,
    *,
    changes: dict[str, Any] | None = None,
    own: dict[str, Any] | None = None,
    units: Any = "metric",
    **options: Any,
) -> Build:
    """Sheet of a description, with a file of the user's or keys of one."""
    bed = changed(mapping, changes or {})
    with tempfile.TemporaryDirectory() as folder:
        if own is not None:
            tables: dict[str, Any] = {}
            for key, value in own.items():
                section, _, name = key.partition(".")
                tables.setdefault(section, {})[name] = value
            file = Path(folder) / "mine.toml"
            file.write_text(tomlkit.dumps(tables))
        return build(bed, file, units=units, **options)


def item(sheet: Build, name: str) -> Any:
    """What is bought under a name, which stands once on the sheet."""
    (found,) = [each for each in sheet.items if each.item == name]
    return found


def check(sheet: Build, name: str) -> Any:
    """The check of a name."""
    (found,) = [each for each in sheet.checks if each.name == name]
    return found
