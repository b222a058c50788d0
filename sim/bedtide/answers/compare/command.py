"""bedtide compare: which bed of several."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bedtide.errors import FieldError
from bedtide.report.given import ALL_LENGTHS, compared_beds, given_weather, split_files
from bedtide.report.options import (
    FILE,
    Asked,
    Date,
    Typed,
    WeatherCommand,
    answer,
    progress,
    range_option,
)

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.answers.compare.summary import Comparison
    from bedtide.bed import Bed
    from bedtide.report.spells import SpellRun
    from bedtide.units import System


class _DayOfYear(Typed):
    """A day of every year written as 05-10."""

    name = "day of the year"
    what = "a day of the year"
    expected = "month-day, such as 05-10, for it is taken in every year of the record"

    def read(self, text: str) -> tuple[int, int]:
        """Month and day."""
        day = datetime.date.fromisoformat(f"2024-{text}")
        return day.month, day.day


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
    type=_DayOfYear(),
    metavar="MM-DD",
    help="First day of the season in every year, as 04-01.",
)
@click.option(
    "--to",
    "last",
    type=_DayOfYear(),
    metavar="MM-DD",
    help="Last day of the season, this one included.",
)
@click.option(
    "--wet-spell",
    "spell",
    is_flag=False,
    flag_value=ALL_LENGTHS,
    metavar="[SPELL]",
    help="Run the beds through rainy spells too: the wettest 3, 7 and 14 days, or those "
    "given, as '7 days' or '10 days of 20 mm'. Put it after the files.",
)
@click.option(
    "--spell-on",
    type=Date(),
    metavar="DATE",
    help="First day of the rainy spell; else the wettest stretch while something grows.",
)
@range_option
@answer()
def compare(
    files: tuple[Path, ...],
    vary: tuple[str, ...],
    first: tuple[int, int] | None,
    last: tuple[int, int] | None,
    spell: str | None,
    spell_on: datetime.date | None,
    with_range: bool,
    asked: Asked,
) -> None:
    """Run beds through every year of the weather and say which to take; or how a single one does.

    Files that end in .toml are beds, all others weather. With no bed file the built-in example is
    varied, in built-in weather where there is no weather file either.

    With --out it writes compare.csv (one row a bed), years.csv (one row a bed and year),
    compare.nc, compare.json, compare.png and choice.toml, the bed that was chosen; with
    --wet-spell also wet_spell.csv, wet_spell.nc and wet_spell.png.
    """
    from bedtide.many import compare as compare_beds
    from bedtide.many import compare_ranges, parse_spells, whole_years
    from bedtide.report.templates import counted

    if spell_on is not None and spell is None:
        raise FieldError("--spell-on", "there is no --wet-spell to put on that day")
    wanted = parse_spells(spell, where="--wet-spell") if spell is not None else []
    asked.check()
    bed_files, weather_files = split_files(files)
    with progress(4 + with_range + (2 + with_range if wanted else 0)) as begin:
        begin("Reading the beds")
        variants = compared_beds(bed_files, vary)
        beds = [variant.bed for variant in variants]
        begin("Reading the weather")
        some_bed = bed_files[0] if bed_files else None
        weather = given_weather(some_bed, weather_files, beds[0], asked.reading)
        years = whole_years(weather, first=first, last=last)
        begin(f"Running {counted(len(beds), 'bed')}, {counted(len(years.starts), 'year')}")
        from bedtide.answers.compare.summary import summary_of
        from bedtide.report.spells import run_spells

        labels = [variant.label for variant in variants]
        result = compare_beds(beds, weather, years=years, labels=labels)
        ranges = None
        if with_range:
            trying = "Trying other values"
            begin(trying)
            ranges = compare_ranges(
                beds, weather, result, years=years, progress=lambda n: begin(trying, n / len(beds))
            )
        spells = None
        if wanted:
            spells = run_spells(variants, weather, wanted, spell_on, begin, with_range=with_range)
        summary = summary_of(result, ranges, spells.summary if spells is not None else None)
        letters = [bed.bed for bed in summary.beds]
        picked = beds[letters.index(summary.choice or "A")]
        written = None
        if asked.folder is not None:
            begin("Drawing")
            written = _files(picked, result, summary, asked.units, spells)
    asked.give(
        summary,
        "compare/text.j2",
        files=written,
        json_name="compare.json",
        page="compare/page.j2",
        bed=picked,
    )


def _files(
    picked: Bed, result: xr.Dataset, summary: Comparison, units: System, spells: SpellRun | None
) -> dict[str, Any]:
    from bedtide.answers.compare.pictures import compare_figure
    from bedtide.answers.compare.summary import table_of_beds, table_of_years
    from bedtide.bed import bed_text

    return {
        "compare.csv": table_of_beds(summary, units=units),
        "years.csv": table_of_years(result, units=units),
        "compare.nc": result,
        "compare.png": compare_figure(summary, units=units),
        "choice.toml": bed_text(picked),
        **(spells.files(units, first=summary.choice) if spells is not None else {}),
    }
