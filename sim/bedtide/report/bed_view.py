"""A bed as its drawings, their words and its cautions need it; and its picture for a folder."""

from __future__ import annotations

import datetime
import textwrap
from calendar import month_abbr
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from bedtide.bed import (
    Bed,
    Pipes,
    brimful_weight,
    crown_height,
    dead_storage,
    full_level,
    full_store,
    open_store,
    outlet_flow,
    plan_area,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.report.section import Mark, plan, plants_of, section
from bedtide.report.shapes import WIDE, Drawing, paint
from bedtide.report.style import DPI, FONT_SIZE, INK, MUTED, WIDTH, colour, plain_text
from bedtide.report.templates import both, one_line, parts_of

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

    from bedtide.units import System

_MINUTES: Final = 1440.0  # in a day
_LINE: Final = 0.15  # one line below the picture [in]
_WRAP: Final = 60  # characters of it


@dataclass(frozen=True, kw_only=True)
class BedView:
    """A bed, its drawings, what is told beside them [m, L]; None for what it lacks or says not."""

    bed: Bed
    name: str  # in one line
    length_text: str
    width_text: str
    narrows: bool  # downward
    surface: float
    lip: float | None
    marks: tuple[Mark, ...]  # the lowest first
    keys: tuple[tuple[str, str], ...]  # colour and words
    section: Drawing
    plan: Drawing
    full_kg: float  # to the rim
    full_kg_per_m2: float
    dead_litres: float
    outlet_litres_a_minute: float | None  # with the reservoir full to the middle of the outlet


def bed_view(bed: Bed, units: System, levels: Sequence[float] | None = None) -> BedView:
    """A bed with water at these levels [m], or else full to its overflow."""
    walls, outlet, weight = walls_of(bed), bed.overflow, brimful_weight(bed)
    long, wide = (both(1e2 * side, "cm", units) for side in (walls.length, walls.width))
    shown = (full_level(bed),) if levels is None else tuple(levels)
    marks = _marks(bed, levels or (), units)
    flow = None if outlet.bore is None else float(outlet_flow(outlet.bore / 2, outlet.bore))
    return BedView(
        bed=bed,
        name=one_line(bed.name),
        length_text=long,
        width_text=wide,
        narrows=walls.floor < walls.area,
        surface=surface_height(bed),
        lip=None if outlet.state == "none" else outlet.height,
        marks=marks,
        keys=_keys(bed, max(shown, default=0.0), units),
        section=section(bed, marks, shown, wide),
        plan=plan(bed, f"{long} by {wide}"),
        full_kg=weight.total,
        full_kg_per_m2=weight.per_area,
        dead_litres=dead_storage(bed) * plan_area(bed) * 1e3,
        outlet_litres_a_minute=None if flow is None else flow * 1e3 / _MINUTES,
    )


@plain_text()
def section_figure(
    bed: Bed, *, levels: Sequence[float] | None = None, units: System = "metric"
) -> Figure:
    """What does this bed look like inside, across the pipes, and how high is everything.

    `levels` are heights of water to mark [m], filled up to the highest; without them it is filled
    to the overflow.
    """
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    view = bed_view(bed, units, levels)
    _, scale, left, floor, tall = view.section
    title = textwrap.fill(bed.name, 40)
    keys = [(name, textwrap.fill(text, _WRAP)) for name, text in view.keys]
    lines = sum(text.count("\n") + 1 for _, text in keys)
    head, drawn = 0.38 + 0.17 * title.count("\n"), tall * WIDTH / WIDE
    foot = _LINE * lines + 0.03 * len(keys) + 0.06
    high = head + drawn + foot
    figure = Figure((WIDTH, high), dpi=DPI)
    ax = figure.add_axes((0.0, foot / high, 1.0, drawn / high))
    ax.set_xlim(-left / scale, (WIDE - left) / scale)
    ax.set_ylim((floor - tall) / scale, floor / scale)
    ax.set_axis_off()
    paint(ax, view.section.shapes)
    place: dict[str, Any] = {"x": 0.02, "va": "top"}
    figure.text(y=1.0 - 0.06 / high, s=title, weight="bold", fontsize=10, color=INK, **place)
    kind = "across the pipes, " if isinstance(bed.reservoir, Pipes) else ""
    below = f"Section {kind}to scale; {view.length_text} long"
    figure.text(y=1.0 - (head - 0.1) / high, s=below, fontsize=FONT_SIZE, color=MUTED, **place)
    dashes: dict[str, Any] = {"level": (0, (3, 2)), "transpiration": "-"}
    handles: list[Artist] = [
        Line2D([], [], color=colour(name), linestyle=dashes[name])
        if name in dashes
        else Patch(facecolor=colour(name), edgecolor=MUTED, linewidth=0.5)
        for name, _ in keys
    ]
    figure.legend(
        handles,
        [text for _, text in keys],
        loc="lower left",
        fontsize=FONT_SIZE,
        frameon=False,
        handlelength=1.4,
        handleheight=0.9,
        labelspacing=0.35,
        borderaxespad=0.2,
        alignment="left",
    )
    return figure


# --- what is said beside it -------------------------------------------------------------------


def _marks(bed: Bed, levels: Sequence[float], units: System) -> tuple[Mark, ...]:
    """Heights to label, lowest first."""
    crown, overflow = crown_height(bed), bed.overflow
    top, form = surface_height(bed), bed.reservoir.form
    marks = [(bed.box.depth, "rim"), (top, "mix surface"), (crown, f"top of {form}")]
    if overflow.state != "none" and overflow.height is not None:
        heights = {overflow.height: "overflow" + ", blocked" * (overflow.state == "blocked")}
        for change in overflow.changes:
            heights.setdefault(change.height, f"overflow from {_day(change.start)}")
        marks += heights.items()
    if not isinstance(bed.reservoir, Pipes) and 0.0 < wick_foot(bed) < crown:
        marks.append((wick_foot(bed), "foot of the wicks"))
    marks += [(height, "water") for height in levels]
    return tuple(Mark(high, name, both(1e2 * high, "cm", units)) for high, name in sorted(marks))


def _keys(bed: Bed, level: float, units: System) -> tuple[tuple[str, str], ...]:
    """Style and words of each colour, for water up to a level [m]."""
    area, (month, plants) = 1e3 * plan_area(bed), plants_of(bed)
    held = float(open_store(level, bed)) * area
    blocks = parts_of(
        "report/bed_keys.j2",
        units=units,
        layer=bed.reservoir,
        top=bed.top_mix.name,
        wick=bed.wick_mix.name,
        held=held,
        full=full_store(bed) * area,
        dead=min(dead_storage(bed) * area, held),
        drained=bed.overflow.state != "none" and bed.overflow.height is not None,
        soaked=level > wick_foot(bed),
        month=month,
        plants=[plant.name for plant in plants],
    )
    return tuple((row[0], row[1]) for row in blocks["keys"][0])


def _day(start: datetime.date | tuple[int, int]) -> str:
    """First day of a change in words."""
    if isinstance(start, datetime.date):
        return f"{start.day} {month_abbr[start.month]} {start.year}"
    return f"{start[1]} {month_abbr[start[0]]}"
