"""Pictures of a season: Dataset and axes in, axes out; no file is written and nothing is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.season.days import USES, daily, drawn_days, has_lip
from bedtide.constants import AIR_LIMIT
from bedtide.readings import wet_days
from bedtide.report.results import unit_of
from bedtide.report.style import (
    INK,
    STYLES,
    axes_on,
    colour,
    dated,
    noted,
    plain_text,
    sheet,
    titled,
)

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from bedtide.units import System


@plain_text()
def season_figure(season: xr.Dataset, *, units: System = "metric") -> Figure:
    """When was it filled, how did the level go, had the roots air, where did the water go.

    Of a run of many years the last is drawn, and the title says so.
    """
    season, whole = drawn_days(season)
    title = str(season.attrs["title"])
    figure = sheet(8.4, title if whole else f"{title}: the last year of the run")
    panels: tuple[Callable[..., Axes], ...] = (water_in_axes, level_axes, air_axes, use_axes)
    for ax, panel in zip(figure.subplots(4, 1, sharex=True), panels, strict=True):
        panel(season, ax=ax, units=units)
    return figure


@plain_text()
def water_in_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain into the bed and refills, day by day, for the whole bed."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    rain, refill = (daily(season, name, units) for name in ("rain_in", "refill"))
    poured = refill > 0
    width = float(np.clip(0.8 * 72 * 3.0 / times.size, 0.6, 8.0))  # days touch, a year still shows
    ax.vlines(times, 0, rain, color=colour("rain"), linewidth=width, label="rain")
    ax.vlines(times[poured], 0, refill[poured], color=colour("refill"), linewidth=1.2)
    head: dict[str, Any] = {"color": colour("refill"), "markersize": 4.5, "label": "refill"}
    ax.plot(times[poured], refill[poured], STYLES["refill"].marker, **head)
    ax.set_ylim(0, 1.12 * max(float(rain.max()), float(refill.max()), 1.0))
    words = (("rain", colour("rain")), ("refills", colour("refill")))
    titled(ax, f"Water in, {unit_of('refill', units)} a day", *words)
    return dated(ax, times)


@plain_text()
def level_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Water level at the end of each day, against the overflow lip or the mix surface."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    level = np.maximum(daily(season, "level", units), 0.0)
    lip = daily(season, "lip_height", units)
    ax.fill_between(times, level, color=colour("level"), alpha=0.35, linewidth=0)
    ax.plot(times, level, color=colour("level"), linewidth=1.3, label="water level")
    edge: dict[str, Any] = {"color": colour("overflow"), "linewidth": 1.8, "label": "overflow"}
    ax.plot(times, lip, linestyle=STYLES["overflow"].dashes, **edge)
    ax.set_ylim(0, 1.22 * max(float(level.max()), float(lip.max())))
    edge_name = "overflow lip" if has_lip(season) else "mix surface"
    words = (("water", colour("level")), (edge_name, colour("overflow")))
    unit = unit_of("level", units)
    titled(ax, f"Level at the day's end (filled at dawn), {unit}", *words)
    return dated(ax, times)


@plain_text()
def air_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Air share of the root zone against the line under which roots lack air."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    rooted = season["root_depth"].to_numpy() > 0
    air = np.where(rooted, daily(season, "air_root_zone", units), np.nan)
    limit, warning = AIR_LIMIT * 100, colour("warning")
    wet = wet_days(season)
    ax.axhspan(0, limit, color=warning, alpha=0.10, linewidth=0)
    ax.axhline(limit, color=warning, linewidth=1.0)
    ax.plot(times, air, color=INK, linewidth=1.3, label="air share")
    ax.plot(times[wet], air[wet], "o", color=warning, markersize=3.0, label="wet day")
    top = float(np.nanmax(air)) if rooted.any() else 2 * limit
    ax.set_ylim(0, max(1.12 * top, 2 * limit))
    titled(ax, "Air among the roots, %", (f"under {limit:.0f} %: too wet", warning))
    if not rooted.any():
        noted(ax, "nothing planted")
    return dated(ax, times)


@plain_text()
def use_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """What the plants took, on top what dried off the surface, and what was wanted, not got."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    took, dried, wanted = (daily(season, name, units) for name in USES)
    plants, surface = colour("transpiration"), colour("evaporation")
    band: dict[str, Any] = {"linewidth": 0, "step": "mid"}
    ax.fill_between(times, took, color=plants, alpha=0.75, label="plants", **band)
    ax.fill_between(times, took, took + dried, color=surface, alpha=0.9, label="surface", **band)
    words = [("plants", plants), ("surface", surface)]
    short = wanted > took * 1.001
    if short.any():
        lacking = np.where(short, wanted, np.nan)
        line: dict[str, Any] = {"color": colour("warning"), "label": "wanted by the plants"}
        ax.plot(times, lacking, ".-", linewidth=1.3, markersize=2.0, **line)
        words.append(("wanted, not got", colour("warning")))
    ax.set_ylim(0, 1.12 * float(max((took + dried).max(), wanted.max(), 1e-9)))
    titled(ax, f"Water used, {unit_of('evaporation', units)} a day", *words)
    return dated(ax, times)
