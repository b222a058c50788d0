import netCDF4  # noqa: F401  (its import warns about numpy when it comes later)
import numpy as np
import pytest
import xarray as xr

from bedtide.errors import InputError
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers import weather_files as wf


def dataset():
    days, v = wf.truth()
    ds = xr.Dataset(
        {
            "tasmax": ("time", v["tmax"] + 273.15),
            "tasmin": ("time", v["tmin"] + 273.15),
            "pr": ("time", v["rain"] / 86400.0),
            "hurs": ("time", np.full(len(days), 0.6)),
            "rsds": ("time", np.full(len(days), 120.0)),
            "sfcWind": ("time", np.full(len(days), 3.0)),
        },
        coords={"time": days.astype("datetime64[ns]") + np.timedelta64(12, "h")},
    )
    names = {
        "tasmax": ("air_temperature", "K", "time: maximum"),
        "tasmin": ("air_temperature", "K", "time: minimum"),
        "pr": ("precipitation_flux", "kg m-2 s-1", "time: mean"),
        "hurs": ("relative_humidity", "1", "time: mean"),
        "rsds": ("surface_downwelling_shortwave_flux_in_air", "W m-2", "time: mean"),
        "sfcWind": ("wind_speed", "m s-1", "time: mean"),
    }
    for key, (standard, units, methods) in names.items():
        ds[key].attrs = {"standard_name": standard, "units": units, "cell_methods": methods}
    ds = ds.assign_coords(lat=48.0, lon=16.0, height=10.0, alt=200.0)
    ds["lat"].attrs = {"standard_name": "latitude", "units": "degrees_north"}
    ds["lon"].attrs = {"standard_name": "longitude", "units": "degrees_east"}
    ds["height"].attrs = {"standard_name": "height", "units": "m"}
    ds["alt"].attrs = {"standard_name": "surface_altitude", "units": "m"}
    return ds


@pytest.fixture
def save(tmp_path):
    def _save(ds, engine="netcdf4", **options):
        path = tmp_path / "w.nc"
        ds.to_netcdf(path, engine=engine, **options)
        return path

    return _save


@pytest.mark.parametrize("kind", ["NETCDF4", "NETCDF3_CLASSIC"])
def test_a_point(save, kind):
    weather = read_weather(save(dataset(), format=kind))
    _, v = wf.truth()
    np.testing.assert_allclose(weather["tmax"], v["tmax"], atol=1e-9)
    np.testing.assert_allclose(weather["rain"] * 1000, v["rain"], atol=1e-9)
    np.testing.assert_allclose(weather["solar_radiation"], 120 * 0.0864)
    np.testing.assert_allclose(weather["wind_speed"], 3.0 * 4.87 / np.log(672.58))
    assert weather.attrs["latitude"] == 48.0
    assert weather.attrs["elevation"] == 200.0
    assert weather["estimated"].values.max() == 0


def test_a_grid_asks_for_a_point(save):
    grid = dataset().drop_vars(["lat", "lon"])
    grid = xr.concat([grid + 0.0, grid + 1.0, grid + 2.0], "lat").assign_coords(
        lat=[47.0, 48.0, 49.0]
    )
    for key in grid.data_vars:
        grid[key].attrs = dataset()[key].attrs
    grid = xr.concat([grid, grid], "lon").assign_coords(lon=[344.0, 345.0])
    for key in grid.data_vars:
        grid[key].attrs = dataset()[key].attrs
    path = save(
        grid[["tasmax", "tasmin"]].assign(pr=(grid["pr"] * 0).assign_attrs(grid["pr"].attrs))
    )
    with pytest.raises(InputError) as caught:
        read_weather(path, elevation=0)
    assert "3 by 2 places" in caught.value.text
    assert "Say which one with  point" in caught.value.text
    weather = read_weather(path, elevation=0, point=(48.2, -15.2))
    np.testing.assert_allclose(weather["tmax"], wf.truth()[1]["tmax"] + 1.0, atol=1e-9)
    assert weather.attrs["latitude"] == 48.0
    with pytest.raises(InputError, match="outside the grid"):
        read_weather(path, elevation=0, point=(10.0, -15.0))


def test_of_a_list_of_stations_the_nearest_one_is_read(save):
    one = dataset().drop_vars(["lat", "lon"])
    stations = xr.concat([one, one + 1.0, one + 2.0], "station", combine_attrs="override")
    for key in one.data_vars:
        stations[key].attrs = one[key].attrs
    places = {"lat": [48.0, 48.1, 50.0], "lon": [16.0, 20.0, 16.0]}
    path = save(stations.assign_coords({name: ("station", at) for name, at in places.items()}))
    weather = read_weather(path, point=(48.09, 16.1))
    assert weather.attrs["latitude"] == 48.0
    np.testing.assert_allclose(weather["tmax"], wf.truth()[1]["tmax"], atol=1e-9)


def test_leap_days_that_the_calendar_does_not_have_are_gaps(save):
    ds = dataset()
    days, _ = wf.truth(40, np.datetime64("2020-02-20"))
    keep = [str(d) != "2020-02-29" for d in days]
    ds = ds.isel(time=np.flatnonzero(keep)).assign_coords(
        time=xr.date_range("2020-02-20", periods=39, calendar="noleap", use_cftime=True)
    )
    weather = read_weather(save(ds))
    assert weather.sizes["time"] == 40
    assert np.flatnonzero(weather["filled"].values).tolist() == [9]
    assert any("has no leap days" in said for said in weather.attrs["assumptions"])


def test_a_year_of_thirty_day_months_is_spread_over_the_real_one(save):
    days = 720
    values = np.arange(days) % 25 + 10.0
    rain = np.where(values % 3 == 0, values, 0.0)
    ds = xr.Dataset(
        {
            "tasmax": ("time", values, {"standard_name": "air_temperature", "units": "degC"}),
            "tasmin": ("time", values - 8, {"standard_name": "air_temperature", "units": "degC"}),
            "pr": ("time", rain, {"standard_name": "precipitation_amount", "units": "kg m-2"}),
        },
        coords={
            "time": xr.date_range("2019-01-01", periods=days, calendar="360_day", use_cftime=True)
        },
    )
    weather = read_weather(save(ds), latitude=48, elevation=0)
    assert str(weather["time"].values[0])[:10] == "2019-01-01"
    assert str(weather["time"].values[-1])[:10] == "2020-12-31"
    gaps = weather["filled"].values
    # 5 days of 2019 and 6 of 2020 are left over, each by itself and far from the next
    assert gaps[:365].sum() == 5
    assert gaps[365:].sum() == 6
    assert np.diff(np.flatnonzero(gaps)).min() > 50
    np.testing.assert_array_equal(weather["tmax"].values[~gaps], values)
    np.testing.assert_allclose(weather["rain"].values.sum() * 1000, rain.sum())
    assert any("has 360 days" in said for said in weather.attrs["assumptions"])


def test_a_calendar_with_a_leap_day_in_every_year_is_refused(save):
    ds = dataset().assign_coords(
        time=xr.date_range("2019-02-20", periods=40, calendar="all_leap", use_cftime=True)
    )
    with pytest.raises(InputError, match="whose days are not those of the year"):
        read_weather(save(ds))


def test_a_unit_of_another_kind_is_named(save):
    ds = dataset()
    ds["pr"].attrs["units"] = "K"
    with pytest.raises(InputError) as caught:
        read_weather(save(ds))
    assert "variable pr" in caught.value.text
    assert 'its unit "K" does not fit precipitation_flux' in caught.value.text


@pytest.mark.parametrize("cut", [10, 100, 3000])
def test_a_file_cut_short(save, cut):
    path = save(dataset())
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(InputError):
        read_weather(path)


def test_our_own_dataset_comes_back(tmp_path):
    first = read_weather(samples_folder() / "mistlebeck.csv", end="1996-12-31")
    path = tmp_path / "own.nc"
    first.to_netcdf(path)
    again = read_weather(path)
    for key in ("tmax", "tmin", "vapour_pressure", "wind_speed", "solar_radiation", "rain", "et0"):
        np.testing.assert_allclose(again[key], first[key], rtol=1e-9, atol=1e-12, err_msg=key)


def test_hourly_amounts_are_added(save):
    hours = np.datetime64("2021-06-01", "ns") + np.arange(72) * np.timedelta64(1, "h")
    ds = xr.Dataset(
        {
            "t": ("time", 15.0 + 5 * np.sin(np.arange(72) * np.pi / 12)),
            "r": ("time", np.full(72, 0.5)),
        },
        coords={"time": hours},
    )
    ds["t"].attrs = {"standard_name": "air_temperature", "units": "degC"}
    ds["r"].attrs = {"standard_name": "precipitation_amount", "units": "kg m-2"}
    path = save(ds)
    with pytest.raises(InputError, match="universal time"):
        read_weather(path, latitude=48, elevation=0)
    weather = read_weather(path, latitude=48, elevation=0, time_zone="UTC")
    np.testing.assert_allclose(weather["rain"], 0.012)
    np.testing.assert_allclose(weather["tmax"], 20.0)


@pytest.mark.parametrize("kind", ["NETCDF4", "NETCDF3_CLASSIC"])
def test_a_file_cut_anywhere_is_refused_or_read_right(save, kind):
    path = save(dataset(), format=kind)
    data = path.read_bytes()
    whole = read_weather(path)
    refused = 0
    for cut in range(0, len(data), max(1, len(data) // 60)):
        path.write_bytes(data[:cut])
        try:
            weather = read_weather(path)
        except InputError:
            refused += 1
            continue
        for name in ("tmax", "tmin", "rain", "et0"):
            np.testing.assert_array_equal(weather[name], whole[name])
    assert refused > 50
