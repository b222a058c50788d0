"""Tubs that narrow downward: volumes by hand, through the whole program, clear refusals."""

import numpy as np
import pytest

from bedtide.balance import run_season
from bedtide.bed import (
    bed_from_mapping,
    bed_from_text,
    bed_text,
    brimful_weight,
    capacity,
    crown_height,
    level_of,
    mix_below,
    mix_share,
    mix_volume,
    open_store,
    plan_area,
    surface_height,
    walls_of,
)
from bedtide.bed.vary import with_value
from bedtide.errors import InputError
from bedtide.mix import water_content
from bedtide.weather import read_weather
from helpers.beds import described, void_share
from helpers.builds import TUB


def tub(**changes):
    mapping = described() | TUB
    for key, value in changes.items():
        mapping = with_value(mapping, key.replace("__", "."), value)
    return bed_from_mapping(mapping)


def prismatoid(height):
    """Volume [L] below a height [mm] of 620 x 370 at the floor, 700 x 450 at 380 mm."""
    areas = [(620 + 80 * z / 380) * (370 + 80 * z / 380) for z in (0, height / 2, height)]
    return height / 6 * (areas[0] + 4 * areas[1] + areas[2]) / 1e6


def litres(depth, bed):
    return 1000 * plan_area(bed) * float(depth)


def test_volumes_by_hand():
    # 380/6 (229,400 + 4 x 270,600 + 315,000) mm3; an upright box of the rim would hold 119.7 L.
    bed = tub()
    walls = walls_of(bed)
    assert round(litres(walls.below(0.380), bed), 3) == 103.031
    assert round(litres(capacity(bed, 0.080), bed), 3) == 6.469
    assert round(1000 * mix_volume(bed), 3) == 73.292
    stone = prismatoid(100) * 0.85
    assert round(stone, 3) == 20.397
    mix = prismatoid(350) - stone
    assert litres(mix_below(0.350, bed), bed) == pytest.approx(mix, rel=1e-12)
    assert litres(open_store(np.inf, bed), bed) == pytest.approx(0.4 * stone, rel=1e-12)
    assert walls.floor == pytest.approx(0.2294)


def test_shares_are_the_slope_of_what_lies_below():
    for bed in (tub(), tub(reservoir__wick_foot="40 mm")):
        z = np.linspace(0.003, 0.349, 173)
        z = z[(abs(z - crown_height(bed)) > 1e-3) & (abs(z - 0.04) > 1e-3)]
        step = 1e-6
        for share, below in ((void_share, open_store), (mix_share, mix_below)):
            slope = (below(z + step, bed) - below(z - step, bed)) / (2 * step)
            np.testing.assert_allclose(share(z, bed), slope, atol=1e-8)


@pytest.mark.parametrize("foot", ["0 mm", "40 mm"])
def test_the_level_is_found_back(foot):
    bed = tub(reservoir__wick_foot=foot)
    heights = np.linspace(0.0, 0.1, 41)
    np.testing.assert_allclose(level_of(open_store(heights, bed), bed), heights, atol=1e-14)


def test_pipes_in_a_tub():
    # Two pipes 50/60 of 600 mm: 2 x 600 mm x a circle of 50; the mix is the rest of the tub.
    pipes = {"form": "pipes", "inside": "50 mm", "outside": "60 mm", "count": 2, "run": "600 mm"}
    bed = bed_from_mapping(described() | TUB | {"reservoir": pipes})
    assert litres(open_store(0.06, bed), bed) == pytest.approx(1.2 * np.pi * 0.05**2 / 4 * 1000)
    gone = 1.2 * np.pi * 0.06**2 / 4 * 1000
    assert litres(mix_below(0.35, bed), bed) == pytest.approx(prismatoid(350) - gone)
    assert level_of(open_store(0.03, bed), bed) == pytest.approx(0.03)


def test_weight_stands_on_the_floor():
    bed, weight = tub(), brimful_weight(tub())
    assert weight.per_area == pytest.approx(weight.total / 0.2294)
    wick = 0.15 * prismatoid(100)
    high = prismatoid(350) - prismatoid(100)
    pores = wick * bed.wick_mix.theta_s + high * bed.top_mix.theta_s
    above = prismatoid(380) - prismatoid(350)
    assert weight.water == pytest.approx(0.4 * 0.85 * prismatoid(100) + pores + above)
    assert weight.reservoir == pytest.approx(0.6 * 0.85 * prismatoid(100) * 2.65)


def test_upright_walls_are_exactly_as_without_floor_lengths():
    plain = bed_from_mapping(described())
    same = bed_from_mapping(
        described({"box.length_at_floor": "2 m", "box.width_at_floor": "0.6 m"})
    )
    heights = np.linspace(0, surface_height(plain), 57)
    for measure in (void_share, mix_share, open_store, mix_below):
        assert (measure(heights, plain) == measure(heights, same)).all()


def test_a_tub_goes_through_a_season(two_years):
    # run_season itself fails where water is made or lost; a straight box of the rim holds more.
    weather = read_weather(two_years)
    tapered, upright = (
        run_season(bed, weather, start="2022-05-01", end="2022-07-31")
        for bed in (tub(), tub(box__length_at_floor="700 mm", box__width_at_floor="450 mm"))
    )
    assert 1000 * 0.315 * float(tapered["capacity"].max()) == pytest.approx(6.469, abs=5e-4)
    assert float(tapered["refill"].sum()) > 0
    # Rain and demand are those of the same rim; what is held at the start is that of the mix.
    held, more = (float(run["mix_water"][0]) for run in (tapered, upright))
    assert held < 0.95 * more
    bed, z = tub(), (np.arange(4000) + 0.5) * 0.35 / 4000
    rest = water_content(np.maximum(z - 0.08, 0.0), bed.top_mix)
    below = water_content(np.maximum(z - 0.08, 0.0), bed.wick_mix)
    content = np.where(z < 0.1, below, rest) * mix_share(z, bed)
    assert held == pytest.approx(content.sum() * 0.35 / 4000, rel=0.03)


def test_text_and_back():
    bed = tub()
    assert bed_from_text(bed_text(bed)) == bed
    made = bed_from_mapping(described() | TUB)
    object.__setattr__(made, "source", None)
    assert bed_from_text(bed_text(made)).box == bed.box


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("box.length_at_floor", "80 cm", "at most 70 cm"),
        ("box.width_at_floor", "46 cm", "narrows upward is not modelled"),
        ("reservoir.form", "crates", "crates are upright"),
    ],
)
def test_what_is_refused(key, value, said):
    with pytest.raises(InputError, match=said):
        bed_from_mapping(with_value(described() | TUB, key, value))


def test_pipes_must_fit_the_floor():
    pipes = {"form": "pipes", "inside": "50 mm", "outside": "60 mm", "count": 7}
    with pytest.raises(InputError, match="37 cm wide"):
        bed_from_mapping(described() | TUB | {"reservoir": pipes})
    fits = bed_from_mapping(described() | TUB | {"reservoir": pipes | {"count": 6}})
    assert fits.reservoir.run == pytest.approx(0.62)
    with pytest.raises(InputError, match="longer than the box, 62 cm"):
        bed_from_mapping(described() | TUB | {"reservoir": pipes | {"run": "65 cm"}})
