"""A description with one key set to another value, and the description of a bed as text."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import Table

from bedtide.bed.contents import write_crop
from bedtide.bed.model import Bed, sections_of
from bedtide.bed.quantities import adapter, at, written
from bedtide.crop import crop, crops
from bedtide.errors import FieldError, nearest_names

# Keys that say the same thing in another way: setting one takes the others out.
_RIVALS = (("height", "centre"), ("count", "gap"), ("medium", "recipe", "bench"))
_WITHIN = ("recipe", "bench", "change")  # tables within a table


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
            "one of: " + ", ".join(known) if not close else "",
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
    return tomlkit.dumps(bed.source or _described(bed))


def _described(bed: Bed) -> dict[str, Any]:
    """Description of a bed that was put together in Python."""
    parts = adapter(Bed).dump_python(bed, mode="json", include={"wick_mix", "top_mix", "plantings"})
    every = dict.fromkeys((*bed.own_crops, *(planting.crop for planting in bed.plantings)))
    own = [each for each in every if each.name not in crops() or crop(each.name) != each]
    return {
        "bed": {"name": bed.name},
        "box": written(bed.box),
        "reservoir": {"form": bed.reservoir.form, **written(bed.reservoir)},
        "overflow": written(bed.overflow),
        "mix": {"wick": parts["wick_mix"], "top": parts["top_mix"]},
        "surface": written(bed.surface),
        "crop": [write_crop(each) for each in own],
        "planting": parts["plantings"],
        "watering": written(bed.watering),
        "site": written(bed.site),
        "start": {"level": bed.start_level},
    }


def _split(path: str) -> list[str]:
    """Names of a key path; the name of a medium in a recipe may hold dots."""
    head, mark, medium_name = path.partition(".recipe.")
    return [*head.split("."), "recipe", medium_name] if mark else path.split(".")
