"""What a mix does with water: how much it holds, how well it conducts, and where to get one."""

from bedtide.mix.bench import fit_bench
from bedtide.mix.conductivity import (
    VAPOUR_LENGTH,
    conductivity,
    supply_conductivity,
    vapour_conductivity,
)
from bedtide.mix.media import media, medium
from bedtide.mix.parameters import WETTING, Mix, conductivity_case
from bedtide.mix.recipe import blend
from bedtide.mix.retention import mean_water_content, suction_at, water_content

__all__ = [
    "VAPOUR_LENGTH",
    "WETTING",
    "Mix",
    "blend",
    "conductivity",
    "conductivity_case",
    "fit_bench",
    "mean_water_content",
    "media",
    "medium",
    "suction_at",
    "supply_conductivity",
    "vapour_conductivity",
    "water_content",
]
