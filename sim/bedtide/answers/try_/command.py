"""bedtide try: a page to play with, on this machine alone."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
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

_SURE = 10  # years from which nine in ten are spoken of, as `bedtide away` does


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
        server = server_of(bed, weather, file, units, leave, days, port, prices)
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


def server_of(
    bed: Bed, weather: xr.Dataset, file: str, units: System,
    leave: datetime.date | None, days: int, port: int, prices: Path | None = None,
) -> PageServer:  # fmt: skip
    """The server of a bed; every answer is worked out from the file and what the page sends."""
    from bedtide.answers.try_.change import changed, checked, controls_of
    from bedtide.answers.try_.server import HOME, PageServer
    from bedtide.balance import run_season
    from bedtide.bed import (
        bed_from_text,
        bed_text,
        brimful_weight,
        full_store,
        plan_area,
    )
    from bedtide.building import build
    from bedtide.many import away, compare, whole_years
    from bedtide.readings import dryness, refills, wetness
    from bedtide.report.bed_view import bed_view
    from bedtide.report.given import season_span
    from bedtide.report.page.page import pages
    from bedtide.report.templates import one_line, parts_of

    build(bed, prices, units=units)  # what is wrong with the prices is told at once
    text, (first, last), years = bed_text(bed), season_span(weather), whole_years(weather)
    midsummer = (7, 10) if weather.attrs["latitude"] >= 0 else (1, 10)
    stay_from = leave or datetime.date(last.year, *midsummer)
    drawn: Any = pages(units).get_template("report/page/bed.j2").module
    controls = controls_of(bed, units, year=first.year, leave=stay_from, days=days)

    def described(given: Mapping[str, str]) -> str:
        return changed(text, bed, controls, checked(controls, given), units).as_string()

    def bed_of(given: Mapping[str, str]) -> Bed:
        return bed_from_text(described(given), where=file)

    def drawing(given: Mapping[str, str]) -> dict[str, str]:
        view = bed_view(bed_of(given), units)
        return {"drawing": drawn.section(view, live=True), "care": drawn.cautions(view)}

    def told(*found: xr.Dataset, **more: Any) -> dict[str, str]:
        """Words for every place of the page: from the plain numbers of what was found, and more."""
        numbers = {str(name): value for each in found for name, value in each.items()}
        figures = {name: each.item() for name, each in numbers.items() if not each.ndim} | more
        parts = parts_of("answers/try_/text.j2", units=units, s=figures)
        return {name: " ".join(map(str, blocks)).strip() for name, blocks in parts.items()}

    def year(given: Mapping[str, str]) -> dict[str, str]:
        values, now = checked(controls, given), bed_of(given)
        leave, days = datetime.date.fromisoformat(values["leave"]), int(values["days"])
        season = run_season(now, weather, start=first, end=last)
        stay = away(now, weather, leave, days=days, measures=[])
        return told(
            *(refills(season), wetness(season), dryness(season), stay.isel(measure=0)),
            stay=stay.attrs,
            cases=stay.sizes["case"],
            sure=stay.attrs["independent_years"] >= _SURE,
            holds=full_store(now) * plan_area(now),
            weight=brimful_weight(now),
            sheet=build(now, prices, units=units),
        )

    def all_years(given: Mapping[str, str]) -> dict[str, str]:
        return told(compare([bed_of(given)], weather, years=years).isel(bed=0))

    def saved(given: Mapping[str, str]) -> dict[str, str]:
        bed_of(given)  # its mistakes are told
        return {"text": described(given)}

    def page(nonce: str) -> str:
        template = pages(units).get_template("answers/try_/page.j2")
        names = one_line({"controls": controls, "file": file, "place": weather.attrs["place"]})
        names |= {"first": first, "last": last, "years": len(years.starts)}
        return template.render(nonce=nonce, bed=bed_view(bed, units), **names)

    answers = {"drawing": drawing, "year": year, "years": all_years, "file": saved}
    try:
        return PageServer(port, page, answers)
    except OSError as error:
        raise RangeError(
            "--port", f"{HOME}:{port} can't be had ({error.strerror})", expected="a free port"
        ) from None
