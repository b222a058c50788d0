"""What plants ask of a bed: demand by day, surface evaporation, roots and the dry limit."""

from bedtide.crop.coefficients import adjusted_coefficient, cover_fraction, upper_coefficient
from bedtide.crop.days import CropDays, crop_days
from bedtide.crop.evaporation import evaporation_coefficient, mulch_factor
from bedtide.crop.planting import Planting
from bedtide.crop.table import Crop, crop, crops
from bedtide.crop.uptake import dry_factor, dry_start, in_potting_mix

__all__ = [
    "Crop",
    "CropDays",
    "Planting",
    "adjusted_coefficient",
    "cover_fraction",
    "crop",
    "crop_days",
    "crops",
    "dry_factor",
    "dry_start",
    "evaporation_coefficient",
    "in_potting_mix",
    "mulch_factor",
    "upper_coefficient",
]
