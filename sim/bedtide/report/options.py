"""Options that several commands share, and the progress that they show."""

from __future__ import annotations

import datetime
import re
import shlex
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

import click

from bedtide.constants import YEARS
from bedtide.errors import FieldError, TimeAxisError, shown
from bedtide.units import SYSTEMS

__all__ = [
    "FILE",
    "Date",
    "WeatherCommand",
    "from_option",
    "in_options",
    "json_option",
    "out_option",
    "progress",
    "range_option",
    "reading_help",
    "reading_words",
    "to_option",
    "units_option",
    "weather_options",
]

FILE: Final = click.Path(path_type=Path, readable=False)


class Date(click.ParamType):
    """A day written as 2027-07-10."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: Any) -> datetime.date:
        """Day from its text."""
        if isinstance(value, datetime.date):
            return value
        with suppress(ValueError):
            day = datetime.date.fromisoformat(value.strip())
            if YEARS[0] <= day.year <= YEARS[1]:
                return day
        raise TimeAxisError(
            param.opts[0] if param is not None else "date",
            f'"{shown(value)}" is not a day of the calendar from {YEARS[0]} to {YEARS[1]}',
            expected="year-month-day, such as 2027-07-10",
        )


from_option = click.option(
    "--from", "start", type=Date(), metavar="DATE", help="First day, as 2027-04-01."
)
to_option = click.option(
    "--to", "end", type=Date(), metavar="DATE", help="Last day, this one included."
)
units_option = click.option(
    "--units",
    type=click.Choice(SYSTEMS),
    default="metric",
    show_default=True,
    help="Units to show: mm, cm and litres, or inches and US gallons.",
)
json_option = click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print the figures as JSON, as --out writes them, in litres, mm and cm.",
)
range_option = click.option(
    "--range",
    "with_range",
    is_flag=True,
    help="Run eleven sets of values for mix and plants and give the headlines as a range; takes "
    "eleven times as long.",
)
out_option = click.option(
    "--out",
    "folder",
    type=FILE,
    metavar="FOLDER",
    help="Write the results into this folder as well.",
)


_FLAGS = {
    "columns": "--column",
    "start": "--from",
    "end": "--to",
    **{
        name: f"--{name.replace('_', '-')}"
        for name in (
            "accept",
            "borrow",
            "date_order",
            "decimal",
            "gauge",
            "hour_stamp",
            "impossible",
            "max_gap_days",
            "method",
            "missing",
            "multi_day",
            "point",
            "rain_day",
            "setting",
            "stamps",
            "station",
            "time_zone",
            "units_of_file",
            "wind_height",
        )
    },
}


class ReadingOption(click.Option):
    """An option on how the weather file is to be read."""


class WeatherCommand(click.Command):
    """A command whose help keeps the options on the weather file apart from its own."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options in two groups."""
        groups: dict[str, list[tuple[str, str]]] = {"Options": [], "How the weather is read": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx) if isinstance(param, click.Option) else None
            if record is not None:
                title = list(groups)[isinstance(param, ReadingOption)]
                groups[title].append(record)
        for title, records in groups.items():
            with formatter.section(title):
                formatter.write_dl(records)


def _reading(*names: str, **words: Any) -> Callable[..., Any]:
    return click.option(*names, cls=ReadingOption, **words)


_WEATHER = (
    _reading("--latitude", type=float, metavar="DEGREES", help="North positive, if the file "
             "does not say it."),
    _reading("--elevation", type=float, metavar="METRES", help="Above the sea, if the file "
             "does not say it."),
    _reading("--column", "columns", multiple=True, metavar="NAME=MEANING", help="What a column "
             "of the weather file is, as 'Hi=tmax, F' or 'Note=ignore'; once for each."),
    _reading("--missing", multiple=True, metavar="TEXT", help="What stands for 'not measured', "
             "as -9999; once for each."),
    _reading("--decimal", type=click.Choice([".", ","]), help="Decimal mark of the file."),
    _reading("--date-order", type=click.Choice(["dmy", "mdy"]), help="Order of dates such as "
             "03/04/2021."),
    _reading("--units-of-file", type=click.Choice(["tenths", "metric", "standard"]),
             help="Units of a US daily summary, which does not say them itself."),
    _reading("--station", metavar="NAME", help="Which station of a file that holds several."),
    _reading("--point", type=(float, float), metavar="LAT LON", help="Place wanted from a grid, "
             "in degrees."),
    _reading("--max-gap-days", type=int, default=3, show_default=True, metavar="DAYS",
             help="Longest gap that is filled."),
    _reading("--rain-day", type=click.Choice(["midnight", "to morning", "from morning"]),
             help="Which 24 hours the rain under a date covers."),
    _reading("--multi-day", type=click.Choice(["spread", "last"]), default="spread",
             show_default=True, help="Rain measured over several days: spread it, or put it on "
             "the last."),
    _reading("--wind-height", type=float, metavar="METRES", help="Height of the wind gauge."),
    _reading("--stamps", metavar="ZONE", help="Time zone of the clock times in the file."),
    _reading("--time-zone", metavar="ZONE", help="Time zone whose midnight begins a day, as "
             "Europe/Berlin."),
    _reading("--hour-stamp", type=click.Choice(["start", "end"]), default="start",
             show_default=True, help="Which end of its hour the time of an hourly row is."),
    _reading("--setting", type=click.Choice(["inland", "coast"]), default="inland",
             show_default=True, help="Where sunshine must be estimated from temperature."),
    _reading("--method", type=click.Choice(["penman-monteith", "hargreaves"]),
             help="Equation for ET0, if not the best that the columns allow."),
    _reading("--impossible", type=click.Choice(["refuse", "drop"]), default="refuse",
             show_default=True, help="What to do with impossible values."),
    _reading("--accept", multiple=True, metavar="CHECK", help="A check of the weather to leave "
             "out where the odd thing is true; its message names it."),
    _reading("--borrow", multiple=True, type=FILE, metavar="FILE", help="Weather of another "
             "station, for columns that yours lacks."),
    _reading("--gauge", type=FILE, metavar="FILE", help="Log of your own rain gauge, a date and "
             "a rain column; it overrides the station's rain."),
)  # fmt: skip


def weather_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command all options on how a weather file is to be read, for `reading_words`."""
    for option in reversed(_WEATHER):
        command = option(command)
    return command


def reading_help() -> list[tuple[str, str]]:
    """Each option on how a weather file is read, with its help."""

    @click.command
    @weather_options
    def command() -> None: ...

    context = click.Context(command)
    records = (param.get_help_record(context) for param in command.params)
    return [record for record in records if record is not None]


def reading_words(reading: Mapping[str, Any]) -> dict[str, Any]:
    """Keywords of `read_weather` from the options of a command.

    Parameters
    ----------
    reading : mapping
        What click collected under the names of `weather_options`.

    Returns
    -------
    dict
        Keywords; ``columns`` as a mapping.

    Raises
    ------
    FieldError
        If a ``--column`` has no equals sign.
    """
    columns = {}
    for text in reading["columns"]:
        name, sign, meaning = text.partition("=")
        if not sign or not meaning.strip():
            raise FieldError(
                "--column",
                f'"{text}" does not say what the column is',
                expected="NAME=MEANING, such as  --column 'Hi=tmax, F'",
            )
        columns[name.strip()] = meaning.strip()
    return {
        **reading,
        "columns": columns or None,
        "borrow": list(reading.get("borrow", ())) or None,
    }


def in_options(message: str) -> str:
    """A message of the reader with its keywords spelled as the options of the command line.

    Parameters
    ----------
    message : str
        Such as ``say  missing = "-9999"``.

    Returns
    -------
    str
        Such as ``say  --missing -9999``.
    """
    message = re.sub(
        r"(?<=  )columns = \{\s*\"([^\"]+)\": \"([^\"]+)\"\s*\}", r"--column '\1=\2'", message
    )

    def valued(match: re.Match[str]) -> str:
        value = match["quoted"] if match["quoted"] is not None else match["bare"]
        return f"{_FLAGS[match['name']]} {shlex.quote(value)}"

    names = "|".join(_FLAGS)
    message = re.sub(
        rf'(?<=  )(?P<name>{names}) = (?:"(?P<quoted>[^"]*)"|(?P<bare>[^\s"]+\b))', valued, message
    )
    return re.sub(rf"(?<=  )({names})(?=  | ?[.,\n]|$)", lambda m: _FLAGS[m[1]], message)


@contextmanager
def progress(length: int) -> Iterator[Callable[[str], None]]:
    """Show a bar on the terminal while work goes on; on anything but a terminal, nothing.

    Parameters
    ----------
    length : int
        How many steps there are [1].

    Yields
    ------
    callable
        To be called with the name of each step as it begins.
    """
    if not sys.stderr.isatty():
        yield lambda label: None
        return
    with click.progressbar(length=length, file=sys.stderr, show_eta=False, width=24) as bar:

        def begin(label: str) -> None:
            bar.label = label.ljust(24)
            bar.update(1 if begun else 0)
            bar.render_progress()
            begun.append(label)

        begun: list[str] = []
        yield begin
        bar.update(length - bar.pos)
    click.echo("\x1b[1A\x1b[2K", nl=False, err=True)  # the bar goes, the answer stands first
