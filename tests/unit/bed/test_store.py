"""The open-water store: arithmetic by hand, quadrature of the shares, and the inverse."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.bed import (
    capacity,
    crown_height,
    dead_storage,
    level_of,
    mix_below,
    mix_share,
    open_store,
    wick_foot,
)
from helpers.beds import bed_with, layered, void_share

BEDS = {
    "pipes": bed_with(),
    "pipes, short": bed_with({"reservoir.run": "1.7 m"}),
    "crates": layered("crates"),
    "false floor": layered("false floor", wick_share="25 %"),
    "stone": layered("stone", void_share="40 %", wick_foot="4 cm"),
    "stone, no legs": layered("stone", void_share="40 %", wick_share="0 %"),
}
beds = pytest.mark.parametrize("bed", BEDS.values(), ids=BEDS)


def test_pipes_full_and_half_full():
    # Four pipes 2 m long, bore 10 cm: 4 x 2 x pi 0.05^2 = 0.062832 m3 on 1.2 m2.
    bed = BEDS["pipes"]
    assert capacity(bed, np.inf) == pytest.approx(8 * np.pi * 0.0025 / 1.2)
    assert open_store(0.06, bed) == pytest.approx(4 * np.pi * 0.0025 / 1.2)
    assert open_store(0.01, bed) == pytest.approx(0.0, abs=1e-20)
    assert open_store(0.11, bed) == pytest.approx(capacity(bed, 0.12))


def test_litres_of_a_four_inch_layer():
    # 4 in pipes (101 mm bore, 121 mm outside) that touch, overflow 76 mm above the liner: 46 L/m2
    # by hand: bore filled to 66 mm of 101, segment 0.0055465 m2 over a pitch of 0.121 m.
    inside, up = 0.0505, 0.066
    half_angle = np.arccos((inside - up) / inside)
    segment = inside**2 * (half_angle - np.sin(half_angle) * np.cos(half_angle))
    bed = bed_with(
        {
            "box.width": "60.6 cm",
            "reservoir": {"form": "pipes", "inside": "101 mm", "outside": "121 mm", "count": 5},
        }
    )
    assert segment == pytest.approx(0.0055465, abs=5e-8)
    assert capacity(bed, 0.076) == pytest.approx(segment * 5 / 0.606)
    assert 1000 * capacity(bed, 0.076) == pytest.approx(46, abs=0.5)


def test_layer_with_a_foot():
    # 4 cm all stone at 40 %, then 11 cm with 10 % legs: 0.016 + 0.11 x 0.36 m.
    bed = BEDS["stone"]
    assert dead_storage(bed) == pytest.approx(0.016)
    assert capacity(bed, np.inf) == pytest.approx(0.016 + 0.0396)
    assert open_store(0.09, bed) == pytest.approx(0.016 + 0.05 * 0.36)


def test_dead_storage():
    assert dead_storage(BEDS["pipes"]) == 0.0
    assert dead_storage(BEDS["crates"]) == 0.0
    # Nothing wicks: all of 15 cm at 40 % is out of reach.
    assert dead_storage(BEDS["stone, no legs"]) == pytest.approx(0.06)
    assert capacity(BEDS["stone, no legs"], np.inf) == pytest.approx(0.06)


@beds
def test_store_is_the_integral_of_the_void(bed):
    edges = np.linspace(0, 0.2, 40_001)
    middle = (edges[1:] + edges[:-1]) / 2
    summed = np.cumsum(void_share(middle, bed)) * (edges[1] - edges[0])
    np.testing.assert_allclose(open_store(edges[1:], bed), summed, atol=5e-6)


@beds
def test_mix_below_is_the_integral_of_the_mix(bed):
    edges = np.linspace(0, 0.39, 40_001)
    middle = (edges[1:] + edges[:-1]) / 2
    summed = np.cumsum(mix_share(middle, bed)) * (edges[1] - edges[0])
    np.testing.assert_allclose(mix_below(edges[1:], bed), summed, atol=1e-5)


@beds
@given(share=st.floats(0, 1))
def test_level_and_store_are_inverse(bed, share):
    store = share * capacity(bed, np.inf)
    level = level_of(store, bed)
    assert 0 <= level <= crown_height(bed)
    assert open_store(level, bed) == pytest.approx(store, abs=1e-15)


@beds
def test_more_water_stands_higher(bed):
    stores = np.linspace(0, capacity(bed, np.inf), 500)
    assert (np.diff(level_of(stores, bed)) > 0).all()
    heights = np.linspace(0, 0.3, 500)
    assert (np.diff(open_store(heights, bed)) >= 0).all()


@beds
def test_beyond_the_reservoir(bed):
    full = capacity(bed, np.inf)
    assert open_store(-1.0, bed) == 0.0
    assert open_store(crown_height(bed), bed) == pytest.approx(full, rel=1e-14)
    # The last drop in a pipe: rounding of the store moves the level by 1e-9 m at most.
    assert level_of(2 * full, bed) == pytest.approx(level_of(full, bed), abs=1e-9)
    assert level_of(-1.0, bed) == level_of(0.0, bed)


def test_an_empty_pipe_has_its_level_at_the_lowest_point_of_its_bore():
    assert level_of(0.0, BEDS["pipes"]) == pytest.approx(0.01)
    assert level_of(0.0, BEDS["stone"]) == 0.0


def test_more_pipes_hold_more():
    held = [capacity(bed_with({"reservoir.count": n}), 0.09) for n in (1, 2, 3, 4)]
    np.testing.assert_allclose(np.array(held) / held[0], [1, 2, 3, 4])


@beds
def test_scalar_and_array_agree(bed):
    values = np.linspace(0, 0.05, 6).reshape(2, 3)
    for function in (open_store, level_of, mix_below):
        found = function(values, bed)
        assert found.shape == (2, 3)
        assert np.ndim(function(0.02, bed)) == 0
        assert function(float(values[1, 1]), bed) == found[1, 1]


@beds
def test_dead_storage_is_the_store_at_the_foot(bed):
    assert dead_storage(bed) == open_store(wick_foot(bed), bed)
