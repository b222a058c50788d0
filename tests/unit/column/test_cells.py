"""Beds cut into cells: heights by hand, volumes that add up, paths, voids and stores."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from bedtide.bed import crown_height, mix_below, mix_share, open_store, surface_height, wick_foot
from bedtide.column import cells_of, faces_of
from bedtide.column.cells import (
    GROWTH,
    STEEP_FLUX,
    STEEP_LEAST,
    STEEP_SHARE,
    THICKEST,
    THINNEST,
    thickest_cell,
)
from bedtide.mix import media, medium, supply_conductivity
from helpers.beds import LAYER, bed_with, layered

BEDS = {
    "pipes": bed_with(),
    "shallow": bed_with({"box.depth": "25 cm"}),
    "deep": bed_with({"box.depth": "90 cm"}),
    "crates": layered("crates"),
    "crates off the floor": layered("crates", wick_foot="3 cm"),
    "false floor": layered("false floor", void_share="95 %", wick_share="15 %"),
    "stone": layered("stone", void_share="40 %", wick_share="20 %"),
    "stone alone": layered("stone", void_share="40 %", wick_share="0 %"),
}
each = pytest.mark.parametrize("name", BEDS)


def of(bed, **given):
    """Its cells as plain rows, without the first axis."""
    found = cells_of(bed, (0, 1), 5.0, **given)
    return type(found)(*(values[0] for values in found))


@pytest.fixture
def half_a_centimetre(monkeypatch):
    """Cells of 5 mm at the surface, whatever they are tuned to, so that hands can work them out."""
    for name, value in (
        ("THINNEST", 0.005),
        ("GROWTH", 1.6),
        ("THICKEST", 0.060),
        ("STEEP_SHARE", 10.0),
    ):
        monkeypatch.setattr(f"bedtide.column.cells.{name}", value)
    thickest_cell.cache_clear()
    yield
    thickest_cell.cache_clear()


@pytest.mark.usefixtures("half_a_centimetre")
def test_cells_thicken_downward_from_the_surface():
    # 39 cm of mix, the crown of the pipes at 12 cm: 27 cm are 0.5 cm, each cell 1.6 times the one
    # above up to 6 cm, 31.148 cm in all, shrunk to fit; then four of 3 cm.
    sizes = np.array([0.5, 0.8, 1.28, 2.048, 3.2768, 5.24288, 6.0, 6.0, 6.0]) * 27.0 / 31.14768
    faces = 0.39 - np.append(0.0, np.cumsum(np.append(sizes, [3.0] * 4))) / 100
    assert faces_of(BEDS["pipes"]) == pytest.approx(faces, abs=1e-12)


@pytest.mark.usefixtures("half_a_centimetre")
def test_a_thin_layer_has_four_cells_all_the_same():
    # 19 cm deep, a freeboard of 3 cm, crates of 15 cm: 1 cm of mix over them
    sizes = np.array([0.5, 0.8, 1.28, 2.048]) / 4.628
    faces = 0.16 - np.append(0.0, np.cumsum(np.append(sizes, [3.75] * 4))) / 100
    thin = bed_with({"reservoir": {"form": "crates", **LAYER}, "box.depth": "19 cm"})
    assert faces_of(thin) == pytest.approx(faces, abs=1e-12)


@pytest.mark.parametrize("name", media())
def test_a_steep_mix_gets_thinner_cells(name):
    """A share of the height over which its conductivity falls e-fold where it is 3 mm a day."""
    mix = medium(name)
    at = brentq(lambda s: supply_conductivity(s, mix) - STEEP_FLUX, 1e-4, 100.0, xtol=1e-12)
    d = 1e-4 * at
    slope = np.diff(np.log(supply_conductivity([at - d, at + d], mix)))[0] / (2 * d)
    expected = np.clip(-STEEP_SHARE / slope, STEEP_LEAST, THICKEST)
    assert thickest_cell(mix) == pytest.approx(expected, rel=0.02)


def test_cells_of_coarse_bark_are_thin_to_the_floor():
    bark = {"mix.top.medium": "pine bark coarse", "mix.wick.medium": "pine bark coarse"}
    most = thickest_cell(medium("pine bark coarse"))
    assert most < 0.02 < thickest_cell(medium("peat"))
    sizes = -np.diff(faces_of(bed_with(bark)))
    assert sizes.max() <= most + 1e-12
    # twelve centimetres between the pipes in equal parts, as few as may be
    form = int(np.ceil(0.12 / most))
    assert form > 4
    assert sizes[-form:] == pytest.approx(np.full(form, 0.12 / form))
    only_top = faces_of(bed_with({"mix.top.medium": "pine bark coarse"}))
    assert -np.diff(only_top)[-4:] == pytest.approx(np.full(4, 0.03))


@each
def test_faces_run_from_the_surface_to_the_foot_and_meet_the_crown(name):
    bed = BEDS[name]
    faces = faces_of(bed)
    assert (faces[0], faces[-1]) == (surface_height(bed), wick_foot(bed))
    assert (np.diff(faces) < 0.0).all()
    assert np.abs(faces - crown_height(bed)).min() < 1e-12
    below = np.flatnonzero(faces < crown_height(bed) - 1e-12)
    assert below.size == (0 if name == "stone alone" else 4)


@each
def test_the_form_is_cut_into_four_of_one_height(name):
    bed = BEDS[name]
    own = -np.diff(faces_of(bed))[-4:]
    if name == "stone alone":  # no mix in it, and no cell
        assert faces_of(bed)[-1] == crown_height(bed)
    else:
        assert own == pytest.approx(np.full(4, (crown_height(bed) - wick_foot(bed)) / 4))


@each
def test_no_cell_is_thicker_than_its_mix_allows_or_grows_faster_than_it_may(name):
    bed = BEDS[name]
    sizes = -np.diff(faces_of(bed))
    upper = sizes[: sizes.size - (0 if name == "stone alone" else 4)]
    assert upper.max() <= thickest_cell(bed.top_mix) + 1e-12
    assert upper[0] <= THINNEST + 1e-12
    assert (upper[1:] / upper[:-1] < GROWTH + 1e-9).all()
    assert (np.diff(upper) > -1e-12).all()


@each
def test_the_mix_of_the_cells_adds_up_to_that_of_the_bed(name):
    bed = BEDS[name]
    cells = of(bed)
    assert cells.water.sum() == pytest.approx(mix_below(surface_height(bed), bed), rel=1e-12)
    faces = faces_of(bed)
    for cell in range(cells.number):
        high, low = faces[cell], faces[cell + 1]
        volume = quad(lambda z: float(mix_share(z, bed)), low, high, epsabs=1e-12)[0]
        assert cells.water[cell] == pytest.approx(volume, abs=1e-9), cell


def test_the_mix_among_pipes_by_hand():
    # four pipes of 12 cm across and 2 m over 2 by 0.6 m: 39 cm less 4 pi 6^2 2 / 1.2 cm = 7.540 cm
    assert of(BEDS["pipes"]).water.sum() == pytest.approx(0.39 - 0.075398, abs=1e-6)


@each
def test_reaches_lead_from_centre_to_centre(name):
    cells = of(BEDS[name])
    faces = faces_of(BEDS[name])
    assert cells.number == cells.centre.size == faces.size - 1
    assert cells.centre + 0.5 * cells.height == pytest.approx(faces[:-1])
    assert cells.centre - 0.5 * cells.height == pytest.approx(faces[1:])
    assert cells.reach[0] == pytest.approx(0.5 * cells.height[0])
    assert cells.reach[1:] == pytest.approx(0.5 * (cells.height[1:] + cells.height[:-1]))
    assert cells.below[0] == pytest.approx(1.0)
    share = cells.height[1:] / (cells.height[1:] + cells.height[:-1])
    assert cells.below[1:] == pytest.approx(share)


def test_the_path_is_as_wide_as_the_mix_its_parts_in_a_row():
    cells = of(BEDS["crates"])
    form = cells.number - 4
    assert cells.path[:form] == pytest.approx(np.ones(form))
    assert cells.path[form + 1 :] == pytest.approx(np.full(3, 0.1))
    # from the legs into the mix over them: 1.875 cm of a tenth, then half a cell of all of it
    legs, over = 0.01875, 0.5 * cells.height[form - 1]
    expected = (legs + over) / (legs / 0.1 + over)
    assert cells.path[form] == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("cell", [-4, -3, -2, -1])
def test_the_path_between_pipes_is_the_harmonic_mean_of_the_gap(cell):
    bed = BEDS["pipes"]
    cells = of(bed)
    low = cells.centre[cell]
    high = low + cells.reach[cell]
    mean = quad(lambda z: 1.0 / float(mix_share(z, bed)), low, high)[0] / (high - low)
    assert cells.path[cell] == pytest.approx(1.0 / mean, rel=1e-3)


def test_a_path_without_mix_conducts_a_little_all_the_same():
    bed = bed_with({"box.width": "60.1 cm", "reservoir.count": 5})
    cells = of(bed)
    assert (cells.path > 0.0).all()
    assert cells.path.min() > 1e-3
    assert cells.path.min() < 0.05  # five pipes of 12 cm leave 1 mm in 60.1 cm


def test_open_void_lies_beside_the_cells_between_the_walls_of_the_pipes():
    cells = of(BEDS["pipes"])  # wall 1 cm, inside 10 cm
    assert cells.void_low[-4:] == pytest.approx([0.09, 0.06, 0.03, 0.01])
    assert cells.void_high[-4:] == pytest.approx([0.11, 0.09, 0.06, 0.03])
    assert (cells.void_low[:-4] == cells.void_high[:-4]).all()
    assert cells.ceiling == -1


@pytest.mark.parametrize(
    ("name", "bare", "above"),
    [("crates", 0.81, 4), ("crates off the floor", 0.81, 4), ("stone", 0.32, 4),
     ("stone alone", 0.40, 0)],
)  # fmt: skip
def test_the_lowest_mix_over_a_layer_lies_bare_over_its_void(name, bare, above):
    # void beside the legs: 0.9 x (1 - 0.1) and 0.4 x (1 - 0.2); all 0.4 of it where nothing wicks
    cells = of(BEDS[name])
    over = cells.number - above - 1
    assert cells.ceiling == over
    assert cells.ceiling_height == pytest.approx(0.15)
    assert cells.centre[over] - 0.5 * cells.height[over] == pytest.approx(0.15)
    # through the lower half of that cell, saturated at 5 m/d
    assert cells.ceiling_pass == pytest.approx(5.0 * bare / (0.5 * cells.height[over]))


@each
def test_the_store_is_that_of_the_bed(name):
    bed = BEDS[name]
    cells = of(bed)
    nodes = cells.store_base + cells.store_step * np.arange(cells.store.size)
    assert cells.store == pytest.approx(open_store(nodes, bed), abs=1e-15)
    assert cells.store[0] == 0.0
    assert cells.store[-1] == pytest.approx(open_store(np.inf, bed))


def test_the_store_by_hand():
    # crates: 0.9 of it void beside legs of a tenth; up to 3 cm without legs all 0.9
    cells = of(BEDS["crates off the floor"])
    at = cells.store_base + cells.store_step * np.arange(cells.store.size)
    legs = np.where(at < 0.03, 0.9 * at, 0.027 + 0.81 * (at - 0.03))
    assert cells.store == pytest.approx(legs, abs=1e-12)
    # pipes: half full at their axis, 6 cm up: 2 pi 5^2 2 / 1.2 cm
    cells = of(BEDS["pipes"])
    assert cells.store_base + 128 * cells.store_step == pytest.approx(0.06)
    assert cells.store[128] == pytest.approx(0.026180, abs=1e-6)


@each
def test_mix_below_the_crown_is_the_wick_mix(name):
    cells = of(BEDS[name])
    below = 0 if name == "stone alone" else 4
    assert cells.mix.tolist() == [1] * (cells.number - below) + [0] * below


@each
@pytest.mark.parametrize("parts", [2, 5])
def test_finer_cells_are_parts_of_the_cells(name, parts):
    bed = BEDS[name]
    coarse, fine = faces_of(bed), faces_of(bed, finer=parts)
    assert fine[::parts] == pytest.approx(coarse, abs=1e-12)
    sizes = -np.diff(fine).reshape(-1, parts)
    assert sizes == pytest.approx(np.repeat(-np.diff(coarse)[:, None] / parts, parts, axis=1))
    few, many = of(bed), of(bed, finer=parts)
    assert many.number == parts * few.number
    assert many.water.reshape(-1, parts).sum(axis=1) == pytest.approx(few.water, abs=1e-12)
