import re

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import read_weather
from bedtide.weather.join import borrow_columns, join_records, level_wind, shift_rain
from bedtide.weather.record import Column, Record

PLACE = "# latitude: 48.0\n# elevation: 200 m\n"


def daily(names, values, days=range(1, 11)):
    body = "".join(f"2021-05-{d:02d},{values}\n" for d in days)
    return f"{PLACE}date,{names}\n{body}"


@pytest.fixture
def rain_only(write):
    return write(daily("rain (mm)", "4.0"), "rain.csv")


@pytest.fixture
def airport(write):
    names = "tmax (C),tmin (C),wind at 10 m (m/s),RH (%),rain (mm)"
    return write(daily(names, "20,10,4,60,9.0"), "airport.csv")


def test_years_and_columns_of_one_station_join_by_date(write):
    a = write(daily("tmax (C),tmin (C)", "20,10"), "a.csv")
    b = write(daily("rain (mm)", "2", range(1, 6)), "b.csv")
    c = write(
        daily("rain (mm)", "3", range(5, 11)).replace("2021-05-05,3", "2021-05-05,2"), "c.csv"
    )
    one = read_weather([a, b, c])
    two = read_weather([c, a, b])
    np.testing.assert_array_equal(one["rain"], two["rain"])
    np.testing.assert_allclose(one["rain"].values * 1000, [2] * 5 + [3] * 5)


def test_what_many_files_say_alike_is_told_once(write):
    names = "tmax (C),tmin (C),wind (m/s),rain (mm)"
    files = [write(daily(names, "20,10,4,2", [day]), f"{day}.csv") for day in (1, 2, 3)]
    files += [write(daily(names, "20,10,4,2", [4, 4]), "4.csv")]
    notes = read_weather(files).attrs["assumptions"]
    (wind,) = (note for note in notes if note.startswith("Wind of"))
    assert wind.startswith("Wind of 1.csv and 3 more: taken as measured 2 m above the ground")
    assert "1 day came twice in 4.csv with the same values." in notes


def test_files_that_contradict_are_refused(write):
    a = write(daily("tmax (C),tmin (C),rain (mm)", "20,10,2"), "a.csv")
    b = write(daily("rain (mm)", "3"), "b.csv")
    with pytest.raises(InputError) as caught:
        read_weather([a, b])
    for part in ("b.csv, line 4", "3 mm on 2021-05-01", "a.csv says 2 mm on line 4"):
        assert part in caught.value.text


def test_files_of_two_places_are_refused(write):
    a = write(daily("tmax (C),tmin (C)", "20,10"), "a.csv")
    b = write(daily("rain (mm)", "3").replace("48.0", "52.0"), "b.csv")
    with pytest.raises(InputError, match="files of one station"):
        read_weather([a, b])


def test_mistakes_of_all_files_come_together(write):
    a = write(daily("tmax (C),tmin (C)", "2,10"), "a.csv")
    b = write(daily("rain (mm)", "-3"), "b.csv")
    with pytest.raises(InputError) as caught:
        read_weather([a, b])
    assert "a.csv, line 4" in caught.value.text
    assert "b.csv, line 4" in caught.value.text


def test_what_is_missing_is_borrowed_and_nothing_else(rain_only, airport):
    weather = read_weather(rain_only, borrow=airport)
    np.testing.assert_allclose(weather["rain"].values * 1000, 4.0)
    np.testing.assert_allclose(weather["tmax"], 20.0)
    np.testing.assert_allclose(weather["wind_speed"], 4 * 4.87 / np.log(672.58))
    text = " ".join(weather.attrs["assumptions"])
    assert "Temperature, humidity and wind of 10 days are borrowed from airport.csv" in text


def test_borrowing_from_a_station_with_another_rain_day(write, airport):
    path = write(daily("tmax (C),tmin (C)", "21,11"), "t.csv")
    lender = airport
    lender.write_text(lender.read_text().replace("date,", "# rain day: to morning\ndate,", 1))
    weather = read_weather(path, borrow=lender)
    assert weather.sizes["time"] == 9
    assert any("rain day: to morning" in s for s in weather.attrs["assumptions"])


def test_days_that_the_other_station_lacks_take_the_stand_in(table, write):
    other = write(daily("RH (%)", "50", range(3, 6)), "other.csv")
    weather = read_weather(table(), borrow=other)
    assert weather["estimated"].values.tolist() == [2, 2, 1, 1, 1, 2, 2, 2, 2, 2]


def test_nothing_to_borrow_is_said(airport, table):
    with pytest.raises(InputError, match="nothing in it"):
        read_weather(airport, borrow=table())


def test_no_common_day_is_said(rain_only, write):
    other = write(daily("tmax (C),tmin (C)", "20,10").replace("2021", "1999"), "old.csv")
    with pytest.raises(InputError, match=r"no day of rain\.csv") as caught:
        read_weather(rain_only, borrow=other)
    assert "Expected days from 2021-05-01 to 2021-05-10" in caught.value.text


def test_your_own_gauge_overrides_the_station_on_its_dates(table, write):
    path = table()
    plain = read_weather(path)
    log = write("Date,Rain (in)\n2021-05-07,0.5\n2021-05-03,T\n2021-06-01,1\n", "gauge.csv")
    weather = read_weather(path, gauge=log)
    expected = plain["rain"].values.copy()
    expected[6], expected[2] = 0.0127, 0.0
    np.testing.assert_allclose(weather["rain"], expected)
    text = " ".join(weather.attrs["assumptions"])
    assert "Rain of 2 days is from your own gauge (gauge.csv)" in text
    assert "1 day of the log is outside the record" in text


@pytest.mark.parametrize(
    ("station", "said"),
    [(["2.5", "4"], "where the station has 6.5 mm."), (["", "4"], "has 4.0 mm on 1 of them."),
     (["", ""], "where the station has no reading.")],
)  # fmt: skip
def test_a_gauge_is_compared_where_the_station_has_rain(table, write, station, said):
    def change(rows):
        rows[4][3], rows[6][3] = station

    log = write("Date,Rain (mm)\n2021-05-05,1.5\n2021-05-07,2\n", "gauge.csv")
    weather = read_weather(table(change), gauge=log)
    (sentence,) = (s for s in weather.attrs["assumptions"] if "own gauge" in s)
    assert sentence.startswith("Rain of 2 days is from your own gauge (gauge.csv): 3.5 mm, where ")
    assert sentence.endswith(said)


def test_a_gauge_read_in_the_morning(table, write):
    log = write("# rain day: to morning\nDate,Rain (mm)\n2021-05-07,12\n", "gauge.csv")
    weather = read_weather(table(), gauge=log)
    assert weather["rain"].values[5] == pytest.approx(0.012)


@pytest.mark.parametrize(
    ("log", "part"),
    [
        ("Date,Rain\n2021-05-01,3\n", "unit is not given"),
        ("Date,Rain (mm)\n2021-05-01,-3\n", "line 2"),
        ("Date,Rain (mm)\n2021-05-01,3\n2021-05-01,4\n", "is there twice"),
        ("Date,Rain (mm)\n2020-05-01,3\n", "none of its dates"),
        ("Date,Rain (mm)\n1/5/2021,3\n", "date_order"),
        ("when,how much\nx,y\n", "no line names a date"),
    ],
)
def test_a_wrong_log_is_refused(table, write, log, part):
    with pytest.raises(InputError) as caught:
        read_weather(table(), gauge=write(log, "gauge.csv"))
    assert part in caught.value.text


# records by themselves -------------------------------------------------------------------------


def record(source, days, columns, **about):
    """A record of some days of May 2021, its lines counted from 2, with columns of these values."""
    times = np.array([f"2021-05-{day:02d}" for day in days], dtype="datetime64[s]")
    made = {
        key: Column(key, "its unit", np.full(len(times), values, dtype=np.float64))
        for key, values in columns.items()
    }
    return Record(source, "plain table", times, np.arange(2, len(times) + 2), made, **about)


def test_of_files_that_differ_the_finished_one_is_right_and_two_unfinished_contradict():
    finished = record("a", (1, 2, 3), {"rain": [1.0, 2.0, 3.0]}, rank=100)
    recent = record("b", (2, 3, 4, 5), {"rain": [2.0, 9.0, 4.0, 5.0]}, rank=200)
    for several in ([finished, recent], [recent, finished]):
        joined = join_records(several)
        assert joined.columns["rain"].values.tolist() == [1.0, 2.0, 3.0, 4.0, 5.0]
        assert joined.notes[-1].startswith("1 values differ between two of the files")
    again = record("c", (3, 5), {"rain": [8.0, 7.0]}, rank=200)
    with pytest.raises(InputError) as caught:
        join_records([finished, recent, again])
    said = "7 its unit on 2021-05-05, but b says 5 its unit on line 5."
    assert caught.value.text.splitlines()[0] == f"c, line 3, column rain: {said}"


def test_a_joined_record_knows_what_any_of_its_files_says():
    first = record("a", (1,), {"rain": 1.0}, latitude=48.0, notes=["one"], ignored=["y", "x"])
    other = record("b", (1, 2), {"tmax": 20.0}, longitude=11.5, elevation=0.0, place="Farm",
                   notes=["two"], ignored=["x"], wind_height=10.0)  # fmt: skip
    joined = join_records([first, other])
    assert (joined.latitude, joined.longitude, joined.elevation) == (48.0, 11.5, 0.0)
    assert (joined.place, joined.source, joined.notes) == ("Farm", "a + b", ["one", "two"])
    assert joined.ignored == ["x", "y"]
    assert join_records([other, first]).wind_height == 10.0  # of the first
    np.testing.assert_array_equal(joined.columns["rain"].values, [1.0, np.nan])
    assert join_records([first]) is first


@pytest.mark.parametrize(
    ("name", "most"), [("latitude", 0.1), ("longitude", 0.1), ("elevation", 100.0)]
)
def test_files_of_one_station_lie_close_together(name, most):
    def joined(apart):
        places = (None, 10.0, 10.0 + apart)
        return join_records([record(f"f{x}", (1,), {"rain": 1.0}, **{name: x}) for x in places])

    assert getattr(joined(0.996 * most), name) == 10.0
    for apart in (1.004 * most, -1.004 * most):
        said = f"f{10 + apart}: its {name} is {10 + apart:g}, that of f10.0 is 10"
        with pytest.raises(InputError, match=re.escape(said)):
            joined(apart)


def test_rain_of_a_morning_lies_on_the_day_before():
    given = record("a", (2, 3, 5), {"rain": [1.0, 2.0, 3.0], "tmax": [12.0, 13.0, 15.0]},
                   rain_day="to morning")  # fmt: skip
    shifted = shift_rain(given)
    assert [str(day)[8:10] for day in shifted.times] == ["01", "02", "03", "04", "05"]
    np.testing.assert_array_equal(shifted.columns["rain"].values, [1, 2, np.nan, 3, np.nan])
    np.testing.assert_array_equal(shifted.columns["tmax"].values, [np.nan, 12, 13, np.nan, 15])
    given.rain_day = "from morning"
    assert shift_rain(given) is given


def test_wind_is_brought_to_2_m_where_its_height_is_known():
    """FAO-56 example 14: 3.2 m/s at 10 m are 2.4 m/s at 2 m."""
    for own, said, expected in ((10.0, None, 2.4), (2.0, 10.0, 2.4), (None, None, 3.2)):
        given = record("a", (1, 2, 3), {"wind_speed": [3.2, np.nan, 3.2]}, wind_height=own)
        level_wind(given, said)
        assert given.columns["wind_speed"].values[0] == pytest.approx(expected, abs=0.05)
        assert given.wind_height == 2.0
        assert ("2 m above the ground, as no height" in " ".join(given.notes)) is (
            (own, said) == (None, None)
        )
    still = record("a", (1,), {"rain": 1.0})
    level_wind(still, 10.0)
    assert (still.notes, still.wind_height) == ([], None)


@pytest.mark.parametrize(
    ("here", "there", "away"),
    [
        ((0.0, 0.0), (0.0, 1.0), "111 km"),  # a degree of the equator
        ((0.0, 179.5), (0.0, -179.5), "111 km"),
        ((90.0, 0.0), (0.0, 70.0), "10008 km"),  # a quarter of a meridian of 6371 km
        ((51.5074, -0.1278), (48.8566, 2.3522), "344 km"),  # London to Paris
        ((-33.87, 151.21), (-37.81, 144.96), "713 km"),  # Sydney to Melbourne
    ],
)
def test_how_far_away_the_station_that_lends_is(here, there, away):
    names = ("latitude", "longitude")
    own = record("a", (1, 2), {"rain": 1.0}, **dict(zip(names, here, strict=True)))
    other = record("b", (2, 3), {"dew_point": 5.0}, **dict(zip(names, there, strict=True)))
    borrowed = borrow_columns(own, other)
    assert f"Humidity of 1 day is borrowed from b (b), {away} away; its" in borrowed.notes[0]
    np.testing.assert_array_equal(borrowed.columns["dew_point"].values, [np.nan, 5.0])
    other.longitude = None
    assert "from b (b); its rain day" in borrow_columns(own, other).notes[0]
