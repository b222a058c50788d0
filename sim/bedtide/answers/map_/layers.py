"""What a map draws: sheets of small maps, their classes and colours, for pictures and page."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.map_.summary import ESTIMATED, FIGURES, on_grid
from bedtide.many import BY_MONTH
from bedtide.report.templates import day_of_year
from bedtide.units import US_GALLON

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

Array = NDArray[np.float64]

STEPS: Final = ("air4", "air3", "air2", "air1", "air0")
"""Colours of rising classes, from light to dark."""
APART: Final = ("less2", "less1", "same", "more1", "more2")
"""Colours of a difference."""
BEDS: Final = ("level", "evaporation", "transpiration", "overflow", "rain", "mix_wick")
"""Colours of beds; no more of them are mapped together."""
NONE: Final = "ink"
"""Colour of a place where no bed suits."""
BLANK: Final = "paper"
"""Colour of a place without a figure."""
_MOST: Final = 5  # classes
_NEAR: Final = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9, 10)


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One small map: a class for each place, -1 where there is none."""

    title: str
    classes: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """Small maps that share their classes, drawn beside one another."""

    name: str  # of its file
    title: str
    words: tuple[str, ...]  # of the classes, rising
    colours: tuple[str, ...]
    layers: tuple[Layer, ...]

    @property
    def alike(self) -> str:
        """What is true of every place, where one class holds them all."""
        classes = {own for layer in self.layers for own in layer.classes}
        return self.words[classes.pop()] if len(classes) == 1 and min(classes) >= 0 else ""

    @property
    def key(self) -> list[tuple[str, str]]:
        """Colours and what they mean; blank too, where there is any."""
        blank = any(own < 0 for layer in self.layers for own in layer.classes)
        return [
            *zip(self.colours, self.words, strict=True),
            *([(BLANK, "no figure")] if blank else []),
        ]


def sheets_of(drawn: xr.Dataset, units: System) -> list[Sheet]:
    """All sheets of a map, in the order in which they are shown."""
    beds = [str(bed) for bed in drawn["bed"].to_numpy()]
    volume, size = ("US gal", US_GALLON) if units == "us" else ("L", 1e-3)
    found = []
    if len(beds) > 1:
        classes = np.where(drawn["suited"] == -1, len(beds), drawn["suited"])
        layer = Layer(title="", classes=tuple(np.maximum(classes, -1).tolist()))
        found.append(
            Sheet(
                name="suits",
                title="Which bed suits",
                words=(*beds, "none"),
                colours=(*BEDS[: len(beds)], NONE),
                layers=(layer,),
            )
        )
    titles: dict[str, tuple[str, float]] = {}  # and by what values are multiplied
    for each in FIGURES:
        if each.title and each.name in drawn:
            unit = str(drawn[each.name].attrs["units"])
            litres, percent = unit.startswith("m3"), each.factor == 100.0
            shown = f", {volume}" if litres else ", %" if percent else ""
            title = each.title + shown + (" a year" if "year" in unit else "")
            titles[each.name] = (title, 1.0 / size if litres else each.factor)
    for name, (title, factor) in titles.items():
        values = drawn[name].to_numpy() * factor
        found.append(_sheet(name, title, list(zip(beds, values, strict=True))))
    months = [calendar.month_abbr[month] for month in range(1, 13)]
    for at, bed in enumerate(beds):
        number = f"_{at + 1}" if len(beds) > 1 else ""
        for name, title in (
            ("interval_median", "Days between fills by month"),
            ("interval_p10", "Nine gaps in ten are at least so many days"),
        ):
            values = drawn[f"{name}{BY_MONTH}"].isel(bed=at).to_numpy().T
            shown = f"{bed}: {title[:1].lower()}{title[1:]}" if number else title
            file = f"{name.removeprefix('interval_')}_by_month{number}"
            found.append(_sheet(file, shown, list(zip(months, values, strict=True))))
    if len(beds) == 2:
        for name, (title, factor) in titles.items():
            if f"{name}_difference" in drawn:
                values = drawn[f"{name}_difference"].to_numpy() * factor
                whole = f"{title}: {beds[1]} less {beds[0]}"
                found.append(_sheet(f"{name}_difference", whole, [("", values)], difference=True))
    for name, title in (
        ("last_frost", "Last frost of spring, later in 1 year of 10"),
        ("first_frost", "First frost of autumn, earlier in 1 year of 10"),
    ):
        found.append(_sheet(name, title, [("", drawn[name].to_numpy())], dates=True))
    kinds = [(name, drawn[f"{name}_estimated"].to_numpy() * 100.0) for name in ESTIMATED]
    found.append(_sheet("estimated", "Days estimated, %", kinds))
    return found


def _sheet(
    name: str,
    title: str,
    layers: Sequence[tuple[str, Array]],
    *,
    dates: bool = False,
    difference: bool = False,
) -> Sheet:
    """A sheet of rising classes with round ends; of a difference, on both sides of nought."""
    together = np.concatenate([values for _, values in layers])
    ends = _ends_about_nought(together) if difference else _ends(together, even=dates)
    classes = [np.where(np.isnan(values), -1, np.digitize(values, ends)) for _, values in layers]
    return Sheet(
        name=name,
        title=title,
        words=_words(ends, together, dates=dates),
        colours=_spread(APART if difference else STEPS, len(ends) + 1),
        layers=tuple(
            Layer(title=word, classes=tuple(own.tolist()))
            for (word, _), own in zip(layers, classes, strict=True)
        ),
    )


def _ends_about_nought(values: Array) -> Array:
    """Ends of five classes as wide, the middle one about nought; none where all are nought."""
    most = float(np.nanmax(np.abs(values), initial=0.0))
    return np.array([-1.5, -0.5, 0.5, 1.5]) * _round(most / 2.5) if most else np.array([])


def _ends(values: Array, *, even: bool = False) -> Array:
    """Round numbers between at most five classes, each of as many places or as wide if `even`.

    None where all values are alike.
    """
    known = values[~np.isnan(values)]
    if not known.size or known.max() == known.min():
        return np.array([])
    low, high = float(known.min()), float(known.max())
    if low >= 0.0 and not even:
        fifths = np.quantile(known, [0.2, 0.4, 0.6, 0.8])
        ends = np.unique([_near(float(each)) for each in fifths])
        ends = ends[(ends > low) & (ends <= high)]
        if len(ends) > 1:
            return ends
    step = _round((high - low) / _MOST)
    while True:
        ends = np.arange(np.floor(low / step) + 1, np.ceil(high / step)) * step
        if len(ends) < _MOST:
            return np.asarray(ends)
        step = _round(step * 1.01)


def _near(value: float) -> float:
    """The nearest round number: of one digit, or between 1 and 3 of some more."""
    if value <= 0.0:
        return 0.0
    size = 10.0 ** np.floor(np.log10(value))
    return float(min((size * each for each in _NEAR), key=lambda number: abs(number - value)))


def _round(step: float) -> float:
    """The next number up of 1, 2, 5 and their tens."""
    size = 10.0 ** np.floor(np.log10(step))
    return float(next(size * each for each in (1, 2, 5, 10) if size * each >= step * (1 - 1e-9)))


def _words(ends: Array, values: Array, *, dates: bool = False) -> tuple[str, ...]:
    """What the classes between these ends are called."""

    def text(value: float) -> str:
        return day_of_year(value) if dates else f"{value:,.10g}".replace("-", "\u2212")

    texts = [text(end) for end in ends]
    if not texts:
        known = values[~np.isnan(values)]
        return (text(round(float(known[0]), 2)) if known.size else "no figure",)
    join = " to " if dates or any(end < 0 for end in ends) else "\u2013"
    inner = [f"{a}{join}{b}" for a, b in pairwise(texts)]
    low, high = ("before {}", "from {}") if dates else ("under {}", "{} up")
    return (low.format(texts[0]), *inner, high.format(texts[-1]))


def _spread(colours: Sequence[str], count: int) -> tuple[str, ...]:
    """So many of the colours, evenly from the first to the last."""
    if count == 1:
        return (colours[len(colours) // 2],)
    at = np.round(np.linspace(0, len(colours) - 1, count)).astype(int)
    return tuple(colours[number] for number in at)


# --- where the places lie -----------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Ground:
    """Where places lie on a drawing one wide: their middles, the size of a cell, its height."""

    x: tuple[float, ...]
    y: tuple[float, ...]  # downward
    wide: float  # of a cell, 0 for points
    tall: float
    height: float
    south: float  # degrees
    north: float
    west: float
    east: float


def ground_of(drawn: xr.Dataset) -> Ground | None:
    """Where the places lie; None where fewer than one has latitude and longitude.

    Places are cells where they fill a grid of latitudes and longitudes, else points. A degree of
    longitude is as wide as it is at the middle latitude.
    """
    latitude, longitude = (drawn[name].to_numpy() for name in ("latitude", "longitude"))
    known = ~(np.isnan(latitude) | np.isnan(longitude))
    if not known.any():
        return None
    rows, columns, grid = np.unique(latitude[known]), np.unique(longitude[known]), on_grid(drawn)
    step_y, step_x = (_least_step(each) if grid else 0.0 for each in (rows, columns))
    margin = 0.0 if grid else 0.06 * max(np.ptp(rows), np.ptp(columns), 0.5)
    south, north = rows[0] - step_y / 2 - margin, rows[-1] + step_y / 2 + margin
    west, east = columns[0] - step_x / 2 - margin, columns[-1] + step_x / 2 + margin
    narrow = max(np.cos(np.radians((south + north) / 2)), 0.2)
    width = (east - west) * narrow
    return Ground(
        x=tuple(((longitude - west) * narrow / width).tolist()),
        y=tuple(((north - latitude) / width).tolist()),
        wide=step_x * narrow / width,
        tall=step_y / width,
        height=float((north - south) / width),
        south=float(south),
        north=float(north),
        west=float(west),
        east=float(east),
    )


def _least_step(values: Array) -> float:
    return float(np.diff(values).min())


def path_of(
    ground: Ground, classes: Sequence[int], number: int, x: float, y: float, wide: float
) -> str:
    """Path of an SVG over the places of a class, the cells of a row as one where they touch."""
    places = [at for at, own in enumerate(classes) if own == number]
    if not ground.wide:
        known = [at for at in places if ground.x[at] == ground.x[at]]
        where = [(x + ground.x[at] * wide, y + ground.y[at] * wide) for at in known]
        return "".join(f"M{a - 4:.1f} {b:.1f}a4 4 0 1 0 8 0a4 4 0 1 0-8 0" for a, b in where)
    words: list[tuple[float, float, float]] = []
    last = (-1.0, -1.0)
    half, height = ground.wide / 2, ground.tall * wide
    for row, left in sorted((ground.y[at], ground.x[at] - half) for at in places):
        touches = last[0] == row and abs(left - last[1]) < half
        begin = words.pop()[0] if touches else left
        words.append((begin, left + ground.wide, row))
        last = (row, left + ground.wide)
    down = f"v{height:.1f}"
    boxes = [(x + a * wide, x + b * wide, y + row * wide - height / 2) for a, b, row in words]
    return "".join(f"M{a:.1f} {top:.1f}H{b:.1f}{down}H{a:.1f}z" for a, b, top in boxes)
