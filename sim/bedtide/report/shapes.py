"""Plain shapes in metres, and who paints them: as SVG into a page, or on the axes of a picture.

A drawing is 336 units wide, which are pixels on a phone and 4 in on paper; x to the right, y up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from markupsafe import Markup

from bedtide.report.style import COLOURS, LABEL, MUTED, WIDTH

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDE: Final = 336.0
"""Width of a drawing in its units."""
_POINTS: Final = 72.0 * WIDTH / WIDE  # of paper in a unit

Point = tuple[float, float]


class Look(NamedTuple):
    """How wide a line is, and its dashes, in units of the drawing; the shortest are dots."""

    width: float = 1.5
    dashes: tuple[float, ...] = ()

    @property
    def cap(self) -> str:
        """How its dashes end."""
        return "round" if self.dashes and self.dashes[0] < 1.0 else "butt"


LOOKS: Final = {
    "": Look(),
    "edge": Look(0.6),
    "thin": Look(1.0),
    "bold": Look(2.2),
    "dash": Look(1.5, (5.0, 3.0)),
    "soaked": Look(1.2, (5.0, 7.0)),
    "stones": Look(7.0, (0.1, 8.4)),
    "pebbles": Look(6.0, (0.1, 8.4)),
}
"""Looks of lines by their names, which are classes of a page."""


class Area(NamedTuple):
    """A filled polygon, with a thin edge or without."""

    points: Sequence[Point]
    fill: str
    edge: bool = False


class Line(NamedTuple):
    """Open lines of one look through points."""

    paths: Sequence[Sequence[Point]]
    stroke: str
    look: str = ""


class Round(NamedTuple):
    """A filled circle, or the part of it below a level."""

    x: float
    y: float
    radius: float
    fill: str
    level: float = math.inf


class Words(NamedTuple):
    """A line of words on their baseline, which end at a point or have it in their middle."""

    x: float
    y: float
    text: str
    anchor: str = "end"
    quiet: bool = False


Shape = Area | Line | Round | Words


class Drawing(NamedTuple):
    """Shapes [m], and in units of the drawing: one metre, where the origin stands, the height."""

    shapes: Sequence[Shape]
    scale: float
    left: float
    floor: float
    tall: float


def block(left: float, right: float, low: float, high: float, fill: str) -> Area:
    """A rectangle."""
    return Area(((left, low), (left, high), (right, high), (right, low)), fill)


def spread(heights: Sequence[float], gap: float) -> list[float]:
    """Places for labels at these rising heights, at least a gap apart, moved as little as may be.

    Neighbours that are too close become one block, centred on the mean of their own heights.
    """
    blocks: list[tuple[float, int]] = []  # sum of (height - its place in the block), count
    for height in heights:
        total, count = height, 1
        while blocks:
            before, n = blocks[-1]
            if total / count - before / n >= gap * n:
                break
            blocks.pop()
            total, count = before + total - count * n * gap, n + count
        blocks.append((total, count))
    return [total / count + at * gap for total, count in blocks for at in range(count)]


# --- a page -----------------------------------------------------------------------------------


def svg(drawing: Drawing) -> Markup:
    """Elements of a drawing, to stand in an SVG of its size."""
    _, scale, left, floor, _ = drawing

    def x(metres: float) -> float:
        return round(left + metres * scale, 1)

    def y(metres: float) -> float:
        return round(floor - metres * scale, 1)

    def path(points: Sequence[Point]) -> str:
        at = [(x(a), y(b)) for a, b in points]
        steps = [step(round(c - a, 1), round(d - b, 1)) for (a, b), (c, d) in pairwise(at)]
        return f"M{at[0][0]:g} {at[0][1]:g}" + "".join(steps)

    def step(across: float, down: float) -> str:
        if across and down:
            return f"l{across:g} {down:g}".replace(" -", "-")
        return f"h{across:g}" if across or not down else f"v{down:g}"

    def element(shape: Shape) -> str:
        match shape:
            case Area(points, fill, edge):
                look = " edge" if edge else ""
                return Markup('<path class="f-{}{}" d="{}z"/>').format(fill, look, path(points))
            case Line(paths, stroke, look):
                kind = f"s-{stroke} {look}".strip()
                return Markup('<path class="{}" d="{}"/>').format(kind, "".join(map(path, paths)))
            case Round(across, up, radius, fill, level) if level >= up + radius:
                circle = '<circle class="f-{}" cx="{:g}" cy="{:g}" r="{:.4g}"/>'
                return Markup(circle).format(fill, x(across), y(up), radius * scale)
            case Round(across, up, radius, fill, level):
                chord = math.sqrt(max(radius**2 - (level - up) ** 2, 0.0))  # half of it
                start, r = x(across - chord), f"{radius * scale:.4g}"
                way = f"M{start:g} {y(level):g}a{r} {r} 0 {int(level > up)} 0"
                arc = f"{way} {x(across + chord) - start:.4g} 0z"
                return Markup('<path class="f-{}" d="{}"/>').format(fill, arc)
            case Words(across, up, text, anchor, quiet):
                words = '<text class="{}" x="{:g}" y="{:g}">{}</text>'
                kind = anchor + (" quiet" if quiet else "")
                return Markup(words).format(kind, x(across), y(up), text)

    return Markup("\n").join(map(element, drawing.shapes))


# --- a picture --------------------------------------------------------------------------------


def paint(ax: Axes, shapes: Sequence[Shape]) -> None:
    """Draw shapes on axes whose units are metres, each over those before it."""
    from matplotlib.patches import Circle, Polygon

    for number, shape in enumerate(shapes):
        order = 2.0 + number / len(shapes)
        match shape:
            case Area(points, fill, edge):
                line: dict[str, Any] = {"edgecolor": MUTED, "linewidth": 0.5 * edge}
                ax.add_patch(Polygon(points, facecolor=COLOURS[fill], zorder=order, **line))
            case Line(paths, stroke, look):
                style = _line(COLOURS[stroke], LOOKS[look])
                for path in paths:
                    ax.plot(*zip(*path, strict=True), zorder=order, **style)
            case Round(x, y, radius, fill, level) if level >= y + radius:
                circle = Circle((x, y), radius, facecolor=COLOURS[fill], zorder=order)
                ax.add_patch(circle)
            case Round(x, y, radius, fill, level):
                lean = math.asin(max((level - y) / radius, -1.0))
                turn = np.linspace(math.pi - lean, 2.0 * math.pi + lean, 60)
                arc = np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)
                ax.add_patch(Polygon(arc, facecolor=COLOURS[fill], zorder=order))
            case Words(x, y, text, anchor, quiet):
                side = {"end": "right", "mid": "center"}[anchor]
                shade = MUTED if quiet else COLOURS["ink"]
                ax.text(x, y, text, ha=side, color=shade, fontsize=LABEL, zorder=order)


def _line(colour: str, look: Look) -> dict[str, Any]:
    """Keywords of a line, its dashes in multiples of its width as matplotlib has them."""
    width = look.width * _POINTS
    style: dict[str, Any] = {"color": colour, "linewidth": width, "solid_capstyle": "butt"}
    if look.dashes:
        pattern = tuple(each / look.width for each in look.dashes)
        style |= {"linestyle": (0, pattern), "dash_capstyle": look.cap}
    return style
