"""bedtide away: the answer first, the files whole and agreeing, nothing written when wrong."""

import json
import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from helpers.commands import left_in

STAY = ["--leave", "2027-06-05", "--days", "9"]
FILES = ["away.csv", "away.json", "away.nc", "away.png", "away_days.csv"]
CALENDAR = ["away_calendar.csv", "away_calendar.nc", "away_calendar.png"]


def test_the_built_in_example_answers_in_its_first_line(cli):
    result = cli("away", "--leave", "2027-07-10", "--days", "16", "--try", "none")
    assert result.exit_code == 0, result.stderr
    assert re.match(
        r"Likely to last \d+ days \(9 in 10 years\): too short for your 16 days\.\n"
        r"(\d+|None) of 30 years lasted: ",
        result.stdout,
    )
    for word in ("The usable water is gone after", "Shortest:", "invented", "bedtide cautions"):
        assert word in result.stdout, word
    assert result.stderr == ""


def test_files_agree_with_one_another_and_with_what_is_printed(
    cli, tmp_path, bed_file, weather_file
):
    folder = tmp_path / "out"
    result = cli("away", bed_file, weather_file, *STAY, "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == FILES
    figures = json.loads((folder / "away.json").read_text())
    table = pd.read_csv(folder / "away.csv")
    days = pd.read_csv(folder / "away_days.csv")
    alone = table[table["change"] == "as it is"]
    assert len(alone) == figures["cases"]
    assert int(alone["lasted_all_days"].sum()) == figures["cases_lasting"]
    assert days["lasting_as_it_is"][8] == figures["cases_lasting"]
    assert (figures["cases_lasting"], figures["cases"]) == (2, 2)
    assert "Both starts lasted: about 50 % (" in result.stdout
    with xr.open_dataset(folder / "away.nc") as stay:
        np.testing.assert_array_equal(
            np.minimum(stay["days_lasted"].sel(measure="as it is"), stay.attrs["days_followed"]),
            alone["days_lasted"],
        )
        assert stay.attrs["bed_description"] == bed_file.read_text()
        for name, variable in stay.data_vars.items():
            assert "units" in variable.attrs, name
    assert (folder / "away.png").read_bytes().startswith(b"\x89PNG")


def test_a_record_of_sixty_days_is_one_year_and_says_so(cli, bed_file, weather_file):
    result = cli("away", bed_file, weather_file, *STAY, "--try", "none")
    assert result.exit_code == 0, result.stderr
    assert "Only 1 year of weather." in result.stdout
    assert "9 in 10 years" not in result.stdout


def test_json_is_the_file(cli, tmp_path, bed_file, weather_file):
    folder = tmp_path / "out"
    result = cli("away", bed_file, weather_file, *STAY, "--try", "mulch", "--json", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert result.stdout == (folder / "away.json").read_text()
    assert [m["measure"] for m in json.loads(result.stdout)["measures"]] == ["as it is", "mulch"]


def test_a_stay_and_the_calendar(cli, tmp_path):
    folder = tmp_path / "out"
    words = ["--leave", "2027-07-10", "--days", "16", "--try", "none", "--all-dates"]
    result = cli("away", *words, "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == sorted([*FILES, *CALENDAR])
    figures = json.loads((folder / "away.json").read_text())
    row = next(r for r in figures["calendar"]["dates"] if r["leave"] == "07-10")
    assert row["days_safe"] == figures["days_safe"]
    assert len(pd.read_csv(folder / "away_calendar.csv")) == 73


def test_the_calendar_alone(cli, tmp_path):
    folder = tmp_path / "out"
    result = cli("away", "--all-dates", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == sorted([*CALENDAR, "away.json"])
    fewest = json.loads((folder / "away.json").read_text())["fewest_days_safe"]
    assert result.stdout.startswith(f"Likely to last {fewest} days at the worst time to leave")


@pytest.mark.slow
def test_the_calendar_with_a_range(cli, tmp_path):
    folder = tmp_path / "out"
    result = cli("away", "--all-dates", "--range", "--out", folder)
    assert result.exit_code == 0, result.stderr
    figures = json.loads((folder / "away.json").read_text())
    low, high = (figures[f"fewest_days_safe_{end}"] for end in ("low", "high"))
    assert low < figures["fewest_days_safe"] < high
    words = f"Likely to last {low:.0f} to {high:.0f} days at the worst time"
    assert result.stdout.startswith(words)
    table = pd.read_csv(folder / "away_calendar.csv")
    assert (table["days_safe_low"] <= table["days_safe_high"]).all()


def test_a_range(cli, bed_file, weather_file):
    result = cli("away", bed_file, weather_file, *STAY, "--try", "none", "--range", "--json")
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    found = figures["range"]["days_safe"]
    assert found["runs"] == 64
    assert found["typical"] == figures["days_safe"]
    assert set(found) == {
        "typical", "low", "high", "matters", "influence", "failing", "runs",
    }  # fmt: skip
    assert len(found["influence"]) == 10


def test_level_shade_and_drum_carry_their_units(cli, bed_file, weather_file):
    words = ["--level", "60%", "--shade", "30 %", "--drum", "40 US gal", "--try", "drum"]
    result = cli("away", bed_file, weather_file, *STAY, *words, "--json")
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    assert figures["start_level_percent"] == pytest.approx(60)
    assert figures["shade_percent"] == pytest.approx(30)
    assert figures["drum_litres"] == pytest.approx(151.416, abs=1e-3)
    assert figures["start_litres"] == pytest.approx(0.6 * figures["reservoir_litres"])
    us = cli("away", bed_file, weather_file, *STAY, "--try", "drum", "--units", "us", "--json")
    # 3 times 64 L are 51 US gal: a drum of 30, not of 55
    assert json.loads(us.stdout)["drum_litres"] == pytest.approx(30 * 3.785411784)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ([], "--leave and --days: not given"),
        (["--days", "9"], "--leave: not given"),
        (["--leave", "2027-06-05"], "--days: not given"),
        (["--leave", "2027-06-31", "--days", "9"], '"2027-06-31" is not a day of the calendar'),
        (
            ["--leave", "2027-08-01", "--days", "9"],
            "--leave: not one year of the weather record has 9",
        ),
        (["--leave", "2027-06-05", "--days", "60"], "not one year of the weather record has 60"),
        (["--leave", "2027-06-05", "--days", "0"], "--days: 0 days is out of range"),
        (["--leave", "2027-06-05", "--days", "-4"], "--days: -4 days is out of range"),
        (["--leave", "2027-06-05", "--days", "many"], "'many' is not a valid integer"),
        ([*STAY, "--level", "140 %"], "--level: 1.4 is out of range"),
        ([*STAY, "--level", "60"], "Write a share as 60 % or 0.6"),
        ([*STAY, "--level", "full"], '--level: "full" is not a number'),
        ([*STAY, "--drum", "200"], '--drum: "200" has no unit'),
        ([*STAY, "--drum", "50 gal"], "which gallon"),
        ([*STAY, "--shade", "120 %"], "--shade: 1.2 is out of range"),
        ([*STAY, "--try", "mulsh"], '"mulsh" is not known'),
        ([*STAY, "--try", "harvest carrot"], '"carrot" is not known'),
        ([*STAY, "--try", "visit+drum"], "do not go together"),
        (["--all-dates"], "none of its years has 30 days before"),
    ],
)
def test_a_wrong_option_is_one_clear_message(cli, tmp_path, bed_file, weather_file, words, message):
    before = left_in(tmp_path)
    result = cli("away", bed_file, weather_file, "--out", tmp_path / "out", *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert left_in(tmp_path) == before
