"""bedtide weather: what a weather file holds."""

from __future__ import annotations

import datetime
import re
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from bedtide.errors import FieldError, FileError, InputError, SeveralErrors, shown
from bedtide.report.options import (
    FILE,
    WeatherCommand,
    command_line,
    from_option,
    json_option,
    out_option,
    progress,
    reading_words,
    to_option,
    typed,
    units_option,
    weather_options,
)

if TYPE_CHECKING:
    from bedtide.report.results import Writer
    from bedtide.units import System


_SERVICES = ("nasa-power", "open-meteo")
_YEARS = 30  # that are downloaded where no first day is given
_PLACE = re.compile(
    r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([NS]?)\s*[,; ]\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([EW]?)"
)


class Place(click.ParamType):
    """Latitude and longitude, as 51.9,4.5 or 33.9S,151.2E."""

    name = "place"

    def convert(self, value: Any, param: click.Parameter | None, ctx: Any) -> tuple[float, float]:
        """The two in degrees, north and east positive."""
        if isinstance(value, tuple):
            return value
        found = _PLACE.fullmatch(value.strip().upper())
        if found is None:
            raise FieldError(
                "--near",
                f'"{shown(value)}" is not a latitude and a longitude',
                expected="degrees, north and east positive, such as  51.9,4.5  or  33.9S,151.2E",
            )
        north, south, east, west = found.groups()
        return float(north) * (-1 if south == "S" else 1), float(east) * (-1 if west == "W" else 1)


@click.command(cls=WeatherCommand, short_help="What a weather file holds and what it is worth.")
@click.argument("files", metavar="[WEATHER.csv...]", nargs=-1, type=FILE)
@click.option(
    "--near",
    type=Place(),
    metavar="LAT,LON",
    help="Download daily weather of this place from an open service, into --save FILE.",
)
@click.option(
    "--service",
    type=click.Choice(_SERVICES),
    default=_SERVICES[0],
    show_default=True,
    help="Whose data --near downloads.",
)
@click.option("--save", type=FILE, metavar="FILE", help="The weather file to make.")
@from_option
@to_option
@out_option
@units_option
@json_option
@weather_options
def weather(
    files: tuple[Path, ...],
    near: tuple[float, float] | None,
    service: str,
    save: Path | None,
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

    With --near it downloads the weather of a place first (by default 30 years of it): sent are the
    place, rounded to a hundredth of a degree, and the dates. The file that it makes can be given
    to every other command.

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
    if near is not None:
        files = (_downloaded(near, start, end, service, _new_file(save, files)),)
    elif save is not None:
        raise FieldError("--save", "there is nothing to save", expected="--near LAT,LON with it")
    paths = one_or_all(files or sample_weather())
    with progress(3 if folder is not None else 2) as begin:
        begin("Reading the weather")
        try:
            record = read_weather(paths, **words)
        except InputError as error:
            _describe(paths, words, error, units=units, as_json=as_json)
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


def _describe(
    paths: Path | list[Path],
    words: dict[str, Any],
    error: InputError,
    *,
    units: System,
    as_json: bool,
) -> NoReturn:
    """Tell what files hold that can't be used yet, all that is in the way, and how to settle it."""
    from bedtide.answers.weather.summary import described
    from bedtide.report.results import give
    from bedtide.weather import answers_to, describe_weather

    found = describe_weather(paths, **words)
    if found is None:
        raise error
    problems = found.problems or getattr(error, "errors", (error,))
    answers = answers_to(problems)
    command = command_line(click.get_current_context(), answers) if answers else ""
    give(
        described(found, tuple(problem.told(typed) for problem in problems), command),
        template="answers/weather/described.j2",
        units=units,
        as_json=as_json,
    )
    click.echo(f"\n{SeveralErrors(problems).told(typed)}", err=True)
    if command:
        click.echo(
            f"\nAll that options can settle, in one command; put your own for words in capitals:"
            f"\n  {command}",
            err=True,
        )
    raise click.exceptions.Exit(2)


def _new_file(save: Path | None, files: tuple[Path, ...]) -> Path:
    """The file to make, which must be a new one."""
    if files:
        raise FieldError("--near", f"{files[0]} was given too", expected="a place or files")
    if save is None:
        raise FieldError("--near", "it is not said where to", expected="--save FILE.csv with it")
    if save.exists():
        raise FileError(
            str(save), "it is there already; nothing was downloaded", hint="Choose another name"
        )
    if not save.parent.is_dir():
        raise FileError(str(save), f"there is no folder {save.parent}; nothing was downloaded")
    return save


def _downloaded(
    near: tuple[float, float],
    start: datetime.date | None,
    end: datetime.date | None,
    service: str,
    save: Path,
) -> Path:
    """The file with the weather of a place."""
    from bedtide.weather import fetch_weather, last_day, spans

    last = end or last_day()
    first = start or datetime.date(last.year - _YEARS, 1, 1)
    with progress(len(list(spans(first, last)))) as begin:
        path = fetch_weather(*near, first, last, service=service, save=save, tell=begin)
    click.echo(f"Written: {path}", err=True)
    return path
