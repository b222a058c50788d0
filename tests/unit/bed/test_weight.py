"""Weight and mix of a bed by hand."""

import math

import pytest

from bedtide.bed import brimful_weight, mix_volume
from bedtide.mix import medium
from helpers.beds import bed_with, layered


def test_weight_of_a_bed_on_pipes_by_hand():
    bed = bed_with()  # 2 m x 0.6 m x 0.42 m, 3 cm freeboard, four pipes 10/12 cm, 2 m long
    pipes, outer, inner = 4 * 2.0, math.pi * 0.06**2, math.pi * 0.05**2
    low_mix = 1.2 * 0.12 - pipes * outer
    high_mix = 1.2 * 0.27
    peat, potting = medium("peat"), medium("potting mix")
    water = 1000 * (
        pipes * inner + low_mix * peat.theta_s + high_mix * potting.theta_s + 1.2 * 0.03
    )
    mix = low_mix * peat.bulk_density + high_mix * potting.bulk_density
    walls = 1000 * pipes * (outer - inner)
    found = brimful_weight(bed)
    assert found.water == pytest.approx(water)
    assert found.mix == pytest.approx(mix)
    assert found.reservoir == pytest.approx(walls)
    assert found.total == pytest.approx(water + mix + walls)
    assert found.per_area == pytest.approx((water + mix + walls) / 1.2)
    assert mix_volume(bed) == pytest.approx(low_mix + high_mix)


@pytest.mark.parametrize(("form", "density"), [("stone", 2650), ("crates", 1000)])
def test_what_is_neither_void_nor_mix_weighs_what_it_is_made_of(form, density):
    bed = layered(form, void_share="40 %")  # 15 cm high, a tenth of it legs of mix
    assert brimful_weight(bed).reservoir == pytest.approx(1.2 * 0.15 * 0.9 * 0.6 * density)


def test_a_full_light_bed_weighs_what_guides_calculate():
    """300 mm of mix at 1.0 to 1.3 kg/L on 120 mm of pipes: 425 to 515 kg/m2.

    Handbook arithmetic with bulk densities of saturated mix from common practice, no source; ours
    has 270 mm and 30 mm of water on it, so that it stands at the low end.
    """
    assert 380 < brimful_weight(bed_with()).per_area < 515
