"""bedtide map: what it writes, refuses, carries on with; each cell as for that place alone."""

import importlib.util
import json
import shutil

import numpy as np
import pytest
import xarray as xr

import bedtide.answers.map_.run as run_module
from bedtide.answers.map_.run import read
from helpers.commands import left_in

pytestmark = pytest.mark.usefixtures("undrawn")
LEAVE = ("--leave", "2027-07-10")


def whole(path):
    """Every byte of a folder, by name."""
    return {
        str(each.relative_to(path)): each.read_bytes() for each in path.rglob("*") if each.is_file()
    }


@pytest.fixture
def undrawn(made, monkeypatch):
    """Without pictures, which take most of the time of so small a map; `made` has them."""
    monkeypatch.setattr("bedtide.answers.map_.layers.sheets_of", lambda drawn, units: [])


@pytest.fixture(scope="module")
def made(folder, tmp_path_factory):
    """The map of both beds, made once."""
    from click.testing import CliRunner

    from bedtide.cli import main

    out = tmp_path_factory.mktemp("made") / "out"
    beds = ["--bed", folder / "kitchen.toml", "--bed", folder / "deep.toml"]
    told = ["map", folder / "region.nc", *beds, "--workers", 1, "--units", "metric", "--out", out]
    result = CliRunner().invoke(main, list(map(str, [*told, *LEAVE])))
    assert result.exit_code == 0, result.stderr
    return out, result


def test_what_is_written(made):
    out, result = made
    names = left_in(out)
    assert {"map.zarr", "map.nc", "map.json", "map.html", "suits.png", "last_frost.png"} <= set(
        names
    )
    assert {
        "median_by_month_1.png",
        "p10_by_month_2.png",
        "wet_days_difference.png",
        "estimated.png",
    } <= set(names)
    figures = json.loads((out / "map.json").read_text(encoding="utf-8"))
    assert figures["places"] == 6
    suited = [bed["places_suited"] for bed in figures["beds"]]
    assert sum(suited) + figures["places_none_suits"] == 6
    assert "1 of 1 parts done" in result.stderr
    with xr.open_dataset(out / "map.nc") as summary:
        assert dict(summary.sizes) == {"bed": 2, "latitude": 2, "longitude": 3, "month": 12}
        assert summary["refill_volume"].attrs["units"] == "m3"  # of one year
        first, second = summary["refill_volume"].to_numpy()
        assert np.array_equal(summary["refill_volume_difference"], second - first)
    with xr.open_zarr(out / "map.zarr") as store:
        assert store.attrs["Conventions"] == "CF-1.8"
        assert store["latitude"].attrs["units"] == "degrees_north"
        assert store["wet_days"].attrs["units"] == "d"


@pytest.mark.parametrize(("row", "column"), [(0, 2), (1, 0)])
def test_a_cell_is_the_season_of_that_place_to_the_last_bit(cli, folder, made, region, row, column):
    where = float(region["lat"][row]), float(region["lon"][column])
    words = ["season", folder / "deep.toml", folder / "region.nc", "--point", *where, "--json"]
    result = cli(*words)
    assert result.exit_code == 0, result.stderr
    season = json.loads(result.stdout)
    store = read(made[0] / "map.zarr").isel(bed=1, place=row * 3 + column)
    assert (float(store["latitude"]), float(store["longitude"])) == where
    litres = float(store["plan_area"]) * 1e3
    assert season["refills"] == store["refill_count"]
    assert season["refill_litres"] == float(store["refill_volume"]) / 1e-3
    assert season["days_between_refills_median"] == store["interval_median"]
    assert season["rain_share_percent"] == float(store["rain_share"]) * 100
    assert season["overflow_litres"] == float(store["overflow_total"]) * litres
    assert season["evaporation_litres"] == float(store["evaporation_total"]) * litres
    assert (season["wet_days"], season["dry_days"]) == (store["wet_days"], store["limited_days"])
    assert season["need_met_percent"] == float(store["transpiration_ratio"]) * 100
    assert season["balance_error_mm"] == float(store["balance_error"]) * 1e3
    for month in season["months"]:
        own = store.sel(month=int(month["month"][5:]))
        poured = float(own["refill_volume_by_month"]) * 1e3
        assert month["refill_litres"] == poured
        assert month["days_between_refills_median"] == pytest.approx(
            None if np.isnan(own["interval_median_by_month"]) else own["interval_median_by_month"]
        )


@pytest.mark.parametrize("chunk", [1, 4])
def test_the_size_of_a_chunk_changes_nothing(cli, made, words, tmp_path, chunk):
    result = cli(*words, *LEAVE, "--chunk", chunk, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    assert (
        read(tmp_path / "out" / "map.zarr")
        .drop_attrs()
        .identical(read(made[0] / "map.zarr").drop_attrs())
    )


def test_places_in_another_order_are_the_same(cli, folder, made, words, region, tmp_path):
    region.isel(lat=slice(None, None, -1)).to_netcdf(tmp_path / "turned.nc")
    words[1] = tmp_path / "turned.nc"
    assert cli(*words, *LEAVE, "--out", tmp_path / "out").exit_code == 0
    turned = read(tmp_path / "out" / "map.zarr").isel(place=[3, 4, 5, 0, 1, 2])
    assert turned.drop_attrs().identical(read(made[0] / "map.zarr").drop_attrs())


# --- stopped and gone on ------------------------------------------------------------------------


@pytest.fixture
def worked(monkeypatch):
    """Spans that were worked on; from the third on the keeper presses Ctrl-C, while `stop`."""
    done, own = [], run_module._figures

    def figures(job, span):
        if done.count("stop") and len(done) > 2:
            raise KeyboardInterrupt
        done.append(span)
        return own(job, span)

    monkeypatch.setattr(run_module, "_figures", figures)
    return done


def test_what_was_stopped_is_gone_on_with(cli, made, words, worked, tmp_path):
    worked.append("stop")
    out = tmp_path / "out"
    asked = [*words, *LEAVE, "--chunk", 2, "--out", out]
    stopped = cli(*asked)
    assert stopped.exit_code == 130
    assert "the same command carries on" in stopped.stderr
    assert worked == ["stop", (0, 2), (2, 4)]
    assert left_in(out) == ["map.zarr"]
    worked.clear()
    again = cli(*asked)
    assert again.exit_code == 0, again.stderr
    assert worked == [(4, 6)]
    assert "Carrying on: 2 of 3 parts were done before." in again.stderr
    assert "An earlier run had done 2 of 3 parts." in " ".join(again.stdout.split())
    store = read(out / "map.zarr")
    assert store.drop_attrs().identical(read(made[0] / "map.zarr").drop_attrs())
    worked.clear()
    assert cli(*asked).exit_code == 0
    assert worked == []  # all is there


def test_a_chunk_whose_figures_are_there_but_not_said_done_is_done_anew(
    cli, words, worked, tmp_path
):
    import zarr

    asked = [*words, "--chunk", 2, "--out", tmp_path / "out"]
    assert cli(*asked).exit_code == 0
    before = read(tmp_path / "out" / "map.zarr")
    group = zarr.open_group(str(tmp_path / "out" / "map.zarr"), mode="r+")
    group["done"][2:4] = 0  # killed between the figures and this
    group["wet_days"][:, 3] = 99.0
    worked.clear()
    assert cli(*asked).exit_code == 0
    assert worked == [(2, 4)]
    assert read(tmp_path / "out" / "map.zarr").identical(before)


# --- refused ----------------------------------------------------------------------------------


def _changed(folder, tmp_path, what):
    """Files and options of which one thing is not as in `words`."""
    copy = tmp_path / "changed"
    shutil.copytree(folder, copy)
    if what == "bed":
        path = copy / "deep.toml"
        path.write_text(path.read_text("utf-8").replace('"22 in"', '"23 in"'), encoding="utf-8")
    if what == "weather":
        with xr.open_dataset(copy / "region.nc") as opened:
            other = opened.load()
        other["rain"][0, 0, 5] += 0.001
        other.to_netcdf(copy / "region.nc")
    beds = ["--bed", copy / "kitchen.toml", "--bed", copy / "deep.toml"]
    more = {"option": ["--leave", "2027-07-11"], "reading": [*LEAVE, "--setting", "coast"]}
    return ["map", copy / "region.nc", *beds, "--workers", 1, *more.get(what, LEAVE)]


@pytest.mark.parametrize(
    ("what", "named"),
    [
        ("bed", "bed Deep bed"),
        ("weather", "weather region.nc"),
        ("option", "option from, to, leave"),
        ("reading", "option of reading"),
        ("version", "version of bedtide"),
    ],
)
def test_another_question_is_refused_and_nothing_is_mixed(
    cli, folder, made, tmp_path, monkeypatch, what, named
):
    out = tmp_path / "out"
    shutil.copytree(made[0], out)
    before = whole(out)
    if what == "version":
        monkeypatch.setattr("bedtide.answers.map_.command.__version__", "99")
    result = cli(*_changed(folder, tmp_path, what), "--out", out)
    assert result.exit_code == 2
    assert named in result.stderr
    assert "--anew" in result.stderr
    assert whole(out) == before


def test_the_same_files_elsewhere_are_the_same_question(cli, folder, made, tmp_path, worked):
    out = tmp_path / "out"
    shutil.copytree(made[0], out)
    result = cli(*_changed(folder, tmp_path, ""), "--units", "metric", "--out", out)
    assert result.exit_code == 0, result.stderr
    assert worked == []


def test_anew_drops_the_old_figures(cli, folder, made, tmp_path, worked):
    out = tmp_path / "out"
    shutil.copytree(made[0], out)
    result = cli(*_changed(folder, tmp_path, "bed"), "--out", out, "--anew")
    assert result.exit_code == 0, result.stderr
    assert worked == [(0, 6)]
    assert not read(out / "map.zarr")["wet_days"].isel(bed=1).isnull().any()
    assert not list(out.glob(".bedtide-*"))


@pytest.mark.parametrize("anew", [(), ("--anew",)])
@pytest.mark.parametrize("what", ["a file", "an empty folder", "another store", "half a store"])
def test_what_is_no_store_of_ours_is_refused_and_stays(cli, made, words, tmp_path, what, anew):
    out = tmp_path / "out"
    store = out / "map.zarr"
    out.mkdir()
    if what == "a file":
        store.write_text("mine", encoding="utf-8")
    if what == "an empty folder":
        store.mkdir()
        (store / "mine.txt").write_text("mine", encoding="utf-8")
    if what == "another store":
        xr.Dataset({"mine": ("x", [1.0])}).to_zarr(store, zarr_format=2)
    if what == "half a store":
        shutil.copytree(made[0] / "map.zarr", store)
        shutil.rmtree(store / "done")
    before = whole(out)
    result = cli(*words, *LEAVE, "--out", out, *anew)
    assert result.exit_code == 2
    assert "Traceback" not in result.stderr
    assert "Nothing was overwritten" in result.stderr
    assert whole(out) == before


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["map", "W", "--bed", "B"], "--out: not given"),
        (["map", "W", "--out", "O"], "--bed: not given"),
        (["map", "--bed", "B", "--out", "O"], "WEATHER: not given"),
        (["map", "gone", "--bed", "B", "--out", "O"], "gone: there is no such file or folder"),
        (["map", "W", "--bed", "B", "--bed", "B", "--out", "O"], "two beds are called"),
        (["map", "W", *["--bed", "B"] * 7, "--out", "O"], "two beds are called"),
        (["map", "W", "--bed", "B", "--out", "O", "--point", "1", "2"], "a map has many places"),
        (
            ["map", "W", "--bed", "B", "--out", "O", "--from", "2022", "--to", "2021"],
            "is before --from",
        ),
        (["map", "W", "--bed", "B", "--out", "W"], "it is a file"),
    ],
)
def test_what_can_not_be_is_said(cli, folder, tmp_path, words, message):
    files = {"W": folder / "region.nc", "B": folder / "kitchen.toml", "O": tmp_path / "out"}
    result = cli(*(files.get(word, word) for word in words))
    assert result.exit_code == 2, result.stdout
    assert message in result.stderr
    assert left_in(tmp_path) == []


def test_without_dask_it_says_what_to_install(cli, words, tmp_path, monkeypatch):
    own = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name in ("dask", "zarr") else own(name)
    )
    result = cli(*words, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "dask and zarr are not installed" in result.stderr
    assert 'pip install "bedtide[map]"' in result.stderr


# --- unfit weather ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def holed(folder, region, tmp_path_factory):
    """The region with a place of sea, without any weather, and one where the rain has a hole."""
    found = region.copy(deep=True)
    for name in found.data_vars:
        found[name][0, 1] = np.nan
    found["rain"][1, 2, 100:130] = np.nan
    path = tmp_path_factory.mktemp("holed") / "holed.nc"
    found.to_netcdf(path)
    return path


def test_a_place_that_is_unfit_is_left_out_and_named(cli, made, holed, words, tmp_path):
    words[1] = holed
    result = cli(*words, *LEAVE, "--chunk", 2, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    text = " ".join(result.stdout.split())
    assert "Left out, 2 places" in text
    assert "38 N, 2 W:" in text
    assert "42 N, 1 W:" in text
    store, other = (read(each / "map.zarr") for each in (tmp_path / "out", made[0]))
    unfit = store["unfit"].to_numpy() != ""
    assert unfit.tolist() == [False, True, False, False, False, True]
    assert np.isnan(store["wet_days"][:, unfit]).all()
    for name in ("refill_volume", "days_safe", "interval_median_by_month"):
        rest = store[name][:, ~unfit]
        assert np.array_equal(rest, other[name][:, ~unfit], equal_nan=True), name
    figures = json.loads((tmp_path / "out" / "map.json").read_text(encoding="utf-8"))
    assert figures["places_left_out"] == len(figures["left_out"]) == 2


def test_a_region_of_unfit_places_says_so(cli, holed, words, tmp_path):
    with xr.open_dataset(holed) as opened:
        sea = opened.isel(lat=[0], lon=[1]).load()
    sea.to_netcdf(tmp_path / "sea.nc")
    words[1] = tmp_path / "sea.nc"
    result = cli(*words, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    assert "the weather of the one place is unfit" in " ".join(result.stdout.split())
    assert left_in(tmp_path / "out") == ["map.html", "map.json", "map.nc", "map.zarr"]


def test_what_was_done_with_a_calendar_is_said(cli, words, region, tmp_path):
    axis = xr.date_range("2022-01-01", periods=360, calendar="360_day", use_cftime=True)
    odd = region.isel(time=slice(360)).assign_coords(time=axis)
    odd.to_netcdf(tmp_path / "odd.nc")
    words[1] = tmp_path / "odd.nc"
    done = cli(*words, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.stderr
    assert "The year of odd.nc has 360 days" in " ".join(done.stdout.split())
