"""The bed in section, drawn to scale with its heights."""

from __future__ import annotations

import datetime
import textwrap
from calendar import month_abbr, month_name
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    capacity,
    crown_height,
    dead_storage,
    full_level,
    open_store,
    plan_area,
    surface_height,
    wick_foot,
)
from bedtide.report.section_parts import (
    Paper,
    draw_box,
    draw_mix,
    draw_overflow,
    draw_plants,
    draw_reservoir,
    plants_of,
)
from bedtide.report.style import DPI, FONT_SIZE, INK, MUTED, STYLES, WIDTH, colour, plain_text
from bedtide.units import System, length_text, volume_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# All on paper [in].
_INNER = WIDTH - 0.16
_LABELS = 1.38  # column of heights left of the box
_OUTSIDE = 0.34  # outlet right of the box
_TALLEST = 3.4  # the box at the most
_ROW = 0.31  # one height with its name
_ABOVE = 0.36  # plants above the rim
_BELOW = 0.42  # width below the floor
_LINE = 0.148  # one line of the legend
_WRAP = 60  # characters of a line of the legend


@plain_text
def section_figure(
    bed: Bed, *, levels: Sequence[float] | None = None, units: System = "metric"
) -> Figure:
    """What does this bed look like inside, across the pipes, and how high is everything.

    The thickness of wall and floor, the number of legs of mix, and plants are not given by a
    description and are a picture only; all else is at true size. `levels` are heights of water to
    mark [m], filled up to the highest; without them it is filled to the overflow.
    """
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    across = bed.box.width / (_INNER - _LABELS - _OUTSIDE - 0.14)
    scale = max(across, bed.box.depth / _TALLEST)
    level = full_level(bed) if levels is None else max(levels, default=0.0)
    marks = marks_of(bed, levels)
    rows = spread([height / scale for height, _ in marks], _ROW)
    top = max(bed.box.depth / scale + _ABOVE, max(rows) + _ROW / 2)
    bottom = min(-_BELOW, min(rows) - _ROW / 2)
    keys = [(name, textwrap.fill(text, _WRAP)) for name, text in legend_of(bed, level, units)]
    title = textwrap.wrap(bed.name, 40) or [""]
    lines = sum(text.count("\n") + 1 for _, text in keys)
    tall = top - bottom + 0.33 + 0.17 * len(title) + (_LINE + 0.02) * lines + 0.03 * len(keys)
    layout = ConstrainedLayoutEngine(w_pad=0.04, h_pad=0.04)
    figure = Figure(figsize=(WIDTH, tall), dpi=DPI, layout=layout)
    paper = Paper(figure.subplots(), scale)
    _set_sheet(paper, bed, top, bottom)
    draw_box(paper, bed)
    draw_mix(paper, bed, level)
    draw_reservoir(paper, bed, level)
    draw_overflow(paper, bed)
    draw_plants(paper, bed)
    for height in (level,) if levels is None else levels:
        dashes = (0, (4, 2))
        ends = (0.0, bed.box.width)
        paper.line(ends, [height, height], colour("level"), 1.3, 6, linestyle=dashes)
    for (height, name), row in zip(marks, rows, strict=True):
        _draw_mark(paper, height, name, row, units)
    _draw_width(paper, bed, units)
    words: dict[str, Any] = {"fontsize": 10, "fontweight": "bold", "color": INK}
    figure.suptitle("\n".join(title), x=0.01, ha="left", **words)
    kind = "across the pipes, " if isinstance(bed.reservoir, Pipes) else ""
    below = f"Section {kind}to scale; {both(length_text, bed.box.length, units)} long"
    paper.ax.set_title(below, loc="left", fontsize=FONT_SIZE, color=MUTED)
    _draw_legend(figure, keys)
    return figure


# --- where things stand on the sheet ----------------------------------------------------------


def _set_sheet(paper: Paper, bed: Bed, top: float, bottom: float) -> None:
    """Limits of the axes: labels on the left, outlet on the right, the rest shared."""
    right = bed.box.width / paper.scale + 0.07 + _OUTSIDE
    spare = (_INNER - (right + 0.07 + _LABELS)) / 2.0
    paper.ax.set_xlim(paper.inches(-0.07 - _LABELS - spare), paper.inches(right + spare))
    paper.ax.set_ylim(paper.inches(bottom), paper.inches(top))
    paper.ax.set_aspect("equal")
    paper.ax.set_axis_off()


def marks_of(bed: Bed, levels: Sequence[float] | None) -> list[tuple[float, str]]:
    """Heights to label [m] and their names, lowest first."""
    crown, overflow = crown_height(bed), bed.overflow
    marks = [(bed.box.depth, "rim"), (surface_height(bed), "mix surface")]
    marks.append((crown, f"top of {form_of(bed)}"))
    if overflow.state != "none" and overflow.height is not None:
        heights = {overflow.height: "overflow" + ", blocked" * (overflow.state == "blocked")}
        for change in overflow.changes:
            heights.setdefault(change.height, f"overflow from {_day(change.start)}")
        marks += heights.items()
    if not isinstance(bed.reservoir, Pipes) and 0.0 < wick_foot(bed) < crown:
        marks.append((wick_foot(bed), "foot of the wicks"))
    return sorted([*marks, *((height, "water") for height in levels or ())])


def spread(heights: list[float], gap: float) -> list[float]:
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


def _draw_mark(paper: Paper, height: float, name: str, row: float, units: System) -> None:
    """Name and height left of the box, with a leader to where it is."""
    y = paper.inches(row)
    start, bend, end = (-paper.wall - paper.inches(x) for x in (0.0, 0.06, 0.2))
    paper.line([start, bend, end], [height, height, y], MUTED, 0.7, 5)
    place: dict[str, Any] = {"ha": "right", "fontsize": FONT_SIZE}
    x = end - paper.inches(0.04)
    paper.ax.text(x, y, name, va="bottom", color=INK, **place)
    paper.ax.text(x, y, both(length_text, height, units), va="top", color=MUTED, **place)


def _draw_width(paper: Paper, bed: Bed, units: System) -> None:
    y, width = -paper.wall - paper.inches(0.1), bed.box.width
    arrow = {"arrowstyle": "<->", "color": MUTED, "shrinkA": 0, "shrinkB": 0, "lw": 0.8}
    paper.ax.annotate("", xy=(0.0, y), xytext=(width, y), arrowprops=arrow)
    place: dict[str, Any] = {"ha": "center", "va": "top", "fontsize": FONT_SIZE, "color": MUTED}
    text = both(length_text, width, units)
    paper.ax.text(width / 2.0, y - paper.inches(0.05), text, **place)


# --- what is said below it --------------------------------------------------------------------


def _draw_legend(figure: Figure, keys: list[tuple[str, str]]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    lines = {
        "transpiration": Line2D([], [], color=colour("transpiration"), linewidth=1.2),
        "level": Line2D([], [], color=colour("water"), linestyle=(0, (3, 2)), linewidth=1.2),
    }
    edge: dict[str, Any] = {"edgecolor": MUTED, "linewidth": 0.5}
    figure.legend(
        [lines.get(name) or Patch(facecolor=STYLES[name].colour, **edge) for name, _ in keys],
        [text for _, text in keys],
        loc="outside lower left",
        fontsize=FONT_SIZE,
        frameon=False,
        handlelength=1.4,
        handleheight=0.9,
        labelspacing=0.35,
        borderaxespad=0.2,
        alignment="left",
    )


def legend_of(bed: Bed, level: float, units: System) -> list[tuple[str, str]]:
    """Style and words of each entry."""
    layer, area = bed.reservoir, plan_area(bed)
    held, full = open_store(level, bed) * area, capacity(bed, full_level(bed)) * area
    amount = both(volume_text, held, units)
    if held < full:
        words = f"open water, {amount} of {both(volume_text, full, units)}"
    elif bed.overflow.state == "none" or bed.overflow.height is None:
        words = f"open water, {amount} when full; no overflow"
    else:
        words = f"open water, {amount} up to the overflow"
    dead = min(dead_storage(bed) * area, held)
    if dead > 0.0:
        share = "all of it" if dead >= held else f"{both(volume_text, dead, units)} of it"
        words += f"; {share} where nothing wicks, out of reach"
    entries = [("water", words), ("mix_top", f"top mix: {bed.top_mix.name}")]
    if isinstance(layer, Pipes) or layer.wick_share > 0.0:
        entries.append(("mix_wick", f"mix that wicks: {bed.wick_mix.name}"))
    if level > wick_foot(bed):
        entries.append(("level", "mix below the water level, soaked"))
    if isinstance(layer, Pipes):
        inside, outside = (both(length_text, d, units) for d in (layer.inside, layer.outside))
        pipes = f"{layer.count} pipe{'s' if layer.count > 1 else ''}"
        entries.append(("pipe", f"{pipes}, {inside} inside, {outside} outside"))
    else:
        wicks = f"{100 * layer.wick_share:g} % of the floor is legs of mix"
        if layer.wick_share <= 0.0:
            wicks = "no legs of mix, so nothing wicks from it"
        form = form_of(bed)
        words = f"{form}, {100 * layer.void_share:g} % open; {wicks}"
        entries.append(("stone" if form == "stone" else "air", words))
    month, plants = plants_of(bed)
    if plants:
        crops = ", ".join(plant.name for plant in plants)
        words = f"plants of {month_name[month]}, roots full grown, left to right: {crops}"
        entries.append(("transpiration", words))
    return entries


def form_of(bed: Bed) -> str:
    """Name of the form of reservoir in words."""
    names: dict[type, str] = {Pipes: "pipes", Crates: "crates", FalseFloor: "false floor"}
    return names.get(type(bed.reservoir), "stone")


def both(text: Any, amount: float, units: System) -> str:
    """Amount in both systems, the chosen one first."""
    other: System = "us" if units == "metric" else "metric"
    return f"{text(amount, units)} ({text(amount, other)})"


def _day(start: datetime.date | tuple[int, int]) -> str:
    """First day of a change in words."""
    if isinstance(start, datetime.date):
        return f"{start.day} {month_abbr[start.month]} {start.year}"
    return f"{start[1]} {month_abbr[start[0]]}"
