"""What is in the wheel is enough to run: data, sample weather, cautions, the mark of types."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (made,) = folder.glob("*.whl")
    return made


def test_everything_is_in_it(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    code = {f"bedtide/{path.relative_to(ROOT / 'sim' / 'bedtide')}" for path in
            (ROOT / "sim" / "bedtide").rglob("*.py")}  # fmt: skip
    assert code <= names
    for name in (
        "bedtide/py.typed",
        "bedtide/data/media.csv",
        "bedtide/data/crops.csv",
        "bedtide/data/terms.csv",
        "bedtide/data/layouts.toml",
        "bedtide/data/sources.toml",
        "bedtide/data/services.toml",
        "bedtide/data/weather_names.toml",
        "bedtide/data/weather_units.toml",
        "bedtide/data/example_bed.toml",
        "bedtide/data/cautions.md",
        "bedtide/weather_samples/brasaluz.csv",
        "bedtide/weather_samples/mistlebeck.csv",
        "bedtide/weather_samples/README.md",
    ):
        assert name in names, name
    assert not [name for name in names if "__pycache__" in name or name.startswith("tests")]


@pytest.mark.slow
def test_it_runs_from_another_folder(wheel, tmp_path):
    site, elsewhere = tmp_path / "site", tmp_path / "elsewhere"
    elsewhere.mkdir()
    zipfile.ZipFile(wheel).extractall(site)
    said = {}
    for words in (["season", "--out", "results"], ["cautions"], ["new", "garden"]):
        done = subprocess.run(
            [sys.executable, "-m", "bedtide", *words],
            cwd=elsewhere,
            env={**os.environ, "PYTHONPATH": str(site)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        said[words[0]] = done.stdout
    assert said["season"].startswith("Fill this bed about every ")
    page = (ROOT / "docs" / "cautions.md").read_text(encoding="utf-8")
    assert said["cautions"].split() == page.replace("\n- ", "\n").split()
    assert (elsewhere / "results" / "season.png").stat().st_size > 10_000
    where = subprocess.run(
        [sys.executable, "-c", "import bedtide; print(bedtide.__file__)"],
        cwd=elsewhere,
        env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert str(site) in where.stdout
