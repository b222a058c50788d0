"""The suction profiles of a bed, and the tables that the daily balance looks up."""

from bedtide.profile.curve import Curve, curve_of, potential_at, suction_and_conductivity
from bedtide.profile.functionals import DEMANDS, ROOTING, rooting_depths
from bedtide.profile.grid import Grid, Roots, grid_of, mix_water
from bedtide.profile.lookup import Axes, Place, Stack, axes_of, look_up, place, stacked
from bedtide.profile.march import march_down, march_up
from bedtide.profile.table import BedTables, Pairs, air_profile, bed_tables, rest_state, tables_of

__all__ = [
    "DEMANDS",
    "ROOTING",
    "Axes",
    "BedTables",
    "Curve",
    "Grid",
    "Pairs",
    "Place",
    "Roots",
    "Stack",
    "air_profile",
    "axes_of",
    "bed_tables",
    "curve_of",
    "grid_of",
    "look_up",
    "march_down",
    "march_up",
    "mix_water",
    "place",
    "potential_at",
    "rest_state",
    "rooting_depths",
    "stacked",
    "suction_and_conductivity",
    "tables_of",
]
