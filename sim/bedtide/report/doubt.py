"""A range as figures and in words: how sure a headline is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bedtide.many import Doubt


_TOLD = 0.3  # rank correlation that 64 draws show by chance in one case of sixty


@dataclass(frozen=True, kw_only=True)
class Range:
    """A headline over the drawn beds; None is more than was followed, or no value."""

    typical: float | None  # as the bed is described
    low: float | None  # 8 in 10 of the sets lie between low and high
    high: float | None
    matters: str | None  # what moves it most
    influence: dict[str, float]  # rank correlation with everything that was drawn
    failing: int  # sets with which the bed does not work; not in the range
    runs: int

    @property
    def most(self) -> list[str]:
        """What moves it most, then next, as far as chance would not as well."""
        told = {name: abs(share) for name, share in self.influence.items()}
        return [n for n in sorted(told, key=lambda n: -told[n]) if told[n] >= _TOLD][:3]


def range_figures(doubts: Mapping[str, Doubt]) -> dict[str, Range]:
    """Ranges of headlines under the keys of these."""
    return {
        key: Range(
            typical=finite(doubt.typical),
            low=finite(doubt.low),
            high=finite(doubt.high),
            matters=doubt.matters or None,
            influence={name: round(share, 3) for name, share in doubt.influence.items()},
            failing=doubt.failing,
            runs=doubt.runs,
        )
        for key, doubt in doubts.items()
    }


def finite(value: Any) -> float | int | None:
    """A plain number, whole where it is; None where it is infinite or missing."""
    number = float(value)
    if not math.isfinite(number):
        return None
    return int(number) if number == int(number) else number
