"""Units in, units out; order of columns and spelling do not matter."""

import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.errors import TimeAxisError
from bedtide.weather import read_weather

FIRST, DAY = datetime.date(2020, 2, 20), datetime.timedelta(days=1)

days = st.lists(
    st.tuples(
        st.integers(-100, 350),  # lowest, 0.1 degC
        st.integers(0, 200),  # range, 0.1 K
        st.integers(0, 600),  # rain, 0.1 mm
        st.integers(0, 150),  # wind, 0.1 m/s
        st.integers(5, 100),  # humidity, %
    ),
    min_size=3,
    max_size=20,
)


def file_of(tmp_path_factory, header, rows):
    path = tmp_path_factory.mktemp("units") / "w.csv"
    place = "# latitude: -33.9\n# elevation: 40\n"
    path.write_text(place + header + "\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


@given(days=days)
def test_metric_and_us_units_give_the_same_weather(tmp_path_factory, days):
    metric, us = [], []
    for i, (low, spread, rain, wind, rh) in enumerate(days):
        date = str(FIRST + i * DAY)
        low, high, rain, wind = low / 10, (low + spread) / 10, rain / 10, wind / 10
        metric.append(f"{date},{high},{low},{rain},{wind},{rh}")
        fahrenheit = [repr(c * 1.8 + 32) for c in (low, high)]
        us.append(";".join([str(rh), *fahrenheit, repr(rain / 25.4), repr(wind / 0.44704), date]))
    a = read_weather(
        file_of(tmp_path_factory, "date,tmax (C),tmin (C),rain (mm),wind 2 m (m/s),RH", metric)
    )
    b = read_weather(
        file_of(tmp_path_factory, "RH %;Low F;High F;Rain inches;Wind 2 m mph;Date", us)
    )
    for name in ("tmax", "tmin", "rain", "wind_speed", "vapour_pressure", "et0"):
        np.testing.assert_allclose(a[name], b[name], rtol=1e-6, atol=1e-6, err_msg=name)


def most_et0(high, low):
    """More than Penman-Monteith can give in any wind and sun [mm], from its two terms.

    The sun's: all of 50 MJ/m2, more than reaches the top of the air, less the albedo of 0.23, and a
    sky that sends back at the most 0.35 x 0.34 of what a black body at the highest temperature
    does; each MJ/m2 evaporates 0.408 mm. The wind's: with wind without end it is
    900 / 0.34 / (T + 273) of the vapour pressure that dry air lacks.
    """
    vapour = sum(0.6108 * np.exp(17.27 * t / (t + 237.3)) for t in (high, low)) / 2
    sun = 0.408 * (0.77 * 50 + 0.35 * 0.34 * 4.903e-9 * (high + 273.16) ** 4)
    return sun + 900 / 0.34 / ((high + low) / 2 + 273) * vapour


@given(days=days)
def test_what_is_read_is_sane(tmp_path_factory, days):
    rows = [
        f"{FIRST + i * DAY},{(low + spread) / 10},{low / 10},{rain / 10},{wind / 10},{rh}"
        for i, (low, spread, rain, wind, rh) in enumerate(days)
    ]
    weather = read_weather(
        file_of(tmp_path_factory, "date,tmax (C),tmin (C),rain (mm),wind 2 m (m/s),RH", rows)
    )
    assert weather.sizes["time"] == len(days)
    for name in weather.data_vars:
        assert np.isfinite(weather[name].values).all()
    assert (weather["et0"].values >= 0).all()
    low, spread, _, _, _ = np.asarray(days, dtype=float).T / 10
    assert (weather["et0"].values * 1000 <= most_et0(low + spread, low)).all()
    assert ((weather["rh_min"] >= 0) & (weather["rh_min"] <= 100)).all()
    assert (weather["vapour_pressure"] > 0).all()


@given(days=days, lost=st.sets(st.integers(1, 17), max_size=6))
def test_gaps_are_filled_and_counted_or_refused(tmp_path_factory, days, lost):
    rows = [
        f"{FIRST + i * DAY},{(low + spread) / 10},{low / 10},{rain / 10}"
        for i, (low, spread, rain, _, _) in enumerate(days)
    ]
    lost = {i for i in lost if i < len(rows) - 1}
    kept = [row for i, row in enumerate(rows) if i not in lost]
    path = file_of(tmp_path_factory, "date,tmax (C),tmin (C),rain (mm)", kept)
    longest = max((sum(j in lost for j in range(i, i + 4)) for i in range(len(rows))), default=0)
    if longest == 4:
        with pytest.raises(TimeAxisError, match="gaps of at most 3 days"):
            read_weather(path)
        return
    weather = read_weather(path)
    assert weather.sizes["time"] == len(rows)
    assert set(np.flatnonzero(weather["filled"].values)) == lost
    full = [days[i] for i in range(len(days)) if i not in lost]
    assert np.isclose(float(weather["rain"].sum()) * 1e4, sum(row[2] for row in full))
