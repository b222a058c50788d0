"""bedtide away: will it last with nobody to water."""

from __future__ import annotations

import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.errors import FieldError
from bedtide.report.options import (
    FILE,
    Asked,
    Date,
    WeatherCommand,
    answer,
    progress,
    range_option,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.away.course import Course
    from bedtide.answers.away.summary import Calendar, Stay
    from bedtide.report.results import Writer
    from bedtide.units import System


@click.command(cls=WeatherCommand, short_help="Will it last while I am away, and what would help.")
@click.argument("bed_file", metavar="[BED.toml", required=False, type=FILE)
@click.argument("weather_files", metavar="WEATHER.csv...]", nargs=-1, type=FILE)
@click.option("--leave", type=Date(), metavar="DATE", help="First day away, as 2027-07-10.")
@click.option("--days", type=int, metavar="N", help="How many days away.")
@click.option(
    "--level",
    default="100 %",
    show_default=True,
    metavar="SHARE",
    help="How full the reservoir is on the morning of leaving, of what the mix can reach.",
)
@click.option(
    "--try",
    "measures",
    multiple=True,
    metavar="CHANGE",
    help="A change to run: top up, mulch, shade, cover, open, harvest (or harvest tomato), "
    "overflow, visit, drum; several at once as mulch+shade or visit+visit; none. Once for each; "
    "all of them if left out.",
)
@click.option(
    "--shade",
    default="50 %",
    show_default=True,
    metavar="SHARE",
    help="How much of the sun a shade cloth keeps off.",
)
@click.option(
    "--drum",
    metavar="VOLUME",
    help="What a drum on a float valve holds.  [default: 20 to 200 L, as suits the bed]",
)
@click.option(
    "--all-dates",
    is_flag=True,
    help="How long it lasts from every date of the year; --leave and --days may be left out.",
)
@range_option
@answer()
def away(
    bed_file: Path | None,
    weather_files: tuple[Path, ...],
    leave: datetime.date | None,
    days: int | None,
    level: str,
    measures: tuple[str, ...],
    shade: str,
    drum: str | None,
    all_dates: bool,
    with_range: bool,
    asked: Asked,
) -> None:
    """How many days the bed lasts with nobody to water it.

    Every year of the weather is run from the day you leave, with the crops as they then stand.
    Without files it runs the built-in example bed in built-in weather; both are invented.

    With --out it writes away.csv (one row a change and start), away_days.csv, away.nc, away.png
    and away.json; with --all-dates also away_calendar.csv, away_calendar.nc and
    away_calendar.png.
    """
    from bedtide.report.given import given_bed, given_weather
    from bedtide.units import parse

    stay_asked = _stay_asked(leave, days, all_dates=all_dates)
    full = parse(level, "1", where="--level")
    options: dict[str, Any] = {
        "shade": parse(shade, "1", where="--shade"),
        "drum": None if drum is None else parse(drum, "m3", where="--drum"),
        "measures": _chosen(measures),
    }
    asked.check()
    summary: Any = None
    stay = ranges = None
    written: dict[str, Writer] = {}
    page, drawn = "away/calendar_page.j2", {}
    with progress(4) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        begin("Reading the weather")
        weather = given_weather(bed_file, weather_files, bed, asked.reading)
        begin("Running the years")
        from bedtide.answers.away.course import course_of
        from bedtide.answers.away.summary import calendar_of, summary_of
        from bedtide.many import away as run_away
        from bedtide.many import away_calendar, away_ranges, fitting_drum, with_calendar_range

        if stay_asked is not None:
            first, length = stay_asked
            if options["drum"] is None:
                options["drum"] = fitting_drum(bed, asked.units)
            stay = run_away(bed, weather, first, days=length, level=full, **options)
            if with_range:
                ranges = away_ranges(bed, weather, first, days=length, level=full)
        if all_dates:
            year = None if leave is None else leave.year
            calendar = away_calendar(bed, weather, level=full, year=year)
            if with_range:
                calendar = with_calendar_range(
                    calendar, bed, weather, level=full, year=year,
                    progress=partial(begin, "Trying other values"),
                )  # fmt: skip
            summary = calendar_of(calendar)
            if asked.folder is not None:
                written = _calendar_files(calendar, summary, days)
        if stay is not None:
            summary, course = summary_of(stay, calendar=summary, ranges=ranges), course_of(stay)
            page, drawn = "away/page.j2", {"course": course}
            if asked.folder is not None:
                begin("Drawing")
                written = _stay_files(stay, summary, course, asked.units) | written
    asked.give(
        summary,
        f"away/{'calendar' if stay_asked is None else 'text'}.j2",
        files=written,
        json_name="away.json",
        page=page,
        bed=bed,
        shown=lambda: drawn,
    )


def _stay_asked(
    leave: datetime.date | None, days: int | None, *, all_dates: bool
) -> tuple[datetime.date, int] | None:
    """Date and length of the stay; None where only the calendar is wanted."""
    if leave is not None and days is not None:
        return leave, days
    if leave is None and all_dates:
        return None
    given = {"--leave": leave, "--days": days}
    raise FieldError(
        " and ".join(option for option, value in given.items() if value is None),
        "not given",
        expected="the first day away and how many days, as  --leave 2027-07-10 --days 16",
        hint="For a calendar of the year without a stay give  --all-dates",
    )


def _chosen(measures: tuple[str, ...]) -> list[str] | None:
    """What to try; None for everything."""
    if not measures:
        return None
    return [] if [name.strip().lower() for name in measures] == ["none"] else list(measures)


def _stay_files(stay: xr.Dataset, s: Stay, course: Course, units: System) -> dict[str, Writer]:
    from bedtide.answers.away.pictures import away_figure
    from bedtide.answers.away.tables import table_of_cases, table_of_days
    from bedtide.files import write_csv, write_figure, write_netcdf

    return {
        "away.csv": partial(write_csv, table=table_of_cases(stay, units=units)),
        "away_days.csv": partial(write_csv, table=table_of_days(stay)),
        "away.nc": partial(write_netcdf, dataset=stay),
        "away.png": partial(write_figure, figure=away_figure(s, course, units=units)),
    }


def _calendar_files(calendar: xr.Dataset, c: Calendar, days: int | None) -> dict[str, Writer]:
    from bedtide.answers.away.pictures import calendar_figure
    from bedtide.answers.away.tables import table_of_dates
    from bedtide.files import write_csv, write_figure, write_netcdf

    return {
        "away_calendar.csv": partial(write_csv, table=table_of_dates(calendar)),
        "away_calendar.nc": partial(write_netcdf, dataset=calendar),
        "away_calendar.png": partial(write_figure, figure=calendar_figure(c, days=days)),
    }
