"""The hours in which rain falls: a storm floods a fine soil, the same rain spread out does not."""

import datetime

import numpy as np
import pytest

from bedtide import run_many
from bedtide.balance import season_dataset
from bedtide.errors import RangeError
from bedtide.weather import usual_rain_hours
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

START, STORM = "2023-06-01", 2
# Saturated clay loam passes 62.4 mm a day, or 2.6 mm an hour. 40 mm in two hours is eight times
# that, over 24 hours 1.7 mm an hour. 10 mm can stand on it.
RAIN, FREEBOARD = 0.040, 0.010
BED = bed_with({"mix.top.medium": "topsoil clay loam", "box.freeboard": "1 cm"})


def weather(hours=None, days=4):
    record = plain_weather(START, days, et0_mm=0.0, rain_mm={"2023-06-03": RAIN * 1000})
    if hours is not None:
        rows = np.zeros((days, 24))
        rows[STORM] = hours
        record["rain_hours"] = (("time", "hour"), rows)
    return record


def run(record):
    return run_many([BED], record, [datetime.date(2023, 6, 1)], days=record.sizes["time"])


def share(*hours):
    row = np.zeros(24)
    row[list(hours)] = 1.0 / len(hours)
    return row


def test_a_storm_of_two_hours_spills_and_a_day_of_drizzle_does_not():
    storm = run(weather(share(16, 17))).series
    drizzle = run(weather(share(*range(24)))).series
    spilt = storm.rim_spill[STORM, 0]
    # what stands up to the rim stays; the soil takes in something
    assert 0.0 < spilt < RAIN - FREEBOARD
    assert drizzle.rim_spill.max() == 0.0
    assert storm.rim_spill.sum() == spilt


def test_rain_late_in_the_day_still_stands_in_the_evening():
    early, late = (run(weather(share(hour))).series for hour in (0, 23))
    # an hour after midnight 10 mm stand at the most, and 23 hours take in more than that
    assert early.standing_water[STORM, 0] == pytest.approx(0.0, abs=1e-5)
    # in its last hour it falls faster than the soil takes it, so the rim is reached
    assert late.standing_water[STORM, 0] == pytest.approx(FREEBOARD, abs=1e-9)


def test_the_usual_hours_are_those_of_a_record_that_has_none():
    none = run(weather()).series
    usual = run(weather(usual_rain_hours(1)[0])).series
    # The level of the storm's evening is at the lip or at the surface: pipes just full and clay
    # soaked through are a rounding apart.
    for name in set(none._fields) - {"level"}:
        np.testing.assert_allclose(getattr(none, name), getattr(usual, name), atol=1e-9)
    other = run(weather(share(16, 17))).series
    assert np.abs(other.mix_water - none.mix_water).max() > 5e-5


def test_rain_whose_hours_are_not_known_falls_in_the_usual_ones():
    unknown, usual = run(weather(np.zeros(24))), run(weather(usual_rain_hours(1)[0]))
    np.testing.assert_array_equal(unknown.series.mix_water, usual.series.mix_water)
    dataset = season_dataset(unknown, weather(np.zeros(24)))
    assert dataset.attrs["balance_error"] < 1e-9


def test_hours_that_hold_more_or_less_than_the_rain_are_refused():
    for wrong in (share(16) * 0.5, share(16) * 2.0):
        with pytest.raises(RangeError, match="2023-06-03 add to") as caught:
            run(weather(wrong))
        assert "add to 1" in caught.value.expected


def test_the_hours_of_each_start_are_those_of_its_days():
    record = weather(share(16, 17), days=6)
    record["rain_hours"][STORM + 1] = share(*range(24))
    record["rain"][STORM + 1] = RAIN
    starts = [datetime.date(2023, 6, day) for day in (1, 2)]
    series = run_many([BED], record, starts, days=5).series
    # the storm is day 2 of the first and day 1 of the second
    assert series.rim_spill[STORM, 0] > 0.0
    assert series.rim_spill[STORM - 1, 1] > 0.0
    assert series.rim_spill[STORM - 2, 1] == 0.0
