"""Decisions that rest on many runs: which bed, how wet in a rainy spell, how long it lasts."""

from bedtide.decide.away import LONGEST_STAY, away
from bedtide.decide.choice import ALLOWANCE, ROOM, Choice, beaten, choose, scores
from bedtide.decide.compare import SPREADS, compare, days_between
from bedtide.decide.doubt import PARAMETERS, Doubt, doubtful_beds, range_of, ranges_of
from bedtide.decide.lasting import SAFE
from bedtide.decide.least_depth import LeastDepth, least_air, least_depth
from bedtide.decide.leave_dates import away_calendar
from bedtide.decide.measures import AS_IT_IS, MEASURES, shaded_weather
from bedtide.decide.outlets import Outlet, outlet_of
from bedtide.decide.places import Placed, place_spells
from bedtide.decide.ranges import (
    SELDOM,
    ComparedRanges,
    away_ranges,
    compare_ranges,
    season_ranges,
    with_calendar_range,
)
from bedtide.decide.spells import LENGTHS, RainSpell, Wanted, parse_spells
from bedtide.decide.statistics import (
    Chance,
    Spread,
    chance,
    percentile,
    sample_bounds,
    spread,
)
from bedtide.decide.variants import (
    MOST_BEDS,
    Variant,
    label_without,
    letters,
    parse_choices,
    varied_beds,
)
from bedtide.decide.weight import Weight, brimful_weight, mix_volume
from bedtide.decide.wet_spell import wet_spells
from bedtide.decide.years import Years, whole_years

__all__ = [
    "ALLOWANCE",
    "AS_IT_IS",
    "LENGTHS",
    "LONGEST_STAY",
    "MEASURES",
    "MOST_BEDS",
    "PARAMETERS",
    "ROOM",
    "SAFE",
    "SELDOM",
    "SPREADS",
    "Chance",
    "Choice",
    "ComparedRanges",
    "Doubt",
    "LeastDepth",
    "Outlet",
    "Placed",
    "RainSpell",
    "Spread",
    "Variant",
    "Wanted",
    "Weight",
    "Years",
    "away",
    "away_calendar",
    "away_ranges",
    "beaten",
    "brimful_weight",
    "chance",
    "choose",
    "compare",
    "compare_ranges",
    "days_between",
    "doubtful_beds",
    "label_without",
    "least_air",
    "least_depth",
    "letters",
    "mix_volume",
    "outlet_of",
    "parse_choices",
    "parse_spells",
    "percentile",
    "place_spells",
    "range_of",
    "ranges_of",
    "sample_bounds",
    "scores",
    "season_ranges",
    "shaded_weather",
    "spread",
    "varied_beds",
    "wet_spells",
    "whole_years",
    "with_calendar_range",
]
