"""Decisions that rest on many runs: which bed, how wet in a rainy spell, how long it lasts."""

from bedtide.decide.statistics import (
    Chance,
    Spread,
    chance,
    percentile,
    sample_bounds,
    spread,
)

__all__ = [
    "Chance",
    "Spread",
    "chance",
    "percentile",
    "sample_bounds",
    "spread",
]
