"""Decisions that rest on many runs: which bed, how wet in a rainy spell, how long it lasts."""

from bedtide.decide.choice import ALLOWANCE, Choice, beaten, choose, scores
from bedtide.decide.compare import SPREADS, compare, days_between
from bedtide.decide.statistics import (
    Chance,
    Spread,
    chance,
    percentile,
    sample_bounds,
    spread,
)
from bedtide.decide.variants import MOST_BEDS, Variant, letters, parse_choices, varied_beds
from bedtide.decide.weight import Weight, brimful_weight, mix_volume
from bedtide.decide.years import Years, whole_years

__all__ = [
    "ALLOWANCE",
    "MOST_BEDS",
    "SPREADS",
    "Chance",
    "Choice",
    "Spread",
    "Variant",
    "Weight",
    "Years",
    "beaten",
    "brimful_weight",
    "chance",
    "choose",
    "compare",
    "days_between",
    "letters",
    "mix_volume",
    "parse_choices",
    "percentile",
    "sample_bounds",
    "scores",
    "spread",
    "varied_beds",
    "whole_years",
]
