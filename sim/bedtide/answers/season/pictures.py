"""Pictures of a season: Dataset and axes in, axes out; no file is written and nothing is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import AIR_LIMIT
from bedtide.readings import wet_days
from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, STYLES, plain_text
from bedtide.units import System

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["air_axes", "level_axes", "season_figure", "use_axes", "water_in_axes"]

_MOST_DAYS = 800  # beyond these the days of a picture run together
_WIDTH = 4.0  # inch; on a phone 360 dots wide, 8 pt type is then 10 dots high
_TITLE = FONT_SIZE + 2.5
_LABEL = FONT_SIZE + 1.0
_INCH = 0.0254  # m
_US_GALLON = 3.785411784e-3  # m3


@plain_text
def season_figure(
    season: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Picture of a season in four panels, to be read on a phone.

    Answers: when was it filled, how did the level go, did the roots have air, where did it go.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed. Of more than 800 days the last 366 are drawn, and the title says so.
    figure : Figure, optional
        Drawn on if given, else a new one 4 by 8.4 inches.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    Figure
        With four axes: rain and refills, level, air, use of water.
    """
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        figure = NewFigure(figsize=(_WIDTH, 8.4), layout="constrained")
    title = str(season.attrs["title"])
    if season.sizes["time"] > _MOST_DAYS:
        season = season.isel(time=slice(-366, None))
        title = f"{title}: the last year of the run"
    axes = figure.subplots(4, 1, sharex=True)
    panels: tuple[Callable[..., Axes], ...] = (water_in_axes, level_axes, air_axes, use_axes)
    for ax, panel in zip(axes, panels, strict=True):
        panel(season, ax=ax, units=units)
    figure.suptitle(
        title,
        x=0.02,
        ha="left",
        fontsize=_TITLE + 1.5,
        fontweight="bold",
        color=INK,
    )
    return figure


@plain_text
def water_in_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Rain into the bed and refills, day by day, for the whole bed.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Litres or US gallons.

    Returns
    -------
    Axes
        One bar for each day with rain, one stick with a head for each refill.
    """
    ax = _axes(ax)
    times = season["time"].to_numpy()
    size, unit = (_US_GALLON, "US gal") if units == "us" else (1e-3, "L")
    area = float(season["plan_area"])
    rain = season["rain_in"].to_numpy() * area / size
    refill = season["refill"].to_numpy() * area / size
    poured = refill > 0
    ax.vlines(
        times, 0, rain, color=STYLES["rain"].colour, linewidth=_bar_width(times), label="rain"
    )
    ax.vlines(times[poured], 0, refill[poured], color=STYLES["refill"].colour, linewidth=1.2)
    ax.plot(
        times[poured],
        refill[poured],
        STYLES["refill"].marker,
        color=STYLES["refill"].colour,
        markersize=4.5,
        label="refill",
    )
    ax.set_ylim(0, 1.12 * max(float(rain.max()), float(refill.max()), 1.0))
    _title(
        ax,
        f"Water in, {unit} a day",
        ("rain", STYLES["rain"].colour),
        ("refills", STYLES["refill"].colour),
    )
    return _finish(ax, times)


@plain_text
def level_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Water level in the bed at the end of each day, against the overflow lip.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Centimetres or inches.

    Returns
    -------
    Axes
        The level with water below it, and as a broken line the lip, or the surface of the mix
        where nothing lets water out.
    """
    ax = _axes(ax)
    times = season["time"].to_numpy()
    size, unit = (_INCH, "in") if units == "us" else (0.01, "cm")
    level = np.maximum(season["level"].to_numpy() / size, 0.0)
    lip = season["lip_height"].to_numpy() / size
    ax.fill_between(times, level, color=STYLES["level"].colour, alpha=0.35, linewidth=0)
    ax.plot(times, level, color=STYLES["level"].colour, linewidth=1.3, label="water level")
    ax.plot(
        times,
        lip,
        color=STYLES["overflow"].colour,
        linewidth=1.8,
        linestyle=STYLES["overflow"].dashes,
        label="overflow",
    )
    ax.set_ylim(0, 1.22 * max(float(level.max()), float(lip.max())))
    no_outlet = bool((lip >= float(season["surface_height"]) / size - 1e-9).all())
    _title(
        ax,
        f"Level at the end of the day, {unit}",
        ("water", STYLES["level"].colour),
        ("mix surface" if no_outlet else "overflow lip", STYLES["overflow"].colour),
    )
    return _finish(ax, times)


@plain_text
def air_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Air share of the root zone against the line under which roots lack air.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Of no effect here; every picture takes it.

    Returns
    -------
    Axes
        The air share while there are roots, the limit, and the wet days marked.
    """
    ax = _axes(ax)
    times = season["time"].to_numpy()
    rooted = season["root_depth"].to_numpy() > 0
    air = np.where(rooted, season["air_root_zone"].to_numpy() * 100, np.nan)
    limit = AIR_LIMIT * 100
    wet = wet_days(season)
    ax.axhspan(0, limit, color=STYLES["warning"].colour, alpha=0.10, linewidth=0)
    ax.axhline(limit, color=STYLES["warning"].colour, linewidth=1.0)
    ax.plot(times, air, color=INK, linewidth=1.3, label="air share")
    ax.plot(
        times[wet], air[wet], "o", color=STYLES["warning"].colour, markersize=3.0, label="wet day"
    )
    top = float(np.nanmax(air)) if rooted.any() else 2 * limit
    ax.set_ylim(0, max(1.12 * top, 2 * limit))
    _title(
        ax, "Air among the roots, %", (f"under {limit:.0f} %: too wet", STYLES["warning"].colour)
    )
    if not rooted.any():
        _note(ax, "nothing planted")
    return _finish(ax, times)


@plain_text
def use_axes(season: xr.Dataset, *, ax: Axes | None = None, units: System = "metric") -> Axes:
    """Evapotranspiration: what the plants took and, on top of it, what dried off the surface.

    Parameters
    ----------
    season : Dataset, dims (time,)
        A run of one bed.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Millimetres or inches.

    Returns
    -------
    Axes
        Two bands, one on the other; the days on which plants got under 90 % of their need as a gap
        up to what they wanted.
    """
    ax = _axes(ax)
    times = season["time"].to_numpy()
    size, unit = (_INCH, "in") if units == "us" else (1e-3, "mm")
    took = season["transpiration"].to_numpy() / size
    dried = season["evaporation"].to_numpy() / size
    wanted = season["transpiration_potential"].to_numpy() / size
    short = wanted > took * 1.001
    ax.fill_between(
        times,
        took,
        color=STYLES["transpiration"].colour,
        alpha=0.75,
        linewidth=0,
        step="mid",
        label="plants",
    )
    ax.fill_between(
        times,
        took,
        took + dried,
        color=STYLES["evaporation"].colour,
        alpha=0.9,
        linewidth=0,
        step="mid",
        label="surface",
    )
    words = [("plants", STYLES["transpiration"].colour), ("surface", STYLES["evaporation"].colour)]
    if short.any():
        lacking = np.where(short, wanted, np.nan)
        ax.plot(
            times,
            lacking,
            ".-",
            color=STYLES["warning"].colour,
            linewidth=1.3,
            markersize=2.0,
            label="wanted by the plants",
        )
        words.append(("wanted, not got", STYLES["warning"].colour))
    highest = float(max((took + dried).max(), wanted.max(), 1e-9))
    ax.set_ylim(0, 1.12 * highest)
    _title(ax, f"Water used, {unit} a day", *words)
    return _finish(ax, times)


def _axes(ax: Axes | None) -> Axes:
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    return Figure(figsize=(_WIDTH, 2.3), layout="constrained").subplots()


def _title(ax: Axes, title: str, *words: tuple[str, str]) -> None:
    """Title to the left; what the colours mean to the right, each word in its colour."""
    ax.set_title(title, loc="left", fontsize=_TITLE, color=INK, pad=14)
    from matplotlib.offsetbox import AnchoredOffsetbox, HPacker, TextArea

    parts: list[Any] = [
        HPacker(
            children=[
                TextArea("\u25a0", textprops={"color": colour, "fontsize": _LABEL + 2}),
                TextArea(word, textprops={"color": INK, "fontsize": _LABEL}),
            ],
            align="baseline",
            pad=0,
            sep=3,
        )
        for word, colour in words
    ]
    packed = HPacker(children=parts, align="baseline", pad=0, sep=10)
    ax.add_artist(
        AnchoredOffsetbox(
            "lower left",
            child=packed,
            frameon=False,
            pad=0,
            borderpad=0.1,
            bbox_to_anchor=(0, 1.0),
            bbox_transform=ax.transAxes,
        )
    )


def _note(ax: Axes, text: str) -> None:
    ax.text(
        0.5,
        0.75,
        text,
        transform=ax.transAxes,
        ha="center",
        va="center",
        fontsize=_LABEL,
        color=MUTED,
    )


def _finish(ax: Axes, times: NDArray[Any]) -> Axes:
    """Quiet frame, four figures at most on the upright axis, dates that suit the span."""
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter
    from matplotlib.ticker import MaxNLocator

    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(labelsize=FONT_SIZE + 0.5, labelcolor=INK, length=0, pad=3)
    ax.tick_params(axis="x", length=3, color=MUTED)
    ax.grid(color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 5, 10], min_n_ticks=3))
    locator = AutoDateLocator(minticks=3, maxticks=6)
    ax.xaxis.set_major_locator(locator)
    formatter = ConciseDateFormatter(locator)
    ax.xaxis.set_major_formatter(formatter)
    ax.xaxis.get_offset_text().set_fontsize(FONT_SIZE + 0.5)
    half = np.timedelta64(12, "h")
    ax.set_xlim(times[0] - half, times[-1] + half)
    return ax


def _bar_width(times: NDArray[Any]) -> float:
    """Width of one day's bar [point], so that neighbours touch but a year still shows."""
    return float(np.clip(0.8 * 72 * 3.0 / times.size, 0.6, 8.0))
