"""What a mix does with water: how much it holds, how well it conducts, and where to get one."""

from bedtide.mix.bench import fit_bench
from bedtide.mix.hydraulics import (
    VAPOUR_LENGTH,
    lift_height,
    mean_water_content,
    suction_at,
    supply_conductivity,
    water_content,
)
from bedtide.mix.media import RANGES, Mix, media, medium
from bedtide.mix.recipe import blend
