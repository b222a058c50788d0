"""The open services that daily weather of a place can be downloaded from: question and answer.

The questions and the shapes of the answers are those of the services' own descriptions: NASA
POWER's daily point service, version 2, and Open-Meteo's archive (both from memory, and from
answers that others have published). Nothing else of an answer is looked at.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass

from pydantic import BaseModel, FiniteFloat


@dataclass(frozen=True)
class Given:
    """A column of a service: our heading, its name there, what it is, units that it may come in."""

    heading: str
    name: str
    words: str
    units: tuple[str, ...]


@dataclass(frozen=True)
class Service:
    """An open service of daily weather: how it is asked, what it gives, whose data it is."""

    name: str
    title: str
    address: str
    first: datetime.date
    wind_height: int  # [m]
    columns: tuple[Given, ...]
    days: str
    data: str
    terms: str
    query: Callable[[float, float, datetime.date, datetime.date], dict[str, str]]
    answer: type[Power] | type[Meteo]


class _Unit(BaseModel):
    units: str


class _Header(BaseModel):
    fill_value: float


class _Parameters(BaseModel):
    parameter: dict[str, dict[str, FiniteFloat]]


class _Point(BaseModel):
    coordinates: tuple[FiniteFloat, FiniteFloat, FiniteFloat]  # longitude, latitude, elevation


class Power(BaseModel):
    """An answer of NASA POWER's daily point service as JSON."""

    geometry: _Point
    properties: _Parameters
    header: _Header
    parameters: dict[str, _Unit]

    def part(self) -> tuple[float, dict[str, str], dict[str, dict[str, float | None]]]:
        """Elevation [m], units by name, values by name and day."""
        none = self.header.fill_value
        values: dict[str, dict[str, float | None]] = {
            name: {
                f"{day[:4]}-{day[4:6]}-{day[6:]}": None if value == none else value
                for day, value in series.items()
            }
            for name, series in self.properties.parameter.items()
        }
        units = {name: about.units for name, about in self.parameters.items()}
        return self.geometry.coordinates[2], units, values


class _Daily(BaseModel):
    time: list[str]
    temperature_2m_max: list[FiniteFloat | None]
    temperature_2m_min: list[FiniteFloat | None]
    dew_point_2m_mean: list[FiniteFloat | None]
    wind_speed_10m_mean: list[FiniteFloat | None]
    shortwave_radiation_sum: list[FiniteFloat | None]
    precipitation_sum: list[FiniteFloat | None]
    et0_fao_evapotranspiration: list[FiniteFloat | None]


class Meteo(BaseModel):
    """An answer of Open-Meteo's archive as JSON."""

    elevation: FiniteFloat
    daily_units: dict[str, str]
    daily: _Daily

    def part(self) -> tuple[float, dict[str, str], dict[str, dict[str, float | None]]]:
        """Elevation [m], units by name, values by name and day."""
        days = self.daily.time
        columns = {column.name: getattr(self.daily, column.name) for column in _METEO_COLUMNS}
        values = {name: dict(zip(days, series, strict=False)) for name, series in columns.items()}
        return self.elevation, self.daily_units, values


_C = ("C", "°C")
_POWER_COLUMNS = (
    Given("tmax (C)", "T2M_MAX", "highest temperature of the day, 2 m above the ground", _C),
    Given("tmin (C)", "T2M_MIN", "lowest temperature of the day", _C),
    Given("dew point (C)", "T2MDEW", "mean dew point of the day", _C),
    Given("wind (m/s)", "WS2M", "mean wind of the day, 2 m above the ground", ("m/s",)),
    Given(
        "solar radiation (MJ/m2)", "ALLSKY_SFC_SW_DWN", "solar radiation of the day",
        ("MJ/m^2/day", "MJ/m2/day"),
    ),
    Given("rain (mm)", "PRECTOTCORR", "rain and melted snow of the day", ("mm/day", "mm day-1")),
)  # fmt: skip
_METEO_COLUMNS = (
    Given("tmax (C)", "temperature_2m_max", "highest temperature of the day", _C),
    Given("tmin (C)", "temperature_2m_min", "lowest temperature of the day", _C),
    Given("dew point (C)", "dew_point_2m_mean", "mean dew point of the day", _C),
    Given("wind (m/s)", "wind_speed_10m_mean", "mean wind, 10 m above the ground", ("m/s",)),
    Given(
        "solar radiation (MJ/m2)", "shortwave_radiation_sum", "solar radiation of the day",
        ("MJ/m²", "MJ/m2"),
    ),
    Given("rain (mm)", "precipitation_sum", "rain and melted snow of the day", ("mm",)),
    Given("ET0 (mm)", "et0_fao_evapotranspiration", "the service's own ET0, a check", ("mm",)),
)  # fmt: skip


def _ask_power(
    latitude: float, longitude: float, first: datetime.date, last: datetime.date
) -> dict[str, str]:
    return {
        "parameters": ",".join(column.name for column in _POWER_COLUMNS),
        "community": "AG",
        "latitude": f"{latitude:.2f}",
        "longitude": f"{longitude:.2f}",
        "start": f"{first:%Y%m%d}",
        "end": f"{last:%Y%m%d}",
        "format": "JSON",
        "time-standard": "LST",
    }


def _ask_meteo(
    latitude: float, longitude: float, first: datetime.date, last: datetime.date
) -> dict[str, str]:
    return {
        "daily": ",".join(column.name for column in _METEO_COLUMNS),
        "latitude": f"{latitude:.2f}",
        "longitude": f"{longitude:.2f}",
        "start_date": str(first),
        "end_date": str(last),
        "models": "era5",  # one model for all years: the default changes its models in 2017
        "wind_speed_unit": "ms",
        "timezone": "auto",
    }


SERVICES: dict[str, Service] = {
    service.name: service
    for service in (
        Service(
            "nasa-power",
            "NASA POWER",
            "https://power.larc.nasa.gov/api/temporal/daily/point",
            datetime.date(1981, 1, 1),
            2,
            _POWER_COLUMNS,
            "days run from midnight to midnight by the sun",
            "NASA POWER; worked out from satellites and weather models for a cell of about 50 km, "
            "not measured at the place",
            "free for all uses; NASA asks to be named: obtained from the NASA Langley Research "
            "Center (LaRC) POWER Project funded through the NASA Earth Science/Applied Science "
            "Program",
            _ask_power,
            Power,
        ),
        Service(
            "open-meteo",
            "Open-Meteo",
            "https://archive-api.open-meteo.com/v1/archive",
            datetime.date(1940, 1, 1),
            10,
            _METEO_COLUMNS,
            "days run from midnight to midnight by the local clock",
            "Open-Meteo.com, from ERA5 of the Copernicus Climate Change Service; worked out by a "
            "weather model for a cell of about 25 km, not measured at the place",
            "CC BY 4.0; free for non-commercial use; name Open-Meteo.com and Copernicus",
            _ask_meteo,
            Meteo,
        ),
    )
}
