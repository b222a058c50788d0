"""bedtide new: a folder to start from."""

from __future__ import annotations

import shutil
from functools import partial
from pathlib import Path

import click

from bedtide.report.options import units_option
from bedtide.units import System, written_in


@click.command(short_help="Start a folder with a bed to change.")
@click.argument("folder", type=click.Path(path_type=Path, readable=False))
@units_option
def new(folder: Path, units: System | None) -> None:
    """Write a commented bed description, sample weather and a drawing into FOLDER.

    Files that are there already are never overwritten.
    """
    from bedtide.bed import bed_from_text, example_text
    from bedtide.files import new_folder_check, write_folder
    from bedtide.report.bed_view import section_figure
    from bedtide.report.templates import folded, terminal_width
    from bedtide.tables import sample_weather

    names = ["bed.toml", "weather.csv", "bed.png"]
    new_folder_check(folder, names)
    text = example_text()
    drawing = section_figure(bed_from_text(text, where="bed.toml"), units=units or written_in(text))
    write_folder(
        folder,
        {
            "bed.toml": text,
            "weather.csv": partial(shutil.copyfile, sample_weather()),
            "bed.png": drawing,
        },
    )
    bed, weather = folder / "bed.toml", folder / "weather.csv"
    said = (
        f"Written: {bed}, {weather} (invented weather) and {folder / 'bed.png'}.\n"
        "* Make the bed description yours and put your weather in place of the sample, then run:"
    )
    click.echo(folded(said, terminal_width()))
    click.echo(f"bedtide season {bed} {weather} --out {folder / 'season'}")
