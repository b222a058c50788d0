import numpy as np
import pytest

from bedtide.errors import ChoiceError, InputError
from bedtide.weather import read_weather
from bedtide.weather.columns import Heading, by_entry, read_heading, unit_of, with_units
from bedtide.weather.layouts import Layout
from bedtide.weather.options import Options
from bedtide.weather.text import Table


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
        ("solar_radiation", "MJ/m2/day", 1.0, 1.0),
        ("solar_radiation", "MJ m^-2 d^-1", 1.0, 1.0),
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
    [
        ("rayn, mm", "rain"),
        ("rain, furlongs", "a unit of rain"),
        ("nothing like it", "one of"),
        ("rain, mm, daily", '"daily" is not known'),
    ],
)
def test_a_wrong_mapping_says_what_exists(meaning, part):
    with pytest.raises(ChoiceError) as caught:
        read_heading("blob", {"blob": meaning}, where="garden.csv")
    assert part in caught.value.text
    assert "garden.csv, column blob" in caught.value.text
    assert ("Closest:" in caught.value.text) is meaning.startswith("rayn")


# units by the values ---------------------------------------------------------------------------


def table(**columns):
    """A table of these columns of numbers."""
    texts = [[f"{value:g}" for value in values] for values in columns.values()]
    lines = np.arange(2, 2 + len(texts[0]))
    return Table("g.csv", list(columns), list(texts), lines, ",")


def offered(key, values):
    """The units among which a person is asked to choose."""
    _, (error,) = with_units(table(x=values), {0: Heading(key)}, {})
    return error.expected.removeprefix("one of ").partition(" in the header")[0]


@pytest.mark.parametrize(
    ("key", "low", "high", "units"),
    [
        # low and high: the 2nd and the 98th of 100 values; where no unit is usual, all are offered
        ("tmax", -50.0, 50.0, "degC, degF"),
        ("tmax", -50.5, 50.0, "degF"),
        ("tmax", 30.0, 50.0, "degC, degF"),
        ("tmax", 30.5, 50.0, "degF"),
        ("tmax", 0.0, 50.5, "degF"),
        ("tmax", -20.0, 0.0, "degC"),
        ("tmax", -20.0, -0.5, "degC, degF, K"),
        ("tmin", 270.0, 300.0, "K"),
        ("vapour_pressure", 3.0, 5.0, "kPa, hPa"),
        ("vapour_pressure", 3.1, 5.0, "hPa"),
        ("vapour_pressure", 1.0, 5.1, "hPa"),
        ("vapour_pressure", 0.0, 0.2, "kPa"),
        ("vapour_pressure", 0.0, 0.19, "kPa, hPa, Pa"),
        ("vapour_pressure", -0.1, 2.0, "kPa, hPa, Pa"),
        ("rh_mean", 0.0, 20.0, "%"),
        ("rh_mean", 0.0, 19.9, "%, share"),
        ("rh_mean", 99.0, 100.0, "%"),
        ("rh_mean", 99.5, 100.0, "%, share"),
        ("rh_mean", 0.0, 101.0, "%, share"),
        ("rh_mean", 0.0, 0.2, "share"),
        ("wind_speed", 6.0, 20.0, "m/s, km/h, mph, knots"),
        ("wind_speed", 6.1, 20.0, "km/h, mph, knots"),
        ("wind_speed", 5.0, 20.1, "km/h, mph, knots"),
        ("wind_speed", 0.0, 1.0, "m/s"),
        ("wind_speed", 0.0, 0.9, "m/s, km/h, mph, knots, km/d"),
        ("solar_radiation", 20.0, 45.0, "MJ/m2, W/m2"),
        ("solar_radiation", 20.1, 45.0, "W/m2"),
        ("solar_radiation", 20.0, 45.1, "W/m2"),
        ("solar_radiation", 0.0, 3.0, "MJ/m2, kWh/m2"),
        ("solar_radiation", 0.0, 2.9, "kWh/m2"),
        ("sunshine", 6.0, 24.0, "h"),
        ("sunshine", 0.0, 3.0, "h"),
        ("sunshine", 6.1, 24.0, "h, min, s"),
        ("sunshine", 0.0, 24.1, "h, min, s"),
        ("sunshine", 0.0, 2.9, "h, min, s"),
        ("rain", 5.0, 150.0, "mm"),
        ("rain", 5.1, 150.0, "mm, cm, in, mm/h, in/h"),
        ("rain", 0.0, 150.1, "mm, cm, in, mm/h, in/h"),
        ("rain", 0.0, 15.0, "mm, cm"),
        ("rain", 0.0, 1.0, "mm, cm, in, mm/h"),
        ("rain", 0.0, 0.9, "cm, in, mm/h"),
    ],
)
def test_units_that_the_values_contradict_are_not_offered(key, low, high, units):
    values = [low - 1000.0, *[low] * 49, *[high] * 49, high + 1000.0]
    assert offered(key, values) == units


def test_few_values_contradict_no_unit():
    assert offered("tmax", [300.0] * 59) == "degC, degF, K"
    assert offered("tmax", [300.0] * 60) == "K"


@pytest.mark.parametrize(
    ("most", "count", "units"),
    [
        (60.5, 1, "standard"), (60.0, 200, ""), (50.5, 200, ""), (50.0, 180, "metric"),
        (50.0, 179, ""), (15.0, 180, "metric"), (14.5, 180, ""),
    ],
)  # fmt: skip
def test_a_file_that_may_be_in_us_units_is_known_by_its_warmth(most, count, units):
    columns = {"Hi": Heading("tmax", unit_of("tmax", "C")), "Lo": Heading("tmin"),
               "Mean": Heading("temperature")}  # fmt: skip
    layout = Layout(name="x", columns={"Hi": "tmax, C"}, standard={"Hi": "tmax, F"})
    layout = layout.model_copy(update={"columns": columns})
    given = table(Hi=[most, *[10.0] * (count - 1)], Lo=[70.0] * count)  # which is not looked at
    if not units:
        with pytest.raises(InputError, match="temperatures do not settle them"):
            by_entry(given, layout, Options())
        return
    found, notes = by_entry(given, layout, Options())
    assert found[0].unit.text == {"standard": "degF", "metric": "degC"}[units]
    assert notes == [f"The units of g.csv were taken as {units}."]


def test_a_row_of_units_has_two_of_them_or_no_number(write):
    place = "# latitude: 48\n# elevation: 200\n"
    row = "2021-05-01,20,10,{}\n"
    one = write(place + "date,tmax (C),tmin (C),rain\n" + ",,,mm\n" + row.format(3))
    assert read_weather(one)["rain"].values.tolist() == [0.003]
    # a unit beside numbers is a mistake of that row
    wrong = write(place + "date,tmax (C),tmin (C),rain (mm)\n" + row.format("in"), "w.csv")
    with pytest.raises(InputError, match='"in" is not a number'):
        read_weather(wrong)
