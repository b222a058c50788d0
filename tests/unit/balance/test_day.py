"""One day by hand: where water goes that is poured in, rained in, or has nowhere to go."""

from dataclasses import replace

import numpy as np
import pytest

from bedtide.balance import State
from bedtide.balance.day import LOWER, OPEN, UPPER, Noon, _settle, _sink, _soak, limits_of, one_day
from bedtide.profile import bed_tables, rest_state, stacked
from helpers.beds import bed_with

MM = 1e-3


def bed_of(state):
    overflow = {"state": state} if state == "none" else {"height": "9 cm", "state": state}
    return bed_with({"overflow": overflow})


def limits_for(*states):
    """Limits of beds whose overflows are in these states, and their stacked tables."""
    beds = [bed_of(state) for state in states]
    tables = [
        bed_tables(bed) if state == "open" else bed_tables(bed, np.inf)
        for bed, state in zip(beds, states, strict=True)
    ]
    stack = stacked(tables)
    which, dry = np.arange(len(beds)), np.full(len(beds), 0.03)
    return stack, limits_of(tables, stack, which, dry), tables


def test_water_above_the_lip_runs_off():
    _, limits, tables = limits_for("open")
    cap = tables[0].grid.cap
    stores = np.array([[cap + 7 * MM], [0.02], [0.05]])
    lost, climbed = _settle(limits, stores, np.zeros(1))
    assert climbed is None
    assert lost == pytest.approx(7 * MM)
    assert stores[OPEN] == pytest.approx(cap)
    assert (stores[LOWER:, 0] == [0.02, 0.05]).all()


def test_water_above_a_blocked_outlet_climbs_into_the_mix_and_then_stands_on_it():
    _, limits, tables = limits_for("none", "open")
    cap, most = tables[0].grid.cap, limits.most[:, 0]
    stores = np.stack(
        [[cap + 9 * MM, most[LOWER] - 2 * MM, most[UPPER] - 3 * MM], [0.0, 0.02, 0.05]], 1
    )
    standing = np.zeros(2)
    lost, climbed = _settle(limits, stores, standing)
    assert (lost == 0).all()
    np.testing.assert_allclose(climbed, [9 * MM, 0])
    np.testing.assert_allclose(stores[:, 0], [cap, most[LOWER], most[UPPER]])
    assert standing[0] == pytest.approx(4 * MM)
    assert standing[1] == 0


def test_standing_water_soaks_into_what_room_there_is():
    _, limits, _ = limits_for("open")
    stores = np.array([[0.01], [0.02], [limits.most[UPPER, 0] - 2 * MM]])
    standing = np.array([5 * MM])
    _soak(limits, stores, standing)
    assert stores[UPPER, 0] == pytest.approx(limits.most[UPPER, 0])
    assert standing == pytest.approx(3 * MM)


def test_standing_water_passes_a_full_mix_as_fast_as_it_conducts():
    _, limits, _ = limits_for("open")
    full = limits.most[UPPER, 0]
    assert limits.passing[0] > 0.03
    for depth in (4 * MM, limits.passing[0] + 5 * MM):
        stores, standing = np.array([[0.01], [0.02], [full]]), np.array([depth])
        through = _sink(limits, stores, standing)
        assert through == pytest.approx(min(depth, limits.passing[0]))
        assert stores[OPEN, 0] == pytest.approx(0.01 + through[0])
        assert standing == pytest.approx(depth - through[0], abs=1e-15)


def test_standing_water_stays_where_the_reservoir_is_full_and_shut():
    _, limits, tables = limits_for("blocked")
    cap = tables[0].grid.cap
    stores = np.array([[cap - 1 * MM], [0.02], [limits.most[UPPER, 0]]])
    standing = np.array([4 * MM])
    assert _sink(limits, stores, standing) == pytest.approx(1 * MM)
    assert standing == pytest.approx(3 * MM)


@pytest.mark.parametrize("state", ["open", "none", "blocked"])
def test_a_refill_that_finds_no_room_is_accounted_for(state):
    stack, limits, (table,) = limits_for(state)
    before = at_rest(table, share=1.0)
    after, moved = one_day(stack, limits, before, np.array([0.030]), noon())
    assert after.stores[OPEN, 0] - before.stores[OPEN, 0] == pytest.approx(
        0.030 - moved.rise[0] - moved.overflow[0], abs=1e-15
    )
    if state == "open":
        assert moved.overflow[0] > 0.029
    else:
        assert moved.rise[0] > 0.029
        assert moved.overflow[0] == 0


def noon(**given):
    values = {"rain": 0.0, "transpiration": 0.0, "energy": 0.0, "wetted": 0.0, "exposed": 1.0}
    values.update(given)
    arrays = [np.array([values[name]]) for name in values]
    return Noon(*arrays, np.zeros(1, np.intp), values["rain"] > 0, values["transpiration"] > 0)


def at_rest(table, share=0.5):
    water = table.grid.dead + share * (table.grid.cap - table.grid.dead)
    stores = np.array([water, *map(float, rest_state(table, water))])[:, None]
    return State(stores, np.zeros(1), np.zeros(1))


def test_a_day_on_which_nothing_happens_changes_nothing_much():
    stack, limits, (table,) = limits_for("open")
    before = at_rest(table)
    after, moved = one_day(stack, limits, before, None, noon())
    np.testing.assert_allclose(after.stores, before.stores, atol=5e-4)
    assert after.stores.sum() == pytest.approx(before.stores.sum(), abs=1e-15)
    for name in ("transpiration", "evaporation", "overflow", "rim_spill"):
        assert float(getattr(moved, name)[0]) == 0.0
    assert not after.flooded


def test_the_state_of_the_morning_is_not_touched():
    stack, limits, (table,) = limits_for("open")
    before = at_rest(table)
    kept = [np.array(part) for part in before[:3]]
    one_day(stack, limits, before, np.array([0.01]), noon(rain=0.02, transpiration=0.004))
    for part, old in zip(before[:3], kept, strict=True):
        assert np.array_equal(part, old)


def test_plants_in_a_moist_bed_take_what_they_ask_for():
    stack, limits, (table,) = limits_for("open")
    before = at_rest(table)
    after, moved = one_day(stack, limits, before, None, noon(transpiration=4 * MM))
    assert float(moved.transpiration[0]) == pytest.approx(4 * MM, rel=0.01)
    assert after.stores.sum() == pytest.approx(before.stores.sum() - moved.transpiration[0])


def test_evaporation_is_bounded_by_energy_and_by_what_is_wetted():
    stack, limits, (table,) = limits_for("open")
    for energy, wetted, expected in ((3.0, 5.0, 3.0), (3.0, 2.0, 2.0), (0.0, 2.0, 0.0)):
        _, moved = one_day(
            stack, limits, at_rest(table), None, noon(energy=energy * MM, wetted=wetted * MM)
        )
        assert float(moved.evaporation[0]) == pytest.approx(expected * MM)


@pytest.mark.parametrize("lacking", [0.0, 0.5, 0.9, 1.0])
def test_a_dried_surface_evaporates_by_the_part_that_is_left(lacking):
    """FAO-56 Eq. 74: (TEW - De) / (TEW - REW), at most 1."""
    stack, limits, (table,) = limits_for("open")
    evaporable, slowing = limits.evaporable[0], limits.slowing[0]
    stack = replace(stack, depletion=np.full_like(stack.depletion, 2 * evaporable))
    dry = at_rest(table)._replace(depletion=np.array([lacking * evaporable]))
    after, moved = one_day(stack, limits, dry, None, noon(energy=5 * MM, wetted=9 * MM))
    expected = min((1 - lacking) * evaporable / slowing, 1.0) * 5 * MM
    assert float(moved.evaporation[0]) == pytest.approx(expected)
    assert float(after.depletion[0]) == pytest.approx(
        min(lacking * evaporable + expected, evaporable)
    )


def test_a_surface_that_is_wetted_from_below_does_not_dry():
    stack, limits, (table,) = limits_for("open")
    stack = replace(stack, depletion=np.full_like(stack.depletion, 2 * MM))
    dry = at_rest(table)._replace(depletion=np.array([limits.evaporable[0]]))
    _, moved = one_day(stack, limits, dry, None, noon(energy=5 * MM, wetted=9 * MM))
    expected = min((limits.evaporable[0] - 2 * MM) / limits.slowing[0], 1.0) * 5 * MM
    assert float(moved.evaporation[0]) == pytest.approx(expected, rel=1e-6)


def test_rain_on_a_full_bed_passes_and_runs_off():
    stack, limits, _ = limits_for("open")
    full = State(limits.most.copy(), np.zeros(1), np.zeros(1))
    after, moved = one_day(stack, limits, full, None, noon(rain=20 * MM))
    into = full.stores.sum() + 20 * MM
    assert after.stores.sum() + moved.overflow[0] == pytest.approx(into, abs=1e-15)
    assert moved.overflow[0] > 20 * MM  # the rain and what the mix lets go of
    assert moved.rim_spill[0] == 0


def test_rain_on_a_full_bed_without_an_outlet_stands_and_spills_at_the_rim():
    stack, limits, _ = limits_for("none")
    full = State(limits.most.copy(), np.array([25 * MM]), np.zeros(1), flooded=True)
    after, moved = one_day(stack, limits, full, None, noon(rain=20 * MM))
    assert moved.overflow[0] == 0
    assert moved.rim_spill[0] == pytest.approx(15 * MM)  # 25 + 20, less the freeboard of 30
    assert after.standing[0] == pytest.approx(30 * MM)
    assert after.flooded


def test_standing_water_evaporates_first_and_at_the_full_rate():
    stack, limits, _ = limits_for("none")
    full = State(limits.most.copy(), np.array([10 * MM]), np.array([1.0]), flooded=True)
    after, moved = one_day(stack, limits, full, None, noon(energy=4 * MM, wetted=6 * MM))
    assert moved.evaporation[0] == pytest.approx(4 * MM)
    assert after.standing[0] == pytest.approx(6 * MM)
