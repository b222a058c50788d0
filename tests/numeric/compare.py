"""The daily model on a solved case, and how far it is off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from bedtide.balance import Forcing, Rules, State, simulate
from bedtide.balance.profile_readings import profile_readings
from bedtide.bed import Bed, Box, Overflow, Pipes, Surface, Watering
from bedtide.crop import Planting, crop
from bedtide.mix import Mix
from bedtide.profile import DEMANDS, ROOTING, bed_tables, rest_state
from numeric.cases import Case, Stored, cases, parts, stored, weather
from numeric.laws import Array

HOLDS_WATER = 0.0005  # open water above which the store counts as holding some [m]
_PIPES = 6
_SHALLOW = {"open_water": 3.0, "mix_water": 4.0, "mix_water_empty": 6.0, "transpiration": 2.0}
_DEEP = {"transpiration": 5.0}


@dataclass(frozen=True)
class Figures:
    """Largest differences of a case, model minus reference."""

    case: Case
    open_water: float  # while the store holds water [mm]
    mix_water: float  # while the store holds water [mm]
    mix_water_empty: float  # when it is empty [mm]; nan where it never is
    transpiration: float  # over the run [%], signed
    overflow: float  # over the run [mm], signed
    air_mean: float  # air share of the root zone, mean difference [percentage points], signed
    air_worst: float  # on the worst day [percentage points]

    def size(self, name: str) -> float:
        """A figure without its sign; nought where there is none."""
        return float(np.nan_to_num(abs(getattr(self, name))))


def bed_of(case: Case) -> Bed:
    """The case as a bed: as many pipes side by side as cover the share of the floor."""
    given = parts(case)
    pipes, mix = given["pipes"], given["mix"]
    width = _PIPES * pipes["outside"] / case.pipe_share
    medium = Mix(
        case.mix,
        **mix,
        bulk_density=500.0,
        k_s_low=mix["k_s"],
        k_s_high=mix["k_s"],
        l_low=mix["l"],
        l_high=mix["l"],
    )
    plant = replace(crop("tomato"), root_depth=2.0, **given["uptake"])
    return Bed(
        name=case.name,
        box=Box(length=1.0, width=width, depth=case.depth + 0.03, freeboard=0.03),
        reservoir=Pipes(pipes["inside"], pipes["outside"], count=_PIPES, run=1.0),
        overflow=Overflow(height=given["lip"]),
        wick_mix=medium,
        top_mix=medium,
        surface=Surface(),
        plantings=(Planting(plant, (1, 1), 1.0),),
        watering=Watering("never"),
    )


def modelled(case: Case, refill: Array) -> Stored:
    """Run the daily model on the rain, demand and refills of the reference."""
    rain, demand = weather(case)
    days = rain.size
    tables = bed_tables(bed_of(case))
    full = tables.grid.cap
    stores = np.array(rest_state(tables, np.array([full])))
    nothing = np.zeros((days, 1))
    deepest = ROOTING.size - 1
    nearest = np.abs(demand[:, None] - DEMANDS).argmin(axis=1)
    series = simulate(
        [tables],
        np.zeros(1, dtype=np.intp),
        Forcing(
            rain=rain[:, None],
            transpiration=demand[:, None],
            energy=nothing,
            wetted=nothing,
            exposed=np.ones((days, 1)),
            kind=(deepest * DEMANDS.size + nearest)[:, None],
        ),
        Rules(np.zeros((days, 1), bool), np.zeros(1), np.full(1, np.inf), refill[:, None]),
        State(np.array([[full], *stores]), np.zeros(1), np.zeros(1)),
        column=np.zeros(1, dtype=np.intp),
        freeboard=np.full(1, 0.03),
    )
    rooting = np.full((days, 1), deepest)
    read = profile_readings([tables], np.zeros(1, dtype=np.intp), series, rooting)
    return Stored(
        open_water=series.stores[:, 0, 0],
        mix_water=series.stores[:, 1:, 0].sum(axis=1),
        transpiration=series.transpiration[:, 0],
        overflow=series.overflow[:, 0],
        refill=series.refill[:, 0],
        air_root_zone=read.air_root_zone[:, 0],
        suction=read.surface_suction,
        start=(full, float(stores.sum())),
    )


def figures(case: Case) -> Figures:
    reference = stored(case)
    model = modelled(case, reference.refill)
    wet = reference.open_water > HOLDS_WATER
    open_water = 1000 * (model.open_water - reference.open_water)
    mix_water = 1000 * (model.mix_water - reference.mix_water)
    air = 100 * (model.air_root_zone - reference.air_root_zone)
    taken = model.transpiration.sum() / reference.transpiration.sum()
    return Figures(
        case,
        open_water=float(np.abs(open_water[wet]).max()),
        mix_water=float(np.abs(mix_water[wet]).max()),
        mix_water_empty=float(np.abs(mix_water[~wet]).max()) if not wet.all() else np.nan,
        transpiration=float(100 * (taken - 1)),
        overflow=float(1000 * (model.overflow.sum() - reference.overflow.sum())),
        air_mean=float(air.mean()),
        air_worst=float(np.abs(air).max()),
    )


@cache
def all_figures() -> tuple[Figures, ...]:
    return tuple(figures(case) for case in cases())


def bounds_of(case: Case) -> dict[str, float]:
    """Bounds of the figures that have one: mm of water, % of transpiration."""
    return _DEEP if case.depth > 0.42 else _SHALLOW


def broken(found: Figures) -> list[str]:
    """Figures that are out of their bound."""
    return [name for name, bound in bounds_of(found.case).items() if found.size(name) > bound]
