"""The list of beds below the picture of a comparison."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

import numpy as np

from bedtide.answers.compare.choice import choose
from bedtide.answers.compare.choice_words import count_text
from bedtide.report.style import FONT_SIZE, MUTED, STYLES
from bedtide.units import System, mass_text

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes

__all__ = ["FRONT", "PICK", "bed_lines", "write_lines"]

FRONT: Final = STYLES["level"].colour
"""Beds that no other beats."""
PICK: Final = STYLES["warning"].colour
"""The choice."""

_LISTED = 8  # beds that are named


def bed_lines(comparison: xr.Dataset, units: System) -> list[tuple[str, str]]:
    """Lines of the list below the picture: the choice, then the beds that no other beats.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    list of tuple of str
        Colour and text of each, at least one.
    """
    chosen = choose(comparison)
    order = [chosen.pick]
    rest = np.flatnonzero(~chosen.beaten)
    by_fills = rest[np.argsort(comparison["refill_count_mean"].to_numpy()[rest], kind="stable")]
    order += [int(bed) for bed in by_fills if bed != chosen.pick]
    lines: list[tuple[str, str]] = []
    for bed in order[:_LISTED]:
        one = comparison.isel(bed=bed)
        tail = " (choice)" if bed == chosen.pick and chosen.rival is not None else ""
        text = f"{one['bed'].item()}  {one['label'].item()}{tail}"
        colour = PICK if bed == chosen.pick else FRONT
        wrapped = textwrap.wrap(text, 54, subsequent_indent="     ")
        lines += [(colour, line) for line in [*wrapped, f"     {_figures(one, units)}"]]
    more = len(order) - _LISTED
    if more > 0:
        lines.append((MUTED, f"and {more} more that no bed beats"))
    if chosen.beaten.any():
        lines.append((MUTED, "grey: beaten by another bed"))
    years = comparison.sizes["year"]
    if years > 1:
        lines.append(
            (
                MUTED,
                f"bars: 8 in 10 of the {years} years"
                if years >= 9
                else f"bars: shortest to longest of {years} years",
            )
        )
    return lines


def _figures(bed: xr.Dataset, units: System) -> str:
    """What the list says of a bed."""
    fills, wet = float(bed["refill_count_mean"]), float(bed["wet_days_mean"])
    dry, weight = float(bed["limited_days_mean"]), float(bed["brimful_weight"])
    return (
        f"{count_text(fills)} fills, {count_text(wet)} wet, {count_text(dry)} dry days, "
        f"{mass_text(weight, units)}"
    )


def write_lines(ax: Axes, lines: list[tuple[str, str]]) -> None:
    """Write lines into axes of their own.

    Parameters
    ----------
    ax : Axes
        Whose frame is taken away.
    lines : list of tuple of str
        Colour and text of each.
    """
    ax.set_axis_off()
    for number, (colour, text) in enumerate(lines):
        ax.text(
            0.0,
            1.0 - (number + 0.5) / len(lines),
            text,
            transform=ax.transAxes,
            ha="left",
            va="center",
            fontsize=FONT_SIZE + 0.5,
            color=colour,
        )
