"""Rainy spells: how they are written, found and put into a record."""

import datetime

import numpy as np
import pytest

from bedtide.errors import ChoiceError, InputError, RangeError, UnitError
from bedtide.many import wet_spells
from bedtide.many.measures import shaded_weather
from bedtide.many.spells import Wanted, parse_spells, place_spells, wettest_spell, with_rain
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather

RAIN = {
    "2021-02-01": 90.0,  # before anything grows
    "2021-06-10": 20.0,
    "2021-06-12": 25.0,
    "2021-07-01": 40.0,
    "2021-09-25": 60.0,  # plants stand until 2 October, less than a week more
}


@pytest.fixture
def weather():
    return plain_weather("2021-01-01", 365, rain_mm=RAIN)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("7 days", [Wanted(7)]),
        ("7", [Wanted(7)]),
        ("1 day", [Wanted(1)]),
        ("3, 7, 14 days", [Wanted(3), Wanted(7), Wanted(14)]),
        ("3,3", [Wanted(3)]),
        ("10 days of 20 mm", [Wanted(10, 0.02)]),
        ("10 days of 20 mm a day", [Wanted(10, 0.02)]),
        ("3 x 2 in", [Wanted(3, 0.0508)]),
    ],
)
def test_spells_as_people_write_them(text, expected):
    assert parse_spells(text) == expected


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("bed.toml", ChoiceError, '"bed.toml" is not a rainy spell'),
        ("a week", ChoiceError, "is not a rainy spell"),
        ("", ChoiceError, "is not a rainy spell"),
        ("-3 days", ChoiceError, "is not a rainy spell"),
        ("0 days", RangeError, "from 1 to 60 days"),
        ("400 days", RangeError, "from 1 to 60 days"),
        ("10 days of 20", UnitError, "no unit"),
        ("10 days of -20 mm", RangeError, "no rain that could be"),
        ("10 days of 9 m", RangeError, "more than 0 mm and at most 500 mm a day"),
        ("ten days of 20 mm", ChoiceError, "is not a rainy spell"),
    ],
)
def test_what_is_no_spell(text, kind, message):
    with pytest.raises(kind) as found:
        parse_spells(text)
    assert message in str(found.value)
    assert "--wet-spell" in str(found.value)


def test_the_wettest_stretch_by_hand(weather):
    assert wettest_spell(weather, 1).first == datetime.date(2021, 2, 1)
    growing = np.zeros(365, bool)
    growing[129:275] = True
    found = wettest_spell(weather, 3, among=growing)
    assert found.first == datetime.date(2021, 9, 23)  # the first of the three that hold the 60 mm
    assert found.rain == pytest.approx(0.06)


def test_a_spell_is_looked_for_while_plants_stand_and_a_week_more(weather):
    """Tomatoes from 10 May for 145 days, to 1 October."""
    three, one = place_spells([bed_with()], weather, [Wanted(3), Wanted(1)])
    assert three.spell.first == datetime.date(2021, 6, 10)
    assert three.spell.rain == pytest.approx(0.045)
    assert one.spell.first == datetime.date(2021, 7, 1)
    assert not three.spell.stated


@pytest.mark.parametrize(("day", "first"), [("09-24", "2021-09-24"), ("09-25", "2021-06-10")])
def test_plants_stand_for_seven_days_after_it(day, first):
    """The last day with roots is 1 October: a week after 24 September, and no more."""
    record = plain_weather("2021-01-01", 365, rain_mm={"2021-06-10": 5.0, f"2021-{day}": 60.0})
    (found,) = place_spells([bed_with()], record, [Wanted(1)])
    assert str(found.spell.first) == first


def test_in_a_bare_bed_it_is_looked_for_all_the_year(weather):
    (found,) = place_spells([bed_with({"planting": []})], weather, [Wanted(1)])
    assert found.spell.first == datetime.date(2021, 2, 1)


def test_a_stated_spell_takes_the_place_of_the_wettest(weather):
    (found,) = place_spells([bed_with()], weather, [Wanted(3, 0.02)])
    rain = found.weather["rain"].sel(time=slice("2021-06-09", "2021-06-13")).to_numpy()
    np.testing.assert_allclose(rain, [0, 0.02, 0.02, 0.02, 0])
    assert found.spell.stated
    assert found.spell.rain == pytest.approx(0.06)
    assert float(weather["rain"].sel(time="2021-06-11")) == 0  # the record itself is untouched


def test_a_stated_spell_needs_no_rain_in_the_record():
    dry = plain_weather("2021-01-01", 365)
    (found,) = place_spells([bed_with()], dry, [Wanted(5, 0.03)])
    assert float(found.weather["rain"].sum()) == pytest.approx(0.15)
    assert found.spell.first == datetime.date(2021, 7, 2)  # the middle of the year


def test_a_day_may_be_given(weather):
    day = datetime.date(2021, 8, 1)
    recorded, stated = place_spells([bed_with()], weather, [Wanted(4), Wanted(4, 0.01)], first=day)
    assert recorded.spell.first == stated.spell.first == day
    assert recorded.spell.rain == 0
    assert stated.spell.rain == pytest.approx(0.04)


@pytest.mark.parametrize(
    ("wanted", "first"),
    [
        (Wanted(7), datetime.date(2020, 12, 31)),
        (Wanted(7), datetime.date(2021, 12, 28)),
        (Wanted(7, 0.02), datetime.date(2022, 1, 1)),
    ],
)
def test_a_day_outside_the_record(weather, wanted, first):
    with pytest.raises(RangeError, match="not all in the weather record") as found:
        place_spells([bed_with()], weather, [wanted], first=first)
    assert "days from 2021-01-01 to 2021-12-31" in str(found.value)


def test_rain_put_outside_the_record(weather):
    with pytest.raises(RangeError, match="not all in the weather record"):
        with_rain(weather, datetime.date(2021, 12, 30), Wanted(3, 0.01))


@pytest.mark.parametrize("wanted", [Wanted(3), Wanted(60, 0.01)])
def test_a_record_that_has_no_such_stretch(wanted):
    with pytest.raises(InputError):
        place_spells([bed_with()], plain_weather("2021-06-01", 20), [wanted])


# --- rain by the hour -------------------------------------------------------------------------

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
