"""Seeded inputs by name, the same for every way that is timed."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache

import numpy as np
import xarray as xr

from bedtide import bed_tables, example_bed, read_weather, sample_weather
from bedtide.balance import Forcing, Rules, Series, State, simulate
from bedtide.balance.profile_readings import ProfileReadings, profile_readings
from bedtide.bed import Bed, bed_from_mapping, example_text, with_value
from bedtide.profile import BedTables, rest_state

DEPTHS = ("15 in", "16 in", "17 in", "18 in")
LIPS = ("2 in", "3 in", "3 1/2 in")
SEED = 20270710


def bed_like_the_example(depth: str, lip: str) -> Bed:
    """The example bed with another depth and another lip."""
    mapping = tomllib.loads(example_text())
    for key, value in (("box.depth", depth), ("overflow.height", lip)):
        mapping = with_value(mapping, key, value, where="case")
    return bed_from_mapping(mapping, where="case")


@cache
def twelve_tables() -> list[BedTables]:
    """Tables of twelve beds that differ in depth and lip."""
    return [bed_tables(bed_like_the_example(depth, lip)) for depth in DEPTHS for lip in LIPS]


@cache
def record(years: int = 30) -> xr.Dataset:
    """The first years of the built-in weather."""
    return read_weather(sample_weather(), end=f"{1994 + years}-12-31")


@dataclass(frozen=True)
class Many:
    """Everything that `simulate` asks for, of many beds."""

    tables: list[BedTables]
    which: np.ndarray
    forcing: Forcing
    rules: Rules
    start: State
    rooting: np.ndarray

    def balance(self, beds: slice = slice(None)) -> Series:
        """Step the beds, or some of them."""
        which = self.which[beds]
        rules = Rules(self.rules.due[:, beds], self.rules.share[beds], self.rules.volume[beds])
        start = State(
            self.start.stores[:, beds], self.start.standing[beds], self.start.depletion[beds]
        )
        none = np.zeros(which.size, dtype=np.intp)
        dry = np.full(which.size, 0.03)
        return simulate(self.tables, which, self.forcing, rules, start, column=none, freeboard=dry)

    def readings(self, series: Series) -> ProfileReadings:
        """Read the profiles of what was stepped."""
        return profile_readings(self.tables, self.which, series, self.rooting)


def many(beds: int, days: int = 365) -> Many:
    """Beds drawn from twelve, with made-up rain and demand, filled below a share of the store."""
    tables = twelve_tables()
    rng = np.random.default_rng(SEED)
    rain = np.where(rng.random((days, 1)) < 0.3, rng.gamma(0.8, 0.008, (days, 1)), 0.0)
    wanted = 0.002 + 0.003 * np.sin(np.arange(days) / 365 * np.pi)[:, None] ** 2
    forcing = Forcing(
        rain,
        wanted,
        wanted * 0.3,
        wanted * 0.5,
        np.full((days, 1), 0.3),
        np.full((days, 1), 7, dtype=np.intp),
    )
    which = rng.integers(0, len(tables), beds)
    rest = [rest_state(table, 0.9 * table.grid.cap) for table in tables]
    stores = np.array([[0.9 * tables[k].grid.cap, *map(float, rest[k])] for k in which]).T
    rules = Rules(np.ones((days, beds), dtype=bool), np.full(beds, 0.25), np.full(beds, np.inf))
    start = State(np.ascontiguousarray(stores), np.zeros(beds), np.zeros(beds))
    return Many(tables, which, forcing, rules, start, np.full((days, 1), 2, dtype=np.intp))


def one_bed_one_year() -> tuple[Bed, xr.Dataset]:
    """The example and a year of its weather, tables at hand."""
    bed, weather = example_bed(), record(1)
    bed_tables(bed)
    return bed, weather
