"""Air by height in even slices, from the water of cells that are not even."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide import run_many
from bedtide.balance import air_by_height
from bedtide.bed import mix_below
from bedtide.mix import water_content
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

BEDS = [
    bed_with({"start.level": "60 %"}),
    layered("crates", wick_foot="3 cm"),
    bed_with({"box.depth": "90 cm", "mix.top.medium": "pine bark fine"}),
    layered("stone", void_share="40 %", wick_share="0 %"),
]


@pytest.fixture(scope="module")
def run():
    weather = plain_weather("2023-06-01", 20, et0_mm=5.0, rain_mm={"2023-06-08": 40.0})
    return run_many(BEDS, weather, [datetime.date(2023, 6, 1)], days=20, profile=True)


@pytest.mark.parametrize("number", range(4))
@pytest.mark.parametrize("slices", [1, 7, 40])
def test_slices_are_even_from_the_foot_of_the_mix_to_its_surface(run, number, slices):
    faces, air = air_by_height(run, number, slices)
    foot = [0.0, 0.03, 0.0, 0.15][number]
    top = [0.39, 0.39, 0.87, 0.39][number]
    assert faces == pytest.approx(np.linspace(foot, top, slices + 1))
    assert air.shape == (20, slices)


@pytest.mark.parametrize("number", range(4))
def test_a_slice_has_the_air_of_the_cells_that_it_touches_and_of_no_other(run, number):
    """On each day one cell is dry; all others hold more than their pores."""
    row = run.layout[number]
    count = min(int(run.cells.number[row]), 20)
    profile = np.full_like(run.profile, 9.0)
    profile[number, np.arange(count), np.arange(count)] = 0.0
    faces, air = air_by_height(replace(run, profile=profile), number, 25)
    for day in range(count):
        half = 0.5 * run.cells.height[row, day]
        foot, top = run.cells.centre[row, day] - half, run.cells.centre[row, day] + half
        inside = np.minimum(top, faces[1:]) - np.maximum(foot, faces[:-1])
        assert (air[day][inside < -1e-9] == 0.0).all()
        assert (air[day][inside > 1e-9] > 0.0).all()


@pytest.mark.parametrize("number", range(4))
def test_the_slices_hold_the_air_of_the_whole_mix(run, number):
    bed, (faces, air) = run.beds[number], air_by_height(run, number, 60)
    mix = np.diff(mix_below(faces, bed))
    below = faces[1:] <= [0.12, 0.15, 0.12, 0.15][number] + 1e-9
    porosity = np.where(below, bed.wick_mix.theta_s, bed.top_mix.theta_s)
    held = ((porosity - air) * mix).sum(axis=1)
    # a slice may lie across the crown, and its mix is spread evenly in its cell
    assert held == pytest.approx(run.series.mix_water[:, number], abs=2e-3)


@pytest.mark.parametrize("number", range(4))
def test_one_slice_is_the_mean_over_all_the_mix(run, number):
    """Legs of a tenth count for a tenth, and mix between pipes for what there is of it."""
    bed = run.beds[number]
    crown, foot, top = [(0.12, 0, 0.39), (0.15, 0.03, 0.39), (0.12, 0, 0.87), (0.15, 0.15, 0.39)][
        number
    ]
    low, high = (
        np.diff(mix_below(np.array(ends), bed))[0] for ends in ((foot, crown), (crown, top))
    )
    pores = low * bed.wick_mix.theta_s + high * bed.top_mix.theta_s
    mean = (pores - run.series.mix_water[:, number]) / (low + high)
    found = air_by_height(run, number, 1)[1][:, 0]
    # mix under water holds a hair more than its pores
    assert found == pytest.approx(mean, abs=1e-4)


def test_air_at_rest_is_that_of_the_height_over_the_water():
    bed = bed_with({"start.level": "60 %", "planting": [], "watering": {"when": "never"}})
    weather = plain_weather("2023-06-01", 2, et0_mm=0.0)
    run = run_many([bed], weather, [datetime.date(2023, 6, 1)], days=2, profile=True)
    faces, air = air_by_height(run, 0, 13)  # 3 cm each, so that the crown is a face
    level = float(run.series.level[-1, 0])
    middle = 0.5 * (faces[1:] + faces[:-1])
    suction = np.maximum(middle - level, 0.0)
    mix = [bed.wick_mix if z < 0.12 else bed.top_mix for z in middle]
    expected = [m.theta_s - float(water_content(s, m)) for s, m in zip(suction, mix, strict=True)]
    assert air[-1] == pytest.approx(expected, abs=0.03)  # cells of up to 6 cm
    assert np.ptp(expected) > 0.3


def test_the_dry_end_is_at_the_top(run):
    air = air_by_height(run, 0, 10)[1]
    assert (np.diff(air[5]) > -1e-9).all()  # the last of five dry days: faces rise, and so does air
    assert air[5, -1] > 0.2 > air[5, 0]
