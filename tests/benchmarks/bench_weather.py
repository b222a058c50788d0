"""Reading and checking a record; reference evapotranspiration of all days at once."""

from __future__ import annotations

from bedtide import read_weather, sample_weather
from bedtide.answers.weather.summary import summary_of
from bedtide.weather import reference_et
from cases import record


class Record:
    """Thirty years of daily weather; target of the third issue: read in under 1 s."""

    def setup(self) -> None:
        """The libraries are loaded beforehand."""
        self.path, self.weather = sample_weather(), record(30)

    def time_read(self) -> None:
        """Text to a checked Dataset with ET0."""
        read_weather(self.path)

    def time_demand(self) -> None:
        """ET0 alone."""
        reference_et(self.weather)

    def time_report(self) -> None:
        """What it is worth."""
        summary_of(self.weather)
