"""bedtide weather: what it says of a record."""


def test_a_whole_record(cli, weather_file):
    result = cli("weather", weather_file)
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[0] == (
        "1 May to 29 June 2023: 60 days of weather, Made up (50.0 degrees north, 100 m above the "
        "sea)."
    )
    assert "Gaps: none." in lines
    assert any("solar radiation" in line for line in lines)
    table = [line.split() for line in lines if line.startswith(("May", "June"))]
    # 12.5 mm on 3 days of May (5, 14 and 23): 1.21 mm a day
    assert [row[:3] for row in table] == [["May", "31", "38"], ["June", "29", "52"]]


def test_us_units(cli, weather_file):
    result = cli("weather", weather_file, "--units", "us")
    assert "328 ft above the sea" in result.stdout
    assert "ET0 in a day" in result.stdout


def test_gaps_and_estimates_are_counted(cli, tmp_path, weather_file):
    rows = weather_file.read_text().splitlines()
    rows[10:12] = []
    no_sun = [",".join(part for i, part in enumerate(row.split(",")) if i != 5) for row in rows[3:]]
    path = tmp_path / "short.csv"
    path.write_text("\n".join(rows[:3] + no_sun) + "\n")
    result = cli("weather", path)
    assert result.exit_code == 0, result.stderr
    assert "Gaps: 2 days were missing and filled." in result.stdout
    assert "Estimated: on 60 days (100 %)" in result.stdout
    assert "\nAssumed:\n" in result.stdout


def test_a_place_can_be_given(cli, weather_file):
    weather_file.write_text(weather_file.read_text().replace("# latitude: 50\n", ""))
    assert cli("weather", weather_file).exit_code == 2
    result = cli("weather", weather_file, "--latitude", "45")
    assert "45.0 degrees north" in result.stdout


def test_what_is_no_weather_is_refused(cli, bed_file):
    result = cli("weather", bed_file)
    assert result.exit_code == 2
    assert "bed.toml" in result.stderr
    assert "Traceback" not in result.stderr
