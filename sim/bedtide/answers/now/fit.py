"""What the notes of a bed teach: how much its plants drink, how wet its surface is kept, a leak."""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide.answers.now.forecast import Known, walk
from bedtide.bed import Bed, fitted_bed, level_of, mark_of, open_store, plan_area
from bedtide.crop import EXPOSURE
from bedtide.errors import RangeError
from bedtide.many import near, priors

if TYPE_CHECKING:
    import xarray as xr

Array = NDArray[np.float64]

READING_ERROR: Final = 0.005
"""Standard error of a stick's reading [m]; ours."""

LEAST: Final = 4
"""Readings that a fit needs [1]; ours."""

LEAK_SIGN: Final = 6.6
"""How much better, in squared standard errors, a leak must explain the readings to be named [1]:
by chance alone in one bed of two hundred."""

_TRIED: Final = 25  # demands from which the best begins the search

_SPIN_UP: Final = datetime.timedelta(days=30)
_STEPS: Final = np.array([0.02, 0.05, 0.002, 0.5])  # of the differences, in the order of _NAMES
_NAMES: Final = ("demand", "surface supply", "first reading", "leak")
_APART: Final = 0.8  # correlation above which two things are not told apart; ours
_SILENT: Final = 0.9  # share of its doubt before that a thing keeps on which the notes are silent


@dataclass(frozen=True, kw_only=True)
class Fit:
    """What was learned, its standard errors, and how well the readings then agree."""

    readings: int
    from_: str
    to: str
    demand: float  # factor on what the plants drink
    demand_error: float
    surface_supply: float  # factor on the suction that the mix feels when fed from below
    surface_supply_error: float
    leak_litres_a_day: float  # zero where none is told
    leak_error_litres_a_day: float
    error_before_cm: float  # root mean square of the readings, as described and as fitted
    error_after_cm: float
    next_reading_error_cm: float  # standard error of the next reading
    not_told_apart: tuple[str, ...]  # pairs of things
    not_told: tuple[str, ...]  # things that the notes are silent on
    at_bound: bool  # whether the demand is at the end of what is possible


def prior_errors() -> dict[str, float]:
    """Standard deviation of the logarithm of each factor, by the draws of ``data/doubt.csv``."""

    def of(name: str) -> float:
        prior = priors()[name]
        return float(abs(np.log(prior.high / prior.low)) / np.sqrt(12.0))

    demand = float(np.hypot(of("exposure"), of("crop coefficients")))
    return {"demand": demand, "surface supply": of("surface supply")}


class Model:
    """Readings of a bed as it would be with some values, all differences in one run."""

    def __init__(self, bed: Bed, weather: xr.Dataset, known: Sequence[Known]) -> None:
        self.bed, self.known = bed, list(known)
        axis = weather["time"].to_numpy().astype("datetime64[D]")
        self.first = max(axis[0].item(), known[0].day - _SPIN_UP)
        self.last = min(axis[-1].item(), self.known[-1].day)
        self.weather = near(weather, self.first, self.last)
        self.dips = [at for at, each in enumerate(known) if each.what == "is" and at > 0]
        area = plan_area(bed)
        self.read = np.array([float(level_of(known[at].water / area, bed)) for at in self.dips])
        self.begun = float(level_of(known[0].water / area, bed)) if known[0].what == "is" else None
        self._kept: dict[bytes, tuple[Array, Array]] = {}

    def levels(self, values: Array) -> Array:
        """Level at each reading with each row of values (readings, rows) [m]."""
        beds = [
            fitted_bed(self.bed, demand=float(np.exp(row[0])), surface_supply=float(np.exp(row[1])))
            for row in values
        ]
        known = list(self.known)
        if self.begun is not None:
            begun = np.array(
                [float(open_store(max(self.begun + row[2], 0.0), self.bed)) for row in values]
            )
            known[0] = known[0]._replace(water=begun * plan_area(self.bed))
        walked = walk(
            beds, self.weather, self.first, self.last, known,
            reset=False, leak=values[:, 3] * 1e-3 / plan_area(self.bed),
        )  # fmt: skip
        return np.asarray(level_of(walked.before[self.dips], self.bed))

    def at(self, values: Array, free: NDArray[np.bool_]) -> tuple[Array, Array]:
        """Level at each reading [m], and its change with each value that is free."""
        key = values.tobytes() + free.tobytes()
        if key not in self._kept:
            found = self.levels(np.vstack([values, (values + np.diag(_STEPS))[free]]))
            self._kept[key] = found[:, 0], (found[:, 1:] - found[:, :1]) / _STEPS[free]
        return self._kept[key]


def fit_notes(bed: Bed, weather: xr.Dataset, known: Sequence[Known]) -> Fit:
    """Values with which the bed agrees best with its readings, by least squares with priors."""
    known = _from_the_first_level(known)
    model = Model(bed, weather, known)
    if len(model.dips) < LEAST:
        raise RangeError(
            "notes",
            f"{len(model.dips)} readings after the first are too few to learn from",
            expected=f"at least {LEAST}",
            hint="Note a dip every few days, and every fill",
        )
    plain = _solved(model, _nearest(model), leak=False)
    leaky = _solved(model, plain.values, leak=True)
    best = leaky if plain.squares - leaky.squares > LEAK_SIGN else plain
    values, cov = best.values, best.covariance
    errors = np.sqrt(np.diag(cov))
    slope = np.zeros((len(model.dips), 4))
    level, slope[:, best.free] = model.at(values, best.free)
    before = model.at(np.zeros(4), np.zeros(4, dtype=bool))[0]
    prior = prior_errors()
    ahead = READING_ERROR**2 + float(slope[-1] @ cov @ slope[-1])
    names = [name for at, name in enumerate(_NAMES) if at != 2 and errors[at] > 0.0]
    shares = cov / np.maximum(np.outer(errors, errors), 1e-300)
    factors = np.exp(values[:2])
    return Fit(
        readings=len(model.dips),
        from_=str(known[0].day),
        to=str(known[-1].day),
        demand=float(factors[0]),
        demand_error=float(factors[0] * errors[0]),
        surface_supply=float(factors[1]),
        surface_supply_error=float(factors[1] * errors[1]),
        leak_litres_a_day=float(values[3]),
        leak_error_litres_a_day=float(errors[3]),
        error_before_cm=_rms(before - model.read) * 100,
        error_after_cm=_rms(level - model.read) * 100,
        next_reading_error_cm=float(np.sqrt(ahead)) * 100,
        not_told_apart=tuple(
            f"{a} and {b}"
            for i, a in enumerate(names)
            for b in names[i + 1 :]
            if abs(shares[_NAMES.index(a), _NAMES.index(b)]) > _APART
        ),
        not_told=tuple(n for at, n in enumerate(_NAMES[:2]) if errors[at] > _SILENT * prior[n]),
        at_bound=bool(np.isclose(factors[0] * bed.site.exposure, EXPOSURE, atol=1e-3).any()),
    )


def fit_text(fit: Fit, bed: Bed) -> str:
    """The file that is kept beside a bed: what is used, and below it what it rests on."""
    used = {"bed": bed.name, "made_for": mark_of(bed), **asdict(fit)}
    lines = [
        "# What the notes of this bed taught: every command of bedtide uses demand and",
        "# surface_supply while this file is here. Remove it, and the bed is as described.",
        *(
            f"{name.rstrip('_')} = {json.dumps(value, ensure_ascii=False)}"
            for name, value in used.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def _from_the_first_level(known: Sequence[Known]) -> list[Known]:
    """What is known from the first note on that tells the level."""
    for at, each in enumerate(known):
        if each.what in ("is", "lip"):
            return list(known[at:])
    raise RangeError("notes", "no level is in them", expected="dips, such as  2027-06-04,dip,6 cm")


def _nearest(model: Model) -> Array:
    """Where the search begins: the best of many demands alone, for an empty store hides slopes."""
    values = np.zeros((_TRIED, 4))
    values[:, 0] = np.linspace(*_demands(model.bed), _TRIED)
    off = (model.levels(values) - model.read[:, None]) / READING_ERROR
    squares = (off**2).sum(axis=0) + (values[:, 0] / prior_errors()["demand"]) ** 2
    return np.asarray(values[squares.argmin()])


def _demands(bed: Bed) -> tuple[float, float]:
    """Least and greatest logarithm of the demand that the exposure of a bed leaves."""
    low, high = np.log(np.array(EXPOSURE) / bed.site.exposure)
    return float(max(low, -0.9)), float(max(min(high, 0.9), 1e-6))


class _Solution(NamedTuple):
    values: Array  # in the order of _NAMES, the factors as logarithms
    covariance: Array
    squares: float  # what the readings are off, and the values from what was thought, in errors
    free: NDArray[np.bool_]  # which values were fitted


def _solved(model: Model, begin: Array, *, leak: bool) -> _Solution:
    """Best values from where the search is to begin."""
    from scipy.optimize import least_squares

    prior = prior_errors()
    spread = np.array([prior["demand"], prior["surface supply"], READING_ERROR, np.inf])
    free = np.array([True, True, model.begun is not None, leak])

    def whole(part: Array) -> Array:
        values = np.zeros(4)
        values[free] = part
        return values

    def residuals(part: Array) -> Array:
        off = (model.at(whole(part), free)[0] - model.read) / READING_ERROR
        return np.concatenate([off, part / spread[free]])

    def slopes(part: Array) -> Array:
        slope = model.at(whole(part), free)[1] / READING_ERROR
        return np.vstack([slope, np.diag(1.0 / spread[free])])

    low, high = _demands(model.bed)
    bounds = np.array([[low, -1.0, -0.03, 0.0], [high, 1.0, 0.03, 100.0]])
    first = np.clip(begin + np.array([0.0, 0.0, 0.0, 0.5]), bounds[0] + 1e-9, bounds[1] - 1e-9)
    found = least_squares(
        residuals, first[free], jac=slopes, bounds=bounds[:, free],
        x_scale=np.minimum(spread, 1.0)[free], xtol=1e-4, ftol=1e-4, max_nfev=15,
    )  # fmt: skip
    slope = slopes(found.x)
    cov = np.zeros((4, 4))
    off = float(np.mean((found.fun[: len(model.read)]) ** 2))
    cov[np.ix_(free, free)] = np.linalg.inv(slope.T @ slope) * max(off, 1.0)
    return _Solution(whole(found.x), cov, 2.0 * float(found.cost), free)


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))
