"""bedtide list and bedtide cautions: what can be named, and what can hurt someone."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from bedtide.report.options import reading_help

if TYPE_CHECKING:
    from bedtide.mix import Mix

_WHAT = ("crops", "mixes", "forms", "climates", "options")


@click.command(
    "list", short_help="Names of crops, mixes, forms, climates; options for weather files."
)
@click.argument("what", type=click.Choice(_WHAT))
def listed(what: str) -> None:
    """Print the names that can be used for crops, mixes (media) and forms of reservoir.

    Of each mix: how high 3 mm a day still rises through it out of the store, the air that it holds
    20 cm above the water, and where its figures come from. With the word climates: the invented
    ones that  bedtide weather --like  makes weather of. With the word options: how a weather file
    can be read, where it does not say so itself.
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


_LIFTS = ((0.20, "hardly lifts water"), (0.35, "lifts a little"), (0.60, "lifts well"))
_AIRS = ((0.15, "short of air"), (0.25, "moist"), (0.40, "airy"))
# Heights to which 3 mm a day rises [m], and air 20 cm over the water [m3 m-3], up to which a mix is
# called so: judgement.


def _character(mix: Mix) -> str:
    """What a mix is like over a store of water, how far that can be traced, what to beware of."""
    from bedtide.mix import lift_height, water_content

    lift, air = float(lift_height(0.003, mix)), mix.theta_s - float(water_content(0.2, mix))
    lifts = next((word for most, word in _LIFTS if lift < most), "lifts very well")
    airs = next((word for most, word in _AIRS if air < most), "very airy")
    high = f"{100 * lift:.0f} cm" if lift < 0.60 else "over 60 cm"
    told = f"{lifts} (3 mm a day to {high}), {airs} ({100 * air:.0f} % air)"
    return " ".join(f"{told}; {mix.standing}. {mix.caution}".split())


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
            yield name, _character(medium(name))
