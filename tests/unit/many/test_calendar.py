"""The calendar: the same answers as one stay at a time, told by the date of leaving."""

import datetime

import numpy as np
import pytest

from bedtide.errors import RangeError
from bedtide.many.leaving import away_calendar
from bedtide.many.stay import away
from bedtide.statistics import percentile
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather


@pytest.fixture(scope="module")
def record():
    whole = read_weather(samples_folder() / "brasaluz.csv")
    return whole.sel(time=slice("2001-01-01", "2013-12-31"))


def test_a_date_is_the_stay_from_that_date(record):
    bed = bed_with()
    calendar = away_calendar(bed, record)
    assert calendar.sizes["leave"] == 73
    for date in ("07-10", "05-01"):
        month, day = (int(part) for part in date.split("-"))
        stay = away(bed, record, datetime.date(2027, month, day), days=30, measures=[])
        row = calendar.sel(leave=date)
        both = np.intersect1d(stay["year"], row["year"][~np.isnan(row["days_lasted"])])
        assert both.size >= 12
        np.testing.assert_array_equal(
            stay["days_lasted"][0].values[np.isin(stay["year"], both)],
            row["days_lasted"].sel(year=both),
        )
        assert float(row["days_safe"]) == float(stay["days_safe"][0])


def test_what_the_record_lacks_is_missing_not_nought(record):
    calendar = away_calendar(bed_with(), record)
    january = calendar.sel(leave="01-01")
    assert np.isnan(january["days_lasted"].sel(year=2001))  # no thirty days before
    assert np.isnan(calendar["days_lasted"].sel(leave="12-27", year=2013))  # no sixty after
    assert int(january["case_count"]) == 12


def test_few_years_are_told_with_the_dates_around(record):
    part = record.sel(time=slice("2001-01-01", "2003-12-31"))
    calendar = away_calendar(bed_with(), part)
    assert calendar.attrs["independent_years"] == 3
    assert calendar.attrs["pooled_days"] == 10
    around = ["06-30", "07-05", "07-10", "07-15", "07-20"]
    cases = calendar["days_lasted"].sel(leave=around).values.reshape(-1)
    row = calendar.sel(leave="07-10")
    assert int(row["case_count"]) == 15
    assert float(row["days_safe"]) == np.floor(percentile(np.minimum(cases, 60), 0.1))


def test_a_lower_level_is_never_safe_for_longer(record):
    bed = bed_with()
    full, half = (away_calendar(bed, record, level=level) for level in (1.0, 0.5))
    known = ~np.isnan(full["days_safe"].values)
    assert known.sum() > 60
    assert (full["days_safe"].values[known] >= half["days_safe"].values[known]).all()
    # Case by case where plants stand. What seedlings get in a bed that lay dry for weeks hovers
    # about the limit for days, and a hair decides on which of them it first falls short.
    grown = slice("06-01", "08-31")
    more, less = (each["days_lasted"].sel(leave=grown).values for each in (full, half))
    told = ~np.isnan(more)
    assert told.sum() > 200
    assert (more[told] >= less[told]).all()
    assert (more[told] > less[told]).mean() > 0.9


def test_what_stands_in_the_bed():
    calendar = away_calendar(bed_with(), plain_weather("2021-01-01", 800))
    assert int(calendar["plantings_standing"].sel(leave="07-10")) == 1
    assert int(calendar["plantings_standing"].sel(leave="02-05")) == 0


def test_full_dates_belong_to_the_year_of_the_latest_planting(record):
    part = record.sel(time=slice("2001-01-01", "2002-12-31"))
    yearly = away_calendar(bed_with(), part)
    dated = away_calendar(bed_with({"planting.0.planted": "2027-05-10"}), part)
    summer = slice("04-01", "09-28")
    np.testing.assert_array_equal(
        yearly["days_lasted"].sel(leave=summer), dated["days_lasted"].sel(leave=summer)
    )


def test_bad_input():
    with pytest.raises(RangeError, match="level"):
        away_calendar(bed_with(), plain_weather("2021-01-01", 400), level=1.5)
    with pytest.raises(RangeError, match="none of its years has 30 days before"):
        away_calendar(bed_with(), plain_weather("2021-01-01", 80))
