"""Picture of a weather record: what was measured, rain and demand, spells, what is odd in it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.report.style import (
    FONT_SIZE,
    INK,
    PAPER,
    STYLES,
    axes_on,
    colour,
    noted,
    plain_text,
    quiet,
    sheet,
    titled,
)
from bedtide.units import INCH
from bedtide.weather import WeatherReport, weather_report

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from bedtide.units import System

_MOST_WORDS = 6  # suspicious stretches that are told
_WRAP = 64  # characters of a line of these
_ROWS = {
    "rain": "rain",
    "wind_speed": "wind",
    "solar_radiation": "radiation",
    "vapour_pressure": "humidity",
}


@plain_text
def weather_figure(
    weather: xr.Dataset | WeatherReport, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Is there enough of it, how wet and how thirsty is the place, what is odd in it."""
    report = weather if isinstance(weather, WeatherReport) else weather_report(weather)
    words = _words(report)
    spoken = 0.3 + 0.16 * len(words)
    figure = sheet(8.3 + spoken, f"{report.place}: a {report.verdict.grade} record", figure)
    heights = [1.5, 0.9, 1.9, 2.4, spoken]
    covered, estimated, months, spells, known = figure.subplots(5, 1, height_ratios=heights)
    coverage_axes(report, ax=covered)
    _estimate_axes(report, estimated)
    month_axes(report, ax=months, units=units)
    spell_axes(report, ax=spells, units=units)
    known.set_axis_off()
    left: Any = ("figure fraction", "axes fraction")
    place: dict[str, Any] = {"xycoords": left, "va": "top", "fontsize": FONT_SIZE, "color": INK}
    said = known.annotate("\n".join(words), (0.02, 1.0), linespacing=1.35, **place)
    said.set_in_layout(False)  # it begins left of the axes, whose width it must not take
    return figure


@plain_text
def coverage_axes(report: WeatherReport, *, ax: Axes | None = None) -> Axes:
    """Share of the days of each year on which each quantity was measured; crosses: suspicious."""
    ax = axes_on(ax)
    table = report.coverage
    years, names = np.asarray(table.index, dtype=float), [str(name) for name in table.columns]
    edges, steps = np.append(years - 0.5, years[-1] + 0.5), np.arange(len(names) + 1)
    shares = table.to_numpy(dtype=float).T
    frame: dict[str, Any] = {"edgecolors": PAPER, "linewidth": 0.4}
    ax.pcolormesh(edges, steps, shares, cmap="Blues", vmin=0.0, vmax=1.0, **frame)
    _of_years(ax, years)
    ax.grid(visible=False)
    ax.set_yticks(steps[:-1] + 0.5, names)
    ax.invert_yaxis()
    for one in report.suspicions:
        year = one.first.astype("datetime64[Y]").astype(int) + 1970
        row = names.index(_ROWS.get(one.quantity, "temperature")) + 0.5
        ax.plot(year, row, "X", color=colour("evaporation"), markersize=5)
    odd = [("suspicious", colour("evaporation"))] if report.suspicions else []
    titled(ax, "Measured: dark all year, white never", *odd)
    return ax


def _estimate_axes(report: WeatherReport, ax: Axes) -> None:
    """Share of the days of each year whose evapotranspiration rests on an estimate."""
    table = report.estimated_share
    years = np.asarray(table.index, dtype=float)
    style = STYLES["evaporation"]
    bars: dict[str, Any] = {"color": style.colour, "hatch": style.hatch, "edgecolor": PAPER}
    ax.bar(years, 100 * table.to_numpy(), width=0.8, **bars)
    _of_years(ax, years)
    ax.set_ylim(0, 100)
    titled(ax, "Days that rest on an estimate, %")
    if not table.to_numpy().any():
        noted(ax, "none")


@plain_text
def month_axes(report: WeatherReport, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain and reference evapotranspiration of a mean year, with their least and most."""
    ax = axes_on(ax)
    size, unit = (INCH * 1e3, "in") if units == "us" else (1.0, "mm")
    table = report.months / size
    months = np.asarray(table.index, dtype=float)
    rain, et0 = colour("rain"), colour("transpiration")
    ax.bar(months, table["rain"], width=0.7, color=rain, label="rain")
    ax.vlines(months - 0.15, table["rain_least"], table["rain_most"], color=INK, linewidth=0.9)
    ax.plot(months, table["et0"], "-o", color=et0, markersize=3.5, linewidth=1.4, label="ET0")
    ax.vlines(months + 0.15, table["et0_least"], table["et0_most"], color=et0, linewidth=2.2)
    quiet(ax, keep_x=True)
    ax.grid(visible=False, axis="x")
    ax.set_xlim(0.4, 12.6)
    most = float(table[["rain_most", "et0_most"]].to_numpy().max(initial=0.0))
    ax.set_ylim(0, 1.08 * most or 1.0)
    ax.set_xticks(range(1, 13), list("JFMAMJJASOND"))
    words = (("rain", rain), ("ET0 (lines: least to most)", et0))
    titled(ax, f"Rain and ET0 of a month, {unit}", *words)
    if not months.size:
        noted(ax, "no whole month")
    return ax


@plain_text
def spell_axes(report: WeatherReport, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """The wettest stretches by rain, the driest by evapotranspiration less rain."""
    ax = axes_on(ax)
    size, unit = (INCH, "in") if units == "us" else (0.001, "mm")
    names, most = [], 1e-9
    for row, spell in enumerate(report.spells):
        wet = spell.kind == "wet"
        depth = (spell.rain if wet else spell.et0 - spell.rain) / size
        style = STYLES["rain" if wet else "evaporation"]
        ax.barh(row, depth, height=0.7, color=style.colour, hatch=style.hatch, edgecolor=PAPER)
        text = f"{depth:.1f}" if units == "us" else f"{depth:.0f}"
        ax.text(
            *(depth, row, f" {text}  from {spell.first}"),
            va="center",
            fontsize=FONT_SIZE,
            color=INK,
        )
        names.append(f"{spell.window} {'day' if spell.window == 1 else 'days'}")
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


def _words(report: WeatherReport) -> list[str]:
    """Lines of the reasons for the verdict, and of what is suspicious."""
    told = [f"{one.sentence[0].upper()}{one.sentence[1:]}" for one in report.suspicions]
    found = [*report.verdict.reasons, *told[:_MOST_WORDS]]
    if len(told) > _MOST_WORDS:
        found.append(f"And {len(told) - _MOST_WORDS} more suspicious stretches.")
    return [line for text in found for line in textwrap.wrap(text, _WRAP, subsequent_indent="   ")]
