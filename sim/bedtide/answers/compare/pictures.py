"""Picture of a comparison: a row for each bed, its fills, its roots and its weight as bars."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from bedtide.constants import AIR_LIMIT
from bedtide.report.style import (
    INK,
    LABEL,
    MUTED,
    TITLE,
    bar_keywords,
    colour,
    plain_text,
    sheet,
    titled,
)
from bedtide.report.templates import counted, mean, whole
from bedtide.units import POUND

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from bedtide.answers.compare.summary import ComparedBed, Comparison
    from bedtide.units import System

_MOST = 20  # beds that are drawn; the others stand in the tables
_SOME = 1.0  # days a year without air or water that some bed must have for them to be drawn
_LINE, _BAR, _GAP = 0.16, 0.15, 0.12  # inch: of a label, of a bar, below it
_LETTERS = 52  # of a line of a label


class _Row(NamedTuple):
    """A bed, the lines of its label, and where the first of them and its bar stand [inch]."""

    bed: ComparedBed
    lines: list[str]
    top: float
    middle: float


@plain_text()
def compare_figure(s: Comparison, *, units: System = "metric") -> Figure:
    """Which bed is filled seldom, keeps its roots in air and water, and is not too heavy.

    The choice stands first, then the beds that no other beats by their fills, then the beaten, and
    last those that fail their plants.
    """
    rows = _rows(s)
    rest, notes = len(s.beds) - len(rows), []
    if s.range or s.years > 1:
        years = f"{'8 in 10' if s.years >= 9 else 'all'} of {s.years} years"
        notes.append(f"thin line: {'8 in 10 of what may be' if s.range else years}")
    if rest:
        notes.append(f"{counted(rest, 'more bed stands', 'more beds stand')} in the tables")
    height = rows[-1].middle + _BAR / 2 + _GAP + 0.2 * len(notes)
    figure = sheet(height + 1.15, "Which bed")
    axes = figure.subplots(1, 3, sharey=True)
    fills_axes(s, rows, axes[0])
    roots_axes(s, rows, axes[1])
    weight_axes(s, rows, axes[2], units)
    for bed, lines, top, _ in rows:
        weight = "bold" if bed.bed == s.choice else "normal"
        for at, text in enumerate(lines):
            ink = MUTED if bed.verdict else INK
            _across(axes[0], top + (at + 0.5) * _LINE, text, color=ink, fontweight=weight)
    for at, note in enumerate(reversed(notes)):
        _across(axes[0], height - 0.2 * (at + 0.5), note, color=MUTED)
    axes[0].set_ylim(height, 0)
    return figure


def _rows(s: Comparison) -> list[_Row]:
    """The beds in their order, each with the place that its label needs."""
    rows, top = [], 0.0
    for bed in s.in_order[:_MOST]:
        word = "build" if bed.bed == s.choice else bed.verdict
        verdict = f": {word}" if word else ""
        lines = textwrap.wrap(f"{bed.bed}{verdict}  {bed.label}", _LETTERS) or [bed.bed]
        middle = top + len(lines) * _LINE + _BAR / 2 + 0.02
        rows.append(_Row(bed, lines, top, middle))
        top = middle + _BAR / 2 + _GAP
    return rows


def _across(ax: Axes, y: float, text: str, **words: Any) -> None:
    """Words over the whole width, which the layout leaves alone."""
    at: dict[str, Any] = {"transform": ax.get_yaxis_transform(), "va": "center", "fontsize": LABEL}
    ax.text(0, y, text, **at, **words).set_in_layout(False)


def fills_axes(s: Comparison, rows: Sequence[_Row], ax: Axes) -> Axes:
    """Fills in the mean year, with a line over the years, or over the range where there is one."""
    for row in rows:
        ax.hlines(row.middle, *s.fills(row.bed), color=INK, linewidth=1.0, zorder=3)
    most = max(s.fills(row.bed)[1] for row in rows)
    values = [row.bed.refills_mean for row in rows]
    _bars(ax, rows, [("water", values)], [mean(value) for value in values], most)
    return _headed(ax, f"Fills\n{s.each}")


def roots_axes(s: Comparison, rows: Sequence[_Row], ax: Axes) -> Axes:
    """Days without enough air or water; where there is hardly any, the least air of all years."""
    wet = [row.bed.wet_days_mean for row in rows]
    dry = [row.bed.dry_days_mean for row in rows]
    airs = [row.bed.lowest_air_percent_min for row in rows]
    known = [air for air in airs if air is not None]
    if max(*wet, *dry) < _SOME and len(known) == len(rows):
        limit = 100 * AIR_LIMIT
        _bars(ax, rows, [("transpiration", known)], [whole(air) for air in known], limit)
        _marked(ax, rows, limit, colour("warning"))
        return _headed(ax, "Least air, %\nred: too little")
    text = [mean(w + d) for w, d in zip(wet, dry, strict=True)]
    _bars(ax, rows, [("warning", wet), ("evaporation", dry)], text)
    titled(ax, "Days without", ("air", colour("warning")), ("water", colour("evaporation")))
    return _headed(ax)


def weight_axes(s: Comparison, rows: Sequence[_Row], ax: Axes, units: System) -> Axes:
    """Weight of the bed when it is full to the rim."""
    unit, size = ("lb", POUND) if units == "us" else ("kg", 1.0)
    values = [row.bed.full_kg / size for row in rows]
    _bars(ax, rows, [("mix_top", values)], [whole(value) for value in values])
    return _headed(ax, f"Weight full,\n{unit}")


def _bars(
    ax: Axes,
    rows: Sequence[_Row],
    parts: Sequence[tuple[str, Sequence[float]]],
    texts: Sequence[str],
    reach: float = 0.0,
) -> None:
    """Bars from nought, one part after another, and what they come to at the right."""
    _marked(ax, rows, 0.0, MUTED)
    at: dict[str, Any] = {"transform": ax.get_yaxis_transform(), "va": "center", "ha": "right"}
    for row, text, *values in zip(rows, texts, *(each for _, each in parts), strict=True):
        end, faint = 0.0, 0.45 if row.bed.verdict else 1
        for (name, _), value in zip(parts, values, strict=True):
            ax.barh(row.middle, value, _BAR, left=end, **bar_keywords(name), alpha=faint)
            end += value
        reach = max(reach, end)
        ax.text(1.0, row.middle, text, fontsize=LABEL, color=INK, **at)
    ax.set_xlim(0, 1.6 * reach if reach > 0 else 1.0)


def _marked(ax: Axes, rows: Sequence[_Row], value: float, shade: str) -> None:
    """A short line across each bar."""
    half = _BAR / 2 + 0.03
    ends = [(row.middle - half, row.middle + half) for row in rows]
    ax.vlines([value] * len(ends), *zip(*ends, strict=True), color=shade, linewidth=1.2, zorder=3)


def _headed(ax: Axes, title: str = "") -> Axes:
    """No frame, no ground that would hide a label, and a title of two lines."""
    if title:  # each line by itself, to stand in a row with those beside it
        above, below = title.splitlines()
        ax.set_title(above, loc="left", fontsize=TITLE, color=INK, pad=16)
        place: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points"}
        ax.annotate(below, (0, 1), (0, 3), fontsize=TITLE, color=INK, **place)
    ax.set_facecolor("none")
    ax.spines[:].set_visible(False)
    ax.set_xticks([])
    ax.set_yticks([])
    return ax
