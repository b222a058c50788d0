"""What a person asks for: a bed made ready, a year, thirty years, many beds side by side."""

from __future__ import annotations

import datetime

from bedtide import away, compare, run_season
from bedtide.column import layouts_of
from cases import crowd, never_seen, ordinary, record, whole


class NewBed:
    """Target: ready in 1 ms."""

    number = 1  # made anew before each call, or a cache would know them
    beds = 20

    def setup(self) -> None:
        """Beds whose mixes and boxes were never seen."""
        self.new = [never_seen() for _ in range(self.beds)]

    def time_new_beds(self) -> None:
        """Cells, and tables of two mixes, one bed after another."""
        for bed in self.new:
            layouts_of([bed])


class OneBed:
    """Targets: a year in 2 ms, thirty years in 50 ms, each to a Dataset."""

    def setup(self) -> None:
        """Compiled and loaded beforehand."""
        self.bed, self.year, self.record = ordinary()["example"], record(1), record(30)
        run_season(self.bed, self.year)

    def time_a_year(self) -> None:
        """Demand, 365 days, readings, audit, Dataset."""
        run_season(self.bed, self.year)

    def time_30_years(self) -> None:
        """The same of the whole record."""
        run_season(self.bed, self.record)


class Decisions:
    """Many beds or many years at once."""

    params = (200,)
    param_names = ("beds",)

    def setup(self, beds: int, years: int = 30) -> None:
        """Different beds, and a week in August."""
        self.beds, self.weather, self.years = crowd(beds), record(years), whole(years)
        self.leave = datetime.date(2010 if years > 15 else 1995, 8, 1)
        run_season(self.beds[0], record(1))

    def time_compare(self, beds: int, years: int = 30) -> None:
        """Refills, wetness, dryness and account of every year."""
        compare(self.beds, self.weather, years=self.years)

    def time_away(self, beds: int, years: int = 30) -> None:
        """A week away in every year, with all that might help."""
        away(self.beds[0], self.weather, self.leave, days=7)

    def peakmem_compare(self, beds: int, years: int = 30) -> None:
        """The same, for its memory."""
        compare(self.beds, self.weather, years=self.years)
