"""Picture of a rainy spell: air in the mix by height and day, the overflow open and blocked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import AIR_LIMIT
from bedtide.report.style import FONT_SIZE, INK, MUTED, PALE, PAPER, STYLES, plain_text
from bedtide.report.words import month_name
from bedtide.units import System, depth_text

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["air_height_axes", "drawn_spell", "wet_spell_figure"]

_WIDTH = 4.0  # inch; on a phone 360 dots wide, 8 pt type is then 10 dots high
_TITLE, _LABEL = FONT_SIZE + 2.0, FONT_SIZE + 0.5
_MOST_BEDS, _BOTH = 6, 3  # beds that are drawn, and up to how many with the overflow blocked too
_LONGEST = 50  # letters of a panel's title
_LEVELS = (0.0, 0.02, 0.05, AIR_LIMIT, 0.15, 0.25, 1.0)
# Blue under the limit, darker the less air; sand above it. Light and dark alone tell them apart.
_COLOURS = ("#17406b", "#3474ad", "#86b6dc", "#ecdfc3", "#f4ecd9", "#fbf8f0")
_CLOSE = 0.005  # m between roots and overflow that can't be told apart
_INCH = 0.0254  # m


@plain_text
def wet_spell_figure(
    spells: xr.Dataset, *, figure: Figure | None = None, units: System = "metric"
) -> Figure:
    """Picture of the spell that is hardest on the roots, bed below bed.

    Answers: where in the mix was there air, on which day, and what if the overflow is blocked.

    Parameters
    ----------
    spells : Dataset, dims (spell, bed, outlet, day)
        As `bedtide.many.wet_spell.wet_spells` returns it.
    figure : Figure, optional
        Drawn on if given, else a new one 4 inches wide.
    units : {"metric", "us"}
        Units to write in.

    Returns
    -------
    Figure
        Rain on top; for up to six beds the air by height and day, for up to three of them with
        the overflow blocked as well.
    """
    spell = spells.isel(spell=drawn_spell(spells))
    beds = min(spells.sizes["bed"], _MOST_BEDS)
    outlets = ("open", "blocked") if beds <= _BOTH else ("open",)
    panels = [(bed, outlet) for bed in range(beds) for outlet in outlets]
    if figure is None:
        from matplotlib.figure import Figure as NewFigure

        size = (_WIDTH, 1.55 + 1.75 * len(panels) + 0.45)
        figure = NewFigure(figsize=size, layout="constrained")
    axes = figure.subplots(
        len(panels) + 2,
        1,
        sharex=False,
        gridspec_kw={"height_ratios": [0.6, *([1.15] * len(panels)), 0.28]},
    )
    _rain(axes[0], spell, units)
    for ax, (bed, outlet) in zip(axes[1:-1], panels, strict=True):
        air_height_axes(spell.isel(bed=bed), outlet=outlet, ax=ax, units=units)
    for ax in axes[:-2]:
        ax.tick_params(axis="x", labelbottom=False)
    _key(
        axes[-1], spell.isel(bed=slice(beds)).sel(outlet=list(outlets)), spells.sizes["bed"] - beds
    )
    return figure


def drawn_spell(spells: xr.Dataset) -> int:
    """Number of the spell that is hardest on the roots: most wet days, then least air.

    Parameters
    ----------
    spells : Dataset, dims (spell, bed, outlet, day)
        As `bedtide.many.wet_spell.wet_spells` returns it.

    Returns
    -------
    int
        Counted over all beds with the overflow open [1].
    """
    wet = spells["wet_days"].sel(outlet="open").sum("bed").to_numpy()
    air = spells["air_lowest"].sel(outlet="open").min("bed").to_numpy()
    return int(np.lexsort((np.where(np.isnan(air), np.inf, air), -wet))[0])


@plain_text
def air_height_axes(
    bed: xr.Dataset, *, outlet: str = "open", ax: Axes | None = None, units: System = "metric"
) -> Axes:
    """Air share of the mix by height and day, with the roots and the water level.

    Parameters
    ----------
    bed : Dataset, dims (outlet, day)
        One bed in one spell, of what `bedtide.many.wet_spell.wet_spells` returns.
    outlet : {"open", "blocked"}
        Which of the two runs.
    ax : Axes, optional
        Drawn on if given.
    units : {"metric", "us"}
        Centimetres or inches.

    Returns
    -------
    Axes
        Blue where the mix holds under 10 % air; a line round it; the overflow's lip, the lowest
        roots, the free water.
    """
    if ax is None:
        from matplotlib.figure import Figure as NewFigure

        ax = NewFigure(figsize=(_WIDTH, 2.4), layout="constrained").subplots()
    from matplotlib.colors import BoundaryNorm, ListedColormap

    one = bed.sel(outlet=outlet)
    size, unit = (_INCH, "in") if units == "us" else (0.01, "cm")
    known = np.isfinite(one["rain"].to_numpy())
    day = one["day"].to_numpy()[known]
    air = one["air"].transpose("slice", "day").to_numpy()[:, known]
    faces = one["face_height"].to_numpy() / size
    edges = np.append(day, day[-1] + 1) + 0.5
    ax.pcolormesh(
        edges,
        faces,
        air,
        cmap=ListedColormap(list(_COLOURS)),
        norm=BoundaryNorm(_LEVELS, len(_COLOURS)),
        rasterized=True,
    )
    centres = 0.5 * (faces[1:] + faces[:-1])
    if (air < AIR_LIMIT).any() and (air >= AIR_LIMIT).any() and day.size > 1:
        ax.contour(day + 1, centres, air, levels=[AIR_LIMIT], colors=[INK], linewidths=1.1)
    surface = float(one["surface_height"]) / size
    lowest = _lowest_roots(one)[known] / size
    ax.step(edges, np.append(lowest, lowest[-1]), where="post", color=PAPER, linewidth=2.4)
    ax.step(
        edges,
        np.append(lowest, lowest[-1]),
        where="post",
        color=STYLES["transpiration"].colour,
        linewidth=1.4,
        linestyle=(0, (4, 1.5)),
        label="lowest roots",
    )
    lip = float(one["lip_height"].to_numpy()[known][0]) / size
    if outlet == "open":
        ax.axhline(lip, color=PAPER, linewidth=2.2)
        ax.axhline(
            lip,
            color=STYLES["overflow"].colour,
            linewidth=1.4,
            linestyle=STYLES["overflow"].dashes,
            label="overflow",
        )
    standing = one["standing_water"].to_numpy()[known] / size
    top = max(surface, surface + float(standing.max()))
    if standing.max() > 0:
        ax.fill_between(
            np.repeat(edges, 2)[1:-1],
            surface,
            surface + np.repeat(standing, 2),
            color=STYLES["water"].colour,
            linewidth=0,
            label="standing water",
        )
    ax.set_ylim(0, top * 1.02)
    ax.set_xlim(edges[0], edges[-1])
    _mark_spell(ax, int(one["spell_days"]))
    letter, label = one["bed"].item(), one["label"].item()
    name = f"{letter}, overflow blocked" if outlet == "blocked" else f"{letter}: {label}"
    wet = int(one["wet_days"])
    _panel_title(
        ax,
        name if len(name) <= _LONGEST else name[: _LONGEST - 3].rstrip(" ,") + "...",
        f"height, {unit}; {wet} wet {'day' if wet == 1 else 'days'}",
    )
    return _finish(ax, one)


def _lowest_roots(bed: xr.Dataset) -> NDArray[np.float64]:
    """Height of the lowest roots, NaN without any, shape (..., day) [m]."""
    depth = bed["root_depth"]
    height = (bed["surface_height"] - depth).where(depth > 0)
    return np.asarray(height.transpose(..., "day").to_numpy())


def _rain(ax: Axes, spell: xr.Dataset, units: System) -> None:
    """Bars of rain, and which spell this is."""
    size, unit = (_INCH, "in") if units == "us" else (1e-3, "mm")
    rain = spell["rain"].to_numpy() / size
    known = np.isfinite(rain)
    day = spell["day"].to_numpy()[known] + 1
    ax.bar(day, rain[known], width=0.85, color=STYLES["rain"].colour, edgecolor=INK, linewidth=0.3)
    ax.set_xlim(day[0] - 0.5, day[-1] + 0.5)
    first = spell["spell_start"].to_numpy().astype("datetime64[D]").item()
    length = int(spell["spell_days"])
    kind = "put in from" if bool(spell["spell_stated"]) else "from"
    amount = depth_text(float(spell["spell_rain"]), units)
    _panel_title(
        ax,
        f"{length} days of rain, {amount}, {kind} {first.day} {month_name(first.month)} "
        f"{first.year}",
        f"rain, {unit} a day; black bar: the spell",
    )
    _mark_spell(ax, length)
    _finish(ax, spell)


def _mark_spell(ax: Axes, days: int) -> None:
    """A bar over the panel on the days of the spell."""
    ax.plot(
        [0.5, days + 0.5],
        [1.0, 1.0],
        transform=ax.get_xaxis_transform(),
        color=INK,
        linewidth=3.0,
        clip_on=False,
        solid_capstyle="butt",
    )


def _panel_title(ax: Axes, title: str, below: str) -> None:
    ax.set_title(title, loc="left", fontsize=_TITLE, color=INK, pad=15)
    ax.text(
        0.0,
        1.0,
        below,
        transform=ax.transAxes + _lifted(ax),
        fontsize=_LABEL,
        color=MUTED,
        va="bottom",
    )


def _lifted(ax: Axes) -> Any:
    """Shift of the second line of a title above the panel."""
    from matplotlib.transforms import ScaledTranslation

    figure = ax.get_figure(root=True)
    assert figure is not None
    return ScaledTranslation(0, 4 / 72, figure.dpi_scale_trans)


def _finish(ax: Axes, spell: xr.Dataset) -> Axes:
    """Quiet frame; days of the spell below, counted from its first."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator

    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.spines["bottom"].set_color(MUTED)
    ax.tick_params(labelsize=FONT_SIZE, labelcolor=INK, length=0, pad=3)
    ax.tick_params(axis="x", length=3, color=MUTED)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 5, 10]))
    days = spell["day"].to_numpy()[np.isfinite(spell["rain"].to_numpy())]
    dates = spell["date"].to_numpy().astype("datetime64[D]")
    first = int(spell["day"].to_numpy()[0])

    def name(value: float, place: Any = None) -> str:
        at = round(value) - 1 - first
        if not 0 <= at < dates.size or np.isnat(dates[at]):
            return ""
        day = dates[at].item()
        return f"{day.day} {month_name(day.month)[:3]}"

    step = 7 if days.size <= 45 else 14
    ticks = [day + 1 for day in range(int(days[0]), int(days[-1]) + 1) if day % step == 0]
    ax.xaxis.set_major_locator(FixedLocator(ticks))
    ax.xaxis.set_major_formatter(FuncFormatter(name))
    ax.grid(axis="y", color=PALE, linewidth=0.4)
    ax.set_axisbelow(True)
    return ax


def _key(ax: Axes, drawn: xr.Dataset, left_out: int) -> None:
    """What the colours and lines mean, of those that are drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    ax.set_axis_off()
    names = ["under 2 % air", "2 to 5 %", "5 to 10 %", "10 to 15 %", "15 to 25 %", "over 25 %"]
    patches = [
        Patch(facecolor=colour, edgecolor=MUTED, linewidth=0.4, label=name)
        for colour, name in zip(_COLOURS, names, strict=True)
    ]
    if float(drawn["standing_water"].max()) > 0:
        patches.append(Patch(facecolor=STYLES["water"].colour, label="standing water"))
    lip = drawn["lip_height"].sel(outlet="open").transpose(..., "day").to_numpy()
    lowest = _lowest_roots(drawn)
    apart = bool((np.abs(lowest - lip) > _CLOSE).any())
    apart |= "blocked" in drawn["outlet"].to_numpy() and bool(np.isfinite(lowest).any())
    overflow = STYLES["overflow"]
    lines = [
        Line2D([], [], color=INK, linewidth=1.1, label="10 % air"),
        Line2D(
            [],
            [],
            color=overflow.colour,
            linewidth=1.4,
            linestyle=overflow.dashes,
            label="overflow" if apart else "overflow, roots",
        ),
    ]
    if apart:
        green = STYLES["transpiration"].colour
        dashes = (0, (4, 1.5))
        roots = Line2D([], [], color=green, linewidth=1.4, linestyle=dashes, label="lowest roots")
        lines.append(roots)
    title = f"{left_out} more beds are in the table" if left_out > 0 else None
    legend = ax.legend(
        handles=[*patches, *lines],
        ncol=3,
        loc="upper left",
        bbox_to_anchor=(-0.02, 1.1),
        frameon=False,
        fontsize=FONT_SIZE,
        title=title,
        title_fontsize=FONT_SIZE,
        handlelength=1.6,
        columnspacing=1.2,
        labelcolor=INK,
        borderpad=0,
    )
    legend.set_in_layout(True)
