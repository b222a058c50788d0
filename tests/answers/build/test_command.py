"""bedtide build: from files to what is printed and written."""

import json

import pytest

from bedtide.bed import example_text
from helpers.commands import left_in


def test_build_alone(cli):
    result = cli("build")
    assert result.exit_code == 0, result.stderr
    assert result.stdout.startswith("Kitchen bed can be built as described.")
    assert "THE FIRST FILL TAKES" in result.stdout


def test_json_is_what_is_written(cli, tmp_path, bed_file):
    folder = tmp_path / "out"
    result = cli("build", bed_file, "--beds", "2", "--out", folder, "--units", "us")
    assert result.exit_code == 0, result.stderr
    assert "build.json" in left_in(folder)
    again = cli("build", bed_file, "--beds", "2", "--json", "--units", "us")
    assert again.stdout == (folder / "build.json").read_text()
    assert json.loads(again.stdout)["beds"] == 2


def test_against_a_record(cli, bed_file, two_years):
    result = cli("build", bed_file, two_years, "--json")
    assert result.exit_code == 0, result.stderr
    checks = {check["name"]: check for check in json.loads(result.stdout)["checks"]}
    # The wettest day of the two years, all in an hour, over the bed's own area.
    days = [line.split(",") for line in two_years.read_text().splitlines() if line[:2] == "20"]
    head = next(line for line in two_years.read_text().splitlines() if "rain" in line.lower()
                and line[:1] not in "#2")  # fmt: skip
    column = [name.strip().split(" ")[0] for name in head.split(",")].index("rain")
    worst = max(float(day[column]) for day in days if day[column])
    area = 8 * 0.3048 * 24 * 0.0254
    assert checks["worst day, clean"]["limit"] == pytest.approx(worst * area / 60, rel=1e-6)
    assert "record" in checks["days at the peak"]["source"]


@pytest.mark.parametrize("beds", ["0", "101", "x"])
def test_how_many_beds(cli, beds):
    assert cli("build", "--beds", beds).exit_code == 2


def test_a_mistake_in_either_file(cli, tmp_path):
    bed = tmp_path / "bed.toml"
    bed.write_text(example_text().replace('depth = "17 in"', 'depth = "17"'))
    result = cli("build", bed)
    assert result.exit_code == 2
    assert "has no unit" in result.stderr
    own = tmp_path / "mine.toml"
    own.write_text("[board]\nwidth = 3\n")
    result = cli("build", "--prices", own)
    assert result.exit_code == 2
    assert "mine.toml, board.width" in result.stderr
    assert cli("build", "--prices", tmp_path / "none.toml").exit_code == 2
