"""bedtide weather on a file that can't be used yet: what it holds, and one command to paste."""

import json
import shlex

import pytest


@pytest.fixture
def broken(tmp_path, weather_file):
    """No place, a sum of rain that stands for none, radiation without a unit."""
    lines = weather_file.read_text().splitlines()
    lines = [line for line in lines if not line.startswith(("# latitude", "# elevation"))]
    at = next(i for i, line in enumerate(lines) if line.startswith("date"))
    assert "solar radiation (MJ/m2)" in lines[at]
    lines[at] = lines[at].replace("solar radiation (MJ/m2)", "sun power")
    lines[at] = lines[at].replace("sun power", "radiation")
    lines[at + 9] = lines[at + 9].rsplit(",", 1)[0] + ",-9999"
    path = tmp_path / "my garden.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


def test_it_is_described_and_refused(cli, broken):
    result = cli("weather", broken)
    assert result.exit_code == 2
    lines = result.stdout.splitlines()
    assert lines[0] == "Made up can't be used yet: 3 things are in the way, below."
    assert "1 May to 29 June 2023: 60 days." in lines
    assert "Gaps: rain on 1 day (the longest 1 day, from 9 May 2023)." in lines
    assert any("-> tmax, degC" in line for line in lines)
    assert [line.split()[0] for line in lines if line.startswith(("May ", "June "))] == [
        "May", "June"
    ]  # fmt: skip
    for part in ("its unit is not given", "-9999 mm is not possible", "latitude", "elevation"):
        assert part in result.stderr


def test_one_command_settles_it(cli, broken):
    result = cli("weather", broken, "--units", "us", "--column", "note=ignore")
    given = result.stderr.splitlines()[-1]
    assert given.startswith("  bedtide weather '")
    words = shlex.split(given)
    assert words[:3] == ["bedtide", "weather", str(broken)]
    assert words[words.index("--units") + 1] == "us"
    assert words[words.index("--missing") + 1] == "-9999"
    assert words[words.index("--latitude") + 1] == "DEGREES"
    assert words[words.index("--elevation") + 1] == "HEIGHT"
    columns = [words[at + 1] for at, word in enumerate(words) if word == "--column"]
    assert columns[0] == "note=ignore"
    assert columns[1].startswith("radiation=")
    capitals = {"DEGREES": "50", "HEIGHT": "328ft", columns[1]: "radiation=MJ/m2"}
    # "note" is no column of this file, so that one goes
    words = [capitals.get(word, word) for word in words[1:]]
    del words[words.index("note=ignore") - 1 : words.index("note=ignore") + 1]
    settled = cli(*words)
    assert settled.exit_code == 0, settled.stderr
    assert "50.0 degrees north, 328 ft above the sea" in settled.stdout


def test_as_json(cli, broken):
    result = cli("weather", broken, "--json")
    assert result.exit_code == 2
    figures = json.loads(result.stdout)
    assert figures["days"] == 60
    assert figures["elevation_m"] is None
    assert len(figures["problems"]) == 3
    assert "--missing -9999" in figures["command"]
    may = figures["months"][0]
    # 12.5 mm on 3 days of May, one of its 31 days unknown
    assert may["rain_mm"] == pytest.approx(37.5 / 30 * 31)
    assert figures["gaps"][0]["quantity"] == "rain"


def test_a_file_of_nothing_is_refused_as_before(cli, bed_file):
    result = cli("weather", bed_file)
    assert result.exit_code == 2
    assert result.stdout == ""


def test_what_options_can_not_settle_has_no_command(cli, weather_file):
    rows = weather_file.read_text().splitlines()
    at = next(i for i, line in enumerate(rows) if line.startswith("date"))
    rows[at + 3] = rows[at + 3].replace("2023-05-03", "2023-05-33")
    weather_file.write_text("\n".join(rows) + "\n")
    result = cli("weather", weather_file)
    assert result.exit_code == 2
    assert "59 days" in result.stdout
    assert "one command" not in result.stderr


@pytest.mark.parametrize("text", ["100m", "100 m", "328ft", "0.1 km"])
def test_heights_in_the_units_that_people_have(cli, weather_file, text):
    weather_file.write_text(weather_file.read_text().replace("# elevation: 100 m\n", ""))
    result = cli("weather", weather_file, "--elevation", text, "--wind-height", "33ft")
    assert result.exit_code == 0, result.stderr
    assert "100 m above the sea" in result.stdout


@pytest.mark.parametrize("text", ["high", "100 kg", "9000 m"])
def test_heights_that_are_none(cli, weather_file, text):
    result = cli("weather", weather_file, "--elevation", text)
    assert result.exit_code == 2
    assert "--elevation" in result.stderr


def test_ready_made_et0_is_told_beside_ours(cli, weather_file):
    rows = weather_file.read_text().splitlines()
    at = next(i for i, line in enumerate(rows) if line.startswith("date"))
    plain = json.loads(cli("weather", weather_file, "--json").stdout)
    assert "own_evapotranspiration_days" not in plain
    rows[at] += ",ET0 (mm)"
    rows[at + 1 :] = [f"{row},9" for row in rows[at + 1 :]]
    weather_file.write_text("\n".join(rows) + "\n")
    result = cli("weather", weather_file)
    figures = json.loads(cli("weather", weather_file, "--json").stdout)
    assert figures["own_evapotranspiration_days"] == 60
    ours = sum(m["reference_evapotranspiration_mm"] * m["days"] / (31, 30)[m["month"] - 5]
               for m in figures["months"])  # fmt: skip
    assert figures["own_evapotranspiration_ratio"] == pytest.approx(60 * 9 / ours, rel=1e-6)
    ratio = f"{figures['own_evapotranspiration_ratio']:.2f}"
    said = " ".join(result.stdout.split())
    assert f"The file has ET0 of its own on every day: over these days it is {ratio} times" in said
    assert "Look at its units" in said


def test_a_record_without_temperature_has_dashes(cli, tmp_path):
    path = tmp_path / "ready.csv"
    rows = [f"2023-05-{day:02d},{day % 3},{3 + day % 2}" for day in range(1, 32)]
    head = "# latitude: 50\n# elevation: 10 m\ndate,rain (mm),ET0 (mm)\n"
    path.write_text(head + "\n".join(rows) + "\n")
    result = cli("weather", path, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    may = next(line for line in result.stdout.splitlines() if line.startswith("May "))
    assert may.split()[-2:] == ["-", "-"]
    assert "Estimated: humidity and wind on every day." in result.stdout
