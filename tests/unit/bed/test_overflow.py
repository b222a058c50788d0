"""The overflow's lip by day."""

import datetime

import numpy as np
import pytest

from bedtide.bed import lip_on
from helpers.beds import bed_with


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
