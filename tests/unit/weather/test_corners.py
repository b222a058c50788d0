"""The rarer turns of the readers and checks."""

import gzip

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import read_weather
from bedtide.weather.et0 import penman_monteith
from helpers import weather_files as wf


def refuse(part, path, **options):
    with pytest.raises(InputError) as caught:
        read_weather(path, **({"latitude": 48.0, "elevation": 200.0} | options))
    assert part in caught.value.text
    return caught.value.text


def changed(data, line, change):
    lines = data.decode("latin-1").splitlines()
    lines[line] = change(lines[line])
    return ("\n".join(lines) + "\n").encode("latin-1")


# columns that look like others -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("column", "value", "part"),
    [
        (1, lambda i: "21.0", "is 21 degC on all 40 days"),
        (3, lambda i: f"{1 + i % 7}", "has not one dry day in 40"),
        (2, lambda i: "0.0" if i % 3 == 0 else "4.0", "is exactly 0 on"),
        (1, lambda i: f"{50 + i % 5}", "has a mean of 52 degC"),
    ],
)
def test_a_column_that_looks_like_another_is_refused(table, column, value, part):
    def change(rows):
        for i, row in enumerate(rows):
            row[column] = value(i)

    path = table(change, days=40)
    text = refuse(part, path)
    assert "exchanged" in text
    assert read_weather(path, accept=["columns"]).sizes["time"] == 40


def test_highest_below_lowest_humidity(table):
    header = "date,tmax (C),tmin (C),rain (mm),RHmax (%),RHmin (%),temp (C)"

    def humidity(rows):
        return [[*r[:4], "50", "70" if i == 4 else "40", r[1]] for i, r in enumerate(rows)]

    assert "RHmax" in refuse("line 8", table(humidity, header=header))
    weather = read_weather(table(humidity, header=header), impossible="drop")
    assert weather["filled"].values.tolist().index(True) == 4


def test_sunshine_check_can_be_left_out(table):
    header = "date,tmax (C),tmin (C),rain (mm),sunshine (h)"
    path = table(lambda rows: [[*r[:4], "19"] for r in rows], header=header)
    refuse("at most", path)
    assert read_weather(path, accept=["sunshine"]).sizes["time"] == 10


# plain tables ----------------------------------------------------------------------------------


def test_year_month_day_and_a_second_time_column(write):
    rows = "".join(f"2021,5,{d},20,10,0\n" for d in range(1, 6))
    head = "# latitude: 48\n# elevation: 0\nyear,month,day,tmax C,tmin C,rain mm\n"
    assert read_weather(write(head + rows)).sizes["time"] == 5
    refuse('"2021-5-32" does not exist', write(head + rows.replace("5,3,", "5,32,")))
    refuse("is not a number", write(head + rows.replace("5,3,", "5,x,")))
    refuse("does not exist", write(head + rows.replace("5,3,", "5,3.5,")))


def test_date_and_clock_in_two_columns(write):
    head = "# latitude: 48\n# elevation: 0\nDate,Time,Temp (C),Rain (mm)\n"
    rows = "".join(
        f"2021-05-{d:02d},{h}:00,{10 + h % 5},0.1\n" for d in range(1, 4) for h in range(24)
    )
    weather = read_weather(write(head + rows))
    assert weather["tmax"].values.tolist() == [14.0] * 3
    bare = head.replace("Time", "Hour") + rows.replace(":00", "")
    np.testing.assert_array_equal(read_weather(write(bare))["rain"], weather["rain"])


def test_days_with_a_clock_time_are_days(write):
    head = "# latitude: 48\n# elevation: 0\ntime,tmax C,tmin C,rain mm\n"
    rows = "".join(f"2021-05-{d:02d} 09:00,20,10,{d}\n" for d in range(1, 6))
    assert read_weather(write(head + rows))["rain"].values[2] == pytest.approx(0.003)


def test_mistakes_in_the_lines_above_do_not_hide_others(write):
    head = "# latitude: 95\n# elevation: 1 mile\n# no value\ndate,tmax C,tmin C,rain mm\n"
    text = refuse("latitude 95 is out of range", write(head + "2021-05-01,20,30,0\n"))
    assert "1 mile" in text
    assert "below the lowest" in text


# packed and unreadable files -------------------------------------------------------------------


def test_an_archive_of_nothing_known(tmp_path):
    import zipfile

    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("folder/", "")
        archive.writestr("empty.txt", "")
        archive.writestr("picture.png", b"\x00\x01")
        archive.writestr("readme.txt", "nothing here")
    assert "readme.txt" in refuse("no file in it is of a known kind", path)


def test_no_file_and_no_weather(write):
    with pytest.raises(InputError, match="no file was given"):
        read_weather([])
    head = "Stations_id;Stationshoehe;Geogr.Breite;Geogr.Laenge;von_datum;Stationsname\n"
    refuse("no weather in it", write(head))
    refuse("no weather in it", write(head + "44;x;52.9;8.2;2007;Farm\n"))
    refuse("not a file name", "a\x00b")


# the global daily set --------------------------------------------------------------------------


def test_a_list_with_faults(write):
    data = wf.ghcn_list()
    refuse("is not a number", write(changed(data, 5, lambda s: s.replace(",W", ",W").replace(
        s.split(",")[3], "abc"))))  # fmt: skip
    lines = data.decode().splitlines()
    again = lines[4].split(",")
    again[3] = "-50"
    refuse("is there twice with other values", write("\n".join([*lines, ",".join(again)]) + "\n"))
    same = read_weather(write("\n".join([*lines, lines[4]]) + "\n"), latitude=48, elevation=200)
    assert same.sizes["time"] == wf.COUNT
    refuse("holds no rain or temperature", write(data.replace(b"TMAX", b"SNOW").replace(
        b"TMIN", b"SNWD").replace(b"PRCP", b"WT01")))  # fmt: skip


def test_totals_and_flags_in_a_list(write):
    lines = wf.ghcn_list().decode().splitlines()
    out = []
    for line in lines:
        cells = line.split(",")
        if cells[2] == "PRCP" and cells[1] in ("20190304", "20190305"):
            continue
        if cells[2] == "PRCP" and cells[1] == "20190306":
            out += [
                ",".join([*cells[:2], "MDPR", "90", *cells[4:]]),
                ",".join([*cells[:2], "DAPR", "3", *cells[4:]]),
            ]
            continue
        if cells[2] == "PRCP" and cells[1] == "20190310":
            cells[3], cells[4] = "0", "T"
        if cells[2] == "PRCP" and cells[1] == "20190311":
            cells[3], cells[4] = "0", "P"
        if cells[2] == "TMAX" and cells[1] == "20190312":
            cells[5] = "S"
        out.append(",".join(cells))
    weather = read_weather(write("\n".join(out) + "\n"), latitude=48, elevation=200)
    np.testing.assert_allclose(weather["rain"].values[12:15], 0.003)
    text = " ".join(weather.attrs["assumptions"])
    for part in (
        "Traces of rain, which count as none: 1.",
        "presumed to be none",
        "own checks doubt it",
    ):
        assert part in text
    assert np.flatnonzero(weather["filled"].values).tolist() == [20]


def test_a_fixed_width_file_of_two_stations_and_of_none(write):
    data = wf.ghcn_fixed()
    two = data + data.replace(b"USW00999999", b"USW00888888")
    refuse("2 stations", write(two))
    chosen = read_weather(write(two), latitude=48, elevation=200, station="USW00888888")
    assert chosen.sizes["time"] == wf.COUNT
    none = data.replace(b"TMAX", b"SNOW").replace(b"TMIN", b"SNWD").replace(b"PRCP", b"WT01")
    refuse("no rain or temperature", write(none))
    late = data.decode().splitlines()
    late[0] = late[0][:21] + late[0][21:].replace("-9999   ", "  100   ")
    refuse('line 1, column DATE: "2019-02-29" does not exist', write("\n".join(late) + "\n"))


def test_rain_gauges_read_at_different_hours_are_said(write):
    lines = wf.ghcn_station().decode().splitlines()
    lines[1] = lines[1].replace(",0700", ",1900")
    weather = read_weather(write("\n".join(lines) + "\n"))
    assert weather.attrs["rain_day"] == "to morning"
    assert any("not read at one time of day" in s for s in weather.attrs["assumptions"])


def test_units_may_be_said_where_they_could_be_found(write):
    weather = read_weather(write(wf.ghcn_ordered()), units_of_file="metric")
    assert weather["tmax"].values[0] == 16.0


# other services --------------------------------------------------------------------------------


def test_the_legend_of_older_canadian_files(write):
    legend = (
        '"Station Name","HILL FARM"\n"Latitude","48.00"\n"Longitude","-80.00"\n'
        '"Elevation","200.00"\n"Climate Identifier","999"\n"Legend"\n"E","Estimated"\n\n'
    )
    data = wf.canadian().decode("utf-8-sig")
    bare = data.replace('"Longitude (x)","Latitude (y)","Station Name",', "").replace(
        '"-80.0","48.0","HILL FARM",', ""
    )
    bare = bare.replace('","","","","', '","E","","","', 1)
    weather = read_weather(write(legend + bare))
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (48.0, 200.0)
    assert weather.attrs["place"] == "HILL FARM"


@pytest.mark.parametrize("flag", ["E", "A", "C", "L", "F"])
def test_flags_of_canadian_rain_are_counted(write, flag):
    lines = wf.canadian().decode("utf-8-sig").splitlines()
    cells = lines[5].split(",")
    cells[-2] = f'"{flag}"'
    lines[5] = ",".join(cells)
    weather = read_weather(write("\n".join(lines) + "\n"), elevation=200)
    assert any("used as it is" in s for s in weather.attrs["assumptions"])


def test_a_german_row_without_its_end(write):
    refuse("does not end with eor", write(changed(wf.german(), 6, lambda s: s[:-3] + "xor")))


def test_german_rain_stations_join_with_another(write, tmp_path):
    days, v = wf.truth()
    rows = [
        f"{44:11d};{str(d).replace('-', '')};    3;{r:6.1f};   6;   0;-999;eor"
        for d, r in zip(days, v["rain"], strict=True)
    ]
    head = "STATIONS_ID;MESS_DATUM;QN_6;  RS;RSF;SH_TAG;NSH_TAG;eor"
    rain = write("\n".join([head, *rows]) + "\n", "rain.txt")
    lender = write(wf.german(), "kl.txt")
    weather = read_weather(rain, borrow=lender, latitude=48, elevation=200)
    np.testing.assert_allclose(weather["tmax"], v["tmax"])
    assert any("rain day: from morning" in s for s in weather.attrs["assumptions"])


def test_dates_that_are_no_dates_in_the_element_files(write):
    for part, change in (
        ("does not exist", lambda s: s.replace(",2019,02,", ",2019,13,")),
        ("is not a number", lambda s: s.replace(",2019,02,", ",2019,Feb,")),
    ):
        refuse(part, write(changed(wf.bureau_rain(), 4, change)))


@pytest.mark.parametrize(
    ("period", "part"), [("2.5", "2.5 days"), ("99", "is too long"), ("x", "is not a number")]
)
def test_periods_that_can_not_be(write, period, part):
    data = changed(wf.bureau_rain(), 20, lambda s: ",".join([*s.split(",")[:5], f"9.0,{period},N"]))
    refuse(part, write(data))


def test_distance_to_the_station_that_lends(tmp_path, write):
    days, v = wf.truth()
    mine = write(wf.french(), "mine.csv")
    other = wf.ghcn_station().replace(b'"16.0"', b'"2.5"')
    body = other.decode().splitlines()
    body[0] += ',"AWND"'
    body = [body[0], *(f'{line},"30"' for line in body[1:])]
    weather = read_weather(mine, borrow=write("\n".join(body) + "\n", "other.csv"))
    # half a degree of longitude at 48 N: 0.5 x 111.2 x cos 48 = 37 km
    assert any("37 km away" in s for s in weather.attrs["assumptions"])
    assert len(days) == len(v["rain"])


def test_a_column_of_a_known_kind_of_file_can_be_passed_over(write):
    body = wf.ghcn_station().decode().splitlines()
    body = [body[0] + ',"AWND"', *(f'{line},"30"' for line in body[1:])]
    station = write("\n".join(body) + "\n")
    assert "Wind" not in " ".join(read_weather(station).attrs["assumptions"])
    passed = read_weather(station, columns={"awnd": "ignore"})
    assert "Wind: 2 m/s was assumed on every day" in " ".join(passed.attrs["assumptions"])


# demand ----------------------------------------------------------------------------------------


def test_demand_refuses_columns_of_other_lengths():
    days = np.arange(np.datetime64("2021-05-01"), np.datetime64("2021-05-04"))
    one = np.ones(3)
    common = {"days": days, "tmax": 20 * one, "tmin": 10 * one, "vapour_pressure": one}
    place = {"latitude": 48.0, "elevation": 0.0}
    with pytest.raises(InputError, match="2 values for 3 days"):
        penman_monteith(**common, wind_speed=one[:2], solar_radiation=15 * one, **place)
    with pytest.raises(InputError, match="latitude"):
        penman_monteith(
            **common, wind_speed=one, solar_radiation=one, latitude=148.0, elevation=0.0
        )


def test_a_polar_night_has_no_sun_and_no_missing_value(table):
    text = table(days=60).read_text().replace("latitude: 48.0", "latitude: 78.0")
    path = table(days=60)
    path.write_text(text.replace("2021-05", "2021-12").replace("2021-06", "2022-01"))
    weather = read_weather(path, max_gap_days=5)
    assert np.isfinite(weather["et0"].values).all()
    assert weather["solar_radiation"].values.max() < 0.01


def test_days_that_have_no_row_of_their_own_take_their_part_of_a_total(write):
    lines = wf.bureau_rain().decode().splitlines()
    total = ",".join([*lines[13].split(",")[:5], "9.0,3,N"])
    for how, expected in (("spread", [0.003, 0.003, 0.003]), ("last", [0.0, 0.0, 0.009])):
        paths = [
            write("\n".join([*lines[:11], total, *lines[14:]]) + "\n", "rain.csv"),
            write(wf.bureau_tmax(), "tmax.csv"),
            write(wf.bureau_tmin(), "tmin.csv"),
        ]
        weather = read_weather(paths, latitude=-33, elevation=10, multi_day=how)
        np.testing.assert_allclose(weather["rain"].values[9:12], expected)
        assert not weather["filled"].values.any()


HEAD = "# latitude: 48\n# elevation: 0\n{},temp (C),rain (mm)\n"


def hourly(count, first="2021-06-01T00:00", end=""):
    times = np.datetime64(first) + np.arange(count) * np.timedelta64(1, "h")
    return "".join(
        f"{str(t).replace('T', ' ')}{end},{10 + i % 24},0.1\n" for i, t in enumerate(times)
    )


@pytest.mark.parametrize("name", ["time (UTC)", "time_utc", "Date (GMT)"])
def test_universal_time_in_the_heading_asks_too(write, name):
    path = write(HEAD.format(name) + hourly(96))
    refuse("universal time", path)
    assert read_weather(path, time_zone="UTC").sizes["time"] == 4


def test_clock_times_of_another_zone_with_its_clock_change(write):
    """Local German time around the end of summer time 2021, days wanted in universal time."""
    lines = hourly(24 * 4, "2021-10-29T00:00").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("2021-10-31 02"))
    lines.insert(at, lines[at])
    path = write(HEAD.format("time") + "\n".join(lines) + "\n")
    weather = read_weather(path, stamps="Europe/Berlin", time_zone="UTC")
    assert weather.sizes["time"] >= 3
    assert float(weather["rain"].values[1]) == pytest.approx(0.0024)
    # without the doubled hour the zone can't tell which of the two it is, and takes winter time
    bare = write(HEAD.format("time") + hourly(24 * 4, "2021-10-29T00:00"))
    assert read_weather(bare, stamps="Europe/Berlin", time_zone="UTC").sizes["time"] >= 3
    refuse("not a time zone", bare, stamps="Mars/Olympus")


def test_hourly_humidity_and_dew_point_fill_in_for_each_other(write):
    head = "# latitude: 48\n# elevation: 0\ntime,temp (C),dew point (C),RH (%),rain (mm)\n"
    body = ""
    for i in range(48):
        dew, rh = ("10", "50") if i % 2 else ("", "50")
        body += f"2021-06-{1 + i // 24:02d} {i % 24:02d}:00,20,{dew},{rh},0.1\n"
    weather = read_weather(write(head + body))
    from bedtide.weather.et0 import saturation_pressure as e

    expected = (e(10.0) + 0.5 * e(20.0)) / 2
    np.testing.assert_allclose(weather["vapour_pressure"], expected)


def test_extremes_by_the_hour_come_before_the_mean(write):
    head = "# latitude: 48\n# elevation: 0\ntime,temp (C),tmax (C),tmin (C),rain (mm)\n"
    body = "".join(
        f"2021-06-{1 + i // 24:02d} {i % 24:02d}:00,{15 + i % 24 / 10},{16 + i % 24 / 10},"
        f"{14 + i % 24 / 10},0.1\n"
        for i in range(48)
    )
    weather = read_weather(write(head + body))
    np.testing.assert_allclose(weather["tmax"], 18.3)
    np.testing.assert_allclose(weather["tmin"], 14.0)
    vapour = "time,temp (C),vapour pressure (hPa),rain (mm)"
    body = "".join(
        f"2021-06-{1 + i // 24:02d} {i % 24:02d}:00,20,{10 + i % 2},0\n" for i in range(48)
    )
    weather = read_weather(
        write(head.replace("time,temp (C),tmax (C),tmin (C),rain (mm)", vapour) + body)
    )
    np.testing.assert_allclose(weather["vapour_pressure"], 1.05)


@pytest.mark.parametrize(
    "lines",
    ["Latitude,51.9\nElevation (m),30\n", '"Lat: 51.9 N"\nAltitude = 30 m\n'.replace('"', "")],
)
def test_a_preamble_without_marks_may_say_the_place(table, lines):
    path = table()
    path.write_text("My station\n" + lines + path.read_text().split("\n", 2)[2])
    weather = read_weather(path)
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (51.9, 30.0)


def test_a_preamble_that_makes_no_sense_is_passed_over(table):
    path = table()
    path.write_text("Latitude,unknown\n" + path.read_text())
    assert read_weather(path).attrs["latitude"] == 48.0


def test_spreadsheets_and_web_pages_get_their_own_advice(tmp_path, write):
    import zipfile

    path = tmp_path / "w.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook/>")
    assert "Save it as CSV" in refuse("it is a spreadsheet", path)
    assert "save it as CSV" in refuse("not a text file", write(b"\xd0\xcf\x11\xe0\x00\x00"))
    refuse("it is a web page", write("<!DOCTYPE html><html>date,tmax</html>"))


def test_of_an_hour_that_comes_twice_the_first_is_summer_time(write):
    lines = hourly(24 * 4, "2021-10-29T00:00").replace(",0.1", ",0.0").splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("2021-10-31 02"))
    lines.insert(at, lines[at].replace(",0.0", ",7.0"))
    path = write(HEAD.format("time") + "\n".join(lines) + "\n")
    # 2 o'clock summer time is 0 o'clock universal time, still the 30th an hour further west
    weather = read_weather(path, stamps="Europe/Berlin", time_zone="-01:00")
    rain = weather["rain"].to_series()
    assert rain.loc["2021-10-30"] == pytest.approx(0.007)
    assert rain.loc["2021-10-31"] == 0.0


def test_example_20_of_fao_56_from_a_file(write):
    """Near Lyon, July, temperature alone (from memory): 4.56 mm, or 5.03 by Hargreaves."""
    head = "# latitude: 45.7167\n# elevation: 200\ndate,tmax C,tmin C,rain mm\n"
    path = write(head + "2021-07-15,26.6,14.8,0\n")
    weather = read_weather(path, method="penman-monteith")
    assert weather["wind_speed"].values[0] == 2.0
    assert weather["et0"].values[0] * 1000 == pytest.approx(4.56, abs=0.005)
    assert read_weather(path)["et0"].values[0] * 1000 == pytest.approx(5.03, abs=0.005)


def test_a_list_cut_short_and_a_gauge_in_a_known_layout_are_told(write):
    cut = read_weather(write(wf.ghcn_list()[:-8]), latitude=48, elevation=200)
    assert any("may have been cut short" in said for said in cut.attrs["assumptions"])
    gauge = gzip.compress(wf.ghcn_station("USW00999999"))
    weather = read_weather(write(wf.plain()), gauge=write(gauge, "gauge.csv.gz"))
    assert any("from your own gauge (gauge.csv.gz)" in s for s in weather.attrs["assumptions"])
