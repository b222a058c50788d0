"""What a bed takes: all that is bought, mix, water of the first fill, and what it weighs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    Stone,
    brimful_weight,
    crown_height,
    full_level,
    full_store,
    mix_below,
    mix_volume,
    plan_area,
    surface_height,
    walls_of,
)
from bedtide.building.sawing import Boards, Cutting, up
from bedtide.building.trade import Size, Trade
from bedtide.constants import WATER_DENSITY
from bedtide.mix import water_content

_SCREWS: Final = 3  # to a board's end; common practice, no source
_SLICES: Final = 2000  # heights at which the mix's water at rest is summed
_TRACE: Final = 1e-9  # L; less is no mix


@dataclass(frozen=True)
class Item:
    """What to buy of one thing: how much is needed, in what size, how many, at what price."""

    item: str
    needed: float
    unit: str  # m3, kg, m2, m or none, for pieces
    size: str  # one as it is sold, in words; for one piece its measures stand in `piece_mm`
    count: int | None  # None where the size must be asked for first
    price: float | None
    piece_mm: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Mixed:
    """Mix of one zone of one bed: as it lies, loose, and loose at either end of settling [L]."""

    zone: str
    mix: str
    settled_litres: float
    loose_litres: float
    loose_least_litres: float
    loose_most_litres: float


# --- what is bought ---------------------------------------------------------------------------


def items_of(
    bed: Bed,
    trade: Trade,
    beds: int,
    boards: Boards | None,
    pipes: tuple[Cutting, ...],
    zones: tuple[Mixed, ...],
) -> Iterator[Item]:
    """All that is bought for the beds, in the order of the work."""
    walls, layer = walls_of(bed), bed.reservoir
    floor = (walls.length_at_floor, walls.width_at_floor)

    def piece(item: str, count: int, *measures: float, over: float = 0.0) -> Item:
        """Pieces of one size: a length, an area, or things that are counted; more at each end."""
        sides = [side + 2.0 * over for side in measures]
        amount, unit = count * math.prod(sides), ("", "m", "m2")[len(sides)]
        price = trade.price(item, count, amount, unit)
        return Item(item, amount, unit, "", count, price, tuple(1e3 * side for side in sides))

    if boards is not None:
        yield from _lengths("boards", boards.cuts, trade.sizes["board.lengths"])
        yield piece("screws", _SCREWS * 4 * boards.courses * beds)
        ties = up(max(walls.length, walls.width) / trade["board.tie_span"]) - 1
        if ties > 0:
            yield piece("tie", ties * beds)
        if trade["board.floor"] > 0.0:
            yield piece("floor boards", beds, *floor, over=trade["liner.thickness"])
    slopes = [  # of both walls laid out flat with the floor between them
        math.hypot(walls.depth, 0.5 * (rim - foot))
        for rim, foot in zip((walls.length, walls.width), floor, strict=True)
    ]
    spread = [foot + 2.0 * slope for foot, slope in zip(floor, slopes, strict=True)]
    yield piece("underlay", beds, *spread)
    yield piece("liner", beds, *spread, over=trade["liner.turn_over"])
    if bed.overflow.state != "none":
        yield piece("bulkhead fitting", beds)
        yield piece("screen", beds)
    if isinstance(layer, Pipes):
        yield from _lengths("drain pipe", pipes, trade.sizes["pipe.lengths"])
        runs = layer.count * beds
        yield piece("end cap", 2 * runs)
        couplers = sum(each.count * len(each.pieces_mm) for each in pipes) - runs
        if couplers:
            yield piece("coupler", couplers)
    else:
        if isinstance(layer, Stone):
            mass = brimful_weight(bed).reservoir * beds
            yield Item("stone", mass, "kg", *packed(mass, trade.sizes["bag.stone"]))
        elif isinstance(layer, Crates):
            area = math.prod(trade.values.get(f"crate.{side}", 0.0) for side in ("length", "width"))
            beside = walls.floor * (1.0 - layer.wick_share)
            if area:
                yield piece("crate", up(beside / area) * beds)
            else:
                yield Item("crate", beside * layer.height * beds, "m3", "ask", None, None)
        elif isinstance(layer, FalseFloor):
            yield piece("false floor", beds, *floor)
        yield piece("fabric", beds, *floor, over=trade["fabric.turn_up"])
    yield piece("fill pipe", beds, bed.box.depth + trade["fill.above_rim"])
    yield piece("lid", beds)
    for name, volume in mixed(bed, zones).items():
        need = volume * beds
        yield Item(name, need, "m3", *packed(need, trade.bags(name)))
    settled = sum(zone.settled_litres for zone in zones) / 1e3
    for name, (rate, unit) in trade.amendments.items():
        amount = rate * (plan_area(bed) if unit == "kg/m2" else settled) * beds
        measure = "m3" if unit == "1" else "kg"
        yield Item(name, amount, measure, "", 1, trade.price(name, 1, amount, measure))


def _lengths(item: str, cuts: tuple[Cutting, ...], stock: Mapping[float, Size]) -> Iterator[Item]:
    """Lengths as sold, with how much of them is used."""
    for size in stock.values():
        own = [each for each in cuts if each.stock == size.text]
        if own:
            count = sum(each.count for each in own)
            used = sum(each.count * sum(each.pieces_mm) for each in own) / 1e3
            price = None if size.price is None else size.price * count
            yield Item(item, used, "m", size.text, count, price)


def packed(need: float, sizes: Mapping[float, Size]) -> tuple[str, int, float | None]:
    """Size to buy, how many and the price: the cheapest where priced, else the least left over."""

    def order(size: float) -> tuple[float, float, int]:
        count, price = up(need / size), sizes[size].price
        return (math.inf if price is None else count * price), count * size, count

    best = min(sizes, key=order)
    count, price = up(need / best), sizes[best].price
    return sizes[best].text, count, None if price is None else count * price


# --- mix, water, weight -----------------------------------------------------------------------


def zones_of(bed: Bed, trade: Trade) -> tuple[Mixed, ...]:
    """Mix between the reservoir and above it."""
    whole = 1e3 * mix_volume(bed)
    low = 1e3 * float(mix_below(crown_height(bed), bed)) * plan_area(bed)
    zones = (("wick", bed.wick_mix.name, low), ("top", bed.top_mix.name, whole - low))
    return tuple(
        Mixed(
            zone=zone,
            mix=mix,
            settled_litres=litres,
            loose_litres=litres / (1.0 - trade["mix.settling"]),
            loose_least_litres=litres / (1.0 - trade["mix.settling_least"]),
            loose_most_litres=litres / (1.0 - trade["mix.settling_most"]),
        )
        for zone, mix, litres in zones
        if litres > _TRACE
    )


def ingredients(bed: Bed, zone: str) -> dict[str, float]:
    """Media of the "wick" or the "top" mix with their shares by volume [1]; else its name alone."""
    mix = bed.wick_mix if zone == "wick" else bed.top_mix
    return dict(mix.parts) or {mix.name: 1.0}


def mixed(bed: Bed, zones: tuple[Mixed, ...]) -> dict[str, float]:
    """Loose volume of each ingredient of both zones [m3]."""
    found: dict[str, float] = {}
    for zone in zones:
        for name, share in ingredients(bed, zone.zone).items():
            found[name] = found.get(name, 0.0) + share * zone.loose_litres / 1e3
    return found


def held_at_rest(bed: Bed) -> float:
    """Water in a full reservoir and in the mix at rest over it, saturated up to the level [m3]."""
    crown = crown_height(bed)
    faces = np.unique(np.append(np.linspace(0.0, surface_height(bed), _SLICES + 1), crown))
    middles = 0.5 * (faces[:-1] + faces[1:])
    suction = middles - full_level(bed)  # below the level negative: saturated
    wick, top = (water_content(suction, mix) for mix in (bed.wick_mix, bed.top_mix))
    content = np.where(middles < crown, wick, top)
    in_mix = float((np.diff(mix_below(faces, bed)) * content).sum())
    return (full_store(bed) + in_mix) * plan_area(bed)


def first_fill(bed: Bed, trade: Trade) -> float:
    """Water of the first fill [m3]: store and mix at rest, less what is in the mix as filled in."""
    return held_at_rest(bed) - trade["mix.moisture"] * mix_volume(bed)


def weights_of(bed: Bed, boards: Boards | None) -> dict[str, float]:
    """Weights of one bed [kg], [kg/m2] of floor; without liner, plants, mulch, snow and people."""
    wood, full = boards.wood_kg if boards is not None else 0.0, brimful_weight(bed)
    dry = wood + full.mix + full.reservoir
    at_lip = dry + WATER_DENSITY * held_at_rest(bed)
    weights = {"dry_kg": dry, "at_lip_kg": at_lip, "brimful_kg": wood + full.total}
    loads = {f"{name}_per_m2": kg / walls_of(bed).floor for name, kg in weights.items()}
    return {"wood_kg": wood, **weights, **loads}
