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
    import pandas as pd
    import xarray as xr

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

    missing = [word for word, it in {"--leave": leave, "--days": days}.items() if it is None]
    if missing and not (leave is None and all_dates):
        raise FieldError(
            " and ".join(missing),
            "not given",
            expected="the first day away and how many days, as  --leave 2027-07-10 --days 16",
            hint="For a calendar of the year without a stay give  --all-dates",
        )
    full = parse(level, "1", where="--level")
    cloth = parse(shade, "1", where="--shade")
    held = None if drum is None else parse(drum, "m3", where="--drum")
    tried = [] if [name.strip().lower() for name in measures] == ["none"] else list(measures)
    asked.check()
    stay = course = ranges = calendar = dates = None
    with progress(4) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        begin("Reading the weather")
        weather = given_weather(bed_file, weather_files, bed, asked.reading)
        begin("Running the years")
        from bedtide.answers.away.summary import calendar_of, course_of, summary_of
        from bedtide.many import CALENDAR_DRAWS, away_calendar, away_ranges, fitting_drum
        from bedtide.many import away as run_away

        if leave is not None and days is not None:
            stay = run_away(
                bed, weather, leave, days=days, level=full, shade=cloth,
                drum=fitting_drum(bed, asked.units) if held is None else held,
                measures=tried if measures else None,
            )  # fmt: skip
            course = course_of(stay)
            if with_range:
                ranges = away_ranges(bed, weather, leave, days=days, level=full)
        if all_dates:
            year = None if leave is None else leave.year
            calendar = away_calendar(
                bed, weather, level=full, year=year, draws=CALENDAR_DRAWS if with_range else 0,
                progress=partial(begin, "Trying other values"),
            )  # fmt: skip
            dates = calendar_of(calendar)
        summary = dates if stay is None else summary_of(stay, calendar=dates, ranges=ranges)
        written = None
        if asked.folder is not None:
            begin("Drawing")
            written = _files(stay, calendar, summary, course, days, asked.units)
    asked.give(
        summary,
        f"away/{'calendar' if stay is None else 'text'}.j2",
        files=written,
        json_name="away.json",
        page=f"away/{'calendar_page' if stay is None else 'page'}.j2",
        bed=bed,
        shown=lambda: {"course": course},
    )


# --- its folder -------------------------------------------------------------------------------


def _files(
    stay: xr.Dataset | None,
    calendar: xr.Dataset | None,
    summary: Any,
    course: Any,
    days: int | None,
    units: System,
) -> dict[str, Any]:
    from bedtide.answers.away.pictures import away_figure, calendar_figure

    files: dict[str, Any] = {}
    if stay is not None:
        files = {
            "away.csv": table_of_cases(stay, units=units),
            "away_days.csv": table_of_days(stay),
            "away.nc": stay,
            "away.png": away_figure(summary, course, units=units),
        }
    if calendar is not None:
        dates = summary if stay is None else summary.calendar
        files |= {
            "away_calendar.csv": table_of_dates(calendar),
            "away_calendar.nc": calendar,
            "away_calendar.png": calendar_figure(dates, days=days),
        }
    return files


def table_of_cases(stay: xr.Dataset, *, units: System = "metric") -> pd.DataFrame:
    """One row a change and case; days that equal `days_followed` are that or more."""
    import pandas as pd

    from bedtide.report.results import UNITS

    days = ["days_lasted", "days_to_half", "days_to_empty"]
    ending, size, _ = UNITS["volume"][units]
    rows = stay[[*days, "water_brought", "days_short_anyway"]].to_dataframe().reset_index()
    return pd.DataFrame(
        {
            "change": rows["measure"],
            "year": rows["year"],
            "start": rows["start"],
            "neighbouring_date": (rows["offset"] != 0).astype(int),
            **rows[days].clip(upper=stay.attrs["days_followed"]),
            "days_followed": float(stay.attrs["days_followed"]),
            "lasted_all_days": (rows["days_lasted"] >= stay.attrs["days_away"]).astype(int),
            f"water_brought{ending}": rows["water_brought"] / size,
            "days_short_even_if_filled": rows["days_short_anyway"],
        }
    )


def table_of_days(stay: xr.Dataset) -> pd.DataFrame:
    """One row for each number of days away: in how many cases each change lasts that long."""
    lasting = (stay["days_lasted"] >= stay["day"]).sum("case").transpose("day", "measure")
    table = lasting.to_pandas().add_prefix("lasting_").assign(cases=stay.sizes["case"])
    table.columns = table.columns.str.replace(" ", "_").str.replace("+", "_and_")
    return table.rename_axis("days_away").reset_index()


def table_of_dates(calendar: xr.Dataset) -> pd.DataFrame:
    """One row a date of leaving, one column a year; empty where the record lacks the days."""
    import pandas as pd

    followed = float(calendar.attrs["days_followed"])
    days = ("days_safe", "days_safe_low", "days_safe_high", "days_middle")
    table = calendar[[name for name in days if name in calendar]].to_dataframe()
    lasted = calendar["days_lasted"].to_pandas().add_prefix("lasted_")
    more = calendar[["case_count", "plantings_standing"]].to_dataframe()
    more.insert(0, "days_followed", followed)
    parts = (table.clip(upper=followed), more, lasted.clip(upper=followed))
    joined: pd.DataFrame = pd.concat(parts, axis=1)
    return joined.reset_index().rename(columns={"case_count": "cases"})
