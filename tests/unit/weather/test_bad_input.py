"""One fault in a file, and the parts that its message must hold."""

import pytest

from bedtide.errors import InputError, SeveralErrors
from bedtide.weather import describe_weather, read_weather
from bedtide.weather.options import answers_to


def cell(row, column, text):
    def change(rows):
        rows[row][column] = text

    return change


def twice(rows):
    rows.insert(5, [*rows[4][:3], "9.9", *rows[4][4:]])


CASES = [
    # line 4 holds the first day
    (cell(3, 1, "5"), ["line 7", "tmax (C)", "5 degC is below the lowest, 10.5 degC"]),
    (cell(3, 3, "-0.2"), ["line 7", "rain (mm)", "-0.2 mm is not possible", "0 and 2000 mm"]),
    (cell(3, 3, "-9999"), ["line 7", "-9999 mm", 'missing="-9999"']),
    (cell(3, 1, "999.9"), ["line 7", "999.9 degC", 'missing="999.9"']),
    (cell(3, 1, "88"), ["line 7", "88 degC", "degrees F"]),
    (cell(3, 4, "120"), ["line 7", "wind at 2 m", "120 m/s is not possible"]),
    (cell(3, 3, "12,4"), ["line 7", "it has 6 fields", "Expected 5", "decimal commas"]),
    (cell(3, 3, "lots"), ["line 7", "rain (mm)", '"lots" is not a number', "missing"]),
    (cell(3, 0, "2021-05-32"), ["line 7", "column date", "does not exist"]),
    (cell(3, 0, "4/5/2021"), ["line 7", "date_order"]),
    (twice, ["line 9", "2021-05-05 is there twice", "first on line 8"]),
]


@pytest.mark.parametrize(("change", "parts"), CASES)
def test_a_fault_is_named_by_line(table, change, parts):
    with pytest.raises(InputError) as caught:
        read_weather(table(change))
    for part in ["garden.csv", *parts]:
        assert part in caught.value.text


def test_the_file_without_the_fault_is_read(table):
    assert read_weather(table()).sizes["time"] == 10


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (lambda rows: rows.reverse(), "not in order (newest first); they were sorted"),
        (lambda rows: rows.insert(7, rows.pop(2)), "not in order; they were sorted"),
        (lambda rows: rows.insert(5, list(rows[4])), "1 day came twice in garden.csv"),
    ],
)
def test_days_in_another_order_are_sorted_with_a_note(table, change, note):
    weather, right = read_weather(table(change)), read_weather(table())
    for name in ("tmax", "tmin", "rain", "et0"):
        assert weather[name].values.tolist() == right[name].values.tolist()
    assert any(note in sentence for sentence in weather.attrs["assumptions"])


def test_a_dew_point_of_minus_99_9_is_not_weather(table):
    header = "date,tmax (C),tmin (C),rain (mm),dew point (C)"
    path = table(lambda rows: [[*r[:4], "-99.9" if i == 3 else "5"] for i, r in enumerate(rows)],
                 header=header)  # fmt: skip
    with pytest.raises(InputError, match='missing="-99\\.9"'):
        read_weather(path)
    assert read_weather(path, missing=["-99.9"])["estimated"].values.sum() > 0


@pytest.mark.parametrize(
    ("heading", "value", "part"),
    [
        ("dew point (C)", lambda day, low: f"{low + 1.0:.1f}", "above the lowest temperature on"),
        ("wind (m/s)", lambda day, low: f"{10.5 + day % 3}", "are its numbers km/h"),
    ],
)
def test_a_column_of_another_kind_or_unit_is_asked_about(table, heading, value, part):
    path = table(
        lambda rows: [[*r[:4], value(i, float(r[2]))] for i, r in enumerate(rows)],
        header=f"date,tmax (C),tmin (C),rain (mm),{heading}", days=365,
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_weather(path)
    assert part in caught.value.text
    assert read_weather(path, accept=["columns"]).sizes["time"] == 365


def test_radiation_above_the_sky_is_left_out_by_the_option_that_says_so(table):
    header = "date,tmax (C),tmin (C),rain (mm),solar (MJ/m2)"
    path = table(lambda rows: [[*r[:4], "48" if i == 4 else "15"] for i, r in enumerate(rows)],
                 header=header)  # fmt: skip
    with pytest.raises(InputError, match='impossible="drop"'):
        read_weather(path)
    weather = read_weather(path, impossible="drop")
    assert any("more than the sun can give" in s for s in weather.attrs["assumptions"])


def test_a_mean_that_is_not_needed_is_not_judged(table):
    header = "date,tmax (C),tmin (C),rain (mm),temp (C)"
    path = table(lambda rows: [[*r[:4], "35"] for r in rows], header=header)
    assert read_weather(path).sizes["time"] == 10


def test_24_o_clock_of_a_day_is_still_that_day(table):
    def change(rows):
        for row in rows:
            row[0] += " 24:00"

    weather, right = read_weather(table(change)), read_weather(table())
    assert weather["time"].values.tolist() == right["time"].values.tolist()


def test_several_faults_come_together(table):
    def change(rows):
        rows[2][3] = "-1"
        rows[5][1] = "rot"
        rows[7][0] = rows[6][0]  # a day twice with other values
        rows[7][1] = "19.9"

    with pytest.raises(SeveralErrors) as caught:
        read_weather(table(change))
    assert len(caught.value.errors) == 3
    for part in ("line 6", "line 9", "line 11"):
        assert part in caught.value.text


def test_many_lines_with_one_fault_make_one_message(table):
    def change(rows):
        for row in rows[2:12]:
            row[3] = "-9999"

    with pytest.raises(InputError) as caught:
        read_weather(table(change, days=20))
    assert caught.value.text.count("\n") == 2
    assert "also lines 7, 8, 9, 10, 11 and 4 more" in caught.value.text


@pytest.mark.parametrize("column", [1, 3, 4])
def test_a_year_of_zeros(table, column):
    def change(rows):
        for row in rows:
            row[column] = "0"
            row[2] = str(-3 - len(row[0]) % 2)

    with pytest.raises(InputError) as caught:
        read_weather(table(change, days=365))
    assert "every day from 2021-05-01 to 2022-04-30 is zero" in caught.value.text
    assert "line 4" in caught.value.text
    assert "start=" not in caught.value.text  # no day of it was measured
    assert read_weather(table(change, days=365), accept=["zeros", "columns"]).sizes["time"] == 365


@pytest.mark.parametrize(
    ("zero", "answer", "first"),
    [
        (range(400), {"start": "2022-06-05"}, "2022-06-05"),  # 400 days from 1 May 2021
        (range(101, 500), {"end": "2021-08-09"}, "2021-05-01"),
    ],
)
def test_rain_that_was_not_measured_at_first_or_at_last_is_left_out(table, zero, answer, first):
    def change(rows):
        for at, row in enumerate(rows):
            row[3] = "0" if at in zero else str(at % 3)

    with pytest.raises(InputError) as caught:
        read_weather(table(change, days=500))
    assert answers_to(caught.value.errors) == answer
    found = read_weather(table(change, days=500), **answer)
    assert str(found["time"].values[0])[:10] == first


def test_wind_that_was_not_measured_is_passed_over(table):
    def change(rows):
        for at, row in enumerate(rows):
            row[3:5] = str(at % 3), "0" if 50 < at < 400 else "2"

    with pytest.raises(InputError) as caught:
        read_weather(table(change, days=500))
    answer = answers_to(caught.value.errors)
    assert list(answer) == ["columns"]
    found = read_weather(table(change, days=500), **answer)
    assert "Wind: 2 m/s was assumed on every day" in " ".join(found.attrs["assumptions"])


@pytest.mark.parametrize(
    ("header", "values", "parts"),
    [
        ("RH (%)", "101", ["line 4", "101 % is not possible"]),
        ("RH (%)", "-3", ["line 4", "between 0 and 100 %"]),
        ("dew point (C)", "25", ["line 4", "25 degC does not agree", "saturated air"]),
        ("vapour pressure (hPa)", "60", ["line 4", "60 hPa does not agree"]),
        ("solar (MJ/m2)", "48", ["line 4", "top of the air", "sign in the south"]),
        ("solar (W/m2)", "-40", ["line 4", "-40 W/m2"]),
        ("sunshine (h)", "19", ["line 4", "19 h on 2021-05-01", "at most"]),
        ("sunshine (h)", "25", ["line 4", "25 h is not possible"]),
    ],
)
def test_what_the_air_and_the_sun_can_not_do(table, header, values, parts):
    path = table(
        lambda rows: [[*r[:4], values] for r in rows],
        header=f"date,tmax (C),tmin (C),rain (mm),{header}",
    )
    with pytest.raises(InputError) as caught:
        read_weather(path)
    for part in parts:
        assert part in caught.value.text


@pytest.mark.parametrize(
    ("header", "parts"),
    [
        ("date,tmax,tmin (C),rain (mm),wind (m/s)", ["column tmax", "unit is not given", "degF"]),
        ("date,tmax,tmin,rain,wind", ["column tmax", "column rain", "unit is not given"]),
        ("date,tmx,tmin (C),rain (mm),wind (m/s)", ["unit is not given", "tmx"]),
        ("date,warmest,tmin (C),rain (mm),wind (m/s)", ["no highest temperature", "warmest"]),
        ("date,tmax (C),tmin (C),dropsize,wind (m/s)", ["no rain", "dropsize"]),
        ("date,tmax (C),high (C),rain (mm),wind (m/s)", ['"tmax (C)" and "high (C)"', "ignore"]),
        ("a,b,c,d,e", ["no line names a date", "a,b,c,d,e"]),
    ],
)
def test_headers(table, header, parts):
    with pytest.raises(InputError) as caught:
        read_weather(table(header=header))
    for part in parts:
        assert part in caught.value.text


@pytest.mark.parametrize(
    ("options", "part"),
    [
        ({"columns": {"tmox": "tmax, C"}}, 'no column "tmox"'),
        ({"columns": {"tmax (C)": "hotness"}}, '"hotness" is not known'),
        ({"setting": "island"}, "setting"),
        ({"rain_day": "noon"}, "rain_day"),
        ({"method": "thornthwaite"}, "method"),
        ({"accept": ["all"]}, "accept"),
        ({"decimal": ";"}, "decimal"),
        ({"date_order": "ymd"}, "date_order"),
        ({"hour_stamp": "middle"}, "hour_stamp"),
        ({"impossible": "keep"}, "impossible"),
        ({"max_gap_days": -1}, "max_gap_days"),
        ({"wind_height": 0.0}, "wind_height"),
        ({"start": "spring"}, '"spring" is not a date'),
        ({"start": "2030-01-01"}, "2021-05-01 to 2021-05-10"),
    ],
)
def test_wrong_options(table, options, part):
    with pytest.raises(InputError) as caught:
        read_weather(table(), **options)
    assert part in caught.value.text


@pytest.mark.parametrize(
    "line", ["# latitude: north", "# latitude: 95", "# elevation: 9000 m", "# elevation: 3 miles",
             "# rain day: noon", "# wind height: 0 m", "# latitude: -33.9 S", "# latitude: 11 E",
             "# longitude: -10 E", "# longitude: 361", "# elevation: 1,250 m"]
)  # fmt: skip
def test_wrong_lines_above_the_header(table, line):
    path = table()
    path.write_text(path.read_text().replace("date,", f"{line}\ndate,", 1))
    with pytest.raises(InputError) as caught:
        read_weather(path)
    assert "garden.csv, line 3" in caught.value.text


@pytest.mark.parametrize(
    ("line", "name", "value"),
    [
        ("# latitude: 33.9 S", "latitude", -33.9),
        ("# latitude: 33,9 north", "latitude", 33.9),
        ("# longitude: 80.2 W", "longitude", -80.2),
        ("# longitude: 350", "longitude", -10.0),
        ("# longitude: 180", "longitude", 180.0),
        ("# elevation: 100 ft", "elevation", 30.48),
        ("# elevation: 12,5 metres", "elevation", 12.5),
        ("Longitude: 80.2 W", "longitude", -80.2),
        ("Latitude: -33.9 S", "latitude", -33.9),
        ("Latitude: -33-30", "latitude", -33.5),
        ("Elevation: 100 ft", "elevation", 30.48),
        ("Elevation: 1,250 ft", "elevation", None),  # or one and a quarter
    ],
)
def test_places_above_the_header(write, line, name, value):
    path = write(f"{line}\ndate,tmax (C),tmin (C),rain (mm)\n2021-05-01,20,10,0\n")
    found = getattr(describe_weather(path).record, name)
    assert found == (value if value is None else pytest.approx(value, abs=1e-12))


def test_a_longitude_that_is_nowhere_is_refused_and_the_hours_are_looked_at(write):
    rows = "".join(f"2021-05-01T{hour:02d}:00Z,20,0,500\n" for hour in range(24))
    path = write("time,temp (C),rain (mm),Longitude (x)\n" + rows)
    layout = 'header = ["time"]\ncolumns = {"temp" = "temperature", "rain" = "rain"}\n'
    mine = write(layout + 'date = "time"\nplace = {longitude = "Longitude (x)"}\n', "mine.toml")
    with pytest.raises(InputError) as caught:
        read_weather(path, layout=mine, latitude=48.0, elevation=200.0)
    assert "longitude: 500 degrees is out of range" in caught.value.text
    assert "universal time" in caught.value.text


def test_files_that_are_not_there_or_not_weather(tmp_path, write):
    with pytest.raises(InputError, match="can't be read"):
        read_weather(tmp_path / "nowhere.csv")
    with pytest.raises(InputError, match="can't be read"):
        read_weather(tmp_path)
    with pytest.raises(InputError, match="empty"):
        read_weather(write(""))
    with pytest.raises(InputError):
        read_weather(write("date,tmax (C),tmin (C),rain (mm)\n"))
    with pytest.raises(InputError, match="not a text file"):
        read_weather(write(bytes(range(256)) * 10))


def test_headings_without_units_are_all_named(write):
    rows = "\n".join(f"2021-05-{day:02d},20,10,0" for day in range(1, 11))
    with pytest.raises(InputError) as caught:
        read_weather(write(f"date,tmax,tmin,rain\n{rows}\n"))
    for name in ("tmax", "tmin", "rain"):
        assert f"column {name}: its unit is not given" in str(caught.value)


# units that are not given, or not the right ones ------------------------------------------------


def test_only_units_that_the_values_allow_are_offered(table):
    header = "date,tmax,tmin (C),rain,wind (m/s)"
    path = table(lambda rows: [[r[0], f"{68 + i % 9}", *r[2:]] for i, r in enumerate(rows)],
                 header=header, days=90)  # fmt: skip
    with pytest.raises(InputError) as caught:
        read_weather(path)
    text = caught.value.text
    assert "its values run from 68 to 76" in text
    assert "one of degF in the header" in text
    assert 'columns={"tmax": "UNIT"}' in text  # no unit is put into anybody's hands
    assert "mm, cm" in text


def test_humidity_from_0_to_1(table):
    def change(rows):
        return [[*r[:4], "0.8"] for r in rows]

    right = read_weather(
        table(lambda rows: [[*r[:4], "80"] for r in rows], header="date,tmax C,tmin C,rain mm,RH")
    )
    share = read_weather(table(change, header="date,tmax C,tmin C,rain mm,RH"))
    assert share["et0"].values.tolist() == right["et0"].values.tolist()
    assert any("runs from 0 to 1" in s for s in share.attrs["assumptions"])
    labelled = table(change, header="date,tmax C,tmin C,rain mm,RH (%)")
    with pytest.raises(InputError, match="can't be percent"):
        read_weather(labelled)
    told = read_weather(labelled, columns={"RH (%)": "rh_mean, share"})
    assert told["et0"].values.tolist() == right["et0"].values.tolist()


def test_precipitation_mm_is_in_millimetres(table):
    weather = read_weather(table(header="date,tmax_c,tmin_c,precipitation_mm,wind_2m_ms"))
    assert weather["rain"].values.tolist() == read_weather(table())["rain"].values.tolist()


def test_what_is_wrong_outside_the_days_that_are_wanted_does_not_count(table):
    def change(rows):
        rows[1][3] = "rot"
        rows[2][1] = "99"

    with pytest.raises(InputError):
        read_weather(table(change))
    weather = read_weather(table(change), start="2021-05-04")
    assert weather.sizes["time"] == 7


def test_a_file_that_does_not_say_its_rain_day_is_told_so(table):
    part = "taken as fallen on its date, as the file does not say"
    weather = read_weather(table())
    assert any(part in s for s in weather.attrs["assumptions"])
    weather = read_weather(table(), rain_day="midnight")
    assert not any(part in s for s in weather.attrs["assumptions"])


def test_a_packed_file_that_would_fill_the_memory_is_refused_before_it_is_read(tmp_path):
    import gzip
    import zipfile

    rows = b"2021-05-01,20,10,0\n" * 60_000
    path = tmp_path / "bomb.csv.gz"
    with gzip.open(path, "wb", compresslevel=6) as packed:
        for _ in range(200):
            packed.write(rows)
    assert path.stat().st_size < 3_000_000
    with pytest.raises(InputError, match="larger than 200 MB"):
        read_weather(path)
    path = tmp_path / "bomb.zip"
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive,
        archive.open("rows.csv", "w", force_zip64=True) as member,
    ):
        for _ in range(200):
            member.write(rows)
    with pytest.raises(InputError, match="larger than 200 MB"):
        read_weather(path)
