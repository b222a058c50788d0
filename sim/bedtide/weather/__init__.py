"""Weather files to daily weather and reference evapotranspiration.

The names are loaded when first asked for: the command line needs no more than the options.
"""

import importlib
import typing

if typing.TYPE_CHECKING:
    from bedtide.weather.dates import parse_stamps
    from bedtide.weather.et0 import reference_et
    from bedtide.weather.fetch import fetch_forecast, fetch_weather, last_day, spans
    from bedtide.weather.fill import known_groups
    from bedtide.weather.grids import PLACE, open_places
    from bedtide.weather.hourly import usual_rain_hours
    from bedtide.weather.made import made_text
    from bedtide.weather.normals import climate, climates, read_normals
    from bedtide.weather.options import OPTIONS, READY_MADE, Options, answers_to
    from bedtide.weather.places import one_place, read_places, ready_places
    from bedtide.weather.read import describe_weather, read_weather
    from bedtide.weather.record import QUANTITIES, Record, days_text, listed, runs
    from bedtide.weather.suspicious import Suspicion, doubts, estimated_days, measured, suspicions
    from bedtide.weather.text import decode, load

__all__ = [
    "OPTIONS",
    "PLACE",
    "QUANTITIES",
    "READY_MADE",
    "Options",
    "Record",
    "Suspicion",
    "answers_to",
    "climate",
    "climates",
    "days_text",
    "decode",
    "describe_weather",
    "doubts",
    "estimated_days",
    "fetch_forecast",
    "fetch_weather",
    "known_groups",
    "last_day",
    "listed",
    "load",
    "made_text",
    "measured",
    "one_place",
    "open_places",
    "parse_stamps",
    "read_normals",
    "read_places",
    "read_weather",
    "ready_places",
    "reference_et",
    "runs",
    "spans",
    "suspicions",
    "usual_rain_hours",
]

# where to look for a name, what is quickly loaded first
_HOMES = (
    "options", "record", "text", "dates", "et0", "hourly", "fill", "suspicious", "read",
    "grids", "places", "normals", "made", "fetch",
)  # fmt: skip


def __getattr__(name: str) -> typing.Any:
    for home in _HOMES if name in __all__ else ():
        module = importlib.import_module(f"bedtide.weather.{home}")
        if name in vars(module):
            globals()[name] = getattr(module, name)
            return globals()[name]
    raise AttributeError(f"module 'bedtide.weather' has no attribute '{name}'")
