"""The bed: its reservoir forms, its open-water store and its description."""

from bedtide.bed.forms import Crates, FalseFloor, Pipes, Stone, form_keys
from bedtide.bed.geometry import (
    brimful_weight,
    capacity,
    crown_height,
    dead_storage,
    full_level,
    full_store,
    level_of,
    lip_on,
    lowest_roots,
    mix_below,
    mix_share,
    mix_volume,
    open_store,
    outlet_flow,
    plan_area,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.bed.model import Bed
from bedtide.bed.read import (
    bed_from_mapping,
    bed_from_text,
    bed_text,
    document_of,
    example_bed,
    example_text,
    read_bed,
    read_mapping,
)
from bedtide.bed.sections import Box, Overflow, OverflowChange, Site, Surface, Watering
from bedtide.bed.vary import fit_beside, fitted_bed, mark_of, set_value, with_fit, with_value
