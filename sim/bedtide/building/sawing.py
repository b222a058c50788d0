"""What is sawn: boards of the walls and drain pipe, cut from lengths as they are sold."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np

from bedtide.bed import Bed, Pipes, walls_of
from bedtide.building.trade import Size, Trade

Corner = Literal["sides past ends", "ends past sides"]
CORNERS: Final[tuple[Corner, ...]] = get_args(Corner)
# By how much a rim may come out lower than described before another course is bought [m]; ours
_LOW_RIM: Final = 0.0125
_ROUNDING: Final = 1e-9
_PATIENCE: Final = 2.0  # seconds, after which the best found so far is taken
_FEWER: Final = 1e-6  # share of a length's cost by which fewer lengths are better


@dataclass(frozen=True, kw_only=True)
class Cutting:
    """So many lengths as sold, and the pieces that each is cut into, longest first."""

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


def up(number: float) -> int:
    """The next whole number, but for rounding."""
    return math.ceil(number - _ROUNDING)


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
    stock, beside = trade.sizes["board.lengths"], 2.0 * trade["liner.thickness"]
    cost = {each.text: each.price or size for size, each in stock.items()}
    width, needed = trade["board.width"], bed.box.depth + under_liner(trade)
    courses = max(up((needed - min(_LOW_RIM, bed.box.freeboard / 2.0)) / width), 1)
    found: list[tuple[float, Corner, tuple[Cutting, ...]]] = []
    for corner in CORNERS:
        pieces = Counter(side_lengths(bed, trade, corner) * (2 * courses * beds))
        if max(pieces) <= max(stock) + _ROUNDING:
            cuts = cut(pieces, stock, kerf=trade["board.kerf"])
            found.append((round(sum(c.count * cost[c.stock] for c in cuts), 6), corner, cuts))
    if not found:
        return None
    _, corner, cuts = min(found, key=lambda each: each[0])
    side, end = side_lengths(bed, trade, corner)
    least = bed.box.length + beside
    trap = [size for size in stock if bed.box.length <= size + _ROUNDING < least]
    over = courses * width - needed
    wall = min(courses * width, needed) if over > _LOW_RIM else courses * width
    volume = 2.0 * (side + end) * wall * trade["board.thickness"]
    volume += least * (bed.box.width + beside) * trade["board.floor"]
    return Boards(
        corner=corner,
        courses=courses,
        thickness_mm=1e3 * trade["board.thickness"],
        course_mm=1e3 * width,
        side_mm=1e3 * side,
        end_mm=1e3 * end,
        wall_height_mm=1e3 * wall,
        rip_mm=1e3 * over if over > _LOW_RIM else 0.0,
        saves_mm=1e3 * (bed.box.depth + over - width) if width / 2 < over and courses > 1 else None,
        low_mm=max(-1e3 * over, 0.0),
        fits_mm=1e3 * (trap[0] - beside) if trap else None,
        fits_stock=stock[trap[0]].text if trap else "",
        longer_stock=next(s.text for size, s in stock.items() if size + _ROUNDING >= least),
        cuts=cuts,
        wood_kg=volume * trade["board.density"],
    )


def pipe_cuts(bed: Bed, trade: Trade, beds: int) -> tuple[Cutting, ...]:
    """Drain pipe of all the beds cut from sticks or coils; a longer run is of several pieces."""
    pipes, stock = bed.reservoir, trade.sizes["pipe.lengths"]
    if not isinstance(pipes, Pipes):
        return ()
    longest, runs = max(stock), beds * pipes.count
    joints = max(up(pipes.run / longest) - 1, 0)
    pieces = Counter({longest: joints * runs})
    pieces[pipes.run - joints * longest] += runs
    return cut(pieces, stock, kerf=trade["board.kerf"])


# --- pieces out of lengths --------------------------------------------------------------------


def cut(
    pieces: Mapping[float, int], stock: Mapping[float, Size], *, kerf: float
) -> tuple[Cutting, ...]:
    """Cut so many pieces of each length [m] from lengths as sold [m].

    Of the lengths that have a price the cheapest choice where these reach, else the least length;
    of equal ones the fewest. Every cut takes `kerf` [m]. Exact: each way of filling a length is a
    column of an integer programme. The longest piece must fit into the longest stock.
    """
    from scipy.optimize import LinearConstraint, milp

    wanted = dict(sorted(((size, n) for size, n in pieces.items() if n > 0), reverse=True))
    if not wanted:
        return ()
    priced = {size: each.price for size, each in stock.items() if each.price is not None}
    reach = max(priced, default=-math.inf) >= max(wanted) - _ROUNDING
    cost = priced if reach else {size: size for size in stock}
    ways = [(size, way) for size in cost for way in _ways(size, list(wanted.items()), kerf)]
    costs = np.array([cost[size] for size, _ in ways])
    found = milp(
        costs + _FEWER * max(costs.mean(), _ROUNDING),
        constraints=LinearConstraint(np.array([way for _, way in ways]).T, lb=[*wanted.values()]),
        integrality=np.ones(len(ways)),
        options={"mip_rel_gap": 0.0, "time_limit": _PATIENCE},
    )
    if found.x is None:
        raise RuntimeError(f"no way of cutting was found: {found.message}")
    filled: Counter[tuple[float, tuple[float, ...]]] = Counter()
    for (size, way), times in zip(ways, np.round(found.x).astype(int), strict=True):
        for _ in range(times):
            taken: list[float] = []  # of what is still wanted, so that there is no surplus
            for piece, most in zip(wanted, way, strict=True):
                here = min(most, wanted[piece])
                wanted[piece] -= here
                taken += [piece] * here
            filled[size, tuple(taken)] += 1
    order = sorted(filled.items(), key=lambda each: (-each[0][0], -len(each[0][1]), each[0][1]))
    return tuple(
        Cutting(
            stock=stock[size].text,
            stock_mm=1e3 * size,
            pieces_mm=tuple(1e3 * piece for piece in taken),
            count=count,
            left_mm=1e3 * max(size - sum(taken) - kerf * len(taken), 0.0),
        )
        for (size, taken), count in order
    )


def _ways(stock: float, pieces: list[tuple[float, int]], kerf: float) -> Iterator[tuple[int, ...]]:
    """Every way of filling a length that has no room for one piece more."""
    (size, most), *rest = pieces
    fit = min(most, int((stock + kerf + _ROUNDING) / (size + kerf)))
    if not rest:
        yield (fit,)
        return
    for number in range(fit, -1, -1):
        for others in _ways(stock - number * (size + kerf), rest, kerf):
            yield (number, *others)
