"""Which of the beds that were compared are beaten, and which one to take, by stated rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.constants import ALLOWANCE, FAILS, ROOM

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

Reason = Literal["fails", "room", "want", "fills", "weight", "water", "none"]
"""What decided: plants that fail in the other, room for roots, days on which they lack air or
water, fills, weight, water poured in; "none" where the beds are alike in all of these."""


class Figures(NamedTuple):
    """What beds are compared by, means of the years, each (..., bed)."""

    fills: Array  # [1]
    wet: Array  # days on which roots lack air [d]
    dry: Array  # days on which plants lack water [d]
    weight: Array  # full to the rim [kg]
    water: Array  # poured in [m3]
    depth: Array  # mix above the reservoir [m]
    rooted: Array  # days with roots [d]


class Choice(NamedTuple):
    """The bed to take, what speaks for it, and what against."""

    pick: int  # number of the bed
    reason: Reason
    rival: int | None  # the next best
    kept_up: int  # years in which the pick was no worse than the rival in what decided
    beaten: NDArray[np.bool_]  # beds that another one beats in everything, shape (bed,)
    fails: NDArray[np.bool_]  # beds that fail their plants, shape (bed,)


def figures_of(comparison: xr.Dataset) -> Figures:
    """The figures of a comparison as it is described."""
    means = ("refill_count_mean", "wet_days_mean", "limited_days_mean")
    names = (*means, "brimful_weight", "refill_volume_mean", "mix_depth")
    rooted = comparison["rooted_days"].mean("year").to_numpy()
    fills, wet, dry, weight, water, depth = (comparison[name].to_numpy() for name in names)
    return Figures(fills, wet, dry, weight, water, depth, rooted)


def failing(figures: Figures) -> NDArray[np.bool_]:
    """Beds whose roots lack air or water on more than `FAILS` of their days, (..., bed)."""
    return np.asarray(figures.wet + figures.dry > FAILS * figures.rooted)


def scores(figures: Figures) -> Array:
    """What beds are compared by, shape (..., bed, 6), the smaller the better.

    Whole fills [1], whole days without air and without water [d]; weight [kg] and water poured in
    [m3], both to two digits; and what the mix above the reservoir lacks of `ROOM`, to the
    centimetre [m]. That little is poured into a bed that fails its plants, and seldom, is no merit
    of it: there both are endless.

    Rounding first and comparing then keeps "beaten" a matter of what a keeper would notice, and
    keeps it in order: a bed that beats one that beats a third beats the third. The choice of the
    six and of the rounding is ours.
    """
    fails = failing(figures)
    columns = (
        np.where(fails, np.inf, np.round(figures.fills)),
        np.round(figures.wet),
        np.round(figures.dry),
        _two_digits(figures.weight),
        np.where(fails, np.inf, _two_digits(figures.water)),
        np.round(np.maximum(ROOM - figures.depth, 0.0), 2),
    )
    return np.stack(np.broadcast_arrays(*columns), axis=-1)


def beaten(score: ArrayLike) -> NDArray[np.bool_]:
    """Beds that another is as good as in everything and better than in something, shape (bed,).

    What is left is the front of Pareto. Equals do not beat one another.
    """
    score = np.asarray(score, dtype=np.float64)
    no_worse = (score[:, None, :] <= score[None, :, :]).all(axis=-1)  # first against second
    better = (score[:, None, :] < score[None, :, :]).any(axis=-1)
    return np.asarray((no_worse & better).any(axis=0))


def ordered(score: Array, fails: NDArray[np.bool_]) -> list[NDArray[Any]]:
    """Beds from the best to the worst; which have room, and which little enough want, (bed,).

    Beds that keep their plants before those that fail them. Of the others those with at least
    `ROOM` of mix above the reservoir, where there are any; of these the ones whose roots lack air
    or water on no more than `ALLOWANCE` days a year beyond the best of them; then the fewest fills,
    the least weight, the least water. So no bed that keeps its plants and has as much room beats
    the first.
    """
    want = score[:, 1] + score[:, 2]
    able = ~fails | fails.all()
    roomy = score[:, 5] == 0.0
    roomy |= not (roomy & able).any()
    allowed = want <= want[roomy & able].min() + ALLOWANCE
    merits = (want, score[:, 4], score[:, 3], score[:, 0])
    return [np.lexsort((*merits, ~allowed, ~roomy, ~able)), roomy, allowed]


def choose(comparison: xr.Dataset) -> Choice:
    """The bed to take, by the order of :func:`ordered`, the first of equals, and why."""
    figures = figures_of(comparison)
    score, fails = scores(figures), failing(figures)
    order, roomy, allowed = ordered(score, fails)
    want = score[:, 1] + score[:, 2]
    pick = int(order[0])
    lost = beaten(score)
    if order.size == 1:
        return Choice(pick, "none", None, 0, lost, fails)
    rival = int(order[1])
    decided: tuple[tuple[Reason, bool], ...] = (
        ("fails", bool(fails[rival] and not fails[pick])),
        ("room", not roomy[rival]),
        ("want", not allowed[rival]),
        ("fills", score[pick, 0] < score[rival, 0]),
        ("weight", score[pick, 3] < score[rival, 3]),
        ("water", score[pick, 4] < score[rival, 4]),
        ("want", want[pick] < want[rival]),
    )
    reason: Reason = next((name for name, holds in decided if holds), "none")
    if reason in ("want", "fails"):
        each = comparison["wet_days"] + comparison["limited_days"]
    else:
        each = comparison["refill_volume" if reason == "water" else "refill_count"]
    kept_up = int((each[pick] <= each[rival]).sum())
    return Choice(pick, reason, rival, kept_up, lost, fails)


def _two_digits(values: Array) -> Array:
    """Rounded to two significant digits."""
    size = np.floor(np.log10(np.maximum(np.abs(values), 1e-12)))
    unit = 10.0 ** (size - 1.0)
    return np.asarray(np.round(values / unit) * unit)
