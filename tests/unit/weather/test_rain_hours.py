"""The hours of rain: kept from rows of an hour or less, stated where only the day is known."""

import numpy as np
import pytest

from bedtide.weather import read_weather, usual_rain_hours
from bedtide.weather.join import join_records
from bedtide.weather.record import Column, Record

HEAD = "# latitude: 48\n# elevation: 0\n"
AMOUNTS = "time,temp (C),rain (mm)\n"
EVEN = [0.0] * 9 + [1 / 6] * 6 + [0.0] * 9  # from 9 to 15 h


def table(days=2, *, rain=None, names=AMOUNTS, step=60, stamp=0, lacking=(), more=""):
    """Text of a file: rain by (day, row of it), stamped `stamp` minutes after the row begins."""
    lines = []
    a_day = 24 * 60 // step
    for number in range(days * a_day):
        day, row = divmod(number, a_day)
        if (day, row) in lacking:
            continue
        time = np.datetime64("2021-06-01T00:00") + np.timedelta64(number * step + stamp, "m")
        value = (rain or {}).get((day, row), 0.0)
        lines.append(f"{str(time).replace('T', ' ')},{10 + row % 12},{value:g}{more}")
    return HEAD + names + "\n".join(lines) + "\n"


def shares(**hours):
    """A day's shares from h16=0.25 and so on."""
    row = np.zeros(24)
    for name, value in hours.items():
        row[int(name[1:])] = value
    return row


def daily(days, rain, first="2021-06-01", head=HEAD):
    dates = np.datetime64(first) + np.arange(days)
    body = "".join(f"{d},21,10,{r:g}\n" for d, r in zip(dates, rain, strict=True))
    return head + "date,tmax (C),tmin (C),rain (mm)\n" + body


def test_a_storm_of_two_hours_lies_in_those_hours(write):
    weather = read_weather(write(table(rain={(1, 16): 30.0, (1, 17): 10.0})))
    hours = weather["rain_hours"]
    assert hours.dims == ("time", "hour")
    assert weather["hour"].values.tolist() == list(range(24))
    np.testing.assert_array_equal(hours[0], np.zeros(24))  # measured dry
    np.testing.assert_array_equal(hours[1], shares(h16=0.75, h17=0.25))
    assert weather["rain"].values.tolist() == [0.0, 0.040]
    assert hours.attrs["units"] == "1"
    assert weather["hour"].attrs["units"] == "h"


def test_a_stamp_at_the_end_belongs_to_the_hour_before_it(write):
    # 8 mm fell from 23 to 24 h: its row is stamped at midnight of the next day
    text = table(3, rain={(0, 23): 8.0, (1, 0): 1.0, (1, 5): 3.0}, stamp=60)
    weather = read_weather(write(text), hour_stamp="end")
    np.testing.assert_array_equal(weather["rain_hours"][0], shares(h23=1.0))
    np.testing.assert_array_equal(weather["rain_hours"][1], shares(h0=0.25, h5=0.75))
    # the same stamps read as beginnings put every hour one later
    later = read_weather(write(text), hour_stamp="start")
    np.testing.assert_array_equal(later["rain_hours"][1], shares(h0=8 / 12, h1=1 / 12, h6=3 / 12))


def test_24_o_clock_is_the_end_of_the_day(write):
    text = table(3, rain={(0, 22): 2.0, (0, 23): 6.0}, stamp=60)
    for day in (1, 2, 3):
        text = text.replace(f"2021-06-0{day + 1} 00:00", f"2021-06-0{day} 24:00")
    assert "2021-06-01 24:00" in text
    weather = read_weather(write(text), hour_stamp="end")
    assert weather["rain"].values.tolist() == [0.008, 0.0, 0.0]
    np.testing.assert_array_equal(weather["rain_hours"][0], shares(h22=0.25, h23=0.75))


def test_the_last_hour_of_a_stretch_is_kept_where_stamps_are_ends(write):
    rain = {(0, 23): 8.0, (1, 3): 1.0, (2, 23): 5.0, (3, 0): 9.0}
    path = write(table(5, rain=rain, stamp=60))
    weather = read_weather(path, hour_stamp="end", start="2021-06-02", end="2021-06-03")
    # neither the 8 mm of the evening before nor the 9 mm of the night after
    assert weather["rain"].values.tolist() == [0.001, 0.005]
    np.testing.assert_array_equal(weather["rain_hours"], [shares(h3=1.0), shares(h23=1.0)])
    assert not any("hours" in said for said in weather.attrs["assumptions"])


def test_rows_finer_than_an_hour_are_added_in_it(write):
    # 5 minutes: rows 192 and 203 both lie between 16 and 17 h, row 204 begins at 17 h
    text = table(1, rain={(0, 192): 1.0, (0, 203): 2.0, (0, 204): 1.0}, step=5)
    weather = read_weather(write(text))
    np.testing.assert_allclose(weather["rain_hours"][0], shares(h16=0.75, h17=0.25), atol=1e-15)


def test_rates_are_averaged_in_the_hour(write):
    # half hours: 12 and 0 mm/h are 6 mm from 6 to 7 h; 2 and 2 mm/h are 2 mm from 20 to 21 h
    text = table(
        1,
        rain={(0, 12): 12.0, (0, 40): 2.0, (0, 41): 2.0},
        step=30,
        names="time,temp (C),rain (mm/h)\n",
    )
    weather = read_weather(write(text))
    assert weather["rain"].values == pytest.approx([0.008])
    np.testing.assert_allclose(weather["rain_hours"][0], shares(h6=0.75, h20=0.25), atol=1e-15)


def test_a_gauge_that_counts_gives_what_it_gained(write):
    counts = {(0, row): (0 if row < 7 else 2 if row < 18 else 8) for row in range(24)}
    counts |= {(1, row): (0 if row < 3 else 4) for row in range(24)}  # it starts again at midnight
    weather = read_weather(write(table(rain=counts, names="time,temp (C),daily rain (mm)\n")))
    np.testing.assert_allclose(weather["rain"], [0.008, 0.004])
    np.testing.assert_array_equal(weather["rain_hours"][0], shares(h7=0.25, h18=0.75))
    np.testing.assert_array_equal(weather["rain_hours"][1], shares(h3=1.0))


def test_the_hours_are_those_of_the_day_where_the_bed_is(write):
    # 02:00 universal time is noon at +10:00
    text = table(3, rain={(1, 2): 5.0})
    weather = read_weather(write(text), stamps="UTC", time_zone="+10:00")
    at = int(np.flatnonzero(weather["rain"].values)[0])
    assert str(weather["time"].values[at])[:10] == "2021-06-02"
    np.testing.assert_array_equal(weather["rain_hours"][at], shares(h12=1.0))


def test_a_day_that_lacks_hours_has_those_that_are_there(write):
    gone = [(0, 16), (0, 17), (0, 18)]
    text = table(2, rain={(0, 16): 9.0, (0, 3): 1.0, (0, 4): 1.0}, lacking=gone)
    weather = read_weather(write(text))
    assert weather["rain"].values.tolist() == [0.002, 0.0]
    np.testing.assert_array_equal(weather["rain_hours"][0], shares(h3=0.5, h4=0.5))


def test_a_day_that_is_a_gap_has_the_usual_hours(write):
    gone = [(1, row) for row in range(10)]
    text = table(3, rain={(1, 16): 9.0, (2, 3): 1.0}, lacking=gone)
    weather = read_weather(write(text))
    assert weather["filled"].values.tolist() == [False, True, False]
    np.testing.assert_allclose(weather["rain_hours"][1], EVEN)
    np.testing.assert_array_equal(weather["rain_hours"][2], shares(h3=1.0))
    assert not any("Hours of rain" in said for said in weather.attrs["assumptions"])


def test_a_daily_record_has_no_hours(write):
    weather = read_weather(write(daily(3, [0, 5, 0])))
    assert "rain_hours" not in weather
    assert "hour" not in weather.coords


def test_rows_more_than_an_hour_apart_have_no_hours(write):
    # 70 minutes: still a reading in 20 hours of the day or more, so the day counts
    body = []
    for number in range(3 * 24 * 60 // 70 + 1):
        time = np.datetime64("2021-06-01T00:00") + np.timedelta64(number * 70, "m")
        body.append(f"{str(time).replace('T', ' ')},{10 + number % 9},{number % 5}")
    weather = read_weather(write(HEAD + AMOUNTS + "\n".join(body) + "\n"))
    assert (weather["rain"] > 0).all()
    assert "rain_hours" not in weather


def test_only_wet_days_of_unknown_hours_are_counted(write):
    first = write(table(2, rain={(1, 16): 7.0}), "hours.csv")
    second = write(daily(5, [0, 5, 0.4, 2, 0], first="2021-06-03"), "days.csv")
    text = " ".join(read_weather([first, second]).attrs["assumptions"])
    assert "Hours of rain: not known on 3 of 7 days" in text


def test_files_that_join_keep_the_hours_of_theirs(write):
    first = write(table(2, rain={(1, 16): 7.0}), "hours.csv")
    second = write(daily(2, [0, 5], first="2021-06-03"), "days.csv")
    for paths in ([first, second], [second, first]):
        weather = read_weather(paths)
        np.testing.assert_allclose(weather["rain"], [0, 0.007, 0, 0.005])
        np.testing.assert_array_equal(weather["rain_hours"][1], shares(h16=1.0))
        np.testing.assert_allclose(weather["rain_hours"][3], EVEN)
        said = [s for s in weather.attrs["assumptions"] if "Hours of rain" in s]
        assert len(said) == 1
        assert "on 1 of 4 days" in said[0]
        assert "from 9 to 15 h" in said[0]


def test_a_day_in_two_files_has_the_hours_of_the_one_that_has_them(write):
    by_hour = write(table(3, rain={(1, 16): 7.0, (2, 2): 1.0}), "hours.csv")
    body = "2021-06-02,,,7\n2021-06-03,,,1\n2021-06-04,21,10,2\n"
    by_day = write(HEAD + "date,tmax (C),tmin (C),rain (mm)\n" + body, "days.csv")
    for paths in ([by_hour, by_day], [by_day, by_hour]):
        hours = read_weather(paths)["rain_hours"]
        np.testing.assert_array_equal(hours[1:3], [shares(h16=1.0), shares(h2=1.0)])
        np.testing.assert_allclose(hours[3], EVEN)


def test_rain_of_the_finished_file_does_not_take_the_hours_of_the_other():
    days = np.arange(2).astype("datetime64[D]").astype("datetime64[s]")

    def record(rank, rain, hours):
        column = Column("rain", "mm", np.array(rain))
        lines = np.arange(2)
        return Record(
            "a.csv", "", days, lines, {"rain": column}, rank=rank, rain_hours=np.array(hours)
        )

    draft = record(1, [5.0, 2.0], [shares(h3=1.0), shares(h4=1.0)])
    final = record(0, [6.0, 2.0], [np.full(24, np.nan)] * 2)
    joined = join_records([draft, final])
    assert joined.columns["rain"].values.tolist() == [6.0, 2.0]
    np.testing.assert_array_equal(joined.rain_hours, [np.full(24, np.nan), shares(h4=1.0)])


def test_rain_borrowed_by_the_hour_brings_its_hours(write):
    own = "date,tmax (C),tmin (C)\n" + "".join(f"2021-06-0{d},21,10\n" for d in (1, 2))
    own = write(HEAD + own, "own.csv")
    lender = write(table(2, rain={(1, 16): 7.0}), "lender.csv")
    weather = read_weather(own, borrow=lender)
    np.testing.assert_array_equal(weather["rain_hours"], [np.zeros(24), shares(h16=1.0)])
    # and a record that has rain of its own does not take the lender's hours
    with_rain = write(daily(2, [1, 2]), "rain.csv")
    damp = "time,temp (C),rain (mm),RH (%)\n"
    lender = write(table(2, rain={(1, 16): 7.0}, names=damp, more=",50"), "lender.csv")
    assert "rain_hours" not in read_weather(with_rain, borrow=lender)


def test_the_days_of_your_own_gauge_have_the_usual_hours(write):
    station = write(table(3, rain={(0, 2): 4.0, (1, 16): 7.0}), "station.csv")
    log = write("date,rain (mm)\n2021-06-02,20\n", "log.csv")
    weather = read_weather(station, gauge=log)
    np.testing.assert_allclose(weather["rain"], [0.004, 0.020, 0.0])
    np.testing.assert_array_equal(weather["rain_hours"][0], shares(h2=1.0))
    np.testing.assert_allclose(weather["rain_hours"][1], EVEN)
    every_day = write("date,rain (mm)\n2021-06-01,1\n2021-06-02,20\n2021-06-03,0\n", "log.csv")
    assert "rain_hours" not in read_weather(station, gauge=every_day)


def test_your_own_gauge_by_the_hour_brings_its_hours(write):
    station = write(daily(3, [1, 2, 3]), "station.csv")
    log = "time,rain (mm)\n"
    log += "".join(f"2021-06-02 {hour:02d}:00,{6 if hour == 20 else 0}\n" for hour in range(24))
    weather = read_weather(station, gauge=write(log, "log.csv"))
    np.testing.assert_allclose(weather["rain"], [0.001, 0.006, 0.003])
    np.testing.assert_array_equal(weather["rain_hours"][1], shares(h20=1.0))
    np.testing.assert_allclose(weather["rain_hours"][[0, 2]], [EVEN, EVEN])


def test_hours_go_with_rain_that_is_put_on_the_day_before(write):
    text = table(3, rain={(1, 16): 7.0, (2, 3): 5.0})
    weather = read_weather(write(text), rain_day="to morning")
    # the last day has no rain of its own any more, and is cut off
    np.testing.assert_allclose(weather["rain"], [0.007, 0.005])
    np.testing.assert_array_equal(weather["rain_hours"], [shares(h16=1.0), shares(h3=1.0)])


def test_days_with_rain_add_to_one(write):
    rng = np.random.default_rng(5)
    rain = {(day, row): rng.gamma(0.3, 2.0) for day in range(29) for row in range(0, 24, 5)}
    weather = read_weather(write(table(29, rain=rain)))
    rainy = weather["rain"].values > 0
    assert rainy.any()
    np.testing.assert_allclose(weather["rain_hours"].sum("hour")[rainy], 1.0, rtol=1e-14)


def test_the_usual_hours_are_those_of_the_day():
    np.testing.assert_allclose(usual_rain_hours(2), [EVEN, EVEN], rtol=1e-14)
