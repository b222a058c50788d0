"""Which of the beds that were compared are beaten, and which one to take, by stated rules."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.constants import ALLOWANCE, FAILS, ROOM
from bedtide.many.years import years_of

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

Reason = Literal["fails", "room", "want", "fills", "weight", "water", "none"]
"""What decided: plants that fail in the other, room for roots, days on which they lack air or
water, fills, weight, water poured in; "none" where the beds are alike in all of these."""


class Scores(NamedTuple):
    """What beds are compared by, rounded, each (..., bed), the smaller the better."""

    fills: Array  # whole ones [1]; endless where the plants fail
    wet: Array  # whole days on which roots lack air [d]
    dry: Array  # whole days on which plants lack water [d]
    weight: Array  # full to the rim, to two digits [kg]
    water: Array  # poured in, to two digits [m3]; endless where the plants fail
    lack: Array  # what the mix above the reservoir lacks of `ROOM`, to the centimetre [m]
    fails: NDArray[np.bool_]  # roots lack air or water on more than `FAILS` of their days


class Choice(NamedTuple):
    """The bed to take, what speaks for it, and what against."""

    pick: int  # number of the bed
    reason: Reason
    rival: int | None  # the next best
    kept_up: int  # years in which the pick was no worse than the rival in what decided
    beaten: NDArray[np.bool_]  # beds that another one beats in everything, shape (bed,)
    fails: NDArray[np.bool_]  # beds that fail their plants, shape (bed,)


def scores(comparison: xr.Dataset, drawn: Mapping[str, Array] | None = None) -> Scores:
    """Scores of beds as they are described, or with `drawn` means of the years, (..., bed).

    That little is poured into a bed that fails its plants, and seldom, is no merit of it. Rounding
    first and comparing then keeps "beaten" a matter of what a keeper would notice, and keeps it in
    order: a bed that beats one that beats a third beats the third. The choice of the six and of the
    rounding is ours.
    """
    fills, wet, dry, water = (
        comparison[f"{name}_mean"].to_numpy() if drawn is None else drawn[name]
        for name in ("refill_count", "wet_days", "limited_days", "refill_volume")
    )
    fails = wet + dry > FAILS * comparison["rooted_days"].mean("year").to_numpy()
    found = (
        np.where(fails, np.inf, np.round(fills)),
        np.round(wet),
        np.round(dry),
        _two_digits(comparison["brimful_weight"].to_numpy()),
        np.where(fails, np.inf, _two_digits(water)),
        np.round(np.maximum(ROOM - comparison["mix_depth"].to_numpy(), 0.0), 2),
        fails,
    )
    return Scores(*np.broadcast_arrays(*found))


def beaten(score: ArrayLike) -> NDArray[np.bool_]:
    """Beds that another is as good as in everything and better than in something, shape (bed,).

    What is left is the front of Pareto. Equals do not beat one another.
    """
    score = np.asarray(score, dtype=np.float64)
    no_worse = (score[:, None, :] <= score[None, :, :]).all(axis=-1)  # first against second
    better = (score[:, None, :] < score[None, :, :]).any(axis=-1)
    return np.asarray((no_worse & better).any(axis=0))


class Order(NamedTuple):
    """Beds from the best to the worst, and why, each (..., bed)."""

    beds: NDArray[np.int64]
    roomy: NDArray[np.bool_]  # which have room for roots
    allowed: NDArray[np.bool_]  # which want air or water little enough


def ordered(score: Scores) -> Order:
    """Beds from the best to the worst.

    Beds that keep their plants before those that fail them. Of the others those with at least
    `ROOM` of mix above the reservoir, where there are any; of these the ones whose roots lack air
    or water on no more than `ALLOWANCE` days a year beyond the best of them; then the fewest fills,
    the least weight, the least water. So no bed that keeps its plants and has as much room beats
    the first.
    """
    want = score.wet + score.dry
    able = ~score.fails | score.fails.all(axis=-1, keepdims=True)
    roomy = score.lack == 0.0
    roomy = roomy | ~(roomy & able).any(axis=-1, keepdims=True)
    least = np.where(roomy & able, want, np.inf).min(axis=-1, keepdims=True)
    allowed = want <= least + ALLOWANCE
    merits = (want, score.water, score.weight, score.fills)
    return Order(np.lexsort((*merits, ~allowed, ~roomy, ~able), axis=-1), roomy, allowed)


def choose(comparison: xr.Dataset) -> Choice:
    """The bed to take, by the order of :func:`ordered`, the first of equals, and why."""
    score = scores(comparison)
    order, roomy, allowed = ordered(score)
    lost, pick = beaten(np.stack(score[:-1], axis=-1)), int(order[0])
    if order.size == 1:
        return Choice(pick, "none", None, 0, lost, score.fails)
    rival, want = int(order[1]), score.wet + score.dry
    decided: tuple[tuple[Reason, Any], ...] = (
        ("fails", score.fails[rival] and not score.fails[pick]),
        ("room", not roomy[rival]),
        ("want", not allowed[rival]),
        ("fills", score.fills[pick] < score.fills[rival]),
        ("weight", score.weight[pick] < score.weight[rival]),
        ("water", score.water[pick] < score.water[rival]),
        ("want", want[pick] < want[rival]),
    )
    reason: Reason = next((name for name, holds in decided if holds), "none")
    if reason in ("want", "fails"):
        each = comparison["wet_days"] + comparison["limited_days"]
    else:
        each = comparison["refill_volume" if reason == "water" else "refill_count"]
    return Choice(pick, reason, rival, int((each[pick] <= each[rival]).sum()), lost, score.fails)


def suited(figures: xr.Dataset) -> NDArray[np.int64]:
    """Number of the bed that suits each place (place,), -1 where each fails its plants, -2 unfit.

    By the order of :func:`ordered`, from the figures of a year at each place; room for roots and
    weight, which are the same everywhere, don't count.
    """
    wet, dry, rooted, fills, water, days = (
        figures[name].transpose("place", "bed").to_numpy()
        for name in (
            *("wet_days", "limited_days", "rooted_days"),
            *("refill_count", "refill_volume", "days"),
        )
    )
    years, want, alike = years_of(days), wet + dry, np.zeros_like(wet)
    fails = want > FAILS * rooted
    score = Scores(
        fills=np.round(fills / years),
        wet=np.round(want / years),
        dry=alike,
        weight=alike,
        water=water,
        lack=alike,
        fails=fails,
    )
    best, unfit = ordered(score).beds[:, 0], np.isnan(want).all(axis=1)
    return np.asarray(np.select([unfit, fails.all(axis=1)], [-2, -1], best), dtype=np.int64)


def _two_digits(values: Array) -> Array:
    """Rounded to two significant digits."""
    size = np.floor(np.log10(np.maximum(np.abs(values), 1e-12)))
    unit = 10.0 ** (size - 1.0)
    return np.asarray(np.round(values / unit) * unit)
