import pytest

from bedtide.errors import ChoiceError
from bedtide.weather.columns import read_heading, unit_of


@pytest.mark.parametrize(
    ("heading", "key", "unit", "height"),
    [
        ("Tmax (°C)", "tmax", "degC", None),
        ("tmax_f", "tmax", "degF", None),
        ("Max Temp (F)", "tmax", "degF", None),
        ("Minimum temperature (°C)", "tmin", "degC", None),
        ("Tmin, C", "tmin", "degC", None),
        ("Rain [mm]", "rain", "mm", None),
        ("Rain in mm", "rain", "mm", None),
        ("precip_in", "rain", "in", None),
        ("Wind speed at 10 m (km/h)", "wind_speed", "km/h", 10.0),
        ("wind_10m_kmh", "wind_speed", "km/h", 10.0),
        ("windspeedmph", "wind_speed", "mph", None),
        ("u2 (m/s)", "wind_speed", "m/s", 2.0),
        ("Wind (knots)", "wind_speed", "knots", None),
        ("RHmax (%)", "rh_max", "%", None),
        ("humidity", "rh_mean", "%", None),
        ("dewptf", "dew_point", "degF", None),
        ("vapour pressure hPa", "vapour_pressure", "hPa", None),
        ("Solar Radiation (MJ/m2)", "solar_radiation", "MJ/m2", None),
        ("radiation (W m-2)", "solar_radiation", "W/m2", None),
        ("sunshine_hours", "sunshine", "h", None),
        ("Sunshine (min)", "sunshine", "min", None),
        ("Date", "date", None, None),
        ("tmax", "tmax", None, None),
        ("et0 (mm)", "et0", "mm", None),
        ("ETo (in)", "et0", "in", None),
        ("et0", "", None, None),  # no unit, and it is not needed
    ],
)
def test_usual_spellings(heading, key, unit, height):
    found = read_heading(heading)
    assert (found.key, found.unit and found.unit.text, found.height) == (key, unit, height)


@pytest.mark.parametrize(
    "heading",
    ["wind gust (m/s)", "wind_dir", "pressure (hPa)", "Evaporation (mm)", "snow (cm)",
     "Time of maximum wind gust", "soil temperature (C)", "vpd (kPa)", "indoor temp (C)", ""],
)  # fmt: skip
def test_other_quantities_are_not_taken(heading):
    assert read_heading(heading).key == ""


@pytest.mark.parametrize(
    ("key", "text", "given", "ours"),
    [
        ("tmax", "F", 212.0, 100.0),
        ("tmax", "K", 273.15, 0.0),
        ("rain", "in", 1.0, 25.4),
        ("rain", "cm", 1.0, 10.0),
        ("wind_speed", "km/h", 36.0, 10.0),
        ("wind_speed", "mph", 1.0, 0.44704),
        ("wind_speed", "kn", 3600.0 / 1852.0, 1.0),
        ("wind_speed", "km/d", 86.4, 1.0),
        ("solar_radiation", "W/m2", 1.0, 0.0864),
        ("solar_radiation", "kWh/m2", 1.0, 3.6),
        ("solar_radiation", "J/cm2", 100.0, 1.0),
        ("sunshine", "min", 90.0, 1.5),
        ("vapour_pressure", "hPa", 10.0, 1.0),
    ],
)
def test_units_by_definition(key, text, given, ours):
    unit = unit_of(key, text)
    assert given * unit.factor + unit.offset == pytest.approx(ours, rel=1e-12)


def test_a_unit_of_another_kind_is_none():
    assert unit_of("rain", "F") is None
    assert unit_of("date", "mm") is None


@pytest.mark.parametrize(
    ("meaning", "key", "unit"),
    [
        ("rain, mm", "rain", "mm"),
        ("mm", "rain", "mm"),
        ("tmin, F", "tmin", "degF"),
        ("ignore", "", None),
        ("rh_mean", "rh_mean", "%"),
    ],
)
def test_the_mapping_comes_first(meaning, key, unit):
    found = read_heading("precipitation", {"Precipitation": meaning})
    assert (found.key, found.unit and found.unit.text) == (key, unit)


@pytest.mark.parametrize(
    ("meaning", "part"),
    [("rayn, mm", "rain"), ("rain, furlongs", "a unit of rain"), ("nothing like it", "one of")],
)
def test_a_wrong_mapping_says_what_exists(meaning, part):
    with pytest.raises(ChoiceError) as caught:
        read_heading("blob", {"blob": meaning}, where="garden.csv")
    assert part in caught.value.text
    assert "garden.csv, column blob" in caught.value.text
