"""bedtide season with the model itself, from the files to the files."""

import json

import numpy as np
import pandas as pd
import pytest
import xarray as xr

FILES = ["bed.png", "season.csv", "season.nc", "season.png", "summary.json"]


def test_the_built_in_example_answers_in_its_first_line(cli):
    result = cli("season")
    assert result.exit_code == 0, result.stderr
    first = result.stdout.splitlines()[0]
    assert first.startswith("Fill this bed about every ")
    text = " ".join(result.stdout.split())
    for word in (" fills, ", " L in all", "Wet days (too little air", "Dry days", "invented"):
        assert word in text, word
    assert "Balance error: less than 0.000001 mm" in result.stdout
    assert "bedtide cautions" in result.stdout
    assert result.stderr == ""


def test_files_of_a_real_run_agree_with_one_another_and_with_what_is_printed(
    cli, tmp_path, bed_file, weather_file
):
    folder = tmp_path / "out"
    result = cli("season", bed_file, weather_file, "--units", "metric", "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert sorted(path.name for path in folder.iterdir()) == FILES
    summary = json.loads((folder / "summary.json").read_text())
    table = pd.read_csv(folder / "season.csv")
    assert len(table) == summary["days"] == 60
    assert summary["balance_error_mm"] < 1e-6
    assert table["refill_L"].sum() == pytest.approx(summary["refill_litres"], rel=1e-5)
    assert f"{summary['refill_litres']:.0f}" in result.stdout.replace(",", "")
    with xr.open_dataset(folder / "season.nc") as season:
        litres = float(season["refill"].sum() * season["plan_area"]) * 1000
        assert litres == pytest.approx(summary["refill_litres"])
        stores = season["open_water"] + season["mix_water"] + season["standing_water"]
        start = sum(
            season[f"start_{name}"] for name in ("open_water", "mix_water", "standing_water")
        )
        into = (season["rain_in"] + season["refill"]).sum()
        out = sum(
            season[name].sum() for name in ("transpiration", "evaporation", "overflow", "rim_spill")
        )
        assert float(stores[-1] - start - into + out) == pytest.approx(0, abs=1e-9)
        assert season.attrs["bed_description"] == bed_file.read_text()
        content = season["water_content"]
        assert set(content.dims) == {"time", "height"}
        assert season["height"].attrs["units"] == "m"
        assert content.attrs["units"] == "m3 m-3"
        height = season["height"].to_numpy()
        assert (np.diff(height) < 0.0).all()  # from the surface down
        assert 0.0 < height[-1] < height[0] < float(season["surface_height"])
        wetter = content.isel(height=-1) - content.isel(height=0)
        assert float(wetter.min()) > 0.0  # the floor than the surface
        assert "surface_depletion" not in season
        for name, variable in season.data_vars.items():
            assert "units" in variable.attrs or np.issubdtype(variable.dtype, np.datetime64), name
    for name in ("season.png", "bed.png"):
        assert (folder / name).read_bytes().startswith(b"\x89PNG")


def test_a_bed_file_in_inches_is_answered_in_gallons_unless_litres_are_asked_for(
    cli, bed_file, weather_file
):
    assert "US gal" in cli("season", bed_file, weather_file).stdout
    asked = cli("season", bed_file, weather_file, "--units", "metric").stdout
    assert "US gal" not in asked
    assert " L" in asked
