"""The daily step: one bed with everything around it, and many beds in quantity."""

from __future__ import annotations

from bedtide import run_season
from cases import many, one_bed_one_year


class OneBed:
    """Target: one year of one bed under 30 ms after the tables."""

    def setup(self) -> None:
        """Tables at hand."""
        self.bed, self.weather = one_bed_one_year()

    def time_a_year(self) -> None:
        """Demand, 365 days, readings, audit, Dataset."""
        run_season(self.bed, self.weather)


class ManyBeds:
    """Targets: 8 million bed-days a second for the balance alone, 3 million with every reading."""

    params = (1, 100, 1000, 3000, 10000)
    param_names = ("beds",)

    def setup(self, beds: int) -> None:
        """Made-up forcing; a year of series to read from."""
        self.case = many(beds)
        self.series = self.case.balance()

    def time_balance(self, beds: int) -> None:
        """365 days."""
        self.case.balance()

    def time_balance_and_readings(self, beds: int) -> None:
        """365 days and all that is read off the profiles."""
        self.case.readings(self.case.balance())

    def peakmem_balance_and_readings(self, beds: int) -> None:
        """The same, for its memory."""
        self.case.readings(self.case.balance())
