"""The look-up in the tables: exact where it can be, alike for one state and for thousands."""

from dataclasses import replace

import numpy as np
import pytest

from bedtide.profile import ROOTING, axes_of, bed_tables, look_up, place, stacked
from bedtide.profile.exchange import usable
from helpers.beds import bed_with


@pytest.fixture(scope="module")
def tables():
    """Tables of two beds whose stores have different bounds."""
    return [bed_tables(bed_with()), bed_tables(bed_with({"box.depth": "30 cm"}))]


def nodes(table):
    """Place of every node on the three axes, each from 0 to 1."""
    return np.meshgrid(*(np.linspace(0, 1, n) for n in table.exchange.shape), indexing="ij")


def states(table, share):
    """Stores (3, n) at shares of the three axes; that of open water is even in its square root."""
    low = np.array([table.grid.dead, table.lower_bounds[0], table.upper_bounds[0]])
    high = np.array([table.grid.cap, table.lower_bounds[1], table.upper_bounds[1]])
    at = share.copy()
    at[0] **= 2
    return low[:, None] + at * (high - low)[:, None]


def trilinear(a, b, c, k=1.0):
    return k * (0.3 - a + 2 * b - 0.5 * c + 3 * a * b - b * c + 0.7 * a * c + 4 * a * b * c)


def look(table, stores, name="exchange"):
    stack = stacked([table])
    at = place(stack, axes_of(stack, np.zeros(stores.shape[1], dtype=np.intp)), stores)
    return look_up(getattr(stack, name), at)


def test_a_trilinear_function_comes_back_exactly(tables):
    table = replace(tables[0], exchange=(trilinear(*nodes(tables[0])) + 1j).astype(np.complex64))
    share = np.random.default_rng(1).random((3, 500))
    found = look(table, states(table, share))
    # single precision: 24 binary digits of the largest value, 9.5
    np.testing.assert_allclose(found.real, trilinear(*share), atol=4e-6)
    np.testing.assert_allclose(found.imag, 1.0, atol=1e-6)


def test_nodes_come_back_as_they_stand(tables):
    table = tables[0]
    corner = np.array([[0.0, 1.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0], [0.0, 1.0, 1.0, 1.0]])
    found = look(table, states(table, corner))
    for value, (a, b, c) in zip(found, corner.T.astype(int), strict=True):
        assert value == pytest.approx(table.exchange[-a, -b, -c], rel=1e-6, abs=1e-12)


def test_states_outside_lie_on_the_edge(tables):
    table = tables[0]
    share = np.random.default_rng(2).random((3, 50))
    inside = states(table, share)
    for row in range(3):
        for beyond, edge in ((-0.5, 0.0), (1.7, 1.0)):
            outer, border = inside.copy(), share.copy()
            width = np.ptp(states(table, np.array([[0.0, 1.0]] * 3))[row])
            outer[row] = states(table, np.zeros((3, 1)))[row] + beyond * width
            border[row] = edge
            found = look(table, outer)
            np.testing.assert_allclose(found, look(table, states(table, border)), atol=1e-7)


def test_weights_are_shares(tables):
    stack = stacked(tables)
    which = np.array([0, 1, 1, 0])
    stores = np.concatenate([states(table, np.full((3, 2), 0.37)) for table in tables], axis=1)
    at = place(stack, axes_of(stack, which), stores)
    assert (at.weights >= 0).all()
    np.testing.assert_allclose(at.weights.sum(axis=0), 1.0, atol=1e-6)


def test_every_bed_is_looked_up_in_its_own_table(tables):
    changed = [
        replace(table, exchange=(trilinear(*nodes(table), k=k) * (1 + 0j)).astype(np.complex64))
        for k, table in zip((1.0, 10.0), tables, strict=True)
    ]
    share = np.random.default_rng(3).random((3, 40))
    which = np.tile([0, 1], 20)
    stores = np.where(which == 0, states(tables[0], share), states(tables[1], share))
    stack = stacked(changed)
    found = look_up(stack.exchange, place(stack, axes_of(stack, which), stores))
    np.testing.assert_allclose(
        found.real, trilinear(*share) * np.where(which == 0, 1, 10), atol=5e-5
    )


def test_a_layer_is_picked_by_bed(tables):
    number = np.arange(ROOTING.size)[:, None, None, None] + np.zeros(tables[0].exchange.shape)
    table = replace(tables[0], air=(number + 1j).astype(np.complex64))
    stack = stacked([table])
    share = np.random.default_rng(4).random((3, ROOTING.size))
    at = place(stack, axes_of(stack, np.zeros(ROOTING.size, np.intp)), states(table, share))
    found = look_up(stack.air, at, np.arange(ROOTING.size) * stack.size)
    np.testing.assert_allclose(found.real, np.arange(ROOTING.size), atol=1e-6)


@pytest.mark.parametrize("count", [1, 2, 3, 7, 31, 1000])
def test_one_state_alone_is_the_same_state_among_many_bit_for_bit(tables, count):
    share = np.random.default_rng(5).random((3, 1000))
    stores, which = states(tables[0], share), np.arange(1000) % 2
    stack = stacked(tables)

    def found(some):
        at = place(stack, axes_of(stack, which[some]), np.ascontiguousarray(stores[:, some]))
        return look_up(stack.exchange, at)

    assert np.array_equal(found(slice(None, count)), found(slice(None))[:count])


def test_a_store_that_nothing_reaches_has_an_axis_all_the_same(tables):
    assert usable(replace(tables[0].grid, dead=tables[0].grid.cap)) > 0
