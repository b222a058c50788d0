"""Many beds and years at once: which years, which doubts, which statistics, rainy spells."""

from bedtide.many.doubt import PARAMETERS, SELDOM, Doubt, doubtful_beds, range_of, ranges_of
from bedtide.many.spells import Placed, Wanted, parse_spells, place_spells
from bedtide.many.statistics import Chance, Spread, chance, percentile, sample_bounds, spread
from bedtide.many.variants import (
    MOST_BEDS,
    Variant,
    label_without,
    letters,
    parse_choices,
    varied_beds,
)
from bedtide.many.wet_spell import LeastDepth, least_depth, wet_spells
from bedtide.many.years import Years, every_year, repeated, whole_years

__all__ = [
    "MOST_BEDS",
    "PARAMETERS",
    "SELDOM",
    "Chance",
    "Doubt",
    "LeastDepth",
    "Placed",
    "Spread",
    "Variant",
    "Wanted",
    "Years",
    "chance",
    "doubtful_beds",
    "every_year",
    "label_without",
    "least_depth",
    "letters",
    "parse_choices",
    "parse_spells",
    "percentile",
    "place_spells",
    "range_of",
    "ranges_of",
    "repeated",
    "sample_bounds",
    "spread",
    "varied_beds",
    "wet_spells",
    "whole_years",
]
