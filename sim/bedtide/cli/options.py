"""Options that several commands share, and the progress that they show."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from bedtide.errors import FieldError, TimeAxisError
from bedtide.units import SYSTEMS

__all__ = [
    "Date",
    "json_option",
    "out_option",
    "progress",
    "reading_words",
    "units_option",
    "weather_options",
]

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
    help="Print the figures as JSON, under the keys of summary.json, in litres, mm and cm.",
)
out_option = click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path, readable=False),
    metavar="FOLDER",
    help="Write the results into this folder as well.",
)


_WEATHER = (
    click.option("--latitude", type=float, metavar="DEGREES", help="North positive, if the file "
                 "does not say it."),
    click.option("--elevation", type=float, metavar="METRES", help="Above the sea, if the file "
                 "does not say it."),
    click.option("--column", "columns", multiple=True, metavar="NAME=MEANING", help="What a column "
                 "of the weather file is, as 'Hi=tmax, F' or 'Note=ignore'; once for each."),
    click.option("--max-gap-days", type=int, default=3, show_default=True, metavar="DAYS",
                 help="Longest gap in the weather that is filled."),
    click.option("--missing", multiple=True, metavar="TEXT", help="What stands for 'not measured', "
                 "as -9999; once for each."),
    click.option("--decimal", type=click.Choice([".", ","]), help="Decimal mark of the file."),
    click.option("--date-order", type=click.Choice(["dmy", "mdy"]), help="Order of dates such as "
                 "03/04/2021."),
    click.option("--rain-day", type=click.Choice(["midnight", "to morning", "from morning"]),
                 help="Which 24 hours the rain under a date covers."),
    click.option("--station", metavar="NAME", help="Which station of a file that holds several."),
    click.option("--wind-height", type=float, metavar="METRES", help="Height of the wind gauge."),
    click.option("--stamps", metavar="ZONE", help="Time zone of the clock times in the file."),
    click.option("--time-zone", metavar="ZONE", help="Time zone whose midnight begins a day, as "
                 "Europe/Berlin."),
    click.option("--hour-stamp", type=click.Choice(["start", "end"]), default="start",
                 show_default=True, help="Which end of its hour the time of an hourly row is."),
    click.option("--setting", type=click.Choice(["inland", "coast"]), default="inland",
                 show_default=True, help="Where sunshine must be estimated from temperature."),
    click.option("--method", type=click.Choice(["penman-monteith", "hargreaves"]),
                 help="Equation for ET0, if not the best that the columns allow."),
    click.option("--impossible", type=click.Choice(["refuse", "drop"]), default="refuse",
                 show_default=True, help="What to do with impossible values."),
    click.option("--accept", multiple=True, type=click.Choice(["zeros", "sunshine"]),
                 help="A check of the weather to leave out, where the odd thing is true."),
)  # fmt: skip


def weather_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command all options on how a weather file is to be read, for `reading_words`."""
    for option in reversed(_WEATHER):
        command = option(command)
    return command


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
    return {**reading, "columns": columns or None}


class Date(click.ParamType):
    """A day written as 2027-07-10."""

    name = "date"

    def convert(self, value: Any, param: click.Parameter | None, ctx: Any) -> datetime.date:
        """Day from its text."""
        if isinstance(value, datetime.date):
            return value
        try:
            return datetime.date.fromisoformat(value.strip())
        except ValueError:
            where = param.opts[0] if param is not None else "date"
            raise TimeAxisError(
                where,
                f'"{value}" is not a day of the calendar',
                expected="year-month-day, such as 2027-07-10",
            ) from None


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
