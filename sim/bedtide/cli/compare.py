"""bedtide compare: which bed of several."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.cli.compared import MonthDayType, compared_beds, split_files
from bedtide.cli.options import (
    FILE,
    WeatherCommand,
    json_option,
    out_option,
    progress,
    units_option,
    weather_options,
)
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed

__all__ = ["compare"]


@click.command(
    cls=WeatherCommand, short_help="Which bed: work, air, water and weight, side by side."
)
@click.argument("files", metavar="[BED.toml... WEATHER.csv...]", nargs=-1, type=FILE)
@click.option(
    "--vary",
    multiple=True,
    metavar="KEY=VALUES",
    help="A key of the bed description and its values, as box.depth=25cm,32cm,42cm; "
    "once for each key, all combinations are run. Values with decimal commas: 25,5cm;32cm",
)
@click.option(
    "--from",
    "first",
    type=MonthDayType(),
    metavar="MM-DD",
    help="First day of the season in every year, as 04-01.",
)
@click.option(
    "--to",
    "last",
    type=MonthDayType(),
    metavar="MM-DD",
    help="Last day of the season, this one included.",
)
@out_option
@units_option
@json_option
@weather_options
def compare(
    files: tuple[Path, ...],
    vary: tuple[str, ...],
    first: tuple[int, int] | None,
    last: tuple[int, int] | None,
    folder: Path | None,
    units: System,
    as_json: bool,
    **reading: Any,
) -> None:
    """Run several beds through every year of the weather and say which to take.

    Files that end in .toml are beds, all others weather. With no bed file the built-in example is
    varied, in built-in weather where there is no weather file either.

    With --out it writes compare.csv (one row a bed), years.csv (one row a bed and year),
    compare.nc, compare.json, compare.png and choice.toml, the bed that was chosen.
    """
    from bedtide.cli.given import given_weather
    from bedtide.decide import compare as compare_beds
    from bedtide.decide import whole_years
    from bedtide.files import check_folder, json_text
    from bedtide.show import compare_report, compare_summary

    if folder is not None:
        check_folder(folder)
    bed_files, weather_files = split_files(files)
    with progress(4) as begin:
        begin("Reading the beds")
        variants = compared_beds(bed_files, vary, least=2)
        beds = [variant.bed for variant in variants]
        begin("Reading the weather")
        some_bed = bed_files[0] if bed_files else None
        weather = given_weather(some_bed, weather_files, beds[0], reading)
        years = whole_years(weather, first=first, last=last)
        begin(f"Running {len(beds)} beds, {len(years.starts)} years")
        result = compare_beds(
            beds, weather, years=years, labels=[variant.label for variant in variants]
        )
        figures = compare_summary(result)
        if folder is not None:
            begin("Writing the files")
            _write(folder, beds, result, figures, units)
    lines = compare_report(figures, units=units)
    click.echo(json_text(figures) if as_json else "\n".join(lines), nl=not as_json)
    if folder is not None:
        click.echo(f"Written: {folder}", err=True)


def _write(
    folder: Path,
    beds: list[Bed],
    result: xr.Dataset,
    figures: dict[str, Any],
    units: System,
) -> None:
    """All files of a comparison, compare.json last."""
    from bedtide.bed import bed_text
    from bedtide.decide import choose
    from bedtide.files import (
        write_csv,
        write_figure,
        write_folder,
        write_json,
        write_netcdf,
        write_text,
    )
    from bedtide.show import compare_figure, compare_table, years_table

    picked = bed_text(beds[choose(result).pick])
    write_folder(
        folder,
        {
            "compare.csv": partial(write_csv, table=compare_table(result, units=units)),
            "years.csv": partial(write_csv, table=years_table(result, units=units)),
            "compare.nc": partial(write_netcdf, dataset=result),
            "compare.png": partial(write_figure, figure=compare_figure(result, units=units)),
            "choice.toml": partial(write_text, text=picked),
            "compare.json": partial(write_json, content=figures),
        },
    )
