"""bedtide season: one bed through one season of weather."""

from __future__ import annotations

import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.report.options import (
    FILE,
    WeatherCommand,
    from_option,
    json_option,
    out_option,
    progress,
    range_option,
    to_option,
    units_option,
    weather_options,
)
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed

__all__ = ["season"]


@click.command(cls=WeatherCommand, short_help="How often to fill, how much, how wet, how dry.")
@click.argument("bed_file", metavar="[BED.toml", required=False, type=FILE)
@click.argument("weather_files", metavar="WEATHER.csv...]", nargs=-1, type=FILE)
@from_option
@to_option
@range_option
@out_option
@units_option
@json_option
@weather_options
def season(
    bed_file: Path | None,
    weather_files: tuple[Path, ...],
    start: datetime.date | None,
    end: datetime.date | None,
    with_range: bool,
    folder: Path | None,
    units: System,
    as_json: bool,
    **reading: Any,
) -> None:
    """How often this bed needs filling, and how wet and how dry it gets.

    Without files it runs the built-in example bed in built-in weather; both are invented.
    Several weather files of one station are joined by date. Of a record longer than 400 days the
    last whole year is run (from July south of the equator) unless --from or --to says otherwise.

    With --out it writes season.csv (one row a day), season.nc, summary.json, season.png and
    bed.png.
    """
    from bedtide.answers.season.tables import season_summary
    from bedtide.answers.season.words import season_report
    from bedtide.files import check_folder, json_text
    from bedtide.report.given import given_bed, given_weather
    from bedtide.report.span import dates_in_order, season_span

    dates_in_order(start, end)
    if folder is not None:
        check_folder(folder)
    with progress(4) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        begin("Reading the weather")
        weather = given_weather(bed_file, weather_files, bed, reading, start=start, end=end)
        first, last = season_span(weather, start=start, end=end)
        begin("Running the season")
        from bedtide.balance import run_season

        result = run_season(bed, weather, start=first, end=last)
        figures = season_summary(result)
        lines = season_report(figures, units=units)
        if with_range:
            from bedtide.answers.season.ranges import (
                season_range_figures,
                season_range_report,
                season_ranges,
            )

            figures["range"] = season_range_figures(season_ranges(bed, weather, first, last))
            lines = season_range_report(lines, figures, units=units)
        if folder is not None:
            begin("Writing the files")
            _write(folder, bed, result, figures, units)
    click.echo(json_text(figures) if as_json else "\n".join(lines), nl=not as_json)
    if folder is not None:
        click.echo(f"Written: {folder}", err=True)


def _write(
    folder: Path, bed: Bed, result: xr.Dataset, figures: dict[str, Any], units: System
) -> None:
    """All files of a season, summary.json last."""
    from bedtide.answers.season.pictures import season_figure
    from bedtide.answers.season.tables import season_table
    from bedtide.files import write_csv, write_figure, write_folder, write_json, write_netcdf
    from bedtide.readings import days_to_refill
    from bedtide.report.section import section_figure

    whole = result.assign(days_to_refill=days_to_refill(result))
    write_folder(
        folder,
        {
            "season.csv": partial(write_csv, table=season_table(result, units=units)),
            "season.nc": partial(write_netcdf, dataset=whole),
            "season.png": partial(write_figure, figure=season_figure(result, units=units)),
            "bed.png": partial(write_figure, figure=section_figure(bed, units=units)),
            "summary.json": partial(write_json, content=figures),
        },
    )
