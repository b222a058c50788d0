"""Picture of a weather record: what was measured, rain and demand, spells, what is odd in it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.answers.weather.summary import coverage, estimated_share, summary_of
from bedtide.report.style import (
    FONT_SIZE,
    INK,
    PAPER,
    axes_on,
    bar_keywords,
    colour,
    noted,
    plain_text,
    quiet,
    sheet,
    titled,
)
from bedtide.weather import QUANTITIES, suspicions

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from bedtide.answers.weather.summary import Weather
    from bedtide.units import System

_MOST_WORDS = 6  # suspicious stretches that are told
_WRAP = 64  # characters of a line of these


@plain_text()
def weather_figure(
    weather: xr.Dataset,
    summary: Weather | None = None,
    *,
    units: System = "metric",
) -> Figure:
    """Is there enough of it, how wet and how thirsty is the place, what is odd in it."""
    summary = summary or summary_of(weather)
    words = _words(summary)
    spoken = 0.3 + 0.16 * len(words)
    figure = sheet(8.3 + spoken, f"{summary.place}: a {summary.grade} record")
    heights = [1.5, 0.9, 1.9, 2.4, spoken]
    covered, estimated, months, spells, known = figure.subplots(5, 1, height_ratios=heights)
    coverage_axes(weather, ax=covered)
    _estimate_axes(weather, estimated)
    month_axes(summary, ax=months, units=units)
    spell_axes(summary, ax=spells, units=units)
    known.set_axis_off()
    left: Any = ("figure fraction", "axes fraction")
    place: dict[str, Any] = {"xycoords": left, "va": "top", "fontsize": FONT_SIZE, "color": INK}
    said = known.annotate("\n".join(words), (0.02, 1.0), linespacing=1.35, **place)
    said.set_in_layout(False)  # it begins left of the axes, whose width it must not take
    return figure


@plain_text()
def coverage_axes(weather: xr.Dataset, *, ax: Axes | None = None) -> Axes:
    """Share of the days of each year on which each quantity was measured; crosses: suspicious."""
    ax = axes_on(ax)
    table = coverage(weather)
    years, names = np.asarray(table.index, dtype=float), [str(name) for name in table.columns]
    edges, steps = np.append(years - 0.5, years[-1] + 0.5), np.arange(len(names) + 1)
    shares = table.to_numpy(dtype=float).T
    frame: dict[str, Any] = {"edgecolors": PAPER, "linewidth": 0.4}
    ax.pcolormesh(edges, steps, shares, cmap="Blues", vmin=0.0, vmax=1.0, **frame)
    _of_years(ax, years)
    ax.grid(visible=False)
    ax.set_yticks(steps[:-1] + 0.5, names)
    ax.invert_yaxis()
    red, found = colour("evaporation"), suspicions(weather)
    for one in found:
        row = names.index(QUANTITIES[one.quantity].group) + 0.5
        ax.plot(int(str(one.first)[:4]), row, "X", color=red, markersize=5)
    odd = [("suspicious", red)] if found else []
    titled(ax, "Measured: dark all year, white never", *odd)
    return ax


def _estimate_axes(weather: xr.Dataset, ax: Axes) -> None:
    """Share of the days of each year whose evapotranspiration rests on an estimate."""
    table = estimated_share(weather)
    years = np.asarray(table.index, dtype=float)
    ax.bar(years, 100 * table.to_numpy(), width=0.8, **bar_keywords("evaporation"))
    _of_years(ax, years)
    ax.set_ylim(0, 100)
    titled(ax, "Days that rest on an estimate, %")
    if not table.to_numpy().any():
        noted(ax, "none")


@plain_text()
def month_axes(summary: Weather, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain and reference evapotranspiration of a mean year, with their least and most."""
    ax = axes_on(ax)
    size, unit = (25.4, "in") if units == "us" else (1.0, "mm")
    whole = [month for month in summary.months if month.whole_months]
    months = np.array([month.month for month in whole], dtype=float)
    rain, et0 = (
        np.array([[getattr(m, name + of) / size for m in whole] for of in ("", "_least", "_most")])
        for name in ("rain_mm", "reference_evapotranspiration_mm")
    )
    blue, green = colour("rain"), colour("transpiration")
    ax.bar(months, rain[0], width=0.7, color=blue, label="rain")
    ax.vlines(months - 0.15, *rain[1:], color=INK, linewidth=0.9)
    ax.plot(months, et0[0], "-o", color=green, markersize=3.5, linewidth=1.4, label="ET0")
    ax.vlines(months + 0.15, *et0[1:], color=green, linewidth=2.2)
    quiet(ax, keep_x=True)
    ax.grid(visible=False, axis="x")
    ax.set_xlim(0.4, 12.6)
    most = float(max(rain.max(initial=0.0), et0.max(initial=0.0)))
    ax.set_ylim(0, 1.08 * most or 1.0)
    ax.set_xticks(range(1, 13), list("JFMAMJJASOND"))
    words = (("rain", blue), ("ET0 (lines: least to most)", green))
    titled(ax, f"Rain and ET0 of a month, {unit}", *words)
    if not months.size:
        noted(ax, "no whole month")
    return ax


@plain_text()
def spell_axes(summary: Weather, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """The wettest stretches by rain, the driest by evapotranspiration less rain."""
    ax = axes_on(ax)
    size, unit = (25.4, "in") if units == "us" else (1.0, "mm")
    names, most = [], 1e-9
    for row, spell in enumerate(summary.spells):
        dry = spell.kind == "dry"
        lost = spell.reference_evapotranspiration_mm - spell.rain_mm
        depth = (lost if dry else spell.rain_mm) / size
        ax.barh(row, depth, height=0.7, **bar_keywords("evaporation" if dry else "rain"))
        text = f" {depth:.{int(units == 'us')}f}  from {spell.from_}"
        ax.text(depth, row, text, va="center", fontsize=FONT_SIZE, color=INK)
        names.append(f"{spell.days} {'day' if spell.days == 1 else 'days'}")
        most = max(most, depth)
    quiet(ax, upright=False)
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.grid(visible=False)
    ax.set_xlim(0, 1.85 * most)
    words = (("wettest: rain", colour("rain")), ("driest: ET0 less rain", colour("evaporation")))
    titled(ax, f"Wettest and driest spells, {unit}", *words)
    return ax


def _of_years(ax: Axes, years: Any) -> None:
    """A quiet frame with few years below."""
    quiet(ax, keep_x=True)
    ax.grid(visible=False, axis="x")
    few = years[:: max(1, len(years) // 6)]
    ax.set_xlim(years[0] - 0.5, years[-1] + 0.5)
    ax.set_xticks(few, [f"{int(year)}" for year in few])


def _words(summary: Weather) -> list[str]:
    """Lines of the reasons for the verdict, and of what is suspicious."""
    told = [f"{one.sentence[0].upper()}{one.sentence[1:]}" for one in summary.suspicious]
    found = [*summary.reasons, *told[:_MOST_WORDS]]
    if len(told) > _MOST_WORDS:
        found.append(f"And {len(told) - _MOST_WORDS} more suspicious stretches.")
    return [line for text in found for line in textwrap.wrap(text, _WRAP, subsequent_indent="   ")]
