"""How far an answer moves when mix, plants, place and weather are not as they are described."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bedtide.balance import Demand, demand_of
from bedtide.bed import Bed
from bedtide.crop import EXPOSURE, Planting, mulch_factor
from bedtide.errors import RangeError
from bedtide.mix import RANGES, Mix
from bedtide.statistics import HIGH, LOW, finite_or_none, percentile
from bedtide.tables import read_table

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

DRAWS: Final = 64  # sets of values that are drawn [1]
# Share of the cases, or days, on which a mix may lift too slowly and the bed still be said to
# work [1]; ours
SELDOM: Final = 0.1
_TOLD: Final = 0.3  # rank correlation that 64 draws show by chance in one case of sixty [1]
_SEED: Final = 1
_YEAR: Final = 365
_PLAIN: Final = datetime.date(2001, 1, 1)  # a year without a 29 February
_OF_MIX: Final = ("retention", "conductivity", "dry conductivity", "surface supply")
_AROUND: Final = datetime.timedelta(days=400)  # of which the weather tells in a run's own days


# --- what is not known, and the sets that are drawn -------------------------------------------


class Prior(NamedTuple):
    """How far one thing may be off; what the fields mean stands in ``data/doubt.csv``."""

    of: str  # what it is a factor on, or days of
    low: float  # the end that brings little of it; NaN for the mix's own bound
    high: float
    with_: str  # what it hangs together with
    correlation: float
    sources: tuple[str, ...]
    standing: str
    note: str


@lru_cache(maxsize=1)
def priors() -> dict[str, Prior]:
    """Everything that is drawn, by its name."""

    def number(text: str) -> float:
        return float(text or "nan")

    return {
        name: Prior(
            row["of"], number(row["low"]), number(row["high"]), row["with"],
            number(row["correlation"]), tuple(row["sources"].split()), row["standing"], row["note"],
        )
        for name, row in read_table("doubt.csv").items()
    }  # fmt: skip


@lru_cache(maxsize=4)
def drawn_shares(count: int = DRAWS) -> Array:
    """Where each set lies between the ends of each prior, 0 to 1, shape (count, priors).

    A Latin hypercube: each prior is cut into as many parts as there are sets, and every part is in
    one of them. The same sets for every bed and every run.
    """
    from scipy.special import ndtr, ndtri
    from scipy.stats import qmc

    names = list(priors())
    scores = ndtri(qmc.LatinHypercube(len(names), seed=np.random.default_rng(_SEED)).random(count))
    for at, prior in enumerate(priors().values()):
        if prior.with_:
            rest = np.sqrt(1.0 - prior.correlation**2)
            other = scores[:, names.index(prior.with_)]
            scores[:, at] = prior.correlation * other + rest * scores[:, at]
    shares: Array = ndtr(scores)
    shares.setflags(write=False)
    return shares


def between(share: float, low: float, middle: float, high: float, *, log: bool) -> float:
    """The value at a share of 0 (low) to 1 (high), with 0.5 the middle one."""
    part, end = abs(2.0 * share - 1.0), high if share > 0.5 else low
    return float(middle * (end / middle) ** part if log else middle + (end - middle) * part)


def _off(name: str, share: float) -> float:
    """Factor, or days, at a share of a prior."""
    prior, log = priors()[name], name != "planting dates"
    return between(share, prior.low, float(log), prior.high, log=log)


# --- the beds that this one might be ----------------------------------------------------------


class Drawn(NamedTuple):
    """A bed as it is described, then those that it might be, one for each set."""

    beds: list[Bed]
    rain: Array  # factor on the rain of each [1]
    drying: Array  # factor on the energy for evaporation of each [1]


def drawn_beds(bed: Bed, count: int = DRAWS) -> Drawn:
    """The beds that this one might be; both mixes of a bed, and all its crops, go together."""
    names = list(priors())
    sets = [dict(zip(names, row, strict=True)) for row in drawn_shares(count).tolist()]
    mulched = float(mulch_factor(bed.surface.mulch_share))
    kept_back = np.array([1.0, *(_off("mulch", each["mulch"]) for each in sets)])
    return Drawn(
        [bed, *(_drawn_bed(bed, each) for each in sets)],
        np.array([1.0, *(_off("rain caught", each["rain caught"]) for each in sets)]),
        (1.0 - kept_back * (1.0 - mulched)) / mulched,
    )


def _drawn_bed(bed: Bed, share: Mapping[str, float]) -> Bed:
    exposure = bed.site.exposure * _off("exposure", share["exposure"])
    of_mix = [share[name] for name in _OF_MIX]
    wick, top = (_mix_at(mix, *of_mix) for mix in (bed.wick_mix, bed.top_mix))
    follow = sum(planting.area_share for planting in bed.plantings) > 1.0
    return replace(
        bed,
        wick_mix=wick,
        top_mix=top,
        plantings=tuple(_drawn_planting(each, share, follow=follow) for each in bed.plantings),
        site=replace(bed.site, exposure=float(np.clip(exposure, *EXPOSURE))),
    )


@lru_cache(maxsize=1024)
def _mix_at(mix: Mix, *shares: float) -> Mix:
    """The mix at shares of what stands in `_OF_MIX`."""
    retention, conductivity, dry, supply = shares
    prior = priors()["retention"]
    drains, holds = (
        mix.alpha * factor if bound is None else bound
        for bound, factor in ((mix.alpha_high, prior.low), (mix.alpha_low, prior.high))
    )
    return replace(
        mix,
        alpha=_held("alpha", between(retention, drains, mix.alpha, holds, log=True)),
        k_s=between(conductivity, mix.k_s_low, mix.k_s, mix.k_s_high, log=True),
        l=between(dry, mix.l_high, mix.l, mix.l_low, log=False),
        wetting=_held("wetting", mix.wetting * _off("surface supply", supply)),
    )


def _held(name: str, value: float) -> float:
    """A value within what a mix may have."""
    return float(np.clip(value, *RANGES[name][:2]))


def _drawn_planting(planting: Planting, share: Mapping[str, float], *, follow: bool) -> Planting:
    """A planting with other coefficients, stages and dates.

    Where crops `follow` one another, each is cleared when it was to be, so that none is in the way.
    """
    factor, stretched = (_off(n, share[n]) for n in ("crop coefficients", "stage lengths"))
    days = datetime.timedelta(days=round(_off("planting dates", share["planting dates"])))
    crop, lengths = planting.crop, planting.stages or planting.crop.stages
    cleared = planting.removed
    if follow and cleared is None and sum(lengths) < _YEAR and not planting.perennial:
        cleared = _moved(planting.planted, datetime.timedelta(days=sum(lengths)))
    ends = np.round(np.cumsum((0, *lengths)) * min(stretched, _YEAR / sum(lengths)))
    ini, dev, mid, late = (max(int(length), 1) for length in np.diff(ends))
    return replace(
        planting,
        crop=replace(crop, kcb_mid=crop.kcb_mid * factor, kcb_end=crop.kcb_end * factor),
        stages=(ini, dev, mid, late),
        planted=_moved(planting.planted, days),
        removed=None if cleared is None else _moved(cleared, days),
    )


def _moved(day: Any, by: datetime.timedelta) -> Any:
    """A date, or a month and day of every year, moved."""
    if isinstance(day, datetime.date):
        return day + by
    moved = _PLAIN.replace(month=day[0], day=day[1]) + by
    return moved.month, moved.day


def drawn_demand(drawn: Drawn, weather: xr.Dataset) -> list[Demand]:
    """What the days bring to each bed and ask of it."""
    each = [demand_of(bed, weather) for bed in drawn.beds]
    return [
        own._replace(rain_in=own.rain_in * rain, energy=own.energy * drying)
        for own, rain, drying in zip(each, drawn.rain, drawn.drying, strict=True)
    ]


def near(weather: xr.Dataset, first: datetime.date, last: datetime.date) -> xr.Dataset:
    """The days of a record that the days of a run depend on: the same run of it, read sooner."""
    return weather.sel(time=slice(str(first - _AROUND), str(last + _AROUND)))


# --- ranges -----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Range:
    """A headline over the beds that this one might be, in the unit of the headline.

    None is more than was followed, or no value.
    """

    typical: float | None  # as the bed is described
    low: float | None  # 8 in 10 of the sets lie between low and high
    high: float | None
    matters: str | None  # what moves it most
    influence: dict[str, float]  # rank correlation with everything that was drawn, -1 to 1
    failing: int  # sets with which the bed does not work; not in the range
    runs: int  # sets [1]

    @property
    def most(self) -> list[str]:
        """What moves it most, then next, as far as chance would not as well."""
        told = [name for name, share in self.influence.items() if abs(share) >= _TOLD]
        return sorted(told, key=lambda name: -abs(self.influence[name]))[:3]


def range_of(values: ArrayLike, *, works: ArrayLike | None = None) -> Range:
    """Range of a headline, from its value for each of the beds of :func:`drawn_beds`.

    Infinity is "more than was looked at", NaN "no value". A bed that does not work (`works` false)
    stays out, for its keeper would know, unless the described one does not work either.
    """
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.ndim != 1 or numbers.size < 3:
        raise RangeError(
            "range", f"{numbers.size} values are no set", expected="one for each of the drawn beds"
        )
    working = np.ones(numbers.size, dtype=bool) if works is None else np.asarray(works, dtype=bool)
    kept = working[1:] | ~working[0]
    known = kept & ~np.isnan(numbers[1:])
    influence = _influence(numbers[1:][known], drawn_shares(numbers.size - 1)[known])
    largest = max(influence, key=lambda name: abs(influence[name]))
    ends = (numbers[0], *percentile(numbers[1:][known], (LOW, HIGH)))
    typical, low, high = map(finite_or_none, ends)
    return Range(
        typical=typical,
        low=low,
        high=high,
        matters=largest if influence[largest] else None,
        influence={name: round(share, 3) for name, share in influence.items()},
        failing=int((~kept).sum()),
        runs=numbers.size - 1,
    )


def ranges_of(
    headlines: Mapping[str, ArrayLike], *, works: ArrayLike | None = None
) -> dict[str, Range]:
    """Range of each headline, each with a value for each drawn bed."""
    return {key: range_of(values, works=works) for key, values in headlines.items()}


def _influence(values: Array, shares: Array) -> dict[str, float]:
    """Spearman's rank correlation of a headline with each prior; none where it never moves."""
    from scipy.stats import spearmanr

    if values.size < 3 or (values == values[0]).all():
        return dict.fromkeys(priors(), 0.0)
    found = np.atleast_2d(spearmanr(shares, values).statistic)[-1, :-1]
    return dict(zip(priors(), found.tolist(), strict=True))
