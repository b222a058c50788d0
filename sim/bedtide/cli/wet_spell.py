"""bedtide wet-spell: how wet beds get when it rains for days."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from bedtide.cli.compared import compared_beds, split_files
from bedtide.cli.options import (
    FILE,
    Date,
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

    from bedtide.decide import LeastDepth, Placed, Variant, Wanted

__all__ = ["ALL_LENGTHS", "SpellRun", "run_spells", "spell_files", "spells_asked", "wet_spell"]

ALL_LENGTHS = "3, 7, 14 days"
_DEPTH = "box.depth"
_MOST_SEARCHES = 8  # of about three seconds each


class SpellRun(NamedTuple):
    """Rainy spells that were run, and the figures that are printed of them."""

    result: xr.Dataset
    figures: dict[str, Any]


@click.command(
    "wet-spell", cls=WeatherCommand, short_help="How wet it gets when it rains for days."
)
@click.argument("files", metavar="[BED.toml... WEATHER.csv...]", nargs=-1, type=FILE)
@click.option(
    "--spell",
    default=ALL_LENGTHS,
    show_default=True,
    metavar="SPELL",
    help="Length of the wettest stretch to look for, as '7 days'; or a stated spell, as "
    "'10 days of 20 mm'.",
)
@click.option(
    "--on",
    "first",
    type=Date(),
    metavar="DATE",
    help="First day of the spell; else the wettest stretch while something grows.",
)
@click.option(
    "--vary",
    multiple=True,
    metavar="KEY=VALUES",
    help="A key of the bed description and its values, as box.depth=25cm,32cm,42cm.",
)
@out_option
@units_option
@json_option
@weather_options
def wet_spell(
    files: tuple[Path, ...],
    spell: str,
    first: datetime.date | None,
    vary: tuple[str, ...],
    folder: Path | None,
    units: System,
    as_json: bool,
    **reading: Any,
) -> None:
    """How long roots lack air in a rainy spell, when they have it again, what the overflow carries.

    Each bed runs through the spell with its overflow as it is, and blocked. For a single bed, or
    where box.depth is varied, the least depth that keeps air among the roots is searched for.

    Files that end in .toml are beds, all others weather. With --out it writes wet_spell.csv (one
    row a day), wet_spell.nc, wet_spell.json and wet_spell.png.
    """
    from bedtide.cli.given import given_weather
    from bedtide.files import check_folder, json_text, write_folder, write_json
    from bedtide.show import wet_spell_report

    wanted = spells_asked(spell, where="--spell")
    if folder is not None:
        check_folder(folder)
    bed_files, weather_files = split_files(files)
    with progress(4) as begin:
        begin("Reading the beds")
        variants = compared_beds(bed_files, vary, least=1)
        begin("Reading the weather")
        some_bed = bed_files[0] if bed_files else None
        weather = given_weather(some_bed, weather_files, variants[0].bed, reading)
        run = run_spells(variants, weather, wanted, first, begin)
        if folder is not None:
            figures = partial(write_json, content=run.figures)
            write_folder(folder, spell_files(run, units) | {"wet_spell.json": figures})
    lines = wet_spell_report(run.figures, units=units)
    click.echo(json_text(run.figures) if as_json else "\n".join(lines), nl=not as_json)
    if folder is not None:
        click.echo(f"Written: {folder}", err=True)


def spells_asked(text: str, *, where: str) -> list[Wanted]:
    """Spells from the text of an option.

    Parameters
    ----------
    text : str
        Such as ``7 days`` or ``10 days of 20 mm``.
    where : str
        The option, for messages.

    Returns
    -------
    list of Wanted
        At least one.
    """
    from bedtide.decide import parse_spells

    return parse_spells(text, where=where)


def run_spells(
    variants: Sequence[Variant],
    weather: xr.Dataset,
    wanted: Sequence[Wanted],
    first: datetime.date | None,
    begin: Callable[[str], None],
) -> SpellRun:
    """Run the beds through the spells, and search the least depth where that is asked for.

    Parameters
    ----------
    variants : sequence of Variant
        The beds.
    weather : Dataset, dims (time,)
        The record.
    wanted : sequence of Wanted
        The spells.
    first : date, optional
        First day of the spell.
    begin : callable
        Told what is being done.

    Returns
    -------
    SpellRun
        The result and its figures.
    """
    from bedtide.decide import place_spells, wet_spells
    from bedtide.show import wet_spell_summary

    begin("Running the rainy spells")
    beds = [variant.bed for variant in variants]
    placed = place_spells(beds, weather, wanted, first=first)
    result = wet_spells(beds, placed, labels=[variant.label for variant in variants])
    begin("Searching the least depth")
    return SpellRun(result, wet_spell_summary(result, _depths(variants, placed)))


def spell_files(run: SpellRun, units: System) -> dict[str, Callable[[Path], None]]:
    """Writers of the files of rainy spells, but for the figures.

    Parameters
    ----------
    run : SpellRun
        What was run.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    dict of callable
        By file name.
    """
    from bedtide.files import write_csv, write_figure, write_netcdf
    from bedtide.show import wet_spell_figure, wet_spell_table

    return {
        "wet_spell.csv": partial(write_csv, table=wet_spell_table(run.result, units=units)),
        "wet_spell.nc": partial(write_netcdf, dataset=run.result),
        "wet_spell.png": partial(write_figure, figure=wet_spell_figure(run.result, units=units)),
    }


def _depths(variants: Sequence[Variant], placed: Sequence[Placed]) -> dict[str, LeastDepth]:
    """Least depth for each setting of the other keys, where the depth is varied or the bed alone.

    Of more than eight settings only the first eight are searched; the others are in the table.
    """
    from bedtide.decide import label_without, least_depth

    groups: dict[str, Variant] = {}
    for variant in variants:
        keys = [key.strip().lower() for key, _ in variant.settings]
        if _DEPTH in keys or len(variants) == 1:
            groups.setdefault(label_without(variant, _DEPTH), variant)
    chosen = list(groups.items())[:_MOST_SEARCHES]
    return {name: least_depth(variant.bed, placed) for name, variant in chosen}
