"""Pictures of a season: Dataset and axes in, axes out; no file is written and nothing is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.constants import AIR_LIMIT
from bedtide.readings import wet_days
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
from bedtide.units import INCH, US_GALLON, System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_DAYS = 800  # beyond these the days of a picture run together


@plain_text
def season_figure(
    season: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """When was it filled, how did the level go, had the roots air, where did the water go.

    Of more than 800 days the last 366 are drawn, and the title says so.
    """
    title = str(season.attrs["title"])
    if season.sizes["time"] > _MOST_DAYS:
        season = season.isel(time=slice(-366, None))
        title = f"{title}: the last year of the run"
    figure = sheet(8.4, title, figure)
    panels: tuple[Callable[..., Axes], ...] = (water_in_axes, level_axes, air_axes, use_axes)
    for ax, panel in zip(figure.subplots(4, 1, sharex=True), panels, strict=True):
        panel(season, ax=ax, units=units)
    return figure


@plain_text
def water_in_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain into the bed and refills, day by day, for the whole bed."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    size, unit = (US_GALLON, "US gal") if units == "us" else (1e-3, "L")
    area = float(season["plan_area"])
    rain = season["rain_in"].to_numpy() * area / size
    refill = season["refill"].to_numpy() * area / size
    poured = refill > 0
    width = float(np.clip(0.8 * 72 * 3.0 / times.size, 0.6, 8.0))  # days touch, a year still shows
    ax.vlines(times, 0, rain, color=colour("rain"), linewidth=width, label="rain")
    ax.vlines(times[poured], 0, refill[poured], color=colour("refill"), linewidth=1.2)
    head: dict[str, Any] = {"color": colour("refill"), "markersize": 4.5, "label": "refill"}
    ax.plot(times[poured], refill[poured], STYLES["refill"].marker, **head)
    ax.set_ylim(0, 1.12 * max(float(rain.max()), float(refill.max()), 1.0))
    words = (("rain", colour("rain")), ("refills", colour("refill")))
    titled(ax, f"Water in, {unit} a day", *words)
    return dated(ax, times)


@plain_text
def level_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Water level at the end of each day, against the overflow lip or the mix surface."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    size, unit = (INCH, "inches") if units == "us" else (0.01, "cm")
    level = np.maximum(season["level"].to_numpy() / size, 0.0)
    lip = season["lip_height"].to_numpy() / size
    ax.fill_between(times, level, color=colour("level"), alpha=0.35, linewidth=0)
    ax.plot(times, level, color=colour("level"), linewidth=1.3, label="water level")
    edge: dict[str, Any] = {"color": colour("overflow"), "linewidth": 1.8, "label": "overflow"}
    ax.plot(times, lip, linestyle=STYLES["overflow"].dashes, **edge)
    ax.set_ylim(0, 1.22 * max(float(level.max()), float(lip.max())))
    no_outlet = bool((lip >= float(season["surface_height"]) / size - 1e-9).all())
    edge_name = "mix surface" if no_outlet else "overflow lip"
    words = (("water", colour("level")), (edge_name, colour("overflow")))
    titled(ax, f"Level at the day's end (filled at dawn), {unit}", *words)
    return dated(ax, times)


@plain_text
def air_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Air share of the root zone against the line under which roots lack air."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    rooted = season["root_depth"].to_numpy() > 0
    air = np.where(rooted, season["air_root_zone"].to_numpy() * 100, np.nan)
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


@plain_text
def use_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """What the plants took, on top what dried off the surface, and what was wanted, not got."""
    ax = axes_on(ax)
    times = season["time"].to_numpy()
    size, unit = (INCH, "inches") if units == "us" else (1e-3, "mm")
    took = season["transpiration"].to_numpy() / size
    dried = season["evaporation"].to_numpy() / size
    wanted = season["transpiration_potential"].to_numpy() / size
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
    titled(ax, f"Water used, {unit} a day", *words)
    return dated(ax, times)
