"""bedtide season: the answer first, the files whole, nothing written when something is wrong."""

import datetime
import json
import os

import pandas as pd
import pytest

from bedtide.files import _WRITERS
from helpers.commands import left_in
from helpers.weather_text import HEAD, weather_rows

FILES = ["bed.png", "season.csv", "season.nc", "season.png", "summary.json"]


def test_both_ends_of_the_span_are_included(cli, quick, bed_file, weather_file):
    result = cli("season", bed_file, weather_file, "--from", "2023-05-10", "--to", "2023-06-08")
    assert result.exit_code == 0, result.stderr
    assert quick[0]["start"] == datetime.date(2023, 5, 10)
    assert quick[0]["end"] == datetime.date(2023, 6, 8)
    assert "10 May to 8 June 2023 (30 days)" in result.stdout


def test_json_is_the_summary(cli, quick, tmp_path, bed_file, weather_file):
    folder = tmp_path / "out"
    result = cli("season", bed_file, weather_file, "--json", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert result.stdout == (folder / "summary.json").read_text()
    assert json.loads(result.stdout)["bed"] == "Kitchen bed"


def test_us_units_in_print_and_table_not_in_the_keys(cli, quick, tmp_path, bed_file, weather_file):
    folder = tmp_path / "out"
    result = cli("season", bed_file, weather_file, "--units", "us", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert "US gal" in result.stdout
    assert "refill_US_gal" in pd.read_csv(folder / "season.csv")
    assert "refill_litres" in json.loads((folder / "summary.json").read_text())


def test_the_beds_site_helps_a_weather_file_without_one(cli, quick, tmp_path, bed_file):
    path = tmp_path / "bare.csv"
    path.write_text(HEAD.splitlines()[-1] + "\n" + "\n".join(weather_rows(20)) + "\n")
    result = cli("season", bed_file, path)
    assert result.exit_code == 0, result.stderr
    assert quick[0]["weather"].attrs["latitude"] == 37.6
    result = cli("season", bed_file, path, "--latitude", "30")
    assert result.exit_code == 0, result.stderr
    assert quick[1]["weather"].attrs["latitude"] == 30


def test_a_column_can_be_named(cli, quick, tmp_path, bed_file, weather_file):
    text = weather_file.read_text().replace("tmax (C)", "Hi")
    weather_file.write_text(text)
    result = cli("season", bed_file, weather_file, "--column", "Hi=tmax, C")
    assert result.exit_code == 0, result.stderr
    assert float(quick[0]["weather"]["tmax"][0]) == 20.5


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--from", "2023-04-30"], "--from: 2023-04-30 is outside the weather record"),
        (["--to", "2024-05-01"], "--to: 2024-05-01 is outside the weather record"),
        (["--from", "2023-06-01", "--to", "2023-05-20"], "--to: 2023-05-20 is before --from"),
        (["--from", "2023-02-30"], '--from: "2023-02-30" is not a day of the calendar'),
        (["--from", "1/5/2023"], "Expected year-month-day, such as 2027-07-10."),
        (["--units", "imperial"], "'imperial' is not one of"),
        (["--column", "Hi"], '--column: "Hi" does not say what the column is'),
        (["--latitude", "95"], "95"),
        (["--max-gap-days", "-1"], "-1"),
    ],
)
def test_a_wrong_option_is_one_clear_message(
    cli, quick, tmp_path, bed_file, weather_file, words, message
):
    text = weather_file.read_text().replace("# latitude: 50\n", "")
    if "--latitude" in words:
        weather_file.write_text(text)
    before = left_in(tmp_path)
    result = cli("season", bed_file, weather_file, "--out", tmp_path / "out", *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert left_in(tmp_path) == before
    assert quick == []


def broken_bed(tmp_path, old: str, new: str):
    from bedtide.bed import example_text

    assert old in example_text()
    path = tmp_path / "broken.toml"
    path.write_text(example_text().replace(old, new))
    return path


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('depth = "17 in"', 'dept = "17 in"', "dept"),
        ('depth = "17 in"', "depth = 17", "no unit"),
        ('depth = "17 in"', 'depth = "-17 in"', "box.depth"),
        ('height = "3 1/2 in"', 'height = "30 in"', "overflow.height"),
        ("count = 4 ", "count = 40 ", "reservoir"),
        ('crop = "tomato"', 'crop = "tomatoe"', "tomato"),
        ("[box]", "[box", "line"),
    ],
)
def test_a_broken_bed_file_is_one_clear_message(
    cli, quick, tmp_path, weather_file, old, new, message
):
    path = broken_bed(tmp_path, old, new)
    before = left_in(tmp_path)
    result = cli("season", path, weather_file, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert message in result.stderr
    assert "broken.toml" in result.stderr
    assert "Traceback" not in result.stderr
    assert left_in(tmp_path) == before


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda rows: [*rows[:30], rows[29].replace(",24.5,", ",25.5,"), *rows[30:]], "2023-05-30"),
        (lambda rows: rows[:10] + rows[20:], "2023-05-1"),
        (lambda rows: [*rows[:5], rows[5].replace(",20.5,", ",2.5,"), *rows[6:]], "2.5"),
        (lambda rows: [*rows[:5], rows[5].replace(",0", ",-3"), *rows[6:]], "-3"),
        (lambda rows: [*rows[:5], rows[5].replace(",8.0,", ",warm,"), *rows[6:]], "warm"),
        (lambda rows: [], "weather.csv"),
    ],
)
def test_broken_weather_is_one_clear_message(
    cli, quick, tmp_path, bed_file, weather_file, change, message
):
    lines = weather_file.read_text().splitlines()
    weather_file.write_text("\n".join(lines[:4] + change(lines[4:])) + "\n")
    before = left_in(tmp_path)
    result = cli("season", bed_file, weather_file, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.stderr
    assert left_in(tmp_path) == before


@pytest.mark.parametrize("missing", ["bed", "weather"])
def test_a_file_that_is_not_there(cli, quick, tmp_path, bed_file, weather_file, missing):
    files = {"bed": bed_file, "weather": weather_file, missing: tmp_path / "gone.txt"}
    result = cli("season", files["bed"], files["weather"])
    assert result.exit_code == 2
    assert "gone.txt" in result.stderr


@pytest.mark.parametrize(
    ("files", "first"),
    [((), "no weather file."), (("gone.csv",), "gone.csv: there is no such file.")],
)
def test_a_bed_without_weather_has_three_ways_to_it(cli, quick, bed_file, files, first):
    for command in ("season", "wet-spell"):
        result = cli(command, bed_file, *files)
        assert result.exit_code == 2
        lines = result.stderr.splitlines()
        assert lines[0].endswith(first)
        assert [line.split(":")[0] for line in lines[2:]] == [
            "  a file that you have", "  a place", "  a climate"
        ]  # fmt: skip
        assert "bedtide weather --near LAT,LON --from 1995 --save WEATHER.csv" in lines[3]
        assert 'bedtide weather --like "hot dry summer" --save WEATHER.csv' in lines[4]


def test_out_that_is_a_file_is_refused_before_the_work(cli, quick, bed_file, weather_file):
    result = cli("season", bed_file, weather_file, "--out", bed_file)
    assert result.exit_code == 2
    assert "it is a file" in result.stderr
    assert quick == []


def test_out_that_may_not_be_written_is_refused_before_the_work(
    cli, quick, tmp_path, bed_file, weather_file, monkeypatch
):
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    result = cli("season", bed_file, weather_file, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "you may not write" in result.stderr
    assert quick == []


@pytest.mark.parametrize(("trouble", "status"), [(KeyboardInterrupt, 130), (RuntimeError, 1)])
def test_an_interrupted_run_leaves_the_earlier_one(
    cli, quick, tmp_path, bed_file, weather_file, monkeypatch, trouble, status
):
    folder = tmp_path / "out"
    assert cli("season", bed_file, weather_file, "--out", folder).exit_code == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def stop(path, figure):
        path.write_bytes(b"half")
        raise trouble

    monkeypatch.setitem(_WRITERS, ".png", stop)
    result = cli("season", bed_file, weather_file, "--out", folder, "--to", "2023-05-20")
    assert result.exit_code == status
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    assert left_in(tmp_path) == ["bed.toml", "out", "weather.csv"]


def test_of_a_long_record_the_last_whole_year_is_run(cli, quick):
    assert cli("season").exit_code == 0
    assert quick[0]["start"] == datetime.date(2024, 1, 1)
    assert quick[0]["end"] == datetime.date(2024, 12, 31)


def test_only_the_days_asked_for_are_read(cli, quick, bed_file, weather_file):
    rows = weather_file.read_text().splitlines()
    weather_file.write_text("\n".join(rows[:8] + rows[20:]) + "\n")  # from 5 to 16 May
    assert cli("season", bed_file, weather_file).exit_code == 2
    result = cli("season", bed_file, weather_file, "--from", "2023-05-17")
    assert result.exit_code == 0, result.stderr
    assert str(quick[-1]["start"]) == "2023-05-17"


def test_a_range_of_a_season(cli, bed_file, weather_file):
    result = cli("season", bed_file, weather_file, "--range")
    assert result.exit_code == 0, result.stderr
    assert "The water poured in hangs most on" in " ".join(result.stdout.split())
    figures = json.loads(cli("season", bed_file, weather_file, "--range", "--json").stdout)
    assert figures["range"]["refill_litres"]["typical"] == pytest.approx(figures["refill_litres"])
