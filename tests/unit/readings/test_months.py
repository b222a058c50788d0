"""Readings by month, counted by hand; and their sums, which are those of the run."""

import numpy as np
import pytest

from bedtide.readings import (
    by_month,
    by_month_of_year,
    dryness,
    refills,
    water_account,
    wetness,
)
from helpers.seasons import bucket_year, by_hand, drought_by_hand


def test_two_months_counted_by_hand():
    found = by_month(by_hand())
    assert found["month"].dt.strftime("%Y-%m").values.tolist() == ["2023-06", "2023-07"]
    assert found["days"].values.tolist() == [6, 6]
    assert found["refill_count"].values.tolist() == [1, 1]
    np.testing.assert_allclose(found["refill_volume"], [0.052, 0.028])
    np.testing.assert_allclose(found["rain_total"], [0.010, 0.035])
    np.testing.assert_allclose(found["overflow_total"], [0, 0.019])
    assert found["wet_days"].values.tolist() == [1, 2]
    # the only interval ends in July
    assert found["interval_count"].values.tolist() == [0, 1]
    np.testing.assert_array_equal(found["interval_median"], [np.nan, 5])


def test_dry_days_by_month():
    found = by_month(drought_by_hand())
    assert found["empty_days"].values.tolist() == [2]
    assert found["wick_days"].values.tolist() == [1]


def test_months_add_up_to_the_run():
    season = bucket_year("2022-11-10", days=500)
    found = by_month(season).sum("month")
    assert int(found["days"]) == 500
    assert int(found["refill_count"]) == int(refills(season)["refill_count"])
    assert int(found["wet_days"]) == int(wetness(season)["wet_days"])
    assert int(found["empty_days"]) == int(dryness(season)["empty_days"])
    account = water_account(season)
    for name in ("rain_total", "transpiration_total", "evaporation_total", "overflow_total"):
        assert float(found[name]) == pytest.approx(float(account[name])), name


def test_mean_year_of_two_equal_years_is_that_year():
    season = bucket_year("2021-01-01", days=730)
    season["rain"][:] = 0.001
    season["refill"][:] = 0.0
    season["refill"][:365:5] = 0.01
    found = by_month_of_year(season)
    assert found["month"].values.tolist() == list(range(1, 13))
    np.testing.assert_allclose(
        found["rain_total"] * 1000, [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    )
    # refills on every 5th day of one of the two years: 7 of them in January, half a mean of 7
    assert float(found["refill_count"][0]) == pytest.approx(3.5)
    assert float(found["interval_median"][6]) == 5


def test_mean_year_lacks_months_that_the_run_lacks():
    found = by_month_of_year(by_hand())
    assert np.isnan(found["rain_total"][0])
    # six of the thirty days of June hold 10 mm: a whole June at that rate holds 50 mm
    assert float(found["rain_total"][5]) == pytest.approx(0.050)
    assert int(found["interval_count"][0]) == 0


def test_intervals_of_a_month_are_those_that_end_in_it():
    season = bucket_year("2023-05-01", days=61, refill=False)
    for day in (0, 2, 5, 13, 33):  # gaps of 2, 3 and 8 days end in May, one of 20 in June
        season["refill"][day] = 0.01
    found = by_month(season)
    assert found["interval_count"].values.tolist() == [3, 1]
    assert found["interval_shortest"].values.tolist() == [2, 20]
    assert found["interval_median"].values.tolist() == [3, 20]
    assert found["interval_longest"].values.tolist() == [8, 20]
