"""What the notes of a bed teach: what its plants drink and its surface loses, the lift, a leak."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
import tomlkit
from numpy.typing import NDArray

from bedtide.answers.now.forecast import (
    NOTED,
    READING_ERROR,
    Known,
    as_noted,
    ends,
    full_on,
    over_lip,
    watered,
)
from bedtide.balance import Demand, State, run_many, set_store
from bedtide.bed import Bed, fitted_bed, level_of, mark_of, open_store, plan_area
from bedtide.crop import EXPOSURE
from bedtide.errors import RangeError
from bedtide.many import near, priors
from bedtide.squares import least_squares

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

FILL_ERROR: Final = 0.002
"""Standard error of the litres of a fill that were counted in cans [m3]; ours."""

LEAST: Final = 4
"""Readings that a fit needs [1]; ours."""

KEPT_OUT: Final = 1 / 3
"""Share of the readings, the last ones, that a second fit leaves out and foretells [1]; ours."""

LEAK_SIGN: Final = 5.4
"""How much better, in squared standard errors, a leak must explain the readings to be named [1]:
by chance alone in one bed of a hundred."""

DOUBT: Final = {"demand": 0.40, "surface supply": 0.80}
"""Standard deviation of the logarithm of these factors before the notes [1]; ours. Wide on purpose:
with those of ``data/doubt.csv`` a bed at their edge would be stated surer than it is. Bare media
that are wetted from below lose 0.62 to 0.88 of what is worked out (docs/physics/column.md), and
mulch is as unsure."""

EIGHT_IN_TEN: Final = 1.2816
"""Half of the range that holds 8 in 10 of a normal distribution, in standard errors [1]."""

_NAMES: Final = ("demand", "surface supply", "lift", "first reading", "leak")
_STEPS: Final = np.array([0.03, 0.1, 0.1, 0.002, 0.5])  # of the differences, in that order
_BOUNDS: Final = np.array([[-2.3, -0.7, -0.03, 0.0], [0.69, 0.7, 0.03, 100.0]])  # of all but demand
_FIRST, _LEAK = 3, 4
_NO_LEAK: Final = 1e-12  # leaks by nothing, so that all beds take the steps of one that leaks [m]
_TRIED: Final = 12  # demands from which the best begins the search
_LEAKS: Final = (0.0, 0.02, 0.07, 0.2)  # tried likewise, in shares of the full store [d-1]
_ROUNDS: Final = 12  # of the search, at the most
_CLOSE: Final = 0.05  # of a standard error: a step of the readings that ends it

_SPIN_UP: Final = datetime.timedelta(days=30)
_DAY: Final = datetime.timedelta(days=1)
_APART: Final = 0.8  # correlation above which two things are not told apart; ours
_SILENT: Final = 0.9  # share of its doubt before that a thing keeps on which the notes are silent
_POWER: Final = 0.842  # standard errors by which 8 in 10 exceed a bound


@dataclass(frozen=True, kw_only=True)
class Morning:
    """Level on a morning before any fill: as described, as fitted, as read."""

    date: str
    described_cm: float
    fitted_cm: float
    read_cm: float | None


@dataclass(frozen=True, kw_only=True)
class Fit:
    """What was learned, its standard errors, and how well the readings then agree."""

    readings: int
    from_: str
    to: str
    demand: float  # factor on what the plants drink
    demand_error: float
    surface_supply: float  # factor on what the surface loses, beside that of the demand
    surface_supply_error: float
    lift: float  # factor on how far the mix lifts
    lift_error: float
    leak_litres_a_day: float  # zero where none is told
    leak_error_litres_a_day: float
    leak_hidden_litres_a_day: float  # a greater one would be named, 8 times in 10
    error_before_cm: float  # root mean square of the readings, as described and as fitted
    error_after_cm: float
    next_reading_error_cm: float  # standard error of the next dip
    kept_out: int  # last readings that a second fit did without
    kept_out_held: int  # of them within the range stated for 8 in 10
    kept_out_error_cm: float  # root mean square by which it missed them
    kept_out_stated_cm: float  # root mean square of the standard errors that it stated
    not_told_apart: tuple[str, ...]  # pairs of things
    not_told: tuple[str, ...]  # things that the notes are silent on
    at_bound: bool  # whether the demand is at the end of what is possible
    over_lip: tuple[str, ...]  # days of readings above the lip, left out
    mornings: tuple[Morning, ...] = ()


def doubt_of(name: str) -> float:
    """Standard deviation of the logarithm of a factor, by ``data/doubt.csv`` [1]."""
    prior = priors()[name]
    return float(abs(np.log(prior.high / prior.low)) / np.sqrt(12.0))


def prior_errors() -> Array:
    """Standard deviation of each value about no change, in the order of `_NAMES`."""
    return np.array([*DOUBT.values(), doubt_of("surface supply"), READING_ERROR, np.inf])


class Model:
    """Readings of a bed as it would be with some values, many sets of values in one run."""

    def __init__(self, bed: Bed, weather: xr.Dataset, known: Sequence[Known]) -> None:
        self.bed, self.area, self.known = replace(bed, watering=NOTED), plan_area(bed), known[1:]
        begun, (first, last) = known[0], ends(weather)
        self.from_, self.to = begun.day, min(last, known[-1].day - _DAY)
        self.first, self.volume = max(first, begun.day - _SPIN_UP), bed.watering.volume
        self.weather = near(weather, self.first, self.to)
        demand = np.log(np.array(EXPOSURE) / bed.site.exposure)  # what is possible
        low, high = np.column_stack([demand, _BOUNDS])
        self.bounds = np.array([np.minimum(low, 0.0), np.maximum(high, 1e-6)])
        self.spun = np.zeros((1, 1), dtype=bool)  # whether it would be filled on each day before
        if days := (self.from_ - self.first).days:
            run = run_many([bed], self.weather, [self.first], days=days)
            self.spun = run.series.refill.T > 0.0
        self.full = [full_on(each.day, bed)[1] for each in known]
        self.begun = self._level(begun.water) if begun.what == "is" else None
        self.over, found = [each.day for each in self.known if over_lip(each, bed)], []
        for at, each in enumerate(self.known):
            if each.what == "is" and not over_lip(each, bed):
                found.append((at, self._level(each.water), READING_ERROR))
            elif each.what == "lip" and not np.isnan(each.water):
                before = self.full[at + 1] * self.area - each.water
                low, high = (self._level(before + off) for off in (-FILL_ERROR, FILL_ERROR))
                found.append((at, self._level(before), max(0.5 * (high - low), 1e-4)))
        self.dips = [at for at, _, _ in found]  # numbers of the notes that are readings
        self.read, self.error = np.array([each[1:] for each in found]).reshape(-1, 2).T

    def _level(self, water: float) -> float:
        return float(level_of(max(water, 0.0) / self.area, self.bed))

    def levels(self, values: Array) -> tuple[Array, Array]:
        """Level with each row of values at each reading, and on each morning before any fill [m].

        (readings, rows) and (days, rows).
        """
        beds = [
            fitted_bed(self.bed, demand=d, surface_supply=s, lift=w)
            for d, s, w in np.exp(values[:, :_FIRST])
        ]
        demand = watered(beds, self.weather, self.known)
        state = self._begun(beds, demand, values[:, _FIRST])
        run = as_noted(
            beds, self.weather, self.from_, (self.to - self.from_).days + 1, self.known,
            start=state, demand=demand,
            drained=np.maximum(values[:, _LEAK] * 1e-3 / self.area, _NO_LEAK),
        )  # fmt: skip
        stores = np.concatenate([state.open_water[None], run.series.open_water])
        return level_of(self._at_dips(stores), self.bed), level_of(stores, self.bed)

    def _begun(self, beds: Sequence[Bed], demand: Sequence[Demand], off: Array) -> State:
        """Each bed on the morning of the first level that is known, set to that.

        Until then all are filled on the days on which the described one would be, so that what
        the mix holds goes smoothly with the values.
        """
        rule = replace(NOTED, volume=self.volume)
        run = run_many(
            [replace(bed, watering=rule) for bed in beds], self.weather, [self.first],
            days=self.spun.size, due=np.tile(self.spun, (len(beds), 1)), demand=demand,
        )  # fmt: skip
        store = np.full(len(beds), self.full[0])
        if self.begun is not None:
            store = open_store(np.maximum(self.begun + off, 0.0), self.bed)
        return set_store(run.end if self.first < self.from_ else run.start, beds, store)

    def _at_dips(self, evenings: Array) -> Array:
        """Open water at each dip: that of the morning, after what was noted before it."""
        found, day, store = [], self.from_ - _DAY, evenings[0]
        for at, each in enumerate(self.known, start=1):
            if each.day > day:
                day, store = each.day, evenings[(each.day - self.from_).days]
            if at - 1 in self.dips:
                found.append(store)
            if each.what in ("lip", "added"):
                most = np.maximum(self.full[at], store)
                more = np.inf if each.what == "lip" else each.water / self.area
                store = np.minimum(store + more, most)
        return np.array(found)

    def at(self, values: Array, free: NDArray[np.bool_]) -> tuple[Array, Array]:
        """Readings [m], and their change with each value, none with one that is not free."""
        steps = np.where(values + _STEPS > self.bounds[1], -_STEPS, _STEPS)
        level = self.levels(np.vstack([values, (values + np.diag(steps))[free]]))[0]
        slope = np.zeros((len(level), len(values)))
        slope[:, free] = (level[:, 1:] - level[:, :1]) / steps[free]
        return level[:, 0], slope


def fit_notes(bed: Bed, weather: xr.Dataset, known: Sequence[Known]) -> Fit:
    """Values with which the bed agrees best with its readings, by least squares with priors."""
    begun = next((at for at, each in enumerate(known) if each.what in ("is", "lip")), None)
    if begun is None:
        expected = "dips, such as  2027-06-04,dip,6 cm"
        raise RangeError("notes", "no level is in them", expected=expected)
    model = Model(bed, weather, known[begun:])
    count = len(model.dips)
    if count < LEAST:
        raise RangeError(
            "notes",
            f"{count} readings after the first are too few to learn from",
            expected=f"at least {LEAST}",
            hint="Note a dip every few days, and every fill",
        )
    plain, leaky = (
        solved(model, begin, leak=leak)
        for begin, leak in zip(_nearest(model), (False, True), strict=True)
    )
    best = leaky if plain.squares - leaky.squares > LEAK_SIGN else plain
    kept_out = max(round(KEPT_OUT * count), 1)
    short = solved(model, best.values, leak=best is leaky, readings=count - kept_out)
    missed, stated = (short.level - model.read)[-kept_out:], short.spread()[-kept_out:]
    dips = [model.known[at] for at in model.dips]
    sticks = [at for at, each in enumerate(dips) if each.what == "is"]
    errors, prior = np.sqrt(np.diag(best.covariance)), prior_errors()
    names = [name for at, name in enumerate(_NAMES) if at != _FIRST and errors[at] > 0.0]
    silent = [name for at, name in enumerate(_NAMES[:_FIRST]) if errors[at] > _SILENT * prior[at]]
    told = [name for name in names if name not in silent]
    shares = best.covariance / np.maximum(np.outer(errors, errors), 1e-300)
    factors = np.exp(best.values[:_FIRST])
    before, mornings = model.levels(np.vstack([np.zeros(5), best.values]))
    days = [model.from_ + number * _DAY for number in range(len(mornings))]
    read = {each.day: level * 100 for each, level in zip(dips, model.read.tolist(), strict=True)}
    return Fit(
        readings=count,
        from_=str(model.from_),
        to=str(dips[-1].day),
        demand=float(factors[0]),
        demand_error=float(factors[0] * errors[0]),
        surface_supply=float(factors[1]),
        surface_supply_error=float(factors[1] * errors[1]),
        lift=float(factors[2]),
        lift_error=float(factors[2] * errors[2]),
        leak_litres_a_day=float(best.values[_LEAK]),
        leak_error_litres_a_day=float(errors[_LEAK]),
        leak_hidden_litres_a_day=float(
            (np.sqrt(LEAK_SIGN) + _POWER) * np.sqrt(leaky.covariance[_LEAK, _LEAK])
        ),
        error_before_cm=_rms(before[:, 0] - model.read) * 100,
        error_after_cm=_rms(best.level - model.read) * 100,
        next_reading_error_cm=float(best.spread()[(sticks or [-1])[-1]]) * 100,
        kept_out=kept_out,
        kept_out_held=int(np.sum(np.abs(missed) <= EIGHT_IN_TEN * stated)),
        kept_out_error_cm=_rms(missed) * 100,
        kept_out_stated_cm=_rms(stated) * 100,
        not_told_apart=tuple(
            f"{a} and {b}"
            for a, b in combinations(told, 2)
            if abs(shares[_NAMES.index(a), _NAMES.index(b)]) > _APART
        ),
        not_told=tuple(silent),
        at_bound=bool(np.isclose(factors[0] * bed.site.exposure, EXPOSURE, atol=1e-3).any()),
        over_lip=tuple(str(day) for day in model.over),
        mornings=tuple(
            Morning(date=str(day), described_cm=described, fitted_cm=fitted, read_cm=read.get(day))
            for day, (described, fitted) in zip(days, (mornings * 100).tolist(), strict=True)
        ),
    )


def fit_text(fit: Fit, bed: Bed) -> str:
    """The file that is kept beside a bed: what is used, and below it what it rests on."""
    figures = {name.rstrip("_"): each for name, each in asdict(fit).items() if name != "mornings"}
    used = {"bed": bed.name, "made_for": mark_of(bed)} | figures
    return (
        "# What the notes of this bed taught: every command of bedtide uses demand,\n"
        "# surface_supply and lift while this file is here. Without it the bed is as described.\n"
    ) + tomlkit.dumps(used)


def _nearest(model: Model) -> tuple[Array, Array]:
    """Where the search begins without a leak and with one: the best of many demands and leaks.

    Not at no change, for an empty store hides slopes.
    """
    low, high = model.bounds[:, 0]
    values = np.zeros((_TRIED * len(_LEAKS), 5))
    values[:, 0] = np.tile(np.linspace(low, high, _TRIED), len(_LEAKS))
    values[:, _LEAK] = np.repeat(_LEAKS, _TRIED) * min(model.full) * model.area * 1e3
    off = (model.levels(values)[0] - model.read[:, None]) / model.error[:, None]
    squares = (off**2).sum(axis=0) + (values[:, 0] / prior_errors()[0]) ** 2
    return values[squares[:_TRIED].argmin()], values[_TRIED + squares[_TRIED:].argmin()]


class Solution(NamedTuple):
    """Best values, in the order of `_NAMES`, the factors as logarithms."""

    values: Array
    covariance: Array
    squares: float  # what the readings are off, and the values from what was thought, in errors
    level: Array  # at every reading [m]
    slope: Array  # of it with each value (readings, values)
    error: Array  # of every reading [m]

    def spread(self) -> Array:
        """Standard error of each reading, had it not been in the fit [m]."""
        known = np.einsum("ij,jk,ik->i", self.slope, self.covariance, self.slope)
        return np.asarray(np.sqrt(self.error**2 + known))


def solved(model: Model, begin: Array, *, leak: bool, readings: int | None = None) -> Solution:
    """Best values within bounds, from the first `readings` or all."""
    spread, used = prior_errors(), slice(readings)
    free = np.array([True, True, True, model.begun is not None, leak])

    def weighed(values: Array, level: Array, slope: Array) -> tuple[Array, Array]:
        off = ((level - model.read) / model.error)[used]
        slopes = (slope / model.error[:, None])[used]
        return np.append(off, values / spread), np.vstack([slopes, np.diag(1.0 / spread)])

    found = least_squares(
        lambda values: weighed(values, *model.at(values, free)),
        begin, *model.bounds, close=_CLOSE, rounds=_ROUNDS,
    )  # fmt: skip
    level, slope = model.at(found, free)
    off, slopes = weighed(found, level, slope)
    scale = max(float(np.mean(off[: level[used].size] ** 2)), 1.0)
    covariance, known = np.zeros((5, 5)), slopes[:, free]
    covariance[np.ix_(free, free)] = np.linalg.inv(known.T @ known) * scale
    error = model.error * np.sqrt(scale)
    return Solution(found, covariance, float(off @ off), level, slope, error)


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))
