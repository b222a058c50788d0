"""The bed: its reservoir forms, its open-water store and its description."""

from bedtide.bed.circle import chord, segment_area, segment_depth
from bedtide.bed.description import (
    Bed,
    Box,
    Overflow,
    OverflowChange,
    Site,
    Surface,
    Watering,
)
from bedtide.bed.forms import (
    Crates,
    FalseFloor,
    Pipes,
    Reservoir,
    Stone,
    crown_height,
    mix_share,
    plan_area,
    surface_height,
    void_share,
    wick_foot,
)
from bedtide.bed.outlet import outlet_flow
from bedtide.bed.overflow import lip_on
from bedtide.bed.read import (
    bed_from_mapping,
    bed_from_text,
    bed_text,
    example_bed,
    example_text,
    read_bed,
    read_mapping,
)
from bedtide.bed.sections import form_keys
from bedtide.bed.store import capacity, dead_storage, level_of, mix_below, open_store
from bedtide.bed.vary import varied_keys, with_value

__all__ = [
    "Bed",
    "Box",
    "Crates",
    "FalseFloor",
    "Overflow",
    "OverflowChange",
    "Pipes",
    "Reservoir",
    "Site",
    "Stone",
    "Surface",
    "Watering",
    "bed_from_mapping",
    "bed_from_text",
    "bed_text",
    "capacity",
    "chord",
    "crown_height",
    "dead_storage",
    "example_bed",
    "example_text",
    "form_keys",
    "level_of",
    "lip_on",
    "mix_below",
    "mix_share",
    "open_store",
    "outlet_flow",
    "plan_area",
    "read_bed",
    "read_mapping",
    "segment_area",
    "segment_depth",
    "surface_height",
    "varied_keys",
    "void_share",
    "wick_foot",
    "with_value",
]
