"""How far an answer moves when mix, plants and exposure are not the typical ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.bed import Bed
from bedtide.errors import RangeError
from bedtide.mix import WETTING, Mix, conductivity_case

PARAMETERS = ("conductivity", "retention", "surface supply", "water use")
"""What is varied: how well the mix conducts, how much it holds, how well it supplies its surface
when it is fed from below, how much the plants use."""

USE_LOW = 0.87
"""Low factor on what the plants use [1]: one less 0.13, the root mean square error of coefficients
estimated from cover over seven vegetables; Allen & Pereira (2009), Irrig. Sci. 28:17-34, read."""

USE_HIGH = 1.3
"""High factor on what the plants use [1]: the middle of 1.1 to 1.5 for a lone bed in an open yard,
a judgement. Its upper end: potted plants three heights apart transpired 1.5 times as much as in a
dense group; Hagishima et al. (2007), Hydrol. Process. 21:1217-1222, abstract read."""

SELDOM = 0.1
"""Share of the cases, or days, on which a mix may lift too slowly and the bed still be said to
work [1]; ours."""

_ALPHA = (11.61 / 14.44, 21.67 / 14.44)
# Bounds of alpha over its middle for potting mix, read in a secondary source: Ansorena (1994). They
# stand in for mixes without published bounds, a judgement.

_NAMES = (
    "typical",
    *(f"{end} {name}" for name in PARAMETERS for end in ("low", "high")),
    "against",
    "in favour",
)
_EXPOSURES = (0.3, 1.5)  # what the crop model accepts


@dataclass(frozen=True)
class Doubt:
    """A headline over the designed set of beds, in the unit of the headline."""

    typical: float
    low: float  # least and most with one parameter at a time at an end, over the beds that work
    high: float
    matters: str  # the parameter that moves it most, over the beds in the range; empty where none
    alone: dict[str, tuple[float, float]]  # with the low and with the high end of each parameter
    together: tuple[float, float]  # all against the plants, all in their favour
    failing: tuple[str, ...]  # beds that do not work, as "low conductivity" or "against"
    runs: int  # beds of the set [1]


def doubtful_beds(bed: Bed) -> list[Bed]:
    """Eleven beds that this one might be, for all that is known of its mix and its plants.

    The bed itself; each of `PARAMETERS` at its low and at its high end with the others typical;
    all of them against the plants; all in their favour. Conductivity: K_s and l of both mixes
    together at the ends of their published spread (:func:`bedtide.mix.conductivity_case`).
    Retention: alpha of both mixes at its published bounds, or at those of potting mix, in
    proportion, where none are published; the low end of retention is the high bound of alpha.
    Surface supply: `Mix.wetting` from the wetting curve (low) to the drying curve (high). Water
    use: the exposure times `USE_LOW` or `USE_HIGH`.
    """
    ends = ("low", "high")
    alone = [{name: end} for name in PARAMETERS for end in ends]
    poor, good = {"conductivity": "low", "retention": "low"}, {"conductivity": "high"}
    against = poor | {"surface supply": "low", "water use": "high"}
    favour = good | {"retention": "high", "surface supply": "high", "water use": "low"}
    return [bed, *(_at_ends(bed, **_keyed(case)) for case in (*alone, against, favour))]


def range_of(values: ArrayLike, *, works: ArrayLike | None = None) -> Doubt:
    """Range of a headline over the beds of :func:`doubtful_beds`, and what matters most to it.

    Infinity is "more than was looked at", NaN "no value". The range is over the typical bed and
    those with one parameter at an end: the two beds with all of them at an end are far less
    likely, and told beside it. A bed that does not work (`works` false) stays out as well, for its
    keeper would know, unless the typical one does not work either.
    """
    numbers = np.asarray(values, dtype=np.float64)
    expected = 3 + 2 * len(PARAMETERS)
    if numbers.shape != (expected,):
        raise RangeError(
            "range", f"{numbers.size} values do not fit the set", expected=f"{expected} of them"
        )
    working = np.ones(expected, dtype=bool) if works is None else np.asarray(works, dtype=bool)
    if not working[0]:
        working = np.ones(expected, dtype=bool)
    single = numbers[: 1 + 2 * len(PARAMETERS)]
    known = single[~np.isnan(single) & working[: single.size]]
    pairs = single[1:].reshape(-1, 2)
    counted = np.where(working[: single.size], single, np.nan)
    moves = dict(zip(PARAMETERS, _moves(counted[0], counted[1:].reshape(-1, 2)), strict=True))
    largest = max(PARAMETERS, key=lambda name: moves[name])
    return Doubt(
        typical=float(numbers[0]),
        low=float(known.min()) if known.size else np.nan,
        high=float(known.max()) if known.size else np.nan,
        matters=largest if moves[largest] > 0.0 else "",
        alone={n: (float(a), float(b)) for n, (a, b) in zip(PARAMETERS, pairs, strict=True)},
        together=(float(numbers[-2]), float(numbers[-1])),
        failing=tuple(name for name, fine in zip(_NAMES, working, strict=True) if not fine),
        runs=numbers.size,
    )


def ranges_of(
    headlines: Sequence[dict[str, Any]], *, works: Sequence[bool] | None = None
) -> dict[str, Doubt]:
    """Range of each headline, from one mapping for each bed of the set; None is no value."""
    return {
        key: range_of(
            [np.nan if row[key] is None else float(row[key]) for row in headlines], works=works
        )
        for key in headlines[0]
    }


def _moves(typical: float, pairs: NDArray[np.float64]) -> list[float]:
    """How far each parameter alone moves a headline; infinity counts as just above the rest."""
    every = np.concatenate([[typical], pairs.reshape(-1)])
    finite = every[np.isfinite(every)]
    if not finite.size:
        return [0.0] * len(pairs)
    every = np.where(np.isposinf(every), finite.max() + 1.0, every)
    moved = []
    for pair in every[1:].reshape(-1, 2):
        seen = np.array([every[0], *pair])
        seen = seen[~np.isnan(seen)]
        moved.append(float(seen.max() - seen.min()) if seen.size else 0.0)
    return moved


def _keyed(case: dict[str, str]) -> dict[str, str]:
    return {name.replace(" ", "_"): end for name, end in case.items()}


def _at_ends(
    bed: Bed,
    *,
    conductivity: str = "",
    retention: str = "",
    surface_supply: str = "",
    water_use: str = "",
) -> Bed:
    """The bed with some parameters at an end."""
    wick, top = (
        _with_retention(conductivity_case(mix, conductivity or "typical"), retention)
        for mix in (bed.wick_mix, bed.top_mix)
    )
    if surface_supply:
        wetting = WETTING[2] if surface_supply == "low" else WETTING[0]
        wick, top = (replace(mix, wetting=wetting) for mix in (wick, top))
    factor = {"": 1.0, "low": USE_LOW, "high": USE_HIGH}[water_use]
    exposure = float(np.clip(bed.site.exposure * factor, *_EXPOSURES))
    site = replace(bed.site, exposure=exposure)
    return replace(bed, wick_mix=wick, top_mix=top, site=site)


def _with_retention(mix: Mix, end: str) -> Mix:
    """The mix at one end of what it may hold."""
    if not end:
        return mix
    bounds = (mix.alpha_low, mix.alpha_high)
    low, high = (
        mix.alpha * factor if bound is None else bound
        for bound, factor in zip(bounds, _ALPHA, strict=True)
    )
    return replace(mix, alpha=high if end == "low" else low)
