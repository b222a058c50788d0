"""bedtide wet-spell: the answer first, the files whole."""

import json

import numpy as np
import pytest
import xarray as xr

from helpers.commands import left_in

FILES = ["wet_spell.csv", "wet_spell.json", "wet_spell.nc", "wet_spell.png"]


def test_wet_spell_alone(cli, tmp_path, bed_file, two_years):
    folder = tmp_path / "out"
    words = ("--spell", "5 days of 30 mm", "--units", "metric")
    result = cli("wet-spell", bed_file, two_years, *words, "--out", folder)
    assert result.exit_code == 0, result.stderr
    assert left_in(folder) == FILES
    assert result.stdout.startswith("In 2 years the roots had air every day: ")
    assert "\nIn 5 days with 30 mm of rain a day the roots" in result.stdout
    assert "Least depth" in result.stdout
    figures = json.loads((folder / "wet_spell.json").read_text())
    assert figures["spells"][0]["rain_mm"] == pytest.approx(150)
    with xr.open_dataset(folder / "wet_spell.nc") as stored:
        assert stored["air"].dims == ("spell", "bed", "outlet", "slice", "day")
        assert np.isfinite(stored["air_lowest"]).all()
    again = cli("wet-spell", bed_file, two_years, "--spell", "5 days of 30 mm", "--json")
    assert again.stdout == (folder / "wet_spell.json").read_text()


def test_the_range_is_given_where_it_is_asked_for(cli, bed_file, two_years):
    words = (bed_file, two_years, "--spell", "7 days", "--json")
    plain, ranged = (json.loads(cli("wet-spell", *words, *r).stdout) for r in ((), ("--range",)))
    own = ranged["beds"][0].pop("range")
    assert plain == ranged
    least = ranged["beds"][0]["spells"][0]["open"]["lowest_air_percent"]
    assert own["lowest_air_percent"]["typical"] == pytest.approx(least)
    assert own["lowest_air_percent"]["low"] < least < own["lowest_air_percent"]["high"]


def test_a_spell_on_a_day(cli, bed_file, two_years):
    words = ("wet-spell", bed_file, two_years, "--spell", "2 days of 1 in", "--on", "2023-07-10")
    result = cli(*words, "--units", "us")
    assert result.exit_code == 0, result.stderr
    assert "2.00 in of rain put on 10 to 11 July 2023" in result.stdout
    held = cli("wet-spell", bed_file, two_years, "--spell", "2 days", "--on", "2023-07-10")
    assert "the 2 days from 10 July 2023" in held.stdout.replace("\n", " ")
    assert "hardest on roots" not in held.stdout.replace("\n", " ")
