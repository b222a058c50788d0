"""Many places are one place many times over, to the last bit."""

import netCDF4  # noqa: F401  (its import warns about numpy when it comes later)
import numpy as np
import pytest
import refet
import xarray as xr

from bedtide.chunks import by_chunk
from bedtide.errors import InputError
from bedtide.weather import (
    Options,
    one_place,
    open_places,
    read_places,
    read_weather,
    ready_places,
    reference_et,
)
from helpers.grids import cells, grid


@pytest.fixture
def made():
    """A grid with a short gap, a long one, a cell of sea and one without humidity."""
    found = grid()
    found["tasmax"][5:7, 0, 1] = np.nan
    found["pr"][100:150, 0, 2] = np.nan
    found["hurs"][:, 1, 0] = np.nan
    for name in ("tasmax", "tasmin", "pr", "hurs", "rsds", "sfcWind"):
        found[name][:, 1, 2] = np.nan
    return found


def test_a_grid_is_each_cell_alone(made, tmp_path):
    path = tmp_path / "grid.nc"
    made.to_netcdf(path)
    ready = ready_places(open_places([path], Options(), chunk=2), Options())
    why = ready["unfit"].values.tolist()
    assert why[2] == "rain missing from 2019-04-11 to 2019-05-30 (50 days)"
    assert why[5] == "no weather (sea, or outside of the region)"
    assert [why[at] for at in (0, 1, 3, 4)] == [""] * 4
    assert ready["filled_days"].values.tolist() == [0, 2, 0, 0, 0, 0]
    assert ready["humidity_days"].values.tolist() == [0, 0, 0, 500, 0, 0]
    for at in (0, 1, 3, 4):
        alone = read_weather(path, point=cells(made)[at])
        mine = one_place(ready, at)
        assert set(alone.data_vars) <= set(mine.data_vars)
        for name in (*alone.data_vars, "time"):
            assert np.array_equal(alone[name].values, mine[name].values), (at, name)
        for name in ("latitude", "elevation", "et0_method"):
            assert alone.attrs[name] == mine.attrs[name]


def test_a_gap_that_was_filled_is_not_told_as_an_estimate(made, tmp_path):
    """Humidity of two days comes from those beside them, that of the five last has a stand-in."""
    made["hurs"][20:22, 0, 0] = np.nan
    made["hurs"][-5:, 0, 0] = np.nan
    made.to_netcdf(tmp_path / "grid.nc")
    ready = read_places(tmp_path / "grid.nc").compute()
    assert ready["filled_days"].values[0] == 2
    assert ready["humidity_days"].values[0] == 5
    assert ready["estimated"].sum("time").values[0] == 5


def test_nothing_rests_on_the_radiation_beside_ready_made_et0(tmp_path):
    lines = [f"2020-01-{day:02},{2 + day % 3},{day % 2}" for day in range(1, 32)]
    head = "# latitude: 50\n# elevation: 30 m\ndate,ET0 (mm),rain (mm)\n"
    (tmp_path / "one.csv").write_text(head + "\n".join(lines) + "\n")
    ready = read_places(tmp_path / "one.csv")
    assert ready["unfit"].values.tolist() == [""]
    days = [int(ready[f"{name}_days"].values[0]) for name in ("humidity", "wind", "radiation")]
    assert days == [31, 31, 0]


def test_permuting_the_cells_permutes_what_comes_of_them(made, tmp_path):
    made.to_netcdf(tmp_path / "grid.nc")
    made.isel(lat=[1, 0], lon=[2, 0, 1]).to_netcdf(tmp_path / "turned.nc")
    ready, turned = (read_places(tmp_path / name).compute() for name in ("grid.nc", "turned.nc"))
    order = [5, 3, 4, 2, 0, 1]
    for name in ready.data_vars:
        assert_same(ready[name].values[order], turned[name].values)


@pytest.mark.parametrize("chunk", [1, 2, 4, 50])
def test_chunks_change_nothing(made, tmp_path, chunk):
    made.to_netcdf(tmp_path / "grid.nc")
    whole = open_places([tmp_path / "grid.nc"], Options(), chunk=chunk)
    assert max(whole.chunks["place"]) <= chunk
    assert whole.sizes["place"] == 6
    got = by_chunk(ready_places, whole, options=Options()).compute()
    want = ready_places(open_places([tmp_path / "grid.nc"], Options()), Options())
    for name in want.data_vars:
        assert_same(want[name].values, got[name].values)


def assert_same(one, other):
    """Equal to the last bit, missing where the other is missing."""
    assert one.dtype == other.dtype
    assert np.array_equal(one, other, equal_nan=one.dtype.kind in "fM")


def stored(made, folder, how):
    """One grid kept in several ways."""
    if how == "by variable":
        for name in made.data_vars:
            made[[name]].to_netcdf(folder / f"{name}.nc")
        return [folder]
    if how == "by year":
        for year in ("2019", "2020"):
            made.sel(time=year).to_netcdf(folder / f"{year}.nc")
        return [folder / "2020.nc", folder / "2019.nc"]
    if how == "zarr":
        made.chunk(time=100).to_zarr(folder / "grid.zarr", zarr_format=2)
        return [folder / "grid.zarr"]
    if how == "points":
        stacked = made.stack(point=("lat", "lon")).reset_index("point")
        stacked.transpose(..., "time").to_netcdf(folder / "points.nc")
        return [folder / "points.nc"]
    curved = made.assign_coords(
        lat2=(("lat", "lon"), np.broadcast_to(made.lat.values[:, None], (2, 3))),
        lon2=(("lat", "lon"), np.broadcast_to(made.lon.values, (2, 3))),
    )
    curved = curved.rename(lat="y", lon="x").drop_vars(["x", "y"]).rename(lat2="lat", lon2="lon")
    for name in ("lat", "lon"):
        curved[name].attrs = {"standard_name": f"{name}itude".replace("lonitude", "longitude")}
    curved.to_netcdf(folder / "curved.nc")
    return [folder / "curved.nc"]


@pytest.mark.parametrize("how", ["by variable", "by year", "zarr", "points", "curved"])
def test_however_it_is_kept(made, tmp_path, how):
    made.to_netcdf(tmp_path / "whole.nc")
    folder = tmp_path / "kept"
    folder.mkdir()
    want = read_places(tmp_path / "whole.nc").compute()
    got = read_places(stored(made, folder, how)).compute()
    for name in (*want.data_vars, "latitude", "longitude", "elevation", "time"):
        assert_same(want[name].values, got[name].values)
    assert got.attrs["grid"] == {
        "points": ["point=6"],
        "curved": ["y=2", "x=3"],
    }.get(how, ["lat=2", "lon=3"])


def test_reference_et_of_a_grid(made, tmp_path):
    """By the place, by an independent library, and the public function."""
    made.to_netcdf(tmp_path / "grid.nc")
    ready = read_places(tmp_path / "grid.nc").compute().isel(place=[0, 1, 4])
    again = reference_et(ready)
    assert again.dims == ("place", "time")
    assert_same(again.values, ready["et0"].values)
    lazily = reference_et(ready.chunk(place=1))
    assert lazily.chunks is not None
    assert_same(lazily.values, ready["et0"].values)
    number = ready["time"].dt.dayofyear.values
    for at in range(3):
        one = ready.isel(place=at)
        theirs = refet.Daily(
            tmin=one["tmin"].values,
            tmax=one["tmax"].values,
            ea=one["vapour_pressure"].values,
            rs=one["solar_radiation"].values,
            uz=one["wind_speed"].values,
            zw=2.0,
            elev=float(one["elevation"]),
            lat=float(one["latitude"]),
            doy=number,
            method="asce",
            rso_type="simple",
        ).eto()
        # Constants that differ by a few per mille, and dew is below nothing there.
        assert np.abs(np.maximum(theirs, 0.0) - one["et0"].values * 1000).max() < 0.03


def test_a_folder_of_station_files(tmp_path, write_station):
    """Each as it is read alone; a bad one is named and stops nothing."""
    folder = tmp_path / "stations"
    (folder / "three").mkdir(parents=True)
    write_station(folder / "one.csv", days=400, latitude=50.0)
    write_station(folder / "two.csv", days=300, latitude=-20.0, start="2020-03-01")
    write_station(folder / "three" / "a.csv", days=200, latitude=52.0)
    write_station(folder / "three" / "b.csv", days=200, latitude=52.0, start="2019-07-20")
    (folder / "zbad.csv").write_text("date,tmax (C),rain (mm)\n2020-01-01,20,0\n")
    for name in (".hidden", "README.md", "made.py"):
        (folder / name).write_text("no weather")
    ready = read_places(folder)
    assert ready["place_name"].values.tolist() == ["one", "three", "two", "zbad"]
    assert ready["unfit"].values[:3].tolist() == [""] * 3
    assert ready["unfit"].values[3].startswith("the latitude and the elevation") or (
        "lowest temperature" in ready["unfit"].values[3]
    )
    assert ready["latitude"].values[:3].tolist() == [50.0, 52.0, -20.0]
    files = [folder / "one.csv", [folder / "three" / "a.csv", folder / "three" / "b.csv"]]
    for at, path in enumerate([*files, folder / "two.csv"]):
        one, mine = read_weather(path), one_place(ready, at)
        for name in (*one.data_vars, "time"):
            assert_same(one[name].values, mine[name].values)
    assert str(ready["first_day"].values[2])[:10] == "2020-03-01"
    assert np.isnat(ready["last_day"].values[3])


@pytest.fixture
def write_station():
    def write(path, *, days, latitude, start="2019-01-01"):
        random = np.random.default_rng(days)
        when = np.datetime64(start) + np.arange(days)
        warm = 15 + 8 * np.sin(np.arange(days) / 58) + random.normal(0, 2, days)
        rain = np.where(random.random(days) < 0.3, random.exponential(5, days), 0)
        lines = [f"# latitude: {latitude}", "# elevation: 30 m", "date,tmax (C),tmin (C),rain (mm)"]
        lines += [
            f"{d},{t:.1f},{t - 8:.1f},{r:.1f}" for d, t, r in zip(when, warm, rain, strict=True)
        ]
        path.write_text("\n".join(lines) + "\n")

    return write


def hourly(made):
    return made.assign_coords(time=made.time.values[0] + np.arange(500) * np.timedelta64(6, "h"))


def by_the_hour(made):
    return made.assign_coords(time=made.time.values[0] + np.arange(500) * np.timedelta64(1, "h"))


def two_times(made):
    """Of one day, which no median of many steps tells."""
    return hourly(made).isel(time=[0, 1])


def monthly(made):
    return made.assign_coords(time=made.time.values[0] + np.arange(500) * np.timedelta64(30, "D"))


def unit(made):
    made["pr"].attrs["units"] = "furlong"
    return made


def no_unit(made):
    del made["tasmax"].attrs["units"]
    return made


def twice(made):
    made["also"] = made["tasmax"]
    return made


def all_leap(made):
    axis = xr.date_range("2019-01-01", periods=500, calendar="all_leap", use_cftime=True)
    return made.assign_coords(time=axis)


def nameless(made):
    bare = made.drop_vars("pr").rename(tasmin="odd")
    return bare.assign(odd=bare["odd"].drop_attrs())


BAD = {
    nameless: (
        "grid.nc: there is no lowest temperature and no rain in it.\n"
        "Expected columns for the highest and the lowest temperature and for rain.\n"
        "Found: tasmax (tmax), hurs (rh_mean), rsds (solar_radiation), sfcWind "
        "(wind_speed); not understood: odd. Give the file that has it as well."
    ),
    hourly: "grid.nc: its times are 6 hours apart.\nExpected one value a day.",
    by_the_hour: "grid.nc: its times are 1 hour apart.\nExpected one value a day.",
    two_times: "grid.nc: its times are 6 hours apart.\nExpected one value a day.",
    monthly: "grid.nc: its times are 30 days apart.\nExpected one value a day.",
    unit: 'grid.nc, variable pr: its unit "furlong" does not fit precipitation_flux.',
    no_unit: "grid.nc, variable tasmax: it has no unit.",
    twice: 'grid.nc: "tasmax" and "also" can both be tmax.',
    all_leap: 'grid.nc: its calendar is "all_leap", whose days are not those of the year.',
    lambda made: made.drop_vars("lat"): "grid.nc: it has no latitude.",
    lambda made: made.drop_vars("orog"): "grid.nc: the elevation of the places is not known.",
    lambda made: made[["orog"]]: "grid.nc: there is no weather in it.",
    lambda made: made.isel(time=[1, 2, 3, 3, 4]): "grid.nc: 2019-01-04 is there twice.",
}


@pytest.mark.parametrize("spoil", BAD, ids=lambda spoil: spoil.__name__)
def test_what_is_wrong_with_a_whole_file_is_said_once(made, tmp_path, spoil):
    spoil(made).to_netcdf(tmp_path / "grid.nc")
    with pytest.raises(InputError) as caught:
        read_places(tmp_path / "grid.nc")
    assert caught.value.text.startswith(BAD[spoil])


def test_files_that_do_not_go_together(made, tmp_path):
    made[["tasmax", "orog"]].to_netcdf(tmp_path / "a.nc")
    made[["tasmin"]].assign_coords(lat=[48.0, 49.5]).to_netcdf(tmp_path / "b.nc")
    with pytest.raises(InputError, match=r"b.nc: its place 4 has latitude 49.5, in a.nc 49"):
        read_places([tmp_path / "a.nc", tmp_path / "b.nc"])
    made.isel(lon=[0]).to_netcdf(tmp_path / "c.nc")
    with pytest.raises(InputError, match=r"c.nc: it has 2 places, a.nc has 6"):
        read_places([tmp_path / "a.nc", tmp_path / "c.nc"])
    made.isel(time=slice(0, 50)).to_netcdf(tmp_path / "d.nc")
    with pytest.raises(InputError, match=r"2019-01-01 is there and in a.nc"):
        read_places([tmp_path / "a.nc", tmp_path / "d.nc"])
    (tmp_path / "e.csv").write_text("date,rain\n")
    with pytest.raises(InputError, match=r"e.csv: it is of another kind than a.nc"):
        read_places([tmp_path / "a.nc", tmp_path / "e.csv"])
    with pytest.raises(InputError, match=r"f.nc: there is no such file or folder"):
        read_places(tmp_path / "f.nc")
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match=r"empty: the folder is empty"):
        read_places(tmp_path / "empty")
    (tmp_path / "g.nc").write_bytes((tmp_path / "a.nc").read_bytes()[:3000])
    with pytest.raises(InputError, match=r"g.nc: it can't be opened"):
        read_places(tmp_path / "g.nc")


def test_places_that_differ_in_longitude_alone_are_others(made, tmp_path):
    made[["tasmax", "orog"]].to_netcdf(tmp_path / "a.nc")
    made[["tasmin"]].assign_coords(lon=[350.0, 355.0, 0.5]).to_netcdf(tmp_path / "b.nc")
    with pytest.raises(InputError, match=r"b.nc: its place 3 has longitude 0.5, in a.nc 0"):
        read_places([tmp_path / "a.nc", tmp_path / "b.nc"])


def test_days_in_two_files_are_told_by_both(made, tmp_path):
    """From 10 February 2019 on, the 41st day."""
    made.isel(time=slice(0, 50)).to_netcdf(tmp_path / "a.nc")
    made.isel(time=slice(40, 100)).to_netcdf(tmp_path / "b.nc")
    with pytest.raises(InputError) as caught:
        read_places([tmp_path / "a.nc", tmp_path / "b.nc"])
    assert caught.value.text.startswith("b.nc: 2019-02-10 is there and in a.nc.")


def test_one_day_and_a_single_level_are_as_good_as_none(made, tmp_path):
    """Beside bounds of the days, as climate models have them."""
    one = made.isel(time=[20])
    one["tasmax"] = one["tasmax"].expand_dims(level=[2.0])
    ends = one["time"].values[:, None] + np.array([[0, 1]]) * np.timedelta64(1, "D")
    one.assign(time_bnds=(("time", "bnds"), ends)).to_netcdf(tmp_path / "one.nc")
    ready = read_places(tmp_path / "one.nc").compute()
    assert ready["time"].values.tolist() == one["time"].values.tolist()
    warm = np.delete(made["tasmax"].values[20].reshape(-1), 5) - 273.15  # the last is sea
    assert ready["tmax"].values[:5, 0] == pytest.approx(warm, abs=1e-4)


@pytest.mark.parametrize("calendar", ["360_day", "noleap"])
def test_other_calendars_are_handled_and_said(made, tmp_path, calendar):
    path = tmp_path / "grid.nc"
    axis = xr.date_range("2019-01-01", periods=500, calendar=calendar, use_cftime=True)
    made.assign_coords(time=axis).to_netcdf(path)
    ready = read_places(path).compute()
    one = read_weather(path, point=cells(made)[0])
    assert_same(one["et0"].values, one_place(ready, 0)["et0"].values)
    assert ready["filled_days"].values[0] == one["filled"].values.sum() > 0
    assert "days" in ready.attrs["assumptions"][0]
    assert ready.attrs["assumptions"][0] in one.attrs["assumptions"]


def test_a_place_out_of_range_is_named(made, tmp_path):
    made["orog"][0, 0] = 9999.0
    made["tasmax"][3, 0, 1] = 400.0
    made.to_netcdf(tmp_path / "grid.nc")
    why = read_places(tmp_path / "grid.nc")["unfit"].values
    assert "9999" in why[0]
    assert why[1] == "126.85 degC is not possible" or "not possible" in why[1]
    assert why[3] == why[4] == ""


# --- headers of grids that others give out -------------------------------------------------------

# Name in the file: our quantity, unit, other attributes. All from memory but the second, which is
# the header of a file of Daymet 4 as several public repositories print it (its temperatures and
# vapour pressure from memory again).
HEADERS = {
    "tx, tn, rr of a European grid": {
        "tx": ("tmax", "Celsius", {"standard_name": "air_temperature"}),
        "tn": ("tmin", "Celsius", {"standard_name": "air_temperature"}),
        "rr": ("rain", "mm", {"standard_name": "thickness_of_rainfall_amount"}),
        "hu": ("rh", "%", {"standard_name": "relative_humidity"}),
    },
    "no CF names": {
        "tmax": ("tmax", "degrees C", {"cell_methods": "area: mean time: maximum"}),
        "tmin": ("tmin", "degrees C", {"cell_methods": "area: mean time: minimum"}),
        "prcp": ("rain", "mm/day", {"cell_methods": "area: mean time: sum"}),
        "vp": ("vapour", "Pa", {}),
    },
    "an axis called day, rain in mm": {
        "tmmx": ("tmax", "K", {"standard_name": "tmmx"}),
        "tmmn": ("tmin", "K", {"standard_name": "tmmn"}),
        "precipitation_amount": ("rain", "mm", {"standard_name": "precipitation_amount"}),
    },
    "rain of a name that CF does not have": {
        "tasmax": ("tmax", "K", {"standard_name": "air_temperature"}),
        "tasmin": ("tmin", "K", {"standard_name": "air_temperature"}),
        "precip": ("rain", "mm/day", {"standard_name": "convective precipitation rate"}),
    },
    "a flux in mm a day": {
        "tasmax": ("tmax", "K", {"standard_name": "air_temperature"}),
        "tasmin": ("tmin", "K", {"standard_name": "air_temperature"}),
        "pr": ("rain", "mm/day", {"standard_name": "precipitation_flux"}),
    },
}
_DAYS = np.arange(60)
_TRUE = {  # that no day is like the one before, else it would be refused
    "tmax": 22.0 + _DAYS % 7 / 2,
    "tmin": 10.0 + _DAYS % 5 / 2,
    "rain": np.where(_DAYS % 3 == 0, 3.5 + _DAYS % 11 / 2, 0.0),
    "rh": 60.0 + _DAYS % 13,
    "vapour": 1100.0 + 10 * (_DAYS % 13),
}


@pytest.mark.parametrize("which", HEADERS)
def test_headers_of_grids_of_others(tmp_path, which):
    """The same weather under each header."""
    header = HEADERS[which]
    axis = "day" if "day" in which.split() else "time"
    found = xr.Dataset(
        coords={
            axis: np.datetime64("2021-01-01", "ns") + np.arange(60) * np.timedelta64(1, "D"),
            "lat": ("lat", [48.0, 49.0], {"standard_name": "latitude"}),
            "lon": ("lon", [15.0, 16.0, 17.0], {"standard_name": "longitude"}),
        }
    )
    for name, (what, unit, about) in header.items():
        values = _TRUE[what] + (273.15 if unit == "K" else 0.0)
        found[name] = ((axis, "lat", "lon"), np.tile(values[:, None, None], (1, 2, 3)))
        found[name].attrs = {"units": unit, **about}
    found.to_netcdf(tmp_path / "grid.nc")
    ready = read_places(tmp_path / "grid.nc", elevation=200).compute()
    assert ready["unfit"].values.tolist() == [""] * 6
    for name, size in (("tmax", 1.0), ("tmin", 1.0), ("rain", 0.001)):
        assert np.allclose(ready[name].values, _TRUE[name] * size, rtol=1e-9, atol=1e-9), name
    if "vp" in header:
        assert np.allclose(ready["vapour_pressure"].values, _TRUE["vapour"] / 1000.0)
    assert (ready["humidity_days"].values == (0 if len(header) == 4 else 60)).all()


def test_a_unit_that_fits_no_rain_is_still_refused(tmp_path):
    made = grid()
    made["pr"].attrs["units"] = "m s-2"
    made.to_netcdf(tmp_path / "grid.nc")
    with pytest.raises(InputError, match='its unit "m s-2" does not fit precipitation_flux'):
        read_places(tmp_path / "grid.nc")
