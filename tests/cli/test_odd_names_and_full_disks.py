"""Names that steer a terminal, a formula or a picture; disks and pipes without room; leftovers."""

import csv
import errno
import json
import os
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pandas as pd
import pytest
import xarray as xr

from bedtide.bed import bed_from_text, example_text, form_keys
from bedtide.crop import crops
from bedtide.errors import FileError
from bedtide.files import write_csv, write_folder, write_netcdf
from bedtide.mix import media

ODD = r"=1+$\\frac{x \u202eover\u0000 \u001b[31m $2 \\u0024 'quoted'"
SEEN = r"=1+$\frac{x ?over? ?[31m $2 \u0024 'quoted'"
CONTROL = {chr(code) for code in (*range(9), *range(11, 32), *range(127, 160))} | {"\u202e"}


@pytest.fixture
def odd_bed(tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text(example_text().replace("Kitchen bed", ODD), encoding="utf-8")
    return path


@pytest.fixture
def odd_weather(cli, tmp_path):
    assert cli("new", str(tmp_path / "new")).exit_code == 0
    text = (tmp_path / "new" / "weather.csv").read_text(encoding="utf-8").splitlines()
    lines = ["# place: =A1 $\\bad{ \x1b[31m" if "place:" in line else line for line in text]
    assert lines != text
    path = tmp_path / "odd.csv"
    path.write_text("\n".join([*lines[:400], ""]), encoding="utf-8")
    return path


def test_an_odd_name_is_text_in_print_figures_and_tables(cli, odd_bed, odd_weather, tmp_path):
    out = tmp_path / "out"
    result = cli("season", str(odd_bed), str(odd_weather), "--out", str(out))
    assert result.exit_code == 0, result.output
    assert SEEN in result.stdout
    assert r"=A1 $\bad{ ?[31m" in result.stdout
    assert not CONTROL & set(result.output)
    summary = (out / "summary.json").read_text(encoding="utf-8")
    assert not CONTROL & set(summary)
    assert SEEN in json.dumps(json.loads(summary), ensure_ascii=False).replace("\\\\", "\\")
    assert (out / "season.png").stat().st_size > 10_000


def test_joined_letters_stay():
    text = example_text().replace("Kitchen bed", "क्\u200dष and 👩\u200d🌾")
    assert bed_from_text(text).name == "क्\u200dष and 👩\u200d🌾"


def test_no_cell_of_text_is_a_formula(tmp_path):
    path = tmp_path / "a.csv"
    cells = ["=1+1", "+44 bed", "-x", "@sum", "-", "plain", None]
    write_csv(path, pd.DataFrame({"bed": cells, "mm": [-1.0, 2, 3, 4, 5, 6, -7]}))
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["bed"] for row in rows] == ["'=1+1", "'+44 bed", "'-x", "'@sum", "-", "plain", ""]
    assert [row["mm"] for row in rows] == ["-1", "2", "3", "4", "5", "6", "-7"]


@pytest.mark.parametrize("words", [["season"], ["new"]])
def test_a_folder_with_too_long_a_name_is_one_clear_error(cli, words):
    name = "a" * 300
    result = cli(*words, *(["--out"] if words == ["season"] else []), name)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{name}: could not be written: file name too long.")
    assert "Traceback" not in result.stderr


def test_a_bed_file_with_too_long_a_name_is_one_clear_error(cli, odd_weather):
    result = cli("season", f"{'a' * 300}.toml", str(odd_weather))
    assert result.exit_code == 2
    assert "can't be read: file name too long." in result.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("words", [["weather", "--json"], ["list", "crops"], ["--help"]])
def test_no_room_for_what_is_printed(words):
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "bedtide", *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert done.returncode == 2
    assert done.stderr == "The output could not be written: No space left on device.\n"


@pytest.mark.parametrize(
    ("trouble", "free", "said"),
    [
        (RuntimeError("NetCDF: HDF error"), 0, "no space left on device"),
        (PermissionError(errno.EACCES, "Permission denied"), 0, "no space left on device"),
        (RuntimeError("NetCDF: HDF error"), 10**12, "netCDF: HDF error"),
    ],
)
def test_a_full_disk_under_netcdf(tmp_path, monkeypatch, trouble, free, said):
    def fail(*args, **keywords):
        raise trouble

    monkeypatch.setattr(xr.Dataset, "to_netcdf", fail)
    monkeypatch.setattr("shutil.disk_usage", lambda path: SimpleNamespace(free=free))
    with pytest.raises(FileError) as caught:
        write_netcdf(tmp_path / "a.nc", xr.Dataset({"rain": ("time", [1.0])}))
    assert caught.value.problem == f"could not be written: {said}"
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_run_left_is_swept_a_day_later(tmp_path):
    old, new, other = (tmp_path / name for name in (".bedtide-old", ".bedtide-new", ".mine-old"))
    for folder in (old, new, other):
        folder.mkdir()
        (folder / "season.csv").write_text("half")
    lone = tmp_path / ".bedtide-lone.csv"
    lone.write_text("half")
    for path in (old, other, lone):
        os.utime(path, (time.time() - 2 * 86400,) * 2)
    write_folder(tmp_path / "out", {"a.txt": lambda path: path.write_text("a")})
    assert sorted(path.name for path in tmp_path.iterdir()) == [".bedtide-new", ".mine-old", "out"]


def test_lists_hold_every_name(cli):
    for what, names in (("crops", crops()), ("mixes", media()), ("forms", form_keys())):
        result = cli("list", what)
        assert result.exit_code == 0
        for name in names:
            assert any(line.startswith(name) for line in result.stdout.splitlines()), name
    text = cli("list", "options").stdout
    assert "--latitude" in text
    assert "--gauge" in text
    assert text.count("--") >= 22


def test_a_wrong_name_points_to_the_list(cli, tmp_path, odd_weather):
    path = tmp_path / "bed.toml"
    path.write_text(example_text().replace('"lettuce"', '"letuce"').replace('"peat"', '"peet"'))
    result = cli("season", str(path), str(odd_weather))
    assert result.exit_code == 2
    assert "The full list:  bedtide list crops." in result.stderr
    assert "The full list:  bedtide list mixes." in result.stderr
    assert "docs/" not in result.stderr
