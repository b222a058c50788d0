"""The days of the hardest rainy spell as its page draws them, in the reader's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bedtide.report.spell_pictures import hardest
from bedtide.units import INCH

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.units import System

_MOST_BEDS = 4  # whose air is drawn
_CLASSES = (0.1, 0.2, 0.3, 0.4)  # air shares that part the colours [1]

Values = tuple[float | None, ...]


@dataclass(frozen=True, kw_only=True)
class BedDays:
    """One bed in the spell with its overflow open or blocked: air in %, heights above the floor."""

    name: str
    air_roots: Values  # None where nothing is rooted
    level: tuple[float, ...]
    lowest_roots: Values
    faces: tuple[float, ...]
    air: tuple[tuple[int, ...], ...]  # class of air of each slice and day, the lowest first
    thirds: tuple[tuple[float, ...], ...]  # mean air of each day, top third of the mix first


@dataclass(frozen=True, kw_only=True)
class SpellDays:
    """The days around a spell."""

    first: int  # place of its first day and of its last
    last: int
    dates: tuple[str, ...]
    rain: tuple[float, ...]
    beds: tuple[BedDays, ...]


def spell_days(spells: xr.Dataset, units: System) -> SpellDays:
    """The spell that is hardest on the roots; one bed open and blocked, or several beds open."""
    spell = hardest(spells)
    alone, day = spells.sizes["bed"] == 1, spell["day"].to_numpy().tolist()
    beds, height = range(min(spells.sizes["bed"], _MOST_BEDS)), INCH if units == "us" else 0.01
    return SpellDays(
        first=day.index(0),
        last=day.index(int(spell["spell_days"]) - 1),
        dates=tuple(map(str, spell["date"].to_numpy().astype("datetime64[D]"))),
        rain=_told(spell["rain"], INCH if units == "us" else 1e-3),
        beds=tuple(
            _bed(
                spell.isel(bed=at).sel(outlet=outlet),
                f"overflow {outlet}" if alone else spell["bed"][at].item(),
                height,
            )
            for at in beds
            for outlet in (("open", "blocked") if alone else ("open",))
        ),
    )


def _bed(one: xr.Dataset, name: str, height: float) -> BedDays:
    rooted = one["root_depth"] > 0
    air = one["air"].transpose("slice", "day").to_numpy()
    thirds = (100.0 * part.mean(axis=0) for part in np.split(air, 3)[::-1])
    return BedDays(
        name=name,
        air_roots=_told(one["air_root_zone"], 0.01, rooted),
        level=_told(np.maximum(one["level"], 0.0), height),
        lowest_roots=_told(np.maximum(one["lowest_roots"], 0.0), height, rooted),
        faces=_told(one["face_height"], height),
        air=tuple(map(tuple, np.digitize(air, _CLASSES).tolist())),
        thirds=tuple(zip(*thirds, strict=True)),
    )


def _told(values: Any, size: float, where: Any = True) -> Any:
    """Figures in a unit of some size, None where they are not known."""
    known = np.broadcast_to(where, np.shape(values))
    figures = np.round(np.asarray(values) / size, 2).tolist()
    return tuple(v if there else None for v, there in zip(figures, known, strict=True))
