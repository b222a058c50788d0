"""Maps as pictures: a sheet of small maps and its key; no file is written and nothing is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.map_.layers import Ground, Layer, Sheet
from bedtide.answers.map_.summary import compass
from bedtide.report.style import COLOURS, INK, LABEL, MUTED, PALE, TICK, WIDTH, plain_text, sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_NAMED = 12  # places whose names fit on a map
_TALLEST = 1.3  # of a small map, for its width


@plain_text
def sheet_figure(drawn: Sheet, ground: Ground, names: Sequence[str] = ()) -> Figure:
    """A sheet of maps; points carry their names on a single map, where these don't overprint."""
    from matplotlib.patches import Patch

    count = len(drawn.layers)
    columns = {1: 1, 2: 2, 4: 2}.get(count, 3)
    rows = math.ceil(count / columns)
    panel = WIDTH / columns * min(ground.height, _TALLEST)
    title = 0.28 if count > 1 else 0.1
    abreast = _abreast([word for _, word in drawn.key])
    lines = math.ceil(len(drawn.key) / abreast)
    height = 0.55 + rows * (panel * 0.86 + title) + 0.25 * lines + 0.3
    figure = sheet(height, drawn.title)
    axes = np.atleast_1d(figure.subplots(rows, columns)).reshape(-1)
    for at, ax in enumerate(axes):
        if at >= count:
            ax.set_visible(False)
            continue
        _map(ax, drawn, drawn.layers[at], ground, ticks=count == 1)
    if count == 1 and not ground.wide and len(names) <= _NAMED:
        _named(figure, axes[0], ground, names)
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
    return figure


def _abreast(words: Sequence[str]) -> int:
    """Words of a key that fit beside one another."""
    return max(1, min(len(words), int(48 / (max(map(len, words)) + 4))))


def _map(ax: Axes, drawn: Sheet, layer: Layer, ground: Ground, *, ticks: bool) -> None:
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Rectangle

    for number, colour in enumerate(drawn.colours):
        at = [place for place, own in enumerate(layer.classes) if own == number]
        shade: dict[str, Any] = {"facecolor": COLOURS[colour]}
        if ground.wide:
            cells = [
                Rectangle(
                    (ground.x[i] - ground.wide / 2, ground.y[i] - ground.tall / 2),
                    ground.wide,
                    ground.tall,
                )
                for i in at
            ]
            ax.add_collection(PatchCollection(cells, linewidth=0.2, edgecolor="face", **shade))
        else:
            x, y = ([values[i] for i in at] for values in (ground.x, ground.y))
            ax.scatter(x, y, s=40 if ticks else 22, edgecolor=INK, linewidth=0.5, **shade)
    ax.set_xlim(0.0, 1.0)
    ax.set_ylim(ground.height, 0.0)
    ax.set_aspect("equal", adjustable="box")
    ax.set_facecolor("white")
    for spine in ax.spines.values():
        spine.set_color(PALE)
    ax.set_title(layer.title, loc="left", fontsize=LABEL, color=INK, pad=3)
    ax.set_xticks([0, 1] if ticks else [])
    ax.set_yticks([0, ground.height] if ticks else [])
    if ticks:
        ax.set_xticklabels([compass(ground.west, "EW"), compass(ground.east, "EW")])
        ax.set_yticklabels([compass(ground.north, "NS"), compass(ground.south, "NS")])
        ax.get_xticklabels()[-1].set_horizontalalignment("right")
        ax.get_xticklabels()[0].set_horizontalalignment("left")
    ax.tick_params(labelsize=TICK, labelcolor=MUTED, length=0, pad=3)


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
