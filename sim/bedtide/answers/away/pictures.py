"""Pictures of a stay away: Dataset in, figure out; no file is written and nothing is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.axes import LABEL, TITLE, WIDTH, finished, labelled, new_axes, titled
from bedtide.answers.away.change_words import measure_label
from bedtide.answers.away.parts import SURE
from bedtide.answers.away.tables import away_summary
from bedtide.many import percentile
from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, PAPER, STYLES, plain_text
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["away_figure", "chance_axes", "course_axes", "measures_axes", "years_axes"]

_BAR = 0.38  # inch that a change takes
_WATER, _PLANTS, _STAY = (STYLES[n].colour for n in ("level", "transpiration", "warning"))


@plain_text
def away_figure(
    stay: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Picture of a stay away, to be read on a phone.

    Answers: how long will it last, how does it fail, in which years, what would help.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    figure : Figure, optional
        Drawn on if given, else a new one 4 inches wide.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    Figure
        Chance and course; the years where any falls short of what was followed; the changes
        where they were tried and there is something to gain.
    """
    panels: list[Callable[..., Axes]] = [chance_axes, course_axes]
    heights = [2.3, 2.3]
    if np.isfinite(_lasted(stay)).any():
        panels.append(years_axes)
        heights.append(2.1)
    if stay.sizes["measure"] > 1 and np.isfinite(stay["days_safe"][0]):
        panels.append(measures_axes)
        heights.append(0.55 + _BAR * stay.sizes["measure"])
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        figure = NewFigure(figsize=(WIDTH, sum(heights) + 0.5), layout="constrained")
    axes = figure.subplots(len(heights), 1, gridspec_kw={"height_ratios": heights})
    for ax, panel in zip(axes, panels, strict=True):
        panel(stay, ax=ax, units=units)
    figure.suptitle(str(stay.attrs["title"]), x=0.02, ha="left", fontsize=TITLE + 1, color=INK)
    return figure


@plain_text
def chance_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """In how many of the cases the bed lasts, against the days away.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        A falling step line; marked are the days that are safe and the stay that was asked for.
    """
    ax = new_axes(ax)
    lasted, cases = _lasted(stay), stay.sizes["case"]
    days = np.arange(0, _shown(stay) + 1)
    count = (lasted[None, :] >= days[:, None]).sum(axis=1)
    ax.fill_between(days, count, step="mid", color=_PLANTS, alpha=0.18, linewidth=0)
    ax.step(days, count, where="mid", color=_PLANTS, linewidth=1.8)
    away, safe = int(stay.attrs["days_away"]), float(stay["days_safe"][0])
    through = int((lasted >= away).sum())
    ax.axvline(away, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
    ax.plot([away], [through], "D", color=_STAY, markersize=5)
    unit = "years" if stay.attrs["independent_years"] >= SURE else "starts"
    ax.set_ylim(0, cases * 1.08)
    labelled(
        ax,
        away,
        through,
        f"your {away} days:\n{through} of {cases}",
        _STAY,
        left=away > 0.7 * days[-1],
    )
    if np.isfinite(safe):
        at = int((lasted >= safe).sum())
        ax.plot([safe], [at], "o", color=_PLANTS, markersize=6)
        how = "9 in 10" if unit == "years" else "shortest"
        left = safe < away <= 0.7 * days[-1] or safe > 0.5 * days[-1]
        labelled(ax, safe, at, f"{safe:.0f} days:\n{how}", INK, left=left)
    ax.set_xlim(0, days[-1])
    titled(ax, f"In how many of {cases} {unit} it lasts so many days")
    return finished(ax, "days away")


@plain_text
def course_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Reservoir and plants from day to day: the middle case, and eight in ten of all.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        Two lines with their bands, in percent.
    """
    ax = new_axes(ax)
    days = np.arange(1, _shown(stay) + 1)
    for name, colour, dashes in (
        ("store_share", _WATER, "-"),
        ("uptake_factor", _PLANTS, STYLES["transpiration"].dashes),
    ):
        values = 100 * stay[name].to_numpy()[:, : days.size].T
        low, middle, high = (percentile(values, share) for share in (0.1, 0.5, 0.9))
        ax.fill_between(days, low, high, color=colour, alpha=0.18, linewidth=0)
        ax.plot(days, middle, color=colour, linestyle=dashes, linewidth=1.8)
    ax.axhline(90, color=MUTED, linewidth=0.8, linestyle=":")
    away = int(stay.attrs["days_away"])
    ax.axvline(away, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
    ax.set_ylim(0, 108)
    ax.set_xlim(0, days[-1])
    titled(
        ax,
        "How it goes, %",
        ("reservoir", _WATER),
        ("plants' need", _PLANTS),
        ("you are back", _STAY),
    )
    return finished(ax, "days away; bands: 8 in 10 of the cases")


@plain_text
def years_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Days that it lasts in each year.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        One dot a case; the years that fall short of the stay filled, the others open, the worst
        named. Cases that outlast what was followed stand at the top.
    """
    ax = new_axes(ax)
    lasted, years = _lasted(stay), stay["year"].to_numpy()
    top, away = float(stay.attrs["days_followed"]), int(stay.attrs["days_away"])
    height = np.minimum(lasted, top)
    short = lasted < away
    ax.axhline(away, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
    ax.plot(years[short], height[short], "v", color=_STAY, markersize=5.5)
    ax.plot(
        years[~short], height[~short], "o", color=PAPER, markeredgecolor=_PLANTS,
        markeredgewidth=1.4, markersize=5.5,
    )  # fmt: skip
    _name_worst(ax, years, height)
    low, high = min(0.0, height.min()), max(height.max(), away)
    ax.set_ylim(low, 1.15 * high)
    margin = 0.6 if np.ptp(years) < 10 else 1.0
    ax.set_xlim(years.min() - margin, years.max() + margin)
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(nbins=6, integer=True))
    beyond = "; at the top: longer" if np.isinf(lasted).any() else ""
    titled(ax, "Days that it lasts in each year", ("too short", _STAY), ("long enough", _PLANTS))
    return finished(ax, f"year of the weather{beyond}", keep_x=True)


@plain_text
def measures_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """What each change buys: days that are safe, the most at the top.

    Parameters
    ----------
    stay : Dataset, dims (measure, case, day)
        As :func:`bedtide.answers.away.run.away` gives it.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    Axes
        One bar a change, its words above it; the part beyond the bed as it is darker.
    """
    ax = new_axes(ax)
    figures = away_summary(stay)
    top = float(stay.attrs["days_followed"])
    safe = np.minimum(stay["days_safe"].to_numpy(), top)
    middle = np.minimum(stay["days_middle"].to_numpy(), top)
    order = [*sorted(range(1, safe.size), key=lambda at: (safe[at], middle[at])), 0]
    away = int(stay.attrs["days_away"])
    ax.axvline(away, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes, zorder=0.5)
    behind = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6}
    for row, at in enumerate(order):
        base = min(safe[0], safe[at])
        bar: dict[str, Any] = {"height": 0.36, "zorder": 2}
        ax.barh(row, base, color=PALE, **bar)
        ax.barh(row, safe[at] - base, left=base, color=_WATER, hatch="//", edgecolor=PAPER,
                linewidth=0, **bar)  # fmt: skip
        words: dict[str, Any] = {
            "textcoords": "offset points", "fontsize": LABEL, "color": INK, "bbox": behind,
            "zorder": 3,
        }  # fmt: skip
        days = f"{safe[at]:.0f}" if safe[at] < top else f"{top:.0f}+"
        ax.annotate(days, (safe[at], row), xytext=(4, 0), va="center", fontweight="bold", **words)
        label = measure_label(figures["measures"][at], figures, units)
        ax.annotate(label, (0, row + 0.18), xytext=(1, 1.5), va="bottom", **words)
    ax.set_ylim(-0.5, safe.size - 0.1)
    ax.set_xlim(0, 1.12 * max(safe.max(), away))
    ax.set_yticks([])
    sure = "9 in 10 years" if stay.attrs["independent_years"] >= SURE else "shortest start"
    titled(ax, f"What each change buys: days, {sure}", ("gained", _WATER), ("your stay", _STAY))
    return finished(ax, "days", upright=False)


def _lasted(stay: xr.Dataset) -> NDArray[np.float64]:
    return stay["days_lasted"].isel(measure=0).to_numpy()


def _shown(stay: xr.Dataset) -> int:
    """Days that the pictures reach to: past the stay and most failures, as far as was followed."""
    lasted = _lasted(stay)
    followed, away = int(stay.attrs["days_followed"]), int(stay.attrs["days_away"])
    if np.isinf(lasted).any():
        return followed
    return min(followed, int(max(1.3 * away, lasted.max() + 4)))


def _name_worst(ax: Axes, years: NDArray[Any], height: NDArray[np.float64]) -> None:
    """Write the years of the lowest dots below them, no two on one another."""
    named: list[int] = []
    for at in np.argsort(height, kind="stable"):
        if len(named) == 3 or height[at] >= height.max():
            break
        if all(abs(int(years[at]) - year) > 0.16 * np.ptp(years) for year in named):
            named.append(int(years[at]))
            ax.annotate(
                str(years[at]), (years[at], height[at]), xytext=(0, -7), ha="center", va="top",
                textcoords="offset points", fontsize=FONT_SIZE + 0.5, color=INK,
            )  # fmt: skip
