"""Finer cells and shorter steps move the results by little, and by less the finer they are."""

from __future__ import annotations

from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pytest

from bedtide import example_bed, run_many
from bedtide.bed import Bed, Surface, Watering
from bedtide.column import at_rest, layouts_of
from bedtide.crop import Planting, crop
from bedtide.mix import medium
from helpers.plain_weather import plain_weather
from helpers.random_beds import START, hour_by_hour

DAYS = 60
MIXES = ("potting mix", "peat", "coir", "topsoil loam")


def bed_of(name: str, *, bare: bool) -> Bed:
    mix = medium(name)
    tomato = Planting(crop("tomato"), (6, 1), 1.0, stages=(1, 1, 300, 1))
    return replace(
        example_bed(),
        wick_mix=mix,
        top_mix=mix,
        plantings=() if bare else (tomato,),
        surface=Surface(),
        site=replace(example_bed().site, exposure=1.0),  # the weather below says what is asked
        watering=Watering("every n days", every=8),
    )


def weather():
    found = plain_weather(str(START), DAYS, et0_mm=5.0)
    rain = np.zeros(DAYS)
    rain[[6, 7, 20, 21, 22, 40]] = 0.012, 0.03, 0.008, 0.02, 0.02, 0.045
    found["rain"] = ("time", rain)
    return found


def ran(bed: Bed, record, finer: int = 1):
    with patch("bedtide.balance.run.layouts_of", lambda beds: layouts_of(beds, finer=finer)):
        return run_many([bed], record, [START], days=DAYS).series


def apart(one, other) -> np.ndarray:
    """Largest difference of a store [mm]; of transpiration and of evaporation in all [%]."""
    stores = [
        1000.0 * np.abs(getattr(one, name) - getattr(other, name)).max()
        for name in ("open_water", "mix_water")
    ]
    sums = [
        100.0 * abs(getattr(one, name).sum() / max(getattr(other, name).sum(), 1e-9) - 1.0)
        for name in ("transpiration", "evaporation")
        if getattr(other, name).sum() > 0.0
    ]
    return np.array([*stores, *sums, 0.0])[:4]


@pytest.mark.parametrize("bare", [False, True], ids=["planted", "bare"])
@pytest.mark.parametrize("name", MIXES)
def test_halving_the_cells_moves_a_store_by_two_millimetres_at_most(name: str, bare: bool) -> None:
    bed, record = bed_of(name, bare=bare), weather()
    assert (apart(ran(bed, record), ran(bed, record, 2)) <= [2.5, 2.5, 4.0, 4.0]).all()


@pytest.mark.parametrize("bare", [False, True], ids=["planted", "bare"])
@pytest.mark.parametrize("name", MIXES)
def test_an_hour_for_the_longest_step_moves_a_store_by_three_at_most(name: str, bare: bool) -> None:
    """Against steps of a quarter to half a day where nothing happens fast."""
    bed, record = bed_of(name, bare=bare), weather()
    assert (apart(ran(bed, record), ran(bed, hour_by_hour(record))) <= [3.0, 3.5, 8.0, 8.0]).all()


def test_the_order_of_convergence_is_between_first_and_second() -> None:
    """Mix at rest, planted, no rain, with short steps: the water drawn from the store after ten
    days, against eight times finer cells, falls two- to fourfold with each halving."""
    record = hour_by_hour(plain_weather(str(START), 10, et0_mm=5.0))
    bed = replace(bed_of("potting mix", bare=False), watering=Watering("never"))

    def mix_at_rest(finer: int) -> float:
        cells, mixes, layout = layouts_of([bed], finer=finer)
        states = at_rest(cells, mixes, layout, np.array([0.04]), np.array([0.08]))
        return float((cells.water[0] * states.content[0]).sum())

    fine = mix_at_rest(16)
    errors = np.array([abs(mix_at_rest(finer) - fine) for finer in (1, 2, 4)])
    order = np.log2(errors[:-1] / errors[1:])
    assert (order > 0.8).all(), order
    assert errors[0] < 1.5e-3
    with patch("bedtide.balance.run.layouts_of", lambda beds: layouts_of(beds, finer=8)):
        truth = run_many([bed], record, [START], days=10).series.open_water[-1, 0]
    drawn = []
    for finer in (1, 2, 4):
        with patch(
            "bedtide.balance.run.layouts_of", lambda beds, f=finer: layouts_of(beds, finer=f)
        ):
            drawn.append(run_many([bed], record, [START], days=10).series.open_water[-1, 0])
    off = np.abs(np.array(drawn) - truth)
    assert off[0] < 1e-3
    assert off[2] < off[0]
