"""Many beds and years: compared, left alone, in rainy spells, at many places; statistics."""

from bedtide.many.choice import Reason, choose
from bedtide.many.comparison import Ranges, compare, compare_ranges
from bedtide.many.doubt import SELDOM, Range, drawn_beds, drawn_demand, near, priors, ranges_of
from bedtide.many.leaving import (
    FEW_YEARS,
    FOLLOWED,
    NEVER,
    SPIN_UP,
    away_calendar,
    first_day,
    kept,
    usable,
    with_calendar_range,
)
from bedtide.many.measures import fitting_drum
from bedtide.many.places import BY_MONTH, Ask, no_figures, place_figures, suited, years_of
from bedtide.many.spells import Placed, Wanted, parse_spells, place_spells, whole_record
from bedtide.many.stay import away, away_ranges
from bedtide.many.variants import (
    MOST_BEDS,
    Variant,
    label_without,
    parse_choices,
    varied_beds,
)
from bedtide.many.wet_spell import (
    OUTLETS,
    LeastDepth,
    least_depth,
    spell_ranges,
    wet_record,
    wet_spells,
)
from bedtide.many.years import MOST_FILLED, every_year, on_that_day, readable, repeated, whole_years

__all__ = [
    "BY_MONTH",
    "FEW_YEARS",
    "FOLLOWED",
    "MOST_BEDS",
    "MOST_FILLED",
    "NEVER",
    "OUTLETS",
    "SELDOM",
    "SPIN_UP",
    "Ask",
    "LeastDepth",
    "Placed",
    "Range",
    "Ranges",
    "Reason",
    "Variant",
    "Wanted",
    "away",
    "away_calendar",
    "away_ranges",
    "choose",
    "compare",
    "compare_ranges",
    "drawn_beds",
    "drawn_demand",
    "every_year",
    "first_day",
    "fitting_drum",
    "kept",
    "label_without",
    "least_depth",
    "near",
    "no_figures",
    "on_that_day",
    "parse_choices",
    "parse_spells",
    "place_figures",
    "place_spells",
    "priors",
    "ranges_of",
    "readable",
    "repeated",
    "spell_ranges",
    "suited",
    "usable",
    "varied_beds",
    "wet_record",
    "wet_spells",
    "whole_record",
    "whole_years",
    "with_calendar_range",
    "years_of",
]
