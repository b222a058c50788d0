"""Days that a bed lasts without rain, against the stored Richards solutions.

The store is empty, the plants go short and get less than half within a day of the reference in
beds up to 0.42 m of mix, within two in deeper ones.
"""

from __future__ import annotations

import numpy as np
import pytest

from bedtide.many.leaving import HALF
from bedtide.readings import EMPTY, NEED_LIMIT
from numeric.cases import Case, Stored, cases, stored, weather
from numeric.compare import modelled

DROUGHTS = [case for case in cases() if case.spell == "dry" and case.surface != "bare"]


def days_to(marked: np.ndarray) -> float:
    """Days until the first that is marked; NaN where none is."""
    return float(marked.argmax()) if marked.any() else np.nan


def three(found: Stored, wanted: np.ndarray) -> np.ndarray:
    """Days to empty, to short, to half."""
    return np.array(
        [
            days_to(found.open_water < EMPTY),
            days_to(found.transpiration < NEED_LIMIT * wanted),
            days_to(found.transpiration < HALF * wanted),
        ]
    )


@pytest.mark.parametrize("case", DROUGHTS, ids=lambda case: case.name)
def test_within_a_day_or_two_of_the_reference(case: Case) -> None:
    reference, wanted = stored(case), weather(case).demand
    model = three(modelled(case, reference.refill), wanted)
    truth = three(reference, wanted)
    assert (np.isnan(model) == np.isnan(truth)).all()
    off = np.abs(model - truth)
    assert (off[~np.isnan(off)] <= (1 if case.depth <= 0.42 else 2)).all(), (model, truth)


def test_there_are_droughts_that_end() -> None:
    lasted = np.array([three(stored(case), weather(case).demand) for case in DROUGHTS])
    assert (~np.isnan(lasted)).sum(axis=0).min() >= 8
