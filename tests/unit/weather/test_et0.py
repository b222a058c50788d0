"""The physics of FAO-56 by hand: each rule alone, its limits, scalars like arrays."""

import math

import numpy as np
import pytest

from bedtide.errors import FieldError, RangeError
from bedtide.weather import reference_et
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

JULY = np.array(["2021-07-15"], dtype="datetime64[D]")  # day 196 of the year


def e(celsius):
    return 0.6108 * math.exp(17.27 * celsius / (celsius + 237.3))


def sky(day, latitude):
    """Radiation above the air [MJ m-2 d-1] and hours of daylight, anew from Eq. 21 to 34."""
    phi = math.radians(latitude)
    distance = 1 + 0.033 * math.cos(2 * math.pi * day / 365)
    delta = 0.409 * math.sin(2 * math.pi * day / 365 - 1.39)
    omega = math.acos(-math.tan(phi) * math.tan(delta))
    sun = omega * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(
        omega
    )
    return 24 * 60 / math.pi * 0.0820 * distance * sun, 24 / math.pi * omega


def test_pressure_of_saturated_air():
    assert float(saturation_pressure(0.0)) == pytest.approx(0.6108)
    assert saturation_pressure([10.0, 20.0]) == pytest.approx([e(10), e(20)])


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"rh_max": 82.0, "rh_min": 54.0}, (e(18) * 0.82 + e(25) * 0.54) / 2),
        ({"rh_max": 82.0}, e(18) * 0.82),
        ({"rh_mean": 68.0}, (e(25) + e(18)) / 2 * 0.68),
        ({"rh_min": 54.0}, e(25) * 0.54),
        ({"rh_max": 82.0, "rh_mean": 68.0}, e(18) * 0.82),
        ({"rh_min": 54.0, "rh_mean": 68.0}, (e(25) + e(18)) / 2 * 0.68),
        ({"rh_max": np.nan, "rh_min": np.nan, "rh_mean": np.nan}, np.nan),
    ],
)
def test_the_best_rule_for_humidity(given, expected):
    assert float(vapour_pressure_from_rh(25.0, 18.0, **given)) == pytest.approx(
        expected, nan_ok=True
    )


def test_wind_is_brought_to_2_m():
    assert float(wind_at_2m(3.0, 2.0)) == 3.0
    assert float(wind_at_2m(3.0, 10.0)) == pytest.approx(3.0 * 4.87 / math.log(678 - 5.42))


@pytest.mark.parametrize("latitude", [45.0, -33.9, 0.0])
def test_sun_above_the_air_and_length_of_day(latitude):
    above, hours = sky(196, latitude)
    assert extraterrestrial_radiation(JULY, latitude)[0] == pytest.approx(above, rel=2e-4)
    assert daylight_hours(JULY, latitude)[0] == pytest.approx(hours, rel=2e-4)


def test_a_polar_night_and_a_polar_day():
    assert extraterrestrial_radiation(JULY, -80.0)[0] == 0.0
    assert daylight_hours(JULY, -80.0)[0] == pytest.approx(0.0, abs=1e-6)
    assert daylight_hours(JULY, 80.0)[0] == pytest.approx(24.0)
    for wrong in (90.1, -90.1, np.nan):
        with pytest.raises(RangeError, match="latitude"):
            daylight_hours(JULY, wrong)


def test_radiation_by_height_sunshine_and_temperature():
    assert clear_sky_radiation([40.0], 1000.0)[0] == pytest.approx(0.77 * 40)
    assert radiation_from_sunshine([7.0, 15.0, 0.0], [14.0, 14.0, 0.0], 40.0) == pytest.approx(
        [0.5 * 40, 0.75 * 40, 0.25 * 40]
    )
    # the short days beside a polar night, and sun that a dark day can't have
    assert radiation_from_sunshine([0.25, 1.0], [0.5, 0.0], 8.0) == pytest.approx([4.0, 2.0])
    assert float(radiation_from_temperature(25.0, 16.0, 40.0)) == pytest.approx(0.16 * 3 * 40)
    coast = radiation_from_temperature([25.0], [16.0], [40.0], setting="coast")
    assert coast == pytest.approx([0.19 * 3 * 40])


def test_demand_by_hand():
    """A day of July at 45 north and 200 m, worked out here from Eq. 6 to 40."""
    warm, cold, vapour, wind, sun, z = 27.0, 15.0, 1.6, 2.5, 22.0, 200.0
    above, _ = sky(196, 45.0)
    dim = 1.35 * sun / ((0.75 + 2e-5 * z) * above) - 0.35
    black = 4.903e-9 * ((warm + 273.16) ** 4 + (cold + 273.16) ** 4) / 2
    net = 0.77 * sun - black * (0.34 - 0.14 * math.sqrt(vapour)) * dim
    columns = {"days": JULY, "tmax": [warm], "tmin": [cold], "vapour_pressure": [vapour]}
    place = {"solar_radiation": [sun], "latitude": 45.0, "elevation": z}
    mean = (warm + cold) / 2
    slope = 4098 * e(mean) / (mean + 237.3) ** 2
    gamma = 0.665e-3 * 101.3 * ((293 - 0.0065 * z) / 293) ** 5.26
    lack = (e(warm) + e(cold)) / 2 - vapour
    for heat in (0.0, 0.5):
        upper = 0.408 * slope * (net - heat) + gamma * 900 / (mean + 273) * wind * lack
        depth = upper / (slope + gamma * (1 + 0.34 * wind))
        soil = {"soil_heat": heat} if heat else {}
        found = penman_monteith(**columns, **place, wind_speed=[wind], **soil)
        assert found.shape == (1,)
        assert found[0] * 1000 == pytest.approx(depth, rel=2e-4)
    simple = 0.0023 * (mean + 17.8) * math.sqrt(warm - cold) * 0.408 * above
    found = hargreaves(days=JULY, tmax=[warm], tmin=[cold], latitude=45.0)
    assert found[0] * 1000 == pytest.approx(simple, rel=2e-4)


def test_dew_counts_as_nothing():
    night = np.array(["2021-12-20"], dtype="datetime64[D]")
    cold = {"days": night, "tmax": [-5.0], "tmin": [-12.0]}
    found = penman_monteith(
        **cold, vapour_pressure=[0.3], wind_speed=[0.0], solar_radiation=[0.5], latitude=60.0,
        elevation=0.0,
    )  # fmt: skip
    assert found[0] == 0.0
    assert hargreaves(days=night, tmax=[-20.0], tmin=[-30.0], latitude=50.0)[0] == 0.0


@pytest.mark.parametrize("height", [-430.1, 6000.1])
def test_heights_that_no_garden_has(height):
    names = ("tmax", "tmin", "vapour_pressure", "wind_speed", "solar_radiation")
    columns = {name: [1.0] for name in names}
    with pytest.raises(RangeError, match="elevation"):
        penman_monteith(days=JULY, **columns, latitude=45.0, elevation=height)


def test_a_record_says_its_place_or_is_told(table):
    from bedtide.weather import read_weather

    weather = read_weather(table())
    np.testing.assert_allclose(reference_et(weather), weather["et0"], rtol=1e-12)
    higher = reference_et(weather, elevation=3000.0, latitude=10.0)
    assert (np.abs(higher - weather["et0"]) > 1e-5).all()
    by_heat = reference_et(weather, method="hargreaves")
    assert by_heat.attrs["units"] == "m d-1"
    days = weather["time"].values.astype("datetime64[D]")
    own = hargreaves(days=days, tmax=weather["tmax"], tmin=weather["tmin"], latitude=48.0)
    np.testing.assert_array_equal(by_heat, own)
    del weather.attrs["latitude"]
    with pytest.raises(FieldError, match="the latitude is not known"):
        reference_et(weather)
    with pytest.raises(FieldError, match="wind_speed not in the record"):
        reference_et(weather.drop_vars("wind_speed"))
