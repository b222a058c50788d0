"""Refills, against days and litres counted by hand."""

import numpy as np
import pytest
import xarray as xr

from bedtide.readings import days_to_refill, refills
from helpers.seasons import bucket_year, by_hand, drought_by_hand


def poured_on(start: str, days: int, when: list[str]) -> xr.Dataset:
    """A run that holds refills alone: 10 mm on each of the dates, everything else nothing."""
    season = bucket_year(start, days=days, refill=False)
    season["refill"] = xr.where(season.time.isin(np.array(when, "M8[ns]")), 0.010, 0.0)
    return season


def test_refills_counted_by_hand():
    found = refills(by_hand())
    assert int(found["refill_count"]) == 2
    assert float(found["refill_volume"]) == pytest.approx(0.080)  # 26 and 14 mm on 2 m2
    assert float(found["refill_each"]) == pytest.approx(0.040)  # between 52 and 28 L
    assert float(found["interval_median"]) == 5
    assert float(found["first_refill"]) == 5
    assert (int(found["first_month"]), int(found["last_month"])) == (6, 7)
    # rain kept 45 - 19 mm, refills 40 mm
    assert float(found["rain_share"]) == pytest.approx(26 / 66)


def test_no_refill_has_no_interval_and_no_first_day():
    season = by_hand()
    season["refill"] = season["refill"] * 0
    found = refills(season)
    assert int(found["refill_count"]) == 0
    assert float(found["refill_volume"]) == 0
    assert int(found["first_month"]) == int(found["last_month"]) == 0
    for name in ("interval_median", "interval_p10", "interval_p90", "first_refill", "refill_each"):
        assert np.isnan(float(found[name])), name
    assert np.isnan(days_to_refill(season)).all()


def test_one_refill_has_a_first_day_and_no_interval():
    found = refills(drought_by_hand())
    assert int(found["refill_count"]) == 1
    assert float(found["first_refill"]) == 4
    assert int(found["interval_count"]) == 0
    assert np.isnan(float(found["interval_median"]))


def test_percentiles_stand_at_i_over_n_plus_1():
    # 20 refills, intervals 1 to 19 days: 19 of them, so the 10th percentile is the 2nd smallest
    gaps = np.arange(1, 20)
    days = np.concatenate([[0], np.cumsum(gaps)])
    when = [str(np.datetime64("2023-04-01") + day) for day in days]
    found = refills(poured_on("2023-04-01", 200, when))
    assert float(found["interval_count"]) == 19
    assert float(found["interval_p10"]) == pytest.approx(2.0)
    assert float(found["interval_median"]) == pytest.approx(10.0)
    assert float(found["interval_p90"]) == pytest.approx(18.0)


def test_rain_share_is_missing_where_nothing_was_kept():
    season = drought_by_hand()
    season["refill"] = season["refill"] * 0
    assert np.isnan(float(refills(season)["rain_share"]))


def test_a_refill_that_runs_over_does_not_count_as_rain():
    season = drought_by_hand()
    season["overflow"] = season["refill"]
    assert float(refills(season)["rain_share"]) == 0


@pytest.mark.parametrize(
    ("start", "when", "months", "intervals"),
    [
        # north: the winter between two summers is no interval
        (
            "2021-01-01",
            ["2021-05-01", "2021-06-10", "2021-09-30", "2022-05-05", "2022-06-04"],
            (5, 9),
            [40, 112, 30],
        ),
        # south, one calendar year: the filling season spans the new year
        (
            "2022-01-01",
            ["2022-01-10", "2022-02-20", "2022-10-15", "2022-12-24"],
            (10, 2),
            [41, 70],
        ),
        # refills all the year round: every interval counts
        (
            "2021-01-01",
            ["2021-01-05", "2021-04-05", "2021-07-04", "2021-10-02", "2022-01-10"],
            (1, 12),
            [90, 90, 90, 100],
        ),
        ("2021-01-01", ["2021-07-01", "2021-07-11"], (7, 7), [10]),
        # of two stretches as long as one another the first of the year counts
        ("2021-01-01", ["2021-01-15", "2021-07-14", "2022-01-10"], (7, 1), [180]),
        # three months are enough to make a break, two are not
        (
            "2021-01-01",
            [f"2021-{month:02d}-01" for month in (1, 5, 6, 7, 8, 9, 10, 11, 12)],
            (5, 1),
            [31, 30, 31, 31, 30, 31, 30],
        ),
        # a filling season that opens in December
        ("2021-01-01", ["2021-12-10", "2022-01-09"], (12, 1), [30]),
        # a break that ends with the year, and one that begins with it
        (
            "2021-01-01",
            ["2021-01-05", "2021-04-05", "2021-07-05", "2021-09-05"],
            (1, 9),
            [90, 91, 62],
        ),
        (
            "2021-01-01",
            ["2021-04-05", "2021-07-05", "2021-10-05", "2021-12-05"],
            (4, 12),
            [91, 92, 61],
        ),
    ],
)
def test_filling_season(start, when, months, intervals):
    season = poured_on(start, 730, when)
    found = refills(season)
    assert (int(found["first_month"]), int(found["last_month"])) == months
    assert int(found["interval_count"]) == len(intervals)
    assert float(found["interval_median"]) == pytest.approx(np.median(intervals))


def test_days_to_refill_counts_down_to_zero_and_ends_missing():
    left = days_to_refill(by_hand()).values
    np.testing.assert_array_equal(left, [5, 4, 3, 2, 1, 0, 4, 3, 2, 1, 0, np.nan])


def test_days_to_refill_of_each_bed_are_its_own():
    later = by_hand()
    later["refill"] = later["refill"].roll(time=1, roll_coords=False)
    both = days_to_refill(xr.concat([by_hand(), later], "bed"))
    xr.testing.assert_equal(both.isel(bed=0), days_to_refill(by_hand()))
    xr.testing.assert_equal(both.isel(bed=1), days_to_refill(later))
