"""Picture of the trade-off between beds, to choose from at a glance."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.compare.apart import moved_apart
from bedtide.answers.compare.choice import Choice, choose
from bedtide.answers.compare.list import FRONT, PICK, bed_lines, write_lines
from bedtide.constants import AIR_LIMIT
from bedtide.many import spread
from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, PAPER, plain_text
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["air_tradeoff_axes", "compare_figure", "weight_tradeoff_axes"]

_WIDTH = 4.0  # inch; on a phone 360 dots wide, 8 pt type is then 10 dots high
_TITLE, _LABEL = FONT_SIZE + 2.5, FONT_SIZE + 1.0
_POUND = 0.45359237  # kg
_SOME = 1.0  # wet days a year that some bed must have for them to stand on the axis
_LETTERED = 26  # up to so many beds the beaten ones have letters too
_YEAR = 365
_LIFT = 7.0  # of the letter of a beaten bed above its dot [pt]
_TITLES = {
    "air_lowest": "Least air among the roots in a year, %",
    "wet_days": "Days a year with too little air for the roots",
    "want": "Days a year without enough air or water",
}


@plain_text
def compare_figure(
    comparison: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Picture of a comparison: work against air for the roots, and against weight.

    Answers: which bed is filled seldom, keeps its roots in air, and is not too heavy.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    figure : Figure, optional
        Drawn on if given, else a new one 4 inches wide.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    Figure
        Two axes one above the other with fills a year along both, and a list of the beds
        that no other beats.
    """
    lines = bed_lines(comparison, units)
    height = 6.0 + 0.17 * len(lines)
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        figure = NewFigure(figsize=(_WIDTH, height), layout="constrained")
    ratios = [1.25, 1.0, 0.17 * len(lines) / 2.4]
    top, low, words = figure.subplots(3, 1, gridspec_kw={"height_ratios": ratios})
    low.sharex(top)
    air_tradeoff_axes(comparison, ax=top, units=units)
    weight_tradeoff_axes(comparison, ax=low, units=units)
    top.set_xlabel("")
    write_lines(words, lines)
    _letters(comparison, (top, low), (_measure(comparison), "brimful_weight"), units)
    return figure


@plain_text
def air_tradeoff_axes(
    comparison: xr.Dataset, *, ax: Axes | None = None, units: System = "metric"
) -> Axes:
    """Fills a year against days a year on which the roots lack air or water.

    Where there is hardly any such day, against the least air of the year.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        One dot a bed, those that are beaten small and grey. Bars from the 10th to the 90th
        percentile of the years on the others.
    """
    name = _measure(comparison)
    middle, low, high = _heights(comparison, name)
    ax = _scatter(comparison, middle, (low, high), ax)
    limit = 100 * AIR_LIMIT
    if name == "air_lowest" and ax.get_ylim()[0] < limit:
        ax.axhspan(0, limit, color=PICK, alpha=0.10, linewidth=0, zorder=0)
        ax.axhline(limit, color=PICK, linewidth=1.0, zorder=1)
    ax.set_title(_TITLES[name], loc="left", fontsize=_TITLE, color=INK, pad=8)
    _corner(ax, up=name == "air_lowest")
    return ax


@plain_text
def weight_tradeoff_axes(
    comparison: xr.Dataset, *, ax: Axes | None = None, units: System = "metric"
) -> Axes:
    """Fills a year against the weight of the bed when it is full to the rim.

    Parameters
    ----------
    comparison : Dataset, dims (bed, year)
        As `bedtide.answers.compare.run.compare` returns it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Kilograms or pounds.

    Returns
    -------
    Axes
        Dots as in `air_tradeoff_axes`.
    """
    unit, size = ("lb", _POUND) if units == "us" else ("kg", 1.0)
    weight, low, high = (each / size for each in _heights(comparison, "brimful_weight"))
    ax = _scatter(comparison, weight, (low, high), ax)
    bottom, top = ax.get_ylim()
    short = 0.1 * float(weight.max()) - (top - bottom)
    if short > 0:  # beds that weigh nearly the same should look so
        ax.set_ylim(bottom - 0.5 * short, top + 0.5 * short)
    ax.yaxis.set_major_formatter(lambda value, place: f"{value:,.0f}")
    ax.set_title(f"Weight full to the rim, {unit}", loc="left", fontsize=_TITLE, color=INK, pad=8)
    _corner(ax, up=False)
    return ax


def _measure(comparison: xr.Dataset) -> str:
    """What tells the beds apart to their roots.

    Days without enough air or water, those without air where none is dry, or the least air where
    hardly any day is either.
    """
    if (comparison["limited_days_mean"] >= _SOME).any():
        return "want"
    some = bool((comparison["wet_days_mean"] >= _SOME).any())
    rooted = bool(np.isfinite(comparison["air_lowest_mean"]).all())
    return "wet_days" if some or not rooted else "air_lowest"


def _heights(comparison: xr.Dataset, name: str) -> tuple[NDArray[np.float64], ...]:
    """Mean, 10th and 90th percentile of what stands on the upright axis."""
    if name == "brimful_weight":
        weight = comparison[name].to_numpy()
        return weight, weight, weight
    if name == "want":
        each = comparison["wet_days"] + comparison["limited_days"]
        years = spread(each.transpose("bed", "year").to_numpy())
        return each.mean("year").to_numpy(), years.low, years.high
    share = 100.0 if name == "air_lowest" else 1.0
    return tuple(comparison[f"{name}_{end}"].to_numpy() * share for end in ("mean", "p10", "p90"))


def _scatter(
    comparison: xr.Dataset,
    height: NDArray[np.float64],
    around: tuple[NDArray[np.float64], NDArray[np.float64]],
    ax: Axes | None,
) -> Axes:
    """Dots of the beds over fills a year; bars on those that none beats."""
    if ax is None:
        from matplotlib.figure import Figure as NewFigure

        ax = NewFigure(figsize=(_WIDTH, 3.2), layout="constrained").subplots()
    chosen = choose(comparison)
    fills, least, most = (
        comparison[f"refill_count_{end}"].to_numpy() for end in ("mean", "p10", "p90")
    )
    front = ~chosen.beaten
    ax.plot(fills[~front], height[~front], "o", color=MUTED, markersize=3.0, zorder=2)
    for bed in np.flatnonzero(front):
        bar: dict[str, Any] = {
            "color": _colour(bed, chosen),
            "linewidth": 1.0,
            "alpha": 0.4,
            "zorder": 1.5,
        }
        ax.plot([least[bed], most[bed]], [height[bed]] * 2, **bar)
        ax.plot([fills[bed]] * 2, [around[0][bed], around[1][bed]], **bar)
        ax.plot(fills[bed], height[bed], "o", color=_colour(bed, chosen), markersize=4, zorder=2.5)
    each = "a year" if comparison.attrs["days_of_a_year"] == _YEAR else "a season"
    ax.set_xlabel(f"Fills {each}, mean of the years", fontsize=_LABEL, color=INK)
    left, right = _limits(fills, least[front], most[front])
    ax.set_xlim(max(left, -0.05 * right), right)
    ax.set_ylim(*_limits(height, around[0][front], around[1][front]))
    return _finish(ax)


def _limits(*values: NDArray[np.float64]) -> tuple[float, float]:
    """Ends of an axis: all the values with room for a letter on both sides."""
    every = np.concatenate(values)
    every = every[np.isfinite(every)]
    low, high = float(every.min()), float(every.max())
    room = 0.1 * (high - low) if high > low else 0.1 * max(abs(high), 1.0)
    return low - room, high + room


def _colour(bed: Any, chosen: Choice) -> str:
    return PICK if bed == chosen.pick else MUTED if chosen.beaten[bed] else FRONT


def _letters(
    comparison: xr.Dataset, axes: Sequence[Axes], names: Sequence[str], units: System
) -> None:
    """Put a letter beside or on every dot, moved apart where they would cover one another.

    Called once the layout is settled, for the places are worked out in points.
    """
    chosen = choose(comparison)
    figure = axes[0].get_figure(root=True)
    assert figure is not None
    figure.draw_without_rendering()
    shown = np.flatnonzero(~chosen.beaten)
    if comparison.sizes["bed"] <= _LETTERED:
        shown = np.concatenate([shown, np.flatnonzero(chosen.beaten)])
    for ax, name in zip(axes, names, strict=True):
        size = _POUND if name == "brimful_weight" and units == "us" else 1.0
        values = (comparison["refill_count_mean"].to_numpy(), _heights(comparison, name)[0] / size)
        at = ax.transData.transform(np.stack(values, axis=-1)[shown]) * 72.0 / figure.dpi
        width = np.where(chosen.beaten[shown], 9.0, 14.0)
        second = chosen.beaten[shown]
        moved = moved_apart(at, width, second=second, lift=_LIFT) - at
        for place, bed in enumerate(shown):
            front, is_pick = not chosen.beaten[bed], bed == chosen.pick
            far = float(np.hypot(*moved[place])) > (_LIFT + 4.0 if second[place] else 8.0)
            ax.annotate(
                str(comparison["bed"].to_numpy()[bed]),
                (values[0][bed], values[1][bed]),
                xytext=tuple(moved[place]),
                textcoords="offset points",
                ha="center",
                va="center_baseline",
                fontsize=FONT_SIZE,
                fontweight="bold" if front else "normal",
                color=PAPER if front else MUTED,
                zorder=5 if is_pick else 4 if front else 3,
                bbox={
                    "boxstyle": "square,pad=0.35" if is_pick else "circle,pad=0.25",
                    "facecolor": _colour(bed, chosen) if front else PAPER,
                    "edgecolor": PAPER if front else "none",
                    "linewidth": 0.6,
                    "alpha": 1.0 if front else 0.0,
                },
                arrowprops={"arrowstyle": "-", "color": MUTED, "linewidth": 0.5} if far else None,
            )


def _corner(ax: Axes, *, up: bool) -> None:
    """Say which corner is the good one."""
    ax.text(
        0.015,
        0.97 if up else 0.03,
        "\u2196 better" if up else "\u2199 better",
        transform=ax.transAxes,
        ha="left",
        va="top" if up else "bottom",
        fontsize=_LABEL,
        color=MUTED,
        zorder=1,
    )


def _finish(ax: Axes) -> Axes:
    """Quiet frame, few figures on the axes."""
    from matplotlib.ticker import MaxNLocator

    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(labelsize=FONT_SIZE + 0.5, labelcolor=INK, length=0, pad=3)
    ax.tick_params(axis="x", length=3, color=MUTED)
    ax.grid(color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=5, steps=[1, 2, 5, 10]))
    ax.xaxis.set_major_locator(MaxNLocator(nbins=6, steps=[1, 2, 5, 10], integer=True))
    return ax
