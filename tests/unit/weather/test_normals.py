"""Twelve lines of monthly normals: what is understood and what is refused."""

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import climate, climates, read_normals

HEADER = "month, high (C), low (C), rain (mm), rain days, sunshine (h)"
ROWS = [
    "Jan, 6, 1, 62, 11, 55", "Feb, 7, 1, 48, 9, 80", "Mar, 10, 3, 50, 10, 120",
    "Apr, 14, 5, 42, 8, 175", "May, 18, 8, 55, 9, 210", "Jun, 20, 11, 66, 10, 205",
    "Jul, 22, 13, 78, 10, 210", "Aug, 22, 13, 82, 11, 190", "Sep, 19, 11, 80, 11, 145",
    "Oct, 15, 8, 85, 13, 110", "Nov, 10, 4, 82, 13, 60", "Dec, 7, 2, 78, 13, 45",
]  # fmt: skip
PLACE = ["# place: Home", "# latitude: 51.9", "# elevation: 30 m"]


def written(tmp_path, *lines):
    path = tmp_path / "normals.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_file_of_twelve_lines(tmp_path):
    made = read_normals(written(tmp_path, *PLACE, HEADER, *ROWS))
    assert (made.name, made.latitude, made.elevation) == ("Home", 51.9, 30.0)
    assert made.high[[0, 11]].tolist() == [6.0, 7.0]
    assert made.rain.sum() == 808.0
    assert made.rain_days[3] == 8.0
    assert made.least_rain == 1.0
    # half of the day: arccos(-tan 51.9 tan 23.3) = 2.152, so 16.4 h on 30 days of June
    assert made.sunshine[5] == pytest.approx(205 / 492, rel=0.01)


def test_months_in_any_order_by_number_and_with_decimal_commas(tmp_path):
    rows = [f"{12 - i}; {row.split(',', 1)[1].replace(',', ';')}" for i, row in
            enumerate(reversed(ROWS))]  # fmt: skip
    rows = [row.replace(" 6;", " 6,5;", 1) if row.startswith("1;") else row for row in rows]
    made = read_normals(written(tmp_path, *PLACE, HEADER.replace(",", ";"), *rows))
    assert made.high.tolist()[:2] == [6.5, 7.0]
    assert made.rain[11] == 78.0


def test_us_units_are_brought_to_ours(tmp_path):
    header = "Month,High (F),Low (°F),Precipitation (in),Days with rain,Wind (mph)"
    rows = [f"{month},{68},{50},{2},{8},{10}" for month in range(1, 13)]
    place = ["# latitude: 41 S", "# elevation: 1000 ft", "# wind height: 2 m"]
    made = read_normals(written(tmp_path, *place, header, *rows))
    assert made.high == pytest.approx(np.full(12, 20.0))
    assert made.low == pytest.approx(np.full(12, 10.0))
    assert made.rain == pytest.approx(np.full(12, 50.8))
    assert made.wind == pytest.approx(np.full(12, 4.4704))
    assert made.least_rain == pytest.approx(0.254)
    assert (made.latitude, made.elevation) == (-41.0, pytest.approx(304.8))
    assert made.sunshine is None


def test_wind_is_that_of_ten_metres_unless_said(tmp_path):
    rows = [f"{month},20,10,60,8,3.2" for month in range(1, 13)]
    header = "month,high (C),low (C),rain (mm),rain days (>= 0.1 mm),wind (m/s)"
    made = read_normals(written(tmp_path, *PLACE, header, *rows))
    # FAO-56 Example 14: 3.2 m/s at 10 m are 2.4 m/s at 2 m, by Eq. 47
    assert made.wind == pytest.approx(np.full(12, 3.2 * 4.87 / np.log(67.8 * 10 - 5.42)))
    assert made.wind.round(1).tolist() == [2.4] * 12
    assert made.least_rain == 0.1


def test_the_place_may_come_from_options(tmp_path):
    made = read_normals(written(tmp_path, HEADER, *ROWS), latitude=51.9, elevation=30.0)
    assert (made.name, made.latitude, made.elevation) == ("normals", 51.9, 30.0)


def changed(month, line):
    return [line if at == month else row for at, row in enumerate(ROWS)]


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        ([*PLACE, HEADER, *ROWS[:11]], "11 lines below the header; Dec is not there"),
        ([*PLACE, HEADER, *ROWS, ROWS[0]], '"Jan" is there twice'),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 42, 31.5, 175")], "31.5 is out of range"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 42, 31, 175")], "31 rain days in a month of 30"),
        ([*PLACE, HEADER, *changed(3, "Apr, 5, 14, 42, 8, 175")], "low is not below the mean high"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 42, 0, 175")], "there is rain and no rain day"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 4, 8, 175")], "rain days (0.1 mm)"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 900, 8, 175")], "112 mm for each rain day"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 42, 8, 475")], "475 h can't be at latitude"),
        ([*PLACE, HEADER, *changed(3, "Apr, 57, 41, 42, 8, 175")], "57 C is out of range"),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, x, 42, 8, 175")], '"x" is not a number'),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, nan, 42, 8, 175")], '"nan" is not a number'),
        ([*PLACE, HEADER, *changed(3, "Apr, 14, 5, 42, 8")], "it has 5 fields"),
        ([*PLACE, HEADER, *changed(3, "Avril, 14, 5, 42, 8, 175")], '"Avril" is not a month'),
        ([*PLACE, HEADER.replace("high (C)", "high"), *ROWS], "high (C), high (F)"),
        ([*PLACE, HEADER.replace("(mm)", "(kg)"), *ROWS], "rain (mm), rain (in)"),
        ([*PLACE, HEADER.replace("low", "snow"), *ROWS], '"snow (C)" is not known'),
        ([*PLACE, HEADER.replace("low", "high"), *ROWS], "two columns are high"),
        ([*PLACE, HEADER.removesuffix(", sunshine (h)").removesuffix(", rain days")],
         "there is no column rain days"),
        ([HEADER, *ROWS], "the latitude is not known"),
        (["# latitude: 51.9", HEADER, *ROWS], "the elevation is not known"),
        (["# latitude: north", "# elevation: 3 m", HEADER, *ROWS], '"north" is not a number'),
        (["# latitude: 93", "# elevation: 3 m", HEADER, *ROWS], "latitude 93 is out of range"),
        (["# latitude: 51", "# elevation: 3 km", HEADER, *ROWS], '"3 km" is not a height'),
        ([*PLACE, HEADER, *ROWS[:2], *ROWS[4:]], "10 lines below the header; Mar and Apr are not"),
        (["", " "], "it is empty"),
    ],
)  # fmt: skip
def test_what_is_refused_is_named(tmp_path, lines, said):
    with pytest.raises(InputError) as caught:
        read_normals(written(tmp_path, *lines))
    assert said in caught.value.text
    assert caught.value.text.startswith("normals.csv")


def every(high=10, low=2, rain=50, days=10, sunshine=100):
    """Twelve months alike."""
    return [f"{month}, {high}, {low}, {rain}, {days}, {sunshine}" for month in range(1, 13)]


PERCENT = HEADER.replace("(h)", "(%)")


@pytest.mark.parametrize(
    ("header", "rows", "said"),
    [
        (HEADER, every(rain=10), ""),  # a millimetre on each of ten days is just enough
        (HEADER, every(rain=9.9), "so little rain on 10 rain days is less than 1 mm a day"),
        (HEADER, every(rain=0.4, days=0.5), "so little rain on 0.5 rain days"),
        (HEADER, every(rain=0.4, days=0), "there is rain and no rain day"),
        (HEADER, every(rain=37.5, days=0.5), ""),  # 75 mm each
        (HEADER, every(rain=38, days=0.5), "76 mm for each rain day"),
        (HEADER, every(rain=0, days=0), ""),
        (HEADER, every(high=42), ""),
        (HEADER, every(high=42.1), "the mean high of the year is 42 C"),
        (HEADER, every(sunshine=0), ""),
        (HEADER, every(sunshine=-1), "-1 h can't be at latitude 51.9"),
        (HEADER, every(sunshine=24), "no month has more than 24 hours of sunshine"),
        (HEADER, every(sunshine=24.5), ""),
        (PERCENT, every(sunshine=-0.5), "-0.5 % can't be at latitude 51.9"),
        (PERCENT, every(sunshine=102), ""),
        (PERCENT, every(sunshine=102.1),
         "102.1 % can't be at latitude 51.9.\nExpected 0 to 100 %."),
        (HEADER.replace("days", "days (5 mm)"), every(rain=60), ""),
        (HEADER.replace("days", "days (5.1 mm)"), every(rain=60), "a rain day of 5.1 mm is odd"),
        (HEADER.replace("days", "days (0 mm)"), every(rain=60), "a rain day of 0 mm is odd"),
    ],
)  # fmt: skip
def test_how_far_a_month_may_go(tmp_path, header, rows, said):
    path = written(tmp_path, *PLACE, header, *rows)
    if not said:
        assert (read_normals(path).sunshine <= 1.0).all()
        return
    with pytest.raises(InputError) as caught:
        read_normals(path)
    assert said in caught.value.text


def test_what_is_no_number_is_told_with_its_line_and_no_option_of_weather_files(tmp_path):
    """Three lines stand above the header."""
    with pytest.raises(InputError) as caught:
        read_normals(written(tmp_path, *PLACE, HEADER, *changed(3, "Apr, 14, 5, inf, 8, 175")))
    at = len(PLACE) + 1 + 4
    assert caught.value.told(str) == (
        f'normals.csv, line {at}, rain: "inf" is not a number.\nExpected a number for each month.'
    )
    with pytest.raises(InputError, match=f"normals.csv, line {len(PLACE) + 1}: two columns"):
        read_normals(written(tmp_path, *PLACE, HEADER.replace("low", "high"), *ROWS))


def test_a_place_on_the_equator_by_the_sea_is_one(tmp_path):
    made = read_normals(written(tmp_path, "# latitude: 0", "# elevation: 0 m", HEADER, *every()))
    assert (made.latitude, made.elevation) == (0.0, 0.0)
    assert climate("hot dry summer", latitude=0.0).high[0] == climate("hot dry summer").high[0]


def test_where_the_sun_stays_down_none_of_it_shines(tmp_path):
    """At 75 degrees it does not rise in December, and does not set in June."""
    rows = [f"{month}, 2, -5, 20, 6, {24 if month == 6 else 0}" for month in range(1, 13)]
    place, header = ["# latitude: 75", "# elevation: 10 m"], HEADER.replace("(h)", "(h/day)")
    made = read_normals(written(tmp_path, *place, header, *rows))
    assert made.sunshine[[5, 11]] == pytest.approx([1.0, 0.0])


def test_hours_a_day_are_not_taken_for_hours_a_month(tmp_path):
    rows = [f"{row.rsplit(',', 1)[0]}, 4.5" for row in ROWS[:11]] + ["Dec, 7, 2, 78, 13, 1.5"]
    with pytest.raises(InputError, match="h/day"):
        read_normals(written(tmp_path, *PLACE, HEADER, *rows))
    made = read_normals(written(tmp_path, *PLACE, HEADER.replace("(h)", "(h/day)"), *rows))
    assert made.sunshine[5] == pytest.approx(4.5 / 16.4, rel=0.01)


def test_all_mistakes_of_a_table_are_told_together(tmp_path):
    rows = changed(3, "Apr, 5, 14, 42, 0, 175")
    with pytest.raises(InputError) as caught:
        read_normals(written(tmp_path, *PLACE, HEADER, *rows))
    assert "low is not below" in caught.value.told(str)
    assert "no rain day" in caught.value.told(str)


def test_a_rain_day_in_every_day_of_the_year_and_heat_are_refused(tmp_path):
    wet = [f"{row.split(',')[0]}, 20, 10, 300, {28 if at == 1 else 30}, 60"
           for at, row in enumerate(ROWS)]  # fmt: skip
    with pytest.raises(InputError, match="at most 350"):
        read_normals(written(tmp_path, *PLACE, HEADER, *wet))
    hot = [f"{month}, 45, 30, 60, 8, 60" for month in range(1, 13)]
    with pytest.raises(InputError, match="Are the temperatures in degrees F"):
        read_normals(written(tmp_path, *PLACE, HEADER, *hot))


def test_a_file_that_is_none(tmp_path):
    with pytest.raises(InputError, match="can't be read"):
        read_normals(tmp_path / "none.csv")
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="not a text file"):
        read_normals(tmp_path / "odd.csv")


@pytest.mark.parametrize("name", list(climates()))
def test_an_invented_climate_can_be_typed(tmp_path, name):
    """Each passes the checks of a file that a person types."""
    own = climate(name)
    rows = [
        f"{month + 1},{own.high[month]},{own.low[month]},{own.rain[month]},{own.rain_days[month]},"
        f"{100 * own.sunshine[month]}"
        for month in range(12)
    ]
    place = [f"# latitude: {own.latitude}", f"# elevation: {own.elevation} m"]
    typed = read_normals(written(tmp_path, *place, HEADER.replace("(h)", "(%)"), *rows))
    assert typed.rain.tolist() == own.rain.tolist()
    assert typed.sunshine == pytest.approx(own.sunshine)


def test_a_climate_across_the_equator_is_half_a_year_later():
    north, south = climate("hot dry summer"), climate("Hot dry summer", latitude=-33.9)
    assert south.latitude == -33.9
    for name in ("high", "low", "rain", "rain_days", "sunshine"):
        assert getattr(south, name)[0] == getattr(north, name)[6]
        assert getattr(south, name)[8] == getattr(north, name)[2]
    assert climate("hot dry summer", latitude=20.0).high[0] == north.high[0]


def test_a_climate_that_is_none_gets_the_closest():
    with pytest.raises(InputError, match="Closest: hot dry summer"):
        climate("hot dry sumer")
