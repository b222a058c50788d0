"""The stored solutions belong to the solver and the inputs beside them."""

from __future__ import annotations

import numpy as np
import pytest

from numeric.cases import (
    DAILY,
    REFERENCE,
    Case,
    cases,
    digest,
    inputs,
    parts,
    solved,
    stored,
    stored_digest,
    weather,
)

AFRESH = [
    Case("peat with perlite", 0.30, 0.85, "40-day drought"),
    Case("bark-heavy", 0.42, 0.50, "10 wet days"),
]
AGAIN = "python tests/numeric/make_reference.py"


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_stored_case_is_of_this_solver_and_these_inputs(case: Case) -> None:
    assert stored_digest(case) == digest(case), AGAIN


@pytest.mark.parametrize("case", AFRESH, ids=lambda case: case.name)
def test_solved_afresh_it_is_the_same(case: Case) -> None:
    fresh, kept = solved(case), stored(case)
    for name in DAILY:
        assert getattr(fresh, name) == pytest.approx(getattr(kept, name), abs=1e-5), name
    assert fresh.suction == pytest.approx(kept.suction, rel=1e-3, abs=1e-4)
    assert fresh.start == pytest.approx(kept.start, abs=1e-9)


def test_cases_are_those_that_were_asked_for() -> None:
    found = {(case.mix, case.depth, case.weather) for case in cases() if case.pipe_share == 0.85}
    for mix in ("peat with vermiculite", "peat with perlite", "bark-heavy", "loam"):
        for depth in (0.20, 0.30, 0.42, 0.60):
            for spell in ("40-day drought", "10 wet days", "mixed season"):
                assert (mix, depth, spell) in found
    assert {case.pipe_share for case in cases()} == {0.85, 0.50}
    spells = inputs()["weather"]
    assert spells["40-day drought"]["rain_mm"] == [0.0] * 40
    assert spells["40-day drought"]["demand_mm"] == [6.0] * 40
    assert spells["10 wet days"]["rain_mm"][:10] == [20.0] * 10
    assert len(spells["mixed season"]["rain_mm"]) == 120


def test_every_regime_is_met() -> None:
    """Stores that empty, overflows, refills and roots that find too little all occur."""
    runs = {case: stored(case) for case in cases()}
    assert any((run.open_water < 1e-4).any() for run in runs.values())
    assert all(run.overflow.sum() > 0.02 for case, run in runs.items() if "wet" in case.weather)
    refills = [(run.refill > 0).sum() for case, run in runs.items() if "mixed" in case.weather]
    assert min(refills) >= 1
    assert max(refills) >= 5
    met = {
        case: run.transpiration.sum() / weather(case)[1].sum()
        for case, run in runs.items()
        if "drought" in case.weather
    }
    assert min(met.values()) < 0.6


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_water_account_of_the_stored_days_closes(case: Case) -> None:
    run, (rain, _) = stored(case), weather(case)
    given = sum(run.start) + np.cumsum(rain + run.refill)
    gone = np.cumsum(run.transpiration + run.overflow)
    assert given == pytest.approx(run.open_water + run.mix_water + gone, abs=1e-4)


def test_refills_follow_their_rule() -> None:
    case = Case("peat with perlite", 0.30, 0.85, "mixed season")
    run, share = stored(case), parts(case)["weather"]["refill_below"]
    full = run.start[0]
    before = np.concatenate([[full], run.open_water[:-1]])
    low = before < share * full
    assert (run.refill > 0).tolist() == low.tolist()
    assert run.refill[low] == pytest.approx(full - before[low], abs=1e-6)


def test_stored_file_is_small() -> None:
    assert REFERENCE.stat().st_size < 500_000
