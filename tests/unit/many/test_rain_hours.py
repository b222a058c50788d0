"""Rain that is put into a record by the hour, and records that are changed in other ways."""

import datetime

import numpy as np

from bedtide.many import Wanted, place_spells, wet_spells
from bedtide.many.measures import shaded_weather
from bedtide.many.spells import with_rain
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

EVEN = [0.0] * 9 + [1 / 6] * 6 + [0.0] * 9  # from 9 to 15 h


def by_the_hour(days=30):
    """All of the rain of every third day from 16 to 17 h."""
    start = np.datetime64("2023-06-01")
    wet = {str(start + np.timedelta64(day, "D")): 30.0 for day in range(0, days, 3)}
    record = plain_weather("2023-06-01", days, rain_mm=wet)
    hours = np.zeros((days, 24))
    hours[::3, 16] = 1.0
    record["rain_hours"] = (("time", "hour"), hours, {"units": "1"})
    return record


def test_days_of_stated_rain_have_the_usual_hours():
    record = by_the_hour()
    changed = with_rain(record, datetime.date(2023, 6, 9), Wanted(4, 0.020))
    np.testing.assert_array_equal(changed["rain"][8:12], [0.020] * 4)
    np.testing.assert_allclose(changed["rain_hours"][8:12], [EVEN] * 4, rtol=1e-14)
    for part in (slice(0, 8), slice(12, 30)):
        np.testing.assert_array_equal(changed["rain_hours"][part], record["rain_hours"][part])
    assert changed["rain_hours"].attrs == {"units": "1"}
    # the record itself is left as it was
    np.testing.assert_array_equal(record["rain_hours"][9], by_the_hour()["rain_hours"][9])


def test_stated_rain_gives_a_daily_record_no_hours():
    record = by_the_hour().drop_vars("rain_hours")
    assert "rain_hours" not in with_rain(record, datetime.date(2023, 6, 9), Wanted(4, 0.020))


def test_a_stated_spell_is_the_same_in_a_daily_record_and_in_one_by_the_hour():
    # all days but those of the spell are dry, so that nothing else tells the two apart
    daily = plain_weather("2023-06-01", 40)
    hourly = daily.assign(rain_hours=(("time", "hour"), np.zeros((40, 24))))
    first = datetime.date(2023, 6, 10)
    spells = [
        wet_spells([bed_with()], place_spells([bed_with()], each, [Wanted(5, 0.030)], first=first))
        for each in (daily, hourly)
    ]
    assert float(spells[0]["rain"].max()) == 0.030
    np.testing.assert_allclose(spells[0]["level"], spells[1]["level"], atol=1e-7)


def test_a_shade_cloth_leaves_the_hours_as_they_were():
    record = by_the_hour()
    np.testing.assert_array_equal(shaded_weather(record, 0.5)["rain_hours"], record["rain_hours"])
