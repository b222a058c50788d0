"""The parts of a bed in section, each drawn at true size in metres."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    crown_height,
    surface_height,
    wick_foot,
)
from bedtide.report.style import INK, MUTED, PAPER, STYLES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WALL = 0.07  # thickness of wall and floor on paper [in]: not given, so not to scale
_OUTLET = 0.02  # bore drawn where none is given [m]
_BAY = 0.45  # width of a bay between two legs of mix [m]; only their share is given
_ROOT = "#efe3cf"
_STONE = 0.10  # size of a stone on paper [in]


class Paper(NamedTuple):
    """What the parts need to know of the sheet.

    Attributes
    ----------
    ax : Axes
        Where to draw, in metres.
    scale : float
        Metres to an inch of paper [m in-1].
    """

    ax: Axes
    scale: float

    def inches(self, length: float) -> float:
        """Length in metres of this many inches of paper."""
        return length * self.scale


def wall_thickness(paper: Paper) -> float:
    """Thickness at which walls are drawn [m]."""
    return paper.inches(_WALL)


def draw_box(paper: Paper, bed: Bed) -> None:
    """Walls, floor, and the liner as a dark line inside them."""
    from matplotlib.patches import Rectangle

    wall, width, depth = wall_thickness(paper), bed.box.width, bed.box.depth
    colour = STYLES["box"].colour
    for corner, across, up in (
        ((-wall, -wall), wall, depth + wall),
        ((width, -wall), wall, depth + wall),
        ((0.0, -wall), width, wall),
    ):
        paper.ax.add_patch(
            Rectangle(corner, across, up, facecolor=colour, edgecolor="none", zorder=1)
        )
    liner = [(0.0, depth), (0.0, 0.0), (width, 0.0), (width, depth)]
    paper.ax.plot(*zip(*liner, strict=True), color=INK, linewidth=1.2, zorder=6)


def draw_mix(paper: Paper, bed: Bed, level: float) -> None:
    """Both mixes, darker where they stand in the water."""
    crown, surface = crown_height(bed), surface_height(bed)
    _band(paper, bed, 0.0, crown, "mix_wick")
    _band(paper, bed, crown, surface, "mix_top")
    soaked = min(max(level, 0.0), surface)
    _soak(paper, bed, soaked)


def draw_reservoir(paper: Paper, bed: Bed, level: float) -> None:
    """Pipes, or a layer with its legs of mix, with water up to the level."""
    if isinstance(bed.reservoir, Pipes):
        _draw_pipes(paper, bed.reservoir, bed.box.width, level)
        return
    crown, foot = crown_height(bed), wick_foot(bed)
    for left, right in _bays(bed):
        _void(paper, bed, (left, right), (min(foot, crown), crown), level)
    _void(paper, bed, (0.0, bed.box.width), (0.0, min(foot, crown)), level)


def draw_overflow(paper: Paper, bed: Bed) -> None:
    """Outlet through the right wall, its lower lip at true height."""
    from matplotlib.patches import Rectangle

    overflow = bed.overflow
    if overflow.state == "none" or overflow.height is None:
        return
    wall, width = wall_thickness(paper), bed.box.width
    lip = overflow.height
    bore = max(overflow.bore or _OUTLET, paper.inches(0.05))
    bore = min(bore, max(bed.box.depth - lip, paper.inches(0.03)))
    left, right = width - paper.inches(0.03), width + wall + paper.inches(0.12)
    paper.ax.add_patch(
        Rectangle(
            (left, lip), right - left, bore, facecolor=PAPER, edgecolor=INK, linewidth=0.9, zorder=7
        )
    )
    middle = lip + bore / 2.0
    if overflow.state == "blocked":
        warning = STYLES["warning"]
        paper.ax.plot(
            [right],
            [middle],
            marker="X",
            color=warning.colour,
            markersize=8,
            zorder=9,
            clip_on=False,
        )
        return
    paper.ax.annotate(
        "",
        xy=(right + paper.inches(0.14), lip - paper.inches(0.16)),
        xytext=(right, middle),
        arrowprops={
            "arrowstyle": "-|>",
            "color": STYLES["level"].colour,
            "connectionstyle": "angle3,angleA=0,angleB=90",
            "linewidth": 1.3,
            "shrinkA": 0,
            "shrinkB": 0,
        },
        zorder=8,
    )


def draw_plants(paper: Paper, bed: Bed) -> None:
    """A sprout over the share of the bed that each crop takes, its roots at full depth."""
    surface = surface_height(bed)
    total = sum(planting.area_share for planting in bed.plantings)
    shares = [planting.area_share / max(total, 1.0) for planting in bed.plantings]
    starts = np.concatenate([[0.0], np.cumsum(shares)]) * bed.box.width
    for planting, left, right in zip(bed.plantings, starts[:-1], starts[1:], strict=True):
        depth = min(planting.crop.root_depth, surface)
        _sprout(paper, (left + right) / 2.0, surface, depth, (right - left) * 0.42)


def _sprout(paper: Paper, x: float, ground: float, depth: float, reach: float) -> None:
    """Leaves above the ground and roots below it."""
    from matplotlib.patches import Ellipse

    green = STYLES["transpiration"].colour
    size = min(1.0, reach / paper.inches(0.16))  # small plants where many share the bed
    stem = paper.inches(0.22)
    paper.ax.plot([x, x], [ground, ground + stem], color=green, linewidth=1.2, zorder=7)
    for side, tilt in ((-1.0, -35.0), (1.0, 35.0)):
        paper.ax.add_patch(
            Ellipse(
                (x + side * size * paper.inches(0.08), ground + stem),
                size * paper.inches(0.19),
                size * paper.inches(0.09),
                angle=tilt,
                facecolor=green,
                edgecolor="none",
                zorder=7,
            )
        )
    down = np.linspace(0.0, 1.0, 25)
    spread = min(reach, paper.inches(0.3))
    for side, share in ((0.0, 1.0), (-1.0, 0.75), (1.0, 0.85), (-0.5, 0.9), (0.5, 0.7)):
        sway = side * spread * np.sqrt(down) + 0.1 * spread * np.sin(9.0 * down + 5.0 * side)
        paper.ax.plot(
            x + sway,
            ground - share * depth * down,
            color=_ROOT,
            linewidth=0.8,
            zorder=2.4,
        )


def _band(
    paper: Paper,
    bed: Bed,
    low: float,
    high: float,
    name: str,
) -> None:
    from matplotlib.patches import Rectangle

    colour = STYLES[name].colour
    paper.ax.add_patch(
        Rectangle(
            (0.0, low),
            bed.box.width,
            max(high - low, 0.0),
            facecolor=colour,
            edgecolor="none",
            zorder=2.0,
        )
    )


def _soak(paper: Paper, bed: Bed, level: float) -> None:
    """Dashes of water over the mix below the level."""
    step = paper.inches(0.075)
    rows = np.arange(0.45 * step, max(level, 0.0), step)
    for at, y in enumerate(rows):
        paper.ax.plot(
            [0.0, bed.box.width],
            [y, y],
            color=STYLES["water"].colour,
            linestyle=(6.0 * (at % 2), (6, 6)),
            linewidth=1.0,
            zorder=2.2,
        )


def _draw_pipes(paper: Paper, pipes: Pipes, width: float, level: float) -> None:
    from matplotlib.patches import Circle, Rectangle

    pitch = width / pipes.count
    middle = 0.5 * pipes.outside
    for at in range(pipes.count):
        centre = ((at + 0.5) * pitch, middle)
        outer = Circle(centre, middle, facecolor=STYLES["pipe"].colour, edgecolor="none", zorder=3)
        inner = Circle(
            centre, 0.5 * pipes.inside, facecolor=STYLES["air"].colour, edgecolor="none", zorder=3.1
        )
        paper.ax.add_patch(outer)
        paper.ax.add_patch(inner)
        water = Rectangle(
            (centre[0] - middle, 0.0),
            pipes.outside,
            max(level, 0.0),
            facecolor=STYLES["water"].colour,
            edgecolor="none",
            zorder=3.2,
        )
        paper.ax.add_patch(water)
        water.set_clip_path(inner)


def _bays(bed: Bed) -> list[tuple[float, float]]:
    """Stretches between the legs of mix [m]: only the legs' share is given, not their number."""
    layer, width = bed.reservoir, bed.box.width
    if isinstance(layer, Pipes) or layer.wick_share <= 0.0:
        return [(0.0, width)]
    legs = int(np.clip(round(width / _BAY), 1, 8))
    leg = layer.wick_share * width / legs
    middles = (np.arange(legs) + 0.5) * width / legs
    edges = np.concatenate([[0.0], *[(m - leg / 2.0, m + leg / 2.0) for m in middles], [width]])
    return [(float(a), float(b)) for a, b in edges.reshape(-1, 2)]


def _void(
    paper: Paper, bed: Bed, across: tuple[float, float], up: tuple[float, float], level: float
) -> None:
    """One stretch of crate, open floor or stone between two heights."""
    from matplotlib.patches import Rectangle

    (left, right), (low, high) = across, up
    if high <= low:
        return
    frame = Rectangle(
        (left, low),
        right - left,
        high - low,
        facecolor=STYLES["air"].colour,
        edgecolor="none",
        zorder=3.0,
    )
    paper.ax.add_patch(frame)
    wet = min(max(level - low, 0.0), high - low)
    paper.ax.add_patch(
        Rectangle(
            (left, low),
            right - left,
            wet,
            facecolor=STYLES["water"].colour,
            edgecolor="none",
            zorder=3.1,
        )
    )
    if isinstance(bed.reservoir, Crates):
        _grid(paper, across, up)
    elif isinstance(bed.reservoir, FalseFloor):
        plate = crown_height(bed)
        if high >= plate:
            paper.ax.plot(
                [left, right],
                [plate, plate],
                color=INK,
                linewidth=2.2,
                zorder=5,
                solid_capstyle="butt",
            )
    else:
        _stones(paper, across, up)


def _grid(paper: Paper, across: tuple[float, float], up: tuple[float, float]) -> None:
    """The bars of a crate."""
    step = paper.inches(0.14)
    for (low, high), other, upright in ((across, up, True), (up, across, False)):
        count = max(int((high - low) / step), 1)
        for at in np.linspace(low, high, count + 1):
            x, y = ([at, at], other) if upright else (other, [at, at])
            paper.ax.plot(x, y, color=MUTED, linewidth=0.6, zorder=3.3)


def _stones(paper: Paper, across: tuple[float, float], up: Sequence[float]) -> None:
    """Stones in rows; a picture of stone, not a count."""
    from matplotlib.collections import EllipseCollection

    size = min(paper.inches(_STONE), (across[1] - across[0]), (up[1] - up[0]))
    columns = max(round((across[1] - across[0]) / size), 1)
    rows = max(round((up[1] - up[0]) / (0.9 * size)), 1)
    wide, tall = (across[1] - across[0]) / columns, (up[1] - up[0]) / rows
    centres = [
        (across[0] + (i + (1.0 if j % 2 else 0.5)) * wide, up[0] + (j + 0.5) * tall)
        for j in range(rows)
        for i in range(columns - j % 2 if columns > 1 else 1)
    ]
    wobble = 1.0 + 0.12 * np.sin(7.0 * np.arange(len(centres)))
    paper.ax.add_collection(
        EllipseCollection(
            0.8 * wide * wobble,
            0.8 * tall * (2.0 - wobble),
            25.0 * np.sin(3.0 * np.arange(len(centres))),
            units="xy",
            offsets=centres,
            offset_transform=paper.ax.transData,
            facecolor=STYLES["stone"].colour,
            edgecolor=MUTED,
            linewidth=0.5,
            zorder=3.3,
        )
    )
