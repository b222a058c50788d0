"""bedtide weather: what a weather file holds."""

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
    reading_words,
    to_option,
    units_option,
    weather_options,
)

if TYPE_CHECKING:
    from bedtide.report.results import Writer
    from bedtide.units import System


@click.command(cls=WeatherCommand, short_help="What a weather file holds and what it is worth.")
@click.argument("files", metavar="[WEATHER.csv...]", nargs=-1, type=FILE)
@from_option
@to_option
@out_option
@units_option
@json_option
@weather_options
def weather(
    files: tuple[Path, ...],
    start: datetime.date | None,
    end: datetime.date | None,
    folder: Path | None,
    units: System,
    as_json: bool,
    **reading: Any,
) -> None:
    """What was read of a weather file: days, columns, gaps, estimates, ET0 by month, a verdict.

    Several files of one station are joined by date. Without a file it reads the built-in weather,
    which is invented.

    With --out it writes weather.png, a picture of the record, and weather.json.
    """
    from bedtide.answers.weather.summary import summary_of
    from bedtide.files import check_folder, write_figure
    from bedtide.report.given import dates_in_order, one_or_all
    from bedtide.report.results import give
    from bedtide.tables import sample_weather
    from bedtide.weather import read_weather, weather_report

    dates_in_order(start, end)
    words = reading_words(reading)
    words["start"] = str(start) if start is not None else None
    words["end"] = str(end) if end is not None else None
    if folder is not None:
        check_folder(folder)
    files_written: dict[str, Writer] = {}
    with progress(3 if folder is not None else 2) as begin:
        begin("Reading the weather")
        record = read_weather(one_or_all(files or sample_weather()), **words)
        begin("Looking it over")
        report = weather_report(record)
        summary = summary_of(record, report)
        if folder is not None:
            from bedtide.answers.weather.pictures import weather_figure

            begin("Drawing")
            picture = weather_figure(report, units=units)
            files_written["weather.png"] = partial(write_figure, figure=picture)
    give(
        summary,
        template="answers/weather/text.j2",
        units=units,
        as_json=as_json,
        folder=folder,
        files=files_written,
        json_name="weather.json",
    )
