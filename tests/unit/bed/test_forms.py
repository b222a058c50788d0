"""Void and mix by height, for every form, against arithmetic by hand."""

import numpy as np
import pytest

from bedtide.bed import (
    crown_height,
    mix_share,
    plan_area,
    surface_height,
    wick_foot,
)
from helpers.beds import bed_with, layered, void_share

# Plain bed: 2 m by 0.6 m, four pipes 2 m long of 10 cm inside and 12 cm outside: wall 1 cm.
PIPES = bed_with()


def test_plain_measures():
    assert plan_area(PIPES) == pytest.approx(1.2)
    assert surface_height(PIPES) == pytest.approx(0.39)
    assert crown_height(PIPES) == pytest.approx(0.12)
    assert wick_foot(PIPES) == 0.0


def test_pipes_at_their_middle():
    # Water: 4 x 0.10 of 0.60 m. Mix: 0.60 less 4 x 0.12, of 0.60 m.
    assert void_share(0.06, PIPES) == pytest.approx(0.4 / 0.6)
    assert mix_share(0.06, PIPES) == pytest.approx(0.12 / 0.6)


def test_pipes_three_centimetres_up():
    # Inside: 2 cm above its lowest point, chord 2 sqrt(2 x 8) = 8 cm; outside: 2 sqrt(3 x 9) cm.
    assert void_share(0.03, PIPES) == pytest.approx(4 * 0.08 / 0.6)
    assert mix_share(0.03, PIPES) == pytest.approx(1 - 4 * 0.02 * np.sqrt(27) / 0.6)


def test_the_wall_is_neither_void_nor_mix():
    # In the lowest centimetre only the wall and the mix beside it; void begins above the wall.
    assert void_share(0.01, PIPES) == pytest.approx(0.0, abs=1e-7)
    assert void_share(0.005, PIPES) == 0.0
    assert mix_share(0.005, PIPES) < 1
    heights = np.linspace(0.001, 0.119, 200)
    wall = 1 - void_share(heights, PIPES) - mix_share(heights, PIPES)
    assert (wall > 0).all()


def test_short_runs_leave_mix_at_the_ends():
    short = bed_with({"reservoir.run": "1.5 m"})
    assert void_share(0.06, short) == pytest.approx(0.4 * 1.5 / 1.2)
    assert mix_share(0.06, short) == pytest.approx(1 - 0.48 * 1.5 / 1.2)


@pytest.mark.parametrize("bed", [PIPES, *map(layered, ("crates", "false floor", "stone"))])
def test_only_mix_above_the_crown(bed):
    above = crown_height(bed) + np.array([1e-6, 0.1])
    assert void_share(above, bed).tolist() == [0.0, 0.0]
    assert mix_share(above, bed).tolist() == [1.0, 1.0]
    assert void_share(-0.01, bed) == 0.0


@pytest.mark.parametrize("form", ["crates", "false floor", "stone"])
def test_layer_with_legs_to_the_floor(form):
    # Legs take 10 % of the floor; of the rest 90 % is open.
    bed = layered(form)
    assert crown_height(bed) == pytest.approx(0.15)
    for height in (0.0, 0.07, 0.149):
        assert void_share(height, bed) == pytest.approx(0.81)
        assert mix_share(height, bed) == pytest.approx(0.10)


def test_layer_with_legs_that_end_above_the_floor():
    bed = layered("stone", wick_foot="4 cm", void_share="40 %")
    assert wick_foot(bed) == pytest.approx(0.04)
    np.testing.assert_allclose(void_share([0.02, 0.04, 0.10], bed), [0.4, 0.36, 0.36])
    np.testing.assert_allclose(mix_share([0.02, 0.04, 0.10], bed), [0.0, 0.1, 0.1])


def test_nothing_wicks_without_legs():
    bed = layered("stone", wick_share="0 %")
    assert wick_foot(bed) == pytest.approx(crown_height(bed))
    assert mix_share(0.1, bed) == 0.0
    assert void_share(0.1, bed) == pytest.approx(0.9)


@pytest.mark.parametrize("bed", [PIPES, layered("crates")])
@pytest.mark.parametrize("function", [void_share, mix_share])
def test_scalar_and_array_agree(bed, function):
    heights = np.linspace(-0.01, 0.3, 12).reshape(3, 4)
    found = function(heights, bed)
    assert found.shape == (3, 4)
    assert np.ndim(function(0.05, bed)) == 0
    assert function(float(heights[1, 2]), bed) == found[1, 2]
