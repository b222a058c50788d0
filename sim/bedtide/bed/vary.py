"""A description with one key set to another value, and the description of a bed as text."""

from __future__ import annotations

import copy
import datetime
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import Table

from bedtide.bed.forms import Pipes
from bedtide.bed.model import Bed, sections_of
from bedtide.bed.quantities import WEEKDAYS, at
from bedtide.crop import Crop, Planting, crop, crops
from bedtide.errors import FieldError, nearest_names
from bedtide.mix import Mix, media, medium

# Keys that say the same thing in another way: setting one takes the others out.
_RIVALS = (("height", "centre"), ("count", "gap"), ("medium", "recipe", "bench"))
_WITHIN = ("recipe", "bench", "change")  # tables within a table
_SIDES = ("length", "width", "depth", "freeboard", "length_at_floor", "width_at_floor")
_STATED = (
    *(("theta_r", ""), ("theta_s", ""), ("alpha", " 1/m"), ("n", ""), ("k_s", " m/d")),
    *(("l", ""), ("wetting", ""), ("bulk_density", " kg/m3")),
)
_KCB = ("kcb_ini", "kcb_mid", "kcb_end", "kcb_dormant")
_HEADS = ("height", "root_depth", "h3_high", "h3_low", "h4")


def varied_keys(mapping: Mapping[str, Any]) -> list[str]:
    """Every key of a description that can be set, such as ``box.depth``, given or not."""
    found = []
    for path, keys in sections_of(mapping):
        found += [f"{path}.{name}" for name in keys if name not in _WITHIN]
        recipe = at(mapping, f"{path}.recipe")
        if isinstance(recipe, dict):
            found += [f"{path}.recipe.{name}" for name in recipe]
    return found


def with_value(
    mapping: Mapping[str, Any], key: str, value: Any, *, where: str = "bed description"
) -> Any:
    """Copy of a description with one key set as by `set_value`."""
    changed = copy.deepcopy(mapping)
    set_value(changed, key, value, where=where)
    return changed


def set_value(mapping: Any, key: str, value: Any, *, where: str = "bed description") -> None:
    """Set one key of a description in place; nothing is checked but that the key exists.

    A key that says the same in another way is taken out: ``overflow.height`` for
    ``overflow.centre``, ``reservoir.count`` for ``reservoir.gap``, the medium, recipe and bench
    measurement of a mix for one another. In a description that was read its comments stay.
    """
    known = varied_keys(mapping)
    path = {name.lower(): name for name in known}.get(key.strip().lower())
    if path is None:
        close = nearest_names(key, known)
        raise FieldError(
            where,
            f'there is no key "{key}" in the description',
            expected="one of: " + ", ".join(known) if not close else "",
            hint=f"Closest: {', '.join(close)}" if close else "",
        )
    inner = mapping
    *outer, last = _split(path)
    for name in outer:
        if isinstance(inner, list):
            inner = inner[int(name)]
            continue
        if name not in inner:
            inner[name] = {}
        inner = inner[name]
    for group in _RIVALS:
        if last in group:
            for rival in group:
                if rival != last:
                    inner.pop(rival, None)
    if last in inner or not isinstance(inner, Table):
        inner[last] = copy.deepcopy(value)
        return
    # A new key goes below the last one, not below the comment on the section that follows.
    body, rest = inner.value.body, []
    while body and body[-1][0] is None:
        rest.append(body.pop())
    inner[last] = value
    body.extend(reversed(rest))


def bed_text(bed: Bed) -> str:
    """TOML text that the bed can be read back from: as it was read, else from its values."""
    if isinstance(bed.source, str):
        return bed.source
    return tomlkit.dumps(bed.source or _values(bed))


def _values(bed: Bed) -> dict[str, Any]:
    """Description of a bed that was put together in Python."""
    form, rule, outlet = bed.reservoir, bed.watering, bed.overflow
    names = ("inside", "outside", "run") if isinstance(form, Pipes) else ("height", "wick_foot")
    reservoir = {"form": form.form} | {name: f"{getattr(form, name)!r} m" for name in names}
    for name in ("count", "void_share", "wick_share"):
        if hasattr(form, name):
            reservoir[name] = getattr(form, name)
    overflow: dict[str, Any] = {
        name: f"{value!r} m"
        for name, value in (("height", outlet.height), ("bore", outlet.bore))
        if value is not None
    }
    overflow["state"] = outlet.state
    if outlet.changes:
        overflow["change"] = [
            {"from": _day(change.start), "height": f"{change.height!r} m"}
            for change in outlet.changes
        ]
    watering: dict[str, Any] = {
        "when": rule.when,
        "share": rule.share,
        "every": None if rule.every is None else f"{rule.every} days",
        "weekdays": [WEEKDAYS[day] for day in rule.weekdays] or None,
        "amount": rule.amount if rule.volume is None else f"{rule.volume!r} m3",
        "check_every": f"{rule.check_every} days",
    }
    elevation = None if bed.site.elevation is None else f"{bed.site.elevation!r} m"
    site = {
        "latitude": bed.site.latitude,
        "elevation": elevation,
        "exposure": bed.site.exposure,
    }
    return {
        "bed": {"name": bed.name},
        "box": _given({name: _metres(getattr(bed.box, name)) for name in _SIDES}),
        "reservoir": reservoir,
        "overflow": overflow,
        "mix": {"wick": _mix(bed.wick_mix), "top": _mix(bed.top_mix)},
        "surface": {
            "open_to_rain": bed.surface.open_to_rain,
            "covered": bed.surface.covered,
            "mulch_share": bed.surface.mulch_share,
            "drying": bed.surface.drying,
        },
        "crop": [_own_crop(each) for each in _own_crops(bed)],
        "planting": [_given(_planting(each)) for each in bed.plantings],
        "watering": _given(watering),
        "site": _given(site),
        "start": {"level": bed.start_level},
    }


def _metres(value: float | None) -> str | None:
    return None if value is None else f"{value!r} m"


def _given(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value is not None}


def _mix(mix: Mix) -> dict[str, Any]:
    """The medium where it is one of the table, else the most like it with all numbers stated."""
    if mix.name in media() and medium(mix.name) == mix:
        return {"medium": mix.name}
    spread = mix.k_s_high / mix.k_s_low
    like = min(media(), key=lambda n: abs(medium(n).k_s_high / medium(n).k_s_low / spread - 1.0))
    stated = {
        name: f"{getattr(mix, name)!r}{unit}" if unit else getattr(mix, name)
        for name, unit in _STATED
    }
    return {"medium": like, "name": mix.name, **stated}


def _own_crops(bed: Bed) -> list[Crop]:
    """Crops that are not as the table has them, those of no planting first."""
    every = dict.fromkeys((*bed.own_crops, *(planting.crop for planting in bed.plantings)))
    return [each for each in every if each.name not in crops() or crop(each.name) != each]


def _own_crop(own: Crop) -> dict[str, Any]:
    """A crop like its namesake or the first of the table, with all numbers stated."""
    heads = {name: f"{getattr(own, name)!r} m" for name in _HEADS}
    kcb = {name: getattr(own, name) for name in _KCB if getattr(own, name) is not None}
    like = own.name if own.name in crops() else crops()[0]
    stages = [f"{days} days" for days in own.stages]
    return {"name": own.name, "like": like, **kcb, **heads, "stages": stages}


def _planting(planting: Planting) -> dict[str, Any]:
    return {
        "crop": planting.crop.name,
        "planted": _day(planting.planted),
        "removed": None if planting.removed is None else _day(planting.removed),
        "area_share": planting.area_share,
        "canopy": planting.canopy,
        "stages": planting.stages and [f"{days} days" for days in planting.stages],
        "part": planting.part or None,
    }


def _day(day: datetime.date | tuple[int, int]) -> str:
    return day.isoformat() if isinstance(day, datetime.date) else f"{day[0]:02d}-{day[1]:02d}"


def _split(path: str) -> list[str]:
    """Names of a key path; the name of a medium in a recipe may hold dots."""
    head, mark, medium_name = path.partition(".recipe.")
    return [*head.split("."), "recipe", medium_name] if mark else path.split(".")
