"""bedtide weather --normals and --like: made-up weather, and that it says so; what is refused."""

import json
import re

import pytest

from bedtide import read_weather

NORMALS = """# place: Home
# latitude: 51.9
# elevation: 100 ft
month,high (F),low (F),rain (in),rain days
""" + "\n".join(f"{month},{60 + month},{40 + month},2.0,9" for month in range(1, 13))


def test_a_climate_becomes_a_file_that_any_command_reads(cli, tmp_path):
    path = tmp_path / "made.csv"
    result = cli("weather", "--like", "Hot dry summer", "--save", path, "--years", "6")
    assert result.exit_code == 0, result.stderr
    assert f"Written: {path}: made-up weather, 6 years, seed 1" in result.stderr
    assert result.stdout.startswith("hot dry summer (made-up weather): a ")
    first = path.read_text().splitlines()[0]
    assert first == (
        '# Made-up weather, 6 years from the invented climate "hot dry summer", seed 1. '
        "No day was measured."
    )
    assert cli("weather", path).stdout == result.stdout
    record = read_weather(path)
    assert record.sizes["time"] == 6 * 365 + 2
    assert record.attrs["place"] == "hot dry summer (made-up weather)"
    assert any("Wind: 2 m/s was assumed" in said for said in record.attrs["assumptions"])


def test_one_year_is_one_year(cli, tmp_path):
    path = tmp_path / "made.csv"
    result = cli("weather", "--like", "monsoon", "--save", path, "--years", "1")
    assert f"Written: {path}: made-up weather, 1 year, seed 1" in result.stderr
    assert path.read_text().startswith("# Made-up weather, 1 year from ")


def test_normals_become_a_file(cli, tmp_path):
    source, path = tmp_path / "home.csv", tmp_path / "made.csv"
    source.write_text(NORMALS)
    words = ("--normals", source, "--save", path, "--years", "30", "--seed", "7", "--json")
    result = cli("weather", *words)
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    assert figures["place"] == "Home (made-up weather)"
    assert figures["elevation_m"] == pytest.approx(30.48)
    # 24 inches a year; it varies by about a sixth, so that the mean of 30 errs by 3 %
    assert figures["rain_mm_a_year"] == pytest.approx(24 * 25.4, rel=0.10)
    assert "from home.csv, seed 7" in path.read_text()


def test_a_desert_is_read_as_well(cli, tmp_path):
    source, path = tmp_path / "home.csv", tmp_path / "made.csv"
    source.write_text(re.sub(r",2.0,9", ",0,0", NORMALS))
    result = cli("weather", "--normals", source, "--save", path, "--years", "3")
    assert result.exit_code == 0, result.stderr
    assert "0 % of the days" in result.stdout


@pytest.mark.parametrize("height", ["15", "15m", "49.2ft"])
def test_the_place_can_be_given(cli, tmp_path, height):
    path = tmp_path / "made.csv"
    words = ("--latitude", "-33.9", "--elevation", height, "--years", "3", "--save", path)
    result = cli("weather", "--like", "hot dry summer", *words)
    assert result.exit_code == 0, result.stderr
    assert "33.9 degrees south, 15 m above the sea." in result.stdout.replace("\n", " ")


@pytest.mark.parametrize("command", ["season", "wet-spell", "compare", "away"])
def test_what_uses_it_says_made_up_weather(cli, tmp_path, bed_file, command):
    path = tmp_path / "made.csv"
    cli("weather", "--like", "cool wet all year", "--save", path, "--years", "2")
    more = {
        "compare": ["--vary", "box.depth=30cm,42cm"],
        "away": ["--leave", "2024-07-10", "--days", "10"],
    }.get(command, [])
    for words in ([], ["--json"]):
        result = cli(command, bed_file, path, *more, *words)
        assert result.exit_code == 0, result.stderr
        assert "made-up weather" in result.stdout.replace("\n", " ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--like", "monsoon"], "--like: it is not said where to"),
        (["--like", "monsoon", "--normals", "n.csv", "--save", "s.csv"],
         "--normals: --like was given too"),
        (["--like", "monsoon", "--near", "1,1", "--save", "s.csv"], "--near: --like was given too"),
        (["--like", "munsoon", "--save", "s.csv"], "Closest: monsoon"),
        (["--normals", "none.csv", "--save", "s.csv"], "none.csv: it can't be read"),
        (["--save", "s.csv"], "--like CLIMATE"),
        (["--years", "3"], "--years: no weather is made up"),
        (["--seed", "3"], "--seed: no weather is made up"),
        (["--like", "monsoon", "--save", "none/s.csv"], "nothing was made"),
        (["--like", "monsoon", "--save", "there.csv"], "it is there already; nothing was made"),
        (["--near", "51,9,4,5"], '"51,9,4,5" is not a latitude and a longitude'),
        (["--near", "Utrecht"], "such as  51.9,4.5"),
        (["--near", "51.9,4.5"], "Expected --save FILE.csv with it"),
        (["--near", "95,4.5", "--save", "a.csv"], "95 degrees is out of range"),
        (["--near", "51.9,4.5", "--save", "there.csv"], "there already; nothing was downloaded"),
        (["there.csv", "--near", "51.9,4.5", "--save", "a.csv"], "there.csv was given too"),
        (["--near", "51.9,4.5", "--save", "a.csv", "--from", "1960"], "--from: NASA POWER has no"),
        (["--near", "51.9,4.5", "--save", "no/a.csv", "--from", "2020"], "there is no folder no"),
        (["there.csv", "--save", "a.csv"], "there is nothing to save"),
    ],
)  # fmt: skip
def test_what_is_refused(cli, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.csv").write_text("mine")
    result = cli("weather", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert [path.read_text() for path in tmp_path.iterdir()] == ["mine"]


def test_climates_are_listed(cli):
    result = cli("list", "climates")
    assert result.exit_code == 0
    assert "hot dry summer " in result.stdout
    assert "monsoon " in result.stdout
