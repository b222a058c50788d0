"""Reference evapotranspiration against the worked examples of FAO-56 (from memory)."""

import csv
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from bedtide.weather.et0 import (
    clear_sky_radiation,
    daylight_hours,
    extraterrestrial_radiation,
    hargreaves,
    penman_monteith,
    radiation_from_sunshine,
    radiation_from_temperature,
    saturation_pressure,
    vapour_pressure_from_rh,
    wind_at_2m,
)

_FILE = Path(__file__).parent / "values" / "fao56_et0.csv"
_LINES = [line for line in _FILE.read_text().splitlines() if not line.startswith("#")]
ROWS = list(csv.DictReader(_LINES))


def _finish(given, *, wind, vapour, solar, soil_heat=0.0):
    """All quantities of an example from its inputs."""
    days, latitude, elevation = given["days"], given["latitude"], given["elevation"]
    warm, cold = given["tmax"], given["tmin"]
    above = extraterrestrial_radiation(days, latitude)
    daily = {"days": days, "tmax": [warm], "tmin": [cold], "vapour_pressure": vapour}
    sky = {"solar_radiation": solar, "latitude": latitude, "elevation": elevation}
    depth = penman_monteith(**daily, **sky, wind_speed=[wind], soil_heat=soil_heat)
    return {
        "saturation": (saturation_pressure(warm) + saturation_pressure(cold)) / 2.0,
        "vapour_pressure": vapour[0],
        "wind": wind,
        "extraterrestrial": above[0],
        "daylight": daylight_hours(days, latitude)[0],
        "solar": solar[0],
        "clear_sky": clear_sky_radiation(above, elevation)[0],
        "net": _net_radiation(daily, sky),
        "et0": depth[0] * 1000.0,
        "hargreaves": hargreaves(days=days, tmax=[warm], tmin=[cold], latitude=latitude)[0] * 1000,
    }


def _net_radiation(daily, sky):
    """Net radiation as the library behind Penman-Monteith has it [MJ m-2 d-1]."""
    from pyet.rad_utils import calc_rad_net

    index = pd.DatetimeIndex(daily["days"])
    warm, cold, vapour = (pd.Series(daily[k], index) for k in ("tmax", "tmin", "vapour_pressure"))
    sun = pd.Series(sky["solar_radiation"], index)
    return calc_rad_net(
        tmean=(warm + cold) / 2, rs=sun, lat=np.deg2rad(sky["latitude"]), tmax=warm, tmin=cold,
        elevation=sky["elevation"], ea=vapour,
    ).iloc[0]  # fmt: skip


def _sunny(given, hours):
    above = extraterrestrial_radiation(given["days"], given["latitude"])
    return radiation_from_sunshine([hours], daylight_hours(given["days"], given["latitude"]), above)


def _day(text):
    return np.array([text], dtype="datetime64[D]")


def _bangkok():
    """Example 17: the month's means on its 15th (day 105), soil heat 0.14 (30.2 - 29.2)."""
    given = {"days": _day("1998-04-15"), "latitude": 13 + 44 / 60, "elevation": 2.0}
    given |= {"tmax": 34.8, "tmin": 25.6}
    return _finish(given, wind=2.0, vapour=[2.85], solar=_sunny(given, 8.5), soil_heat=0.14)


def _uccle():
    """Example 18: 6 July (day 187), wind 10 km/h at 10 m, humidity 63 to 84 %."""
    given = {"days": _day("1998-07-06"), "latitude": 50 + 48 / 60, "elevation": 100.0}
    given |= {"tmax": 21.5, "tmin": 12.3}
    vapour = vapour_pressure_from_rh([21.5], [12.3], rh_max=[84.0], rh_min=[63.0])
    wind = float(wind_at_2m(10.0 / 3.6, 10.0))
    return _finish(given, wind=wind, vapour=vapour, solar=_sunny(given, 9.25))


def _lyon():
    """Example 20: temperature only, 15 July (day 196); the rest by chapter 3."""
    given = {"days": _day("1998-07-15"), "latitude": 45 + 43 / 60, "elevation": 200.0}
    given |= {"tmax": 26.6, "tmin": 14.8}
    above = extraterrestrial_radiation(given["days"], given["latitude"])
    solar = radiation_from_temperature(26.6, 14.8, above)
    return _finish(given, wind=2.0, vapour=[float(saturation_pressure(14.8))], solar=solar)


EXAMPLES = {"17": _bangkok, "18": _uccle, "20": _lyon}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['example']}-{row['quantity']}")
def test_worked_example(row):
    printed = row["value"]
    half_digit = 0.5 * 10.0 ** -len(printed.split(".")[1])
    tolerance = float(row["tolerance"]) if row["tolerance"] else half_digit
    found = EXAMPLES[row["example"]]()[row["quantity"]]
    assert found == pytest.approx(float(printed), abs=tolerance * (1 + 1e-9))


def test_every_example_has_its_answer():
    answers = {row["example"] for row in ROWS if row["quantity"] == "et0"}
    assert answers == set(EXAMPLES)
