"""Weather files to daily weather and reference evapotranspiration."""

from bedtide.weather.et0 import reference_et
from bedtide.weather.hourly import usual_rain_hours
from bedtide.weather.read import read_weather
from bedtide.weather.report import WeatherReport, weather_report
from bedtide.weather.suspicious import Suspicion
from bedtide.weather.worth import Spell, Verdict

__all__ = [
    "Spell",
    "Suspicion",
    "Verdict",
    "WeatherReport",
    "read_weather",
    "reference_et",
    "usual_rain_hours",
    "weather_report",
]
