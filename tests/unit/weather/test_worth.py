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


@pytest.fixture(scope="module")
def good():
    return read_weather(samples_folder() / "mistlebeck.csv", start="2000-01-01", end="2011-12-31")


def with_fault(good, name, where, values):
    changed = good.copy(deep=True)
    at = changed["time"].values.astype("datetime64[D]")
    first, last = (np.datetime64(day) for day in where)
    rows = (at >= first) & (at <= last)
    changed[name].values[rows] = values(changed[name].values[rows])
    return changed


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
    ],
)
def test_where_a_suspicion_begins(good, kind, change, odd, usual):
    for level, count in ((odd, 1), (usual, 0)):
        weather = one_year(good)
        change(weather, level)
        assert [s.kind for s in suspicions(weather)].count(kind) == count, level


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


def test_days_without_a_dry_one(good):
    for days, found in ((60, 1), (59, 0)):
        weather = one_year(good)
        weather["rain"].values[:] = 0.0
        weather["rain"].values[100 : 100 + days] = 0.001
        assert [s.kind for s in suspicions(weather)].count("no dry day") == found


def test_a_dry_month_beside_months_of_30_mm(good):
    for beside, found in ((0.0301, 1), (0.0299, 0)):
        weather = one_year(good)
        month = weather["time"].dt.month.values
        weather["rain"].values[month == 6] = 0.0
        weather["rain"].values[month == 5] *= beside / weather["rain"].values[month == 5].sum()
        assert [s.kind for s in suspicions(weather)].count("dry month") == found


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
