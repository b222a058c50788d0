"""Inputs by name, the same for every way that is timed; whatever is drawn is drawn with a seed."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import count
from typing import Any, NamedTuple
from unittest.mock import patch

import numpy as np
import xarray as xr

from bedtide import example_bed, read_weather, sample_weather
from bedtide.balance import run_many
from bedtide.bed import Bed, bed_from_mapping, example_text, with_value
from bedtide.column import Beds, Cells, Columns, Days, Mixes, States, move
from bedtide.many import whole_years
from bedtide.mix import Mix

SEED = 20270710
FIRST_YEAR = 1995  # of the built-in weather

# Coarser than any topsoil of the table: a sharp-grained sand of 2 mm, from no particular source.
COARSE_SAND = {"theta_r": 0.04, "theta_s": 0.42, "alpha": 30.0, "n": 3.5, "k_s": 60.0, "l": 0.5}


def changed(**keys: str) -> Bed:
    """The example with keys of its description changed, ``box__depth="40 cm"`` and so on."""
    mapping = tomllib.loads(example_text())
    for key, value in keys.items():
        mapping = with_value(mapping, key.replace("__", "."), value, where="case")
    return bed_from_mapping(mapping, where="case")


def of_medium(name: str, **keys: str) -> Bed:
    """The example with one medium in place of its recipe above the pipes."""
    mapping = tomllib.loads(example_text())
    mapping["mix"]["top"] = {"medium": name}
    for key, value in keys.items():
        mapping = with_value(mapping, key.replace("__", "."), value, where="case")
    return bed_from_mapping(mapping, where="case")


def deep(above: float) -> Bed:
    """The example with so much mix above its pipes [m]."""
    bed = example_bed()
    assert bed.reservoir.outside  # pipes
    depth = bed.reservoir.outside + above + bed.box.freeboard
    return replace(bed, box=replace(bed.box, depth=depth))


@cache
def ordinary() -> dict[str, Bed]:
    """Beds that people build: mixes, depths, plants and rules of watering that differ."""
    example = example_bed()
    return {
        "example": example,
        "peat": of_medium("peat"),
        "potting mix": of_medium("potting mix"),
        "coir": of_medium("coir"),
        "sandy loam": of_medium("topsoil sandy loam"),
        "20 cm above the pipes": deep(0.20),
        "60 cm above the pipes": deep(0.60),
        "nothing planted": replace(example, plantings=()),
        "filled every third day": changed(watering__when="every n days", watering__every="3 days"),
    }


@cache
def extreme() -> dict[str, Bed]:
    """Beds that nobody should build, and that are solved all the same."""
    example = example_bed()
    sand = replace(example.top_mix, **COARSE_SAND, k_s_low=60.0, k_s_high=60.0, l_high=0.5)
    blocked = replace(example.overflow, state="blocked")
    return {
        "coarse sand": replace(example, top_mix=sand),
        "clay loam": of_medium("topsoil clay loam"),
        "coarse bark": of_medium("pine bark coarse"),
        "5 cm above the pipes": deep(0.05),
        "150 cm above the pipes": deep(1.50),
        "outlet blocked": replace(example, overflow=blocked),
        "clay loam, blocked": replace(of_medium("topsoil clay loam"), overflow=blocked),
    }


@cache
def record(years: int = 30) -> xr.Dataset:
    """The first years of the built-in weather."""
    return read_weather(sample_weather(), end=f"{FIRST_YEAR + years - 1}-12-31")


class Inputs(NamedTuple):
    """All that `move` asks for, in its order."""

    cells: Cells
    mixes: Mixes
    beds: Beds
    days: Days
    columns: Columns
    states: States  # before the first day; moving them changes them


class _Held(Exception):
    """Carries what would have been moved."""


def inputs_of(*run: Any, **how: Any) -> Inputs:
    """What a run of `run_many` hands to the column."""

    def caught(*inputs: Any, **_: Any) -> Any:
        raise _Held(Inputs(*inputs))

    try:
        with patch("bedtide.balance.run.move", caught):
            run_many(*run, **how)
    except _Held as held:
        found: Inputs = held.args[0]
        return found
    raise AssertionError("nothing was moved")


class Work(NamedTuple):
    """A run that can be made again and again."""

    inputs: Inputs
    bed_days: int

    def __call__(self, *, threads: int = 1, mover: Any = move) -> tuple[np.ndarray, ...]:
        """Figures, profile and counts of the column, from the first morning anew."""
        states = States(*(values.copy() for values in self.inputs.states))
        return mover(*self.inputs._replace(states=states), threads=threads)


def work(beds: Sequence[Bed], *, years: int = 30, days: int | None = None) -> Work:
    """Beds from the first day of the record on: whole years of it, or so many days."""
    weather = record(years)
    length = weather.sizes["time"] if days is None else days
    start = weather["time"].to_numpy()[0].astype("datetime64[D]").item()
    return Work(inputs_of(beds, weather, [start], days=length), length * len(beds))


def summer(bed: Bed, days: int) -> Work:
    """A bed through some days of July, with rain among them."""
    weather = record(1).sel(time=slice(f"{FIRST_YEAR}-05-01", None))
    start = np.datetime64(f"{FIRST_YEAR}-07-01").item()
    return Work(inputs_of([bed], weather, [start], days=days), days)


def crowd(beds: int) -> list[Bed]:
    """Beds that differ in mix, depth, lip and rule; the first are the same however many."""
    rng = np.random.default_rng(SEED)
    kinds = [ordinary()[name] for name in ("example", "peat", "potting mix", "coir")]
    made = []
    for number in range(beds):
        bed = kinds[number % len(kinds)]
        depth, lip, share = rng.uniform(0.32, 0.55), rng.uniform(0.05, 0.10), rng.uniform(0.1, 0.6)
        made.append(
            replace(
                bed,
                name=f"bed {number}",
                box=replace(bed.box, depth=round(float(depth), 3)),
                overflow=replace(bed.overflow, height=round(float(lip), 3)),
                watering=replace(bed.watering, share=round(float(share), 2)),
            )
        )
    return made


def whole(years: int) -> Any:
    """The whole years of the first years of the record."""
    return whole_years(record(years))


_NEW = count(1)


def never_seen() -> Bed:
    """A bed whose mix and box no cache can know."""
    bed, number = example_bed(), next(_NEW)

    def other(mix: Mix) -> Mix:
        return replace(mix, alpha=mix.alpha * (1.0 + 1e-6 * number))

    return replace(
        bed,
        wick_mix=other(bed.wick_mix),
        top_mix=other(bed.top_mix),
        box=replace(bed.box, depth=bed.box.depth + 1e-6 * number),
    )
