"""Weather files to daily weather and reference evapotranspiration.

The names are loaded when first asked for: the command line needs no more than the options.
"""

import importlib
import typing

if typing.TYPE_CHECKING:
    from bedtide.weather.dates import parse_stamps
    from bedtide.weather.et0 import reference_et
    from bedtide.weather.fetch import fetch_forecast, fetch_weather, last_day, spans
    from bedtide.weather.hourly import usual_rain_hours
    from bedtide.weather.made import made_text
    from bedtide.weather.normals import climate, climates, read_normals
    from bedtide.weather.options import OPTIONS, Options, answers_to
    from bedtide.weather.places import one_place, open_places, read_places, ready_places
    from bedtide.weather.read import read_weather
    from bedtide.weather.report import (
        Description,
        WeatherReport,
        describe_weather,
        weather_report,
    )
    from bedtide.weather.services import SERVICES
    from bedtide.weather.suspicious import doubts
    from bedtide.weather.text import decode, load

__all__ = [
    "OPTIONS",
    "SERVICES",
    "Description",
    "Options",
    "WeatherReport",
    "answers_to",
    "climate",
    "climates",
    "decode",
    "describe_weather",
    "doubts",
    "fetch_forecast",
    "fetch_weather",
    "last_day",
    "load",
    "made_text",
    "one_place",
    "open_places",
    "parse_stamps",
    "read_normals",
    "read_places",
    "read_weather",
    "ready_places",
    "reference_et",
    "spans",
    "usual_rain_hours",
    "weather_report",
]

_HOMES = {
    "Description": "report",
    "OPTIONS": "options",
    "SERVICES": "services",
    "answers_to": "options",
    "WeatherReport": "report",
    "climate": "normals",
    "climates": "normals",
    "decode": "text",
    "describe_weather": "report",
    "doubts": "suspicious",
    "fetch_forecast": "fetch",
    "fetch_weather": "fetch",
    "last_day": "fetch",
    "load": "text",
    "made_text": "made",
    "one_place": "places",
    "open_places": "places",
    "Options": "options",
    "parse_stamps": "dates",
    "read_normals": "normals",
    "read_places": "places",
    "read_weather": "read",
    "ready_places": "places",
    "reference_et": "et0",
    "spans": "fetch",
    "usual_rain_hours": "hourly",
    "weather_report": "report",
}


def __getattr__(name: str) -> typing.Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'bedtide.weather' has no attribute '{name}'")
    home = importlib.import_module(f"bedtide.weather.{_HOMES[name]}")
    globals()[name] = getattr(home, name)
    return globals()[name]
