"""bedtide weather: what it says of a record."""

import json

import pytest


def test_a_whole_record(cli, weather_file):
    result = cli("weather", weather_file)
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Made up: a doubtful record. ")
    assert "1 May to 29 June 2023: 60 days, 50.0 degrees north, 100 m above the sea." in lines
    assert "Rain falls on 12 % of the days." in lines
    assert "Gaps: none." in lines
    assert "Rain is counted from midnight to midnight." in lines
    assert any("solar radiation" in line for line in lines)
    table = [line.split() for line in lines if line.startswith(("May", "June"))]
    # 12.5 mm on 3 days of May (5, 14 and 23) are 37.5 mm; June lacks a day, so its 50 mm in 29
    # days are scaled up.
    assert [row[:3] for row in table] == [["May", "31", "38"], ["June", "29", "52"]]
    # The dew point of this record never changes.
    assert any("humidity is the same on 60 days running" in line for line in lines)


def test_the_built_in_record_has_its_spread_and_spells(cli):
    result = cli("weather")
    assert result.exit_code == 0, result.stderr
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Brasaluz (invented): a good record.")
    for title in ("Wettest spells:", "Driest spells, by ET0 less rain:"):
        assert title in lines
    january = next(line for line in lines if line.startswith("January "))
    assert " to " in january
    assert "(" in january


def test_us_units(cli, weather_file):
    result = cli("weather", weather_file, "--units", "us")
    assert "328 ft above the sea" in result.stdout
    assert "Rain in" in result.stdout
    assert " mm" not in "\n".join(result.stdout.split("\n\n")[3:])


def test_files_agree_with_what_is_printed(cli, tmp_path, weather_file):
    folder = tmp_path / "out"
    result = cli("weather", weather_file, "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert sorted(path.name for path in folder.iterdir()) == ["weather.json", "weather.png"]
    figures = json.loads((folder / "weather.json").read_text())
    assert (folder / "weather.png").read_bytes().startswith(b"\x89PNG")
    assert figures["days"] == 60
    may = figures["months"][0]
    assert (may["month"], may["rain_mm"], may["whole_months"]) == (5, pytest.approx(37.5), 1)
    assert json.loads(cli("weather", weather_file, "--json").stdout) == figures


def test_gaps_and_estimates_are_counted(cli, tmp_path, weather_file):
    rows = weather_file.read_text().splitlines()
    rows[10:12] = []
    no_sun = [",".join(part for i, part in enumerate(row.split(",")) if i != 5) for row in rows[3:]]
    path = tmp_path / "short.csv"
    path.write_text("\n".join(rows[:3] + no_sun) + "\n")
    result = cli("weather", path)
    assert result.exit_code == 0, result.stderr
    assert "Gaps: 2 days were missing and filled." in result.stdout
    assert "Estimated: radiation on 58 days (97 %)." in result.stdout
    assert "\nAssumed:\n" in result.stdout
    borrowed = cli("weather", path, "--borrow", weather_file)
    assert "Estimated: nothing" in borrowed.stdout
    assert "borrowed" in borrowed.stdout


def test_a_gauge_of_your_own_overrides_the_rain(cli, tmp_path, weather_file):
    log = tmp_path / "gauge.csv"
    log.write_text("date,rain (mm)\n2023-05-02,40\n")
    result = cli("weather", weather_file, "--gauge", log)
    assert result.exit_code == 0, result.stderr
    may = next(line.split() for line in result.stdout.splitlines() if line.startswith("May"))
    assert may[2] == "78"  # 37.5 mm and 40
    assert "gauge" in result.stdout


def test_several_files_are_joined(cli, tmp_path, weather_file):
    rows = weather_file.read_text().splitlines()
    parts = [tmp_path / "a.csv", tmp_path / "b.csv"]
    parts[0].write_text("\n".join(rows[:34]) + "\n")
    parts[1].write_text("\n".join(rows[:4] + rows[34:]) + "\n")
    result = cli("weather", *parts)
    assert result.exit_code == 0, result.stderr
    assert "1 May to 29 June 2023: 60 days" in result.stdout


def test_a_place_can_be_given(cli, weather_file):
    weather_file.write_text(weather_file.read_text().replace("# latitude: 50\n", ""))
    assert cli("weather", weather_file).exit_code == 2
    result = cli("weather", weather_file, "--latitude", "45")
    assert "45.0 degrees north" in result.stdout


def test_messages_name_the_options(cli, weather_file):
    rows = weather_file.read_text().splitlines()
    rows[8] = rows[8].rsplit(",", 1)[0] + ",-9999"
    weather_file.write_text("\n".join(rows) + "\n")
    result = cli("weather", weather_file)
    assert result.exit_code == 2
    assert "say  --missing -9999" in result.stderr
    assert cli("weather", weather_file, "--missing", "-9999").exit_code == 0


def test_what_is_no_weather_is_refused(cli, bed_file):
    result = cli("weather", bed_file)
    assert result.exit_code == 2
    assert "bed.toml" in result.stderr
    assert "Traceback" not in result.stderr


def test_part_of_a_record(cli, weather_file):
    result = cli("weather", weather_file, "--from", "2023-05-10", "--to", "2023-05-19")
    assert result.exit_code == 0, result.stderr
    assert "10 to 19 May 2023: 10 days" in result.stdout
    wrong = cli("weather", weather_file, "--from", "2023-05-10", "--to", "2023-05-09")
    assert wrong.exit_code == 2
    assert "--to: 2023-05-09 is before --from" in wrong.stderr
