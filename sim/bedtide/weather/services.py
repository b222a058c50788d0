"""The open services that daily weather of a place can be downloaded from, as entries of a table."""

from __future__ import annotations

import datetime
import tomllib
from dataclasses import dataclass
from importlib.resources import files
from typing import NamedTuple


class Given(NamedTuple):
    """A column of a service: our heading, its name there, what it is, units that it may come in."""

    heading: str
    name: str
    words: str
    units: list[str]


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
    columns: list[Given]
    query: dict[str, str]

    def question(
        self, latitude: float, longitude: float, first: datetime.date, last: datetime.date
    ) -> dict[str, str]:
        """What is sent: place [degree] and days."""
        columns = ",".join(column.name for column in self.columns)
        words = {"latitude": latitude, "longitude": longitude, "first": first, "last": last}
        return {key: text.format(columns=columns, **words) for key, text in self.query.items()}


def _service(name: str, columns: list[list[object]], **about: object) -> Service:
    return Service(name, columns=[Given(*column) for column in columns], **about)  # type: ignore[arg-type]


_FILE = files("bedtide").joinpath("data/services.toml")
SERVICES = {
    name: _service(name, **entry)
    for name, entry in tomllib.loads(_FILE.read_text(encoding="utf-8")).items()
}
"""Each service by the name that people give."""
