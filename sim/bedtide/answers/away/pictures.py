"""Pictures of a stay away and of its calendar: Dataset in, axes out; nothing is shown."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.away.summary import summary_of
from bedtide.many import FEW_YEARS, percentile
from bedtide.report.style import (
    INK,
    LABEL,
    MUTED,
    PALE,
    PAPER,
    STYLES,
    TICK,
    axes_on,
    colour,
    plain_text,
    quiet,
    sheet,
    titled,
)
from bedtide.report.templates import counted, line
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_BAR = 0.38  # inch that a change takes
_LETTERS = 46  # of a line above a bar
_YEAR = 365
_WATER, _PLANTS, _STAY = (colour(name) for name in ("level", "transpiration", "warning"))
_LABEL = (
    "{% import 'answers/away/parts.j2' as parts %}{{ parts.label(change, s) }}: "
    "{{ parts.many(change.days_safe, s.days_followed) }}"
)


@plain_text
def away_figure(
    stay: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """How long will it last, how does it fail, in which years, what would help."""
    panels: list[Callable[..., Axes]] = [chance_axes, course_axes]
    heights = [2.3, 2.3]
    if np.isfinite(_lasted(stay)).any():
        panels.append(years_axes)
        heights.append(2.1)
    if stay.sizes["measure"] > 1 and np.isfinite(stay["days_safe"][0]):
        panels.append(measures_axes)
        heights.append(0.55 + _BAR * sum(map(_room, _labels(stay, units))))
    figure = sheet(sum(heights) + 0.5, str(stay.attrs["title"]), figure)
    axes = figure.subplots(len(heights), 1, gridspec_kw={"height_ratios": heights})
    for ax, panel in zip(axes, panels, strict=True):
        panel(stay, ax=ax, units=units)
    return figure


@plain_text
def chance_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """In how many of the cases the bed lasts, against the days away."""
    from matplotlib.ticker import MaxNLocator

    ax = axes_on(ax)
    lasted, cases = _lasted(stay), stay.sizes["case"]
    days = np.arange(0, _shown(stay) + 1)
    count = (lasted[None, :] >= days[:, None]).sum(axis=1)
    ax.fill_between(days, count, step="mid", color=_PLANTS, alpha=0.18, linewidth=0)
    ax.step(days, count, where="mid", color=_PLANTS, linewidth=1.8)
    away, safe = int(stay.attrs["days_away"]), float(stay["days_safe"][0])
    through = int((lasted >= away).sum())
    _mark_stay(ax, away)
    ax.plot([away], [through], STYLES["warning"].marker, color=_STAY, markersize=5)
    ax.set_ylim(0, cases * 1.08)
    ax.set_xlim(0, max(days[-1], int(stay.attrs["days_away"])))
    unit = "year" if _sure(stay) else "start"
    words = [(f"your {away} days: {through} of {cases}", _STAY)]
    if np.isfinite(safe):
        ax.plot([safe], [int((lasted >= safe).sum())], "o", color=_PLANTS, markersize=6)
        how = "9 in 10" if unit == "year" or cases > FEW_YEARS else "shortest"
        words.append((f"{safe:.0f} days: {how}", _PLANTS))
    titled(ax, f"In how many of {counted(cases, unit)} it lasts", *words)
    quiet(ax, "days away")
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, integer=True))
    return ax


@plain_text
def course_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Reservoir and plants from day to day: the middle case, and eight in ten of all."""
    ax = axes_on(ax)
    days = np.arange(1, _shown(stay) + 1)
    for name, style in (("store_share", "level"), ("uptake_factor", "transpiration")):
        values = 100 * stay[name].to_numpy()[:, : days.size].T
        low, middle, high = (percentile(values, share) for share in (0.1, 0.5, 0.9))
        line_of = {"color": colour(style), "linestyle": STYLES[style].dashes, "linewidth": 1.8}
        ax.fill_between(days, low, high, color=colour(style), alpha=0.18, linewidth=0)
        ax.plot(days, middle, **line_of)
    ax.axhline(90, color=MUTED, linewidth=0.8, linestyle=":")
    _mark_stay(ax, int(stay.attrs["days_away"]))
    ax.set_ylim(0, 108)
    ax.set_xlim(0, max(days[-1], int(stay.attrs["days_away"])))
    words = (("reservoir", _WATER), ("plants' need", _PLANTS), ("you are back", _STAY))
    titled(ax, "How it goes, % at the end of the day", *words)
    unit = "years" if _sure(stay) else "starts"
    return quiet(ax, f"days away; bands: 8 in 10 of the {unit}; dotted: 90 %")


@plain_text
def years_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Days that it lasts in each year; what outlasts the days followed stands at the top."""
    ax = axes_on(ax)
    lasted, years = _lasted(stay), stay["year"].to_numpy()
    top, away = float(stay.attrs["days_followed"]), int(stay.attrs["days_away"])
    height = np.minimum(lasted, top)
    short = lasted < away
    ax.axhline(away, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
    ax.plot(years[short], height[short], "v", color=_STAY, markersize=5.5)
    ring: dict[str, Any] = {"color": PAPER, "markeredgecolor": _PLANTS, "markeredgewidth": 1.4}
    ax.plot(years[~short], height[~short], "o", markersize=5.5, **ring)
    _name_worst(ax, years, height)
    ax.set_ylim(min(0.0, height.min()), 1.15 * max(height.max(), away))
    ax.set_xlim(years.min() - 1, years.max() + 1)
    titled(ax, "Days it lasts in each year", ("too short", _STAY), ("long enough", _PLANTS))
    return quiet(ax, f"year{'; at the top: longer' if np.isinf(lasted).any() else ''}")


@plain_text
def measures_axes(stay: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """What each change buys, the most at the top: days, the part gained darker, words above."""
    ax = axes_on(ax)
    top = float(stay.attrs["days_followed"])
    safe = np.minimum(stay["days_safe"].to_numpy(), top)
    names = [change.measure for change in summary_of(stay).changes]
    order = [stay["measure"].to_numpy().tolist().index(name) for name in reversed(names[1:])] + [0]
    away = int(stay.attrs["days_away"])
    _mark_stay(ax, away)
    bar: dict[str, Any] = {"height": 0.36, "zorder": 2, "linewidth": 0}
    words: dict[str, Any] = {
        "textcoords": "offset points", "fontsize": LABEL, "color": INK, "zorder": 3,
        "bbox": {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    }  # fmt: skip
    labels = _labels(stay, units)
    row = 0.0
    for at in order:
        base = min(safe[0], safe[at])
        ax.barh(row, base, color=PALE, **bar)
        gain: dict[str, Any] = {"color": _WATER, "hatch": "//", "edgecolor": PAPER}
        ax.barh(row, safe[at] - base, left=base, **gain, **bar)
        ax.annotate(labels[at], (0, row + 0.18), xytext=(1, 1.5), va="bottom", **words)
        row += _room(labels[at])
    ax.set_ylim(-0.5, row - 0.1)
    ax.set_xlim(0, 1.04 * max(safe.max(), away))
    ax.set_yticks([])
    titled(ax, "What each change buys", ("gained", _WATER), ("your stay", _STAY))
    return quiet(ax, f"days, in {_how(stay)}", upright=False)


# --- the calendar -----------------------------------------------------------------------------


@plain_text
def calendar_figure(
    calendar: xr.Dataset,
    *,
    days: int | None = None,
    figure: Figure | None = None,
    units: System = "metric",
) -> Figure:
    """When can I go away, and for how long; a stay of some days [d] is marked."""
    figure = sheet(3.4, str(calendar.attrs["title"]), figure)
    calendar_axes(calendar, days=days, ax=figure.subplots(), units=units)
    return figure


@plain_text
def calendar_axes(
    calendar: xr.Dataset,
    *,
    days: int | None = None,
    ax: Axes | None = None,
    units: System = "metric",
) -> Axes:
    """Days that are safe by the date of leaving, with the middle or the range of each."""
    ax = axes_on(ax)
    top = float(calendar.attrs["days_followed"])
    first = int(calendar.attrs["first_month"])  # midwinter, so that no summer is cut in two
    opens = _day_of_year(f"{first:02d}-01")
    at = np.array([_day_of_year(str(day)) - opens for day in calendar["leave"].to_numpy()]) % _YEAR
    order = [*np.argsort(at).tolist(), int(np.argmin(at))]
    at = np.append(np.sort(at), at.min() + _YEAR)

    def round_the_year(name: str) -> NDArray[np.float64]:
        return np.minimum(calendar[name].to_numpy()[order], top)

    safe, ranged = round_the_year("days_safe"), "days_safe_low" in calendar
    ax.plot(at, safe, color=_PLANTS, linewidth=1.8)
    ax.fill_between(at, safe, color=_PLANTS, alpha=0.25, linewidth=0)
    key = [(_how(calendar), _PLANTS)]
    if ranged:
        for end in ("low", "high"):
            dotted: dict[str, Any] = {"linewidth": 0.9, "linestyle": ":"}
            ax.plot(at, round_the_year(f"days_safe_{end}"), color=_PLANTS, **dotted)
    else:
        ax.plot(at, round_the_year("days_middle"), color=MUTED, linewidth=1.2, linestyle="--")
        key.append(("middle", MUTED))
    if days is not None:
        ax.axhline(days, color=_STAY, linewidth=1.3, linestyle=STYLES["warning"].dashes)
        key.append((f"{days} days", _STAY))
    grows = calendar["plantings_standing"].to_numpy()[order] > 0
    strip: dict[str, Any] = {"color": colour("mix_wick"), "linewidth": 0, "step": "post"}
    ax.fill_between(at, -3.0, -1.0, where=grows, **strip)
    key.append(("crops", colour("mix_wick")))
    low = int(np.nanargmin(safe[:-1]))
    ax.plot([at[low]], [safe[low]], "o", color=_PLANTS, markersize=5)
    months = [*range(first, 13), *range(1, first)]
    begins = [(_day_of_year(f"{month:02d}-01") - opens) % _YEAR for month in months] + [_YEAR]
    ax.set_xlim(0, _YEAR)
    ax.set_ylim(-4.0, 1.08 * top)
    titled(ax, f"Days you can be away: at least {safe[low]:.0f}", *key)
    quiet(ax, f"month you leave{'; dotted: its range' if ranged else ''}", keep_x=True)
    ax.set_xticks(begins, labels=[""] * len(begins))
    middles = [0.5 * (a + b) for a, b in pairwise(begins)]
    ax.set_xticks(middles, labels=["JFMAMJJASOND"[m - 1] for m in months], minor=True)
    ax.tick_params(axis="x", which="minor", labelsize=TICK, labelcolor=INK, length=0, pad=3)
    step = 14 if top <= 70 else 28
    ticks = [*range(0, int(top) - step // 2, step), int(top)]
    ax.set_yticks(ticks, labels=[*map(str, ticks[:-1]), f"{top:.0f}+"])
    return ax


# --- what they share --------------------------------------------------------------------------


def _lasted(stay: xr.Dataset) -> NDArray[np.float64]:
    return stay["days_lasted"].isel(measure=0).to_numpy()


def _sure(dataset: xr.Dataset) -> bool:
    return bool(dataset.attrs["independent_years"] >= FEW_YEARS)


def _how(dataset: xr.Dataset) -> str:
    return "9 in 10 years" if _sure(dataset) else "9 in 10 starts"


def _shown(stay: xr.Dataset) -> int:
    """Days that the pictures reach to: past the stay and most failures, as far as was followed."""
    lasted = _lasted(stay)
    followed, away = int(stay.attrs["days_followed"]), int(stay.attrs["days_away"])
    if np.isinf(lasted).any():
        return followed
    return min(followed, int(max(1.3 * away, lasted.max() + 4)))


def _labels(stay: xr.Dataset, units: System) -> list[str]:
    """What each change is called, on as many lines as it takes."""
    summary = summary_of(stay)
    texts = [line(_LABEL, units=units, change=change, s=summary) for change in summary.measures]
    return ["\n".join(textwrap.wrap(text, _LETTERS)) for text in texts]


def _room(label: str) -> float:
    """Height of a bar with its label, in rows."""
    return 1.0 + 0.55 * label.count("\n")


def _mark_stay(ax: Axes, away: int) -> None:
    dashes = STYLES["warning"].dashes
    ax.axvline(away, color=_STAY, linewidth=1.3, linestyle=dashes, zorder=0.5)


def _name_worst(ax: Axes, years: NDArray[Any], height: NDArray[np.float64]) -> None:
    """Write the years of the lowest dots below them, no two on one another."""
    named: list[int] = []
    for at in np.argsort(height, kind="stable"):
        if len(named) == 3 or height[at] >= height.max():
            break
        if all(abs(int(years[at]) - year) > 0.16 * np.ptp(years) for year in named):
            named.append(int(years[at]))
            below: dict[str, Any] = {"textcoords": "offset points", "ha": "center", "va": "top"}
            point, text = (float(years[at]), float(height[at])), str(years[at])
            ax.annotate(text, point, xytext=(0, -7), fontsize=TICK, color=INK, **below)


def _day_of_year(month_day: str) -> int:
    return datetime.date.fromisoformat(f"2001-{month_day}").timetuple().tm_yday - 1
