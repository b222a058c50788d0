"""The cases that the Richards solver has solved, and what is stored of them."""

from __future__ import annotations

import hashlib
import itertools
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from numeric.laws import Array, Feddes, VanGenuchten
from numeric.richards import Column, Run, solve

HERE = Path(__file__).parent
INPUTS = HERE / "inputs.json"
REFERENCE = HERE / "reference.npz"
DAILY = ("open_water", "mix_water", "transpiration", "overflow", "refill", "air_root_zone")
HEIGHTS = (0.0, 0.25, 0.5, 0.75, 1.0)  # of stored suctions, from the lip (0) to the surface (1)


@dataclass(frozen=True)
class Case:
    """One bed in one spell of weather; lengths in m, water in m/d."""

    mix: str
    depth: float  # of the mix, floor to surface
    pipe_share: float
    weather: str

    @property
    def name(self) -> str:
        return f"{self.mix}, {self.depth:.2f} m, {self.pipe_share:.0%} pipes, {self.weather}"


@dataclass(frozen=True)
class Stored:
    """What is kept of a solved case: one row a day, depths of water in m."""

    open_water: Array
    mix_water: Array
    transpiration: Array
    overflow: Array
    refill: Array
    air_root_zone: Array
    suction: Array  # (day, HEIGHTS)
    start: tuple[float, float]


@cache
def inputs() -> dict[str, Any]:
    return json.loads(INPUTS.read_text(encoding="utf-8"))


@cache
def cases() -> tuple[Case, ...]:
    given = inputs()
    return tuple(
        Case(mix, depth, layout["pipe_share"], weather)
        for layout in given["layouts"]
        for mix, depth, weather in itertools.product(
            given["mixes"], layout["depths"], given["weather"]
        )
    )


def parts(case: Case) -> dict[str, Any]:
    """All numbers that a case is solved from."""
    given = inputs()
    return {
        "mix": given["mixes"][case.mix],
        "weather": given["weather"][case.weather],
        "depth": case.depth,
        "pipe_share": case.pipe_share,
        **{key: given[key] for key in ("pipes", "lip", "uptake", "cells")},
    }


def digest(case: Case) -> str:
    """Fingerprint of the solver's text and the case's numbers: another one, another solution."""
    solver = [(HERE / name).read_text(encoding="utf-8") for name in ("laws.py", "richards.py")]
    text = "".join(solver) + json.dumps(parts(case), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def column(case: Case, *, cells: int | None = None) -> Column:
    given = parts(case)
    return Column(
        VanGenuchten(**given["mix"]),
        Feddes(**given["uptake"]),
        surface=case.depth,
        lip=given["lip"],
        pipe_share=case.pipe_share,
        inside=given["pipes"]["inside"],
        outside=given["pipes"]["outside"],
        cells=cells or given["cells"],
    )


def weather(case: Case) -> tuple[Array, Array]:
    """Rain and potential transpiration [m d-1]."""
    spell = parts(case)["weather"]
    return np.array(spell["rain_mm"]) / 1000, np.array(spell["demand_mm"]) / 1000


def solved(case: Case) -> Stored:
    """Solve the case afresh: seconds."""
    bed = column(case)
    run = solve(bed, *weather(case), refill_below=parts(case)["weather"]["refill_below"])
    return stored_from(run, bed)


def stored_from(run: Run, bed: Column) -> Stored:
    heights = bed.lip + np.array(HEIGHTS) * (bed.surface - bed.lip)
    suction = np.array([np.interp(heights, bed.z, s) for s in run.suction])
    return Stored(**{name: getattr(run, name) for name in DAILY}, suction=suction, start=run.start)


def write(results: dict[Case, Stored], marks: dict[Case, str]) -> None:
    """One table of all days, cases one below the other; a tenth of a micrometre is kept."""
    done = [case for case in cases() if case in results]
    daily = [np.column_stack([getattr(results[case], name) for name in DAILY]) for case in done]
    np.savez_compressed(
        REFERENCE,
        names=np.array([case.name for case in done]),
        digests=np.array([marks[case] for case in done]),
        days=np.array([len(rows) for rows in daily]),
        start=np.array([results[case].start for case in done]),
        daily=np.round(np.concatenate(daily) * 1e7).astype(np.int32),
        suction=np.concatenate([results[case].suction for case in done]).astype(np.float32),
    )


@cache
def _reference() -> dict[str, tuple[str, Stored]]:
    if not REFERENCE.exists():
        return {}
    with np.load(REFERENCE) as file:
        ends = np.cumsum(file["days"])
        daily = np.split(file["daily"] / 1e7, ends[:-1])
        suction = np.split(file["suction"].astype(float), ends[:-1])
        rows = zip(file["names"], file["digests"], daily, suction, file["start"], strict=True)
        return {
            str(name): (
                str(mark),
                Stored(**dict(zip(DAILY, days.T, strict=True)), suction=s, start=tuple(start)),
            )
            for name, mark, days, s, start in rows
        }


def stored_digest(case: Case) -> str | None:
    """Fingerprint under which the case is stored, None where it is not."""
    found = _reference().get(case.name)
    return found[0] if found else None


def stored(case: Case) -> Stored:
    return _reference()[case.name][1]
