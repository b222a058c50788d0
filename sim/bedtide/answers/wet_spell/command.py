"""bedtide wet-spell: how wet beds get when it rains for days."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from bedtide.report.given import ALL_LENGTHS, compared_beds, given_weather, split_files
from bedtide.report.options import FILE, Asked, Date, WeatherCommand, answer, progress, range_option


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
@range_option
@answer()
def wet_spell(
    files: tuple[Path, ...],
    spell: str,
    first: datetime.date | None,
    vary: tuple[str, ...],
    with_range: bool,
    asked: Asked,
) -> None:
    """How long roots lack air in a rainy spell, when they have it again, what the overflow carries.

    Each bed runs through the spell with its overflow as it is, and blocked. For a single bed, or
    where box.depth is varied, the least depth that keeps air among the roots is searched for.

    Files that end in .toml are beds, all others weather. With --out it writes wet_spell.csv (one
    row a day), wet_spell.nc, wet_spell.json and wet_spell.png.
    """
    from bedtide.many import parse_spells
    from bedtide.report.spell_pictures import spell_days
    from bedtide.report.spells import run_spells

    wanted = parse_spells(spell, where="--spell")
    asked.check()
    bed_files, weather_files = split_files(files)
    with progress(4 + int(with_range)) as begin:
        begin("Reading the beds")
        variants = compared_beds(bed_files, vary)
        begin("Reading the weather")
        some_bed = bed_files[0] if bed_files else None
        weather = given_weather(some_bed, weather_files, variants[0].bed, asked.reading)
        run = run_spells(variants, weather, wanted, first, begin, with_range=with_range)
        written = run.files(asked.units) if asked.folder is not None else None
    asked.give(
        run.summary,
        "wet_spell/text.j2",
        files=written,
        json_name="wet_spell.json",
        page="wet_spell/page.j2",
        bed=variants[0].bed,
        shown=lambda: {"days": spell_days(run.result, asked.units)},
    )
