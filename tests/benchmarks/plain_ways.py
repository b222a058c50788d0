"""Slow, obvious rivals and a lower limit: kept because they check the fast ways, not for speed."""

from __future__ import annotations

import sys
import types
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import xarray as xr
from numba.core.dispatcher import Dispatcher

from bedtide.column import States, move
from bedtide.weather import reference_et
from cases import Inputs, Work

sys.path.append(str(Path(__file__).parents[1]))  # for the independent solver among the tests

import numeric.compare
from numeric.cases import Case, Stored, cases, solved

SEASON = "peat and vermiculite, 0.42 m, season, planted"


def plain_move() -> Any:
    """`move` with the same functions under it, none of them compiled."""
    return _plain(move, {})


def _plain(function: Any, known: dict[Any, Any]) -> Any:
    """A function, and all compiled functions that it can see, as Python runs them."""
    if function in known:
        return known[function]
    python = function.py_func if isinstance(function, Dispatcher) else function
    seen = dict(python.__globals__)
    made = types.FunctionType(
        python.__code__, seen, python.__name__, python.__defaults__, python.__closure__
    )
    made.__kwdefaults__ = python.__kwdefaults__
    known[function] = made
    for name, value in python.__globals__.items():
        if isinstance(value, Dispatcher):
            seen[name] = _plain(value, known)
        elif name == "prepared":  # loads or compiles, which there is nothing of here
            seen[name] = _nothing
    return made


def _nothing(*_: object) -> None:
    pass


def in_plain_python(work: Work, mover: Any) -> np.ndarray:
    """Figures of a run, every line of it done by Python."""
    with np.errstate(all="ignore"):  # as compiled: a division by zero gives infinity
        return work(mover=mover)[0]


def copied(work: Work, figures: np.ndarray) -> list[np.ndarray]:
    """All that goes in and all that comes out, copied once: no way can be faster than this."""
    found = [np.copy(figures)]
    for part in work.inputs:
        found += [np.copy(value) for value in part if isinstance(value, np.ndarray)]
    return found


def planted_season() -> Case:
    """The planted bed of a common mix and depth among the solver's cases, through its season."""
    return next(case for case in cases() if case.name == SEASON)


def by_lines(case: Case) -> Stored:
    """The case by another method: many heights, and a general solver in time."""
    return solved(case)


def by_step(case: Case, refill: np.ndarray) -> tuple[Work, Stored]:
    """The same case by the compiled step: to be run again, and what it gives."""
    held: list[Inputs] = []

    def caught(*inputs: Any, **options: Any) -> Any:
        *rest, states = inputs
        held.append(Inputs(*rest, States(*(values.copy() for values in states))))
        return move(*inputs, **options)

    with patch.object(numeric.compare, "move", caught):
        found = numeric.compare.modelled(case, refill)
    return Work(held[0], refill.size), found


def one_bed_at_a_time(works: list[Work]) -> np.ndarray:
    """Figures of beds, each run alone."""
    return np.concatenate([work()[0] for work in works], axis=1)


def demand_year_by_year(weather: xr.Dataset) -> np.ndarray:
    """Reference evapotranspiration (time,) [m d-1], one year of the record at a time."""
    years = np.unique(weather["time"].dt.year)
    parts = [reference_et(weather.sel(time=str(int(year)))) for year in years]
    return np.concatenate([np.asarray(part) for part in parts])
