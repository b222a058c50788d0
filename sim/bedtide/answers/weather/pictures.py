"""Picture of a weather record: what was measured, rain and demand, spells, what is odd in it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, STYLES, plain_text
from bedtide.units import System
from bedtide.weather import WeatherReport, weather_report

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["coverage_axes", "month_axes", "spell_axes", "weather_figure"]

_WIDTH = 4.0  # inch, as the other pictures
_TITLE = FONT_SIZE + 2.5
_MONTHS = "JFMAMJJASOND"
_MOST_WORDS = 6
_MM_PER_INCH = 25.4


@plain_text
def weather_figure(
    weather: xr.Dataset | WeatherReport, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Picture of a weather record in panels, to be read on a phone.

    Answers: is there enough of it, how wet and how thirsty is the place, what is odd in it.

    Parameters
    ----------
    weather : Dataset or WeatherReport
        As `read_weather` or `weather_report` gives it.
    figure : Figure, optional
        Drawn on if given, else a new one 4 by 9 inches.
    units : {"metric", "us"}
        Millimetres or inches.

    Returns
    -------
    Figure
        With five axes: coverage, estimates, months, spells, what is suspicious.
    """
    report = weather if isinstance(weather, WeatherReport) else weather_report(weather)
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        figure = NewFigure(figsize=(_WIDTH, 9.0), layout="constrained")
    heights = [1.5, 1.0, 2.0, 2.6, 0.35 + 0.24 * _lines_needed(report)]
    axes = figure.subplots(5, 1, height_ratios=heights)
    coverage_axes(report, ax=axes[0])
    _estimate_axes(report, axes[1])
    month_axes(report, ax=axes[2], units=units)
    spell_axes(report, ax=axes[3], units=units)
    _words_axes(report, axes[4])
    figure.suptitle(
        f"{report.place}\nVerdict: {report.verdict.grade}",
        x=0.02,
        ha="left",
        fontsize=_TITLE + 1.5,
        fontweight="bold",
        color=INK,
    )
    return figure


@plain_text
def coverage_axes(report: WeatherReport, *, ax: Axes | None = None) -> Axes:
    """Share of the days of each year on which each quantity was measured.

    Parameters
    ----------
    report : WeatherReport
        From `weather_report`.
    ax : Axes, optional
        Drawn on if given.

    Returns
    -------
    Axes
        One row for each quantity, one column for each year; dark is measured throughout. A cross
        marks a year with a suspicious stretch.
    """
    ax = _axes(ax)
    table = report.coverage
    years = np.asarray(table.index, dtype=float)
    shares = table.to_numpy(dtype=float).T
    edges = np.append(years - 0.5, years[-1] + 0.5)
    ax.pcolormesh(
        edges, np.arange(len(table.columns) + 1), shares, cmap="Blues", vmin=0.0, vmax=1.0,
        edgecolors="white", linewidth=0.4,
    )  # fmt: skip
    ax.set_yticks(np.arange(len(table.columns)) + 0.5, [str(name) for name in table.columns])
    ax.invert_yaxis()
    rows = {"rain": "rain", "wind_speed": "wind", "solar_radiation": "radiation",
            "vapour_pressure": "humidity"}  # fmt: skip
    names = list(table.columns)
    for one in report.suspicions:
        year = one.first.astype("datetime64[Y]").astype(int) + 1970
        row = names.index(rows.get(one.quantity, "temperature")) + 0.5
        ax.plot(year, row, "X", color=STYLES["evaporation"].colour, markersize=5)
    _year_ticks(ax, years)
    _title(ax, "Measured: dark all year, white never; x suspicious")
    return ax


def _estimate_axes(report: WeatherReport, ax: Axes) -> None:
    """Share of the days of each year whose evapotranspiration rests on an estimate."""
    table = report.estimated_share
    years = np.asarray(table.index, dtype=float)
    ax.bar(years, 100.0 * table.to_numpy(), width=0.8, color=MUTED)
    ax.set_ylim(0, 100)
    ax.set_xlim(years[0] - 0.5, years[-1] + 0.5)
    _year_ticks(ax, years)
    _title(ax, "Days that rest on an estimate, %")


@plain_text
def month_axes(report: WeatherReport, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain and reference evapotranspiration by month, with the spread over the years.

    Parameters
    ----------
    report : WeatherReport
        From `weather_report`.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Millimetres or inches.

    Returns
    -------
    Axes
        Bars and a line for the means; thin lines from the least to the most.
    """
    ax = _axes(ax)
    size, unit = (_MM_PER_INCH, "in") if units == "us" else (1.0, "mm")
    table = report.months / size
    months = np.asarray(table.index, dtype=float)
    rain, et0 = STYLES["rain"].colour, STYLES["transpiration"].colour
    ax.bar(months, table["rain"], width=0.7, color=rain, label="rain")
    ax.vlines(months - 0.15, table["rain_least"], table["rain_most"], color=INK, linewidth=0.9)
    ax.plot(months, table["et0"], "-o", color=et0, markersize=3.5, linewidth=1.4, label="ET0")
    ax.vlines(months + 0.15, table["et0_least"], table["et0_most"], color=et0, linewidth=2.2)
    ax.set_xlim(0.4, 12.6)
    ax.set_ylim(
        0, 1.25 * max(1e-9, float(table[["rain_most", "et0_most"]].to_numpy().max(initial=0.0)))
    )
    ax.set_xticks(range(1, 13), list(_MONTHS))
    ax.legend(fontsize=FONT_SIZE, frameon=False, loc="upper right", ncols=2)
    _title(ax, f"Rain and ET0 of a month, {unit}; lines: least to most")
    return ax


@plain_text
def spell_axes(report: WeatherReport, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """The wettest stretches by rain, the driest by evapotranspiration less rain.

    Parameters
    ----------
    report : WeatherReport
        From `weather_report`.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Millimetres or inches.

    Returns
    -------
    Axes
        One bar for each stretch, its length and first day beside it.
    """
    ax = _axes(ax)
    size, unit = (0.0254, "in") if units == "us" else (0.001, "mm")
    for row, spell in enumerate(report.spells):
        wet = spell.kind == "wet"
        depth = (spell.rain if wet else spell.et0 - spell.rain) / size
        style = STYLES["rain" if wet else "evaporation"]
        ax.barh(row, depth, height=0.7, color=style.colour, hatch=style.hatch, edgecolor="white")
        text = f"{depth:.1f}" if units == "us" else f"{depth:.0f}"
        ax.text(depth, row, f" {text}  from {spell.first}", va="center", fontsize=FONT_SIZE,
                color=INK)  # fmt: skip
    names = [f"{'wettest' if s.kind == 'wet' else 'driest'} {s.window} d" for s in report.spells]
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.set_xlim(0, 1.75 * max([1e-9, *(bar.get_width() for bar in ax.patches)]))  # type: ignore[attr-defined]
    _title(ax, f"Wettest: rain; driest: ET0 less rain, {unit}")
    return ax


def _words(report: WeatherReport) -> list[str]:
    found = list(report.verdict.reasons)
    shown = report.suspicions[:_MOST_WORDS]
    found += [f"{one.sentence[0].upper()}{one.sentence[1:]}" for one in shown]
    more = len(report.suspicions) - len(shown)
    if more > 0:
        found.append(f"And {more} more suspicious stretches.")
    return [line for text in found for line in textwrap.wrap(text, 58, subsequent_indent="   ")]


def _lines_needed(report: WeatherReport) -> int:
    return max(len(_words(report)), 1)


def _words_axes(report: WeatherReport, ax: Axes) -> None:
    """The reasons of the verdict, and what is suspicious, in words."""
    ax.set_axis_off()
    _title(ax, "What to know")
    ax.text(0, 1, "\n".join(_words(report)), va="top", fontsize=FONT_SIZE, color=INK,
            transform=ax.transAxes, linespacing=1.35)  # fmt: skip


def _axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    from matplotlib.figure import Figure as NewFigure

    return NewFigure(figsize=(_WIDTH, 2.2), layout="constrained").subplots()


def _year_ticks(ax: Axes, years: Any) -> None:
    step = max(1, len(years) // 6)
    ax.set_xticks(years[::step], [f"{int(year)}" for year in years[::step]])


def _title(ax: Axes, text: str) -> None:
    ax.set_title(text, loc="left", fontsize=FONT_SIZE + 1.0, color=INK)
    ax.tick_params(labelsize=FONT_SIZE, color=PALE, labelcolor=INK, length=2)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(PALE)
