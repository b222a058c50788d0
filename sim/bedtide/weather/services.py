"""The open services that daily weather of a place can be downloaded from, as entries of a table."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from bedtide.tables import read_toml


@dataclass(frozen=True)
class Service:
    """An open service of daily weather: how it is asked, what it gives, whose data it is."""

    name: str
    title: str
    address: str
    first: datetime.date
    wind_height: int  # [m]
    days: str
    data: str
    terms: str
    columns: list[tuple[str, str, str, list[str]]]  # our heading, name there, what it is, units
    query: dict[str, str]
    days_back: int = 0  # of a forecast: the days before today that it has [d]
    days_ahead: int = 0  # and those after it [d]

    def question(
        self, latitude: float, longitude: float, first: datetime.date, last: datetime.date
    ) -> dict[str, str]:
        """What is sent: place [degree] and days."""
        columns = ",".join(name for _, name, *_ in self.columns)
        words = {"latitude": latitude, "longitude": longitude, "first": first, "last": last}
        return {key: text.format(columns=columns, **words) for key, text in self.query.items()}


_ENTRIES = read_toml("services.toml")
_AHEAD = _ENTRIES["open-meteo"].pop("forecast")
SERVICES = {name: Service(name, **entry) for name, entry in _ENTRIES.items()}
"""Each service by the name that people give."""

FORECAST = Service("open-meteo-forecast", **_ENTRIES["open-meteo"] | _AHEAD)
"""The one whose days go on after a record."""
