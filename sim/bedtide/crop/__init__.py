"""What plants ask of a bed: demand by day, surface evaporation, roots and the dry limit."""

from bedtide.crop.coefficients import dry_start, evaporation_coefficient, mulch_factor
from bedtide.crop.planting import (
    EXPOSURE,
    EXPOSURES,
    WIDEST_CANOPY,
    CropDays,
    Planting,
    crop_days,
    season_length,
)
from bedtide.crop.table import Crop, crop, crop_names, crops
