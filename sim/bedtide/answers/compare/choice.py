"""Which of the beds that were compared are beaten, and which one to take, by stated rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    import xarray as xr

ALLOWANCE: Final = 2
"""Days a year of want, of air or of water, that a bed may have beyond the best of all [d]; ours."""

ROOM: Final = 0.20
"""Mix above the reservoir that a bed should give its roots, where another one does [m]; the least
that growers' guides name, common practice, no source."""

Reason = Literal["room", "want", "fills", "weight", "water", "none"]
"""What decided: room for roots, days on which they lack air or water, fills, weight, water poured
in; "none" where the beds are alike in all of these."""


class Choice(NamedTuple):
    """The bed to take, what speaks for it, and what against."""

    pick: int  # number of the bed
    reason: Reason
    rival: int | None  # the next best
    kept_up: int  # years in which the pick was no worse than the rival in what decided
    years: int
    beaten: NDArray[np.bool_]  # beds that another one beats in everything, shape (bed,)


def scores(comparison: xr.Dataset) -> NDArray[np.float64]:
    """What beds are compared by, shape (bed, 6), the smaller the better.

    Means of the years: whole fills [1], whole days on which roots lack air [d], whole days on which
    plants lack water [d]; then weight full to the rim [kg] and water poured in [m3], both to two
    digits; and what the mix above the reservoir lacks of `ROOM`, to the centimetre [m].

    Rounding first and comparing then keeps "beaten" a matter of what a keeper would notice, and
    keeps it in order: a bed that beats one that beats a third beats the third. The choice of the
    six and of the rounding is ours.
    """
    columns = (
        np.round(comparison["refill_count_mean"].to_numpy()),
        np.round(comparison["wet_days_mean"].to_numpy()),
        np.round(comparison["limited_days_mean"].to_numpy()),
        _two_digits(comparison["brimful_weight"].to_numpy()),
        _two_digits(comparison["refill_volume_mean"].to_numpy()),
        np.round(np.maximum(ROOM - comparison["mix_depth"].to_numpy(), 0.0), 2),
    )
    return np.stack(columns, axis=-1)


def beaten(score: ArrayLike) -> NDArray[np.bool_]:
    """Beds that another is as good as in everything and better than in something, shape (bed,).

    What is left is the front of Pareto. Equals do not beat one another.
    """
    score = np.asarray(score, dtype=np.float64)
    no_worse = (score[:, None, :] <= score[None, :, :]).all(axis=-1)  # first against second
    better = (score[:, None, :] < score[None, :, :]).any(axis=-1)
    return np.asarray((no_worse & better).any(axis=0))


def choose(comparison: xr.Dataset) -> Choice:
    """The bed to take: the roots first, then the least work, the least weight, the least water.

    Of the beds with at least `ROOM` of mix above the reservoir (of all, where none has it), those
    whose roots lack air or water on no more than `ALLOWANCE` days a year beyond the best of them;
    of those the one with the fewest fills; of those the lightest; of those the one that takes the
    least water; of those the first. All on the rounded figures of `scores`: no bed with as much
    room beats the pick.
    """
    score = scores(comparison)
    want = score[:, 1] + score[:, 2]
    roomy = score[:, 5] == 0.0
    roomy |= not roomy.any()
    allowed = want <= want[roomy].min() + ALLOWANCE
    order = np.lexsort((want, score[:, 4], score[:, 3], score[:, 0], ~allowed, ~roomy))
    pick = int(order[0])
    years = comparison.sizes["year"]
    if order.size == 1:
        return Choice(pick, "none", None, 0, years, beaten(score))
    rival = int(order[1])
    decided: tuple[tuple[Reason, bool], ...] = (
        ("room", not roomy[rival]),
        ("want", not allowed[rival]),
        ("fills", score[pick, 0] < score[rival, 0]),
        ("weight", score[pick, 3] < score[rival, 3]),
        ("water", score[pick, 4] < score[rival, 4]),
        ("want", want[pick] < want[rival]),
    )
    reason: Reason = next((name for name, holds in decided if holds), "none")
    if reason == "want":
        each = comparison["wet_days"] + comparison["limited_days"]
    else:
        each = comparison["refill_volume" if reason == "water" else "refill_count"]
    kept_up = int((each[pick] <= each[rival]).sum())
    return Choice(pick, reason, rival, kept_up, years, beaten(score))


def _two_digits(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rounded to two significant digits."""
    size = np.floor(np.log10(np.maximum(np.abs(values), 1e-12)))
    unit = 10.0 ** (size - 1.0)
    return np.asarray(np.round(values / unit) * unit)
