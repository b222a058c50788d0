"""Lip by day, flow through an outlet, weight and mix of a bed, by hand."""

import datetime
import math

import numpy as np
import pytest

from bedtide.bed import brimful_weight, lip_on, mix_volume, outlet_flow
from bedtide.mix import medium
from helpers.beds import bed_with, layered


def _lips(overflow, *days):
    return lip_on(np.array(days, dtype="datetime64[D]"), overflow).tolist()


def test_one_height_all_year():
    assert _lips(bed_with().overflow, "2001-01-01", "2001-07-01") == [0.09, 0.09]


@pytest.mark.parametrize("state", ["blocked", "none"])
def test_nothing_leaves(state):
    overflow = bed_with({"overflow.state": state}).overflow
    assert _lips(overflow, "2001-01-01") == [np.inf]


def test_no_outlet_needs_no_height():
    overflow = bed_with({"overflow": {"state": "none"}}).overflow
    assert overflow.height is None
    assert _lips(overflow, "2001-01-01") == [np.inf]


def test_centre_and_bore():
    # Centre at 10 cm, bore 2 cm: lower lip at 9 cm.
    overflow = bed_with({"overflow": {"centre": "10 cm", "bore": "2 cm"}}).overflow
    assert overflow.height == pytest.approx(0.09)
    assert overflow.bore == pytest.approx(0.02)


def test_elbow_down_over_the_new_year():
    change = {"from": "10-15", "to": "04-15", "height": "4 cm"}
    overflow = bed_with({"overflow.change": [change]}).overflow
    assert _lips(
        overflow, "2001-10-14", "2001-10-15", "2001-12-31", "2002-01-01", "2002-04-14", "2002-04-15"
    ) == [0.09, 0.04, 0.04, 0.04, 0.04, 0.09]


def test_every_year_alike_wherever_the_record_begins():
    change = {"from": "06-01", "to": "09-01", "centre": "6 cm"}
    overflow = bed_with({"overflow.bore": "2 cm", "overflow.change": [change]}).overflow
    for year in (1960, 2000, 2027):
        assert _lips(
            overflow, f"{year}-05-31", f"{year}-06-01", f"{year}-08-31", f"{year}-09-01"
        ) == (pytest.approx([0.09, 0.05, 0.05, 0.09]))


def test_two_changes_go_round_the_year():
    changes = [{"from": "04-15", "height": "10 cm"}, {"from": "10-15", "height": "4 cm"}]
    overflow = bed_with({"overflow.change": changes}).overflow
    assert _lips(overflow, "2001-01-01", "2001-04-15", "2001-10-15") == [0.04, 0.10, 0.04]


def test_a_full_date_stays():
    changes = [{"from": datetime.date(2027, 10, 15), "height": "4 cm"}]
    overflow = bed_with({"overflow.change": changes}).overflow
    assert _lips(overflow, "2027-10-14", "2027-10-15", "2031-07-01") == [0.09, 0.04, 0.04]


def test_full_dates_with_an_end():
    changes = [{"from": "2027-10-15", "to": "2028-04-15", "height": "4 cm"}]
    overflow = bed_with({"overflow.change": changes}).overflow
    assert _lips(overflow, "2027-10-14", "2028-04-14", "2028-04-15") == [0.09, 0.04, 0.09]


def test_leap_day():
    changes = [{"from": "02-28", "to": "03-01", "height": "4 cm"}]
    overflow = bed_with({"overflow.change": changes}).overflow
    assert _lips(overflow, "2004-02-28", "2004-02-29", "2004-03-01") == [0.04, 0.04, 0.09]


def test_shape_and_order_of_days_do_not_matter():
    changes = [{"from": "06-01", "to": "09-01", "height": "4 cm"}]
    overflow = bed_with({"overflow.change": changes}).overflow
    days = np.arange("2001-05-30", "2001-06-03", dtype="datetime64[D]")
    np.testing.assert_array_equal(lip_on(days[::-1], overflow), lip_on(days, overflow)[::-1])
    assert lip_on(days.reshape(2, 2), overflow).shape == (2, 2)


def per_minute(head: float, bore: float) -> float:
    return float(outlet_flow(head, bore)) * 1000 / 1440


@pytest.mark.parametrize(("bore", "litres"), [(0.013, 3.3), (0.019, 7.1), (0.025, 12.4)])
def test_usual_fittings_under_25_mm_of_water(bore, litres):
    """0.6 times area times the root of 2 g h; worked with a pocket calculator, from memory."""
    assert per_minute(0.025, bore) == pytest.approx(litres, abs=0.05)


def test_flow_goes_with_the_root_of_the_head_and_the_square_of_the_bore():
    assert per_minute(0.4, 0.02) == pytest.approx(2 * per_minute(0.1, 0.02))
    assert per_minute(0.1, 0.04) == pytest.approx(4 * per_minute(0.1, 0.02))
    by_hand = 0.6 * math.pi * 0.01**2 * math.sqrt(2 * 9.80665 * 0.1) * 60_000
    assert per_minute(0.1, 0.02) == pytest.approx(by_hand)


def test_without_water_above_it_nothing_runs():
    np.testing.assert_array_equal(outlet_flow([0.0, -0.1], 0.02), [0.0, 0.0])


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
