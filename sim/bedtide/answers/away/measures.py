"""What a grower can change before leaving, each as a bed, a weather and a helping hand to run."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from bedtide.answers.away.starts import NEIGHBOURS
from bedtide.bed import Bed, Surface, capacity, level_of
from bedtide.crop import Planting, season_length
from bedtide.errors import ChoiceError, FieldError, choice
from bedtide.weather import reference_et

if TYPE_CHECKING:
    import xarray as xr

AS_IT_IS = "as it is"
"""Key of the bed without any change."""

MEASURES = ("top up", "mulch", "shade", "cover", "open", "harvest", "overflow", "visit", "drum")
"""Words for what can be tried; joined by a plus for several at once."""

_USUAL = (*MEASURES, "mulch+shade")
_LEAST_RISE = 0.005  # m that an overflow must gain to be worth moving; ours

Helper = Literal["", "visit", "drum"]


@dataclass(frozen=True)
class Scenario:
    """One way of leaving the bed."""

    key: str  # its words, such as "mulch" or "harvest tomato+shade"
    bed: Bed  # from the day of leaving on
    shaded: bool = False  # a shade cloth hangs over it
    topped: bool = False  # it was filled on the day before as well
    helper: Helper = ""  # who adds water meanwhile


def scenarios_of(
    bed: Bed, leave: datetime.date, *, days: int, names: Sequence[str] | None = None
) -> tuple[list[Scenario], list[str]]:
    """The bed as it is, then every change that can be made to it; names that would change nothing.

    Names are words of `MEASURES`, several at once joined by a plus, a harvest of one crop as
    "harvest tomato"; all of them, and mulch with shade, if left out. The dates of the bed return
    every year.
    """
    found = [Scenario(AS_IT_IS, bed)]
    left_out = []
    for name in _USUAL if names is None else names:
        options = _expanded(name, bed, leave)
        made = [_made(parts, bed, leave, days) for parts in options]
        kept = [scenario for scenario in made if scenario is not None]
        found += [scenario for scenario in kept if scenario.key not in {s.key for s in found}]
        if not kept:
            left_out.append(name)
    return found, left_out


def shaded_weather(weather: xr.Dataset, shade: float) -> xr.Dataset:
    r"""Weather under a cloth that keeps off a share of the sun [1]: less radiation, less et0.

    :math:`ET_0' = ET_0 \, PM((1 - c) R_s) / PM(R_s)` with :math:`PM` FAO-56 Penman-Monteith and
    :math:`c` the share kept off. Wind, warmth and damp of the air are left as they were, which a
    cloth changes too: an approximation of ours. Where Penman-Monteith gives nothing, nothing is
    changed.
    """
    sun = weather["solar_radiation"]
    less = weather.assign(solar_radiation=(sun * (1.0 - shade)).assign_attrs(sun.attrs))
    full, part = reference_et(weather).to_numpy(), reference_et(less).to_numpy()
    ratio = np.divide(part, full, out=np.ones_like(full), where=full > 0.0)
    et0 = weather["et0"]
    return less.assign(et0=(et0 * np.minimum(ratio, 1.0)).assign_attrs(et0.attrs))


def standing(bed: Bed, day: datetime.date) -> list[Planting]:
    """Plantings that stand in a bed on a day, all their dates returning every year."""
    return [planting for planting in bed.plantings if _begun(planting, day) is not None]


def _begun(planting: Planting, day: datetime.date) -> datetime.date | None:
    """When the planting that stands on a day was planted; None where it does not stand."""
    assert isinstance(planting.planted, tuple)
    for year in (day.year, day.year - 1):
        begin = datetime.date(year, *planting.planted)
        if 0 <= (day - begin).days < season_length(planting, begin):
            return begin
    return None


def _expanded(name: str, bed: Bed, leave: datetime.date) -> list[list[str]]:
    """Parts of a name, once for each crop where it says no more than harvest."""
    parts: list[str] = []
    for part in name.split("+"):
        word, _, crop = part.strip().partition(" ")
        if word.lower() == "harvest" and crop:
            crops = dict.fromkeys(p.crop.name for p in standing(bed, leave))
            if not crops:
                raise ChoiceError(f"harvest {crop}", f"nothing grows in this bed on {leave:%m-%d}")
            parts.append(f"harvest {choice(crop, crops, where='harvest')}")
        else:
            parts.append(choice(part, MEASURES, where="what to try"))
    if {"visit", "drum"} <= set(parts) or {"cover", "open"} <= set(parts):
        raise FieldError(
            "what to try", f'"{name}" joins two that do not go together', expected="one of the two"
        )
    crops = dict.fromkeys(p.crop.name for p in standing(bed, leave))
    if "harvest" not in parts:
        return [parts]
    return [[f"harvest {c}" if part == "harvest" else part for part in parts] for c in crops]


def _made(parts: Sequence[str], bed: Bed, leave: datetime.date, days: int) -> Scenario | None:
    """Scenario of some parts, None if one of them would change nothing."""
    changed: Bed | None = bed
    for part in parts:
        if changed is not None:
            changed = _changed(part, changed, leave, days)
    if changed is None:
        return None
    helper: Helper = "visit" if "visit" in parts else "drum" if "drum" in parts else ""
    return Scenario("+".join(parts), changed, "shade" in parts, "top up" in parts, helper)


def _changed(part: str, bed: Bed, leave: datetime.date, days: int) -> Bed | None:
    """The bed with one change, None where it would be none."""
    surface = bed.surface
    if part == "mulch":
        return _with_surface(bed, replace(surface, mulch_share=1.0))
    if part == "cover":
        return _with_surface(bed, replace(surface, open_to_rain=0.0, covered=1.0))
    if part == "open":
        return _with_surface(bed, replace(surface, open_to_rain=1.0, covered=0.0))
    if part == "overflow":
        return _raised(bed)
    if part.startswith("harvest "):
        return _harvested(bed, part.removeprefix("harvest "), leave)
    if part == "visit" and days < 2:
        return None
    return bed


def _with_surface(bed: Bed, surface: Surface) -> Bed | None:
    return None if surface == bed.surface else replace(bed, surface=surface)


def _raised(bed: Bed) -> Bed | None:
    """The overflow as high as the reservoir holds open water."""
    outlet = bed.overflow
    if outlet.state != "open" or outlet.height is None:
        return None
    top = float(level_of(capacity(bed, np.inf), bed))
    heights = [change.height for change in outlet.changes] or [outlet.height]
    if min(heights) > top - _LEAST_RISE:
        return None
    changes = tuple(replace(c, height=max(c.height, top)) for c in outlet.changes)
    return replace(bed, overflow=replace(outlet, height=max(outlet.height, top), changes=changes))


def _harvested(bed: Bed, crop: str, leave: datetime.date) -> Bed | None:
    """The bed with one crop cleared before leaving; None if it is all that grows."""
    live = standing(bed, leave)
    if all(planting.crop.name == crop for planting in live):
        return None
    earliest = leave + datetime.timedelta(days=min(NEIGHBOURS))
    plantings = []
    for planting in bed.plantings:
        begin = _begun(planting, leave)
        if begin is not None and planting.crop.name == crop:
            gone = max(earliest, begin + datetime.timedelta(days=1))
            cleared = (3, 1) if (gone.month, gone.day) == (2, 29) else (gone.month, gone.day)
            planting = replace(planting, removed=cleared)
        plantings.append(planting)
    return replace(bed, plantings=tuple(plantings))
