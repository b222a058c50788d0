"""Sheets to build from, to scale on A4 and Letter: section, plan, end, board cuts, dipstick."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bedtide.bed import Bed, Pipes, crown_height, surface_height, walls_of
from bedtide.building import Build, Cutting
from bedtide.errors import shown
from bedtide.report.section import box, lean_of, mixes, pipe_middles, plan_inside, reservoir
from bedtide.report.shapes import WIDE, paint, spread
from bedtide.report.style import COLOURS, INK, MUTED, PAPER, WIDTH, plain_text
from bedtide.units import INCH, System, sawn_text, volume_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from bedtide.report.results import Writer

PAPERS: Final = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height of a sheet [mm]."""

SCALES: Final = (1, 2, 4, 5, 8, 10, 15, 20, 25, 50, 100, 200, 500)
"""How many times smaller than life a view may be drawn."""

TYPE: Final = 8.5
"""Smallest type on a sheet [pt]."""

_TITLE = 17.0
_EDGE = 12.0  # margin of a sheet; all on paper in mm
_HEAD, _FOOT = 14.0, 22.0
_ROW = 4.6  # one label
_LEADER = 8.0
_BAR, _PITCH = 7.0, 13.0  # a length that is cut, and from one to the next
_LABELS = (42.0, 42.0, 38.0)  # left, right and below
_SMALL = (30.0, 38.0, 0.0)  # beside lengths that are cut
_SHOWN = 6  # pipes that are dimensioned one by one

_Mark = tuple[float, str]


class View(NamedTuple):
    """A view on a sheet: axes in metres at a scale, and where its drawing lies [m]."""

    ax: Any
    times: int
    left: float
    right: float
    low: float
    high: float

    def mm(self, length: float) -> float:
        """Metres of so many millimetres of paper."""
        return length * self.times / 1e3

    @property
    def unit(self) -> float:
        """A unit of the drawings of a bed, as wide here as in its picture [m]."""
        return self.mm(25.4 * WIDTH / WIDE)


def files_of(bed: Bed, sheet: Build, units: System) -> dict[str, Writer]:
    """Files of all sheets by their names: a PDF for each paper, an SVG for each of its sheets."""
    from bedtide.files import write_figure, write_pages

    found: dict[str, Writer] = {}
    for paper in PAPERS:
        figures = sheets(bed, sheet, paper, units)
        found[f"sheets_{paper}.pdf"] = partial(write_pages, figures=list(figures.values()))
        for name, figure in figures.items():
            found[f"{name}_{paper}.svg"] = partial(write_figure, figure=figure)
    return found


@plain_text
def sheets(bed: Bed, sheet: Build, paper: str, units: System) -> dict[str, Figure]:
    """Figures of all sheets on a paper, by name."""
    wide, high = PAPERS[paper]
    text = partial(sawn_text, system=units)
    room = high - _HEAD - _FOOT
    upper, lower = 0.58 * room, 0.42 * room
    found: dict[str, Figure] = {}

    def page(name: str, title: str) -> Figure:
        words = f"{shown(sheet.bed, most=30)}: {title}"
        words += "" if sheet.can_be_built else " - CAN'T BE BUILT SO"
        figure = _page(words, wide, high)
        found[name] = figure
        return figure

    first = page("section", "section and plan")
    _section(_box(first, _FOOT + lower, upper), bed, sheet, text)
    _plan(_box(first, _FOOT, lower), bed, sheet, text)
    rows = sheet.boards.cuts if sheet.boards else ()
    letters = _letters(rows)
    second = page("end_wall", "end and cuts" if rows else "end")
    _end_wall(_box(second, _FOOT + lower, upper), bed, sheet, text)
    fits = int((lower - 30.0) / _PITCH)
    if rows:
        _cuts(_box(second, _FOOT, lower), rows[:fits], letters, text)
    many = int((room - 30.0) / _PITCH)
    for number, start in enumerate(range(fits, len(rows), many), start=2):
        more = page(f"cuts_{number}", f"cuts, part {number}")
        _cuts(_box(more, _FOOT, room), rows[start : start + many], letters, text)
    if sheet.dipstick:
        _dipstick(page("dipstick", "dipstick, true size"), sheet, units, room)
    return found


# --- sheets and views -------------------------------------------------------------------------


def _page(title: str, wide: float, high: float) -> Figure:
    """An empty sheet with its title, and a bar that tells whether the printer kept the scale."""
    from matplotlib.figure import Figure
    from matplotlib.patches import Rectangle

    figure = Figure(figsize=(wide / 25.4, high / 25.4))
    place: dict[str, Any] = {"va": "top", "color": INK}
    figure.text(_EDGE / wide, 1.0 - 8.0 / high, title, fontsize=12, fontweight="bold", **place)
    for low, bar, words in ((17.4, 100.0, "100 mm"), (13.6, 4.0 * 1e3 * INCH, "4 in")):
        corner = (_EDGE / wide, low / high)
        figure.add_artist(Rectangle(corner, bar / wide, 1.8 / high, facecolor=INK, linewidth=0.0))
        after = (_EDGE + bar + 1.5) / wide
        figure.text(after, (low + 0.8) / high, words, fontsize=TYPE, va="center", color=INK)
    said = (
        "Print at 100 %, not fitted to the page, and measure the two bars: if either is not as "
        "long as it says, the scales are off."
    )
    figure.text(_EDGE / wide, 12.4 / high, said, fontsize=TYPE, **place)
    return figure


def _box(figure: Figure, low: float, tall: float) -> Any:
    """Axes over the width of a sheet between two heights [mm], without a scale yet."""
    wide, high = (25.4 * side for side in figure.get_size_inches())
    ax = figure.add_axes((_EDGE / wide, low / high, 1.0 - 2.0 * _EDGE / wide, tall / high))
    ax.set_axis_off()
    return ax


def _view(
    ax: Any,
    title: str,
    across: tuple[float, float],
    up: tuple[float, float],
    labels: Sequence[float] = _LABELS,
) -> View:
    """Axes scaled to hold a drawing [m] with labels to its left and right and below it [mm]."""
    figure, box = ax.figure, ax.get_position()
    size = [25.4 * side for side in figure.get_size_inches()]
    wide, tall = across[1] - across[0], up[1] - up[0]
    sheet = (box.width * size[0], box.height * size[1])
    room = (sheet[0] - labels[0] - labels[1], sheet[1] - labels[2] - _TITLE)
    times = next(
        (n for n in SCALES if 1e3 * wide / n <= room[0] and 1e3 * tall / n <= room[1]), SCALES[-1]
    )
    mm = times / 1e3
    left = across[0] - mm * labels[0] - 0.5 * (mm * room[0] - wide)
    top = up[1] + mm * _TITLE
    ax.set_xlim(left, left + mm * sheet[0])
    ax.set_ylim(top - mm * sheet[1], top)
    ax.text(left, top, f"{title}, 1:{times}", va="top", color=INK, fontsize=10)
    return View(ax, times, *across, *up)


def _label(view: View, marks: Sequence[_Mark], side: str) -> None:
    """Words beside a view, each with a line to the place that it names, none over another."""
    marks = sorted(marks)
    gap, lead = view.mm(_ROW), view.mm(_LEADER)
    rows = spread([at for at, _ in marks], gap)
    style: dict[str, Any] = {"fontsize": TYPE, "color": INK}
    for (at, words), row in zip(marks, rows, strict=True):
        if side == "below":
            path = ([at, at, row], [view.low, view.low - lead * 0.3, view.low - lead * 0.85])
            x, y = row, view.low - lead
            style |= {"ha": "center", "va": "top", "rotation": 90}
        else:
            edge, out = (view.left, -lead) if side == "left" else (view.right, lead)
            path = ([edge, edge + 0.3 * out, edge + 0.85 * out], [at, at, row])
            x, y = edge + out, row
            style |= {"ha": "right" if side == "left" else "left", "va": "center"}
        view.ax.plot(*path, color=MUTED, linewidth=0.6, gid="leader", zorder=8)
        view.ax.text(x, y, words, **style)


def _outline(view: View, x: Sequence[float], y: Sequence[float], **line: Any) -> None:
    view.ax.plot(x, y, **{"color": INK, "linewidth": 1.0, "zorder": 6, **line})


def _round(view: View, x: float, y: float, across: float, **line: Any) -> None:
    from matplotlib.patches import Circle

    style = {"facecolor": PAPER, "edgecolor": INK, "linewidth": 0.9, "zorder": 7, **line}
    view.ax.add_patch(Circle((x, y), 0.5 * across, **style))


def _cross(view: View, x: float, y: float) -> None:
    """Marks a centre to drill at, on a light ground so that it shows on any other."""
    arm = view.mm(3.0)
    for line in ({"color": PAPER, "linewidth": 2.4}, {"linewidth": 0.7}):
        _outline(view, [x - arm, x + arm], [y, y], zorder=8, **line)
        _outline(view, [x, x], [y - arm, y + arm], zorder=8, **line)


# --- the views --------------------------------------------------------------------------------


def _section(ax: Any, bed: Bed, sheet: Build, text: Any) -> None:
    """Across the pipes, heights over the liner, what lies where."""
    wide, deep, crown = bed.box.width, bed.box.depth, crown_height(bed)
    wall = (sheet.boards.thickness_mm if sheet.boards else 4.0) / 1e3
    sides = (-wall, wide + wall)
    view = _view(ax, "Section, heights over the liner", sides, (-wall, deep))
    level = min(sheet.lip_mm / 1e3 if sheet.lip_mm else crown, surface_height(bed))
    inside = [*mixes(bed, view.unit, level), *reservoir(bed, view.unit, level)]
    paint(ax, [*inside, *box(bed, wall)])
    heights = [(0.0, "liner 0"), (deep, f"rim {text(deep)}")]
    heights += [(surface_height(bed), f"mix {text(surface_height(bed))}")]
    heights += [(crown, f"top of {sheet.form} {text(crown)}")]
    if sheet.lip_mm is not None:
        heights.append((sheet.lip_mm / 1e3, f"overflow's lip {text(sheet.lip_mm / 1e3)}"))
    across = [(wide, f"width {text(wide)}")]
    names = [(0.5 * (crown + surface_height(bed)), "top mix"), (0.75 * crown, sheet.form)]
    names.append((0.2 * crown, "wick mix"))
    if isinstance(bed.reservoir, Pipes):
        across += [(x, f"pipe {text(x)}") for x in _dimensioned(bed, bed.reservoir)]
    elif (lean := lean_of(bed)) > 0.0:
        across += [(lean, f"floor from {text(lean)}"), (wide - lean, f"to {text(wide - lean)}")]
    if sheet.hole is not None and sheet.boards is not None:
        h = sheet.hole
        x = (h.across_mm - h.wall_mm - h.liner_mm) / 1e3
        _round(view, x, h.centre_mm / 1e3, h.bore_mm / 1e3, linestyle=(0, (2, 1)))
        names.append((h.centre_mm / 1e3, "dashed: overflow"))
    _label(view, heights, "left")
    _label(view, names, "right")
    _label(view, across, "below")


def _plan(ax: Any, bed: Bed, sheet: Build, text: Any) -> None:
    """From above, the overflow at the left end."""
    walls, layer = walls_of(bed), bed.reservoir
    long, wide = walls.length, walls.width
    view = _view(ax, "Plan, lengths from the end with the overflow", (0.0, long), (0.0, wide))
    lean = (0.5 * (long - walls.length_at_floor), lean_of(bed))
    paint(ax, plan_inside(bed, view.unit))
    along, beside = [(long, f"length {text(long)}")], [(wide, f"width {text(wide)}")]
    fill, end = sheet.fill_outside_mm / 1e3, long - lean[0]
    outlet = 0.5 * wide
    if isinstance(layer, Pipes):
        beside += [(y, f"pipe {text(y)}") for y in _dimensioned(bed, layer)]
        along.append((lean[0] + layer.run, f"pipes end {text(layer.run)}"))
        outlet = pipe_middles(bed, layer)[0]
    _round(view, max(end - 0.5 * fill, 0.5 * fill), wide - lean[1] - 0.5 * fill, fill)
    names = [(wide - lean[1] - 0.5 * fill, "circle: fill pipe")]
    if not isinstance(layer, Pipes):
        share = (
            "no legs of mix"
            if layer.wick_share <= 0
            else f"legs of mix {100 * layer.wick_share:.0f} %"
        )
        names.append((0.4 * wide, share))
    if sheet.hole is not None:
        _cross(view, lean[0], outlet)
        along.append((lean[0], "cross: overflow"))
    _label(view, beside, "left")
    _label(view, names, "right")
    _label(view, along, "below")


def _end_wall(ax: Any, bed: Bed, sheet: Build, text: Any) -> None:
    """Seen from outside, the hole from two edges: the outer edge of a side, the foot."""
    b, hole, walls = sheet.boards, sheet.hole, walls_of(bed)
    past = b.thickness_mm / 1e3 if b and b.corner == "sides past ends" else 0.0
    wide, tall, edge = walls.width, walls.depth, lean_of(bed)
    if b is not None:
        wide, tall, edge = b.end_mm / 1e3 + 2.0 * past, b.wall_height_mm / 1e3, 0.0
    view = _view(ax, "End, from outside", (0.0, wide), (0.0, tall))
    _outline(view, [0.0, edge, wide - edge, wide, 0.0], [tall, 0.0, 0.0, tall, tall])
    heights = [(tall, f"{'top' if b else 'rim'} {text(tall)}"), (0.0, "foot of the wall 0")]
    across = [(edge, f"{'outer edge' if b else 'edge of the floor'} 0")]
    joints = [course * b.course_mm / 1e3 for course in range(1, b.courses)] if b else []
    for joint in joints:
        _outline(view, [0.0, wide], [joint, joint], linewidth=0.6)
        heights.append((joint, f"joint {text(joint)}"))
    for x in (past, wide - past) if past else ():
        _outline(view, [x, x], [0.0, tall], linewidth=0.6)
    across.append((wide - edge, f"other edge {text(wide - 2.0 * edge)}"))
    if hole is not None:
        x, y = edge + hole.across_mm / 1e3, hole.up_mm / 1e3
        _round(view, x, y, (hole.diameter_mm or hole.bore_mm) / 1e3,
               linestyle="-" if hole.diameter_mm else (0, (2, 1)))  # fmt: skip
        _cross(view, x, y)
        heights.append((y, f"CENTRE {text(y)}"))
        across.append((x, f"CENTRE {text(hole.across_mm / 1e3)}"))
        drill = f"drill {text(hole.diameter_mm / 1e3)}" if hole.diameter_mm else "hole: ask first"
        _label(view, [(y, drill)], "right")
    _label(view, heights, "left")
    _label(view, across, "below")


def _dimensioned(bed: Bed, pipes: Pipes) -> list[float]:
    """Middles of the pipes, or of the first and the last where there are many."""
    middles = pipe_middles(bed, pipes)
    return middles if len(middles) <= _SHOWN else [middles[0], middles[-1]]


def _letters(rows: Sequence[Cutting]) -> dict[float, str]:
    """A letter for each length of piece, the longest first."""
    sizes = sorted({piece for row in rows for piece in row.pieces_mm}, reverse=True)
    return {size: chr(ord("A") + at) for at, size in enumerate(sizes)}


def _cuts(ax: Any, rows: Sequence[Cutting], letters: dict[float, str], text: Any) -> None:
    """How each length as sold is cut, from its left end."""
    longest = max(row.stock_mm for row in rows) / 1e3
    view = _view(ax, "Cuts, each from the left end", (0.0, longest), (0.0, 0.0), _SMALL)
    low, high = ax.get_ylim()
    bar, pitch = view.mm(_BAR), view.mm(_PITCH)
    left = []
    for at, row in enumerate(rows):
        y = -(at + 0.5) * pitch
        start = 0.0
        ax.barh(y, row.stock_mm / 1e3, bar, color=PAPER, edgecolor=INK, linewidth=0.7, hatch="////")
        for piece in row.pieces_mm:
            end = start + piece / 1e3
            ax.barh(y, end - start, bar, left=start, color=COLOURS["box"], edgecolor=INK, zorder=3)
            if (end - start) > view.mm(4.0):
                ax.text(0.5 * (start + end), y, letters[piece], fontsize=TYPE, ha="center",
                        va="center", zorder=9)  # fmt: skip
            start = end
        left.append((y, f"{row.count} of {row.stock}"))
        if row.left_mm >= 1.0:
            x, words = row.stock_mm / 1e3 + view.mm(2.0), f"{text(row.left_mm / 1e3)} left"
            ax.text(x, y, words, fontsize=TYPE, color=INK, va="center")
    edge = view._replace(low=-len(rows) * pitch)
    _label(edge, left, "left")
    own = [f"{letter} {text(size / 1e3)}" for size, letter in letters.items()
           if any(size in row.pieces_mm for row in rows)]  # fmt: skip
    for at in range(0, len(own), 4):
        y = edge.low - view.mm(4.0 + _ROW * at / 4)
        words = "    ".join(own[at : at + 4])
        ax.text(ax.get_xlim()[0], y, words, fontsize=TYPE, color=INK, va="top")
    ax.set_ylim(low, high)


def _dipstick(figure: Figure, sheet: Build, units: System, room: float) -> None:
    """Strips of true size with the litres at their heights, to be glued to a stick."""
    wide, high = (25.4 * side for side in figure.get_size_inches())
    top = sheet.dipstick[-1].height_mm
    other: System = "us" if units == "metric" else "metric"
    usable = room - 30.0
    strips = max(math.ceil(top / usable), 1)
    pitch = (wide - 2.0 * _EDGE) / max(strips, 2)
    for strip in range(strips):
        base = strip * usable
        box = ((_EDGE + strip * pitch) / wide, (_FOOT + 10.0) / high)
        ax = figure.add_axes((*box, pitch / wide, (room - 10.0) / high))
        ax.set_axis_off()
        ax.set_xlim(0.0, pitch / 1e3)
        ax.set_ylim((base - 8.0) / 1e3, (base - 8.0 + room - 10.0) / 1e3)
        end = min(top, base + usable)
        view = View(ax, 1, 0.0, 0.015, base / 1e3, end / 1e3)
        ax.bar(0.0075, (end - base) / 1e3, 0.015, base / 1e3, color=PAPER, edgecolor=INK)
        marks = []
        for mark in sheet.dipstick:
            if base - 1e-9 <= mark.height_mm <= end + 1e-9:
                y = mark.height_mm / 1e3
                _outline(view, [0.0, 0.015], [y, y])
                held, high_up = (
                    f"{text(value, units)} ({text(value, other)})"
                    for text, value in ((volume_text, mark.litres / 1e3), (sawn_text, y))
                )
                marks.append((y, f"{held}, {high_up}"))
        _label(view, marks, "right")
        foot = "foot: on the liner" if strip == 0 else "glue this foot on the strip before"
        ax.text(0.0, (base - 3.5) / 1e3, foot, fontsize=TYPE, color=INK, va="top")
    said = "Heights over the liner."
    if sheet.pipe_wall_mm:
        wall = sawn_text(sheet.pipe_wall_mm / 1e3, units)
        said += f" If it will stand inside a pipe, cut {wall} off the foot."
    figure.text(_EDGE / wide, (_FOOT + 3.0) / high, said, fontsize=TYPE, color=INK, va="bottom")
