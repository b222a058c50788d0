"""The cases that the Richards solver has solved, and what is stored of them.

To compare: for each of `cases()` take its numbers (`case.wick`, `case.depth`, ...), `weather(case)`
and `refill_below(case)`, and lay the result beside `stored(case)`.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from numeric.laws import Array, Feddes, VanGenuchten
from numeric.richards import Column, Run, solve

HERE = Path(__file__).parent
INPUTS = HERE / "inputs.json"
REFERENCE = HERE / "reference.npz"
NUMBERS = ("theta_r", "theta_s", "alpha", "n", "k_s", "l")
DAILY = (
    "open_water",
    "mix_water",
    "pond",
    "transpiration",
    "evaporation",
    "overflow",
    "rim_spill",
    "refill",
    "air_root_zone",
)
HEIGHTS = (0.0, 0.25, 0.5, 0.75, 1.0)  # of stored suctions, from the lip (0) to the surface (1)


@dataclass(frozen=True)
class Case:
    """One bed in one spell of weather; lengths in m."""

    wick_name: str  # mix up to the crown of the pipes
    top_name: str  # mix above it
    depth: float  # of the mix, floor to surface
    spell: str
    surface: str  # planted, mixed or bare
    pipe_share: float = 0.85  # of the floor
    root_depth: float | None = None  # None: down to the lip

    @property
    def name(self) -> str:
        mix = self.wick_name
        if self.top_name != mix:
            mix += f" under {self.top_name}"
        text = f"{mix}, {self.depth:.2f} m, {self.spell}, {self.surface}"
        text += f", pipes {self.pipe_share:.2f}" if self.pipe_share != 0.85 else ""
        return text + (f", roots {self.root_depth:.2f} m" if self.root_depth else "")

    @property
    def wick(self) -> dict[str, float]:
        """theta_r, theta_s, alpha [m-1], n, k_s [m d-1], l, b."""
        return media()[self.wick_name]

    @property
    def top(self) -> dict[str, float]:
        return media()[self.top_name]


class Weather(NamedTuple):
    """One value a day [m d-1], and the hours between which rain falls, at a constant rate."""

    rain: Array
    demand: Array  # of the plants, from 6 to 18 h as a squared sine, as is
    energy: Array  # for evaporation
    rain_hours: tuple[float, float]


@dataclass(frozen=True)
class Stored:
    """What is kept of a solved case: one row a day, at its end, depths of water in m."""

    open_water: Array
    mix_water: Array
    pond: Array
    transpiration: Array
    evaporation: Array
    overflow: Array
    rim_spill: Array
    refill: Array  # in the morning, before all else
    air_root_zone: Array  # [1]
    suction: Array  # (day, HEIGHTS)
    start: tuple[float, float]  # open water and mix water before the first day


@cache
def inputs() -> dict[str, Any]:
    return json.loads(INPUTS.read_text(encoding="utf-8"))


@cache
def media() -> dict[str, dict[str, float]]:
    """The mixes of the cases, which need not be those of bedtide's table."""
    branch = inputs()["branch"]
    return {
        name: {number: float(numbers[number]) for number in NUMBERS} | {"b": branch}
        for name, numbers in inputs()["media"].items()
    }


def case_of(bed: str, line: str) -> Case:
    """From a line of the inputs such as "0.42 dry planted, pipes 0.50, roots 0.20"."""
    wick, _, top = bed.partition(" under ")
    text, *more = line.split(", ")
    depth, *spell, surface = text.split()
    given = dict(part.split() for part in more)
    roots = float(given["roots"]) if "roots" in given else None
    share = float(given.get("pipes", 0.85))
    return Case(wick, top or wick, float(depth), " ".join(spell), surface, share, roots)


@cache
def cases() -> tuple[Case, ...]:
    beds = inputs()["cases"]
    return tuple(case_of(bed, line) for bed, lines in beds.items() for line in lines)


def refill_below(case: Case) -> float | None:
    """A morning that finds less than this share of the full store fills it to the lip."""
    return inputs()["spells"][case.spell]["refill_below"]


def weather(case: Case) -> Weather:
    spell, surface = inputs()["spells"][case.spell], inputs()["surfaces"][case.surface]
    asked = spell.get("bare_mm", spell["asked_mm"]) if case.surface == "bare" else spell["asked_mm"]
    days = spell["days"]
    series = (spell["rain_mm"], *(share * np.array(asked) for share in surface))
    rain, demand, energy = (np.broadcast_to(np.array(mm) / 1000, days) for mm in series)
    return Weather(rain, demand, energy, tuple(spell["rain_hours"]))


def parts(case: Case) -> dict[str, Any]:
    """All numbers that a case is solved from."""
    rain, demand, energy, hours = weather(case)
    common = {key: inputs()[key] for key in ("pipes", "lip", "freeboard", "uptake")}
    days = {"rain": rain.tolist(), "demand": demand.tolist(), "energy": energy.tolist()}
    mixes = {"wick": case.wick, "top": case.top, "refill_below": refill_below(case)}
    return asdict(case) | common | days | mixes | {"hours": hours}


def digest(case: Case) -> str:
    """Fingerprint of the solver's text and the case's numbers: another one, another solution."""
    solver = [(HERE / name).read_text(encoding="utf-8") for name in ("laws.py", "richards.py")]
    text = "".join(solver) + json.dumps(parts(case), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def column(case: Case, **changed: Any) -> Column:
    given = {
        "wick": VanGenuchten(**case.wick),
        "top": VanGenuchten(**case.top),
        "feddes": Feddes(**inputs()["uptake"]),
        "surface": case.depth,
        "lip": inputs()["lip"],
        "pipe_share": case.pipe_share,
        "root_depth": case.root_depth or np.inf,
        "freeboard": inputs()["freeboard"],
        **inputs()["pipes"],
    }
    return Column(**(given | changed))


def solved(case: Case, **changed: Any) -> Stored:
    """Solve the case afresh: seconds."""
    bed = column(case, **changed)
    rain, demand, energy, hours = weather(case)
    given = {"rain_hours": hours, "refill_below": refill_below(case)}
    return stored_from(solve(bed, rain, demand, energy, **given), bed)


def stored_from(run: Run, bed: Column) -> Stored:
    heights = bed.lip + np.array(HEIGHTS) * (bed.surface - bed.lip)
    suction = np.array([np.interp(heights, bed.z, s) for s in run.suction])
    return Stored(**{name: getattr(run, name) for name in DAILY}, suction=suction, start=run.start)


def write(results: dict[str, tuple[str, Stored]]) -> None:
    """One table of all days, cases one below the other; a micrometre is kept."""
    done = [case.name for case in cases() if case.name in results]
    marks, runs = zip(*(results[name] for name in done), strict=True)
    daily = [np.column_stack([getattr(run, name) for name in DAILY]) for run in runs]
    partial = REFERENCE.with_suffix(".partial.npz")
    np.savez_compressed(
        partial,
        names=np.array(done),
        digests=np.array(marks),
        days=np.array([len(rows) for rows in daily]),
        start=np.array([run.start for run in runs]),
        daily=np.round(np.concatenate(daily) * 1e6).astype(np.int32),
        suction=np.concatenate([run.suction for run in runs]).astype(np.float32),
    )
    os.replace(partial, REFERENCE)


def read() -> dict[str, tuple[str, Stored]]:
    """Fingerprint and solution of each case that is stored."""
    if not REFERENCE.exists():
        return {}
    with np.load(REFERENCE) as file:
        ends = np.cumsum(file["days"])
        daily = np.split(file["daily"] / 1e6, ends[:-1])
        suction = np.split(file["suction"].astype(float), ends[:-1])
        rows = zip(file["names"], file["digests"], daily, suction, file["start"], strict=True)
        return {
            str(name): (
                str(mark),
                Stored(
                    **dict(zip(DAILY, days.T, strict=True)),
                    suction=s,
                    start=(float(start[0]), float(start[1])),
                ),
            )
            for name, mark, days, s, start in rows
        }


@contextmanager
def alone() -> Iterator[None]:
    """While one process holds the stored file, others wait."""
    lock = HERE / "reference.lock"
    for _ in range(300):  # longer than writing lasts: left behind by a run that was stopped
        try:
            lock.mkdir()
            break
        except FileExistsError:
            time.sleep(0.1)
    try:
        yield
    finally:
        lock.rmdir()


@cache
def _reference() -> dict[str, tuple[str, Stored]]:
    return read()


def stored_digest(case: Case) -> str | None:
    """Fingerprint under which the case is stored, None where it is not."""
    found = _reference().get(case.name)
    return found[0] if found else None


def stored(case: Case) -> Stored:
    return _reference()[case.name][1]
