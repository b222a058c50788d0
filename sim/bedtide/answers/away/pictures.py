"""Pictures of a stay away and of its calendar: its figures in, axes out."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Callable
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.report.style import (
    INK,
    LABEL,
    MUTED,
    PALE,
    PAPER,
    STYLES,
    TICK,
    colour,
    plain_text,
    quiet,
    sheet,
    titled,
)
from bedtide.report.templates import counted, line
from bedtide.units import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from bedtide.answers.away.summary import Band, Calendar, Stay

_BAR = 0.38  # inch that a change takes
_LETTERS = 46  # of a line above a bar
_YEAR = 365
_WATER, _PLANTS, _STAY = (colour(name) for name in ("level", "transpiration", "warning"))
_DASHES = STYLES["warning"].dashes
_LABEL = (
    "{% import 'answers/away/parts.j2' as parts %}{{ parts.label(change, s) }}: "
    "{{ parts.many(change.days_safe, s.days_followed) }}"
)


@plain_text()
def away_figure(s: Stay, course: dict[str, Band], *, units: System = "metric") -> Figure:
    """How long will it last, how does it fail, in which years, what would help."""
    panels: list[tuple[float, Callable[[Axes], Axes]]] = [
        (2.3, partial(chance_axes, s)),
        (2.3, partial(course_axes, s, course)),
    ]
    if s.days_shortest is not None:
        panels.append((2.1, partial(years_axes, s)))
    if len(s.measures) > 1 and s.days_safe is not None:
        rows = sum(_room(label) for label in _labels(s, units).values())
        panels.append((0.55 + _BAR * rows, partial(measures_axes, s, units)))
    heights = [height for height, _ in panels]
    figure = sheet(sum(heights) + 0.5, s.bed)
    axes = figure.subplots(len(heights), 1, gridspec_kw={"height_ratios": heights})
    for ax, (_, draw) in zip(axes, panels, strict=True):
        draw(ax)
    return figure


def chance_axes(s: Stay, ax: Axes) -> Axes:
    """In how many of the cases the bed lasts, against the days away."""
    from matplotlib.ticker import MaxNLocator

    shown = _shown(s)
    days = np.arange(shown + 1)
    count = [s.cases, *(each.cases_lasting for each in s.chances[:shown])]
    ax.fill_between(days, count, step="mid", color=_PLANTS, alpha=0.18, linewidth=0)
    ax.step(days, count, where="mid", color=_PLANTS, linewidth=1.8)
    _mark_stay(s, ax)
    mark: dict[str, Any] = {"color": _STAY, "markersize": 5, "clip_on": False}
    ax.plot([s.days_away], [s.cases_lasting], STYLES["warning"].marker, **mark)
    ax.set_ylim(0, s.cases * 1.08)
    words = [(f"your {s.days_away} days: {s.cases_lasting} of {s.cases}", _STAY)]
    if s.days_safe is not None:
        ax.plot([s.days_safe], [count[int(s.days_safe)]], "o", color=_PLANTS, markersize=6)
        how = "9 in 10" if s.sure or s.cases > 9 else "shortest"
        words.append((f"{s.days_safe:.0f} days: {how}", _PLANTS))
    titled(ax, f"In how many of {counted(s.cases, s.case)} it lasts", *words)
    quiet(ax, "days away")
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, integer=True))
    return ax


def course_axes(s: Stay, course: dict[str, Band], ax: Axes) -> Axes:
    """Reservoir and plants from day to day: the middle case, and eight in ten of all."""
    shown = _shown(s)
    days = np.arange(1, shown + 1)
    for band, name in ((course["store"], "level"), (course["need"], "transpiration")):
        low, middle, over = (np.array(part[:shown]) for part in band)
        ax.fill_between(days, low, low + over, color=colour(name), alpha=0.18, linewidth=0)
        line_of = {"color": colour(name), "linestyle": STYLES[name].dashes, "linewidth": 1.8}
        ax.plot(days, middle, **line_of)
    ax.axhline(90, color=MUTED, linewidth=0.8, linestyle=":")
    _mark_stay(s, ax)
    ax.set_ylim(0, 108)
    words = (("reservoir", _WATER), ("plants' need", _PLANTS), ("you are back", _STAY))
    titled(ax, "How it goes, % at the end of the day", *words)
    return quiet(ax, f"days away; bands: 8 in 10 of the {s.case}s; dotted: 90 %")


def years_axes(s: Stay, ax: Axes) -> Axes:
    """Days that it lasts in each year; what outlasts the days followed stands at the top."""
    years = np.array([case.year for case in s.case_list])
    height = np.array([s.up_to(case.days_lasted) for case in s.case_list])
    short = np.array(
        [case.days_lasted is not None and case.days_lasted < s.days_away for case in s.case_list]
    )
    ax.axhline(s.days_away, color=_STAY, linewidth=1.3, linestyle=_DASHES)
    ax.plot(years[short], height[short], "v", color=_STAY, markersize=5.5)
    ring: dict[str, Any] = {"color": PAPER, "markeredgecolor": _PLANTS, "markeredgewidth": 1.4}
    ax.plot(years[~short], height[~short], "o", markersize=5.5, **ring)
    _name_worst(ax, years, height)
    ax.set_ylim(min(0.0, height.min()), 1.15 * max(height.max(), s.days_away))
    ax.set_xlim(years.min() - 1, years.max() + 1)
    titled(ax, "Days it lasts in each year", ("too short", _STAY), ("long enough", _PLANTS))
    return quiet(ax, f"year{'; at the top: longer' if s.days_longest is None else ''}")


def measures_axes(s: Stay, units: System, ax: Axes) -> Axes:
    """What each change buys, the most at the top: days, the part gained darker, words above."""
    _mark_stay(s, ax)
    bar: dict[str, Any] = {"height": 0.36, "zorder": 2, "linewidth": 0}
    words: dict[str, Any] = {
        "textcoords": "offset points", "fontsize": LABEL, "color": INK, "zorder": 3,
        "bbox": {"facecolor": PAPER, "edgecolor": "none", "pad": 0.6},
    }  # fmt: skip
    gain: dict[str, Any] = {"color": _WATER, "hatch": "//", "edgecolor": PAPER}
    row, as_it_is, labels = 0.0, s.up_to(s.days_safe), _labels(s, units)
    for change in (*reversed(s.changes[1:]), s.changes[0]):
        safe, label = s.up_to(change.days_safe), labels[change.measure]
        base = min(as_it_is, safe)
        ax.barh(row, base, color=PALE, **bar)
        ax.barh(row, safe - base, left=base, **gain, **bar)
        ax.annotate(label, (0, row + 0.18), xytext=(1, 1.5), va="bottom", **words)
        row += _room(label)
    ax.set_ylim(-0.5, row - 0.1)
    ax.set_xlim(0, 1.04 * max(s.days_away, *(s.up_to(each.days_safe) for each in s.measures)))
    ax.set_yticks([])
    titled(ax, "What each change buys", ("gained", _WATER), ("your stay", _STAY))
    return quiet(ax, f"days, in {_how(s)}", upright=False)


# --- the calendar -----------------------------------------------------------------------------


@plain_text()
def calendar_figure(c: Calendar, *, days: int | None = None) -> Figure:
    """When can I go away, and for how long; a stay of some days [d] is marked."""
    figure = sheet(3.4, c.bed)
    calendar_axes(c, days, figure.subplots())
    return figure


def calendar_axes(c: Calendar, days: int | None, ax: Axes) -> Axes:
    """Days that are safe by the date of leaving, with the middle or the range of each."""

    def place(month_day: str) -> int:
        """Days after midwinter, so that no summer is cut in two."""
        first, day = (f"2001-{each}" for each in (f"{c.first_month:02d}-01", month_day))
        return (datetime.date.fromisoformat(day) - datetime.date.fromisoformat(first)).days % _YEAR

    def shown(name: str) -> NDArray[np.float64]:
        days = [c.up_to(getattr(date, name)) if date.cases else np.nan for date in dates]
        return np.array(days)

    dates = sorted(c.dates, key=lambda date: place(date.leave))
    dates.append(dates[0])  # and round to the first
    at = np.array([place(date.leave) for date in dates])
    at[-1] += _YEAR
    safe = shown("days_safe")
    ax.plot(at, safe, color=_PLANTS, linewidth=1.8)
    ax.fill_between(at, safe, color=_PLANTS, alpha=0.25, linewidth=0)
    key = [(_how(c), _PLANTS)]
    if c.with_range:
        for end in ("low", "high"):
            dotted: dict[str, Any] = {"linewidth": 0.9, "linestyle": ":"}
            ax.plot(at, shown(f"days_safe_{end}"), color=_PLANTS, **dotted)
    else:
        ax.plot(at, shown("days_middle"), color=MUTED, linewidth=1.2, linestyle="--")
        key.append(("middle", MUTED))
    if days is not None:
        ax.axhline(days, color=_STAY, linewidth=1.3, linestyle=_DASHES)
        key.append((f"{days} days", _STAY))
    strip: dict[str, Any] = {"color": colour("mix_wick"), "linewidth": 0, "step": "post"}
    ax.fill_between(at, -3.0, -1.0, where=[date.growing for date in dates], **strip)
    key.append(("crops", colour("mix_wick")))
    low = int(np.nanargmin(safe[:-1]))
    ax.plot([at[low]], [safe[low]], "o", color=_PLANTS, markersize=5)
    months = [*range(c.first_month, 13), *range(1, c.first_month)]
    begins = [*(place(f"{month:02d}-01") for month in months), _YEAR]
    top = c.days_followed
    ax.set_xlim(0, _YEAR)
    ax.set_ylim(-4.0, 1.08 * top)
    titled(ax, f"Days you can be away: at least {safe[low]:.0f}", *key)
    quiet(ax, f"month you leave{'; dotted: its range' if c.with_range else ''}", keep_x=True)
    ax.set_xticks(begins, labels=[""] * len(begins))
    middles = [0.5 * (a + b) for a, b in pairwise(begins)]
    ax.set_xticks(middles, labels=["JFMAMJJASOND"[m - 1] for m in months], minor=True)
    ax.tick_params(axis="x", which="minor", labelsize=TICK, labelcolor=INK, length=0, pad=3)
    step = 14 if top <= 70 else 28
    ticks = [*range(0, top - step // 2, step), top]
    ax.set_yticks(ticks, labels=[*map(str, ticks[:-1]), f"{top}+"])
    return ax


# --- what they share --------------------------------------------------------------------------


def _how(s: Stay | Calendar) -> str:
    """In which cases it lasts the days that are safe."""
    return line("{% import 'answers/away/parts.j2' as parts %}{{ parts.how(s) }}", s=s)


def _shown(s: Stay) -> int:
    """Days that the pictures reach to: past the stay and most failures, as far as was followed."""
    if s.days_longest is None:
        return s.days_followed
    return min(s.days_followed, int(max(1.3 * s.days_away, s.days_longest + 4)))


def _labels(s: Stay, units: System) -> dict[str, str]:
    """What each change is called, on as many lines as it takes."""
    texts = {c.measure: line(_LABEL, units=units, change=c, s=s) for c in s.measures}
    return {name: "\n".join(textwrap.wrap(text, _LETTERS)) for name, text in texts.items()}


def _room(label: str) -> float:
    """Height of a bar with its label, in rows."""
    return 1.0 + 0.55 * label.count("\n")


def _mark_stay(s: Stay, ax: Axes) -> None:
    """A line where one is back, on axes of days that reach so far."""
    ax.axvline(s.days_away, color=_STAY, linewidth=1.3, linestyle=_DASHES, zorder=0.5)
    ax.set_xlim(0, max(_shown(s), s.days_away))


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
