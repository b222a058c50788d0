"""bedtide weather: what a weather file holds."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path
from typing import Any, NoReturn

import click

from bedtide.errors import FieldError, FileError, InputError, SeveralErrors
from bedtide.report.options import (
    FILE,
    Asked,
    Place,
    WeatherCommand,
    answer,
    command_line,
    from_option,
    progress,
    reading_words,
    to_option,
    typed,
)
from bedtide.tables import read_toml

_SERVICES = list(read_toml("services.toml"))
_YEARS = 30  # that are downloaded where no first day is given


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
@click.option(
    "--normals",
    type=FILE,
    metavar="FILE",
    help="Make up daily weather from twelve lines of monthly means, into --save FILE.",
)
@click.option(
    "--like",
    metavar="CLIMATE",
    help="Make up daily weather of an invented climate, such as 'hot dry summer', into --save "
    "FILE; bedtide list climates names them.",
)
@click.option("--years", type=click.IntRange(1, 200), help="How many years to make up; 30.")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**32 - 1),
    help="Another number makes other weather of the same climate; 1.",
)
@click.option("--save", type=FILE, metavar="FILE", help="The weather file to make.")
@from_option
@to_option
@answer(page=False)
def weather(
    files: tuple[Path, ...],
    near: tuple[float, float] | None,
    service: str,
    normals: Path | None,
    like: str | None,
    years: int | None,
    seed: int | None,
    save: Path | None,
    start: datetime.date | None,
    end: datetime.date | None,
    asked: Asked,
) -> None:
    """What was read of a weather file: days, columns, gaps, estimates, ET0 by month, a verdict.

    Several files of one station are joined by date. Without a file it reads the built-in weather,
    which is invented.

    With --near it downloads the weather of a place first (by default 30 years of it): sent are the
    place, rounded to a hundredth of a degree, and the dates. The file that it makes can be given
    to every other command.

    With --normals or --like it makes up 30 years of daily weather from monthly means. Such weather
    serves where there is no record; every result that uses it calls it made-up weather.

    With --out it writes weather.png, a picture of the record, and weather.json.
    """
    from bedtide.answers.weather.summary import summary_of
    from bedtide.report.given import dates_in_order, one_or_all
    from bedtide.tables import sample_weather
    from bedtide.weather import read_weather

    dates_in_order(start, end)
    words = reading_words(asked.reading)
    words["start"] = str(start) if start is not None else None
    words["end"] = str(end) if end is not None else None
    asked.check()
    files_written: dict[str, Any] = {}
    if normals is None and like is None and (years, seed) != (None, None):
        flag = "--years" if years is not None else "--seed"
        wanted = "--normals FILE  or  --like CLIMATE  with it"
        raise FieldError(flag, "no weather is made up", expected=wanted)
    new = {"--near": near, "--normals": normals, "--like": like}
    made = [flag for flag, value in new.items() if value is not None]
    if made:
        path = _new_file(made, save, files)
        if near is not None:
            files = (_downloaded(near, start, end, service, path),)
        else:
            files = (_made_up(normals, like, years or 30, seed, path, words),)
    elif save is not None:
        wanted = "--near LAT,LON  or  --normals FILE  or  --like CLIMATE  with it"
        raise FieldError("--save", "there is nothing to save", expected=wanted)
    paths = one_or_all(files or [sample_weather()])
    with progress(3 if asked.folder is not None else 2) as begin:
        begin("Reading the weather")
        try:
            record = read_weather(paths, **words)
        except InputError as error:
            _describe(paths, words, error, asked)
        begin("Looking it over")
        summary = summary_of(record)
        if asked.folder is not None:
            from bedtide.answers.weather.pictures import weather_figure

            begin("Drawing")
            picture = weather_figure(record, summary, units=asked.units)
            files_written["weather.png"] = picture
    asked.give(summary, "weather/text.j2", files=files_written, json_name="weather.json")


def _describe(
    paths: Path | list[Path], words: dict[str, Any], error: InputError, asked: Asked
) -> NoReturn:
    """Tell what files hold that can't be used yet, all that is in the way, and how to settle it."""
    from bedtide.answers.weather.summary import described
    from bedtide.weather import answers_to, describe_weather

    found = describe_weather(paths, **words)
    if found.record is None:
        raise error
    problems = found.problems or error.errors
    told = tuple(problem.told(typed) for problem in problems)
    answers = answers_to(problems)
    command = command_line(click.get_current_context(), answers) if answers else ""
    summary = described(found.record, found.read, told, command)
    replace(asked, folder=None).give(summary, "weather/described.j2")
    click.echo(f"\n{SeveralErrors(problems).told(typed)}", err=True)
    if command:
        click.echo(
            f"\nAll that options can settle, in one command; put your own for words in capitals:"
            f"\n  {command}",
            err=True,
        )
    raise click.exceptions.Exit(2)


def _new_file(made: list[str], save: Path | None, files: tuple[Path, ...]) -> Path:
    """The file to make, which must be a new one."""
    if files or len(made) > 1:
        given = files[0] if files else made[1]
        wanted = "one of: weather files, --near, --normals, --like"
        raise FieldError(made[0], f"{given} was given too", expected=wanted)
    if save is None:
        raise FieldError(made[0], "it is not said where to", expected="--save FILE.csv with it")
    nothing = f"nothing was {'downloaded' if made[0] == '--near' else 'made'}"
    if save.exists():
        raise FileError(str(save), f"it is there already; {nothing}", hint="Choose another name")
    if not save.parent.is_dir():
        raise FileError(str(save), f"there is no folder {save.parent}; {nothing}")
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


def _made_up(
    normals: Path | None,
    like: str | None,
    years: int,
    seed: int | None,
    save: Path,
    words: dict[str, Any],
) -> Path:
    """The file with made-up weather; `words` are the options on reading, which it may add to."""
    from bedtide.files import write_text
    from bedtide.report.templates import counted
    from bedtide.weather import climate, made_text, read_normals

    place = {name: words[name] for name in ("latitude", "elevation")}
    months = read_normals(normals, **place) if normals else climate(like or "", **place)
    number = 1 if seed is None else seed
    write_text(save, made_text(months, years=years, seed=number, setting=words["setting"]))
    words["accept"] = (*words["accept"], "zeros")  # deserts too are made on purpose
    told = f"made-up weather, {counted(years, 'year')}, seed {number}"
    click.echo(f"Written: {save}: {told}", err=True)
    return save
