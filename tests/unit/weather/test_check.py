"""Each check on both sides of its bound, on columns made for it."""

import numpy as np
import pytest

from bedtide.weather.check import drop_impossible, sky_errors, time_errors, value_errors
from bedtide.weather.et0 import saturation_pressure
from bedtide.weather.record import Column, Record

UNITS = {
    "rain": "mm",
    "wind_speed": "m/s",
    "vapour_pressure": "kPa",
    "rh_max": "%",
    "sunshine": "h",
}
SUNDAY = "2021-10-31"


def record(columns, *, start="2021-06-01", hours=False, rate=False):
    """A record of rows a day or an hour apart, its lines counted from 2; each column its values."""
    count = max(len(np.atleast_1d(values)) for values in columns.values())
    times = np.datetime64(start, "s") + np.arange(count) * np.timedelta64(1 if hours else 24, "h")
    made = {
        key: Column(
            key, UNITS.get(key, "degC"), np.full(count, values, dtype=np.float64), rate=rate
        )
        for key, values in columns.items()
    }
    return Record("g.csv", "plain table", times, np.arange(2, count + 2), made, daily=not hours)


def told(*given, accept=(), **more):
    return [error.text for error in value_errors(record(*given, **more), accept=accept)]


@pytest.mark.parametrize(
    ("key", "inside", "outside", "bounds"),
    [
        ("tmax", (-90.0, 60.0), (-90.1, 60.1), "between -90 and 60 degC"),
        ("dew_point", (-98.0, -99.5, -100.0), (-100.1, -99.9, -99.0), "between -100 and 40 degC"),
        ("rain", (0.0, 998.9, 998.5, 2000.0), (-0.1, 999.0, 999.9, 2000.1), "0 and 2000 mm"),
        ("wind_speed", (0.0, 75.0), (-0.1, 75.1), "between 0 and 75 m/s"),
        ("rh_max", (0.0, 100.0), (-1.0, 101.0), "between 0 and 100 %"),
    ],
)
def test_what_weather_on_earth_stays_within(key, inside, outside, bounds):
    for value in inside:
        assert told({key: value}) == []
    for value in outside:
        (text,) = told({key: value})
        assert f"g.csv, line 2, column {key}: {value:g}" in text
        assert f"{bounds}" in text


def test_radiation_of_an_hour_may_be_brighter_than_that_of_a_day():
    def of(watts, **more):
        return told({"solar_radiation": watts * 0.0864}, **more)  # 1 W/m2 is 0.0864 MJ/m2 a day

    assert of(1500.0, hours=True, rate=True) == []
    assert len(of(1501.0, hours=True, rate=True)) == 1
    assert len(of(1500.0, rate=True)) == 1
    assert len(of(1500.0, hours=True)) == 1  # 130 MJ/m2 in an hour
    assert told({"solar_radiation": 50.0}) == []


@pytest.mark.parametrize(
    "mark",
    [-9999.9, -9999, -999.9, -999, -99.9, -99, -8888, -6999, 99.99, 999, 999.9, 9999, 9999.9, 99999,
     32700, 32766],
)  # fmt: skip
def test_a_number_that_loggers_write_for_nothing_is_offered_as_that(mark):
    (text,) = told({"tmax": float(mark)})
    assert f'missing="{mark:g}"' in text
    for other in (mark * 1.001, mark * 0.999):
        assert all("missing=" not in text for text in told({"tmax": other}))


def test_a_mean_beside_both_extremes_is_passed_over_and_the_rest_looked_at():
    (text,) = told({"temperature": 70.0, "tmax": 20.0, "tmin": 10.0, "rain": -1.0})
    assert "column rain" in text
    assert len(told({"temperature": 70.0, "tmax": 20.0})) == 1


def test_dew_point_and_vapour_pressure_half_a_degree_above_the_warmest():
    for key, of in (("dew_point", float), ("vapour_pressure", saturation_pressure)):
        for warm in ("tmax", "temperature"):
            assert told({warm: 20.0, key: of(20.4)}) == []
            (text,) = told({warm: 20.0, key: of(20.6)})
            assert "does not agree with the other columns" in text
            assert "degrees F" not in text
    (text,) = told({"tmax": 20.0, "dew_point": 60.0})  # told once
    assert "is not possible" in text


def test_values_that_contradict_each_other_are_both_left_out_and_counted():
    days = record({"tmax": [20.0, 9.0, 20.0, 8.0], "tmin": 10.0, "rain": [-1.0, 0.0, 0.0, 0.0]})
    drop_impossible(days)
    for key in ("tmax", "tmin"):
        assert np.isnan(days.columns[key].values).tolist() == [False, True, False, True]
    assert np.isnan(days.columns["rain"].values).tolist() == [True, False, False, False]
    assert days.notes == [
        "Impossible values of rain in g.csv were left out: 1, the first on line 2.",
        "Impossible values of tmax in g.csv were left out: 2, the first on line 3.",
    ]


# columns as a whole ----------------------------------------------------------------------------


def test_three_hundred_days_of_zeros_are_refused_and_fewer_are_not():
    some = [1.0, 0.0]
    assert told({"rain": [*some, *np.zeros(298), *some]}) == []  # with the one before 299
    (text,) = told({"rain": [*some, *np.zeros(299), *some]})
    assert "line 3, column rain: every day from 2021-06-02 to 2022-03-28 is zero" in text
    assert "more stretches" not in text
    (text,) = told({"rain": [*some, *np.zeros(299), *some, *np.zeros(299), *some]})
    assert "line 3, column rain: every day from 2021-06-02 to 2022-03-28 is zero (and 1" in text


@pytest.mark.parametrize(
    ("column", "fewer", "enough"),
    [
        # (values, whether it is taken for something else)
        ({"rain": 1.0}, 29, 30),
        ({"tmax": 21.0}, 29, 30),
        ({"wind_speed": 10.1}, 299, 300),
    ],
)
def test_a_column_is_judged_from_so_many_days_on(column, fewer, enough):
    ((key, value),) = column.items()
    assert told({key: [value] * fewer}) == []
    assert len(told({key: [value] * enough})) == 1
    assert told({key: [value] * enough}, accept=["columns"]) == []


def test_means_and_shares_that_are_odd():
    assert told({"wind_speed": [9.9] * 300}) == []
    warm = np.tile([47.0, 48.8], 20)
    assert told({"tmax": warm}) == []  # a mean of 47.9 degC
    (text,) = told({"tmax": warm + 0.2})
    assert "has a mean of 48 degC" in text
    cold = np.tile([0.0, 5.0, 6.0, 7.0, 8.0], 10)  # a fifth of it 0
    assert told({"tmin": cold}) == []
    cold[1] = 0.0
    assert "is exactly 0 on 11 of 50 days" in told({"tmin": cold})[0]
    low = np.tile([5.0, 6.0], 20)
    dew = low + np.tile([0.4, 0.6], 20)  # above it, beyond rounding, on half of the days
    assert told({"tmax": low + 9.0, "tmin": low, "dew_point": dew}) == []
    dew[:8:2] += 0.2
    text = told({"tmax": low + 9.0, "tmin": low, "dew_point": dew})[0]
    assert "is above the lowest temperature on 60 % of the days" in text
    few = np.where(np.arange(40) < 29, 1.0, np.nan)  # too few to judge, and the next is judged
    assert "it should be rain" in told({"wind_speed": few, "rain": [1.0] * 40})[0]


# order and doubles -----------------------------------------------------------------------------


def doubled(start, hour, values=(1.0, 2.0)):
    """Three days of hours, one hour of which comes twice with these amounts of rain."""
    made = record({"rain": np.zeros(73)}, start=start, hours=True)
    made.times[hour + 1 :] -= np.timedelta64(1, "h")
    made.columns["rain"].values[hour : hour + 2] = values
    return made


@pytest.mark.parametrize(
    ("start", "hour", "wrong"),
    [
        (SUNDAY, 0, False), (SUNDAY, 1, False), (SUNDAY, 3, False),
        (SUNDAY, 4, True), (SUNDAY, 25, True),
        ("2021-10-30", 23, True), ("2021-10-30", 24, False),
    ],
)  # fmt: skip
def test_an_hour_comes_twice_when_clocks_are_put_back_on_a_sunday(start, hour, wrong):
    made = doubled(start, hour)
    errors = time_errors(made)
    assert len(errors) == wrong
    if wrong:
        assert f"first on line {hour + 2}" in errors[0].text
        assert f"line {hour + 3}" in errors[0].where
    assert not any("in order" in note for note in made.notes)
    assert len(time_errors(doubled("2021-11-02", hour))) == 1  # from a Tuesday to a Thursday


def test_of_two_days_that_come_twice_the_first_is_named():
    made = record({"rain": np.arange(8.0)})
    made.times[[4, 7]] = made.times[[3, 6]]
    (error,) = time_errors(made)
    assert error.where == "g.csv, line 6"
    assert "2021-06-04 is there twice, first on line 5 (also line 9)" in error.text


def test_clocks_are_put_back_once_in_half_a_year():
    for apart, wrong in ((7, True), (365, False)):
        first, second = doubled(SUNDAY, 2), doubled(SUNDAY, 2)
        second.times += np.timedelta64(apart if wrong else 364, "D")
        made = record({"rain": np.zeros(146)}, hours=True)
        made.times = np.concatenate([first.times, second.times])
        made.columns["rain"].values[[2, 3, 75, 76]] = 1.0, 2.0, 1.0, 2.0
        assert len(time_errors(made)) == wrong


def test_rows_that_are_the_same_are_taken_once_and_told():
    made = record({"tmax": [20.0, 20.0, 21.0, np.nan, np.nan], "rain": [1.0, 1.0, 2.0, 3.0, 3.0]})
    made.times[[1, 4]] = made.times[[0, 3]]
    assert time_errors(made) == []
    assert made.lines.tolist() == [2, 4, 5]
    assert made.notes == ["2 days came twice in g.csv with the same values."]


def test_days_from_last_to_first_are_told_from_those_in_no_order():
    for order, newest in ((np.arange(20)[::-1], True), (np.r_[10:20, 0:10], False)):
        made = record({"rain": np.arange(20.0)})
        made.select(order)
        assert time_errors(made) == []
        assert made.columns["rain"].values.tolist() == list(range(20))
        assert ("(newest first)" in made.notes[0]) is newest


# the sky ---------------------------------------------------------------------------------------


def test_no_more_light_than_the_sky_has():
    """FAO-56 example 8 (from memory): Ra is 32.2 MJ/m2 on 3 September at 20 degrees south."""
    for value, wrong in ((33.1, False), (33.3, True)):  # 1 MJ/m2 is let go
        made = record({"solar_radiation": [value]}, start="2021-09-03")
        errors = sky_errors(made, -20.0)
        assert len(errors) == wrong
        assert sky_errors(made, -20.0, drop=True) == []
        assert np.isnan(made.columns["solar_radiation"].values).all() == wrong
    assert "at most 32.2 MJ/m2 on that day" in errors[0].text


def test_no_more_sunshine_than_the_day_is_long():
    """FAO-56 example 9 (from memory): 11.7 hours of daylight on 3 September at 20 degrees south."""
    for value, wrong in ((12.6, False), (12.8, True)):
        made = record({"sunshine": [value]}, start="2021-09-03")
        errors = sky_errors(made, -20.0)
        assert len(errors) == wrong
        assert sky_errors(made, -20.0, accept=["sunshine"]) == []
    assert "12.8 h on 2021-09-03 is more than daylight at latitude -20" in errors[0].text
    assert "at most 11.7 h on that day" in errors[0].text
