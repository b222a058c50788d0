import numpy as np
import pytest

from bedtide.errors import FieldError, TimeAxisError
from bedtide.tables import attributes, terms
from bedtide.weather import read_weather, reference_et


def test_what_comes_back(table):
    weather = read_weather(table())
    assert list(weather.dims) == ["time"]
    assert weather["time"].values[0] == np.datetime64("2021-05-01")
    assert weather.sizes["time"] == 10
    for name in ("tmax", "tmin", "vapour_pressure", "rh_min", "wind_speed", "solar_radiation",
                 "rain", "et0"):  # fmt: skip
        assert weather[name].attrs == attributes(name)
        assert weather[name].dtype == np.float64
        assert terms()[name]["unit"] == weather[name].attrs["units"]
        assert np.isfinite(weather[name].values).all()
    assert weather["tmax"].values[:3].tolist() == [20.0, 21.0, 22.0]
    np.testing.assert_allclose(weather["rain"].values[:4], [0.0, 0.0015, 0.003, 0.0045])
    assert weather.attrs["latitude"] == 48.0
    assert weather.attrs["elevation"] == 200.0
    assert "tmax (C) -> tmax, degC" in weather.attrs["columns_read"]


def test_every_stand_in_is_counted(table):
    weather = read_weather(table())
    assert weather["estimated"].values.tolist() == [2] * 10
    text = " ".join(weather.attrs["assumptions"])
    assert "dew point was taken as the lowest temperature on every day" in text
    assert "from the day's range of temperature on every day" in text
    assert "Wind" not in text


def test_stand_ins_day_by_day(write):
    path = write(
        "# latitude: 48\n# elevation: 0\n"
        "date,tmax C,tmin C,dew point C,wind_2m_ms,srad MJ/m2,rain mm\n"
        "2021-05-01,20,10,9,2,18,0\n"
        + "".join(f"2021-05-{d:02d},20,10,,,,0\n" for d in range(2, 8))
        + "2021-05-08,20,10,9,2,18,0\n"
    )
    weather = read_weather(path)
    assert weather["estimated"].values.tolist() == [0, 3, 3, 3, 3, 3, 3, 0]
    assert weather["filled"].values.tolist() == [False] * 8
    assert "on 6 of 8 days" in " ".join(weather.attrs["assumptions"])


def test_temperature_alone_uses_hargreaves_and_says_so(table):
    path = table(lambda rows: [r[:4] for r in rows], header="date,tmax (C),tmin (C),rain (mm)")
    weather = read_weather(path)
    assert weather.attrs["et0_method"] == "hargreaves"
    assert any("temperature alone" in s for s in weather.attrs["assumptions"])
    other = read_weather(path, method="penman-monteith")
    assert not np.allclose(weather["et0"], other["et0"])
    np.testing.assert_allclose(other["et0"], reference_et(other))
    np.testing.assert_allclose(weather["et0"], reference_et(weather, method="hargreaves"))


def test_short_gaps_are_filled_and_counted(table):
    weather = read_weather(table(lambda rows: rows[:3] + rows[5:]))
    assert weather["filled"].values.tolist() == [False] * 3 + [True] * 2 + [False] * 5
    np.testing.assert_allclose(weather["tmax"].values[2:6], [22.0, 22 - 2 / 3, 22 - 4 / 3, 20.0])
    assert weather["rain"].values[3:5].tolist() == [0.0, 0.0]
    text = " ".join(weather.attrs["assumptions"])
    assert "temperature filled from the days on either side on 2 of 10 days" in text
    assert "rain taken as dry on 2 of 10 days" in text


def test_long_gaps_are_refused_and_the_best_part_is_named(table):
    path = table(lambda rows: rows[:3] + rows[7:30], days=30)
    with pytest.raises(TimeAxisError) as caught:
        read_weather(path)
    assert "from 2021-05-04 to 2021-05-07 (4 days)" in caught.value.text
    assert 'start="2021-05-08"  and  end="2021-05-30"' in caught.value.text
    assert read_weather(path, max_gap_days=4)["filled"].values.sum() == 4
    assert read_weather(path, start="2021-05-08").sizes["time"] == 23


def test_days_at_the_ends_without_rain_are_left_out_and_counted(table):
    def change(rows):
        rows[0][3] = rows[9][3] = ""

    weather = read_weather(table(change))
    assert weather.sizes["time"] == 8
    assert weather.attrs["assumptions"][0] == (
        "2 days at the ends of the record lack temperature or rain; "
        "it is used from 2021-05-02 to 2021-05-09."
    )


def test_leap_day_left_out_is_a_gap_of_one_day(write, rows):
    body = [r for r in rows(10, "2020-02-25") if r[0] != "2020-02-29"]
    text = "# latitude: 48\n# elevation: 0\ndate,tmax C,tmin C,rain mm,wind_2m_ms\n"
    weather = read_weather(write(text + "\n".join(map(",".join, body))))
    assert str(weather["time"].values[weather["filled"].values][0])[:10] == "2020-02-29"


def test_rain_day_moves_the_rain_and_nothing_else(table):
    path = table()
    plain, moved = read_weather(path), read_weather(path, rain_day="to morning")
    assert moved.sizes["time"] == 9
    np.testing.assert_array_equal(moved["rain"].values, plain["rain"].values[1:])
    np.testing.assert_array_equal(moved["tmax"].values, plain["tmax"].values[:-1])
    assert moved.attrs["rain_day"] == "to morning"
    assert any("put on the day before" in s for s in moved.attrs["assumptions"])
    np.testing.assert_array_equal(
        read_weather(path, rain_day="from morning")["rain"], plain["rain"]
    )


def test_place_by_header_or_argument(table, write):
    text = table().read_text()
    bare = write("\n".join(text.splitlines()[2:]) + "\n", "bare.csv")
    with pytest.raises(FieldError) as caught:
        read_weather(bare)
    for part in ("latitude and the elevation", "# latitude:", "# elevation:", "[site]"):
        assert part in caught.value.text
    given = read_weather(bare, latitude=48.0, elevation=200.0)
    np.testing.assert_array_equal(given["et0"], read_weather(table())["et0"])
    # what the station says of itself wins over where the bed stands
    assert read_weather(table(), latitude=10.0, elevation=0.0).attrs["latitude"] == 48.0


@pytest.mark.parametrize(
    ("line", "name", "value"),
    [
        ("# latitude: 33.9 S", "latitude", -33.9),
        ("# Lat: -33.9", "latitude", -33.9),
        ("#latitude: 33,9", "latitude", 33.9),
        ("# elevation: 100 ft", "elevation", 30.48),
        ("# altitude: 12", "elevation", 12.0),
        ("# place: Back yard", "place", "Back yard"),
        ("# rain day: to morning", "rain_day", "to morning"),
    ],
)
def test_lines_above_the_header(table, line, name, value):
    path = table()
    path.write_text(path.read_text().replace("date,", f"{line}\ndate,", 1))
    found = read_weather(path).attrs[name]
    assert found == (pytest.approx(value) if isinstance(value, float) else value)


def test_wind_height(table):
    header = "date,tmax (C),tmin (C),rain (mm),wind at 10 m (m/s)"
    low, high = read_weather(table()), read_weather(table(header=header))
    np.testing.assert_allclose(
        high["wind_speed"], low["wind_speed"] * 4.87 / np.log(67.8 * 10 - 5.42)
    )
    given = read_weather(table(header=header), wind_height=2.0)
    np.testing.assert_array_equal(given["wind_speed"], low["wind_speed"])
    unknown = read_weather(table(header="date,tmax (C),tmin (C),rain (mm),wind (m/s)"))
    assert any("taken as measured 2 m above" in s for s in unknown.attrs["assumptions"])


def test_units_in_a_row_below_the_header_or_in_a_comment(table):
    plain = read_weather(table())
    names = "date,tmax,tmin,rain,wind at 2 m"
    below = read_weather(table(header=names + "\n,C,C,mm,m/s"))
    comment = "# units: tmax = C, tmin = C, rain = mm, wind at 2 m = m/s\n"
    above = read_weather(table(header=comment + names))
    mapping = {"tmax": "C", "tmin": "C", "rain": "mm", "wind at 2 m": "wind_speed, m/s"}
    mapped = read_weather(table(header=names), columns=mapping)
    for other in (below, above, mapped):
        np.testing.assert_array_equal(other["et0"], plain["et0"])


def test_sunshine_hours_and_three_date_columns(write):
    rows = "".join(f"2021;6;{d};22,5;11,5;65;10,2;0,4\n" for d in range(1, 8))
    path = write(
        "# latitude: 48\n# elevation: 100\n"
        "Year;Month;Day;Tmax (°C);Tmin (°C);RH (%);Sunshine (h);Rain (mm)\n" + rows
    )
    weather = read_weather(path)
    assert weather["tmax"].values.tolist() == [22.5] * 7
    assert weather["rain"].values[0] == pytest.approx(0.0004)
    assert any("hours of sunshine on every day" in s for s in weather.attrs["assumptions"])


def test_one_station_of_several(write):
    rows = "".join(
        f"{s},2021-06-{d:02d},{t},10,0\n" for s, t in (("A", 20), ("B", 25)) for d in (1, 2, 3)
    )
    path = write("# latitude: 48\n# elevation: 0\nstation,date,tmax C,tmin C,rain mm\n" + rows)
    with pytest.raises(FieldError) as caught:
        read_weather(path)
    assert "2 stations: A, B" in caught.value.text
    assert 'station="A"' in caught.value.text
    assert read_weather(path, station="B")["tmax"].values.tolist() == [25.0] * 3


def test_impossible_values_can_be_dropped_and_are_counted(table):
    def change(rows):
        rows[4][1] = "-5"

    weather = read_weather(table(change), impossible="drop")
    assert weather["filled"].values.sum() == 1
    assert (
        "Impossible values of tmax (C) in garden.csv were left out: 1,"
        in weather.attrs["assumptions"][0]
    )


def test_a_trace_counts_as_none(table):
    def change(rows):
        rows[1][3] = "T"

    weather = read_weather(table(change))
    assert weather["rain"].values[1] == 0.0
    assert "Traces of rain, which count as none: 1." in weather.attrs["assumptions"]


def test_reference_et_wants_what_it_needs(table):
    weather = read_weather(table())
    with pytest.raises(FieldError, match="wind_speed"):
        reference_et(weather.drop_vars("wind_speed"))
    bare = weather.copy()
    bare.attrs = {}
    with pytest.raises(FieldError, match="latitude"):
        reference_et(bare)
    with pytest.raises(TimeAxisError):
        reference_et(weather.isel(time=[0, 1, 3]))
    assert reference_et(weather).attrs == attributes("et0")
