"""Many beds and years at once: which years, which doubts, which statistics, rainy spells."""

from bedtide.many.doubt import (
    DRAWS,
    SELDOM,
    Doubt,
    Drawn,
    drawn_beds,
    drawn_demand,
    drawn_shares,
    near,
    priors,
    range_of,
    ranges_of,
)
from bedtide.many.runs import readable
from bedtide.many.spells import Placed, Wanted, parse_spells, place_spells
from bedtide.many.statistics import (
    HIGH,
    LOW,
    Chance,
    Spread,
    chance,
    percentile,
    sample_bounds,
    spread,
)
from bedtide.many.variants import (
    MOST_BEDS,
    Variant,
    label_without,
    letters,
    parse_choices,
    varied_beds,
)
from bedtide.many.wet_spell import LeastDepth, least_depth, wet_spells
from bedtide.many.years import Years, every_year, repeated, some_years, whole_years

__all__ = [
    "DRAWS",
    "HIGH",
    "LOW",
    "MOST_BEDS",
    "SELDOM",
    "Chance",
    "Doubt",
    "Drawn",
    "LeastDepth",
    "Placed",
    "Spread",
    "Variant",
    "Wanted",
    "Years",
    "chance",
    "drawn_beds",
    "drawn_demand",
    "drawn_shares",
    "every_year",
    "label_without",
    "least_depth",
    "letters",
    "near",
    "parse_choices",
    "parse_spells",
    "percentile",
    "place_spells",
    "priors",
    "range_of",
    "ranges_of",
    "readable",
    "repeated",
    "sample_bounds",
    "some_years",
    "spread",
    "varied_beds",
    "wet_spells",
    "whole_years",
]
