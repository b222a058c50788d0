"""Entries of layouts: what each key does, on lines in the shape of the layouts that use it.

The values are invented; the shapes are those of the services named. Real files, which can't be kept
here, are read by `test_files_of_others.py` where they are at hand.
"""

import datetime
import json
import re

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import read_weather
from bedtide.weather.layouts import Layout, layouts, recognised
from bedtide.weather.text import decode

PLACE = {"latitude": 48.0, "elevation": 200.0}
DAYS = [datetime.date(2021, 5, 1) + datetime.timedelta(days=i) for i in range(12)]


def said(weather, part):
    return any(part in sentence for sentence in weather.attrs["assumptions"])


def test_every_entry_says_whose_it_is_and_how_to_get_it():
    for layout in layouts():
        assert layout.whose, layout.name
        assert layout.how, layout.name
        assert layout.header or layout.first, layout.name


def test_no_two_entries_take_the_same_header():
    for layout in layouts():
        if not layout.header or layout.rows == 2 or layout.above:
            continue
        mark = {"blanks": " ", "": ","}.get(layout.delimiter, layout.delimiter)
        names = [name.rstrip("*") for name in layout.header]
        names += [name for name in (*layout.either[:1], *layout.columns) if name not in names]
        if mark == " ":
            names = [name for name in names if " " not in name]
        text = decode((mark.join(f'"{n}"' if mark in n else n for n in names) + "\n").encode(), "x")
        found = [each.name for each, *_ in recognised(text)]
        assert layout.name in found
        assert len(set(found)) == 1, found


# preambles and parts of dates -------------------------------------------------------------------


def test_names_over_values_units_in_the_header_and_a_clock_of_its_own(write):
    """In the shape of an hourly CSV of Open-Meteo."""
    lines = [
        "latitude,longitude,elevation,utc_offset_seconds,timezone,timezone_abbreviation",
        "48.0,11.5,200.0,7200,Europe/Berlin,GMT+2",
        "",
        "time,temperature_2m (°F),rain (mm),precipitation (mm),wind_speed_10m (km/h)",
    ]
    lines += [f"{d}T{h:02d}:00,{50 + h},9,0.5,36" for d in DAYS for h in range(24)]
    weather = read_weather(write(lines))
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (48.0, 200.0)
    np.testing.assert_allclose(weather["tmax"], (73 - 32) / 1.8)
    np.testing.assert_allclose(weather["rain"], 0.012)  # precipitation, not rain without snow
    np.testing.assert_allclose(weather["wind_speed"], 10 * 4.87 / np.log(672.58))
    assert said(weather, "run by the local time that it gives")


def test_hours_of_universal_time_make_days_of_the_sun_where_the_longitude_is_known(write):
    lines = [
        "latitude,longitude,elevation,utc_offset_seconds",
        "-33.0,151.0,10.0,0",
        "time,temperature_2m (°C),precipitation (mm)",
    ]
    first = np.datetime64("2021-05-01T00:00")
    for i in range(96):
        rain = 1.0 if i == 30 else 0.0  # 06:00 UTC of the 2nd is 16:00 there
        lines.append(f"{first + np.timedelta64(i, 'h')},{15 + i % 24 / 10},{rain}")
    weather = read_weather(write(lines))
    assert said(weather, "universal time; at longitude 151 the sun is 10 h ahead")
    rain = weather["rain"].to_series()
    assert rain[rain > 0].index.astype(str).tolist() == ["2021-05-02"]
    late = read_weather(write(lines), time_zone="+18:00")["rain"].to_series()
    assert late[late > 0].index.astype(str).tolist() == ["2021-05-03"]


def test_unix_seconds(write):
    lines = ["time,temperature_2m (°C),precipitation (mm)"]
    start = int(datetime.datetime(2021, 5, 1, tzinfo=datetime.UTC).timestamp())
    lines += [f"{start + 3600 * i},{15 + i % 24 / 10},0.1" for i in range(72)]
    weather = read_weather(write(lines), time_zone="UTC", **PLACE)
    assert str(weather["time"].values[0])[:10] == "2021-05-01"
    assert weather.sizes["time"] == 3


def test_dates_to_the_hour_in_ten_figures_are_no_seconds(write):
    hours = np.datetime64("2021-05-01T00") + np.arange(72)
    stamps = [re.sub(r"\D", "", str(hour)) for hour in hours]
    lines = ["date,temp (C),rain (mm)", *(f"{s},{15 + i % 7},0.1" for i, s in enumerate(stamps))]
    weather = read_weather(write(lines), **PLACE)
    assert str(weather["time"].values[0])[:10] == "2021-05-01"
    assert weather.sizes["time"] == 3


@pytest.mark.parametrize("blanks", [False, True])
def test_day_of_the_year_a_header_block_and_a_number_for_missing(write, blanks):
    """In the shape of NASA POWER."""
    head = [
        "-BEGIN HEADER-",
        "Location: latitude  48.0   longitude 11.5 ",
        "elevation from MERRA-2: Average for 0.5 x 0.625 degree lat/lon region = 200.0 meters",
        "T2M_MAX     MERRA-2 Temperature at 2 Meters Maximum (C) ",
        "-END HEADER-",
        "YEAR,DOY,T2M_MAX,T2M_MIN,WS2M,PRECTOTCORR",
    ]
    rows = [f"2020,{d},20.5,{-999 if d == 61 else 10.5},2.0,1.5" for d in range(55, 75)]
    text = [
        *head[:-1],
        *(line.replace(",", "  ") if blanks else line for line in [head[-1], *rows]),
    ]
    weather = read_weather(write(text))
    assert str(weather["time"].values[5])[:10] == "2020-02-29"
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (48.0, 200.0)
    assert np.flatnonzero(weather["filled"].values).tolist() == [6]
    bad = [line.replace("2020,60", "2021,366") for line in text]
    if not blanks:
        with pytest.raises(InputError, match="does not exist"):
            read_weather(write(bad))


def test_radiation_over_daylight(write):
    """In the shape of Daymet: 300 W/m2 over 12 hours are 150 over the day."""
    lines = [
        "Latitude: 48.0  Longitude: 11.5",
        "Elevation: 200 meters",
        "year,yday,dayl (s),prcp (mm/day),srad (W/m^2),swe (kg/m^2),tmax (deg c),tmin (deg c),"
        "vp (Pa)",
        *(
            f"2021.0,{d}.0,43200.0,{d % 3},300.0,0.0,20.0,{8 + d % 5},900.0"
            for d in range(100, 120)
        ),
    ]
    weather = read_weather(write(lines))
    np.testing.assert_allclose(weather["solar_radiation"], 150 * 0.0864)
    np.testing.assert_allclose(weather["vapour_pressure"], 0.9)


def month_report(month, place, units, days) -> list[str]:
    """Lines of the monthly report of a station of one's own, sums of the month below its days."""
    return [
        f"              MONTHLY CLIMATOLOGICAL SUMMARY for {month}",
        "",
        "NAME: Hill Farm                  ",
        place,
        "",
        f"             TEMPERATURE {units}",
        "      MEAN                               DEG    DEG          WIND                   DOM",
        "DAY   TEMP   HIGH   TIME    LOW   TIME   DAYS   DAYS   RAIN  SPEED   HIGH   TIME    DIR",
        "-" * 87,
        *days,
        "-" * 87,
        "       17.0   27.5     3    4.2    30   60.1   10.0  105.0   12.1   52.6    15     NW",
    ]


def test_a_month_in_the_title_day_alone_in_the_rows(write):
    """In the shape of the monthly summary of a Davis station."""
    place = "ELEV: 652 meters    LAT: 33-16.40 S    LONG: 026-37.40 E"
    days = [
        f" {d:02d}   14.4   21.{d % 10}  15:25    8.7  06:40    4.0    0.0    {d % 4}.0    8.4"
        "   17.6  10:35    329"
        for d in range(1, 30)
    ]
    units = "(°C), RAIN (mm), WIND SPEED (km/h)"
    weather = read_weather(write(month_report("Feb 2012", place, units, days)))
    assert weather.sizes["time"] == 29
    assert weather.attrs["place"] == "Hill Farm"
    assert weather.attrs["latitude"] == pytest.approx(-33 - 16.4 / 60)
    assert weather["tmax"].values[2] == 21.3
    assert float(weather["rain"].sum()) == pytest.approx(sum(d % 4 for d in range(1, 30)) / 1000)


@pytest.mark.parametrize(
    ("units", "high", "low", "rain", "wind"),
    [("(F), RAIN (in), WIND SPEED (mph)", 68.0, 50.0, 0.5, 10.0),
     ("(C), RAIN (mm), WIND SPEED (kph)", 20.0, 10.0, 12.7, 16.09344)],
)  # fmt: skip
def test_a_monthly_summary_of_a_month_that_is_not_over(write, units, high, low, rain, wind):
    """In the shape of the same report by other programs; 68 F are 20 C, half an inch 12.7 mm."""
    place = "ELEV: 328 feet    LAT: 45-41.16 N    LONG: 121-33.96 W"
    over = [
        f" {d:02d}   59.5   {high}  16:00   {low}  04:00    5.5    0.0   {rain}   {wind}   19.2"
        "  00:00    335"
        for d in range(1, 13)
    ]
    to_come = [f" {d:02d}" for d in range(13, 31)]
    weather = read_weather(write(month_report("Sep 2010", place, units, over + to_come)))
    assert weather.sizes["time"] == 12
    np.testing.assert_allclose(weather["tmax"], 20.0)
    np.testing.assert_allclose(weather["tmin"], 10.0)
    np.testing.assert_allclose(weather["rain"], 0.0127)
    # 10 miles an hour are 4.4704 m/s
    np.testing.assert_allclose(weather["wind_speed"], 4.4704, rtol=1e-6)
    assert weather.attrs["elevation"] == pytest.approx(328 * 0.3048)


def test_a_month_in_another_language_is_named(write):
    entry = write(
        f"above = 'for (?P<month>\\w+) (?P<year>\\d+)'\n{OWN}".replace(
            '"Tag"\n', '{day = "Tag"}\n'
        ),
        "mine.toml",
    )
    for month, read in (("Feb", True), ("February", True), ("Mai", False)):
        rows = [f"{d.day};{200 + d.day};100;{d.day % 2}" for d in DAYS]
        path = write([f"Summary for {month} 2021", "Tag;Hoch;Tief;Nass", *rows])
        if read:
            found = read_weather(path, layout=entry, rain_day="midnight", **PLACE)
            assert str(found["time"].values[0])[:10] == "2021-02-01"
        else:
            with pytest.raises(InputError, match='"Mai" above its rows is not a month'):
                read_weather(path, layout=entry, **PLACE)


@pytest.mark.parametrize(
    ("written", "said"), [("%d/%m/%Y", "day before month"), ("%m/%d/%Y", "month before day")]
)
def test_the_order_of_day_and_month_that_was_found_is_told(write, written, said):
    days = [datetime.date(2021, 5, 10) + datetime.timedelta(days=i) for i in range(6)]
    rows = [f"{d.strftime(written)},20,{8 + d.day % 3},{d.day % 2}" for d in days]
    weather = read_weather(write(["date,tmax (C),tmin (C),rain (mm)", *rows]), **PLACE)
    assert str(weather["time"].values[0])[:10] == "2021-05-10"
    assert any(f"were read as {said}" in each for each in weather.attrs["assumptions"])


def test_two_header_lines_over_columns_of_blanks(write):
    """In the shape of a WeatherLink export; a row is the end of its ten minutes."""
    widths = (8, 8, 8, 7, 7, 6, 8, 6)
    heads = (("", "", "Temp", "Hi", "Low", "Out", "", "Wind"),
             ("Date", "Time", "Out", "Temp", "Temp", "Hum", "Rain", "Speed"))  # fmt: skip

    def line(cells):
        return "".join(str(cell).rjust(width) for cell, width in zip(cells, widths, strict=True))

    lines = [line(heads[0]), line(heads[1]), "-" * sum(widths)]
    first = datetime.datetime(2021, 5, 13, 0, 10)
    for i in range(288):
        time = first + datetime.timedelta(minutes=10 * i)
        rain = 0.2 if i == 143 else 0.0
        clock = f"{time.hour}:{time:%M}"
        cells = (f"{time:%d/%m/%y}", clock, f"{10 + i % 7}.0", "19.5", "8.5", 80, rain, "3.6")
        lines.append(line(cells))
    weather = read_weather(write(lines, "w.txt"), **PLACE)
    assert weather["tmax"].values.tolist() == [19.5, 19.5]
    np.testing.assert_allclose(weather["rain"] * 1000, [0.2, 0.0])  # 24:00 is the first day's
    np.testing.assert_allclose(weather["wind_speed"], 1.0)


def test_fixed_widths_letters_beside_numbers_and_missing_by_column(write):
    """In the shape of the older files of the global summary of the day."""
    head = (
        "STN--- WBAN   YEARMODA    TEMP       DEWP      SLP        STP       VISIB      WDSP     "
        "MXSPD   GUST    MAX     MIN   PRCP   SNDP   FRSHTT"
    )
    rows = [
        f"722874 93134  202105{d:02d}    56.0 24    43.7 24  1019.1 19  1012.6 24    5.0 24  "
        f"{999.9 if d == 4 else 5.7:5.1f} 24    5.1  999.9    {66.9:4.1f}*   46.0   "
        f"{99.99 if d == 6 else 0.5:5.2f}G 999.9  000000"
        for d in range(1, 13)
    ]
    weather = read_weather(write([head, *rows], "w.op"), **PLACE)
    assert weather["tmax"].values[0] == pytest.approx((66.9 - 32) / 1.8)
    assert np.flatnonzero(weather["filled"].values).tolist() == [3, 5]
    assert weather["rain"].values[0] == pytest.approx(0.0127)


def test_marks_drop_values_in_a_file_without_a_header(write):
    """In the shape of the Polish synoptic days: mark 8 is not measured, 9 did not happen."""
    rows = [
        f'"354160105","HILL","2021","05","{d:02d}",2{d % 4}.5,"",{d % 4}.5,"",12.0,"",4.0,"",'
        f'{d % 3}.0,"{8 if d == 5 else 9 if d % 3 == 0 else ""}","W",0,"9",.0,"9",3.1,""'
        for d in range(1, 13)
    ]
    weather = read_weather(write(rows), **PLACE)
    assert np.flatnonzero(weather["filled"].values).tolist() == [4]
    assert said(weather, "marked as not measured")
    assert weather.attrs["place"] == "HILL"


def test_a_decimal_comma_a_clock_of_four_figures_and_another_code_page(write):
    """In the shape of an hourly file of the Brazilian service."""
    lines = [
        "ESTACAO:;COLINA",
        "LATITUDE:;-15,5",
        "LONGITUDE:;-45,0",
        "ALTITUDE:;1160,5",
        "Data;Hora UTC;PRECIPITAÇÃO TOTAL, HORÁRIO (mm);TEMPERATURA DO AR - BULBO SECO, HORARIA "
        "(°C);RADIACAO GLOBAL (Kj/m²);",
    ]
    first = datetime.datetime(2021, 5, 1, 3, 0)  # ends the last hour of 30 April there
    for i in range(97):
        time = first + datetime.timedelta(hours=i)
        sun = "" if (i % 24) > 12 else "1000,5"
        lines.append(f"{time:%Y/%m/%d};{time:%H}00 UTC;,5;{15 + i % 24 / 10:.1f};{sun};".replace(
            ".", ","))  # fmt: skip
    weather = read_weather(write(lines, encoding="latin-1"))
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (-15.5, 1160.5)
    assert str(weather["time"].values[0])[:10] == "2021-05-01"
    np.testing.assert_allclose(weather["rain"], 0.012)
    assert said(weather, "Latin-1")


def test_rain_counted_since_midnight_on_a_console_card(write):
    lines = ["Time,Indoor Temperature(℃),Outdoor Temperature(℃),Outdoor Humidity(%),Wind(km/h),"
             "Hourly Rain(mm),Daily Rain(mm),Yearly Rain(mm)"]  # fmt: skip
    for day in (1, 2):
        for i in range(288):
            lines.append(
                f"2021/5/{day} {i // 12}:{i % 12 * 5:02d},21.0,{10 + i % 9}.0,70,3.6,0.0,"
                f"{i // 48 * 0.3:.1f},99.9"
            )
    weather = read_weather(write(lines), **PLACE)
    np.testing.assert_allclose(weather["rain"], 0.0015)
    assert weather["tmax"].values.tolist() == [18.0, 18.0]


def test_units_that_only_the_warmth_tells(write):
    """In the shape of an hourly file of Visual Crossing."""
    head = "Name,Date time,Maximum Temperature,Minimum Temperature,Temperature,Precipitation,"
    head += "Wind Speed"
    rows = [
        f'"Hill, Nowhere",05/{d.day:02d}/2021 {h:02d}:00:00,{70 + h},{68 + h},{69 + h},0.1,10'
        for d in DAYS
        for h in range(24)
    ]
    weather = read_weather(write([head, *rows]), **PLACE)
    assert said(weather, "were taken as standard")
    np.testing.assert_allclose(weather["tmax"], (93 - 32) / 1.8)
    np.testing.assert_allclose(weather["rain"], 2.4 * 0.0254)
    cold = [row.replace(",7", ",1").replace(",8", ",1").replace(",9", ",1") for row in rows]
    with pytest.raises(InputError, match="units_of_file"):
        read_weather(write([head, *cold]), **PLACE)


def test_several_stations_in_one_file_are_named(write):
    head = "name,date,tavg,tmax,tmin,rhmax,rhmin,solar,windrun,pp"
    rows = [
        f"{name},{d},10,{20 + d.day % 3 + more},5,0.929,0.47,163.1,203.1,{d.day % 2}"
        for name, more in (("hill01", 0), ("dale01", 5))
        for d in DAYS
    ]
    with pytest.raises(InputError, match="2 stations: dale01, hill01"):
        read_weather(write([head, *rows]), **PLACE)
    weather = read_weather(write([head, *rows]), station="dale01", **PLACE)
    assert weather["tmax"].values[0] == 26.0
    np.testing.assert_allclose(weather["rh_min"], 47.0)
    np.testing.assert_allclose(weather["solar_radiation"], 163.1 * 0.0864)


# JSON -------------------------------------------------------------------------------------------


def test_json_with_lists_beside_time(write):
    data = {
        "latitude": 48.0,
        "longitude": 11.5,
        "elevation": 200.0,
        "utc_offset_seconds": 7200,
        "daily_units": {"time": "iso8601", "temperature_2m_max": "°C", "temperature_2m_min": "°C",
                        "precipitation_sum": "mm", "sunshine_duration": "s"},
        "daily": {
            "time": [str(d) for d in DAYS],
            "temperature_2m_max": [20.0 + d.day % 3 for d in DAYS],
            "temperature_2m_min": [10.0, None, *([9.0] * 10)],
            "precipitation_sum": [d.day % 2 for d in DAYS],
            "sunshine_duration": [18000.0] * 12,
        },
    }  # fmt: skip
    weather = read_weather(write(json.dumps(data), "w.json"))
    assert weather["tmax"].values[0] == 21.0
    assert np.flatnonzero(weather["filled"].values).tolist() == [1]
    assert said(weather, "hours of sunshine")
    data["daily"]["precipitation_sum"].pop()
    with pytest.raises(InputError, match="different lengths"):
        read_weather(write(json.dumps(data), "w.json"))


def test_json_with_days_under_their_parameter(write):
    days = [f"{d:%Y%m%d}" for d in DAYS]
    values = {"T2M_MAX": 20.0, "T2M_MIN": 10.0, "PRECTOTCORR": 1.5}
    table = {name: dict.fromkeys(days, value) for name, value in values.items()}
    table["T2M_MAX"] = {day: 20.0 + i % 3 for i, day in enumerate(days)}
    table["T2M_MIN"][days[3]] = -999.0
    data = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [11.5, 48.0, 200.0]},
        "properties": {"parameter": table},
        "header": {"fill_value": -999.0},
    }
    weather = read_weather(write(json.dumps(data), "w.json"))
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (48.0, 200.0)
    assert np.flatnonzero(weather["filled"].values).tolist() == [3]


def test_json_with_a_list_of_days_text_for_numbers_and_a_trace(write):
    rows = [
        {"fecha": str(d), "indicativo": "0016A", "nombre": "COLINA", "altitud": "71",
         "prec": "Ip" if d.day == 3 else f"{d.day % 2},0", "tmin": f"{d.day % 5},5", "tmax": "18,5"}
        for d in DAYS
    ]  # fmt: skip
    rows[4]["tmax"] = "19,0"
    weather = read_weather(write(json.dumps(rows), "w.json"), latitude=41.0)
    assert weather["tmax"].values[0] == 18.5
    assert said(weather, "Traces of rain, which count as none: 1.")
    assert weather.attrs["place"] == "COLINA"


@pytest.mark.parametrize(
    "text",
    [
        '{"daily": {"time": ["2021',
        '{"a": 1}',
        "[1, 2]",
        '{"daily": 3}',
        '{"features": [{"properties": {"parameter": {"T2M": 4}}}]}',
    ],
)
def test_json_that_is_no_weather(write, text):
    with pytest.raises(InputError):
        read_weather(write(text, "w.json"), **PLACE)


# what can't be used ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lines", "part"),
    [
        (["LOCATION,HILL,-,NLD,IWEC,062400,52.3,4.77,1.0,-2.0", "DESIGN CONDITIONS,0",
          "DATA PERIODS,1,1", "1991,1,1,1,60,x,5.0", "1983,2,1,1,60,x,5.0"], "typical year"),
        (["723170,HILL,NC,-5.0,36.1,-79.9,273", "Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2)",
          "01/01/1988,01:00,0"], "typical year"),
    ],
)  # fmt: skip
def test_typical_years_are_refused_in_a_sentence(write, lines, part):
    with pytest.raises(InputError, match=part):
        read_weather(write(lines), **PLACE)


# an entry of one's own -------------------------------------------------------------------------

OWN = """
name = "my logger"
header = ["Tag", "Hoch", "Tief", "Nass"]
date = "Tag"
order = "dmy"
missing = ["-77"]
wind_height = 10
rain_day = "to morning"
[columns]
Hoch = "tmax, 0.1 degC"
Tief = "tmin, 0.1 degC"
Nass = "rain, 0.01 in"
"""


def test_a_layout_of_ones_own(write):
    entry = write(OWN, "mine.toml")
    rows = [f"{d:%d.%m.%y};{200 + d.day};{-77 if d.day == 4 else 100};{d.day % 2}" for d in DAYS]
    path = write(["Tag;Hoch;Tief;Nass", *rows])
    weather = read_weather(path, layout=entry, **PLACE)
    assert weather.attrs["format"] == "my logger"
    assert weather.attrs["rain_day"] == "to morning"
    assert str(weather["time"].values[0])[:10] == "2021-05-01"
    assert weather["tmax"].values[0] == pytest.approx(20.1)
    assert np.flatnonzero(weather["filled"].values).tolist() == [3]
    assert weather["rain"].values[1] == pytest.approx(0.000254)
    with pytest.raises(InputError, match="not of the layout in mine"):
        read_weather(write(["a,b", "1,2"]), layout=entry, **PLACE)


@pytest.mark.parametrize(
    "more",
    [
        'ends = ["9", "X"]',  # there are four columns
        'notes = ["{source} has {braces} and {"]',
        "above = '(?P<latitude>north)'",
    ],
)
def test_what_an_entry_says_beside_the_columns_may_not_be_there(write, more):
    entry = write(f"{more}\n{OWN}", "mine.toml")
    rows = [f"{d:%d.%m.%y};{200 + d.day};{100};{d.day % 2}" for d in DAYS]
    path = write(["up north", "Tag;Hoch;Tief;Nass", *rows])
    weather = read_weather(path, layout=entry, **PLACE)
    assert weather["tmax"].values[0] == pytest.approx(20.1)
    assert weather.attrs["latitude"] == 48.0
    assert said(weather, "garden.csv has {braces} and {") is ("braces" in more)


def test_a_row_without_its_end_is_named(write):
    entry = write(f'ends = ["Ende", "x"]\n{OWN}', "mine.toml")
    rows = [f"{d:%d.%m.%y};{200 + d.day};{100};{d.day % 2};{'' if d.day == 4 else 'x'}"
            for d in DAYS]  # fmt: skip
    with pytest.raises(InputError, match="line 5: it does not end with x"):
        read_weather(write(["Tag;Hoch;Tief;Nass;Ende", *rows]), layout=entry, **PLACE)


def test_marks_of_a_column_behind_one_that_has_none(write):
    more = '[marks]\ncolumn = "*_Q"\ndrop = ["bad"]\ncount = {odd = "is odd"}\n'
    entry = write(f"{OWN}\n{more}", "mine.toml")
    rows = [f"{d:%d.%m.%y};{200 + d.day};{100};{d.day % 2};{'bad' if d.day == 4 else 'odd'}"
            for d in DAYS]  # fmt: skip
    weather = read_weather(write(["Tag;Hoch;Tief;Nass;Nass_Q", *rows]), layout=entry, **PLACE)
    assert np.flatnonzero(weather["filled"].values).tolist() == [3 - 1]  # rain of the day before
    assert said(weather, "Nass of 11 days of garden.csv is odd; used as it is")


@pytest.mark.parametrize(("count", "more"), [(8, r"h\.\n"), (9, r"h \.\.\.\n")])
def test_no_more_than_eight_stations_are_named(write, count, more):
    entry = write(f'station = "Ort"\n{OWN}', "mine.toml")
    rows = [f"01.05.21;200;100;0;{name}" for name in "abcdefghi"[:count]]
    with pytest.raises(InputError, match=f"it holds {count} stations: a, b, c, d, e, f, g, {more}"):
        read_weather(write(["Tag;Hoch;Tief;Nass;Ort", *rows]), layout=entry, **PLACE)


def test_a_place_above_the_header_is_told_before_the_name_of_a_station(write):
    entry = write(f"above = 'Site (?P<place>.*)'\nstation = 'Ort'\n{OWN}", "mine.toml")
    rows = [f"{d:%d.%m.%y};{200 + d.day};{100};{d.day % 2};7" for d in DAYS]
    for above, place in (("Site Hill Farm", "Hill Farm"), ("Name: Home\nSite Hill", "Home")):
        path = write([above, "Tag;Hoch;Tief;Nass;Ort", *rows])
        assert read_weather(path, layout=entry, **PLACE).attrs["place"] == place
    entry = write(f"station = 'Ort'\n{OWN}", "mine.toml")
    path = write(["Tag;Hoch;Tief;Nass;Ort", *rows])
    assert read_weather(path, layout=entry, **PLACE).attrs["place"] == "station 7"


def test_minutes_ahead_of_universal_time_in_an_entry(write):
    entry = write(
        'header = ["at", "warm"]\ndate = "at"\nclock = 120\ndays = "n"\n[columns]\n'
        'warm = "temperature, C"\nwet = "rain, mm"\n',
        "mine.toml",
    )
    hours = np.datetime64("2021-05-01T00") + np.arange(96)
    lines = [f"{t}:00,{15 + i % 24},{3.0 * (i == 49)},2" for i, t in enumerate(hours)]
    path = write(["at,warm,wet,n", *lines])
    for zone, day in (("+02:00", "2021-05-03"), ("UTC", "2021-05-02")):  # of 01:00 on the 3rd
        rain = read_weather(path, layout=entry, time_zone=zone, **PLACE)["rain"].to_series()
        assert rain[rain > 0].index.astype(str).tolist() == [day]
        assert rain.sum() == pytest.approx(0.003)  # days of a total are counted on rows of days


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        ('Nass = "rain, 0.01 in"', 'Nass = "rayn, mm"', '"rayn, mm" is none of tmax'),
        ('Nass = "rain, 0.01 in"', 'Nass = "rain, furlong"', '"furlong" is not a unit of rain'),
        ("missing =", "mising =", "there is no such key"),
        ('order = "dmy"', 'order = "ymd"', "mine.toml, order"),
        ("wind_height = 10", 'wind_height = "high"', "mine.toml, wind_height"),
        ('header = ["Tag", "Hoch", "Tief", "Nass"]', "", "does not say how to know such a file"),
        ("name =", "name", "mine.toml, line 2: not TOML"),
        ("wind_height = 10", f"wind_height = {'[' * 3000}", "brackets too deep"),
        ('date = "Tag"', 'first = "("', "a valid regular expression"),
        ('date = "Tag"', 'date = {dat = "Tag"}', "mine.toml, date.dat: input should be 'date'"),
        ('date = "Tag"', 'clock = "CET"', "mine.toml, clock: input should be a valid number"),
        ('date = "Tag"', 'place = {lat = "Tag"}', "mine.toml, place.lat: input should be 'lat"),
        ('date = "Tag"', "skip = -1", "mine.toml, skip"),
        ("wind_height = 10", "wind_height = 0", "mine.toml, wind_height"),
        ('Nass = "rain, 0.01 in"', 'Nass = "rain, 0.0.1 in"', '"0.0.1 in" is not a unit of rain'),
    ],
)
def test_a_wrong_entry_is_told(write, old, new, part):
    assert old in OWN
    entry = write(OWN.replace(old, new, 1), "mine.toml")
    with pytest.raises(InputError) as caught:
        read_weather(write(["Tag;Hoch;Tief;Nass", "01.05.21;1;1;1"]), layout=entry, **PLACE)
    assert part in caught.value.text
    assert "mine.toml" in caught.value.text


def test_an_entry_that_is_not_there(write, tmp_path):
    with pytest.raises(InputError, match="there is no such file"):
        read_weather(write(["a"]), layout=tmp_path / "none.toml")


def test_entries_refuse_keys_that_do_not_exist():
    with pytest.raises(ValueError, match="Extra inputs"):
        Layout(name="x", colums={})
