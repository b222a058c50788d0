"""bedtide compare: the answer first, the files whole, one clear message else."""

import json
import re

import pandas as pd
import pytest
import xarray as xr

from bedtide.bed import document_of, example_text, read_bed
from bedtide.files import _WRITERS
from bedtide.many import varied_beds
from helpers.commands import left_in

COMPARED = [
    *("choice.toml", "compare.csv", "compare.json", "compare.nc", "compare.png", "years.csv"),
]
SPELLS = ["wet_spell.csv", "wet_spell.nc", "wet_spell.png"]
DEPTHS = ("--vary", "box.depth=14 in,17 in")


METRIC = ("--units", "metric")  # the bed file is in inches


def test_files_agree_with_one_another_and_with_what_is_printed(cli, tmp_path, bed_file, two_years):
    folder = tmp_path / "out"
    result = cli("compare", bed_file, two_years, *DEPTHS, *METRIC, "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == COMPARED
    lines = result.stdout.splitlines()
    assert lines[0].startswith("Build ")
    figures = json.loads((folder / "compare.json").read_text())
    assert figures["years"] == 2
    table = pd.read_csv(folder / "compare.csv")
    years = pd.read_csv(folder / "years.csv")
    with xr.open_dataset(folder / "compare.nc") as stored:
        for number, bed in enumerate(figures["beds"]):
            litres = float(stored["refill_volume"][number].mean()) * 1000
            assert bed["refill_litres_mean"] == pytest.approx(litres)
            assert table["refill_litres_mean"][number] == pytest.approx(litres, rel=1e-5)
            own = years[years["bed"] == bed["bed"]]
            assert own["refill_L"].mean() == pytest.approx(litres, rel=1e-5)
            assert re.search(rf"^{bed['bed']} .*\b{litres:,.0f}\b", result.stdout, re.MULTILINE)
        assert stored.sizes["year"] == 2
        assert "depth" in stored.attrs["bed_descriptions"]
    chosen = read_bed(folder / "choice.toml")
    depth = {"A": 14, "B": 17}[figures["choice"]] * 0.0254
    assert chosen.box.depth == pytest.approx(depth)
    assert (folder / "compare.png").read_bytes().startswith(b"\x89PNG")
    assert result.stderr == f"Written: {folder}\n"


def test_the_choice_keeps_the_comments_of_the_keeper(cli, tmp_path, two_years):
    text = example_text().replace("[box]", "[box]  # oak, from 2019")
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    folder = tmp_path / "out"
    result = cli("compare", tmp_path / "mine.toml", two_years, *DEPTHS, "--out", folder)
    assert result.exit_code == 0, result.stderr
    figures = json.loads((folder / "compare.json").read_text())
    chosen = (folder / "choice.toml").read_text(encoding="utf-8")
    depth = {"A": "14 in", "B": "17 in"}[figures["choice"]]
    assert chosen == text.replace('"17 in"', f'"{depth}"')
    assert "# oak, from 2019" in chosen
    variants = varied_beds(document_of(text), {"box.depth": ["14 in", "17 in"]})
    assert read_bed(folder / "choice.toml") == variants["AB".index(figures["choice"])].bed
    with xr.open_dataset(folder / "compare.nc") as stored:
        assert chosen in stored.attrs["bed_descriptions"]


def test_json_is_what_is_written(cli, tmp_path, bed_file, two_years):
    folder = tmp_path / "out"
    words = ("compare", bed_file, two_years, *DEPTHS, *METRIC, "--json", "--out", folder)
    result = cli(*words, "--wet-spell", "3 days")
    assert result.exit_code == 0, result.stderr
    assert result.stdout == (folder / "compare.json").read_text()
    assert left_in(folder) == sorted([*COMPARED, *SPELLS])
    found = json.loads(result.stdout)["wet_spell"]
    assert found["spells"][0]["days"] == 3
    assert found["least_depths"][0]["with"] == ""
    days = pd.read_csv(folder / "wet_spell.csv")
    one = days[(days["bed"] == "A") & (days["outlet"] == "open") & (days["day_of_spell"] > 0)]
    assert one["overflow_L"].sum() == pytest.approx(
        found["beds"][0]["spells"][0]["open"]["overflow_litres"], rel=1e-4
    )


def test_several_bed_files(cli, tmp_path, bed_file, two_years):
    other = tmp_path / "other.toml"
    text = bed_file.read_text().replace('name = "Kitchen bed"', 'name = "Wall bed"')
    other.write_text(text.replace('depth = "17 in"', 'depth = "15 in"'))
    result = cli("compare", bed_file, other, two_years)
    assert result.exit_code == 0, result.stderr
    assert "A: Kitchen bed" in result.stdout
    assert "B: Wall bed" in result.stdout
    varied = cli("compare", bed_file, other, two_years, "--vary", "overflow.height=2in,3in")
    assert "D: Wall bed, overflow height 3 in" in varied.stdout


def test_a_season_of_every_year(cli, bed_file, two_years):
    words = ("compare", bed_file, two_years, *DEPTHS, "--from", "05-01", "--to", "09-30")
    result = cli(*words)
    assert result.exit_code == 0, result.stderr
    assert "2 runs of 153 days" in result.stdout
    assert "fills a season" in result.stdout.splitlines()[0]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--vary", "box.dept=25cm,32cm"], "Closest: box.depth"),
        (["--vary", "box.depth=-25cm,32cm"], "negative"),
        (["--vary", "box.depth=25cm,9000km"], "too large"),
        (["--vary", "box.freeboard=1in,17in"], "leaves no room in a box 17 in deep"),
        (["--vary", "box.depth=25,32cm"], "put a semicolon between them"),
        (["--vary", "box.depth"], "is not a key with values"),
        (["--vary", "mix.top.medium=peet,coir"], "Closest names"),
        ([*DEPTHS, "--from", "31-12"], "is not a day of the year"),
        ([*DEPTHS, "--from", "2024-05-01"], "taken in every year"),
        ([*DEPTHS, "--wet-spell", "a week"], "is not a rainy spell"),
        ([*DEPTHS, "--wet-spell", "3 days of -5 mm"], "no rain that could be"),
        ([*DEPTHS, "--wet-spell", "7 days", "--spell-on", "1999-05-01"], "not all in the weather"),
        ([*DEPTHS, "--spell-on", "2024-05-01"], "there is no --wet-spell"),
        ([*DEPTHS, "--max-gap-days", "-1"], "-1"),
    ],
)
def test_a_wrong_option_is_one_clear_message_and_nothing_written(
    cli, tmp_path, bed_file, two_years, words, message
):
    before = left_in(tmp_path)
    result = cli("compare", bed_file, two_years, "--out", tmp_path / "out", *words)
    assert result.exit_code == 2, result.stdout
    assert message in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""
    assert left_in(tmp_path) == before


def test_a_record_without_a_whole_year(cli, tmp_path, bed_file, weather_file):
    result = cli("compare", bed_file, weather_file, *DEPTHS, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "hold no whole year" in result.stderr
    assert "--from 05-01 --to 09-30" in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_wet_spell_before_the_files_is_told_apart_from_them(cli, bed_file, two_years):
    result = cli("compare", "--wet-spell", bed_file, two_years, *DEPTHS)
    assert result.exit_code == 2
    assert "is not a rainy spell" in result.stderr


def test_a_bed_file_that_is_not_there(cli, tmp_path, bed_file, two_years):
    result = cli("compare", tmp_path / "gone.toml", bed_file, two_years)
    assert result.exit_code == 2
    assert "gone.toml" in result.stderr


def test_an_interrupted_run_leaves_the_earlier_one(cli, tmp_path, bed_file, two_years, monkeypatch):
    folder = tmp_path / "out"
    assert cli("compare", bed_file, two_years, *DEPTHS, "--out", folder).exit_code == 0
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    def stop(path, figure):
        path.write_bytes(b"half")
        raise KeyboardInterrupt

    monkeypatch.setitem(_WRITERS, ".png", stop)
    words = ("compare", bed_file, two_years, "--vary", "box.depth=15 in,16 in", "--out", folder)
    assert cli(*words).exit_code == 130
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_range_of_a_comparison(cli, bed_file, weather_file):
    words = ["--vary", "surface.mulch_share=0%,100%", "--from", "05-01", "--to", "06-20"]
    result = cli("compare", bed_file, weather_file, *words, "--range")
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    assert "How sure: 64 sets of values for mix, plants, place and rain were drawn together" in text
    assert " 64 sets of values" in text.rsplit("How sure", 1)[1]


def test_one_bed_alone_has_its_fills_its_days_its_weight_and_its_files(
    cli, tmp_path, bed_file, weather_file
):
    folder = tmp_path / "out"
    season = ("--from", "05-01", "--to", "06-20")
    result = cli("compare", bed_file, weather_file, *season, *METRIC, "--out", folder)
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    assert "Build" not in text
    assert " a season; the roots lack air on " in text
    assert "Full kg" in text
    assert {"compare.csv", "compare.png", "choice.toml"} <= {p.name for p in folder.iterdir()}
