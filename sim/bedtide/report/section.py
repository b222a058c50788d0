"""The bed in section, drawn to scale with its heights."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    capacity,
    crown_height,
    dead_storage,
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
    wall_thickness,
)
from bedtide.report.style import DPI, FONT_SIZE, INK, MUTED, STYLES, plain_text
from bedtide.units import System, length_text, volume_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

__all__ = ["section_figure"]

# All on paper [in].
_WIDE = 4.0
_LABELS = 1.38  # column of heights left of the box
_OUTSIDE = 0.34  # outlet right of the box
_TALLEST = 3.4  # the box at the most
_ROW = 0.31  # one height with its name
_ABOVE = 0.36  # plants above the rim
_BELOW = 0.42  # width below the floor
_LINE = 0.148  # one line of the legend
_WRAP = 60  # characters of a line of the legend


class _Mark(NamedTuple):
    """A height that is labelled."""

    height: float
    name: str


@plain_text
def section_figure(
    bed: Bed, *, levels: Sequence[float] | None = None, units: System = "metric"
) -> Figure:
    """Bed drawn to scale in section, across the pipes.

    Answers: what does this bed look like inside, and how high is everything.
    Wall and floor thickness, the number of legs of mix, and plants are not given by a
    description and are a picture only; all else is at true size.

    Parameters
    ----------
    bed : Bed
        The bed.
    levels : sequence of float, optional
        Heights of water to mark [m]; filled up to the highest. None fills to the overflow, or
        to the top of the reservoir where there is none.
    units : {"metric", "us"}
        Which units come first; the others stand behind in brackets.

    Returns
    -------
    Figure
        4 in wide, to be saved at 180 dots an inch (720 px) or more.
    """
    from matplotlib.figure import Figure

    scale = max(
        bed.box.width / (_WIDE - 0.16 - _LABELS - _OUTSIDE - 0.14), bed.box.depth / _TALLEST
    )
    level = _fill_level(bed) if levels is None else max(levels, default=0.0)
    marks = _marks(bed, levels, level)
    rows = _spread([mark.height / scale for mark in marks], _ROW)
    top = max(bed.box.depth / scale + _ABOVE, max(rows) + _ROW / 2)
    bottom = min(-_BELOW, min(rows) - _ROW / 2)
    keys = _legend(bed, level, units)
    title = textwrap.wrap(bed.name, 40) or [""]
    lines = sum(text.count("\n") + 1 for _, text in keys)
    tall = top - bottom + 0.33 + 0.17 * len(title) + (_LINE + 0.02) * lines + 0.03 * len(keys)
    figure = Figure(figsize=(_WIDE, tall), dpi=DPI, layout=_layout())
    ax = figure.subplots()
    paper = Paper(ax, scale)
    _set_sheet(paper, bed, top, bottom)
    draw_box(paper, bed)
    draw_mix(paper, bed, level)
    draw_reservoir(paper, bed, level)
    draw_overflow(paper, bed)
    draw_plants(paper, bed)
    for height in (level,) if levels is None else levels:
        _draw_level(ax, bed, height)
    for mark, row in zip(marks, rows, strict=True):
        _draw_mark(paper, mark, row, units)
    _draw_width(paper, bed, units)
    _write_words(figure, ax, bed, title, keys, units)
    return figure


def _layout() -> ConstrainedLayoutEngine:
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    return ConstrainedLayoutEngine(w_pad=0.04, h_pad=0.04)


def _fill_level(bed: Bed) -> float:
    """Height to which the bed is shown full [m]."""
    if bed.overflow.state == "none" or bed.overflow.height is None:
        return crown_height(bed)
    return bed.overflow.height


def _marks(bed: Bed, levels: Sequence[float] | None, level: float) -> list[_Mark]:
    """Heights to label, lowest first."""
    marks = [
        _Mark(bed.box.depth, "rim"),
        _Mark(surface_height(bed), "mix surface"),
        _Mark(crown_height(bed), f"top of {_form(bed)}"),
    ]
    overflow = bed.overflow
    if overflow.state != "none" and overflow.height is not None:
        blocked = ", blocked" if overflow.state == "blocked" else ""
        heights = {overflow.height: f"overflow{blocked}"}
        for change in overflow.changes:
            heights.setdefault(change.height, f"overflow {_day(change.start)}")
        marks += [_Mark(height, name) for height, name in heights.items()]
    if not isinstance(bed.reservoir, Pipes) and 0.0 < wick_foot(bed) < crown_height(bed):
        marks.append(_Mark(wick_foot(bed), "foot of the wicks"))
    marks += [_Mark(height, "water") for height in levels or ()]
    return sorted(marks)


def _spread(heights: list[float], gap: float) -> list[float]:
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


def _set_sheet(paper: Paper, bed: Bed, top: float, bottom: float) -> None:
    """Limits of the axes: labels on the left, outlet on the right, the rest shared."""
    right = bed.box.width / paper.scale + 0.07 + _OUTSIDE
    spare = (_WIDE - 0.16) - (right + 0.07 + _LABELS)
    paper.ax.set_xlim(
        paper.inches(-0.07 - _LABELS - spare / 2.0), paper.inches(right + spare / 2.0)
    )
    paper.ax.set_ylim(paper.inches(bottom), paper.inches(top))
    paper.ax.set_aspect("equal")
    paper.ax.set_axis_off()


def _draw_level(ax: Axes, bed: Bed, height: float) -> None:
    ax.plot(
        [0.0, bed.box.width],
        [height, height],
        color=STYLES["level"].colour,
        linestyle=(0, (4, 2)),
        linewidth=1.3,
        zorder=6,
    )


def _draw_mark(paper: Paper, mark: _Mark, row: float, units: System) -> None:
    """Name and height left of the box, with a leader to where it is."""
    wall = wall_thickness(paper)
    y, at = paper.inches(row), mark.height
    start, bend, end = (-wall - paper.inches(x) for x in (0.0, 0.06, 0.2))
    paper.ax.plot([start, bend, end], [at, at, y], color=MUTED, linewidth=0.7, zorder=5)
    place: dict[str, Any] = {"ha": "right", "fontsize": FONT_SIZE}
    x = end - paper.inches(0.04)
    paper.ax.text(x, y, mark.name, va="bottom", color=INK, **place)
    paper.ax.text(x, y, _both(mark.height, units), va="top", color=MUTED, **place)


def _draw_width(paper: Paper, bed: Bed, units: System) -> None:
    y = -wall_thickness(paper) - paper.inches(0.1)
    paper.ax.annotate(
        "",
        xy=(0.0, y),
        xytext=(bed.box.width, y),
        arrowprops={"arrowstyle": "<->", "color": MUTED, "shrinkA": 0, "shrinkB": 0, "lw": 0.8},
    )
    paper.ax.text(
        bed.box.width / 2.0,
        y - paper.inches(0.05),
        _both(bed.box.width, units),
        ha="center",
        va="top",
        fontsize=FONT_SIZE,
        color=MUTED,
    )


def _write_words(
    figure: Figure,
    ax: Axes,
    bed: Bed,
    title: list[str],
    keys: list[tuple[str, str]],
    units: System,
) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    figure.suptitle("\n".join(title), x=0.01, ha="left", fontsize=10, fontweight="bold", color=INK)
    across = "across the pipes, " if isinstance(bed.reservoir, Pipes) else ""
    ax.set_title(
        f"Section {across}to scale; {_both(bed.box.length, units)} long",
        loc="left",
        fontsize=FONT_SIZE,
        color=MUTED,
    )
    lines = {
        "transpiration": {"color": STYLES["transpiration"].colour, "linewidth": 1.2},
        "level": {"color": STYLES["water"].colour, "linestyle": (0, (3, 2)), "linewidth": 1.2},
    }
    handles = [
        Line2D([], [], **lines[name])  # type: ignore[arg-type]
        if name in lines
        else Patch(facecolor=STYLES[name].colour, edgecolor=MUTED, linewidth=0.5)
        for name, _ in keys
    ]
    figure.legend(
        handles,
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


def _legend(bed: Bed, level: float, units: System) -> list[tuple[str, str]]:
    """Style and words of each entry, wrapped."""
    area = plan_area(bed)
    held = open_store(level, bed) * area
    full = capacity(bed, _fill_level(bed)) * area
    if held < full:
        words = f"open water, {_volumes(held, units)} of {_volumes(full, units)}"
    elif bed.overflow.state == "none" or bed.overflow.height is None:
        words = f"open water, {_volumes(held, units)} when full; no overflow"
    else:
        words = f"open water, {_volumes(held, units)} up to the overflow"
    dead = min(dead_storage(bed) * area, held)
    if dead > 0.0:
        share = "all of it" if dead >= held else f"{_volumes(dead, units)} of it"
        words += f"; {share} where nothing wicks, out of reach"
    entries = [("water", words), ("mix_top", f"top mix: {bed.top_mix.name}")]
    if isinstance(bed.reservoir, Pipes) or bed.reservoir.wick_share > 0.0:
        entries.append(("mix_wick", f"mix that wicks: {bed.wick_mix.name}"))
    if level > wick_foot(bed):
        entries.append(("level", "mix below the water level, soaked"))
    entries.append(_reservoir_words(bed, units))
    if bed.plantings:
        crops = ", ".join(planting.crop.name for planting in bed.plantings)
        entries.append(("transpiration", f"plants with roots full grown, left to right: {crops}"))
    return [(name, textwrap.fill(text, _WRAP)) for name, text in entries]


def _reservoir_words(bed: Bed, units: System) -> tuple[str, str]:
    layer = bed.reservoir
    if isinstance(layer, Pipes):
        count = f"{layer.count} pipe{'s' if layer.count > 1 else ''}"
        inside, outside = _both(layer.inside, units), _both(layer.outside, units)
        return "pipe", f"{count}, {inside} inside, {outside} outside"
    wicks = f"{100 * layer.wick_share:g} % of the floor is legs of mix"
    name = "stone" if _form(bed) == "stone" else "air"
    if layer.wick_share <= 0.0:
        wicks = "no legs of mix, so nothing wicks from it"
    return name, f"{_form(bed)}, {100 * layer.void_share:g} % open; {wicks}"


def _form(bed: Bed) -> str:
    if isinstance(bed.reservoir, Pipes):
        return "pipes"
    if isinstance(bed.reservoir, Crates):
        return "crates"
    return "false floor" if isinstance(bed.reservoir, FalseFloor) else "stone"


def _both(metres: float, units: System) -> str:
    """Length in both systems, the chosen one first."""
    other: System = "us" if units == "metric" else "metric"
    return f"{length_text(metres, units)} ({length_text(metres, other)})"


def _volumes(cubic_metres: float, units: System) -> str:
    """Volume in both systems, the chosen one first."""
    other: System = "us" if units == "metric" else "metric"
    return f"{volume_text(cubic_metres, units)} ({volume_text(cubic_metres, other)})"


def _day(start: datetime.date | tuple[int, int]) -> str:
    """First day of a change in words."""
    if isinstance(start, datetime.date):
        return f"from {start.isoformat()}"
    return f"from {datetime.date(2001, *start):%b} {start[1]}"
