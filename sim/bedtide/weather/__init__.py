"""Weather files to daily weather and reference evapotranspiration.

The names are loaded when first asked for: the command line needs no more than the options.
"""

import importlib
import typing

if typing.TYPE_CHECKING:
    from bedtide.weather.et0 import reference_et
    from bedtide.weather.hourly import usual_rain_hours
    from bedtide.weather.options import OPTIONS
    from bedtide.weather.read import read_weather
    from bedtide.weather.report import WeatherReport, weather_report

__all__ = [
    "OPTIONS",
    "WeatherReport",
    "read_weather",
    "reference_et",
    "usual_rain_hours",
    "weather_report",
]

_HOMES = {
    "OPTIONS": "options",
    "WeatherReport": "report",
    "read_weather": "read",
    "reference_et": "et0",
    "usual_rain_hours": "hourly",
    "weather_report": "report",
}


def __getattr__(name: str) -> typing.Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'bedtide.weather' has no attribute '{name}'")
    home = importlib.import_module(f"bedtide.weather.{_HOMES[name]}")
    globals()[name] = getattr(home, name)
    return globals()[name]
