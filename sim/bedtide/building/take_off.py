"""What a bed takes: boards and their cuts, pipe, liner, mix, fittings; water of its first fill."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

import numpy as np

from bedtide.bed import (
    Bed,
    Crates,
    FalseFloor,
    Pipes,
    Stone,
    brimful_weight,
    capacity,
    crown_height,
    full_level,
    ingredients,
    mix_below,
    mix_volume,
    plan_area,
    surface_height,
    walls_of,
)
from bedtide.building.cutting import Cut, cut
from bedtide.building.trade import Size, Trade
from bedtide.constants import WATER_DENSITY
from bedtide.mix import water_content

Corner = Literal["sides past ends", "ends past sides"]
CORNERS: Final[tuple[Corner, ...]] = ("sides past ends", "ends past sides")
LOW_RIM: Final = 0.0125
"""By how much a rim may come out lower than described before another course is bought [m]; ours."""

_SCREWS: Final = 3  # to a board's end; common practice, no source
_SLICES: Final = 2000  # heights at which the mix's water at rest is summed
_STONE: Final = 2650.0  # kg m-3, as in the weight of a bed
_ROUNDING: Final = 1e-9


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
class Cutting:
    """So many lengths as sold, and the pieces that each is cut into."""

    stock: str
    stock_mm: float
    pieces_mm: tuple[float, ...]
    count: int
    left_mm: float


@dataclass(frozen=True, kw_only=True)
class Boards:
    """Walls of boards: courses one upon the other, two sides and two ends in each."""

    corner: Corner
    courses: int
    thickness_mm: float
    course_mm: float
    side_mm: float
    end_mm: float
    wall_height_mm: float  # as the courses come out
    rip_mm: float  # to saw off the top course; none where it may stay
    saves_mm: float | None  # depth that would do with a course less, where little is missing
    low_mm: float  # by how much the rim comes out lower than described
    fits_mm: float | None  # inside length that a shorter board would make
    fits_stock: str
    longer_stock: str  # the shortest board that makes the length described
    cuts: tuple[Cutting, ...]
    wood_kg: float  # of all the walls and floor of one bed


@dataclass(frozen=True, kw_only=True)
class Mixed:
    """Mix of one zone of one bed: as it lies, loose, and loose at either end of settling [L]."""

    zone: str
    mix: str
    settled_litres: float
    loose_litres: float
    loose_least_litres: float
    loose_most_litres: float


@dataclass(frozen=True, kw_only=True)
class Weights:
    """What one bed weighs [kg], and on each square metre of its floor [kg/m2]."""

    wood_kg: float
    dry_kg: float
    at_lip_kg: float
    brimful_kg: float
    dry_kg_per_m2: float
    at_lip_kg_per_m2: float
    brimful_kg_per_m2: float


def packed(need: float, sizes: Mapping[float, Size]) -> tuple[str, int, float | None]:
    """Size to buy, how many and the price: the cheapest where priced, else the least left over."""

    def order(size: float) -> tuple[float, float, int]:
        count, price = _up(need / size), sizes[size].price
        return (math.inf if price is None else count * price), count * size, count

    best = min(sizes, key=order)
    count, price = _up(need / best), sizes[best].price
    return sizes[best].text, count, None if price is None else count * price


def _up(number: float) -> int:
    return math.ceil(number - _ROUNDING)


# --- walls ------------------------------------------------------------------------------------


def under_liner(trade: Trade) -> float:
    """From the foot of the walls up to the floor of the liner [m]."""
    return trade["board.floor"] + trade["liner.thickness"]


def side_lengths(bed: Bed, trade: Trade, corner: Corner) -> tuple[float, float]:
    """Length of the boards of a side and of an end [m]: liner and underlay lie between them."""
    beside, past = 2.0 * trade["liner.thickness"], 2.0 * trade["board.thickness"]
    side, end = bed.box.length + beside, bed.box.width + beside
    return (side + past, end) if corner == "sides past ends" else (side, end + past)


def is_boarded(bed: Bed, trade: Trade) -> bool:
    """Whether the box is made of boards: not if it is a tub, or the user's file has none."""
    walls = walls_of(bed)
    return walls.floor == walls.area and bool(trade.sizes["board.lengths"])


def boards_of(bed: Bed, trade: Trade, beds: int) -> Boards | None:
    """Boards of all the beds; None for a tub, or where a side is longer than any board."""
    if not is_boarded(bed, trade):
        return None
    stock = trade.sizes["board.lengths"]
    width, needed = trade["board.width"], bed.box.depth + under_liner(trade)
    courses = max(_up((needed - min(LOW_RIM, bed.box.freeboard / 2.0)) / width), 1)
    best: tuple[float, Corner, list[Cut]] | None = None
    for corner in CORNERS:
        pieces: Counter[float] = Counter()
        for piece in side_lengths(bed, trade, corner):
            pieces[piece] += 2 * courses * beds
        if max(pieces) > max(stock) + _ROUNDING:
            continue
        prices = {size: each.price for size, each in stock.items()}
        cuts = cut(pieces, prices, kerf=trade["board.kerf"])
        cost = sum(each.times * (prices[each.stock] or each.stock) for each in cuts)
        if best is None or cost < best[0] - _ROUNDING:
            best = cost, corner, cuts
    if best is None:
        return None
    _, corner, cuts = best
    side, end = side_lengths(bed, trade, corner)
    least = bed.box.length + 2.0 * trade["liner.thickness"]
    trap = [size for size in stock if bed.box.length <= size + _ROUNDING < least]
    over = courses * width - needed
    wall = min(courses * width, needed) if over > LOW_RIM else courses * width
    volume = 2.0 * (side + end) * wall * trade["board.thickness"]
    volume += least * (bed.box.width + 2.0 * trade["liner.thickness"]) * trade["board.floor"]
    return Boards(
        corner=corner,
        courses=courses,
        thickness_mm=1e3 * trade["board.thickness"],
        course_mm=1e3 * width,
        side_mm=1e3 * side,
        end_mm=1e3 * end,
        wall_height_mm=1e3 * wall,
        rip_mm=1e3 * over if over > LOW_RIM else 0.0,
        saves_mm=1e3 * (bed.box.depth + over - width) if width / 2 < over and courses > 1 else None,
        low_mm=max(-1e3 * over, 0.0),
        fits_mm=1e3 * (trap[0] - 2.0 * trade["liner.thickness"]) if trap else None,
        fits_stock=stock[trap[0]].text if trap else "",
        longer_stock=next(s.text for size, s in stock.items() if size + _ROUNDING >= least),
        cuts=_told(cuts, stock, trade["board.kerf"]),
        wood_kg=volume * trade["board.density"],
    )


def _told(cuts: list[Cut], stock: Mapping[float, Size], kerf: float) -> tuple[Cutting, ...]:
    return tuple(
        Cutting(
            stock=stock[each.stock].text,
            stock_mm=1e3 * each.stock,
            pieces_mm=tuple(1e3 * piece for piece in each.pieces),
            count=each.times,
            left_mm=1e3 * max(each.stock - sum(each.pieces) - kerf * len(each.pieces), 0.0),
        )
        for each in cuts
    )


def pipe_cuts(bed: Bed, trade: Trade, beds: int) -> tuple[tuple[Cutting, ...], int]:
    """Drain pipe of all the beds cut from sticks or coils, and the couplers of longer runs."""
    pipes, stock = bed.reservoir, trade.sizes["pipe.lengths"]
    if not isinstance(pipes, Pipes):
        return (), 0
    longest = max(stock)
    joints = max(_up(pipes.run / longest) - 1, 0)
    runs = beds * pipes.count
    pieces = Counter({longest: joints * runs} if joints else {})
    pieces[pipes.run - joints * longest] += runs
    prices = {size: each.price for size, each in stock.items()}
    kerf = trade["board.kerf"]
    return _told(cut(pieces, prices, kerf=kerf), stock, kerf), joints * runs


# --- what is bought ---------------------------------------------------------------------------


def _spread(bed: Bed) -> tuple[float, float]:
    """Floor and both walls laid out flat, along and across [m]."""
    walls = walls_of(bed)
    sides = ((walls.length, walls.length_at_floor), (walls.width, walls.width_at_floor))
    slopes = [math.hypot(walls.depth, 0.5 * (rim - floor)) for rim, floor in sides]
    return sides[0][1] + 2.0 * slopes[0], sides[1][1] + 2.0 * slopes[1]


def items_of(
    bed: Bed, trade: Trade, beds: int, boards: Boards | None, zones: tuple[Mixed, ...]
) -> tuple[Item, ...]:
    """All that is bought for the beds, in the order of the work."""
    found: list[Item] = []
    walls, layer = walls_of(bed), bed.reservoir
    floor = (walls.length_at_floor, walls.width_at_floor)

    def lengths(item: str, cuts: tuple[Cutting, ...], stock: Mapping[float, Size]) -> None:
        """Lengths as sold, with how much of them is used."""
        for size in stock.values():
            own = [each for each in cuts if each.stock == size.text]
            count = sum(each.count for each in own)
            used = sum(each.count * sum(each.pieces_mm) for each in own) / 1e3
            if own:
                price = None if size.price is None else size.price * count
                found.append(Item(item, used, "m", size.text, count, price))

    def piece(item: str, count: int, *measures: float) -> None:
        """Pieces of one size: a length, an area, or things that are counted."""
        amount, unit = count * math.prod(measures), ("", "m", "m2")[len(measures)]
        price = trade.price(item, count, amount, unit)
        told = tuple(1e3 * side for side in measures)
        found.append(Item(item, amount, unit, "", count, price, told))

    def loose(item: str, need: float, unit: str, sizes: Mapping[float, Size]) -> None:
        """What comes in bags."""
        found.append(Item(item, need, unit, *packed(need, sizes)))

    if boards is not None:
        lengths("boards", boards.cuts, trade.sizes["board.lengths"])
        piece("screws", _SCREWS * 4 * boards.courses * beds)
        ties = _up(bed.box.length / trade["board.tie_span"]) - 1
        if ties > 0:
            piece("tie", ties * beds)
        if trade["board.floor"] > 0.0:
            piece("floor boards", beds, *(side + 2.0 * trade["liner.thickness"] for side in floor))
    piece("underlay", beds, *_spread(bed))
    piece("liner", beds, *(side + 2.0 * trade["liner.turn_over"] for side in _spread(bed)))
    if bed.overflow.state != "none":
        piece("bulkhead fitting", beds)
        piece("screen", beds)
    if isinstance(layer, Pipes):
        cuts, couplers = pipe_cuts(bed, trade, beds)
        lengths("drain pipe", cuts, trade.sizes["pipe.lengths"])
        piece("end cap", 2 * layer.count * beds)
        if couplers:
            piece("coupler", couplers)
    else:
        if isinstance(layer, Stone):
            volume = float(walls.below(layer.height) - mix_below(layer.height, bed)) * walls.area
            mass = volume * _STONE * (1.0 - layer.void_share) * beds
            loose("stone", mass, "kg", trade.sizes["bag.stone"])
        elif isinstance(layer, Crates):
            long, wide = (trade.values[f"crate.{side}"] for side in ("length", "width"))
            beside = walls.floor * (1.0 - layer.wick_share)
            if long and wide:
                piece("crate", _up(beside / (long * wide)) * beds)
            else:
                found.append(Item("crate", beside * layer.height * beds, "m3", "ask", None, None))
        elif isinstance(layer, FalseFloor):
            piece("false floor", beds, *floor)
        piece("fabric", beds, *(side + 2.0 * trade["fabric.turn_up"] for side in floor))
    piece("fill pipe", beds, bed.box.depth + trade["fill.above_rim"])
    piece("lid", beds)
    for name, volume in mixed(bed, zones).items():
        loose(name, volume * beds, "m3", trade.bags(name))
    settled = sum(zone.settled_litres for zone in zones) / 1e3
    for name, (rate, unit) in trade.amendments.items():
        over = plan_area(bed) if unit == "kg/m2" else settled
        amount, measure = rate * over * beds, "m3" if unit == "1" else "kg"
        found.append(Item(name, amount, measure, "", 1, trade.price(name, 1, amount, measure)))
    return tuple(found)


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
        if litres > _ROUNDING
    )


def mixed(bed: Bed, zones: tuple[Mixed, ...]) -> dict[str, float]:
    """Loose volume of each ingredient of both zones [m3]."""
    found: dict[str, float] = {}
    for zone in zones:
        for name, share in ingredients(bed, zone.zone).items():
            found[name] = found.get(name, 0.0) + share * zone.loose_litres / 1e3
    return found


def water_at_rest(bed: Bed) -> float:
    """Water in the mix at rest with the reservoir full [m3]: saturated up to the level."""
    faces = np.linspace(0.0, surface_height(bed), _SLICES + 1)
    crown = crown_height(bed)
    faces = np.unique(np.append(faces, crown))
    middles = np.array([0.5 * (low + high) for low, high in pairwise(faces)])
    suction = np.maximum(middles - full_level(bed), 0.0)
    content = np.where(
        middles < crown,
        water_content(suction, bed.wick_mix),
        water_content(suction, bed.top_mix),
    )
    return float((np.diff(mix_below(faces, bed)) * content).sum()) * plan_area(bed)


def first_fill(bed: Bed, trade: Trade) -> float:
    """Water of the first fill [m3]: store and mix at rest, less what is in the mix as filled in."""
    store = float(capacity(bed, full_level(bed))) * plan_area(bed)
    return store + water_at_rest(bed) - trade["mix.moisture"] * mix_volume(bed)


def weights_of(bed: Bed, boards: Boards | None) -> Weights:
    """Weights of one bed, without liner, plants, mulch, snow and people."""
    wood, full = boards.wood_kg if boards is not None else 0.0, brimful_weight(bed)
    dry = wood + full.mix + full.reservoir
    store = float(capacity(bed, full_level(bed))) * plan_area(bed)
    at_lip, brimful = dry + WATER_DENSITY * (store + water_at_rest(bed)), wood + full.total
    floor = walls_of(bed).floor
    return Weights(
        wood_kg=wood,
        dry_kg=dry,
        at_lip_kg=at_lip,
        brimful_kg=brimful,
        dry_kg_per_m2=dry / floor,
        at_lip_kg_per_m2=at_lip / floor,
        brimful_kg_per_m2=brimful / floor,
    )
