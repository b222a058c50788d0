"""bedtide weather: what a weather file holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from bedtide.cli.options import reading_words, units_option, weather_options
from bedtide.units import System

__all__ = ["weather"]


@click.command(short_help="What a weather file holds.")
@click.argument("file", metavar="WEATHER.csv", type=click.Path(path_type=Path, readable=False))
@units_option
@weather_options
def weather(file: Path, units: System, **reading: Any) -> None:
    """What was read of a weather file: days, columns, gaps, estimates, ET0 by month."""
    from bedtide.show import weather_report
    from bedtide.weather import read_weather

    record = read_weather(file, **reading_words(reading))
    click.echo("\n".join(weather_report(record, units=units)))
