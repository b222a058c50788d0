"""Pieces cut from lengths as they are sold, at the least cost or the least length."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

_ROUNDING: Final = 1e-9
_PATIENCE: Final = 2.0  # seconds, after which the best found so far is taken
_FEWER: Final = 1e-6  # share of a length's cost by which fewer lengths are better


class Cut(NamedTuple):
    """So many `times` a length of `stock` [m], cut into `pieces` [m], longest first."""

    stock: float
    pieces: tuple[float, ...]
    times: int


def cut(
    pieces: Mapping[float, int], stock: Mapping[float, float | None], *, kerf: float
) -> list[Cut]:
    """Cut so many pieces of each length [m] from lengths as sold [m] with their prices.

    Of the lengths that have a price the cheapest choice where these reach, else the least length;
    of equal ones the fewest. Every cut takes `kerf` [m]. Exact: each way of filling a length is a
    column of an integer programme. The longest piece must fit into the longest stock.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    wanted = dict(sorted(((size, n) for size, n in pieces.items() if n > 0), reverse=True))
    if not wanted:
        return []
    longest = max(wanted)
    priced = {size: price for size, price in stock.items() if price is not None}
    use = priced if max(priced, default=0.0) >= longest - _ROUNDING else dict.fromkeys(stock)
    ways = [(size, way) for size in use for way in _ways(size, list(wanted.items()), kerf)]
    cost = np.array([size if use[size] is None else use[size] for size, _ in ways], np.float64)
    found = milp(
        cost + _FEWER * max(cost.mean(), _ROUNDING),
        constraints=LinearConstraint(np.array([way for _, way in ways]).T, lb=[*wanted.values()]),
        integrality=np.ones(len(ways)),
        bounds=Bounds(0.0, np.inf),
        options={"mip_rel_gap": 0.0, "time_limit": _PATIENCE},
    )
    if found.x is None:
        raise RuntimeError(f"no way of cutting was found: {found.message}")
    return _without_surplus(ways, np.round(found.x).astype(int), wanted)


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


def _without_surplus(
    ways: list[tuple[float, tuple[int, ...]]],
    counts: NDArray[np.int64],
    wanted: Mapping[float, int],
) -> list[Cut]:
    """Lengths with the pieces that are wanted and no more, alike ones counted together."""
    left = dict(wanted)
    found: Counter[tuple[float, tuple[float, ...]]] = Counter()
    for (stock, way), number in zip(ways, counts, strict=True):
        for _ in range(number):
            taken: list[float] = []
            for size, most in zip(wanted, way, strict=True):
                here = min(most, left[size])
                left[size] -= here
                taken += [size] * here
            found[stock, tuple(taken)] += 1
    order = sorted(found.items(), key=lambda each: (-each[0][0], -len(each[0][1]), each[0][1]))
    return [Cut(stock, taken, count) for (stock, taken), count in order]
