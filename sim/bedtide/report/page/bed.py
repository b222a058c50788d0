"""A bed as its drawings and its cautions need it: every measure worked out once, in metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bedtide.bed import (
    Bed,
    Pipes,
    brimful_weight,
    crown_height,
    dead_storage,
    full_level,
    outlet_flow,
    plan_area,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.report.section import both, form_of, legend_of, marks_of
from bedtide.report.section_parts import Plant, bays_of, pipe_middles, plants_of
from bedtide.units import length_text

if TYPE_CHECKING:
    from bedtide.units import System

_MINUTES = 1440.0  # in a day


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A height to label [m], its name and its text in both systems of units."""

    height: float
    name: str
    text: str


@dataclass(frozen=True, kw_only=True)
class BedView:
    """Measures of a bed for its drawings [m, L, kg]; None for what was not given."""

    name: str
    form: str
    length: float
    width: float
    depth: float
    lean: float  # of the wall from floor to rim, across the bed, and the same along it
    lean_along: float
    length_text: str
    width_text: str
    surface: float
    crown: float
    foot: float
    level: float
    lip: float | None
    bore: float | None
    state: str
    outside: float
    inside: float
    run: float
    pipes: tuple[float, ...]  # middle of each across the bed
    bays: tuple[tuple[float, float], ...]  # between the legs of mix, across the bed
    plants: tuple[Plant, ...]
    marks: tuple[Mark, ...]  # the lowest first
    keys: tuple[tuple[str, str], ...]  # colour and words
    full_kg: float
    full_kg_per_m2: float
    dead_litres: float
    outlet_litres_a_minute: float | None  # with the reservoir full to the middle of the outlet

    @property
    def drains(self) -> bool:
        """Whether water can leave by an overflow."""
        return self.lip is not None and self.state == "open"


def bed_view(bed: Bed, units: System) -> BedView:
    """Measures of a bed for its drawings."""
    weight, layer, surface = brimful_weight(bed), bed.reservoir, surface_height(bed)
    pipes = layer if isinstance(layer, Pipes) else None
    width, bore = bed.box.width, bed.overflow.bore
    return BedView(
        name=bed.name,
        form=form_of(bed),
        length=bed.box.length,
        width=width,
        depth=bed.box.depth,
        lean=0.5 * (width - walls_of(bed).width_at_floor),
        lean_along=0.5 * (bed.box.length - walls_of(bed).length_at_floor),
        length_text=both(length_text, bed.box.length, units),
        width_text=both(length_text, width, units),
        surface=surface,
        crown=crown_height(bed),
        foot=min(wick_foot(bed), crown_height(bed)),
        level=full_level(bed),
        lip=None if bed.overflow.state == "none" else bed.overflow.height,
        bore=bore,
        state=bed.overflow.state,
        outside=pipes.outside if pipes else 0.0,
        inside=pipes.inside if pipes else 0.0,
        run=pipes.run if pipes else bed.box.length,
        pipes=tuple(pipe_middles(bed, pipes).tolist()) if pipes else (),
        bays=() if pipes else tuple(bays_of(bed)),
        plants=tuple(plants_of(bed)[1]),
        marks=tuple(
            Mark(height=height, name=name, text=both(length_text, height, units))
            for height, name in marks_of(bed, None)
        ),
        keys=tuple(legend_of(bed, full_level(bed), units)),
        full_kg=weight.total,
        full_kg_per_m2=weight.per_area,
        dead_litres=dead_storage(bed) * plan_area(bed) * 1e3,
        outlet_litres_a_minute=(
            None if bore is None else float(outlet_flow(bore / 2, bore)) * 1e3 / _MINUTES
        ),
    )
