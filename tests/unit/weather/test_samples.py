"""The invented weather looks like weather, and its script makes it again."""

import importlib.util
import sys

import numpy as np
import pytest

from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from bedtide.weather.et0 import clear_sky_radiation, extraterrestrial_radiation

NAMES = ("mistlebeck", "brasaluz")


@pytest.fixture(scope="module", params=NAMES)
def weather(request):
    return read_weather(samples_folder() / f"{request.param}.csv")


@pytest.fixture(scope="module")
def both():
    return {name: read_weather(samples_folder() / f"{name}.csv") for name in NAMES}


def longest(flag):
    best = run = 0
    for one in flag:
        run = run + 1 if one else 0
        best = max(best, run)
    return best


def test_the_script_makes_the_files_byte_for_byte():
    path = samples_folder() / "make_samples.py"
    spec = importlib.util.spec_from_file_location("make_samples", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules["make_samples"] = module
    spec.loader.exec_module(module)
    assert [place.name.lower() for place in module.PLACES] == list(NAMES)
    for place in module.PLACES:
        kept = (samples_folder() / f"{place.name.lower()}.csv").read_bytes()
        assert module.table(place).encode() == kept
        assert len(kept) < 1_000_000


def test_thirty_whole_years_with_their_leap_days(weather):
    time = weather["time"].values.astype("datetime64[D]")
    assert (time[0], time[-1]) == (np.datetime64("1995-01-01"), np.datetime64("2024-12-31"))
    leap = [str(t) for t in time if str(t).endswith("-02-29")]
    assert len(leap) == 8
    assert not weather["filled"].values.any()
    assert not weather["estimated"].values.any()
    assert weather.attrs["assumptions"] == []
    assert "invented" in weather.attrs["place"]


def test_wet_days_follow_wet_days(weather):
    wet = weather["rain"].values > 0
    after_wet, after_dry = wet[1:][wet[:-1]].mean(), wet[1:][~wet[:-1]].mean()
    assert after_wet > 2 * after_dry


def test_spells_are_longer_than_chance_would_make(weather):
    wet = weather["rain"].values > 0
    shuffled = np.random.default_rng(1).permutation(wet)
    assert longest(wet) > 1.5 * longest(shuffled)


def test_temperature_remembers_the_day_before(weather):
    mean = (weather["tmax"] + weather["tmin"]) / 2
    mean = mean.assign_coords(day=("time", mean["time"].to_index().day_of_year))
    anomaly = (mean.groupby("day") - mean.groupby("day").mean()).values
    assert 0.6 < np.corrcoef(anomaly[1:], anomaly[:-1])[0, 1] < 0.9


def test_seasons(weather):
    by_month = weather.groupby("time.month").mean()
    assert by_month["tmax"].values.argmax() in (6, 7)
    assert by_month["tmin"].values.argmin() in (0, 1, 11)
    assert by_month["et0"].values.argmax() in (5, 6)


def test_radiation_stays_below_clear_sky_and_falls_with_rain(weather):
    time = weather["time"].values.astype("datetime64[D]")
    above = extraterrestrial_radiation(time, weather.attrs["latitude"])
    clear = clear_sky_radiation(above, weather.attrs["elevation"])
    sun = weather["solar_radiation"].values
    assert (sun <= clear + 0.05).all()
    share, wet = sun / clear, weather["rain"].values > 0
    assert share[wet].mean() < share[~wet].mean() - 0.15
    assert np.quantile(share, 0.98) > 0.85
    assert (share > 0.15).all()


def test_humidity_agrees_with_temperature_and_rain(weather):
    ratio = np.log(weather["vapour_pressure"].values / 0.6108)
    dew = 237.3 * ratio / (17.27 - ratio)  # FAO-56 Eq. 11 turned round
    below = weather["tmin"].values - dew
    assert (below > -1.0).all()
    wet = weather["rain"].values > 0
    assert below[wet].mean() < below[~wet].mean() - 0.3
    assert (weather["tmax"].values > weather["tmin"].values).all()


def test_the_two_are_of_opposite_kinds(both):
    cool, hot = both["mistlebeck"], both["brasaluz"]
    summer = {name: w["time"].dt.month.isin([6, 7, 8]) for name, w in both.items()}

    def yearly(w, name):
        return float(w[name].sum()) / 30 * 1000

    assert yearly(cool, "rain") > 1.5 * yearly(cool, "et0")
    assert yearly(hot, "et0") > 1.5 * yearly(hot, "rain")
    rain = {name: float(w["rain"][summer[name]].sum()) / 30 * 1000 for name, w in both.items()}
    assert rain["mistlebeck"] > 150
    assert rain["brasaluz"] < 60
    assert longest(cool["rain"].values > 0) > 20
    assert longest(hot["rain"].values == 0) > 80
    spread = hot["rain"].groupby("time.year").sum()
    assert float(spread.max()) > 1.7 * float(spread.min())


def test_readme_says_that_they_are_invented():
    text = (samples_folder() / "README.md").read_text()
    assert "invented" in text
    for name in NAMES:
        assert f"{name}.csv" in text
