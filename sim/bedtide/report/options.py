"""Options that several commands share, and the progress that they show."""

from __future__ import annotations

import datetime
import inspect
import re
import shlex
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import reduce, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bedtide.constants import YEARS
from bedtide.errors import FieldError, InputError, Option, TimeAxisError, shown
from bedtide.units import SYSTEMS, System, written_in
from bedtide.weather import OPTIONS

if TYPE_CHECKING:
    from bedtide.bed import Bed

FILE: Final = click.Path(path_type=Path, readable=False)
_TYPED: Final = "bedtide.typed"  # key of the words of the command line
_PLACE: Final = re.compile(
    r"([+-]?\d+(?:\.\d+)?)\s*°?\s*([NS]?)\s*[,; ]\s*([+-]?\d+(?:\.\d+)?)\s*°?\s*([EW]?)"
)


class Typed(click.ParamType):
    """A value that is read from its text; what can't be read is told with what was expected."""

    error: type[InputError] = TimeAxisError
    what: str
    expected: str

    def read(self, text: str) -> Any:
        """The value; a ValueError where the text is none."""
        raise NotImplementedError

    def convert(self, value: Any, param: click.Parameter | None, ctx: Any) -> Any:
        """Value from its text."""
        if not isinstance(value, str):
            return value
        with suppress(ValueError):
            return self.read(value.strip())
        where = param.opts[0] if param is not None else self.name
        raise self.error(where, f'"{shown(value)}" is not {self.what}', self.expected)


class Date(Typed):
    """A day written as 2027-07-10; where it is the first or last of a span, a year as well."""

    name = "date"
    what = f"a day of the calendar from {YEARS[0]} to {YEARS[1]}"
    expected = "year-month-day, such as 2027-07-10"

    def __init__(self, of_year: str = "") -> None:
        self.of_year = of_year  # month and day that a year alone stands for

    def read(self, text: str) -> datetime.date:
        """The day."""
        if self.of_year and len(text) == 4:
            text = f"{text}-{self.of_year}"
        day = datetime.date.fromisoformat(text)
        if not YEARS[0] <= day.year <= YEARS[1]:
            raise ValueError(text)
        return day


class Place(Typed):
    """Latitude and longitude, as 51.9,4.5 or 33.9S,151.2E."""

    name, error = "place", FieldError
    what = "a latitude and a longitude"
    expected = "degrees, north and east positive, such as  51.9,4.5  or  33.9S,151.2E"

    def read(self, text: str) -> tuple[float, float]:
        """The two in degrees, north and east positive."""
        found = _PLACE.fullmatch(text.upper())
        if found is None:
            raise ValueError(text)
        north, south, east, west = found.groups()
        return float(north) * (-1 if south == "S" else 1), float(east) * (-1 if west == "W" else 1)


from_option = click.option(
    "--from",
    "start",
    type=Date("01-01"),
    metavar="DATE",
    help="First day, as 2027-04-01; or a year.",
)
to_option = click.option(
    "--to",
    "end",
    type=Date("12-31"),
    metavar="DATE",
    help="Last day, this one included; or a year.",
)
units_option = click.option(
    "--units",
    type=click.Choice(SYSTEMS),
    help="Units to show: mm, cm and litres, or inches and US gallons; if left out, those that the "
    "bed file is written in.",
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
    help="Draw 64 sets of values for what is not known of mix, plants, place and rain, and give "
    "the headlines as ranges that hold 8 in 10 of them.",
)
page_option = click.option(
    "--page",
    "page",
    type=FILE,
    metavar="FILE.html",
    help="Write a page to look at as well: one file for a phone, a screen or paper.",
)


class ReadingOption(click.Option):
    """An option on how the weather file is to be read."""


class WeatherCommand(click.Command):
    """A command whose help keeps the options on the weather file apart from its own.

    Where no units are asked for, it shows those that its first bed file is written in.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Keep what was typed, then take it apart."""
        ctx.meta[_TYPED] = tuple(args)
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Settle the units, then run."""
        if "units" in ctx.params and ctx.params["units"] is None:
            ctx.params["units"] = _units_of(ctx.params)
        return super().invoke(ctx)

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


def _units_of(params: Mapping[str, Any]) -> System:
    """Units of the first bed file that was given; metric where there is none to read."""
    given = [params.get("bed_file"), *(params.get("files") or ())]
    beds = [path for path in given if path is not None and path.suffix.lower() == ".toml"]
    with suppress(OSError, ValueError):
        return written_in(beds[0].read_text(encoding="utf-8")) if beds else "metric"
    return "metric"


def _reading(name: str) -> Callable[..., Any]:
    """An option of reading as click has it."""
    about = OPTIONS[name]
    kinds: dict[str, Any] = {
        "float": float,
        "int": int,
        "tuple of float": (float, float),
        "str or Path": FILE,
        "str, Path or sequence of these": FILE,
        "str or datetime64": Date("01-01" if name == "start" else "12-31"),
    }
    kind = kinds.get(about.kind)
    if about.choices and not about.many:
        kind = click.Choice(about.choices)
    elif about.unit == "m":  # with or without its unit
        kind = None
    return click.option(
        about.flag,
        name,
        cls=ReadingOption,
        type=kind,
        multiple=about.many,
        default=about.default,
        show_default=bool(about.default),
        metavar=about.shown or None,
        help=about.sentence,
    )


def weather_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command all options on how a weather file is to be read, for `reading_words`.

    But those that it has for itself: --from and --to of some are the days to read as well.
    """
    for name in reversed(_readings(command)):
        command = _reading(name)(command)
    return command


def _readings(command: Callable[..., Any]) -> list[str]:
    own = inspect.signature(command).parameters
    return [name for name in OPTIONS if name not in own]


@dataclass(frozen=True)
class Asked:
    """What every answer can be asked for: units, JSON, a folder, a page, how weather is read."""

    units: System
    as_json: bool
    folder: Path | None
    page: Path | None
    reading: dict[str, Any]

    def check(self) -> None:
        """Refuse a folder or a page that could not be written."""
        from bedtide.files import check_folder

        if self.folder is not None:
            check_folder(self.folder)
        if self.page is not None:
            from bedtide.report.page.page import check_page

            check_page(self.page)

    def give(
        self,
        summary: Any,
        template: str,
        *,
        files: Mapping[str, Any] | None = None,
        json_name: str = "",
        page: str = "",
        bed: Bed | None = None,
        shown: Callable[[], Mapping[str, Any]] = dict,
    ) -> None:
        """Print a summary, as words or as JSON, and write what is asked for.

        Into the folder go `files` and the figures, which are the last; the page of the template
        `page` draws `bed` and what `shown` gives.
        """
        from bedtide.files import json_text, write_folder, write_text
        from bedtide.report.templates import render, terminal_width

        if self.folder is not None:
            write_folder(self.folder, {**(files or {}), json_name: summary})
        if self.page is not None and bed is not None:
            from bedtide.report.page.page import made_by, page_of

            made = page_of(
                summary,
                f"answers/{page}",
                bed,
                words=f"answers/{template}",
                units=self.units,
                made=made_by(click.get_current_context()),
                **shown(),
            )
            write_text(self.page, made)
        if self.as_json:
            click.echo(json_text(summary), nl=False)
        else:
            width = terminal_width()
            click.echo(render(f"answers/{template}", units=self.units, width=width, s=summary))
        for path in filter(None, (self.folder, self.page)):
            click.echo(f"Written: {path}", err=True)


def answer(
    *, page: bool = True, out: str = "Write the results into this folder as well."
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a command the options of every answer, last in its help; it gets them as `asked`."""
    out_option = click.option("--out", "folder", type=FILE, metavar="FOLDER", help=out)

    def decorated(command: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(command)
        def run(**given: Any) -> Any:
            reading = {name: given.pop(name) for name in _readings(command)}
            own = {name: given.pop(name, None) for name in ("units", "as_json", "folder", "page")}
            return command(asked=Asked(**own, reading=reading), **given)

        options = (weather_options, json_option, units_option, *[page_option] * page, out_option)
        return reduce(lambda made, option: option(made), options, run)

    return decorated


def typed(option: Option) -> str:
    """An option of reading in a message as it is typed on the command line."""
    flag, value = _flag(option.name), option.value
    if value is None:
        return flag
    if isinstance(value, Mapping):
        value = [f"{name}={meaning}" for name, meaning in value.items()]
    several = value if isinstance(value, list) else [value]
    return " ".join(f"{flag} {shlex.quote(str(each))}" for each in several)


def _flag(name: str) -> str:
    """What the command that runs calls an option: the days to read are --from and --to to some."""
    ctx = click.get_current_context(silent=True)
    command = ctx.command if ctx is not None else None
    if ctx is not None and isinstance(command, click.Group):
        command = command.commands.get(ctx.invoked_subcommand or "")
    flags = {param.name: param.opts[0] for param in command.params} if command is not None else {}
    return flags.get(name) or (OPTIONS[name].flag if name in OPTIONS else name)


def command_line(ctx: click.Context, answers: Mapping[str, Any]) -> str:
    """The command as it was typed, with more options of reading to paste.

    Where an option has no value, what stands for it in the help does.
    """
    told = [
        typed(Option(name, OPTIONS[name].shown if value is None else value))
        for name, value in answers.items()
    ]
    return " ".join(["bedtide", ctx.info_name or "", *map(shlex.quote, ctx.meta[_TYPED]), *told])


def reading_help() -> list[tuple[str, str]]:
    """Each option on how a weather file is read, with its help."""

    @click.command
    @weather_options
    def command() -> None: ...

    context = click.Context(command)
    records = (param.get_help_record(context) for param in command.params)
    return [record for record in records if record is not None]


def reading_words(reading: Mapping[str, Any]) -> dict[str, Any]:
    """Keywords of `read_weather` from what click collected for `weather_options`."""
    columns = {}
    for text in reading["columns"]:
        name, sign, meaning = text.partition("=")
        if not sign or not meaning.strip():
            raise FieldError(
                Option("columns"),
                f'"{text}" does not say what the column is',
                expected="NAME=MEANING, such as  --column 'Hi=tmax, F'",
            )
        columns[name.strip()] = meaning.strip()
    days = {name: str(reading[name]) for name in ("start", "end") if reading.get(name)}
    return {
        **reading,
        **days,
        "columns": columns or None,
        "borrow": list(reading.get("borrow", ())) or None,
    }


@contextmanager
def progress(length: int) -> Iterator[Callable[..., None]]:
    """Show a bar of so many steps on a terminal, by what is yielded.

    It is called with the name of a step as it begins, and again with how much of it is done.
    """
    if not sys.stderr.isatty():
        yield lambda label, done=0.0: None
        return
    with click.progressbar(length=length, file=sys.stderr, show_eta=False, width=24) as bar:

        def begin(label: str, done: float = 0.0) -> None:
            bar.label = f"{label} {done:.0%}".ljust(24) if done else label.ljust(24)
            bar.update(1 if begun and not done else 0)
            bar.render_progress()
            begun.append(label)

        begun: list[str] = []
        yield begin
        bar.update(length - bar.pos)
    click.echo("\x1b[1A\x1b[2K", nl=False, err=True)  # the bar goes, the answer stands first
