"""The daily model against the stored Richards solutions, and the page that states every figure."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pytest

from bedtide.bed import Pipes
from numeric.cases import Case, cases, stored
from numeric.compare import all_figures, bed_of, bounds_of, broken, modelled
from numeric.make_checks import PAGE, page

# Loam over few pipes, once its store is dry and its upper roots have stopped drinking: the lower
# mix of the model gives up its last water in days where the reference trickles for weeks.
LOAM_RUN_DRY = {
    "transpiration": [
        Case("loam", 0.20, 0.50, "40-day drought"),
        Case("loam", 0.42, 0.50, "40-day drought"),
    ],
    "mix_water_empty": [Case("loam", 0.42, 0.50, "40-day drought")],
}
SHALLOW = [case for case in cases() if case.depth <= 0.42]


def figure(case: Case, name: str) -> float:
    return next(found for found in all_figures() if found.case == case).size(name)


def named(case: Case) -> str:
    return case.name


def known(name: str, found: Iterable[Case]) -> list[Any]:
    """The cases; those that miss this bound are marked, and fail once they meet it."""
    miss = pytest.mark.xfail(strict=True, reason="loam over few pipes, run dry: see docs/checks.md")
    out = LOAM_RUN_DRY.get(name, [])
    return [pytest.param(case, marks=[miss] if case in out else []) for case in found]


def test_only_the_known_figures_are_out_of_bounds() -> None:
    out = {(name, found.case) for found in all_figures() for name in broken(found)}
    assert out == {(name, case) for name, known in LOAM_RUN_DRY.items() for case in known}


def test_bounds_are_those_that_were_set() -> None:
    for case in cases():
        if case in SHALLOW:
            assert bounds_of(case) == {
                "open_water": 3.0,
                "mix_water": 4.0,
                "mix_water_empty": 6.0,
                "transpiration": 2.0,
            }
        else:
            assert bounds_of(case) == {"transpiration": 5.0}


@pytest.mark.parametrize("case", SHALLOW, ids=named)
def test_open_water(case: Case) -> None:
    assert figure(case, "open_water") <= bounds_of(case)["open_water"]  # mm, every day


@pytest.mark.parametrize("case", SHALLOW, ids=named)
def test_mix_water_while_the_store_holds_water(case: Case) -> None:
    assert figure(case, "mix_water") <= bounds_of(case)["mix_water"]  # mm, every day


@pytest.mark.parametrize("case", known("mix_water_empty", SHALLOW), ids=named)
def test_mix_water_once_the_store_is_empty(case: Case) -> None:
    assert figure(case, "mix_water_empty") <= bounds_of(case)["mix_water_empty"]  # mm, every day


@pytest.mark.parametrize("case", known("transpiration", cases()), ids=named)
def test_transpiration(case: Case) -> None:
    assert figure(case, "transpiration") <= bounds_of(case)["transpiration"]  # %, over the run


@pytest.mark.parametrize("case", SHALLOW, ids=named)
def test_air_share_of_the_root_zone(case: Case) -> None:
    """No bound was set: two percentage points in the mean keep a grade of wetness in place."""
    found = next(found for found in all_figures() if found.case == case)
    assert abs(found.air_mean) <= 2.0


@pytest.mark.parametrize("case", cases(), ids=named)
def test_both_start_alike(case: Case) -> None:
    """Full to the lip and the mix at rest above: geometry and retention agree."""
    model, reference = modelled(case, np.zeros_like(stored(case).refill)), stored(case)
    assert model.start == pytest.approx(reference.start, abs=2e-4)


def test_bed_of_a_case_is_the_case() -> None:
    bed = bed_of(Case("loam", 0.30, 0.50, "10 wet days"))
    pipes = bed.reservoir
    assert isinstance(pipes, Pipes)
    assert bed.box.depth - bed.box.freeboard == pytest.approx(0.30)
    assert pipes.count * pipes.outside / bed.box.width == pytest.approx(0.50)
    assert pipes.run == bed.box.length
    assert (bed.overflow.height, bed.top_mix.k_s) == (0.08, 0.2496)


def test_page_of_figures_is_up_to_date() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "python tests/numeric/make_checks.py"
