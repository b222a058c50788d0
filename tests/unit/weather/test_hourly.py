import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import read_weather
from bedtide.weather.et0 import saturation_pressure
from bedtide.weather.hourly import LEAST_HOURS, to_days, to_local_clock
from bedtide.weather.options import Options
from bedtide.weather.record import Column, Record

HEAD = "# latitude: 48\n# elevation: 0\n"
NAMES = "time,temp (C),RH (%),wind at 2 m (m/s),solar (W/m2),rain (mm)\n"


def hours(days=3, step=60, first="2021-06-01T00:00"):
    count = days * 24 * 60 // step
    return np.datetime64(first) + np.arange(count) * np.timedelta64(step, "m")


def row(time, values="20,50,2,100,0.5"):
    return f"{str(time).replace('T', ' ')},{values}\n"


def test_a_day_of_hours(write):
    body = ""
    for time in hours():
        h = time.astype(object).hour
        body += row(time, f"{h},{40 + h},{h % 2 * 4},{24 * (h == 12)},0.1")
    weather = read_weather(write(HEAD + NAMES + body))
    assert weather["tmax"].values.tolist() == [23.0] * 3
    assert weather["tmin"].values.tolist() == [0.0] * 3
    assert weather["rh_min"].values.tolist() == [40.0] * 3
    np.testing.assert_allclose(weather["wind_speed"], 2.0)
    np.testing.assert_allclose(weather["rain"], 2.4e-3)
    # 24 W/m2 in one hour of 24 is 1 W/m2 over the day
    np.testing.assert_allclose(weather["solar_radiation"], 0.0864)
    h = np.arange(24.0)
    vapour = ((40 + h) / 100 * saturation_pressure(h)).mean()
    np.testing.assert_allclose(weather["vapour_pressure"], vapour)


@pytest.mark.parametrize("step", [5, 15, 30])
def test_finer_rows_give_the_same_day(write, step):
    fine = "".join(row(t, f"20,50,2,100,{0.5 * step / 60}") for t in hours(step=step))
    coarse = "".join(row(t) for t in hours())
    a = read_weather(write(HEAD + NAMES + fine, "a.csv"))
    b = read_weather(write(HEAD + NAMES + coarse, "b.csv"))
    for name in ("tmax", "wind_speed", "solar_radiation", "rain", "et0"):
        np.testing.assert_allclose(a[name], b[name], err_msg=name)


def test_amounts_of_radiation_are_added(write):
    names = NAMES.replace("W/m2", "MJ/m2")
    body = "".join(row(t, "20,50,2,0.5,0.5") for t in hours())
    weather = read_weather(write(HEAD + names + body))
    np.testing.assert_allclose(weather["solar_radiation"], 12.0)


@pytest.mark.parametrize("lacking", [4, 5])
def test_too_few_hours_are_a_gap(write, lacking):
    body = "".join(row(t) for i, t in enumerate(hours(5)) if not 48 <= i < 48 + lacking)
    weather = read_weather(write(HEAD + NAMES + body))
    gap = lacking > 24 - LEAST_HOURS
    assert weather["filled"].values.tolist() == [False, False, gap, False, False]
    # what fell in the hours that are there is counted, and what is not there is said
    assert weather["rain"].values[2] == pytest.approx(0.0 if gap else 0.010)
    text = " ".join(weather.attrs["assumptions"])
    assert ("1 day of garden.csv has readings in fewer than 20 hours" in text) is gap
    assert ("lacks up to 4 hours of a reading" in text) is not gap


def test_the_hour_of_a_stamp(write):
    body = "".join(
        row(t + np.timedelta64(1, "h"), f"20,50,2,100,{i // 24}") for i, t in enumerate(hours(4))
    )
    path = write(HEAD + NAMES + body)
    weather = read_weather(path, hour_stamp="end")
    np.testing.assert_allclose(weather["rain"], np.arange(4) * 0.024)
    assert not np.allclose(read_weather(path)["rain"][:4], np.arange(4) * 0.024)


def test_rain_counted_since_midnight(write):
    names = "time,temp (C),daily rain (in)\n"
    body = "".join(
        f"{str(t).replace('T', ' ')},20,{0.01 * (t.astype(object).hour // 2):.2f}\n"
        for t in hours()
    )
    weather = read_weather(write(HEAD + names + body))
    np.testing.assert_allclose(weather["rain"], 0.11 * 0.0254)


def test_a_counter_that_falls_within_the_day_is_refused(write):
    names = "time,temp (C),daily rain (mm)\n"
    body = "".join(f"{str(t).replace('T', ' ')},20,{(i % 12)}\n" for i, t in enumerate(hours()))
    with pytest.raises(InputError) as caught:
        read_weather(write(HEAD + names + body))
    assert "line 16" in caught.value.text
    assert "goes down" in caught.value.text


def test_the_hour_that_comes_twice_in_autumn_and_the_one_that_is_not_there_in_spring(write):
    zone = "America/New_York"
    for first in ("2013-11-02T00:00", "2013-03-09T00:00"):
        import pandas as pd

        local = pd.date_range(first, periods=72, freq="h", tz=zone).tz_localize(None)
        body = "".join(row(t.isoformat(sep=" ")[:16]) for t in local)
        weather = read_weather(write(HEAD + NAMES + body))
        assert weather.sizes["time"] == 3
        assert not weather["filled"].values.any()


def test_an_hour_twice_on_another_day_is_refused(write):
    times = list(hours())
    body = "".join(row(t) for t in times)
    other = body + row(times[30], "21,50,2,100,0.5")
    with pytest.raises(InputError, match="is there twice"):
        read_weather(write(HEAD + NAMES + other))
    weather = read_weather(write(HEAD + NAMES + body + row(times[30])))
    assert any("1 rows came twice" in s for s in weather.attrs["assumptions"])
    np.testing.assert_allclose(weather["rain"], 0.012)


def test_hours_of_another_clock_are_seen_by_the_warmth_of_the_day(write):
    """A day that is warmest at 4 in the morning is not told by a local clock."""

    def body(warmest, count=30):
        lines = []
        for time in hours(count):
            hour = time.astype(object).hour
            warm = (
                20 + time.astype(object).day / 9 + 5 * np.cos((hour + 0.5 - warmest) * np.pi / 12)
            )
            lines.append(row(time, f"{warm:.1f},50,2,100,0"))
        return "".join(lines)

    with pytest.raises(InputError, match="warmest at 4 h"):
        read_weather(write(HEAD + NAMES.replace("W/m2", "MJ/m2") + body(4).replace(",100,", ",,")))
    local = write(HEAD + NAMES + body(15), "local.csv")
    assert read_weather(local).sizes["time"] == 30
    universal = write(HEAD + NAMES + body(4), "universal.csv")
    weather = read_weather(universal, stamps="UTC", time_zone="+11:00")
    assert weather.sizes["time"] >= 29


def test_hours_from_1_to_24_end_their_hour(write):
    lines = ""
    for time in hours(4):
        lines += f"{str(time)[:10]},{time.astype(object).hour + 1},20,50,2,100,{time.astype(object).day}\n"  # noqa: E501
    weather = read_weather(write(HEAD + NAMES.replace("time,", "date,hour,") + lines))
    np.testing.assert_allclose(weather["rain"], np.array([1, 2, 3, 4]) * 0.024)


def test_universal_time_asks_where_the_day_begins(write):
    body = "".join(row(f"{t}Z", f"{i % 24},50,2,100,0") for i, t in enumerate(hours(4)))
    path = write(HEAD + NAMES + body)
    with pytest.raises(InputError) as caught:
        read_weather(path)
    assert 'time_zone="UTC"' in caught.value.text
    shifted = read_weather(path, time_zone="+10:00")
    # midnight there is 14:00 universal time, so the two days between are whole
    assert shifted.sizes["time"] == 3
    assert any("midnight to midnight in +10:00" in s for s in shifted.attrs["assumptions"])
    named = read_weather(path, time_zone="Australia/Brisbane")
    np.testing.assert_array_equal(named["tmax"], shifted["tmax"])
    plain = write(HEAD + NAMES + body.replace("Z", ""), "plain.csv")
    both = read_weather(plain, stamps="UTC", time_zone="+10:00")
    np.testing.assert_array_equal(both["tmax"], shifted["tmax"])
    with pytest.raises(InputError, match="not a time zone"):
        read_weather(path, time_zone="Europe/Atlantis")


@pytest.mark.parametrize("zone", ["+10:00", "-10:00", "UTC"])
@pytest.mark.parametrize("mark", ["Z", ""])
def test_the_days_wanted_are_those_of_the_clock_that_cuts_them(write, zone, mark):
    body = "".join(row(f"{t}{mark}", f"{i % 24},50,2,100,0") for i, t in enumerate(hours(10)))
    path = write(HEAD + NAMES + body)
    span = {"start": "2021-06-03", "end": "2021-06-05"}
    weather = read_weather(path, time_zone=zone, stamps=None if mark else "UTC", **span)
    assert weather["time"].dt.day.values.tolist() == [3, 4, 5]
    assert not weather["filled"].values.any()
    assert not any("readings in fewer" in s for s in weather.attrs["assumptions"])
    # what is wrong more than a day before or after is not looked at
    for day, hour in ((1, 20), (8, 5)):
        at = f"2021-06-{day:02d} {hour:02d}:00{mark},"
        assert f"{at}{hour},50" in body
        body = body.replace(f"{at}{hour},50", f"{at}x,50")
    path = write(HEAD + NAMES + body)
    again = read_weather(path, time_zone=zone, stamps=None if mark else "UTC", **span)
    np.testing.assert_array_equal(again["tmax"], weather["tmax"])


def test_times_with_their_local_offset_are_local(write):
    body = "".join(row(f"{t}+10:00") for t in hours(3))
    assert read_weather(write(HEAD + NAMES + body)).sizes["time"] == 3


def test_some_times_without_zone_are_refused(write):
    times = [f"{t}+10:00" for t in hours(2)]
    times[5] = times[5][:-6]
    with pytest.raises(InputError, match="does not say its zone"):
        read_weather(write(HEAD + NAMES + "".join(row(t) for t in times)))


# records by themselves -------------------------------------------------------------------------


def record(times, columns, **about):
    """A record of clock times, its lines counted from 2, with columns of these values."""
    made = {
        key: Column(key, "its unit", np.full(len(times), values, dtype=np.float64))
        for key, values in columns.items()
    }
    times, lines = np.asarray(times, dtype="datetime64[s]"), np.arange(2, len(times) + 2)
    return Record("g.csv", "plain table", times, lines, made, daily=False, **about)


@pytest.mark.parametrize(
    ("zone", "first"),
    [
        ("+05:30", "2021-06-01T05:30"),
        ("-0930", "2021-05-31T14:30"),
        ("UTC+1", "2021-06-01T01:00"),
        ("+23:59", "2021-06-01T23:59"),
        ("Asia/Kathmandu", "2021-06-01T05:45"),
    ],
)
def test_times_are_moved_to_the_zone_that_is_named(zone, first):
    for said in ({"offset": np.zeros(48)}, {}):
        moved = record(hours(2), {"rain": 0.0}, **said)
        stamps = None if said else "UTC"
        assert to_local_clock(moved, Options(time_zone=zone, stamps=stamps)) == []
        assert moved.times[0] == np.datetime64(first)
        assert moved.notes == [f"Days of g.csv run from midnight to midnight in {zone}."]


def test_zones_that_are_none():
    for zone in ("+24:00", "Mars/Olympus", "../UTC"):
        (error,) = to_local_clock(record(hours(2), {"rain": 0.0}), Options(time_zone=zone))
        assert f'"{zone}" is not a time zone' in error.text


def test_a_zone_of_the_stamps_alone_cuts_the_days_and_is_named():
    stamped = record(hours(2), {"rain": 0.0})
    assert to_local_clock(stamped, Options(stamps="Europe/Berlin")) == []
    assert stamped.times[0] == np.datetime64("2021-06-01T00:00")
    assert stamped.notes == ["Days of g.csv run from midnight to midnight in Europe/Berlin."]


@pytest.mark.parametrize(
    ("longitude", "hours_ahead", "said"),
    [
        (151.2, 10, "10 h ahead, so its days were cut at midnight of UTC+10."),
        (7.4, 0, "0 h ahead, so its days were cut at midnight of UTC+0."),
        (7.6, 1, "1 h ahead, so its days were cut at midnight of UTC+1."),
        (-80.2, -5, "5 h behind, so its days were cut at midnight of UTC-5."),
    ],
)
def test_days_of_universal_time_are_cut_by_the_sun(longitude, hours_ahead, said):
    given = record(hours(2), {"rain": 0.0}, offset=np.zeros(48), longitude=longitude)
    assert to_local_clock(given, Options()) == []
    assert given.times[0] == np.datetime64("2021-06-01T00") + np.timedelta64(hours_ahead, "h")
    assert given.notes[0].endswith(f"at longitude {longitude:g} the sun is {said}")


def test_rain_itself_comes_before_a_gauge_that_counts():
    counted = np.arange(48.0) % 24
    both = to_days(record(hours(2), {"rain_counter": counted, "rain": 0.5}))
    assert both.columns["rain"].values.tolist() == [12.0, 12.0]
    alone = to_days(record(hours(2), {"rain_counter": counted}))
    assert alone.columns["rain"].values.tolist() == [23.0, 23.0]
    none = to_days(record(hours(2), {"tmax": 20.0}))
    assert list(none.columns) == ["tmax"]


def test_a_day_of_amounts_without_one_reading_has_no_sum():
    rain = np.r_[np.full(24, np.nan), np.ones(24)]
    sun = np.r_[np.ones(24), np.full(24, np.nan)]
    daily = to_days(record(hours(2), {"rain": rain, "sunshine": sun}))
    np.testing.assert_array_equal(daily.columns["rain"].values, [np.nan, 24.0])
    np.testing.assert_array_equal(daily.columns["sunshine"].values, [24.0, np.nan])
    np.testing.assert_allclose(daily.rain_hours[1], 1 / 24)


def test_the_first_time_without_a_zone_is_named_alone():
    offset = np.zeros(48)
    offset[[5, 9]] = np.nan
    (error,) = to_local_clock(record(hours(2), {"rain": 0.0}, offset=offset), Options())
    assert error.where == "g.csv, line 7"
    assert "also" not in error.text


@pytest.mark.parametrize(
    ("key", "swing", "peak", "said"),
    [
        ("solar_radiation", 0.6, 9.0, "brightest at 9 h"),
        ("solar_radiation", 0.6, 15.7, "brightest at 16 h"),
        ("solar_radiation", 0.6, 10.3, ""),
        ("solar_radiation", 0.6, 14.7, ""),
        ("solar_radiation", 0.4, 3.0, ""),  # no run of the day to speak of
        ("temperature", 1.1, 9.3, "warmest at 9 h"),
        ("temperature", 1.1, 19.7, "warmest at 20 h"),
        ("temperature", 1.1, 10.3, ""),
        ("temperature", 1.1, 18.7, ""),
        ("temperature", 0.9, 3.0, ""),
    ],
)
def test_by_which_hour_a_clock_is_seen_not_to_be_local(key, swing, peak, said):
    for days, enough in ((20, True), (19, False)):
        times = hours(days)
        hour = np.arange(days * 24) % 24 + 0.5  # the middle of a reading's hour
        curve = 5.0 + swing * np.cos((hour - peak) * np.pi / 12)
        errors = to_local_clock(record(times, {key: curve}), Options())
        assert len(errors) == bool(said and enough)
        if errors:
            assert f"the day is {said}" in errors[0].text
        accepted = Options(accept=("columns",))
        assert to_local_clock(record(times, {key: curve}), accepted) == []


def test_days_that_lack_hours_are_counted():
    """Of four days one has 23 hours, one has one, one has none of wind."""
    times, rain = hours(4), np.ones(96)
    rain[24] = np.nan
    rain[48:71] = np.nan
    wind = np.where(np.arange(96) >= 72, np.nan, 2.0)
    daily = to_days(record(times, {"rain": rain, "wind_speed": wind}))
    np.testing.assert_array_equal(daily.columns["rain"].values, [24.0, 23.0, np.nan, 24.0])
    np.testing.assert_array_equal(daily.columns["wind_speed"].values, [2.0, 2.0, 2.0, np.nan])
    assert daily.lines.tolist() == [2, 26, 50, 74]
    few, some = daily.notes
    assert few.startswith("1 day of g.csv has readings in fewer than 20 hours")
    assert some.startswith("1 day of g.csv lacks up to 4 hours")
    assert daily.fullest.endswith("the fullest has 24")


def test_the_missing_hours_of_radiation_shine_as_the_others_and_no_hour_is_no_light():
    sun = np.r_[np.ones(20), np.full(4, np.nan), np.full(24, np.nan)]
    daily = to_days(record(hours(2), {"solar_radiation": sun, "rain": 0.0}))
    np.testing.assert_array_equal(daily.columns["solar_radiation"].values, [24.0, np.nan])
