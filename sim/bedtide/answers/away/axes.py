"""What the pictures of a stay away share: titles with their colours, labels, a quiet frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["LABEL", "TITLE", "WIDTH", "finished", "labelled", "new_axes", "titled"]

WIDTH = 4.0
"""Width of a picture [inch]; on a phone 360 dots wide, 8 pt type is then 10 dots high."""

TITLE, LABEL = FONT_SIZE + 2.5, FONT_SIZE + 1.0
"""Type of titles and of labels [pt]."""


def labelled(ax: Axes, x: float, y: float, text: str, colour: str, *, left: bool) -> None:
    """Words beside a point, below it where it stands high.

    Parameters
    ----------
    ax : Axes
        With its limits set.
    x, y : float
        The point, in the units of the axes.
    text, colour : str
        What to write, and its colour.
    left : bool
        Whether it goes to the left of the point.
    """
    high = y > 0.45 * ax.get_ylim()[1]
    ax.annotate(
        text,
        (x, y),
        xytext=(-7 if left else 7, -4 if high else 4),
        textcoords="offset points",
        ha="right" if left else "left",
        va="top" if high else "bottom",
        fontsize=LABEL,
        color=colour,
    )


def new_axes(ax: Axes | None) -> Axes:
    """Axes to draw on.

    Parameters
    ----------
    ax : Axes or None
        Those that were given.

    Returns
    -------
    Axes
        The same, or new ones of their own figure.
    """
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    return Figure(figsize=(WIDTH, 2.4), layout="constrained").subplots()


def titled(ax: Axes, title: str, *words: tuple[str, str]) -> None:
    """Title to the left; what the colours mean below it, each word beside a mark of its colour.

    Parameters
    ----------
    ax : Axes
        Of the picture.
    title : str
        What it shows.
    *words : (str, str)
        A word and the colour that it explains.
    """
    ax.set_title(title, loc="left", fontsize=TITLE, color=INK, pad=16 if words else 8)
    if not words:
        return
    from matplotlib.offsetbox import AnchoredOffsetbox, HPacker, TextArea

    parts: list[Any] = [
        HPacker(
            children=[
                TextArea("\u25a0", textprops={"color": colour, "fontsize": LABEL + 2}),
                TextArea(word, textprops={"color": INK, "fontsize": LABEL}),
            ],
            align="baseline", pad=0, sep=3,
        )
        for word, colour in words
    ]  # fmt: skip
    ax.add_artist(
        AnchoredOffsetbox(
            "lower left", child=HPacker(children=parts, align="baseline", pad=0, sep=10),
            frameon=False, pad=0, borderpad=0.1, bbox_to_anchor=(0, 1.0),
            bbox_transform=ax.transAxes,
        )
    )  # fmt: skip


def finished(ax: Axes, below: str, *, upright: bool = True, keep_x: bool = False) -> Axes:
    """Quiet frame, few whole numbers on the axes, words below.

    Parameters
    ----------
    ax : Axes
        A drawn picture.
    below : str
        What runs along its lower edge.
    upright : bool, default True
        Whether the upright axis has numbers.
    keep_x : bool, default False
        Whether the lower axis keeps the ticks that it has.

    Returns
    -------
    Axes
        The same.
    """
    from matplotlib.ticker import MaxNLocator

    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(labelsize=FONT_SIZE + 0.5, labelcolor=INK, length=0, pad=3)
    ax.tick_params(axis="x", length=3, color=MUTED)
    ax.grid(color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)
    if upright:
        ax.yaxis.set_major_locator(MaxNLocator(nbins=4, integer=True))
    else:
        ax.grid(visible=False, axis="y")
    if not keep_x:
        ax.xaxis.set_major_locator(MaxNLocator(nbins=7, integer=True))
    ax.set_xlabel(below, fontsize=FONT_SIZE + 0.5, color=INK)
    return ax
