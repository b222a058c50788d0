"""Each format, from a small file in its layout, gives the same days."""

import gzip
import zipfile

import numpy as np
import pytest

from bedtide.errors import InputError
from bedtide.weather import read_weather
from helpers import weather_files as wf


@pytest.fixture
def station(tmp_path):
    def _station(name):
        makers, *_ = wf.STATIONS[name]
        paths = []
        for i, maker in enumerate(makers):
            paths.append(tmp_path / f"part{i}.txt")
            paths[-1].write_bytes(maker())
        return paths if len(paths) > 1 else paths[0]

    return _station


def check(weather, name):
    days, v = wf.truth()
    _, of_temperature, of_rain = wf.STATIONS[name]
    start = int((weather["time"].values[0].astype("datetime64[D]") - days[0]).astype(int))
    count = weather.sizes["time"]
    assert count >= len(days) - 1
    for key in ("tmax", "tmin"):
        np.testing.assert_allclose(
            weather[key], v[key][start : start + count], atol=of_temperature, err_msg=key
        )
    shift = 1 if name in wf.MORNING else 0
    rain = v["rain"][start + shift : start + shift + count]
    np.testing.assert_allclose(weather["rain"].values * 1000, rain, atol=of_rain)


@pytest.mark.parametrize("name", wf.STATIONS)
def test_the_same_days_from_every_format(station, name):
    weather = read_weather(station(name), latitude=48.0, elevation=200.0)
    check(weather, name)
    assert (weather.attrs["rain_day"] == "to morning") is (name in wf.MORNING)
    assert not weather["filled"].values.any()
    assert weather.attrs["latitude"] == 48.0


@pytest.mark.parametrize("name", wf.STATIONS)
def test_one_recogniser_alone_says_yes(name):
    """Which layout a file is taken for does not hang on the order in which they are asked."""
    from bedtide.weather.layouts import recognised, tabled
    from bedtide.weather.text import decode

    for maker in wf.STATIONS[name][0]:
        yes = [layout.name for layout, *_ in recognised(tabled(decode(maker(), "x")))]
        assert len(yes) == (0 if name in ("plain", "hourly") else 1), yes


@pytest.mark.parametrize(
    "name",
    ["ghcn_station", "ghcn_ordered", "summary_of_day", "local_climate", "uk", "french"],
)
def test_place_from_the_file_where_the_format_carries_it(station, name):
    weather = read_weather(station(name))
    assert (weather.attrs["latitude"], weather.attrs["elevation"]) == (48.0, 200.0)


def test_zip_and_gzip(tmp_path, station):
    paths = station("bureau")
    packed = tmp_path / "station.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for path in paths:
            archive.write(path, f"folder/{path.name}")
        archive.writestr("note.txt", "Notes on the station, free text.")
    check(read_weather(packed, latitude=48.0, elevation=200.0), "bureau")
    single = tmp_path / "one.csv.gz"
    single.write_bytes(gzip.compress(wf.german()))
    check(read_weather(single, latitude=48.0, elevation=200.0), "german")
    for broken in (b"PK\x03\x04rubbish", gzip.compress(wf.german())[:-40]):
        path = tmp_path / "broken"
        path.write_bytes(broken)
        with pytest.raises(InputError, match="unpacked"):
            read_weather(path)


def edit(path, old, new, count=1):
    data = path.read_bytes()
    assert old in data
    path.write_bytes(data.replace(old, new, count))
    return path


# the global daily set --------------------------------------------------------------------------


def test_units_of_an_ordered_file_are_asked_where_the_numbers_do_not_settle_them(tmp_path):
    path = tmp_path / "order.csv"
    head = '"STATION","NAME","DATE","PRCP","TMAX","TMIN"\n'
    rows = "".join(f'"USW1","A","2019-06-{d:02d}","0","{70 + d}","50"\n' for d in range(1, 20))
    path.write_text(head + rows)
    with pytest.raises(InputError) as caught:
        read_weather(path, latitude=40, elevation=0)
    assert "units_of_file" in caught.value.text
    weather = read_weather(path, latitude=40, elevation=0, units_of_file="standard")
    assert weather["tmax"].values[0] == pytest.approx((71 - 32) / 1.8)
    with pytest.raises(InputError, match="units_of_file"):
        read_weather(path, latitude=40, elevation=0, units_of_file="imperial")


def test_signs_of_units_that_contradict_are_asked(station):
    # rain in inches beside temperatures with a decimal: no single order makes both
    path = station("ghcn_ordered")
    text = path.read_text()
    _, v = wf.truth()
    for rain in sorted({f"{r:.1f}" for r in v["rain"]}, reverse=True):
        text = text.replace(f',"{rain}","', f',"{rain}0","')
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_weather(path)
    assert "PRCP suggests standard" in caught.value.text
    assert "TMAX suggests metric" in caught.value.text


def test_flags_of_the_global_daily_set(station):
    path = station("ghcn_station")
    data = path.read_bytes().decode()
    lines = data.splitlines()
    lines[10] = lines[10].replace('",,7"', '",X,7"', 1)  # a quality flag on TMAX
    parts = lines[1].rsplit('",,7,0700"', 1)
    lines[1] = '"T,,7,0700"'.join([parts[0] + '"', parts[1]]).replace('""T', '"T')
    path.write_text("\n".join(lines) + "\n")
    weather = read_weather(path)
    text = " ".join(weather.attrs["assumptions"])
    assert "TMAX of 1 day of part0.txt left out: the service's own checks doubt it" in text
    assert weather["filled"].values.sum() == 1


def test_totals_of_several_days_are_spread_or_put_last_and_kept(tmp_path):
    head = (
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","PRCP","TMAX","TMIN","MDPR","DAPR"\n'
    )
    rows = []
    for d in range(1, 15):
        rain, total, days = ("25", "", "") if d not in (5, 6, 7) else ("", "", "")
        if d == 7:
            total, days = "300", "3"
        rows.append(
            f'"USC1","2019-06-{d:02d}","40","-80","10","{rain}","210","100","{total}","{days}"'
        )
    path = tmp_path / "w.csv"
    path.write_text(head + "\n".join(rows) + "\n")
    spread = read_weather(path, rain_day="midnight")
    np.testing.assert_allclose(spread["rain"].values[4:7], 0.010)
    last = read_weather(path, rain_day="midnight", multi_day="last")
    np.testing.assert_allclose(last["rain"].values[4:7], [0, 0, 0.030])
    assert not spread["filled"].values.any()
    assert any(
        s.startswith("Rain totals of several days in") and ": 1, each spread" in s
        for s in spread.attrs["assumptions"]
    )
    # a blank without a total is unknown, not zero
    path.write_text((head + "\n".join(rows) + "\n").replace('"300","3"', '"",""'))
    unknown = read_weather(path, rain_day="midnight")
    assert unknown["filled"].values[4:7].all()


@pytest.mark.parametrize(
    ("station_id", "observed", "rule"),
    [
        ("USC00999999", ",0700", "to morning"),
        ("USC00999999", ",2400", "midnight"),
        ("USC00999999", ",1700", "midnight"),
        ("USC00999999", "", "to morning"),
        ("USW00999999", "", "midnight"),
        ("US1NYNY0001", "", "to morning"),
    ],
)
def test_rain_day_of_the_global_daily_set(tmp_path, station_id, observed, rule):
    path = tmp_path / "w.csv"
    path.write_bytes(wf.ghcn_station(station_id, observed))
    assert read_weather(path).attrs["rain_day"] == rule


def test_unsorted_and_doubled_rows_of_the_global_daily_set(station):
    path = station("ghcn_station")
    head, *rows = path.read_text().splitlines()
    path.write_text("\n".join([head, *reversed(rows), rows[3]]) + "\n")
    weather = read_weather(path)
    check(weather, "ghcn_station")
    text = " ".join(weather.attrs["assumptions"])
    assert "not in order" in text
    assert "1 day came twice" in text
    other = rows[3].replace(rows[3].split('"')[-4], "  999")
    path.write_text("\n".join([head, *rows, other]) + "\n")
    with pytest.raises(InputError, match="is there twice"):
        read_weather(path)


def test_an_older_order_with_named_flag_columns(tmp_path):
    """Layout from memory: STATION_NAME, DATE as YYYYMMDD, -9999, flag columns that repeat."""
    head = "STATION,STATION_NAME,ELEVATION,LATITUDE,LONGITUDE,DATE"
    for name in ("PRCP", "TMAX", "TMIN"):
        head += f",{name},Measurement Flag,Quality Flag,Source Flag,Time of Observation"
    rows = [
        f"GHCND:USC1,FARM,10,40,-80,201906{d:02d},{d * 10},, ,0,0700,"
        f"{200 + d}, ,{'X' if d == 9 else ' '},0,0700,100, , ,0,0700"
        for d in range(1, 15)
    ]
    rows[4] = rows[4].replace(",50,,", ",-9999,,")
    path = tmp_path / "w.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    weather = read_weather(path, rain_day="midnight")
    assert weather["tmax"].values[0] == pytest.approx(20.1)
    assert np.flatnonzero(weather["filled"].values).tolist() == [4, 8]


def test_a_fixed_width_file_cut_short(station):
    path = station("ghcn_fixed")
    path.write_bytes(path.read_bytes()[:-60])
    with pytest.raises(InputError) as caught:
        read_weather(path, latitude=48, elevation=200)
    assert "line 6" in caught.value.text
    assert "cut short" in caught.value.hint


def test_several_stations_in_a_list(tmp_path):
    path = tmp_path / "w.csv"
    data = wf.ghcn_list()
    path.write_bytes(data + data.replace(b"USW00999999", b"USW00888888").split(b"\n", 1)[1])
    with pytest.raises(InputError, match="2 stations"):
        read_weather(path, latitude=48, elevation=200)
    weather = read_weather(path, latitude=48, elevation=200, station="USW00888888")
    check(weather, "ghcn_list")


# the other US files ----------------------------------------------------------------------------


def test_sentinels_of_the_summary_of_the_day_belong_to_their_columns(station):
    path = station("summary_of_day")
    lines = path.read_text().splitlines()
    lines[10] = lines[10].replace(lines[10].split('","')[-4].strip('"'), "99.99")
    lines[12] = lines[12].replace('"  5.0"', '"999.9"')
    path.write_text("\n".join(lines) + "\n")
    weather = read_weather(path)
    assert np.flatnonzero(weather["filled"].values).tolist() == [9, 11]
    # knots at 10 m to metres per second at 2 m
    expected = 5.0 * 1852 / 3600 * 4.87 / np.log(672.58)
    assert weather["wind_speed"].values[0] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("text", "millimetres"), [("T", 0.0), ("Ts", 0.0), ("0.12s", 3.048), ("1.00", 25.4)]
)
def test_rain_of_the_local_climate_file(station, text, millimetres):
    path = station("local_climate")
    lines = path.read_text().splitlines()
    cells = lines[3].split(",")
    cells[-2] = f'"{text}"'
    lines[3] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n")
    assert read_weather(path)["rain"].values[0] * 1000 == pytest.approx(millimetres)


# Australia -------------------------------------------------------------------------------------


def test_a_blank_period_is_one_day_and_a_period_of_days_is_shared_out(tmp_path, station):
    paths = station("bureau")
    lines = paths[0].read_text().splitlines()
    for i in (11, 12, 13):
        lines[i] = ",".join(lines[i].split(",")[:5]) + ",,,"
    lines[13] = ",".join(lines[13].split(",")[:5]) + ",9.0,3,N"
    paths[0].write_text("\n".join(lines) + "\n")
    weather = read_weather(paths, latitude=-33, elevation=10)
    # days 11 to 13 of the file, each on the day before
    np.testing.assert_allclose(weather["rain"].values[9:12], 0.003)
    assert not weather["filled"].values.any()


def test_a_total_over_measured_days_gives_the_rest_to_the_others(station):
    paths = station("bureau")
    lines = paths[0].read_text().splitlines()
    own = [float(lines[i].split(",")[5]) for i in (11, 12)]
    total = sum(own) + 9.0
    lines[13] = ",".join(lines[13].split(",")[:5]) + f",{total},3,N"
    paths[0].write_text("\n".join(lines) + "\n")
    weather = read_weather(paths, latitude=-33, elevation=10)
    np.testing.assert_allclose(weather["rain"].values[9:12] * 1000, [*own, 9.0])
    assert any(
        "rain of their own: 1, the first on line 14" in s for s in weather.attrs["assumptions"]
    )


def test_blank_rows_at_the_ends_of_an_element_file(station):
    paths = station("bureau")
    lines = paths[0].read_text().splitlines()
    blank = [f"IDCJAC0009,066999,2019,01,{d:02d},,," for d in range(1, 32)]
    paths[0].write_text("\n".join([lines[0], *blank, *lines[1:]]) + "\n")
    check(read_weather(paths, latitude=48, elevation=200), "bureau")


def test_nine_and_fifteen_o_clock(station):
    weather = read_weather(station("bureau_month"), latitude=48, elevation=200)
    text = " ".join(weather.attrs["assumptions"])
    assert "mean of the readings at 9 and 15 o'clock" in text
    assert weather["wind_speed"].values[0] == pytest.approx(9 / 3.6 * 4.87 / np.log(672.58))
    assert "Latin-1" in text
    assert weather["estimated"].values.max() == 0


# Europe and Canada -----------------------------------------------------------------------------


def test_sentinels_and_humidity_of_the_german_file(station):
    path = edit(station("german"), b";   6.8;", b";  -999;", 3)
    weather = read_weather(path, latitude=48, elevation=200)
    assert weather["vapour_pressure"].values[5] == pytest.approx(0.68)
    # where vapour pressure is missing the relative humidity of the same row serves
    assert weather["estimated"].values.max() == 0


def test_recent_and_historical_german_files_overlap(tmp_path):
    whole = wf.german().split(b"\r\n")
    head, rows = whole[0], whole[1:-1]
    old, new = tmp_path / "historical.txt", tmp_path / "recent.txt"
    old.write_bytes(b"\r\n".join([head, *rows[:25], b""]))
    doubtful = [row.replace(b";   2.5;", b";   4.5;") for row in rows[20:]]
    new.write_bytes(b"\r\n".join([head, *doubtful, b""]))
    place = tmp_path / "Metadaten_Geographie_00044.txt"
    place.write_bytes(
        "Stations_id;Stationshoehe;Geogr.Breite;Geogr.Laenge;von_datum;bis_datum;Stationsname\r\n"
        "         44;   44.00;  52.9335;    8.2370;20070401;        ;H\u00fcgelhof\r\n".encode(
            "latin-1"
        )
    )
    for order in ([old, new, place], [place, new, old]):
        weather = read_weather(order)
        check(weather, "german")
        assert weather.attrs["latitude"] == 52.9335
        assert weather.attrs["place"] == "H\u00fcgelhof"
        factor = 4.87 / np.log(672.58)
        np.testing.assert_allclose(weather["wind_speed"].values[20:25], 2.5 * factor)
        np.testing.assert_allclose(weather["wind_speed"].values[25:], 4.5 * factor)
        assert any("finished file" in s for s in weather.attrs["assumptions"])


def test_flags_of_the_canadian_file(station):
    path = station("canadian")
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    cells = lines[5].split(",")
    cells[-3:-1] = ['"0.0"', '"T"']
    lines[5] = ",".join(cells)
    cells = lines[8].split(",")
    cells[9:11] = ['""', '"M"']
    lines[8] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    weather = read_weather(path, elevation=200)
    assert weather["rain"].values[4] == 0.0
    assert weather["filled"].values.sum() == 1
    assert any("Traces of rain" in s for s in weather.attrs["assumptions"])


def test_quality_of_the_european_set(station):
    paths = station("european")
    lines = paths[1].read_text().splitlines()
    lines[10] = lines[10][:-1] + "1"
    lines[14] = lines[14][:-11] + "-9999,    9"
    paths[1].write_text("\n".join(lines) + "\n")
    weather = read_weather(paths, latitude=48, elevation=200)
    assert weather["filled"].values.sum() == 2
    assert any("suspect" in s for s in weather.attrs["assumptions"])


def test_doubtful_values_of_the_french_file(station):
    path = station("french")
    lines = path.read_text().splitlines()
    lines[7] = lines[7][:-1] + "2"
    path.write_text("\n".join(lines) + "\n")
    weather = read_weather(path)
    assert weather["filled"].values.sum() == 1


def test_rain_of_minus_one_is_a_trace_in_the_dutch_file(station):
    path = edit(station("dutch"), b",    0,   75", b",   -1,   75")
    weather = read_weather(path, latitude=52, elevation=0)
    assert any("Traces of rain, which count as none: 1." in s for s in weather.attrs["assumptions"])
    check(weather, "dutch")


def test_second_versions_trial_data_and_totals_of_the_uk_archive(station):
    paths = station("uk")
    lines = paths[0].read_text().splitlines()
    again = lines[9].replace(",RAIN,1,", ",RAIN,0,").replace(",6", ",1")
    trial = lines[9].replace(",1,999,", ",1,99999,")
    lines[10:10] = [again, trial]
    paths[0].write_text("\n".join(lines) + "\n")
    check(read_weather(paths), "uk")
    paths[0].write_text("\n".join(lines[:-1]) + "\n")
    with pytest.raises(InputError, match="end data"):
        read_weather(paths)


def test_monthly_files_are_refused_with_the_reason(tmp_path):
    path = tmp_path / "m.txt"
    path.write_text(
        "Hill Farm\nLocation: 4000E 1000N\n   yyyy  mm   tmax    tmin      af    rain     sun\n"
        "              degC    degC    days      mm   hours\n   1957   1    8.7     2.7       5"
        "    39.5    53.0\n"
    )
    with pytest.raises(InputError, match="one line a month"):
        read_weather(path)


def by_month(year="2021"):
    """The fixed-width daily set as a table: January of 2021, value and three marks for each day."""
    header = ["ID", "YEAR", "MONTH", "ELEMENT"]
    for day in range(1, 32):
        header += [f"VALUE{day}", f"MFLAG{day}", f"QFLAG{day}", f"SFLAG{day}"]
    rows = []
    for element, value in (("TMAX", 105), ("TMIN", 25), ("PRCP", 12), ("SNWD", 7)):
        cells = [[str(value + day), "", "", "S"] for day in range(31)]
        if element == "PRCP":
            cells[4] = ["0", "T", "", "S"]
            cells[9][2] = "D"  # a check failed
            cells[20] = ["NA", "NA", "NA", "NA"]
        rows.append([*("USC00999999", year, "1", element), *(c for cell in cells for c in cell)])
    return "\n".join(map(",".join, [header, *rows])) + "\n"


def test_months_in_rows_hold_tenths_with_marks(write):
    options = {"latitude": 48.0, "elevation": 0.0, "rain_day": "midnight"}
    weather = read_weather(write(by_month(), "station.csv"), **options)
    assert weather.sizes["time"] == 31
    np.testing.assert_allclose(weather["tmax"], [(105 + day) / 10 for day in range(31)])
    np.testing.assert_allclose(weather["tmin"], [(25 + day) / 10 for day in range(31)])
    rain = [(12 + day) / 10 for day in range(31)]
    rain[4] = rain[9] = rain[20] = 0.0  # a trace; doubted and not measured: gaps, taken as dry
    np.testing.assert_allclose(weather["rain"] * 1000, rain)
    assert weather["filled"].values.nonzero()[0].tolist() == [9, 20]


def test_a_year_that_is_none_is_refused(write):
    with pytest.raises(InputError) as told:
        read_weather(write(by_month("inf"), "station.csv"), latitude=48.0, elevation=0.0)
    assert '"inf-01-01" is not a date (also lines 3, 4)' in told.value.text


def test_rows_that_lack_a_part_of_their_date_are_refused(write):
    lines = ["YEAR,junk,DY,T2M_MAX,T2M_MIN,PRECTOTCORR"]
    lines += [f"2021,1,{day},10.5,2.5,1.2" for day in range(1, 20)]
    with pytest.raises(InputError) as told:
        read_weather(write("\n".join(lines) + "\n"), latitude=48.0, elevation=0.0)
    assert "there is no column for the month" in told.value.text
