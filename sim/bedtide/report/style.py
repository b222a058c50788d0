"""One palette for every picture, and a line style, marker or hatch beside each colour.

Colour is never the only sign: two lines of one picture differ in their dashes or markers too, two
bars or areas in their hatch. The colours of lines, and those of areas, stay apart for people with
any of the three kinds of colour blindness (``tests/show/test_style.py``).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Final, NamedTuple, ParamSpec, TypeVar

__all__ = [
    "ARROW",
    "DPI",
    "FONT_SIZE",
    "INK",
    "MUTED",
    "PALE",
    "PAPER",
    "STYLES",
    "Style",
    "bar_keywords",
    "line_keywords",
    "plain_text",
]

INK: Final = "#222222"
"""Words and outlines."""
MUTED: Final = "#6f6f6f"
"""What may stand back: leaders, ticks, second words."""
PALE: Final = "#d9d9d9"
"""Grid lines and what is set back on purpose."""
PAPER: Final = "#ffffff"
"""Background."""
ARROW: Final = "-|>"
"""Head of an arrow."""
FONT_SIZE: Final = 8.0
"""Smallest type in a picture 4 in wide, so that it reads on a phone 360 px wide [pt]."""
DPI: Final = 180
"""Resolution of a PNG: 4 in give 720 px [1/in]."""


_Given = ParamSpec("_Given")
_Drawn = TypeVar("_Drawn")


def plain_text(draw: Callable[_Given, _Drawn]) -> Callable[_Given, _Drawn]:
    """Draw with dollar signs that are dollar signs: a name is never read as mathematics."""

    @wraps(draw)
    def drawn(*args: _Given.args, **keywords: _Given.kwargs) -> _Drawn:
        import matplotlib as mpl

        with mpl.rc_context({"text.parse_math": False}):
            return draw(*args, **keywords)

    return drawn


class Style(NamedTuple):
    """How one quantity is drawn in every picture.

    Attributes
    ----------
    colour : str
        Of the line or area.
    dashes : str or tuple
        Line style.
    marker : str
        Marker; empty for none.
    hatch : str
        Hatch of an area or a bar; empty for none.
    """

    colour: str
    dashes: Any = "-"
    marker: str = ""
    hatch: str = ""


STYLES: Final[dict[str, Style]] = {
    # lines and bars
    "level": Style("#1f5f99"),
    "rain": Style("#7cc4ee", hatch="///"),
    "refill": Style("#12263f", dashes=(0, (1, 1)), marker="v"),
    "overflow": Style("#c583b8", dashes=(0, (5, 2)), marker="x", hatch="xx"),
    "transpiration": Style("#3d8f5a", dashes=(0, (6, 1, 1, 1)), hatch="..."),
    "evaporation": Style("#e39a2d", dashes=(0, (2, 1)), hatch="\\\\\\"),
    "warning": Style("#a8281e", dashes=(0, (3, 1, 1, 1, 1, 1)), marker="D", hatch="--"),
    # areas
    "water": Style("#4f9bd0"),
    "air": Style("#f6f3ea"),
    "mix_top": Style("#b79a7d"),
    "mix_wick": Style("#7a5b43"),
    "box": Style("#d9b98a"),
    "pipe": Style("#333333"),
    "stone": Style("#bdbdbd"),
}
"""Style by the name of the quantity."""


def line_keywords(name: str) -> dict[str, Any]:
    """Keywords that draw a line of this quantity.

    Parameters
    ----------
    name : str
        A key of `STYLES`.

    Returns
    -------
    dict
        For matplotlib's ``plot``.
    """
    style = STYLES[name]
    found: dict[str, Any] = {"color": style.colour, "linestyle": style.dashes}
    return found | ({"marker": style.marker} if style.marker else {})


def bar_keywords(name: str) -> dict[str, Any]:
    """Keywords that draw bars or an area of this quantity.

    Parameters
    ----------
    name : str
        A key of `STYLES`.

    Returns
    -------
    dict
        For matplotlib's ``bar`` and ``fill_between``.
    """
    style = STYLES[name]
    found: dict[str, Any] = {"facecolor": style.colour, "edgecolor": PAPER, "linewidth": 0.0}
    return found | ({"hatch": style.hatch} if style.hatch else {})
