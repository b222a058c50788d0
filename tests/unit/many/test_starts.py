"""Which days of a record are started from, what stands in the bed then, and its stores."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from bedtide.balance import run_many
from bedtide.bed import Watering
from bedtide.many.leaving import SPIN_UP, eve_of, standing, starts_of
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)


def test_every_year_that_has_the_days_before_and_after():
    starts = starts_of(plain_weather("2000-07-01", 4400), DAY, days=16, horizon=45)
    # the first year has only 9 days before, the last ends in July 2012
    assert starts.independent == 11
    assert starts.dates[0] == datetime.date(2001, 7, 10)
    assert starts.spin_up == SPIN_UP
    assert starts.horizon == 45


def test_a_short_record_shortens_what_comes_before_and_after():
    starts = starts_of(plain_weather("2003-07-01", 40), DAY, days=16, horizon=45)
    assert starts.spin_up == 9
    assert starts.horizon == 31
    assert starts.dates[0] == datetime.date(2003, 7, 10)
    assert (starts.offsets >= 0).all(), "a neighbour before it has fewer days before"


def test_a_year_of_filled_gaps_is_left_out_by_name():
    weather = plain_weather("2001-01-01", 12 * 365 + 3)
    filled = np.zeros(weather.sizes["time"], dtype=bool)
    times = weather["time"].values
    filled[(times >= np.datetime64("2005-07-10")) & (times < np.datetime64("2005-07-12"))] = True
    weather["filled"] = ("time", filled)
    starts = starts_of(weather, DAY, days=16, horizon=45)
    assert starts.gaps == (2005,)
    assert 2005 not in starts.years
    assert starts_of(weather, DAY, days=20, horizon=45).gaps == ()  # 2 of 20 is a tenth


def test_gaps_in_the_first_days_of_a_record_count_too():
    """Of 16 days from 10 July two are filled, an eighth; the record begins on that day."""
    weather = plain_weather("2001-07-10", 12 * 365)
    weather["filled"].values[[0, 7]] = True
    assert starts_of(weather, DAY, days=16, horizon=45).gaps == (2001,)
    weather["filled"].values[0] = False
    assert starts_of(weather, DAY, days=16, horizon=45).gaps == ()  # a sixteenth


def test_each_neighbour_lies_its_days_from_the_date_of_leaving():
    starts = starts_of(plain_weather("2001-01-01", 730), DAY, days=16, horizon=45)
    for date, year, offset in zip(starts.dates.tolist(), starts.years, starts.offsets, strict=True):
        assert (date - DAY.replace(year=int(year))).days == offset
    assert sorted(set(starts.offsets.tolist())) == [-10, -5, 0, 5, 10]


def test_a_record_from_the_day_after_leaving_lacks_that_year():
    for first, year in (("2001-07-10", 2001), ("2001-07-11", 2002)):
        starts = starts_of(plain_weather(first, 800), DAY, days=16, horizon=45)
        assert starts.dates[0] == datetime.date(year, 7, 10)
        assert starts.spin_up == (0 if year == 2001 else 30)


def test_a_crop_stands_from_its_planting_to_its_last_day():
    """Tomato from 10 May: 30 + 40 + 45 + 30 days, the last of them 1 October."""
    bed = planted(planted="05-10")
    for month, day, stands in ((5, 9, False), (5, 10, True), (10, 1, True), (10, 2, False)):
        assert bool(standing(bed, datetime.date(2027, month, day))) is stands


@pytest.mark.parametrize("before", [0, 1, 2, 30])
def test_a_bed_that_is_filled_every_morning_is_topped_up_already(before):
    """Its last fill is that of the eve, whatever came before: rain two days ago, and on the eve."""
    bed = planted(planted="05-10")
    bed = replace(bed, watering=Watering("below share", share=1.0))
    rain = {"2001-07-08": 4.0, "2001-07-09": 9.0, "2001-07-10": 40.0}
    weather = plain_weather(f"{DAY.replace(year=2001) - datetime.timedelta(days=before)}", 300,
                            rain_mm={day: mm for day, mm in rain.items()
                                     if day >= f"2001-07-{10 - min(before, 9):02}"})  # fmt: skip
    starts = starts_of(weather, DAY, days=16, horizon=45)
    starts = starts._replace(dates=starts.dates[:1])
    assert starts.spin_up == before
    own, topped = (eve_of([bed], weather, starts, topped=each) for each in (False, True))
    for one, other in zip(own, topped, strict=True):
        np.testing.assert_array_equal(one, other)
    start = DAY.replace(year=2001) - datetime.timedelta(days=before)
    run = run_many([bed], weather, [start], days=max(before, 1))
    for one, other in zip(own, run.end if before else run.start, strict=True):
        np.testing.assert_array_equal(one, other)


def planted(**keys):
    return bed_with({"planting": [{"crop": "tomato", "area_share": "60 %", **keys}]})
