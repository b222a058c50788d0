"""A bed made of another: one key of its description changed, or fitted to its own notes."""

from __future__ import annotations

import copy
import hashlib
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from tomlkit.items import Table

from bedtide.bed.model import Bed, sections_of
from bedtide.bed.quantities import DRYING, at
from bedtide.crop import EXPOSURE
from bedtide.errors import FieldError, nearest_names
from bedtide.mix import RANGES
from bedtide.toml_text import tables_of, text_of

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


def _split(path: str) -> list[str]:
    """Names of a key path; the name of a medium in a recipe may hold dots."""
    head, mark, medium_name = path.partition(".recipe.")
    return [*head.split("."), "recipe", medium_name] if mark else path.split(".")


# --- what its own notes taught ------------------------------------------------------------------


def fitted_bed(bed: Bed, *, demand: float, surface_supply: float = 1.0, lift: float = 1.0) -> Bed:
    """The bed with factors on what its plants drink, what its surface loses, what its mix lifts."""
    wick, top = (
        replace(mix, wetting=float(np.clip(mix.wetting / lift, *RANGES["wetting"][:2])))
        for mix in (bed.wick_mix, bed.top_mix)
    )
    drying = float(np.clip(bed.surface.drying * surface_supply, *DRYING))
    exposure = float(np.clip(bed.site.exposure * demand, *EXPOSURE))
    return replace(
        bed,
        wick_mix=wick,
        top_mix=top,
        surface=replace(bed.surface, drying=drying),
        site=replace(bed.site, exposure=exposure),
    )


def fit_beside(bed_file: Path) -> Path:
    """Where the fit of a bed is kept."""
    return bed_file.with_suffix(".fit.toml")


def mark_of(bed: Bed) -> str:
    """A mark by which a fit is known to belong to a bed: its box, reservoir and mixes.

    Of numbers four digits count, for a blended mix differs in its last ones between machines.
    """
    parts = repr((bed.box, bed.reservoir, bed.wick_mix, bed.top_mix))
    parts = re.sub(r"\d+\.\d+(e[+-]\d+)?", lambda number: f"{float(number[0]):.3e}", parts)
    return hashlib.sha256(parts.encode()).hexdigest()[:12]


def with_fit(bed: Bed, bed_file: Path, *, described: Bed | None = None) -> Bed:
    """The bed with the fit that is kept beside its description, if there is one."""
    path = fit_beside(bed_file)
    if not path.exists():
        return bed
    fit, plain = tables_of(text_of(path, "a fit"), path.name, "demand = 1.1"), described or bed
    again = "bedtide now BED.toml WEATHER.csv --fit  makes it anew; or remove the file"
    if (fit.get("bed"), fit.get("made_for")) != (plain.name, mark_of(plain)):
        raise FieldError(
            path.name,
            f"it was made for another bed than {bed_file.name} describes now",
            expected="a fit of this bed, its box, reservoir and mixes unchanged",
            hint=again,
        )
    values: dict[str, Any] = {name: fit.get(name) for name in ("demand", "surface_supply", "lift")}
    for name, value in values.items():
        if not isinstance(value, (int, float)) or not 0.2 <= value <= 5.0:
            where, expected = f"{path.name}, {name}", "a factor between 0.2 and 5"
            raise FieldError(where, "no such factor", expected=expected, hint=again)
    readings = fit.get("readings")
    if not isinstance(readings, int) or readings < 1:
        where, expected = f"{path.name}, readings", "the number of readings that it was fitted to"
        raise FieldError(where, "no such number", expected=expected, hint=again)
    said = (
        f"{bed.name} was fitted to {readings} of its own readings ({path.name}): its "
        f"plants drink {values['demand']:.2f} times what is described, its surface loses "
        f"{values['surface_supply']:.2f} times as much beside that."
    )
    return replace(fitted_bed(bed, **values), fitted=said)
