"""bedtide wet-spell: the answer first, the files whole."""

import json

import numpy as np
import pytest
import xarray as xr

from bedtide.tables import sample_weather

FILES = ["wet_spell.csv", "wet_spell.json", "wet_spell.nc", "wet_spell.png"]


def left_in(folder) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture(scope="module")
def two_years(tmp_path_factory):
    """Two years of the wet sample, as a file."""
    lines = sample_weather("mistlebeck").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[:4].isdigit() or line[:4] in ("2022", "2023")]
    path = tmp_path_factory.mktemp("weather") / "weather.csv"
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return path


def test_wet_spell_alone(cli, tmp_path, bed_file, two_years):
    folder = tmp_path / "out"
    result = cli("wet-spell", bed_file, two_years, "--spell", "5 days of 30 mm", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == FILES
    assert result.stdout.startswith("In 5 days with 30 mm of rain a day the roots")
    assert "Least depth" in result.stdout
    figures = json.loads((folder / "wet_spell.json").read_text())
    assert figures["spells"][0]["rain_mm"] == pytest.approx(150)
    with xr.open_dataset(folder / "wet_spell.nc") as stored:
        assert stored["air"].dims == ("spell", "bed", "outlet", "slice", "day")
        assert np.isfinite(stored["air_lowest"]).all()
    again = cli("wet-spell", bed_file, two_years, "--spell", "5 days of 30 mm", "--json")
    assert again.stdout == (folder / "wet_spell.json").read_text()


def test_a_spell_on_a_day(cli, bed_file, two_years):
    words = ("wet-spell", bed_file, two_years, "--spell", "2 days of 1 in", "--on", "2023-07-10")
    result = cli(*words, "--units", "us")
    assert result.exit_code == 0, result.stderr
    assert "2.00 in of rain put on 10 to 11 July 2023" in result.stdout
