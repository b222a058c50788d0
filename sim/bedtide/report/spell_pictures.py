"""Pictures of a rainy spell: air in the mix by height and day, the overflow open and blocked."""

from __future__ import annotations

from calendar import month_name
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.constants import AIR_LIMIT
from bedtide.many import OUTLETS
from bedtide.report.results import UNITS, air_classes, series
from bedtide.report.style import (
    FONT_SIZE,
    INK,
    LABEL,
    MUTED,
    PAPER,
    STYLES,
    TITLE,
    axes_on,
    colour,
    dated,
    plain_text,
    sheet,
)
from bedtide.units import System, depth_text

if TYPE_CHECKING:
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_BEDS, _BOTH = 6, 3  # beds that are drawn, and up to how many with the overflow blocked too
_MOST_ON_PAGE = 4  # beds that a page draws
_LONGEST = 50  # letters of a panel's title
_LEVELS = (0.0, 0.02, 0.05, AIR_LIMIT, 0.15, 0.25, 1.0)
# Blue under the limit, darker the less air; sand above it. Light and dark alone tell them apart.
_COLOURS = ("#17406b", "#3474ad", "#86b6dc", "#ecdfc3", "#f4ecd9", "#fbf8f0")
_NAMES = ("under 2 % air", "2 to 5 %", "5 to 10 %", "10 to 15 %", "15 to 25 %", "over 25 %")
_SECONDS, _DAY = "datetime64[s]", np.timedelta64(86400, "s")
_CLOSE = 0.005  # m between roots and overflow that can't be told apart
_ROOTS: dict[str, Any] = {
    "color": colour("transpiration"),
    "linewidth": 1.4,
    "linestyle": (0, (4, 1.5)),
    "label": "lowest roots",
}
_LIP: dict[str, Any] = {
    "color": colour("overflow"),
    "linewidth": 1.4,
    "linestyle": STYLES["overflow"].dashes,
    "label": "overflow",
}


def hardest(spells: xr.Dataset) -> xr.Dataset:
    """The spell that is hardest on the roots, most wet days, then least air: its own days alone.

    With ``lowest_roots``, how high above the floor they are [m], NaN without any.
    """
    wet = spells["wet_days"].sel(outlet="open").sum("bed")
    air = spells["air_lowest"].sel(outlet="open").min("bed").fillna(np.inf)
    spell = spells.isel(spell=int(np.lexsort((air, -wet))[0]))
    spell = spell.isel(day=np.isfinite(spell["rain"].to_numpy()))
    depth = spell["root_depth"]
    return spell.assign(lowest_roots=(spell["surface_height"] - depth).where(depth > 0))


@plain_text()
def wet_spell_figure(spells: xr.Dataset, *, units: System = "metric") -> Figure:
    """The spell that is hardest on the roots: the rain, then bed below bed the air in the mix.

    Of more than six beds the first six are drawn; of up to three also with the overflow blocked.
    """
    spell = hardest(spells)
    beds = min(spell.sizes["bed"], _MOST_BEDS)
    outlets = OUTLETS if beds <= _BOTH else OUTLETS[:1]
    panels = list(product(range(beds), outlets))
    figure = sheet(2.0 + 1.75 * len(panels))
    heights = [0.6, *([1.15] * len(panels)), 0.28]
    rain, *drawn, key = figure.subplots(len(heights), 1, height_ratios=heights)
    _rain(rain, spell, units)
    for ax, (bed, outlet) in zip(drawn, panels, strict=True):
        air_height_axes(spell.isel(bed=bed), outlet=outlet, ax=ax, units=units)
    for ax in (rain, *drawn[:-1]):
        ax.tick_params(axis="x", labelbottom=False)
    _key(key, spell.isel(bed=slice(beds)).sel(outlet=list(outlets)), spell.sizes["bed"] - beds)
    return figure


@plain_text()
def air_height_axes(
    bed: xr.Dataset, *, outlet: str = "open", ax: Axes | None = None, units: System = "metric"
) -> Axes:
    """Air share of the mix of one bed by height and day, with roots, lip and water that stands."""
    from matplotlib.colors import BoundaryNorm, ListedColormap

    ax, one = axes_on(ax), bed.sel(outlet=outlet)
    _, size, unit = UNITS["height"][units]
    faces, lowest, standing = (
        one[name].to_numpy() / size for name in ("face_height", "lowest_roots", "standing_water")
    )
    lip, surface = (
        float(height) / size for height in (one["lip_height"][0], one["surface_height"])
    )
    dates, air = _dates(one), one["air"].transpose("slice", "day").to_numpy()
    edges = np.append(dates, dates[-1] + _DAY) - _DAY / 2
    shades = {"cmap": ListedColormap(_COLOURS), "norm": BoundaryNorm(_LEVELS, len(_COLOURS))}
    ax.pcolormesh(edges, faces, air, rasterized=True, **shades)  # type: ignore[arg-type]
    if (air < AIR_LIMIT).any() and (air >= AIR_LIMIT).any() and dates.size > 1:
        centres = 0.5 * (faces[1:] + faces[:-1])
        ax.contour(dates, centres, air, levels=[AIR_LIMIT], colors=[INK], linewidths=1.1)
    lowest = np.append(lowest, lowest[-1])
    ax.step(edges, lowest, where="post", color=PAPER, linewidth=2.4)
    ax.step(edges, lowest, where="post", **_ROOTS)
    if outlet == "open":
        ax.axhline(lip, color=PAPER, linewidth=2.2)
        ax.axhline(lip, **_LIP)
    if standing.max() > 0:
        water: dict[str, Any] = {"color": colour("water"), "label": "standing water"}
        top = surface + np.repeat(standing, 2)
        ax.fill_between(np.repeat(edges, 2)[1:-1], surface, top, linewidth=0, **water)
    ax.set_ylim(0, (surface + max(0.0, float(standing.max()))) * 1.02)
    letter, label, wet = one["bed"].item(), one["label"].item(), int(one["wet_days"])
    name = f"{letter}, overflow blocked" if outlet == "blocked" else f"{letter}: {label}"
    name = name if len(name) <= _LONGEST else name[: _LONGEST - 3].rstrip(" ,") + "..."
    return _finish(ax, one, name, f"height, {unit}; {wet} wet {'day' if wet == 1 else 'days'}")


def _rain(ax: Axes, spell: xr.Dataset, units: System) -> None:
    """Bars of rain, and which spell this is."""
    _, size, unit = UNITS["depth"][units]
    rain = spell["rain"].to_numpy() / size
    ax.bar(_dates(spell), rain, width=0.85, color=colour("rain"), edgecolor=INK, linewidth=0.3)
    first = spell["spell_start"].to_numpy().astype("datetime64[D]").item()
    length, amount = int(spell["spell_days"]), depth_text(float(spell["spell_rain"]), units)
    kind = "put in " if bool(spell["spell_stated"]) else ""
    title = (
        f"{length} {'day' if length == 1 else 'days'} of rain, {amount}, {kind}"
        f"{'on' if length == 1 else 'from'} {first.day} {month_name[first.month]} {first.year}"
    )
    _finish(ax, spell, title, f"rain, {unit} a day; black bar: the spell")


def _finish(ax: Axes, spell: xr.Dataset, title: str, below: str) -> Axes:
    """Title, a bar over the days of the spell, a quiet frame, dates below."""
    dated(ax, _dates(spell))
    ax.grid(visible=False, axis="x")
    ax.set_title(title, loc="left", fontsize=TITLE - 0.5, color=INK, pad=15)
    words: dict[str, Any] = {"fontsize": LABEL - 0.5, "color": MUTED, "va": "bottom"}
    ax.annotate(below, (0, 1), xytext=(0, 4), xycoords="axes fraction",
                textcoords="offset points", **words)  # fmt: skip
    bar: dict[str, Any] = {"linewidth": 3.0, "clip_on": False, "solid_capstyle": "butt"}
    first, half = spell["spell_start"].to_numpy().astype(_SECONDS), _DAY / 2
    ends = [first - half, first + int(spell["spell_days"]) * _DAY - half]
    ax.plot(ends, [1, 1], transform=ax.get_xaxis_transform(), color=INK, **bar)
    return ax


def _dates(spell: xr.Dataset) -> NDArray[np.datetime64]:
    """Days that are drawn: where the middle of each stands."""
    return spell["date"].to_numpy().astype(_SECONDS)


def _key(ax: Axes, drawn: xr.Dataset, left_out: int) -> None:
    """What the colours and lines mean, of those that are drawn."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    ax.set_axis_off()
    more = f"{left_out} more {'bed is' if left_out == 1 else 'beds are'} in the table"
    edge: dict[str, Any] = {"edgecolor": MUTED, "linewidth": 0.4}
    patches = [Patch(facecolor=c, label=n, **edge) for c, n in zip(_COLOURS, _NAMES, strict=True)]
    if float(drawn["standing_water"].max()) > 0:
        patches.append(Patch(facecolor=colour("water"), label="standing water"))
    lowest, lip = drawn["lowest_roots"], drawn["lip_height"].sel(outlet="open")
    apart = bool((np.abs(lowest - lip) > _CLOSE).any())
    apart |= "blocked" in drawn["outlet"].to_numpy() and bool(np.isfinite(lowest).any())
    lines = [Line2D([], [], color=INK, linewidth=1.1, label="10 % air")]
    both = [_LIP, _ROOTS] if apart else [_LIP | {"label": "overflow, roots"}]
    ax.legend(
        handles=[*patches, *lines, *(Line2D([], [], **line) for line in both)],
        ncol=3,
        loc="upper left",
        bbox_to_anchor=(-0.02, 1.1),
        frameon=False,
        fontsize=FONT_SIZE,
        title=more if left_out > 0 else None,
        title_fontsize=FONT_SIZE,
        handlelength=1.6,
        columnspacing=1.2,
        labelcolor=INK,
        borderpad=0,
    )


def spell_days(spells: xr.Dataset, units: System) -> dict[str, Any]:
    """The days of the hardest spell as its page draws them; one bed open and blocked, or several.

    Heights above the floor, air in %; None where there is nothing.
    """
    spell = hardest(spells)
    day, beds = spell["day"].to_numpy().tolist(), spell["bed"].to_numpy().tolist()
    height = UNITS["height"][units][1]

    def course(bed: int, outlet: str) -> dict[str, Any]:
        one = spell.isel(bed=bed).sel(outlet=outlet)
        rooted, air = one["root_depth"] > 0, one["air"].transpose("slice", "day").to_numpy()
        thirds = (100.0 * part.mean(axis=0) for part in np.split(air, 3)[::-1])
        return {
            "name": f"overflow {outlet}" if len(beds) == 1 else beds[bed],
            "air_roots": series(one["air_root_zone"] / 0.01, rooted),
            "level": series(np.maximum(one["level"], 0.0) / height),
            "lowest_roots": series(np.maximum(one["lowest_roots"], 0.0) / height, rooted),
            "faces": series(one["face_height"] / height),
            "air": air_classes(air),  # of each slice, the lowest first
            "thirds": list(zip(*thirds, strict=True)),  # mean air of each day, the top first
        }

    outlets = OUTLETS if len(beds) == 1 else OUTLETS[:1]
    drawn = product(range(min(len(beds), _MOST_ON_PAGE)), outlets)
    return {
        "first": day.index(0),
        "last": day.index(int(spell["spell_days"]) - 1),
        "dates": spell["date"].to_numpy().astype("datetime64[D]").astype(str).tolist(),
        "rain": series(spell["rain"] / UNITS["depth"][units][1]),
        "beds": [course(*each) for each in drawn],
    }
