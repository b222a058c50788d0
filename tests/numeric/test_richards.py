"""The daily model against the stored Richards solutions, and the page that states every figure."""

from __future__ import annotations

import numpy as np
import pytest

from bedtide.bed import Pipes
from numeric.cases import Case, cases, stored
from numeric.compare import all_figures, bed_of, bounds_of, broken, modelled
from numeric.make_checks import PAGE, page

SHALLOW = [case for case in cases() if case.depth <= 0.42]


def figure(case: Case, name: str) -> float:
    return next(found for found in all_figures() if found.case == case).size(name)


def named(case: Case) -> str:
    return case.name


def test_no_figure_is_out_of_bounds() -> None:
    assert not [(name, found.case) for found in all_figures() for name in broken(found)]


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


@pytest.mark.parametrize("case", SHALLOW, ids=named)
def test_mix_water_once_the_store_is_empty(case: Case) -> None:
    assert figure(case, "mix_water_empty") <= bounds_of(case)["mix_water_empty"]  # mm, every day


@pytest.mark.parametrize("case", cases(), ids=named)
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
