"""Days that a bed lasts in a drought, against the stored Richards solutions.

In beds up to 0.42 m of mix the store is empty, the plants go short and get less than half within a
day of the reference; bark-heavy mix at 0.42 m goes short up to two days late.
"""

from __future__ import annotations

import numpy as np
import pytest

from bedtide.decide.lasting import HALF
from bedtide.readings import EMPTY, NEED_LIMIT
from numeric.cases import Case, Stored, cases, stored, weather
from numeric.compare import modelled

DROUGHTS = [case for case in cases() if "drought" in case.weather and case.depth <= 0.42]


def days_to(marked: np.ndarray) -> int:
    assert marked.any(), "it never comes: nothing to compare"
    return int(marked.argmax())


def three(found: Stored, wanted: np.ndarray) -> tuple[int, int, int]:
    """Days to empty, to short, to half."""
    return (
        days_to(found.open_water < EMPTY),
        days_to(found.transpiration < NEED_LIMIT * wanted),
        days_to(found.transpiration < HALF * wanted),
    )


@pytest.mark.parametrize("case", DROUGHTS, ids=lambda case: case.name)
def test_within_a_day_of_the_reference(case: Case) -> None:
    reference, (_, wanted) = stored(case), weather(case)
    model = modelled(case, reference.refill)
    late = 2 if (case.mix, case.depth) == ("bark-heavy", 0.42) else 1
    off = np.abs(np.subtract(three(model, wanted), three(reference, wanted)))
    assert (off <= (1, late, 1)).all(), off
