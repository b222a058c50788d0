"""A bed with what its own notes taught of it, kept in a small file beside its description."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from bedtide.bed.model import Bed
from bedtide.bed.quantities import DRYING
from bedtide.crop import EXPOSURE
from bedtide.errors import FieldError
from bedtide.mix import RANGES
from bedtide.toml_text import tables_of, text_of


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
    said = (
        f"{bed.name} was fitted to {fit.get('readings')} of its own readings ({path.name}): its "
        f"plants drink {values['demand']:.2f} times what is described, its surface loses "
        f"{values['surface_supply']:.2f} times as much beside that."
    )
    return replace(fitted_bed(bed, **values), fitted=said)
