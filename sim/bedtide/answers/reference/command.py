"""bedtide list and bedtide cautions: what can be named, and what can hurt someone."""

from __future__ import annotations

from collections.abc import Iterator

import click

from bedtide.report.options import reading_help

_WHAT = ("crops", "mixes", "forms", "climates", "options")


@click.command(
    "list", short_help="Names of crops, mixes, forms, climates; options for weather files."
)
@click.argument("what", type=click.Choice(_WHAT))
def listed(what: str) -> None:
    """Print the names that can be used for crops, mixes (media) and forms of reservoir.

    With the word climates: the invented ones that  bedtide weather --like  makes weather of. With
    the word options: how a weather file can be read, where it does not say so itself.
    """
    formatter = click.HelpFormatter()
    formatter.write_dl(list(reading_help() if what == "options" else _rows(what)))
    click.echo(formatter.getvalue(), nl=False)


@click.command(short_help="What can hurt someone.")
def cautions() -> None:
    """What to take care of: weight, standing water, hoses, liners, timber, children, frost."""
    from bedtide.report.templates import folded, parted, terminal_width
    from bedtide.tables import cautions_text

    click.echo(folded(parted(cautions_text()), terminal_width()))


def _rows(what: str) -> Iterator[tuple[str, str]]:
    """Each name with a few words about it."""
    from bedtide.bed import form_keys
    from bedtide.crop import crop, crops
    from bedtide.mix import media, medium
    from bedtide.units import length_text
    from bedtide.weather import climates

    if what == "forms":
        for name, keys in form_keys().items():
            yield name, ", ".join(f"{key} = {example}" for key, example in keys.items() if example)
    elif what == "climates":
        yield from climates().items()
    elif what == "crops":
        for name in crops():
            plant = crop(name)
            called = f"also {', '.join(plant.aliases)}; " if plant.aliases else ""
            months = f"{sum(plant.stages) / 30.4:.1f} months"
            stays = "perennial, grows " if plant.kcb_dormant is not None else ""
            depth = length_text(plant.root_depth, "metric"), length_text(plant.root_depth, "us")
            roots = f"roots to {depth[0]} ({depth[1]})"
            yield name, f"{called}{stays}{months}; {roots}; {plant.standing}"
    else:
        for name in media():
            porous = 100 * medium(name).theta_s
            yield name, f"{porous:.0f} % of it is room for water and air"
