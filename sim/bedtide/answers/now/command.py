"""bedtide now: when to fill next, how much, and when it would be empty."""

from __future__ import annotations

import datetime
import re
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.errors import FieldError, FileError, RangeError
from bedtide.report.given import given_bed, given_weather, split_files
from bedtide.report.options import (
    FILE,
    Asked,
    Date,
    Place,
    WeatherCommand,
    answer,
    progress,
    to_option,
    typed,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.now.fit import Fit
    from bedtide.answers.now.forecast import Days, Standing
    from bedtide.bed import Bed


@click.command(cls=WeatherCommand, short_help="When to fill next, how much, when it is empty.")
@click.argument("files", metavar="[BED.toml... WEATHER.csv [FORECAST.csv]]", nargs=-1, type=FILE)
@click.option(
    "--level",
    metavar="READING",
    help="What stands in the reservoir on the morning after the weather ends, by the stick: "
    '"6 cm" above the floor, "30 L", or "40 %" of what the mix can reach.',
)
@click.option("--filled", type=Date(), metavar="DATE", help="When it was last filled to the lip.")
@click.option(
    "--log",
    "log",
    type=FILE,
    metavar="NOTES.csv",
    help="What you noted of the bed, see `bedtide note`; if left out, the notes beside the bed.",
)
@click.option(
    "--fit",
    "learn",
    is_flag=True,
    help="Learn from the notes how much plants and surface lose, and keep it beside the bed "
    "file, where every command uses it.",
)
@click.option(
    "--stick",
    "with_stick",
    is_flag=True,
    help="What each mark of a stick means: litres, and the days that they last by month.",
)
@click.option(
    "--near",
    type=Place(),
    metavar="LAT,LON",
    help="After the weather file go on with the forecast of an open service for this place.",
)
@to_option
@answer()
def now(
    files: tuple[Path, ...],
    level: str | None,
    filled: datetime.date | None,
    log: Path | None,
    learn: bool,
    with_stick: bool,
    near: tuple[float, float] | None,
    end: datetime.date | None,
    asked: Asked,
) -> None:
    """When to fill next, how much, and when the bed would be empty if nobody did.

    The bed runs through the weather, from its first day to its last, then through the forecast,
    then through the same days of every past year, which give the odds. With several beds: which
    to fill on which day. Without files it runs the built-in example bed in built-in weather; both
    are invented. With --to the weather ends on that day, as if it were now.

    With --near the days from the end of the weather on to two weeks ahead are downloaded: sent are
    the place, rounded to a hundredth of a degree, and the dates. Those that are over by today are
    taken as weather. Where that fails, past years go on alone.

    With --out it writes now.csv (one row a bed and past year), now.ics, a calendar of
    the next fills, and now.json.
    """
    from bedtide.bed import read_bed

    asked.check()
    bed_files, weather_files = split_files(files)
    _fitting(bed_files, weather_files)
    with progress(3) as begin:
        begin("Reading the beds")
        plain = read_bed if learn else given_bed  # what was learned before is learned anew
        beds = [plain(path) for path in bed_files] or [given_bed(None)]
        _apart(beds, bed_files)
        begin("Reading the weather")
        days = _days(bed_files, weather_files, beds[0], asked.reading, end=end, near=near)
        begin("Looking ahead")
        from bedtide.answers.now.forecast import readings_of
        from bedtide.answers.now.notes import notes_beside, standing_of
        from bedtide.answers.now.summary import (
            now_of,
            round_of,
            series_of,
            table_of_cases,
            write_calendar,
        )

        found, order = [], asked.reading["date_order"]
        owns: list[Path | None] = [*bed_files] or [None]
        for bed, own in zip(beds, owns, strict=True):
            beside = notes_beside(own) if own is not None and notes_beside(own).exists() else None
            standing = standing_of(
                bed, days.record, level=level, filled=filled, notes=log or beside, order=order
            )
            fit = None
            if learn and own is not None:
                standing, fit = _learned(standing, own, days.record)
            stick = readings_of(standing.bed, days.record, asked.units) if with_stick else None
            found.append(now_of(standing, days, fit=fit, stick=stick))
    one, first = len(found) == 1, found[0]
    asked.give(
        first if one else round_of(found),
        f"now/{'text' if one else 'round'}.j2",
        files={
            "now.csv": table_of_cases(found),
            "now.ics": partial(write_calendar, beds=found, units=asked.units),
        },
        json_name="now.json",
        page="now/page.j2",
        bed=beds[0],
        shown=lambda: series_of(first, asked.units),
    )


def _fitting(bed_files: list[Path], weather_files: list[Path]) -> None:
    """Refuse what does not go together."""
    ctx = click.get_current_context()
    given = {param.opts[0] for param in ctx.command.params if ctx.params[param.name or ""]}
    if len(weather_files) > 2:
        raise FieldError(
            "weather",
            f"{len(weather_files)} files were given",
            expected="one of the days until now, and one forecast at the most",
            hint="bedtide weather A.csv B.csv --save WEATHER.csv  joins several",
        )
    told = [name for name in ("--level", "--filled", "--log") if name in given]
    if len(told) > 1:
        raise FieldError(" and ".join(told), "all were given", expected="one of them")
    for name in ("--level", "--log", "--page", "--stick"):
        if len(bed_files) > 1 and name in given:
            raise FieldError(name, f"{len(bed_files)} beds were given", expected="one bed")
    if "--fit" in given and not bed_files:
        raise FieldError("--fit", "no bed file was given", expected="a bed with notes beside it")
    if "--near" in given and (len(weather_files) > 1 or "--to" in given):
        other = "--to" if "--to" in given else "a forecast file"
        raise FieldError("--near", f"{other} was given too", expected="one of them")


def _apart(beds: list[Bed], bed_files: list[Path]) -> None:
    """Refuse two beds of one name, which neither a list nor a calendar could tell apart."""
    named: dict[str, Path] = {}
    for bed, path in zip(beds, bed_files, strict=False):
        if bed.name in named:
            problem = f'{named[bed.name]} names its bed "{bed.name}" too'
            raise FieldError(f"{path}, bed.name", problem, expected="a name of its own")
        named[bed.name] = path


def _days(
    bed_files: list[Path],
    files: list[Path],
    bed: Bed,
    reading: dict[str, Any],
    *,
    end: datetime.date | None,
    near: tuple[float, float] | None,
) -> Days:
    """The record to its last day, and the days after it by the forecast, if there is one."""
    from bedtide.answers.now.forecast import Days, days_after, ends, parted
    from bedtide.weather import fetch_forecast, read_weather

    own = bed_files[0] if bed_files else None
    weather = given_weather(own, files[:1], bed, reading, end=end)
    first, last = ends(weather)
    if end is not None:
        if not first <= end <= last:
            expected = f"a day from {first} to {last}"
            raise RangeError("--to", f"{end} is outside the weather record", expected=expected)
        weather = weather.sel(time=slice(None, str(end)))
    if len(files) > 1:
        forecast = given_weather(own, files[1:], bed, {**reading, "start": None})
        return days_after(weather, forecast, where=files[1].name)
    if near is None:
        return Days(weather)
    start = last + datetime.timedelta(days=1)
    try:
        found = read_weather(fetch_forecast(*near, start))
    except FileError as error:
        click.echo(f"{error.told(typed)}\nPast years alone go on, from {start} on.\n", err=True)
        return Days(weather)
    return parted(weather, found, datetime.date.today())


def _learned(standing: Standing, bed_file: Path, weather: xr.Dataset) -> tuple[Standing, Fit]:
    """The bed fitted to what is known of it, which is kept beside its file."""
    import dataclasses

    from bedtide.answers.now.fit import fit_notes, fit_text
    from bedtide.bed import fit_beside, read_bed, with_fit
    from bedtide.files import write_text

    fit, described = fit_notes(standing.bed, weather, standing.known), read_bed(bed_file)
    write_text(fit_beside(bed_file), fit_text(fit, described))
    click.echo(f"Written: {fit_beside(bed_file)}", err=True)
    grown = standing.bed.plantings  # without harvested crops
    bed = dataclasses.replace(with_fit(described, bed_file), plantings=grown)
    return standing._replace(bed=bed), fit


@click.command(short_help="Note a dip, a fill or a harvest of a bed.")
@click.argument("bed_file", metavar="BED.toml", type=FILE)
@click.argument("words", metavar="dip|fill|... [VALUE]", nargs=-1, required=True)
@click.option("--on", "day", type=Date(), metavar="DATE", help="When.  [default: today]")
@click.option("--log", "log", type=FILE, metavar="NOTES.csv", help="Where, if not beside the bed.")
@click.option(
    "--date-order",
    "order",
    type=click.Choice(["dmy", "mdy"]),
    help="Whether dates such as 4/3/2027 in these notes begin with the day or the month.",
)
def note(
    bed_file: Path,
    words: tuple[str, ...],
    day: datetime.date | None,
    log: Path | None,
    order: str | None,
) -> None:
    """Add a line to the notes of a bed, which `bedtide now` reads.

    dip 6cm, what a stick said before any fill of that morning, as a height, litres or a share;
    fill, to the lip, fill 45L to the lip, or fill 20L; overflow seen, or no overflow on a day on
    which you looked; top watering 5L, poured on the mix; harvest tomato, which clears that crop, or
    harvest alone.
    """
    from bedtide.answers.now.notes import KINDS, add_note, notes_beside

    bed, said = given_bed(bed_file), " ".join(words)
    kinds = (kind for kind in KINDS if re.match(rf"{kind}(?![a-z])", said.lower()))
    what = next(kinds, words[0])
    path = log or notes_beside(bed_file)
    added = add_note(path, bed, day or datetime.date.today(), what, said[len(what) :], order=order)
    click.echo(f"{path.name}: {added.day}, {' '.join(filter(None, [added.what, added.value]))}")
