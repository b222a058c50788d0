"""Sheets to build from, to scale on A4 and Letter: section, plan, end, board cuts, dipstick."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from bedtide.bed import Bed, Pipes, crown_height, surface_height, walls_of
from bedtide.building import Build, Cutting
from bedtide.errors import shown
from bedtide.report.section import box, lean_of, mixes, pipe_middles, plan_inside, reservoir
from bedtide.report.shapes import WIDE, paint, spread
from bedtide.report.style import COLOURS, INK, MUTED, PAPER, WIDTH, plain_text
from bedtide.report.templates import both
from bedtide.units import INCH, System, sawn_text

if TYPE_CHECKING:
    from matplotlib.figure import Figure


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
_STRIPS, _ENDS = 2, 30.0  # of a dipstick side by side; paper above and below them
_SHOWN = 6  # pipes that are dimensioned one by one
_DASHED = (0, (2, 1))

Span = tuple[float, float]
Text = Callable[[float], str]


def files_of(bed: Bed, sheet: Build, units: System) -> dict[str, Any]:
    """Files of all sheets by their names: a PDF for each paper, an SVG for each of its sheets."""
    found: dict[str, Any] = {}
    for paper in PAPERS:
        figures = sheets(bed, sheet, paper, units)
        found[f"sheets_{paper}.pdf"] = list(figures.values())
        for name, figure in figures.items():
            found[f"{name}_{paper}.svg"] = figure
    return found


@plain_text()
def sheets(bed: Bed, sheet: Build, paper: str, units: System) -> dict[str, Figure]:
    """Figures of all sheets on a paper, by name."""
    text = partial(sawn_text, system=units)
    room = PAPERS[paper][1] - _HEAD - _FOOT
    upper, lower = (_FOOT + 0.42 * room, 0.58 * room), (_FOOT, 0.42 * room)
    found: dict[str, Figure] = {}

    def page(name: str, title: str) -> Figure:
        warning = "" if sheet.can_be_built else " - CAN'T BE BUILT SO"
        found[name] = _page(f"{shown(sheet.bed, most=30)}: {title}{warning}", *PAPERS[paper])
        return found[name]

    first = page("section", "section and plan")
    _section(first, upper, bed, sheet, text)
    _plan(first, lower, bed, sheet, text)
    rows = sheet.boards.cuts if sheet.boards else ()
    sizes = sorted({piece for row in rows for piece in row.pieces_mm}, reverse=True)
    letters = {size: chr(ord("A") + at) for at, size in enumerate(sizes)}
    second = page("end_wall", "end and cuts" if rows else "end")
    _end_wall(second, upper, bed, sheet, text)
    fits, many = (int((tall - 30.0) / _PITCH) for tall in (lower[1], room))
    if rows:
        _cuts(second, lower, rows[:fits], letters, text)
    for number, start in enumerate(range(fits, len(rows), many), start=2):
        more = page(f"cuts_{number}", f"cuts, part {number}")
        _cuts(more, (_FOOT, room), rows[start : start + many], letters, text)
    strips = math.ceil(sheet.dipstick[-1].height_mm / (room - _ENDS)) if sheet.dipstick else 0
    for number, start in enumerate(range(0, strips, _STRIPS), start=1):
        name, part = ("dipstick", "") if number == 1 else (f"dipstick_{number}", f", part {number}")
        along = range(start, min(start + _STRIPS, strips))
        _dipstick(page(name, f"dipstick, true size{part}"), sheet, units, room, along)
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


def _axes(figure: Figure, left: float, low: float, wide: float, tall: float) -> Any:
    """Axes on a part of a sheet [mm], without a frame."""
    across, high = (25.4 * side for side in figure.get_size_inches())
    ax = figure.add_axes((left / across, low / high, wide / across, tall / high))
    ax.set_axis_off()
    return ax


class View:
    """A view on a sheet: axes in metres at a scale, and where its drawing lies [m]."""

    def __init__(self, ax: Any, times: int, across: Span, up: Span) -> None:
        """`times` smaller than life."""
        self.ax, self.times = ax, times
        (self.left, self.right), (self.low, self.high) = across, up

    @classmethod
    def titled(
        cls, figure: Figure, place: Span, title: str, across: Span, up: Span,
        labels: Sequence[float] = _LABELS,
    ) -> View:  # fmt: skip
        """Over the width of a sheet from a height on [mm], scaled to hold a drawing [m] with labels
        to its left and right and below it [mm].
        """
        sheet = 25.4 * figure.get_size_inches()[0] - 2.0 * _EDGE, place[1]
        ax = _axes(figure, _EDGE, place[0], *sheet)
        wide, tall = across[1] - across[0], up[1] - up[0]
        room = (sheet[0] - labels[0] - labels[1], sheet[1] - labels[2] - _TITLE)
        fitting = (n for n in SCALES if 1e3 * wide / n <= room[0] and 1e3 * tall / n <= room[1])
        view = cls(ax, next(fitting, SCALES[-1]), across, up)
        left = across[0] - view.mm(labels[0] + 0.5 * room[0]) + 0.5 * wide
        top = up[1] + view.mm(_TITLE)
        ax.set_xlim(left, left + view.mm(sheet[0]))
        ax.set_ylim(top - view.mm(sheet[1]), top)
        ax.text(left, top, f"{title}, 1:{view.times}", va="top", color=INK, fontsize=10)
        return view

    def mm(self, length: float) -> float:
        """Metres of so many millimetres of paper."""
        return length * self.times / 1e3

    @property
    def unit(self) -> float:
        """A unit of the drawings of a bed, as wide here as in its picture [m]."""
        return self.mm(25.4 * WIDTH / WIDE)

    def label(self, side: str, *marks: tuple[float, str]) -> None:
        """Words beside the drawing, each with a line to the place it names, none over another."""
        lead = self.mm(_LEADER)
        style: dict[str, Any] = {"fontsize": TYPE, "color": INK}
        rows = spread([at for at, _ in sorted(marks)], self.mm(_ROW))
        for (at, words), row in zip(sorted(marks), rows, strict=True):
            if side == "below":
                path = ([at, at, row], [self.low, self.low - lead * 0.3, self.low - lead * 0.85])
                x, y = row, self.low - lead
                style |= {"ha": "center", "va": "top", "rotation": 90}
            else:
                edge, out = (self.left, -lead) if side == "left" else (self.right, lead)
                path = ([edge, edge + 0.3 * out, edge + 0.85 * out], [at, at, row])
                x, y = edge + out, row
                style |= {"ha": "right" if side == "left" else "left", "va": "center"}
            self.ax.plot(*path, color=MUTED, linewidth=0.6, gid="leader", zorder=8)
            self.ax.text(x, y, words, **style)

    def line(self, x: Sequence[float], y: Sequence[float], **line: Any) -> None:
        """An outline."""
        self.ax.plot(x, y, **{"color": INK, "linewidth": 1.0, "zorder": 6, **line})

    def circle(self, x: float, y: float, across: float, linestyle: Any = "-") -> None:
        """An opening."""
        from matplotlib.patches import Circle

        style: dict[str, Any] = {"facecolor": PAPER, "edgecolor": INK, "linewidth": 0.9}
        self.ax.add_patch(Circle((x, y), 0.5 * across, linestyle=linestyle, zorder=7, **style))

    def cross(self, x: float, y: float) -> None:
        """Marks a centre to drill at, on a light ground so that it shows on any other."""
        arm = self.mm(3.0)
        for line in ({"color": PAPER, "linewidth": 2.4}, {"linewidth": 0.7}):
            self.line([x - arm, x + arm], [y, y], zorder=8, **line)
            self.line([x, x], [y - arm, y + arm], zorder=8, **line)


# --- the views --------------------------------------------------------------------------------


def _section(figure: Figure, place: Span, bed: Bed, sheet: Build, text: Text) -> None:
    """Across the pipes, heights over the liner, what lies where."""
    wide, deep, crown, surface = (
        bed.box.width,
        bed.box.depth,
        crown_height(bed),
        surface_height(bed),
    )
    wall = (sheet.boards.thickness_mm if sheet.boards else 4.0) / 1e3
    sides = (-wall, wide + wall)
    view = View.titled(figure, place, "Section, heights over the liner", sides, (-wall, deep))
    lip = None if sheet.lip_mm is None else sheet.lip_mm / 1e3
    level = min(lip or crown, surface)
    inside = [*mixes(bed, view.unit, level), *reservoir(bed, view.unit, level)]
    paint(view.ax, [*inside, *box(bed, wall)])
    named = {"rim": deep, "mix": surface, f"top of {sheet.form}": crown}
    if lip is not None:
        named["overflow's lip"] = lip
    heights = [(at, f"{name} {text(at)}") for name, at in named.items()]
    across = [(wide, f"width {text(wide)}")]
    names = [(0.5 * (crown + surface), "top mix"), (0.75 * crown, sheet.form)]
    names.append((0.2 * crown, "wick mix"))
    if isinstance(bed.reservoir, Pipes):
        across += _dimensions(bed, bed.reservoir, text)
    elif (lean := lean_of(bed)) > 0.0:
        across += [(lean, f"floor from {text(lean)}"), (wide - lean, f"to {text(wide - lean)}")]
    if sheet.hole is not None and sheet.boards is not None:
        h = sheet.hole
        x = (h.across_mm - h.wall_mm - h.liner_mm) / 1e3
        view.circle(x, h.centre_mm / 1e3, h.bore_mm / 1e3, _DASHED)
        names.append((h.centre_mm / 1e3, "dashed: overflow"))
    view.label("left", (0.0, "liner 0"), *heights)
    view.label("right", *names)
    view.label("below", *across)


def _plan(figure: Figure, place: Span, bed: Bed, sheet: Build, text: Text) -> None:
    """From above, the overflow at the left end."""
    walls, layer = walls_of(bed), bed.reservoir
    long, wide = walls.length, walls.width
    title = "Plan, lengths from the end with the overflow"
    view = View.titled(figure, place, title, (0.0, long), (0.0, wide))
    paint(view.ax, plan_inside(bed, view.unit))
    foot, lean = 0.5 * (long - walls.length_at_floor), lean_of(bed)
    along, beside = [(long, f"length {text(long)}")], [(wide, f"width {text(wide)}")]
    fill, outlet = sheet.fill_outside_mm / 1e3, 0.5 * wide
    corner = wide - lean - 0.5 * fill
    view.circle(max(long - foot - 0.5 * fill, 0.5 * fill), corner, fill)
    names = [(corner, "circle: fill pipe")]
    if isinstance(layer, Pipes):
        beside += _dimensions(bed, layer, text)
        along.append((foot + layer.run, f"pipes end {text(layer.run)}"))
        outlet = pipe_middles(bed, layer)[0]
    else:
        share = f"{100 * layer.wick_share:.0f} %"
        legs = "no legs of mix" if layer.wick_share <= 0 else f"legs of mix {share}"
        names.append((0.4 * wide, legs))
    if sheet.hole is not None:
        view.cross(foot, outlet)
        along.append((foot, "cross: overflow"))
    view.label("left", *beside)
    view.label("right", *names)
    view.label("below", *along)


def _end_wall(figure: Figure, place: Span, bed: Bed, sheet: Build, text: Text) -> None:
    """Seen from outside, the hole from two edges: the outer edge of a side, the foot."""
    b, hole, walls = sheet.boards, sheet.hole, walls_of(bed)
    past = b.thickness_mm / 1e3 if b and b.corner == "sides past ends" else 0.0
    wide, tall, edge = walls.width, walls.depth, lean_of(bed)
    if b is not None:
        wide, tall, edge = b.end_mm / 1e3 + 2.0 * past, b.wall_height_mm / 1e3, 0.0
    view = View.titled(figure, place, "End, from outside", (0.0, wide), (0.0, tall))
    view.line([0.0, edge, wide - edge, wide, 0.0], [tall, 0.0, 0.0, tall, tall])
    heights = [(tall, f"{'top' if b else 'rim'} {text(tall)}"), (0.0, "foot of the wall 0")]
    across = [(edge, f"{'outer edge' if b else 'edge of the floor'} 0")]
    for joint in (course * b.course_mm / 1e3 for course in range(1, b.courses)) if b else ():
        view.line([0.0, wide], [joint, joint], linewidth=0.6)
        heights.append((joint, f"joint {text(joint)}"))
    for x in (past, wide - past) if past else ():
        view.line([x, x], [0.0, tall], linewidth=0.6)
    across.append((wide - edge, f"far edge {text(wide - 2.0 * edge)}"))
    if hole is not None:
        x, y, known = edge + hole.across_mm / 1e3, hole.up_mm / 1e3, hole.diameter_mm
        view.circle(x, y, (known or hole.bore_mm) / 1e3, "-" if known else _DASHED)
        view.cross(x, y)
        heights.append((y, f"CENTRE {text(y)}"))
        across.append((x, f"CENTRE {text(hole.across_mm / 1e3)}"))
        view.label("right", (y, f"drill {text(known / 1e3)}" if known else "hole: ask first"))
    view.label("left", *heights)
    view.label("below", *across)


def _dimensions(bed: Bed, pipes: Pipes, text: Text) -> list[tuple[float, str]]:
    """Middles of the pipes, or of the first and the last where there are many."""
    middles = pipe_middles(bed, pipes)
    shown = middles if len(middles) <= _SHOWN else [middles[0], middles[-1]]
    return [(at, f"pipe {text(at)}") for at in shown]


def _cuts(
    figure: Figure, place: Span, rows: Sequence[Cutting], letters: dict[float, str], text: Text
) -> None:
    """How each length as sold is cut, from its left end, a letter for each length of piece."""
    longest = max(row.stock_mm for row in rows) / 1e3
    title, across = "Cuts, each from the left end", (0.0, longest)
    view = View.titled(figure, place, title, across, (0.0, 0.0), _SMALL)
    ax, bar, pitch = view.ax, view.mm(_BAR), view.mm(_PITCH)
    limits, left = ax.get_ylim(), []
    words: dict[str, Any] = {"fontsize": TYPE, "color": INK}
    for at, row in enumerate(rows):
        y, start = -(at + 0.5) * pitch, 0.0
        ax.barh(y, row.stock_mm / 1e3, bar, color=PAPER, edgecolor=INK, linewidth=0.7, hatch="////")
        for piece in row.pieces_mm:
            end = start + piece / 1e3
            ax.barh(y, end - start, bar, left=start, color=COLOURS["box"], edgecolor=INK, zorder=3)
            if (end - start) > view.mm(4.0):
                middle = {"ha": "center", "va": "center", "zorder": 9}
                ax.text(0.5 * (start + end), y, letters[piece], fontsize=TYPE, **middle)
            start = end
        left.append((y, f"{row.count} of {row.stock}"))
        if row.left_mm >= 1.0:
            x = row.stock_mm / 1e3 + view.mm(2.0)
            ax.text(x, y, f"{text(row.left_mm / 1e3)} left", va="center", **words)
    view.label("left", *left)
    pieces = {piece for row in rows for piece in row.pieces_mm}
    own = [f"{letters[size]} {text(size / 1e3)}" for size in letters if size in pieces]
    for at in range(0, len(own), 4):
        y = -len(rows) * pitch - view.mm(4.0 + _ROW * at / 4)
        ax.text(ax.get_xlim()[0], y, "    ".join(own[at : at + 4]), va="top", **words)
    ax.set_ylim(limits)


def _dipstick(figure: Figure, sheet: Build, units: System, room: float, strips: range) -> None:
    """Strips of true size with the litres at their heights, to be glued to a stick."""
    wide, high = (25.4 * side for side in figure.get_size_inches())
    top, usable = sheet.dipstick[-1].height_mm, room - _ENDS
    pitch = (wide - 2.0 * _EDGE) / _STRIPS
    for place, strip in enumerate(strips):
        base = strip * usable
        ax = _axes(figure, _EDGE + place * pitch, _FOOT + 10.0, pitch, room - 10.0)
        ax.set_xlim(0.0, pitch / 1e3)
        ax.set_ylim((base - 8.0) / 1e3, (base - 8.0 + room - 10.0) / 1e3)
        end = min(top, base + usable)
        view = View(ax, 1, (0.0, 0.015), (base / 1e3, end / 1e3))
        ax.bar(0.0075, (end - base) / 1e3, 0.015, base / 1e3, color=PAPER, edgecolor=INK)
        marks = []
        for mark in sheet.dipstick:
            if base - 1e-9 <= mark.height_mm <= end + 1e-9:
                y = mark.height_mm / 1e3
                view.line([0.0, 0.015], [y, y])
                told = [both(mark.litres, "litres", units), both(mark.height_mm, "sawn", units)]
                marks.append((y, ", ".join(told)))
        view.label("right", *marks)
        foot = "foot: on the liner" if strip == 0 else "glue this foot on the strip before"
        ax.text(0.0, (base - 3.5) / 1e3, foot, fontsize=TYPE, color=INK, va="top")
    said = "Heights over the liner."
    if sheet.pipe_wall_mm:
        wall = sawn_text(sheet.pipe_wall_mm / 1e3, units)
        said += f" If it will stand inside a pipe, cut {wall} off the foot."
    figure.text(_EDGE / wide, (_FOOT + 3.0) / high, said, fontsize=TYPE, color=INK, va="bottom")
