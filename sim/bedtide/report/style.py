"""One palette, one set of helpers for every picture: a quiet frame that reads on a phone.

Colour is never the only sign: two lines of one picture differ in their dashes or markers too, two
bars or areas in their hatch. The colours of lines, and those of areas, stay apart for people with
any of the three kinds of colour blindness (``tests/report/test_style.py``). A picture is 4 in
wide, so that its smallest type, 8 pt, is 10 dots high on a phone of 360.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from bedtide.tables import read_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS: Final = {name: row["colour"] for name, row in read_table("colours.csv").items()}
"""Colours of pictures and pages; ours, and apart for every kind of colour blindness."""
INK, MUTED, PALE, PAPER = (COLOURS[name] for name in ("ink", "muted", "pale", "paper"))
"""Words and outlines; leaders, ticks and second words; grid lines; the background."""
_TITLE_LENGTH = 40  # characters of a title that fit into the width
WIDTH: Final = 4.0
"""Width of every picture [inch]."""
FONT_SIZE: Final = 8.0
"""Smallest type [pt]."""
DPI: Final = 180
"""Resolution of a PNG: 4 in give 720 px [1/in]."""
TICK: Final = FONT_SIZE + 0.5
LABEL: Final = FONT_SIZE + 1.0
TITLE: Final = FONT_SIZE + 2.5
"""Type of ticks, of words and of titles [pt]."""


@contextmanager
def plain_text() -> Iterator[None]:
    """Draw with dollar signs that are dollar signs: a name is never read as mathematics."""
    import matplotlib as mpl

    with mpl.rc_context({"text.parse_math": False}):
        yield


class Style(NamedTuple):
    """What beside its colour tells a quantity apart: a line by its dashes, an area by its hatch."""

    dashes: Any = "-"
    marker: str = ""
    hatch: str = ""


STYLES: Final[dict[str, Style]] = {
    "level": Style(),
    "rain": Style(hatch="///"),
    "refill": Style(dashes=(0, (1, 1)), marker="v"),
    "overflow": Style(dashes=(0, (5, 2)), marker="x", hatch="xx"),
    "transpiration": Style(dashes=(0, (6, 1, 1, 1)), hatch="..."),
    "evaporation": Style(dashes=(0, (2, 1)), hatch="\\\\\\"),
    "warning": Style(dashes=(0, (3, 1, 1, 1, 1, 1)), marker="D", hatch="--"),
}
"""Style of lines and bars by the name of the quantity."""


def colour(name: str) -> str:
    """Colour of a quantity."""
    return COLOURS[name]


def bar_keywords(name: str) -> dict[str, Any]:
    """Keywords that draw bars or an area of this quantity."""
    hatch = STYLES.get(name, Style()).hatch or None
    return {"facecolor": COLOURS[name], "edgecolor": PAPER, "linewidth": 0.0, "hatch": hatch}


# --- sheets and axes --------------------------------------------------------------------------


def sheet(height: float, title: str = "") -> Figure:
    """A figure of the common width [inch] with its title."""
    from matplotlib.figure import Figure

    figure = Figure((WIDTH, height), layout="constrained")
    if title:
        lines, place = textwrap.fill(title, _TITLE_LENGTH), {"x": 0.02, "ha": "left"}
        figure.suptitle(lines, fontsize=TITLE + 1.5, fontweight="bold", color=INK, **place)
    return figure


def axes_on(ax: Axes | None, height: float = 2.3) -> Axes:
    """The axes given, or new ones on a sheet of their own."""
    return ax if ax is not None else sheet(height).subplots()


def titled(ax: Axes, title: str, *words: tuple[str, str]) -> None:
    """Title to the left; below it what the colours mean, each word beside a mark of its colour."""
    ax.set_title(title, loc="left", fontsize=TITLE, color=INK, pad=16 if words else 8)
    if not words:
        return
    from matplotlib.offsetbox import AnchoredOffsetbox, HPacker, TextArea

    parts: list[Any] = []
    for word, shade in words:
        mark = TextArea("\u25a0", textprops={"color": shade, "fontsize": LABEL + 2})
        name = TextArea(word, textprops={"color": INK, "fontsize": LABEL})
        parts.append(HPacker(children=[mark, name], align="baseline", pad=0, sep=3))
    ax.add_artist(
        AnchoredOffsetbox(
            "lower left",
            child=HPacker(children=parts, align="baseline", pad=0, sep=10),
            frameon=False,
            pad=0,
            borderpad=0.1,
            bbox_to_anchor=(0, 1.0),
            bbox_transform=ax.transAxes,
        )
    )


def noted(ax: Axes, text: str) -> None:
    """Words where there is nothing to draw."""
    middle = {"ha": "center", "va": "center", "transform": ax.transAxes}
    ax.text(0.5, 0.75, text, fontsize=LABEL, color=MUTED, **middle)  # type: ignore[arg-type]


def quiet(ax: Axes, below: str = "", *, upright: bool = True, keep_x: bool = False) -> Axes:
    """A quiet frame, few round numbers, words below; `upright` and `keep_x` say which axes."""
    from matplotlib.ticker import MaxNLocator

    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(labelsize=TICK, labelcolor=INK, length=0, pad=3)
    ax.tick_params(axis="x", length=3, color=MUTED)
    ax.grid(color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)
    if upright:
        ax.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 5, 10], min_n_ticks=3))
    else:
        ax.grid(visible=False, axis="y")
    if not keep_x:
        ax.xaxis.set_major_locator(MaxNLocator(nbins=7, integer=True))
    ax.set_xlabel(below, fontsize=TICK, color=INK)
    return ax


def dated(ax: Axes, times: Any) -> Axes:
    """A quiet frame with dates along its lower edge, from the first day to the last."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

    quiet(ax, keep_x=True)
    locator = AutoDateLocator(minticks=3, maxticks=7)
    ax.xaxis.set_major_locator(locator)
    # what stands below ticks of years, of months, of days, and of hours, minutes and seconds
    below = ["", "%Y", "%b %Y", *["%d %b %Y"] * 3]
    ax.xaxis.set_major_formatter(ConciseDateFormatter(locator, offset_formats=below))
    ax.xaxis.get_offset_text().set_fontsize(TICK)
    half = np.timedelta64(12, "h")
    ax.set_xlim(times[0] - half, times[-1] + half)
    return ax
