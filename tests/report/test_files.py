"""Files come whole or not at all; what stood there before survives whatever goes wrong."""

import json
import os

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from bedtide.errors import FileError
from bedtide.files import (
    check_folder,
    new_folder_check,
    replacing,
    write,
    write_csv,
    write_folder,
    write_netcdf,
    write_text,
)
from bedtide.readings import wetness
from helpers.commands import left_in
from helpers.seasons import by_hand


def test_text_replaces_an_old_file(tmp_path):
    path = tmp_path / "a.txt"
    write_text(path, "old\n")
    write_text(path, "new, naïve\n")
    assert path.read_bytes() == "new, naïve\n".encode()
    assert left_in(tmp_path) == ["a.txt"]


def test_a_new_file_has_the_rights_of_any_new_file(tmp_path):
    write_text(tmp_path / "a.txt", "a")
    (tmp_path / "b.txt").write_text("b")
    assert (tmp_path / "a.txt").stat().st_mode == (tmp_path / "b.txt").stat().st_mode


@pytest.mark.parametrize("trouble", [KeyboardInterrupt, RuntimeError, MemoryError])
def test_an_interrupted_write_leaves_the_old_file(tmp_path, trouble):
    path = tmp_path / "a.txt"
    write_text(path, "old")

    def half_way():
        with replacing(path) as temporary:
            temporary.write_text("half of the ne")
            raise trouble

    with pytest.raises(trouble):
        half_way()
    assert path.read_text() == "old"
    assert left_in(tmp_path) == ["a.txt"]


def test_a_full_disk_is_one_clear_error(tmp_path, monkeypatch):
    path = tmp_path / "a.txt"
    write_text(path, "old")

    def full(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FileError, match="no space left on device"):
        write_text(path, "new")
    for folder in (tmp_path, tmp_path / "new"):  # in a folder of results it is named with that
        with pytest.raises(FileError, match="no space left on device") as caught:
            write_folder(folder, {"a.txt": lambda path: write_text(path, "new")})
        assert caught.value.where == str(folder / "a.txt")
    assert path.read_text() == "old"
    assert left_in(tmp_path) == ["a.txt"]


def test_json_has_null_for_what_is_missing(tmp_path):
    content = {"a": np.float64("nan"), "b": [np.int64(3), None], "c": {"d": np.float64(0.5)}}
    write(tmp_path / "a.json", content)
    text = (tmp_path / "a.json").read_text()
    assert json.loads(text) == {"a": None, "b": [3, None], "c": {"d": 0.5}}
    assert "NaN" not in text


def test_csv_keeps_six_digits_and_leaves_gaps_empty(tmp_path):
    table = pd.DataFrame(
        {"date": pd.to_datetime(["2023-06-25", "2023-06-26"]), "rain_mm": [1 / 3, np.nan]}
    )
    write_csv(tmp_path / "a.csv", table)
    assert (tmp_path / "a.csv").read_text() == ("date,rain_mm\n2023-06-25,0.333333\n2023-06-26,\n")


def test_netcdf_comes_back_with_values_attributes_and_dates(tmp_path):
    season = by_hand()
    season["left_out"] = ("time", season["rain"].to_numpy() > 0)
    write_netcdf(tmp_path / "a.nc", season)
    with xr.open_dataset(tmp_path / "a.nc") as back:
        for name in season.data_vars:
            np.testing.assert_array_equal(back[name].values, season[name].values, err_msg=name)
        np.testing.assert_array_equal(back.time.values, season.time.values)
        assert back["level"].attrs == season["level"].attrs
        assert back.attrs["assumptions"] == "Wind was taken as 2 m/s on 3 of the days."
        assert back.attrs["Conventions"] == "CF-1.8"
    assert isinstance(season.attrs["assumptions"], list)  # what was given stays as it was


def test_netcdf_takes_a_reading_with_and_without_a_date(tmp_path):
    dry = by_hand()
    dry["air_root_zone"] = dry["air_root_zone"] * 0 + 0.3
    dry["aerated_depth"] = dry["aerated_depth"] * 0 + 0.25
    beds = xr.concat([by_hand(), dry], "bed")
    write_netcdf(tmp_path / "a.nc", wetness(beds))
    with xr.open_dataset(tmp_path / "a.nc") as back:
        start = back["wet_spell_start"].to_numpy()
    assert start[0] == np.datetime64("2023-07-02")
    assert np.isnat(start[1])


def test_a_new_folder_comes_with_all_its_files(tmp_path):
    folder = tmp_path / "deep" / "out"
    files = write_folder(
        folder,
        {"a.txt": lambda path: write_text(path, "a"), "b.txt": lambda path: write_text(path, "b")},
    )
    assert files == [folder / "a.txt", folder / "b.txt"]
    assert left_in(folder) == ["a.txt", "b.txt"]
    assert left_in(tmp_path / "deep") == ["out"]
    (tmp_path / "plain").mkdir()
    assert folder.stat().st_mode == (tmp_path / "plain").stat().st_mode


@pytest.mark.parametrize("trouble", [KeyboardInterrupt, RuntimeError])
def test_an_interrupted_folder_leaves_the_earlier_run(tmp_path, trouble):
    folder = tmp_path / "out"

    def fails(path):
        path.write_text("half")
        raise trouble

    write_folder(folder, {"a.txt": lambda path: write_text(path, "earlier")})
    with pytest.raises(trouble):
        write_folder(folder, {"a.txt": lambda path: write_text(path, "later"), "b.txt": fails})
    assert left_in(folder) == ["a.txt"]
    assert (folder / "a.txt").read_text() == "earlier"


def test_an_interrupted_new_folder_does_not_come_into_being(tmp_path):
    def fails(path):
        path.write_text("half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "deep" / "out", {"a.txt": fails})
    assert left_in(tmp_path) == []


def test_other_files_of_the_folder_stay(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    write_folder(tmp_path, {"a.txt": lambda path: write_text(path, "a")})
    assert left_in(tmp_path) == ["a.txt", "notes.txt"]


@pytest.mark.parametrize("name", ["taken", "taken/inside"])
def test_a_file_is_no_folder(tmp_path, name):
    (tmp_path / "taken").write_text("")
    with pytest.raises(FileError, match="is a file"):
        check_folder(tmp_path / name)


def test_a_folder_that_may_not_be_written_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(FileError, match="may not write"):
        check_folder(tmp_path / "out")


def test_nothing_is_overwritten_by_a_new_start(tmp_path):
    (tmp_path / "bed.toml").write_text("mine")
    with pytest.raises(FileError, match=r"bed\.toml is there already"):
        new_folder_check(tmp_path, ["bed.toml", "weather.csv"])
    new_folder_check(tmp_path / "other", ["bed.toml"])
    assert not (tmp_path / "other").exists()
