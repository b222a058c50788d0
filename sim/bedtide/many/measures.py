"""What a grower can change before leaving, each as a bed, a weather and a helping hand to run."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from bedtide.bed import Bed, capacity, level_of, plan_area
from bedtide.crop import Planting
from bedtide.errors import ChoiceError, FieldError, choice
from bedtide.many.leaving import begun_on
from bedtide.units import US_GALLON, System
from bedtide.weather import reference_et

if TYPE_CHECKING:
    import xarray as xr

AS_IT_IS = "as it is"  # key of the bed without any change
# Words for what can be tried; joined by a plus for several at once
MEASURES = ("top up", "mulch", "shade", "cover", "open", "harvest", "overflow", "visit", "drum")
DRUMS: dict[System, tuple[float, ...]] = {  # what cans, barrels and drums hold [m3]
    "metric": (0.02, 0.06, 0.12, 0.2),  # common practice, no source
    "us": tuple(gallons * US_GALLON for gallons in (5, 15, 30, 55)),
}
_SURFACES: dict[str, dict[str, float]] = {
    "mulch": {"mulch_share": 1.0},
    "cover": {"open_to_rain": 0.0, "covered": 1.0},
    "open": {"open_to_rain": 1.0, "covered": 0.0},
}
_USUAL = (*MEASURES, "mulch+shade")
_LEAST_RISE = 0.005  # m that an overflow must gain to be worth moving; ours
_MOST_OF_STORE = 3.0  # times what the reservoir holds, the largest drum that suits it; ours


@dataclass(frozen=True)
class Scenario:
    """One way of leaving the bed."""

    key: str  # its words, such as "mulch" or "harvest tomato+shade"
    bed: Bed  # from the day of leaving on
    parts: tuple[str, ...] = ()  # the words one by one

    @property
    def visits(self) -> int:
        """How often somebody comes to fill it [1]."""
        return self.parts.count("visit")

    @property
    def helped(self) -> bool:
        """Whether water is put in while nobody is there."""
        return "drum" in self.parts or self.visits > 0

    @property
    def shaded(self) -> bool:
        """Whether a cloth keeps off a share of the sun."""
        return "shade" in self.parts


def scenarios_of(
    bed: Bed, leave: datetime.date, *, days: int, names: Sequence[str] | None = None
) -> tuple[list[Scenario], list[str]]:
    """The bed as it is, then every change that can be made to it; names that would change nothing.

    Names are words of `MEASURES`, several at once joined by a plus, a harvest of one crop as
    "harvest tomato"; all of them, and mulch with shade, if left out. The bed holds what stands in
    it on the day of leaving, all dates returning every year.
    """
    found = {AS_IT_IS: Scenario(AS_IT_IS, bed)}
    left_out = []
    for name in _USUAL if names is None else names:
        made = [_made(parts, bed, leave, days) for parts in _expanded(name, bed)]
        found |= {each.key: found.get(each.key, each) for each in made if each is not None}
        if not any(made):
            left_out.append(name)
    return list(found.values()), left_out


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


def fitting_drum(bed: Bed, units: System = "metric") -> float:
    """The largest usual drum that holds no more than three times the reservoir, or the least [m3].

    So a tub on a balcony is not told to stand beside a drum that weighs more than itself.
    """
    lip = np.inf if bed.overflow.height is None else bed.overflow.height
    most = _MOST_OF_STORE * float(capacity(bed, lip)) * plan_area(bed)
    return max([size for size in DRUMS[units] if size <= most], default=DRUMS[units][0])


def _ripe(planting: Planting, day: datetime.date) -> bool:
    """Whether there may be something to harvest: from mid-season on."""
    begin = None if planting.perennial else begun_on(planting, day)
    vegetative = sum((planting.stages or planting.crop.stages)[:2])
    return begin is not None and (day - begin).days >= vegetative


# --- what is changed --------------------------------------------------------------------------


def _expanded(name: str, bed: Bed) -> list[tuple[str, ...]]:
    """Parts of a name, once for each crop where it says no more than harvest."""
    crops = list(dict.fromkeys(planting.crop.name for planting in bed.plantings))
    parts: list[str] = []
    for part in name.split("+"):
        word, _, crop = part.strip().partition(" ")
        if word.lower() == "harvest" and crop:
            if not crops:
                raise ChoiceError(f"harvest {crop}", "nothing stands in this bed when you leave")
            parts.append(f"harvest {choice(crop, crops, where='harvest')}")
        else:
            parts.append(choice(part, MEASURES, where="what to try"))
    problem, expected = "", "one of the two"
    if {"visit", "drum"} <= set(parts) or {"cover", "open"} <= set(parts):
        problem = "joins two that do not go together"
    if parts.count("visit") > 2:
        problem, expected = "asks for more than two visits", "one visit, or visit+visit"
    if problem:
        raise FieldError("what to try", f'"{name}" {problem}', expected=expected)
    once = dict.fromkeys(part for part in parts if part != "visit")
    parts = [*once, *["visit"] * parts.count("visit")]
    if "harvest" not in parts:
        return [tuple(parts)]
    return [tuple(f"harvest {c}" if part == "harvest" else part for part in parts) for c in crops]


def _made(parts: tuple[str, ...], bed: Bed, leave: datetime.date, days: int) -> Scenario | None:
    """Scenario of some parts, None if one of them would change nothing."""
    changed: Bed | None = bed
    for part in parts:
        changed = None if changed is None else _changed(part, changed, leave)
    if changed is None or parts.count("visit") > days - 1:
        return None
    return Scenario("+".join(parts), changed, parts)


def _changed(part: str, bed: Bed, leave: datetime.date) -> Bed | None:
    """The bed with one change, None where it would be none."""
    if part in _SURFACES:
        surface = replace(bed.surface, **_SURFACES[part])
        return None if surface == bed.surface else replace(bed, surface=surface)
    if part == "overflow":
        return _raised(bed)
    if part.startswith("harvest "):
        return _harvested(bed, part.removeprefix("harvest "), leave)
    return bed


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
    """The bed with one crop cleared before leaving; None if not ripe, or all that grows."""
    kept = tuple(planting for planting in bed.plantings if planting.crop.name != crop)
    ripe = all(_ripe(planting, leave) for planting in bed.plantings if planting.crop.name == crop)
    return replace(bed, plantings=kept) if kept and ripe else None
