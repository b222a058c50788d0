"""A bed in section and in plan, to scale, as plain shapes in metres."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import numpy as np

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    crown_height,
    lowest_roots,
    surface_height,
    walls_of,
    wick_foot,
)
from bedtide.crop import crop_days
from bedtide.report.shapes import WIDE, Area, Drawing, Line, Round, Shape, Words, block, spread

_OUTLET: Final = 0.02  # bore drawn where none is given [m]
_BAY: Final = 0.45  # width of a bay between two legs of mix [m]; only their share is given
# In units of the drawing:
_WALL: Final = 6.0  # thickness of walls and floor where it is not given
_SPOUT: Final = 29.0  # room right of the box
_LETTER: Final = 6.6  # width of a letter
_ROW: Final = 29.0  # one height with its name
_TALLEST: Final = 230.0  # a box, or
_DEEPEST: Final = 150.0  # its plan

Span = tuple[float, float]


class Plant(NamedTuple):
    """A crop in section: from where to where across the bed, and how deep its roots go [m]."""

    name: str
    left: float
    right: float
    roots: float


class Mark(NamedTuple):
    """A height to label [m], its name and its text in both systems of units."""

    height: float
    name: str
    text: str


# --- whole drawings ---------------------------------------------------------------------------


def section(bed: Bed, marks: Sequence[Mark], levels: Sequence[float], text: str) -> Drawing:
    """The bed across its pipes with water up to the highest of the levels, and heights labelled;
    `text` is its width.

    The thickness of wall and floor, the number of legs of mix, and plants are not given by a
    description and are a picture only; all else is at true size.
    """
    labels = 24.0 + _LETTER * max(len(words) for mark in marks for words in mark[1:])
    width, depth = bed.box.width, bed.box.depth
    scale = min((WIDE - labels - _SPOUT) / width, _TALLEST / depth)
    unit = 1.0 / scale
    rows = spread([mark.height for mark in marks], _ROW * unit)
    above = max(30.0, (rows[-1] - depth) * scale + 18.0)
    below = max(34.0, 18.0 - rows[0] * scale)
    plants = plants_of(bed)[1]
    shapes = [
        *mixes(bed, unit, max(levels, default=0.0)),
        *(_roots(plant, surface_height(bed), unit) for plant in plants),
        *reservoir(bed, unit, max(levels, default=0.0)),
        *(part for plant in plants for part in _sprout(plant, surface_height(bed), unit)),
        *(Line([[(0.0, level), (width, level)]], "level", "dash") for level in levels),
        *box(bed, _WALL * unit),
        *_outlet(bed, unit),
        *_labels(marks, rows, unit),
        *_measure(width, -12.0 * unit, unit, text),
    ]
    left = labels + (WIDE - _SPOUT - labels - width * scale) / 2.0
    floor = above + depth * scale
    return Drawing(shapes, scale, left, floor, floor + below)


def plan(bed: Bed, text: str) -> Drawing:
    """The bed from above, without the mix over the reservoir; `text` are its measures."""
    long, wide = bed.box.length, bed.box.width
    scale = min((WIDE - 18.0) / long, _DEEPEST / wide)
    unit = 1.0 / scale
    edge = 5.0 * unit
    shapes = [
        block(-edge, long + edge, -edge, wide + edge, "box"),
        *plan_inside(bed, unit),
        *_measure(long, -14.0 * unit, unit, text),
    ]
    floor = 10.0 + wide * scale
    return Drawing(shapes, scale, (WIDE - long * scale) / 2.0, floor, floor + 36.0)


def plan_inside(bed: Bed, unit: float) -> list[Shape]:
    """What lies on the floor: mix, and pipes or a layer between its legs of mix."""
    walls, layer = walls_of(bed), bed.reservoir
    long, wide = walls.length, walls.width
    along, lean = 0.5 * (long - walls.length_at_floor), lean_of(bed)
    shapes: list[Shape] = [block(0.0, long, 0.0, wide, "mix_top")]
    shapes.append(block(along, long - along, lean, wide - lean, "mix_wick"))
    if isinstance(layer, Pipes):
        for y in pipe_middles(bed, layer):
            for size, fill in ((layer.outside, "pipe"), (layer.inside, "water")):
                ends = (along, along + layer.run)
                shapes.append(block(*ends, y - size / 2.0, y + size / 2.0, fill))
    else:
        for low, high in bays_of(bed):
            ends, span = (along, long - along), (max(low, lean), min(high, wide - lean))
            shapes.append(block(*ends, *span, "water"))
            shapes += _filling(bed, ends, span, unit)
    return [*shapes, Line([[(0, 0), (0, wide), (long, wide), (long, 0), (0, 0)]], "ink", "thin")]


# --- the parts of a section -------------------------------------------------------------------


def lean_of(bed: Bed) -> float:
    """How far a long wall leans outward from floor to rim [m]."""
    return 0.5 * (bed.box.width - walls_of(bed).width_at_floor)


def box(bed: Bed, wall: float) -> list[Shape]:
    """Walls and floor of a thickness [m], which hide what lies past them, and the liner inside."""
    width, depth, lean = bed.box.width, bed.box.depth, lean_of(bed)
    inside = [(0.0, depth), (lean, 0.0), (width - lean, 0.0), (width, depth)]
    feet = [(width - lean + wall, -wall), (lean - wall, -wall)]
    boards = [*inside, (width + wall, depth), *feet, (-wall, depth)]
    left = [(-wall, depth), (0.0, depth), (lean, 0.0), (lean, -wall), (-wall, -wall)]
    right = [(width - x, y) for x, y in left]
    hidden = [Area(left, "paper"), Area(right, "paper")] if lean > 0.0 else []
    return [*hidden, Area(boards, "box"), Line([inside], "ink")]


def mixes(bed: Bed, unit: float, level: float) -> list[Shape]:
    """Both mixes, with dashes of water over what stands in it."""
    width, crown, surface = bed.box.width, crown_height(bed), surface_height(bed)
    wet = [
        [((1.0 + at % 2 * 6.0) * unit, y), (width, y)]
        for at, y in enumerate(np.arange(3.0 * unit, min(level, surface), 6.0 * unit).tolist())
    ]
    return [
        block(0.0, width, crown, surface, "mix_top"),
        block(0.0, width, 0.0, crown, "mix_wick"),
        *[Line(wet, "water", "soaked")] * bool(wet),
    ]


def reservoir(bed: Bed, unit: float, level: float) -> list[Shape]:
    """Pipes, or a layer beside its legs of mix and under their feet, with water up to the level."""
    layer, crown = bed.reservoir, crown_height(bed)
    if isinstance(layer, Pipes):
        radius, bore = 0.5 * layer.outside, 0.5 * layer.inside
        rounds = ((radius, "pipe", np.inf), (bore, "air", np.inf), (bore, "water", level))
        return [
            Round(x, radius, size, fill, top)
            for x in pipe_middles(bed, layer)
            for size, fill, top in rounds
            if top > radius - size
        ]
    foot = min(wick_foot(bed), crown)
    spaces = [(bay, (foot, crown)) for bay in bays_of(bed)] + [((0.0, bed.box.width), (0.0, foot))]
    shapes: list[Shape] = []
    for across, (low, high) in spaces:
        if high > low:
            shapes.append(block(*across, low, high, "air"))
            shapes.append(block(*across, low, min(max(level, low), high), "water"))
            shapes += _filling(bed, across, (low, high), unit)
            if isinstance(layer, FalseFloor) and high == crown:
                shapes.append(Line([[(across[0], high), (across[1], high)]], "ink", "bold"))
    return shapes


def _filling(bed: Bed, across: Span, up: Span, unit: float) -> list[Shape]:
    """Crates as a grid, stone as rows of stones: a picture, not a count."""
    if isinstance(bed.reservoir, FalseFloor):
        return []
    (left, right), (low, high) = across, up
    if isinstance(bed.reservoir, Crates):
        columns, rows = (max(int((b - a) / (9.0 * unit)), 1) + 1 for a, b in (across, up))
        grid = [[(x, low), (x, high)] for x in np.linspace(left, right, columns).tolist()]
        grid += [[(left, y), (right, y)] for y in np.linspace(low, high, rows).tolist()]
        return [Line(grid, "muted", "edge")]
    rows = max(int((high - low) / (7.0 * unit)), 1)
    stones = [
        [(left + (4.0 + row % 2 * 4.0) * unit, y), (right - 3.0 * unit, y)]
        for row in range(rows)
        for y in [low + (row + 0.5) * (high - low) / rows]
    ]
    return [Line(stones, "muted", "stones"), Line(stones, "stone", "pebbles")]


def pipe_middles(bed: Bed, pipes: Pipes) -> list[float]:
    """Where the pipes lie, spread over the floor evenly, from the left edge of the rim [m]."""
    pitch = walls_of(bed).width_at_floor / pipes.count
    return [lean_of(bed) + (at + 0.5) * pitch for at in range(pipes.count)]


def bays_of(bed: Bed) -> list[Span]:
    """Stretches between the legs of mix [m]: only the legs' share is given, not their number."""
    layer, width = bed.reservoir, bed.box.width
    if isinstance(layer, Pipes) or layer.wick_share <= 0.0:
        return [(0.0, width)]
    legs = int(np.clip(round(width / _BAY), 1, 8))
    half = 0.5 * layer.wick_share * width / legs
    middles = [(at + 0.5) * width / legs for at in range(legs)]
    starts, ends = [0.0, *(x + half for x in middles)], [*(x - half for x in middles), width]
    return list(zip(starts, ends, strict=True))


def _outlet(bed: Bed, unit: float) -> Iterator[Shape]:
    """Through the right wall, its lower lip at true height; an arrow, or a cross if blocked."""
    overflow, width, depth = bed.overflow, bed.box.width, bed.box.depth
    lip = overflow.height
    if overflow.state == "none" or lip is None:
        return
    bore = max(overflow.bore or _OUTLET, 4.0 * unit)
    bore = min(bore, max(depth - lip, 3.0 * unit))
    left = width - lean_of(bed) * (1.0 - lip / depth) - 2.0 * unit
    end, middle = width + 15.0 * unit, lip + bore / 2.0
    yield block(left, end, lip, lip + bore, "paper")._replace(edge=True)

    def beyond(*points: tuple[float, float]) -> list[tuple[float, float]]:
        return [(end + x * unit, middle + y * unit) for x, y in points]

    if overflow.state == "blocked":
        cross = [beyond((-4, 5), (5, -5)), beyond((-4, -5), (5, 5))]
        yield Line(cross, "warning", "bold")
    else:
        fall = beyond((0, 0), (3, -0.5), (6, -3), (8, -7), (9, -14))
        yield Line([fall, beyond((6, -10), (9, -15), (12, -10))], "level")


# --- plants -----------------------------------------------------------------------------------


def plants_of(bed: Bed) -> tuple[int, list[Plant]]:
    """The fullest month of the year and what stands in it, side by side, with its deepest roots.

    Of months as full as one another it is the one with the deepest roots, then the first.
    """
    parts = [planting.part or number for number, planting in enumerate(bed.plantings)]
    order = sorted(range(len(parts)), key=lambda number: parts.index(parts[number]))
    plantings = [bed.plantings[number] for number in order]
    fixed = [p.planted for p in plantings if isinstance(p.planted, datetime.date)]
    first = np.datetime64(min(fixed, default=datetime.date(2001, 1, 1)), "D")
    days = first + np.arange(2 * 365)  # a perennial is full grown in its second year
    calm, moist = np.full(days.size, 2.0), np.full(days.size, 45.0)
    depth = crop_days(plantings, days, wind_speed=calm, rh_min=moist).root_depth_each
    shares = np.array([planting.area_share for planting in plantings])
    full = np.round((depth > 0.0) @ shares, 6) + 1e-3 * np.round(depth @ shares, 6)
    day = int(full.argmax())
    deepest = depth.max(axis=0, initial=0.0)
    reach = surface_height(bed) - lowest_roots(bed)
    found: list[Plant] = []
    for planting, now, most in zip(plantings, depth[day], deepest, strict=True):
        if now > 0.0:
            left = found[-1].right if found else 0.0
            right = left + planting.area_share * bed.box.width
            found.append(Plant(planting.crop.name, left, right, min(float(most), reach)))
    return days[day].astype(object).month, found


def _middle_and_reach(plant: Plant, unit: float) -> Span:
    """Where a plant stands across the bed, and how far it spreads to a side [m]."""
    return (plant.left + plant.right) / 2.0, min((plant.right - plant.left) * 0.36, 22.0 * unit)


def _roots(plant: Plant, surface: float, unit: float) -> Line:
    """Roots to their full depth, spread out below the plant."""
    x, reach = _middle_and_reach(plant, unit)
    down = (0.0, 0.15, 0.5, 1.0)
    strands = [
        [
            (x + side * reach * part**0.5, surface - plant.roots * part * (1.0 - side * side / 4.0))
            for part in down
        ]
        for side in (-1.0, -0.5, 0.0, 0.5, 1.0)
    ]
    return Line(strands, "root", "thin")


def _sprout(plant: Plant, surface: float, unit: float) -> list[Shape]:
    """A stem with two leaves; small where many share the bed."""
    x, reach = _middle_and_reach(plant, unit)
    top, size = surface + 16.0 * unit, min(reach / 11.0, unit)
    half = ((0, 0), (3, 4), (7, 6), (11, 6), (15, 4), (12, 1), (8, -1), (4, -1))
    leaves = [[(x + side * a * size, top + b * size) for a, b in half] for side in (-1, 1)]
    stem = Line([[(x, surface), (x, top)]], "transpiration")
    return [stem, *(Area(leaf, "transpiration") for leaf in leaves)]


# --- heights and widths -----------------------------------------------------------------------


def _labels(marks: Sequence[Mark], rows: Sequence[float], unit: float) -> Iterator[Shape]:
    """Name and height left of the box, with a leader to where it is."""
    edge, bend, end, words = (-x * unit for x in (6.0, 11.0, 20.0, 23.0))
    leaders = [
        [(edge, mark.height), (bend, mark.height), (end, row)]
        for mark, row in zip(marks, rows, strict=True)
    ]
    yield Line(leaders, "muted", "thin")
    for mark, row in zip(marks, rows, strict=True):
        yield Words(words, row + unit, mark.name)
        yield Words(words, row - 12.0 * unit, mark.text, quiet=True)


def _measure(length: float, y: float, unit: float, text: str) -> list[Shape]:
    """A line below the drawing that is as long as it, with the measure."""
    ends = [[(x, y - 4.0 * unit), (x, y + 4.0 * unit)] for x in (0.0, length)]
    words = Words(length / 2.0, y - 16.0 * unit, text, "mid", quiet=True)
    return [Line([[(0.0, y), (length, y)], *ends], "muted", "thin"), words]
