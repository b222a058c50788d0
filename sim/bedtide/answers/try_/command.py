"""bedtide try: a page to play with, on this machine alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.errors import RangeError
from bedtide.report.options import (
    FILE,
    Date,
    WeatherCommand,
    progress,
    units_option,
    weather_options,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.try_.server import PageServer
    from bedtide.bed import Bed
    from bedtide.units import System

_GROUPS = (
    ("The bed", ("overflow.height", "mix depth", "reservoir.count", "reservoir.height")),
    ("Mix and mulch", ("mix.top.medium", "mix.wick.medium", "surface.mulch_share")),
    ("Watering", ("watering.when", "watering.share", "watering.every")),
    ("Planting", ("planting",)),
    ("A stay away", ("leave", "days")),
)


@click.command(name="try", cls=WeatherCommand, short_help="A page with sliders, to play with.")
@click.argument("bed_file", metavar="[BED.toml", required=False, type=FILE)
@click.argument("weather_files", metavar="WEATHER.csv...]", nargs=-1, type=FILE)
@click.option(
    "--leave",
    type=Date(),
    metavar="DATE",
    help="First day of the stay away that the page begins with.  [default: in midsummer]",
)
@click.option("--days", type=click.IntRange(1, 120), default=14, show_default=True,
              metavar="N", help="Days of that stay.")  # fmt: skip
@click.option("--prices", type=FILE, metavar="FILE",
              help="Your sizes and prices, as for bedtide build: tells the cost.")  # fmt: skip
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="PORT",
              help="Port of this machine; a free one if left out.")  # fmt: skip
@click.option("--no-browser", is_flag=True, help="Only tell the address.")
@units_option
@weather_options
def try_page(
    bed_file: Path | None,
    weather_files: tuple[Path, ...],
    leave: datetime.date | None,
    days: int,
    prices: Path | None,
    port: int,
    no_browser: bool,
    units: System,
    **reading: Any,
) -> None:
    """Change a bed with sliders and see at once what it does.

    It opens a page in the browser that only this machine can reach. Nothing is written; the page
    saves a changed bed as a file where you ask it to. Without files it plays with the built-in
    example bed in built-in weather; both are invented. Ctrl-C ends it.
    """
    from bedtide.report.given import given_bed, given_weather

    with progress(2) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        begin("Reading the weather")
        weather = given_weather(bed_file, weather_files, bed, reading)
        file = "bed.toml" if bed_file is None else bed_file.name
        server = _server(bed, weather, file, units, leave, days, port, prices)
    click.echo(f"Open {server.url}\nCtrl-C ends it.")
    if not no_browser:
        import webbrowser

        webbrowser.open(server.url)
    try:
        server.serve_forever(poll_interval=0.1)
    except KeyboardInterrupt:
        click.echo("\nEnded.")
    finally:
        server.server_close()


def _server(
    bed: Bed, weather: xr.Dataset, file: str, units: System,
    leave: datetime.date | None, days: int, port: int, prices: Path | None = None,
) -> PageServer:  # fmt: skip
    """The server of a bed; every answer is worked out from the file and what the page sends."""
    from bedtide.answers.try_.change import changed, checked, controls_of
    from bedtide.answers.try_.figures import year_of, years_of
    from bedtide.answers.try_.server import HOME, PageServer
    from bedtide.bed import bed_from_text, bed_text
    from bedtide.building import build
    from bedtide.many import whole_years
    from bedtide.report.bed_view import bed_view
    from bedtide.report.given import season_span
    from bedtide.report.page.page import piece_of
    from bedtide.report.templates import parts_of

    build(bed, prices, units=units)  # what is wrong with the prices is told at once
    text, span, years = bed_text(bed), season_span(weather), whole_years(weather)
    south = weather.attrs["latitude"] < 0
    stay = leave or datetime.date(span[1].year, *((1, 10) if south else (7, 10)))
    controls = controls_of(bed, units, year=span[0].year, leave=stay, days=days)

    @lru_cache(maxsize=8)
    def bed_of(described: str) -> Bed:
        return bed_from_text(described, where=file)

    def described(given: Mapping[str, str]) -> tuple[str, dict[str, str]]:
        values = checked(controls, given)
        return changed(text, bed, controls, values, units).as_string(), values

    def drawing(given: Mapping[str, str]) -> dict[str, str]:
        view = bed_view(bed_of(described(given)[0]), units)
        places = {"drawing": "section", "care": "cautions"}
        return {
            place: piece_of("answers/try_/drawing.j2", units=units, bed=view, macro=macro)
            for place, macro in places.items()
        }

    def told(summary: Any) -> dict[str, str]:
        parts = parts_of("answers/try_/text.j2", units=units, s=summary)
        return {name: " ".join(map(str, blocks)).strip() for name, blocks in parts.items()}

    def year(given: Mapping[str, str]) -> dict[str, str]:
        described_bed, values = described(given)
        day = datetime.date.fromisoformat(values["leave"])
        now, away = bed_of(described_bed), int(values["days"])
        return told(year_of(now, weather, span, day, away, prices, units))

    def all_years(given: Mapping[str, str]) -> dict[str, str]:
        return told(years_of(bed_of(described(given)[0]), weather))

    def saved(given: Mapping[str, str]) -> dict[str, str]:
        description = described(given)[0]
        bed_of(description)  # its mistakes are told
        return {"text": description}

    def page(nonce: str) -> str:
        return piece_of(
            "answers/try_/page.j2", units=units, nonce=nonce,
            bed=bed_view(bed, units), controls=controls, groups=_GROUPS, file=file,
            first=str(span[0]), last=str(span[1]), years=len(years.starts),
            place=weather.attrs["place"],
        )  # fmt: skip

    answers = {"drawing": drawing, "year": year, "years": all_years, "file": saved}
    try:
        return PageServer(port, page, answers)
    except OSError as error:
        raise RangeError(
            "--port", f"{HOME}:{port} can't be had ({error.strerror})", expected="a free port"
        ) from None
