"""The parts of a bed in section, each drawn at true size in metres."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    crown_height,
    lowest_roots,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.crop import crop_days
from bedtide.report.style import INK, MUTED, PAPER, colour

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Rectangle

_WALL = 0.07  # thickness of wall and floor on paper [in]: not given, so not to scale
_OUTLET = 0.02  # bore drawn where none is given [m]
_BAY = 0.45  # width of a bay between two legs of mix [m]; only their share is given
_ROOT = "#efe3cf"
_STONE = 0.10  # size of a stone on paper [in]

_Span = tuple[float, float]


class Paper(NamedTuple):
    """Where to draw, in metres, the metres to an inch of paper [m in-1], how thick walls are [m].

    Where the thickness is not known, 0, walls are drawn as a picture only.
    """

    ax: Axes
    scale: float
    thick: float = 0.0

    def inches(self, length: float) -> float:
        """Length in metres of this many inches of paper."""
        return length * self.scale

    @property
    def wall(self) -> float:
        """Thickness at which walls are drawn [m]."""
        return self.thick or self.inches(_WALL)

    def block(self, across: _Span, up: _Span, shade: str, order: float, **line: Any) -> Rectangle:
        """A filled rectangle, without an outline where no line is asked for."""
        from matplotlib.patches import Rectangle

        (left, right), (low, high) = across, up
        style = {"edgecolor": "none", **line}
        patch = Rectangle((left, low), right - left, max(high - low, 0.0), facecolor=shade,
                          zorder=order, **style)  # fmt: skip
        self.ax.add_patch(patch)
        return patch

    def line(self, x: Any, y: Any, shade: str, width: float, order: float, **words: Any) -> None:
        """A line in metres."""
        self.ax.plot(x, y, color=shade, linewidth=width, zorder=order, **words)


def draw_box(paper: Paper, bed: Bed) -> None:
    """Walls, floor, and the liner as a dark line inside them."""
    from matplotlib.patches import Polygon

    wall, width, depth = paper.wall, bed.box.width, bed.box.depth
    lean = 0.5 * (width - walls_of(bed).width_at_floor)
    for side, edge in ((-1.0, 0.0), (1.0, width)):
        foot, out = edge - side * lean, edge + side * wall
        outside = [(edge, depth), (foot, 0.0), (foot, -wall), (out, -wall), (out, depth)]
        paper.ax.add_patch(Polygon(outside, facecolor=PAPER, zorder=5.0))  # what leans is cut off
        board = [(edge, depth), (foot, 0.0), (foot, -wall)]
        board += [(foot + side * wall, -wall), (out, depth)]
        paper.ax.add_patch(Polygon(board, facecolor=colour("box"), zorder=5.1))
    paper.block((lean, width - lean), (-wall, 0.0), colour("box"), 5.1)
    inside = [0.0, lean, width - lean, width]
    paper.line(inside, [depth, 0.0, 0.0, depth], INK, 1.2, 6)


def draw_mix(paper: Paper, bed: Bed, level: float) -> None:
    """Both mixes, with dashes of water over what stands in it."""
    across = (0.0, bed.box.width)
    crown, surface = crown_height(bed), surface_height(bed)
    paper.block(across, (0.0, crown), colour("mix_wick"), 2.0)
    paper.block(across, (crown, surface), colour("mix_top"), 2.0)
    step = paper.inches(0.075)
    for at, y in enumerate(np.arange(0.45 * step, min(max(level, 0.0), surface), step)):
        dashes = (6.0 * (at % 2), (6, 6))
        paper.line(across, [y, y], colour("water"), 1.0, 2.2, linestyle=dashes)


def draw_reservoir(paper: Paper, bed: Bed, level: float) -> None:
    """Pipes, or a layer with its legs of mix, with water up to the level."""
    if isinstance(bed.reservoir, Pipes):
        _pipes(paper, bed, bed.reservoir, level)
        return
    crown = crown_height(bed)
    foot = min(wick_foot(bed), crown)
    for bay in bays_of(bed):
        _void(paper, bed, bay, (foot, crown), level)
    _void(paper, bed, (0.0, bed.box.width), (0.0, foot), level)


def draw_overflow(paper: Paper, bed: Bed) -> None:
    """Outlet through the right wall, its lower lip at true height."""
    overflow, width = bed.overflow, bed.box.width
    if overflow.state == "none" or overflow.height is None:
        return
    lip = overflow.height
    bore = max(overflow.bore or _OUTLET, paper.inches(0.05))
    bore = min(bore, max(bed.box.depth - lip, paper.inches(0.03)))
    lean = 0.5 * (width - walls_of(bed).width_at_floor) * (1.0 - lip / bed.box.depth)
    left, right = width - lean - paper.inches(0.03), width + paper.wall + paper.inches(0.12)
    paper.block((left, right), (lip, lip + bore), PAPER, 7, edgecolor=INK, linewidth=0.9)
    middle = lip + bore / 2.0
    if overflow.state == "blocked":
        cross: dict[str, Any] = {"marker": "X", "markersize": 8, "clip_on": False}
        paper.line([right], [middle], colour("warning"), 1.0, 9, **cross)
        return
    arrow = {
        "arrowstyle": "-|>",
        "color": colour("level"),
        "connectionstyle": "angle3,angleA=0,angleB=90",
        "linewidth": 1.3,
        "shrinkA": 0,
        "shrinkB": 0,
    }
    tip = (right + paper.inches(0.14), lip - paper.inches(0.16))
    paper.ax.annotate("", xy=tip, xytext=(right, middle), arrowprops=arrow, zorder=8)


class Plant(NamedTuple):
    """A crop in section: from where to where across the bed, and how deep its roots go [m]."""

    name: str
    left: float
    right: float
    roots: float


def plants_of(bed: Bed) -> tuple[int, list[Plant]]:
    """The fullest month of the year and what stands in it, side by side, with its deepest roots.

    Of months as full as one another it is the one with the deepest roots, then the first.
    """
    parts = [planting.part or number for number, planting in enumerate(bed.plantings)]
    order = sorted(range(len(parts)), key=lambda number: parts.index(parts[number]))
    plantings = [bed.plantings[number] for number in order]
    fixed = [p.planted for p in plantings if isinstance(p.planted, datetime.date)]
    first = np.datetime64(min(fixed, default=datetime.date(2001, 1, 1)), "D")
    days = first + np.arange(2 * 365)  # a perennial is full grown in its second year
    calm, moist = np.full(days.size, 2.0), np.full(days.size, 45.0)
    depth = crop_days(plantings, days, wind_speed=calm, rh_min=moist).root_depth_each
    shares = np.array([planting.area_share for planting in plantings])
    full = np.round((depth > 0.0) @ shares, 6) + 1e-3 * np.round(depth @ shares, 6)
    day = int(full.argmax())
    deepest = depth.max(axis=0, initial=0.0)
    reach = surface_height(bed) - lowest_roots(bed)
    found: list[Plant] = []
    for planting, now, most in zip(plantings, depth[day], deepest, strict=True):
        if now > 0.0:
            left = found[-1].right if found else 0.0
            right = left + planting.area_share * bed.box.width
            found.append(Plant(planting.crop.name, left, right, min(float(most), reach)))
    return days[day].astype(object).month, found


def draw_plants(paper: Paper, bed: Bed) -> None:
    """A sprout over the share of the bed that each crop takes, its roots at full depth."""
    surface = surface_height(bed)
    for _, left, right, roots in plants_of(bed)[1]:
        _sprout(paper, (left + right) / 2.0, surface, roots, (right - left) * 0.42)


def _sprout(paper: Paper, x: float, ground: float, depth: float, reach: float) -> None:
    """Leaves above the ground and roots below it."""
    from matplotlib.patches import Ellipse

    green = colour("transpiration")
    size = min(1.0, reach / paper.inches(0.16))  # small plants where many share the bed
    top = ground + paper.inches(0.22)
    paper.line([x, x], [ground, top], green, 1.2, 7)
    wide, tall = size * paper.inches(0.19), size * paper.inches(0.09)
    for side in (-1.0, 1.0):
        middle = (x + side * size * paper.inches(0.08), top)
        leaf = Ellipse(middle, wide, tall, angle=35.0 * side, facecolor=green, zorder=7)
        paper.ax.add_patch(leaf)
    down = np.linspace(0.0, 1.0, 25)
    spread = min(reach, paper.inches(0.3))
    for side, share in ((0.0, 1.0), (-1.0, 0.75), (1.0, 0.85), (-0.5, 0.9), (0.5, 0.7)):
        sway = side * spread * np.sqrt(down) + 0.1 * spread * np.sin(9.0 * down + 5.0 * side)
        paper.line(x + sway, ground - share * depth * down, _ROOT, 0.8, 2.4)


def pipe_middles(bed: Bed, pipes: Pipes) -> NDArray[np.float64]:
    """Where the pipes lie, spread over the floor evenly, from the left edge of the rim [m]."""
    floor = walls_of(bed).width_at_floor
    even = (np.arange(pipes.count) + 0.5) * floor / pipes.count
    return 0.5 * (bed.box.width - floor) + even


def _pipes(paper: Paper, bed: Bed, pipes: Pipes, level: float) -> None:
    from matplotlib.patches import Circle

    radius = 0.5 * pipes.outside
    for x in pipe_middles(bed, pipes):
        wall = Circle((x, radius), radius, facecolor=colour("pipe"), zorder=3)
        bore = Circle((x, radius), 0.5 * pipes.inside, facecolor=colour("air"), zorder=3.1)
        paper.ax.add_patch(wall)
        paper.ax.add_patch(bore)
        water = paper.block((x - radius, x + radius), (0.0, level), colour("water"), 3.2)
        water.set_clip_path(bore)


def bays_of(bed: Bed) -> list[_Span]:
    """Stretches between the legs of mix [m]: only the legs' share is given, not their number."""
    layer, width = bed.reservoir, bed.box.width
    if isinstance(layer, Pipes) or layer.wick_share <= 0.0:
        return [(0.0, width)]
    legs = int(np.clip(round(width / _BAY), 1, 8))
    half = 0.5 * layer.wick_share * width / legs
    middles = (np.arange(legs) + 0.5) * width / legs
    edges = np.concatenate([[0.0], np.stack([middles - half, middles + half], 1).ravel(), [width]])
    return [(float(left), float(right)) for left, right in edges.reshape(-1, 2)]


def _void(paper: Paper, bed: Bed, across: _Span, up: _Span, level: float) -> None:
    """One stretch of crate, open floor or stone between two heights."""
    low, high = up
    if high <= low:
        return
    paper.block(across, up, colour("air"), 3.0)
    paper.block(across, (low, min(max(level, low), high)), colour("water"), 3.1)
    if isinstance(bed.reservoir, Crates):
        step = paper.inches(0.14)
        for x in np.linspace(*across, max(int((across[1] - across[0]) / step), 1) + 1):
            paper.line([x, x], up, MUTED, 0.6, 3.3)
        for y in np.linspace(low, high, max(int((high - low) / step), 1) + 1):
            paper.line(across, [y, y], MUTED, 0.6, 3.3)
    elif not isinstance(bed.reservoir, FalseFloor):
        _stones(paper, across, up)
    elif high >= crown_height(bed):
        paper.line(across, [high, high], INK, 2.2, 5, solid_capstyle="butt")


def _stones(paper: Paper, across: _Span, up: _Span) -> None:
    """Stones in rows; a picture of stone, not a count."""
    from matplotlib.collections import EllipseCollection

    size = min(paper.inches(_STONE), across[1] - across[0], up[1] - up[0])
    columns = max(round((across[1] - across[0]) / size), 1)
    rows = max(round((up[1] - up[0]) / (0.9 * size)), 1)
    wide, tall = (across[1] - across[0]) / columns, (up[1] - up[0]) / rows
    centres = [
        (across[0] + (i + (1.0 if j % 2 else 0.5)) * wide, up[0] + (j + 0.5) * tall)
        for j in range(rows)
        for i in range(columns - j % 2 if columns > 1 else 1)
    ]
    number = np.arange(len(centres))
    wobble = 1.0 + 0.12 * np.sin(7.0 * number)
    stones = EllipseCollection(
        0.8 * wide * wobble,
        0.8 * tall * (2.0 - wobble),
        25.0 * np.sin(3.0 * number),
        units="xy",
        offsets=centres,
        offset_transform=paper.ax.transData,
        facecolor=colour("stone"),
        edgecolor=MUTED,
        linewidth=0.5,
        zorder=3.3,
    )
    paper.ax.add_collection(stones)
