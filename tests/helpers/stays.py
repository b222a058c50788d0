"""Stays away by brute force: a loop over years and days of a visit, nothing of the answer's own."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import xarray as xr

from bedtide.balance import State, run_many
from bedtide.bed import Bed, Watering, capacity, level_of

SPIN_UP = 30


class Alone:
    """One bed left on one morning, after thirty days of its own watering, filled to the lip."""

    def __init__(
        self, bed: Bed, weather: xr.Dataset, first: datetime.date, *, days: int, lip: float
    ) -> None:
        self.bed = replace(bed, watering=Watering("never"))
        self.weather, self.first, self.days = weather, first, days
        self.full = float(capacity(bed, lip))
        before = first - datetime.timedelta(days=SPIN_UP)
        eve = run_many([bed], weather, [before], days=SPIN_UP).end
        self.state = self.filled(eve)

    def filled(self, state: State) -> State:
        """The stores with the reservoir full to the lip, all else as it was."""
        water = np.maximum(state.open_water, self.full)
        return state._replace(open_water=water, level=np.asarray(level_of(water, self.bed)))

    def lasts(self, visits: tuple[int, ...] = ()) -> float:
        """Days before the first on which the plants get under nine tenths of what they ask for.

        Nobody comes but on the mornings of the visits, when it is filled to the lip again.
        """
        state, short = self.state, []
        for begin, end in pairwise([0, *visits, self.days]):
            if begin:
                state = self.filled(state)
            start = self.first + datetime.timedelta(days=begin)
            run = run_many([self.bed], self.weather, [start], days=end - begin, start=state)
            wanted = run.demand[0].uptake.sum(axis=1)[run.windows[:, 0]]
            took = run.series.transpiration[:, 0]
            short += [bool(w > 0.0 and t < 0.9 * w) for t, w in zip(took, wanted, strict=True)]
            state = run.end
        return float(short.index(True)) if True in short else math.inf


def safe_days(lasted: list[float], days: int) -> int:
    """Whole days that nine of ten cases last, as far as the stay: the Weibull position by hand."""
    ordered = sorted(min(each, days) for each in lasted)
    place = 0.1 * (len(ordered) + 1) - 1.0
    if place <= 0.0:
        return int(ordered[0])
    low = int(place)
    return math.floor(ordered[low] + (place - low) * (ordered[low + 1] - ordered[low]) + 1e-9)


def worth(lasted: list[float], days: int) -> tuple[int, int]:
    """Days that are safe, then in how many years it lasts the stay."""
    return safe_days(lasted, days), sum(each >= days for each in lasted)
