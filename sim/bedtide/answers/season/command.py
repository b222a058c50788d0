"""bedtide season: one bed through one season of weather."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.report.options import (
    FILE,
    Asked,
    WeatherCommand,
    answer,
    from_option,
    progress,
    range_option,
    to_option,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed
    from bedtide.units import System


@click.command(cls=WeatherCommand, short_help="How often to fill, how much, how wet, how dry.")
@click.argument("bed_file", metavar="[BED.toml", required=False, type=FILE)
@click.argument("weather_files", metavar="WEATHER.csv...]", nargs=-1, type=FILE)
@from_option
@to_option
@range_option
@answer()
def season(
    bed_file: Path | None,
    weather_files: tuple[Path, ...],
    start: datetime.date | None,
    end: datetime.date | None,
    with_range: bool,
    asked: Asked,
) -> None:
    """How often this bed needs filling, and how wet and how dry it gets.

    Without files it runs the built-in example bed in built-in weather; both are invented.
    Several weather files of one station are joined by date. Of a record longer than 400 days the
    last whole year is run (from July south of the equator) unless --from or --to says otherwise.

    With --out it writes season.csv (one row a day), season.nc, summary.json, season.png and
    bed.png.
    """
    from bedtide.report.given import dates_in_order, given_bed, given_weather, season_span

    dates_in_order(start, end)
    asked.check()
    with progress(4) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        begin("Reading the weather")
        weather = given_weather(bed_file, weather_files, bed, asked.reading, start=start, end=end)
        first, last = season_span(weather, start=start, end=end)
        begin("Running the season")
        from bedtide.answers.season.days import days_of
        from bedtide.answers.season.summary import season_ranges, summary_of
        from bedtide.balance import run_season

        result = run_season(bed, weather, start=first, end=last)
        ranges = season_ranges(bed, weather, first, last) if with_range else None
        summary = summary_of(result, ranges)
        files = None
        if asked.folder is not None:
            begin("Drawing")
            files = _files(bed, result, asked.units)
    asked.give(
        summary,
        "season/text.j2",
        files=files,
        json_name="summary.json",
        page="season/page.j2",
        bed=bed,
        shown=lambda: {"days": days_of(result, bed, asked.units)},
    )


def _files(bed: Bed, result: xr.Dataset, units: System) -> dict[str, Any]:
    from bedtide.answers.season.days import table_of_days
    from bedtide.answers.season.pictures import season_figure
    from bedtide.readings import days_to_refill
    from bedtide.report.bed_view import section_figure

    whole = result.assign(days_to_refill=days_to_refill(result))
    return {
        "season.csv": table_of_days(result, units=units),
        "season.nc": whole,
        "season.png": season_figure(result, units=units),
        "bed.png": section_figure(bed, units=units),
    }
