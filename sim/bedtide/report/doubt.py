"""A range as figures and in words: how sure a headline is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bedtide.many import Doubt


@dataclass(frozen=True, kw_only=True)
class Range:
    """A headline over the doubtful beds; None is more than was followed, or no value."""

    typical: float | None
    low: float | None
    high: float | None
    matters: str | None  # the parameter that moves it most
    alone: dict[str, dict[str, float | None]]  # low and high of each parameter alone
    against: float | None  # all of them against the plants
    in_favour: float | None
    failing: tuple[str, ...]  # sets with which the bed does not work; not in the range
    runs: int


def range_figures(doubts: Mapping[str, Doubt]) -> dict[str, Range]:
    """Ranges of headlines under the keys of these."""
    return {key: _range(doubt) for key, doubt in doubts.items()}


def _range(doubt: Doubt) -> Range:
    return Range(
        typical=finite(doubt.typical),
        low=finite(doubt.low),
        high=finite(doubt.high),
        matters=doubt.matters or None,
        alone={
            name: {"low": finite(low), "high": finite(high)}
            for name, (low, high) in doubt.alone.items()
        },
        against=finite(doubt.together[0]),
        in_favour=finite(doubt.together[1]),
        failing=doubt.failing,
        runs=doubt.runs,
    )


def finite(value: Any) -> float | int | None:
    """A plain number, whole where it is; None where it is infinite or missing."""
    number = float(value)
    if not math.isfinite(number):
        return None
    return int(number) if number == int(number) else number
