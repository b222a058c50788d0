"""Picture of the year: for how long the bed can be left from each date."""

from __future__ import annotations

import datetime
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from bedtide.answers.away.axes import LABEL, TITLE, WIDTH, titled
from bedtide.answers.away.parts import SURE
from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, PAPER, STYLES, plain_text
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["calendar_axes", "calendar_figure"]

_YEAR = 365
_MONTHS = "JFMAMJJASOND"
_PLANTS, _STAY = STYLES["transpiration"].colour, STYLES["warning"].colour


@plain_text
def calendar_figure(
    calendar: xr.Dataset,
    *,
    days: int | None = None,
    figure: Figure | None = None,
    units: System = "metric",
) -> Figure:
    """Picture of the days that a bed can be left, by the date of leaving.

    Answers: when can I go away, and for how long.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`bedtide.answers.away.leave_dates.away_calendar` gives it.
    days : int, optional
        A stay to mark: the dates on which it is safe to begin [d].
    figure : Figure, optional
        Drawn on if given, else a new one 4 by 3.4 inches.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Figure
        With one axis.
    """
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        figure = NewFigure(figsize=(WIDTH, 3.4), layout="constrained")
    calendar_axes(calendar, days=days, ax=figure.subplots())
    figure.suptitle(str(calendar.attrs["title"]), x=0.02, ha="left", fontsize=TITLE + 1, color=INK)
    return figure


@plain_text
def calendar_axes(
    calendar: xr.Dataset,
    *,
    days: int | None = None,
    ax: Axes | None = None,
    units: System = "metric",
) -> Axes:
    """Days that it lasts against the date of leaving: nine in ten years, and the middle year.

    Parameters
    ----------
    calendar : Dataset, dims (leave, year)
        As :func:`bedtide.answers.away.leave_dates.away_calendar` gives it.
    days : int, optional
        A stay to mark [d].
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        An area up to the days that are safe and a line for the middle year, or the range of the
        safe days where the calendar has one; all end at what was followed.
    """
    if ax is None:
        from matplotlib.figure import Figure as NewFigure

        ax = NewFigure(figsize=(WIDTH, 3.0), layout="constrained").subplots()
    top = float(calendar.attrs["days_followed"])
    at = np.array([_day_of_year(str(day)) for day in calendar["leave"].to_numpy()])
    safe, middle = (calendar[n].to_numpy() for n in ("days_safe", "days_middle"))
    at, order = np.concatenate([at, [at[0] + _YEAR]]), [*range(at.size), 0]
    safe, middle = (np.minimum(values[order], top) for values in (safe, middle))
    ax.fill_between(at, safe, color=_PLANTS, alpha=0.25, linewidth=0)
    ranged = "days_safe_low" in calendar
    if ranged:
        low_end, high_end = (
            np.minimum(calendar[f"days_safe_{end}"].to_numpy()[order], top)
            for end in ("low", "high")
        )
        ax.plot(at, low_end, color=_PLANTS, linewidth=0.9, linestyle=":")
        ax.plot(at, high_end, color=_PLANTS, linewidth=0.9, linestyle=":")
    ax.plot(at, safe, color=_PLANTS, linewidth=1.8)
    if not ranged:
        ax.plot(at, middle, color=MUTED, linewidth=1.2, linestyle="--")
    sure = calendar.attrs["independent_years"] >= SURE
    how = "9 in 10 years" if sure else "shortest start"
    key = [(how, _PLANTS), *([] if ranged else [("middle", MUTED)])]
    if days is not None:
        ax.axhline(days, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
        key.append((f"{days} days", _STAY))
    grows = calendar["plantings_standing"].to_numpy()[order] > 0
    ax.fill_between(at, -3.0, -1.0, where=grows, color=STYLES["mix_wick"].colour, linewidth=0,
                    step="post")  # fmt: skip
    key.append(("crops", STYLES["mix_wick"].colour))
    low = int(np.nanargmin(safe[:-1]))
    ax.plot([at[low]], [safe[low]], "o", color=_PLANTS, markersize=5)
    ax.annotate(
        f"{safe[low]:.0f}",
        (at[low], safe[low]),
        xytext=(0, -6),
        textcoords="offset points",
        ha="center",
        va="top",
        fontsize=LABEL,
        color=INK,
        fontweight="bold",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.8},
    )
    begins = [_day_of_year(f"{month:02d}-01") for month in range(1, 13)] + [_YEAR]
    ax.set_xticks(begins, minor=False)
    ax.set_xticklabels([])
    ax.set_xticks([0.5 * (a + b) for a, b in pairwise(begins)], minor=True)
    ax.set_xticklabels(list(_MONTHS), minor=True)
    ax.set_xlim(0, _YEAR)
    ax.set_ylim(-4.0, 1.08 * top)
    step = 14 if top <= 70 else 28
    ax.set_yticks([*range(0, int(top) - step // 2, step), int(top)])
    ticks = [f"{tick:.0f}" for tick in ax.get_yticks()]
    ax.set_yticklabels([*ticks[:-1], f"{top:.0f}+"])
    titled(ax, "Days you can be away, by the day you leave", *key)
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(which="both", labelsize=FONT_SIZE + 0.5, labelcolor=INK, length=0, pad=3)
    ax.grid(color=PALE, linewidth=0.6, which="major")
    ax.set_axisbelow(True)
    dotted = "; dotted: its range" if ranged else ""
    ax.set_xlabel(
        f"month of leaving, January to December{dotted}", fontsize=FONT_SIZE + 0.5, color=INK
    )
    return ax


def _day_of_year(month_day: str) -> int:
    month, day = (int(part) for part in month_day.split("-"))
    return (datetime.date(2001, month, day) - datetime.date(2001, 1, 1)).days
