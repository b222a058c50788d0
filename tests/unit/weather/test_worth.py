"""Faults put into good weather are found, with their dates, and nothing else is."""

import numpy as np
import pytest

from bedtide.answers.weather.summary import verdict
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from bedtide.weather.et0 import (
    clear_sky_radiation,
    extraterrestrial_radiation,
    saturation_pressure,
)
from bedtide.weather.suspicious import suspicions
from helpers.plain_weather import with_fault


@pytest.mark.parametrize("name", ["mistlebeck", "brasaluz"])
def test_good_weather_is_good(name):
    weather = read_weather(samples_folder() / f"{name}.csv")
    assert suspicions(weather) == []
    assert verdict(weather, []) == ("good", ("30 years, all measured, nothing suspicious.",))


@pytest.mark.parametrize(
    ("kind", "name", "where", "values"),
    [
        ("stuck", "tmax", ("2003-07-01", "2003-07-09"), lambda v: np.full_like(v, 21.3)),
        ("stuck", "wind_speed", ("2003-07-01", "2003-07-30"), np.zeros_like),
        ("stuck", "solar_radiation", ("2003-07-01", "2003-07-06"), lambda v: np.full_like(v, 9.0)),
        ("dry month", "rain", ("2003-11-01", "2003-11-30"), np.zeros_like),
        ("jump", "tmax", ("2003-07-04", "2003-07-04"), lambda v: v + 30.0),
        ("jump", "tmin", ("2003-07-04", "2003-07-04"), lambda v: v - 30.0),
        ("clear sky", "solar_radiation", ("2003-12-20", "2003-12-22"), lambda v: v + 8.0),
        ("calibration", "solar_radiation", ("2003-01-01", "2003-12-31"), lambda v: v * 0.7),
        ("saturation", "vapour_pressure", ("2003-01-01", "2003-12-31"), lambda v: v * 0.6),
        ("no dry day", "rain", ("2003-01-10", "2003-04-10"), lambda v: v + 0.001),
        ("wind", "wind_speed", ("2003-01-01", "2003-12-31"), lambda v: v * 3.6),
        ("temperature", "tmax", ("2003-01-01", "2003-12-31"), lambda v: v - 50.0),
        ("year of rain", "rain", ("2003-01-01", "2003-12-31"), lambda v: v / 25.4),
    ],
)
def test_a_fault_is_found_with_its_dates(good, kind, name, where, values):
    found = [s for s in suspicions(with_fault(good, name, where, values)) if s.kind == kind]
    assert len(found) == 1
    assert found[0].quantity == name
    assert abs((found[0].first - np.datetime64(where[0])).astype(int)) <= 10
    assert abs((found[0].last - np.datetime64(where[1])).astype(int)) <= 10
    assert "2003" in found[0].sentence


@pytest.mark.parametrize(("latitude", "found"), [(70.0, []), (50.0, ["stuck"])])
def test_radiation_of_nothing_is_no_fault_in_the_polar_night(write, latitude, found):
    """At 70 degrees the sun stays down from late November to mid January, at 50 it never does."""
    days = np.datetime64("2021-11-20") + np.arange(60)
    rows = [
        f"{day},{1 + at % 5},{-4 - at % 3},{at % 4},{0.0 if 10 <= at < 50 else 0.1 + at % 3 / 10}"
        for at, day in enumerate(days)
    ]
    head = f"# latitude: {latitude}\n# elevation: 10\ndate,tmax (C),tmin (C),rain (mm),"
    weather = read_weather(write(f"{head}solar radiation (MJ/m2)\n" + "\n".join(rows) + "\n"))
    assert [one.kind for one in suspicions(weather)] == found


def one_year(good):
    """One year of the record, as figures that can be set."""
    return good.sel(time=slice("2003-01-01", "2003-12-31")).copy(deep=True)


def clear_sky(weather):
    days = weather["time"].values.astype("datetime64[D]")
    above = extraterrestrial_radiation(days, weather.attrs["latitude"])
    return clear_sky_radiation(above, weather.attrs["elevation"])


def set_mean(name, factor):
    def change(weather, level):
        weather[name].values[:] *= level * factor / weather[name].values.mean()

    return change


def set_warmth(weather, level):
    usual = 28.0 - 0.0072 * 54.2**2 - 0.0065 * 110.0
    mean = (weather["tmax"].values + weather["tmin"].values).mean() / 2
    for name in ("tmax", "tmin"):
        weather[name].values[:] += usual + level - mean


def set_humidity(weather, level):
    weather["vapour_pressure"].values[:] = level * saturation_pressure(weather["tmin"].values)


def set_sky(weather, level):
    weather["solar_radiation"].values[:] = level * clear_sky(weather)


def set_jump(name):
    def change(weather, level):
        weather[name].values[:] = 10.0
        weather[name].values[100] += level

    return change


def set_jump_in_unsteady_weather(weather, level):
    """Steps of 3 degrees up and down: 1.4826 times the median of these, six times, is 26.69."""
    weather["tmax"].values[:] = 10.0 + 3.0 * (np.arange(365) % 2)
    weather["tmax"].values[100] += level + 3.0


@pytest.mark.parametrize(
    ("kind", "change", "odd", "usual"),
    [
        ("wind", set_mean("wind_speed", 1.0), 0.39, 0.41),
        ("wind", set_mean("wind_speed", 1.0), 8.01, 7.99),
        ("year of rain", set_mean("rain", 1 / 365), 0.0495, 0.0505),
        ("year of rain", set_mean("rain", 1 / 365), 6.01, 5.99),
        ("temperature", set_warmth, 17.1, 16.9),
        ("temperature", set_warmth, -17.1, -16.9),
        ("saturation", set_humidity, 0.69, 0.71),
        ("calibration", set_sky, 0.79, 0.81),
        ("calibration", set_sky, 1.065, 1.055),
        ("jump", set_jump("tmax"), 15.1, 14.9),
        ("jump", set_jump("tmin"), -15.1, -14.9),
        ("jump", set_jump_in_unsteady_weather, 26.8, 26.6),
    ],
)
def test_where_a_suspicion_begins(good, kind, change, odd, usual):
    for level, count in ((odd, 1), (usual, 0)):
        weather = one_year(good)
        change(weather, level)
        assert [s.kind for s in suspicions(weather)].count(kind) == count, level


@pytest.mark.parametrize(
    ("change", "level", "said"),
    [
        (set_sky, 0.79, "days of 2003 reach 0.79 of clear-sky radiation, too low: a dirty or sha"),
        (set_sky, 1.08, "days of 2003 reach 1.08 of clear-sky radiation, too high: its calibrat"),
        (set_humidity, 0.6, "days of 2003 humidity at the lowest temperature is only 60 %; it"),
        (set_mean("rain", 1 / 365), 0.02, "the rain of 2003 comes to 20 mm: is the unit"),
        (set_mean("rain", 1 / 365), 12.0, "the rain of 2003 comes to 12,000 mm: is the unit"),
        (set_mean("wind_speed", 1.0), 9.0, "the mean wind of 2003 is 9.0 m/s: is the unit"),
        # 28 - 0.0072 x 54.2 x 54.2 - 0.0065 x 110 = 6.1
        (set_warmth, 20.0, "temperature of 2003 is 26 C, where about 6 C is usual there: C or F"),
    ],
)
def test_an_odd_year_is_told_with_its_figure(good, change, level, said):
    weather = one_year(good)
    change(weather, level)
    assert said in " ".join(s.sentence for s in suspicions(weather))


@pytest.mark.parametrize(
    ("kind", "change", "level", "least"),
    [
        ("calibration", set_sky, 0.7, 300),
        ("wind", set_mean("wind_speed", 1.0), 9.0, 300),
        ("year of rain", set_mean("rain", 1 / 365), 0.02, 360),
        ("temperature", set_warmth, 20.0, 360),
    ],
)
def test_a_part_of_a_year_is_not_judged_as_one(good, kind, change, level, least):
    for days, count in ((least, 1), (least - 1, 0)):
        weather = one_year(good).isel(time=slice(365 - days, 365)).copy(deep=True)
        change(weather, level)
        assert [s.kind for s in suspicions(weather)].count(kind) == count


def test_twenty_rainy_days_tell_of_the_humidity(good):
    for days, count in ((20, 1), (19, 0)):
        weather = one_year(good)
        set_humidity(weather, 0.6)
        weather["rain"].values[:] = 0.0
        weather["rain"].values[5 : 5 + 9 * days : 9] = 0.005
        assert [s.kind for s in suspicions(weather)].count("saturation") == count


@pytest.mark.parametrize(
    ("name", "most"),
    [("tmax", 7), ("tmin", 7), ("wind_speed", 7), ("solar_radiation", 5), ("vapour_pressure", 7)],
)
def test_days_of_one_value(good, name, most):
    for days, found in ((most, [("2003-07-01", most)]), (most - 1, [])):
        weather = one_year(good)
        weather[name].values[181 : 181 + days] = 1.234
        stuck = [s for s in suspicions(weather) if s.kind == "stuck"]
        assert [(str(s.first), (s.last - s.first).astype(int) + 1) for s in stuck] == found
        said = f"is the same on {most} days running, 2003-07-01 to 2003-07-{most:02}: a stuck"
        assert all(said in s.sentence for s in stuck)


def test_days_of_one_value_at_the_ends_of_a_record(good):
    for days, count in ((7, 1), (6, 0)):
        for part in (slice(0, days), slice(365 - days, 365)):
            weather = one_year(good)
            weather["tmax"].values[part] = 1.234
            stuck = [s for s in suspicions(weather) if s.kind == "stuck"]
            assert len(stuck) == count
            at = weather["time"].values.astype("datetime64[D]")[part]
            assert [(s.first, s.last) for s in stuck] == [(at[0], at[-1])] * count


def test_a_jump_is_told_with_its_day_and_needs_thirty_days_to_judge_by(good):
    for days, count in ((30, 1), (29, 0)):
        weather = one_year(good).isel(time=slice(0, days))
        weather["tmax"].values[:] = 10.0
        weather["tmax"].values[14] += 20.0
        found = [s for s in suspicions(weather) if s.kind == "jump"]
        assert len(found) == count
        for one in found:
            assert str(one.first) == str(one.last) == "2003-01-15"
            said = "highest temperature of 30.0 C on 2003-01-15 is 20 degrees from the days before"
            assert one.sentence.startswith(said)


@pytest.mark.parametrize(
    ("kind", "change", "level"),
    [
        ("stuck", lambda weather, _: weather["wind_speed"].values.fill(2.0), 0.0),
        ("clear sky", set_sky, 1.3),
        ("calibration", set_sky, 0.7),
        ("saturation", set_humidity, 0.6),
        ("wind", set_mean("wind_speed", 1.0), 9.0),
    ],
)
def test_what_nobody_measured_is_no_broken_sensor(good, kind, change, level):
    weather = one_year(good)
    change(weather, level)
    assert kind in [s.kind for s in suspicions(weather)]
    filled, estimated = weather.copy(deep=True), weather.copy(deep=True)
    filled["filled"].values[:] = True
    estimated["measured"].values[:] = 0
    for each in (filled, estimated):
        assert kind not in [s.kind for s in suspicions(each)]


def test_dry_air_on_dry_days_is_no_broken_sensor(good):
    weather = one_year(good)
    wet = weather["rain"].values >= 0.005
    assert 20 <= wet.sum() < 100
    for dry_day, wet_day, count in ((0.5, 0.71, 0), (0.9, 0.69, 1)):
        set_humidity(weather, np.where(wet, wet_day, dry_day))
        assert [s.kind for s in suspicions(weather)].count("saturation") == count


def test_days_without_a_dry_one(good):
    for days, found in ((60, 1), (59, 0)):
        weather = one_year(good)
        weather["rain"].values[:] = 0.0
        weather["rain"].values[100 : 100 + days] = 0.001
        assert [s.kind for s in suspicions(weather)].count("no dry day") == found


@pytest.mark.parametrize("number", [5, 7])
def test_a_dry_month_beside_months_of_30_mm(good, number):
    for beside, count in ((0.03001, 1), (0.02999, 0)):
        weather = one_year(good)
        month = weather["time"].dt.month.values
        for each, rain in ((12 - number, 0.1), (number, beside), (6, 0.0)):
            values = weather["rain"].values
            values[month == each] *= rain / max(values[month == each].sum(), 1e-9)
        found = [s for s in suspicions(weather) if s.kind == "dry month"]
        assert len(found) == count
        for one in found:
            assert (str(one.first), str(one.last)) == ("2003-06-01", "2003-06-30")
            months = "30 and 100 mm" if number == 5 else "100 and 30 mm"
            assert f"from 2003-06-01 to 2003-06-30, between months of {months}" in one.sentence


def test_a_dry_month_of_a_dry_season_is_not_suspicious():
    hot = read_weather(samples_folder() / "brasaluz.csv")
    july = with_fault(hot, "rain", ("2003-07-01", "2003-07-31"), np.zeros_like)
    july = with_fault(july, "rain", ("2003-06-15", "2003-06-16"), lambda v: v + 0.03)
    july = with_fault(july, "rain", ("2003-08-15", "2003-08-16"), lambda v: v + 0.03)
    assert suspicions(july) == []


def test_the_clear_sky_of_the_check_is_that_of_fao_56(good):
    days = good["time"].values.astype("datetime64[D]")
    clear = clear_sky_radiation(extraterrestrial_radiation(days, 54.2), 110.0)
    at_limit = good.copy(deep=True)
    at_limit["solar_radiation"].values[:] = clear * 1.10
    assert not [s for s in suspicions(at_limit) if s.kind == "clear sky"]
    at_limit["solar_radiation"].values[:] = clear * 1.10 + 0.6
    assert [s.kind for s in suspicions(at_limit) if s.kind == "clear sky"] == ["clear sky"]


def test_the_last_months_of_a_record_are_not_judged_as_a_year(good):
    weather = good.sel(time=slice("2003-01-01", "2004-03-31")).copy(deep=True)
    late = weather["time"].dt.year.values == 2004
    weather["rain"].values[late] *= 0.02 / weather["rain"].values[late].sum()
    assert "year of rain" not in [s.kind for s in suspicions(weather)]


def test_one_bright_day_is_told_by_its_date_and_how_bright_it_was(good):
    weather = one_year(good)
    at = 180  # 30 June
    weather["solar_radiation"].values[at] = 1.5 * clear_sky(weather)[at]
    (found,) = (s for s in suspicions(weather) if s.kind == "clear sky")
    assert found.sentence == "radiation on 2003-06-30 is up to 1.50 times that of a clear sky."
