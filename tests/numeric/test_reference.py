"""The stored solutions belong to the solver and the inputs beside them."""

from __future__ import annotations

import itertools
from functools import cache

import numpy as np
import pytest

from numeric.cases import (
    DAILY,
    REFERENCE,
    Case,
    Stored,
    cases,
    digest,
    inputs,
    media,
    refill_below,
    solved,
    stored,
    stored_digest,
    weather,
)

AGAIN = "python tests/numeric/make_reference.py"
EVERY = pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)


@cache
def runs() -> dict[Case, Stored]:
    return {case: stored(case) for case in cases()}


def some(spell: str, surface: str = "") -> list[tuple[Case, Stored]]:
    """Of the runs those of a kind of spell and a surface."""
    kinds = (case.spell.startswith(spell) and surface in ("", case.surface) for case in cases())
    return list(itertools.compress(runs().items(), kinds))


@EVERY
def test_stored_case_is_of_this_solver_and_these_inputs(case: Case) -> None:
    assert stored_digest(case) == digest(case), AGAIN


@EVERY
def test_water_account_of_the_stored_days_closes(case: Case) -> None:
    run, rain = stored(case), weather(case).rain
    given = sum(run.start) + np.cumsum(rain + run.refill)
    gone = np.cumsum(run.transpiration + run.evaporation + run.overflow + run.rim_spill)
    assert given == pytest.approx(run.open_water + run.mix_water + run.pond + gone, abs=1e-4)


@EVERY
def test_nothing_is_taken_beyond_what_is_asked(case: Case) -> None:
    run, given = stored(case), weather(case)
    assert (run.transpiration <= given.demand * 1.002 + 2e-6).all()
    assert (run.evaporation <= given.energy * 1.002 + 2e-6).all()
    assert (run.pond >= -2e-6).all()
    assert (run.pond < inputs()["freeboard"] + 0.003).all()
    for name in DAILY:
        assert getattr(run, name).min() > -1e-5, name
    assert run.air_root_zone.max() < 1


AFRESH = (
    "potting mix, 0.20 m, wet, bare",
    "peat under topsoil sandy loam, 0.30 m, bursts, planted",
)


@pytest.mark.slow
@pytest.mark.parametrize("name", AFRESH)
def test_solved_afresh_it_is_the_same(name: str) -> None:
    case = next(case for case in cases() if case.name == name)
    fresh, kept = solved(case), stored(case)
    for name in DAILY:
        assert getattr(fresh, name) == pytest.approx(getattr(kept, name), abs=2e-5), name
    assert fresh.suction == pytest.approx(kept.suction, rel=2e-3, abs=2e-4)
    assert fresh.start == pytest.approx(kept.start, abs=1e-9)


def test_every_medium_is_met_in_every_kind_of_spell() -> None:
    kinds = {case.spell.split()[0] for case in cases()}
    assert kinds == {"dry", "wet", "bursts", "season", "filled"}
    for medium in media():
        alone = [case for case in cases() if {case.wick_name, case.top_name} == {medium}]
        assert {case.spell.split()[0] for case in alone} == kinds, medium
        assert {case.surface for case in alone} >= {"planted", "mixed", "bare"}, medium
        assert len({case.depth for case in alone}) >= 4, medium


def test_every_depth_spell_and_surface_meet_twice() -> None:
    depths, kinds = (0.2, 0.3, 0.42, 0.6, 0.7), ("dry", "wet", "bursts", "season", "filled")
    met = [(case.depth, case.spell.split()[0], case.surface) for case in cases()]
    for combination in itertools.product(depths, kinds, inputs()["surfaces"]):
        assert met.count(combination) >= 2, combination


def test_names_are_different() -> None:
    assert len({case.name for case in cases()}) == len(cases()) >= 150
    assert sum(case.wick_name != case.top_name for case in cases()) >= 15
    assert sum(case.pipe_share == 0.5 for case in cases()) >= 5
    assert sum(case.root_depth is not None for case in cases()) >= 3


def test_weather_is_what_was_asked_for() -> None:
    """A wet spell with a mixed surface, by hand; what plants and surface are asked adds up."""
    case = next(case for case, _ in some("wet", "mixed"))
    rain, demand, energy, hours = weather(case)
    assert rain == pytest.approx([0.02] * 10 + [0.0] * 5)
    assert (demand[0], energy[0], hours) == (pytest.approx(0.0013), pytest.approx(0.0007), (9, 15))
    dry = {case.surface: weather(case) for case, _ in some("dry")}
    assert dry["planted"].demand.tolist() == [0.006] * 35
    assert dry["bare"].energy.tolist() == [0.0045] * 35
    assert dry["planted"].energy.max() == dry["bare"].demand.max() == 0
    burst = weather(some("bursts")[0][0])
    assert burst.rain.max() == 0.07
    assert burst.rain_hours == (14, 16)


def test_every_regime_is_met() -> None:
    """Stores that empty, overflows, spill over the rim, ponds overnight, roots that want more."""
    assert any((run.open_water < 1e-4).any() for run in runs().values())
    assert all(run.overflow.sum() > 0.02 for _, run in some("wet"))
    assert max(run.rim_spill.sum() for _, run in some("bursts")) > 0.02
    assert max(run.pond.max() for run in runs().values()) > 0.005
    for kind, asked in (("dry", "planted"), ("season", "planted"), ("filled", "planted")):
        met = [
            run.transpiration.sum() / weather(case).demand.sum() for case, run in some(kind, asked)
        ]
        assert min(met) < 0.6, kind
        assert max(met) > 0.95, kind
    met = [run.evaporation.sum() / weather(case).energy.sum() for case, run in some("", "bare")]
    assert min(met) < 0.1
    assert max(met) > 0.99


def test_refills_follow_their_rule() -> None:
    """Below a quarter of the store in a season, each morning where filled daily; to the lip."""
    counts: dict[str, list[int]] = {"season": [], "filled": []}
    for kind, count in counts.items():
        for case, run in some(kind):
            full, share = run.start[0], refill_below(case)
            before = np.concatenate([[full], run.open_water[:-1]])
            low = before < share * full
            sure = np.abs(before - share * full) > 2e-6
            assert ((run.refill > 0) == low)[sure].all(), case.name
            assert run.refill[low & sure] == pytest.approx((full - before)[low & sure], abs=2e-6)
            count.append(int((run.refill > 0).sum()))
    assert max(counts["season"]) >= 6
    assert np.median(counts["filled"]) == 24  # of 25 mornings, all but the first
    assert all(run.refill.max() == 0 for case, run in runs().items() if not refill_below(case))


def test_beds_that_are_filled_daily_are_steady_in_the_end() -> None:
    for case, run in some("filled"):
        last = run.transpiration + run.evaporation
        assert last[-1] == pytest.approx(last[-4], rel=0.05, abs=1e-5), case.name


def test_stored_file_is_small() -> None:
    assert REFERENCE.stat().st_size < 1_200_000
