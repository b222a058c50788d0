"""How a stay away goes from day to day, as it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bedtide.statistics import percentile

if TYPE_CHECKING:
    import xarray as xr


@dataclass(frozen=True, kw_only=True)
class Band:
    """A share on each day [%]: the middle case, and between which ends eight in ten lie."""

    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]

    @property
    def over(self) -> list[float]:
        """From the lower end to the upper."""
        return [high - low for low, high in zip(self.low, self.high, strict=True)]


@dataclass(frozen=True, kw_only=True)
class Course:
    """Reservoir and plants on each day of the bed as it is."""

    store: Band  # of what the mix can reach
    need: Band  # of what the plants want, met


def course_of(stay: xr.Dataset) -> Course:
    """Course of a stay as :func:`bedtide.away` gives it."""
    return Course(store=_band(stay["store_share"]), need=_band(stay["uptake_factor"]))


def _band(share: Any) -> Band:
    values = 100.0 * share.transpose("day", "case").to_numpy()
    low, middle, high = (tuple(percentile(values, part).tolist()) for part in (0.1, 0.5, 0.9))
    return Band(low=low, middle=middle, high=high)
