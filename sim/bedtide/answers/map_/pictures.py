"""Maps as pictures: a sheet of small maps and its key; no file is written and nothing is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.map_.layers import Ground, Sheet
from bedtide.answers.map_.summary import compass
from bedtide.report.style import COLOURS, INK, LABEL, MUTED, PALE, TICK, WIDTH, plain_text, sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_NAMED = 12  # places whose names fit on a map
_TALLEST = 1.3  # of a small map, for its width
_GAP = 0.06  # between small maps, for their width


@plain_text()
def sheet_figure(drawn: Sheet, ground: Ground, names: Sequence[str] = ()) -> Figure:
    """A sheet of maps; points carry their names on a single map, where these don't overprint."""
    from matplotlib.patches import Patch

    count = len(drawn.layers)
    columns = {1: 1, 2: 2, 4: 2}.get(count, 3)
    rows = math.ceil(count / columns)
    wide = 0.9 * WIDTH / columns * min(1.0, _TALLEST / ground.height)  # of a small map [inch]
    above = (0.25 if count > 1 else 0.05) / wide  # room for its title, in widths
    abreast = _abreast([word for _, word in drawn.key])
    lines = math.ceil(len(drawn.key) / abreast)
    height = 0.75 + rows * (ground.height + above) * wide + 0.25 * lines
    figure = sheet(height, drawn.title)
    ax = figure.subplots()
    corners = [
        (at % columns * (1.0 + _GAP), at // columns * (ground.height + above))
        for at in range(count)
    ]
    _maps(ax, drawn, ground, corners)
    ax.set_xlim(-0.01, columns * (1.0 + _GAP) - _GAP + 0.01)
    ax.set_ylim(rows * (ground.height + above) - above + 0.01, -above)
    ax.set_aspect("equal")
    ax.set(frame_on=False, xticks=[], yticks=[])
    if count == 1:
        ax.set_xticks([0, 1], [compass(ground.west, "EW"), compass(ground.east, "EW")])
        ends = [compass(ground.north, "NS"), compass(ground.south, "NS")]
        ax.set_yticks([0, ground.height], ends)
        ax.get_xticklabels()[0].set_horizontalalignment("left")
        ax.get_xticklabels()[1].set_horizontalalignment("right")
        ax.tick_params(labelsize=TICK, labelcolor=MUTED, length=0, pad=3)
    keys = [
        Patch(facecolor=COLOURS[colour], edgecolor=MUTED, linewidth=0.5, label=word)
        for colour, word in drawn.key
    ]
    figure.legend(
        handles=keys,
        loc="outside lower left",
        ncols=abreast,
        fontsize=LABEL,
        frameon=False,
        handlelength=1.0,
        handletextpad=0.5,
        columnspacing=1.0,
    )
    if count == 1 and not ground.wide and len(names) <= _NAMED:
        _named(figure, ax, ground, names)
    return figure


def _abreast(words: Sequence[str]) -> int:
    """Words of a key that fit beside one another."""
    return max(1, min(len(words), int(48 / (max(map(len, words)) + 4))))


def _maps(ax: Axes, drawn: Sheet, ground: Ground, corners: Sequence[tuple[float, float]]) -> None:
    """All small maps of a sheet on one axes: cells as one collection, or points as one."""
    from matplotlib.collections import PolyCollection

    x, y = np.array(ground.x), np.array(ground.y)
    spots, shades = [], []
    for layer, (left, top) in zip(drawn.layers, corners, strict=True):
        classes = np.array(layer.classes)
        spots.append(np.stack([x + left, y + top], axis=1)[classes >= 0])
        shades += [COLOURS[drawn.colours[own]] for own in layer.classes if own >= 0]
        ax.text(left, top - 0.02, layer.title, fontsize=LABEL, color=INK, va="bottom")
    middles = np.concatenate(spots)
    frame = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, ground.height), (0.0, ground.height)])
    boxes = np.array(corners)[:, None] + frame
    edges = PolyCollection(list(boxes), facecolor="none", edgecolor=PALE, linewidth=0.8, zorder=3)
    ax.add_collection(edges)
    if ground.wide:
        cell = (frame / (1.0, ground.height) - 0.5) * (ground.wide, ground.tall)
        cells = list(middles[:, None] + cell)
        ax.add_collection(
            PolyCollection(cells, facecolor=shades, edgecolor="face", linewidth=0.2), autolim=False
        )
    else:
        size = 40 if len(corners) == 1 else 22
        x, y = middles.T
        ax.scatter(x, y, s=size, c=shades, edgecolor=INK, linewidth=0.5)


def _named(figure: Figure, ax: Axes, ground: Ground, names: Sequence[str]) -> None:
    """Names beside their points; one that would lie over another, or over a point, is left out."""
    figure.draw_without_rendering()
    points = [ax.transData.transform((x, y)) for x, y in zip(ground.x, ground.y, strict=True)]
    inside = ax.get_window_extent()
    taken: list[Any] = []
    for (x, y), name in zip(points, names, strict=True):
        if not np.isfinite(x):
            continue
        for side, gap in (("left", 6), ("right", -6)):
            text = ax.annotate(
                name,
                tuple(ax.transData.inverted().transform((x, y))),
                xytext=(gap, 0),
                textcoords="offset points",
                ha=side,
                va="center",
                fontsize=TICK,
                color=INK,
            )
            box = text.get_window_extent()
            free = not any(box.overlaps(other) for other in taken) and not any(
                box.contains(*point) for point in points
            )
            if free and inside.x0 <= box.x0 and box.x1 <= inside.x1:
                taken.append(box)
                break
            text.remove()
