"""bedtide build: what to cut and buy for a bed, and whether it can be built."""

from __future__ import annotations

from pathlib import Path

import click

from bedtide.report.options import FILE, Asked, WeatherCommand, answer, progress

MOST_BEDS = 100


@click.command(cls=WeatherCommand, short_help="What to cut and buy; drawings to build from.")
@click.argument("bed_file", metavar="[BED.toml", required=False, type=FILE)
@click.argument("weather_files", metavar="WEATHER.csv...]", nargs=-1, type=FILE)
@click.option(
    "--beds",
    type=click.IntRange(1, MOST_BEDS),
    default=1,
    show_default=True,
    help="How many of this bed; boards and pipe are cut for all of them together.",
)
@click.option(
    "--prices",
    type=FILE,
    metavar="FILE",
    help="Your sizes and prices, a TOML file; in place of those of the trade.",
)
@answer(page=False)
def build(
    bed_file: Path | None,
    weather_files: tuple[Path, ...],
    beds: int,
    prices: Path | None,
    asked: Asked,
) -> None:
    """Check a bed before it is built, and list what to cut and buy for it.

    Without weather it is checked against a stated storm and a stated peak of use; with a weather
    file against the worst of that record. --units also chooses the sizes that boards, bags and
    pipes are sold in.

    With --out it writes build.json and drawings to scale on A4 and on Letter: a PDF of all sheets
    and each sheet as SVG.
    """
    from bedtide.building import build as sheet_of
    from bedtide.report.given import given_bed, given_weather

    asked.check()
    with progress(3) as begin:
        begin("Reading the bed")
        bed = given_bed(bed_file)
        weather = None
        if weather_files:
            begin("Reading the weather")
            weather = given_weather(bed_file, weather_files, bed, asked.reading)
        summary = sheet_of(bed, prices, beds=beds, weather=weather, units=asked.units)
        files = {}
        if asked.folder is not None:
            from bedtide.answers.build.drawings import files_of

            begin("Drawing")
            files = files_of(bed, summary, asked.units)
    asked.give(summary, "build/text.j2", files=files, json_name="build.json")
