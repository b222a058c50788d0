"""The daily model on a solved case, and how far it is off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from bedtide.bed import Bed, Box, Overflow, Pipes, Surface, Watering, open_store
from bedtide.column import FIGURES, Beds, Columns, Days, at_rest, layouts_of, move
from bedtide.crop import dry_start
from bedtide.mix import Mix
from numeric.cases import Case, Stored, cases, inputs, stored, weather
from numeric.laws import Array

HOLDS_WATER = 0.0005  # open water above which the store counts as holding some [m]
SETTLED = 10  # days at the end of a bed filled daily that count as steady
_PIPES = 6

# Bounds, beds up to 0.42 m of mix and deeper ones: mm, %, days. Evaporation may be within either
# its mm or its %. A burst is water on the move: its bounds are those of where it ends up.
BOUNDS = {
    "open_water": (3.0, 6.0),
    "mix_water": (4.0, 8.0),
    "transpiration": (2.0, 5.0),
    "evaporation": (5.0, 8.0),
    "evaporation_share": (10.0, 15.0),
    "outflow": (5.0, 8.0),
    "day_empty": (1.0, 2.0),
    "steady": (10.0, 10.0),
}
IN_BURSTS = {"open_water": (5.0, 6.0), "outflow": (12.0, 12.0)}


@dataclass(frozen=True)
class Figures:
    """Differences of a case, model minus reference; NaN where a figure has no meaning.

    Attributes
    ----------
    open_water, mix_water : float
        Largest on a day that ends with water in the store of the reference [mm].
    transpiration, evaporation_share : float
        Over the run [%].
    evaporation, outflow : float
        Over the run; overflow and rim spill together [mm].
    day_empty : float
        Of the first day that ends with an empty store [d].
    steady : float
        Of what the plants, or a bare surface, got in the last days of a bed filled daily [%].
    air_mean, air_worst : float
        Air share of the root zone: mean, and largest on a day [percentage points].
    """

    case: Case
    open_water: float
    mix_water: float
    transpiration: float
    evaporation: float
    evaporation_share: float
    outflow: float
    day_empty: float
    steady: float
    air_mean: float
    air_worst: float

    def size(self, name: str) -> float:
        """A figure without its sign; nought where there is none."""
        return float(np.nan_to_num(abs(getattr(self, name))))


def mix_of(name: str, numbers: dict[str, float]) -> Mix:
    """A medium of the cases as the model takes it."""
    k_s, exponent = numbers["k_s"], numbers["l"]
    return Mix(
        name,
        *(numbers[key] for key in ("theta_r", "theta_s", "alpha", "n", "k_s", "l")),
        bulk_density=500.0,
        k_s_low=k_s,
        k_s_high=k_s,
        l_low=exponent,
        l_high=exponent,
        wetting=numbers["b"],
    )


def bed_of(case: Case) -> Bed:
    """The case as a bed: as many pipes side by side as cover the share of the floor."""
    pipes, freeboard = inputs()["pipes"], inputs()["freeboard"]
    width = _PIPES * pipes["outside"] / case.pipe_share
    return Bed(
        name=case.name,
        box=Box(length=1.0, width=width, depth=case.depth + freeboard, freeboard=freeboard),
        reservoir=Pipes(pipes["inside"], pipes["outside"], count=_PIPES, run=1.0),
        overflow=Overflow(height=inputs()["lip"]),
        wick_mix=mix_of(case.wick_name, case.wick),
        top_mix=mix_of(case.top_name, case.top),
        surface=Surface(),
        plantings=(),
        watering=Watering("never"),
    )


def modelled(case: Case, refill: Array) -> Stored:
    """Run the daily model on the rain, demand and refills of the reference."""
    bed, sky, lip, limits = bed_of(case), weather(case), inputs()["lip"], inputs()["uptake"]
    cells, mixes, layout = layouts_of([bed])
    days, full = sky.rain.size, float(open_store(lip, bed))
    states = at_rest(cells, mixes, layout, np.array([full]), np.array([lip]))
    own = cells.water[0, : cells.number[0]]
    start = (full, float(own @ states.content[0, : own.size]))

    def row(values: Array) -> Array:
        return np.ascontiguousarray(values, dtype=np.float64)[None]

    def column(values: Array) -> Array:
        return row(values)[:, :, None]

    first, last = (int(hour) for hour in sky.rain_hours)
    hours = np.zeros((days, 24))
    hours[:, first:last] = 1.0 / (last - first)
    roots = case.depth - lip if case.root_depth is None else case.root_depth
    start_at = dry_start(sky.demand, h3_high=limits["h3_high"], h3_low=limits["h3_low"])
    figures, _, _ = move(
        cells,
        mixes,
        Beds(
            layout=layout,
            surface=np.array([case.depth]),
            freeboard=np.array([bed.box.freeboard]),
            roots_from=np.array([lip]),
            dead=np.zeros(1),
            lip=np.full((1, 1), lip),
            below=np.full(1, np.inf),
            volume=np.full(1, np.inf),
        ),
        Days(
            rain=row(sky.rain),
            hours=hours[None],
            begin=first / 24,
            end=last / 24,
            energy=row(sky.energy),
            demand=column(sky.demand),
            depth=column(np.full(days, roots)),
            h3=column(start_at),
            h4=column(np.full(days, limits["h4"])),
            zone=row(np.full(days, roots)),
        ),
        Columns(
            bed=np.zeros(1, np.int64),
            days=np.zeros(1, np.int64),
            start=np.zeros(1, np.int64),
            hours=np.zeros(1, np.int64),
            due=np.zeros((1, days), bool),
            given=row(refill),
        ),
        states,
        threads=1,
    )
    found = dict(zip(FIGURES, figures[:, 0], strict=True))
    return Stored(
        pond=found["standing_water"],
        suction=found["surface_suction"],
        start=start,
        **{name: found[name] for name in Stored.__annotations__ if name in found},
    )


def figures(case: Case) -> Figures:
    reference = stored(case)
    model = modelled(case, reference.refill)
    wet = reference.open_water > HOLDS_WATER
    moving = case.spell == "bursts"
    air = 100 * (model.air_root_zone - reference.air_root_zone)
    evaporated = reference.evaporation.sum()
    off = model.evaporation.sum() - evaporated
    got = "evaporation" if case.surface == "bare" else "transpiration"
    out = [run.overflow.sum() + run.rim_spill.sum() for run in (model, reference)]
    return Figures(
        case,
        open_water=_worst(model.open_water - reference.open_water, wet),
        mix_water=np.nan if moving else _worst(model.mix_water - reference.mix_water, wet),
        transpiration=_percent(model.transpiration.sum(), reference.transpiration.sum()),
        evaporation=float(1000 * off) if evaporated > 0 else np.nan,
        evaporation_share=_percent(evaporated + off, evaporated),
        outflow=float(1000 * (out[0] - out[1])),
        day_empty=_empty(model) - _empty(reference),
        steady=_percent(
            getattr(model, got)[-SETTLED:].sum(), getattr(reference, got)[-SETTLED:].sum()
        )
        if "filled" in case.spell
        else np.nan,
        air_mean=float(air.mean()),
        air_worst=float(np.abs(air).max()),
    )


def _worst(difference: Array, days: Array) -> float:
    return float(1000 * np.abs(difference[days]).max()) if days.any() else np.nan


def _percent(model: float, reference: float) -> float:
    return float(100 * (model / reference - 1)) if reference > 1e-6 else np.nan


def _empty(run: Stored) -> float:
    """First day that ends with an empty store, NaN where none does."""
    empty = run.open_water < HOLDS_WATER
    return float(empty.argmax()) if empty.any() else np.nan


@cache
def all_figures() -> tuple[Figures, ...]:
    return tuple(figures(case) for case in cases())


def bounds_of(case: Case) -> dict[str, float]:
    """Bounds of the figures of a case."""
    deep = int(case.depth > 0.42)
    bounds = BOUNDS | (IN_BURSTS if case.spell == "bursts" else {})
    return {name: pair[deep] for name, pair in bounds.items()}


def broken(found: Figures) -> list[str]:
    """Figures that are out of their bound."""
    bounds = bounds_of(found.case)
    out = [name for name, bound in bounds.items() if found.size(name) > bound]
    both = {"evaporation", "evaporation_share"}
    return [name for name in out if name not in both or both <= set(out)]
