"""What the tables say at states that are known: at rest, dried, drowned."""

import numpy as np
import pytest

from bedtide.mix import water_content
from bedtide.profile import ROOTING, axes_of, bed_tables, look_up, place, rest_state, stacked
from helpers.beds import LAYER, bed_with, layered

BEDS = {
    "pipes": bed_with(),
    "shallow": bed_with({"box.depth": "30 cm"}),
    "crates": layered("crates"),
    "stone": layered("stone", void_share="40 %", wick_share="20 %"),
}


def at_state(table, open_water, lower, upper):
    stack = stacked([table])
    stores = np.array([[open_water], [lower], [upper]], dtype=float)
    at = place(stack, axes_of(stack, np.zeros(1, np.intp)), stores)
    last = (ROOTING.size - 1) * stack.size
    return {
        "rise": float(look_up(stack.exchange, at).real[0]),
        "climb": float(look_up(stack.exchange, at).imag[0]),
        "air": float(look_up(stack.air, at, np.array([last])).real[0]),
        "air_top": float(look_up(stack.air, at).imag[0]),
        "suction": float(np.interp(look_up(stack.edge, at).imag[0], table.content, table.suction)),
        "met": float(sum(look_up(stack.uptake, at, np.array([0])).view(np.float32))),
    }


@pytest.mark.parametrize("name", BEDS)
@pytest.mark.parametrize("share", [0.25, 0.6, 1.0])
def test_nothing_moves_at_rest(name, share):
    table = bed_tables(BEDS[name])
    water = table.grid.dead + share * (table.grid.cap - table.grid.dead)
    found = at_state(table, water, *rest_state(table, water))
    # The tables are 24 by 32 by 40: a state between their nodes is off by tenths of a millimetre.
    assert abs(found["rise"]) < 5e-4
    assert abs(found["climb"]) < 5e-4
    assert found["met"] == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    "bed", [*BEDS.values(), bed_with({"mix.top.medium": "pine bark fine", "box.depth": "60 cm"})]
)
def test_the_surface_at_rest_is_as_dry_as_it_is_high(bed):
    table = bed_tables(bed)
    level = float(np.interp(table.grid.cap, table.store, table.level))
    above = bed.box.depth - bed.box.freeboard - level
    found = at_state(table, table.grid.cap, *rest_state(table, table.grid.cap))
    assert found["suction"] == pytest.approx(above, rel=0.25)  # 0.003 of water, in dry bark
    top = np.linspace(above - 0.15, above, 400)
    air = bed.top_mix.theta_s - water_content(top, bed.top_mix)
    assert found["air_top"] == pytest.approx(float(air.mean()), abs=0.01)


@pytest.mark.parametrize("name", BEDS)
def test_a_dry_mix_drinks_and_a_drowned_one_drains(name):
    table = bed_tables(BEDS[name])
    half = 0.5 * (table.grid.dead + table.grid.cap)
    lower, upper = rest_state(table, half)
    dry = at_state(table, half, lower - 0.004, upper - 0.004)
    assert dry["rise"] > 1e-4
    assert dry["climb"] > 1e-4
    wet = at_state(table, half, lower, upper + 0.010)
    assert wet["climb"] < -1e-4
    full = at_state(table, table.grid.cap, table.lower_bounds[1], table.upper_bounds[1])
    assert full["air"] < 0.02
    assert full["met"] == pytest.approx(1.0, abs=0.01)  # drowned roots drink on in this model


def test_roots_find_nothing_in_a_dried_out_bed():
    table = bed_tables(BEDS["pipes"])
    found = at_state(table, 0.0, table.lower_bounds[0], table.upper_bounds[0])
    assert found["met"] < 0.05
    assert found["rise"] == pytest.approx(0.0, abs=1e-6)


def test_water_out_of_reach_does_not_rise():
    table = bed_tables(layered("crates", wick_foot="4 cm"))
    assert table.grid.dead == pytest.approx(0.04 * 0.9)  # no legs below their foot
    lower, upper = rest_state(table, table.grid.dead)
    found = at_state(table, table.grid.dead, lower - 0.003, upper - 0.003)
    assert found["rise"] == pytest.approx(0.0, abs=1e-6)


def test_beds_that_share_their_measures_share_their_tables():
    table = bed_tables(BEDS["pipes"])
    for changes in (
        {"surface": {"open_share": "50 %", "mulch_share": "80 %"}},
        {"watering": {"when": "never"}},
        {"planting.0.planted": "04-20"},
        {"bed.name": "another"},
    ):
        assert bed_tables(bed_with(changes)) is table
    for changes in (
        {"box.depth": "41 cm"},
        {"overflow.height": "8 cm"},
        {"mix.top.medium": "peat"},
        {"planting.0.crop": "lettuce"},
    ):
        assert bed_tables(bed_with(changes)) is not table


def test_a_nearly_saturated_mix_stays_at_rest():
    """Peat 8 cm above the water holds the same at any suction there: its flux turns in a hair."""
    shallow = bed_with(
        {
            "box.depth": "25 cm",
            "overflow.height": "14 cm",
            "mix.top.medium": "peat",
            "reservoir": {"form": "crates", **LAYER},
        }
    )
    table = bed_tables(shallow)
    found = at_state(table, table.grid.cap, *rest_state(table, table.grid.cap))
    assert abs(found["rise"]) < 2e-3
    assert abs(found["climb"]) < 2e-3
    # nor does any wet state lose much of a store of the mix within half a day
    share = [np.linspace(0, 1, count) for count in table.exchange.shape[1:]]
    wet = np.ix_(np.arange(table.exchange.shape[0]), share[0] > 0.9, share[1] > 0.9)
    lost = -(table.exchange.real - table.exchange.imag)[wet], -table.exchange.imag[wet]
    assert lost[0].max() < 0.5 * np.ptp(table.lower_bounds)
    assert lost[1].max() < 0.5 * np.ptp(table.upper_bounds)
