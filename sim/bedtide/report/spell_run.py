"""Rainy spells run and written, for the answers that need them."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.many import LeastDepth, Placed, Variant, Wanted

__all__ = ["ALL_LENGTHS", "SpellRun", "run_spells", "spell_files", "spells_asked"]

ALL_LENGTHS = "3, 7, 14 days"


_DEPTH = "box.depth"


_MOST_SEARCHES = 8  # of about three seconds each


class SpellRun(NamedTuple):
    """Rainy spells that were run, and the figures that are printed of them."""

    result: xr.Dataset
    figures: dict[str, Any]


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
    from bedtide.many import parse_spells

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
    from bedtide.many import place_spells, wet_spells
    from bedtide.report.spell_tables import wet_spell_summary

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
    from bedtide.report.spell_pictures import wet_spell_figure
    from bedtide.report.spell_tables import wet_spell_table

    return {
        "wet_spell.csv": partial(write_csv, table=wet_spell_table(run.result, units=units)),
        "wet_spell.nc": partial(write_netcdf, dataset=run.result),
        "wet_spell.png": partial(write_figure, figure=wet_spell_figure(run.result, units=units)),
    }


def _depths(variants: Sequence[Variant], placed: Sequence[Placed]) -> dict[str, LeastDepth]:
    """Least depth for each setting of the other keys, where the depth is varied or the bed alone.

    Of more than eight settings only the first eight are searched; the others are in the table.
    """
    from bedtide.many import label_without, least_depth

    groups: dict[str, Variant] = {}
    for variant in variants:
        keys = [key.strip().lower() for key, _ in variant.settings]
        if _DEPTH in keys or len(variants) == 1:
            groups.setdefault(label_without(variant, _DEPTH), variant)
    chosen = list(groups.items())[:_MOST_SEARCHES]
    return {name: least_depth(variant.bed, placed) for name, variant in chosen}
