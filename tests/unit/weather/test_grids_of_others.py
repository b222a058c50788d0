"""Grids as others give them out: their headers from files in public repositories, values ours."""

import re
from pathlib import Path

import netCDF4  # noqa: F401  (its import warns about numpy when it comes later)
import numpy as np
import pytest
import xarray as xr

from bedtide.weather import read_places

GRIDS = Path(__file__).parent / "grids"
AXES = {"time": (0.0, 1.0), "lat": (44.0, 0.5), "lon": (-75.0, 0.5)}  # first value, step
CITIES = ["Halifax", "Montréal", "Iqaluit", "Saskatoon", "Victoria"]
VALUES = {
    **{"tasmax": 295.0, "tasmin": 285.0, "tas": 290.0, "tdps": 284.0},  # K
    **{"pr": 2.0 / 86400.0, "hurs": 0.7, "rsds": 60.0, "sfcWind": 3.0},
}


def file_of(tmp_path, name, **sizes):
    """A file with the header of a CDL text, some of its dimensions cut or longer."""
    text = (GRIDS / f"{name}.cdl").read_text(encoding="utf-8")
    sizes = {dim: int(size) for dim, size in re.findall(r"(?m)^  (\w+) = (\d+) ;", text)} | sizes
    found = xr.Dataset()
    time = xr.DataArray(np.arange(sizes["time"]), dims="time")
    year = 1.0 + 0.02 * np.sin(2.0 * np.pi * time / 365.0)
    for kind, key, dims in re.findall(r"(?m)^  (\w+) (\w+)\((.*)\) ;", text):
        shape = [sizes[dim] for dim in dims.split(", ")]
        values = xr.DataArray(np.full(shape, VALUES.get(key, 1.0)), dims=dims.split(", "))
        if kind == "string":
            values = xr.DataArray(CITIES, dims=values.dims)
        elif key in AXES:
            values[:] = AXES[key][0] + AXES[key][1] * np.arange(shape[0])
        elif "time" in values.dims:  # of rain 0, 2.5 and 5 mm
            values = values * (1.25 * (time % 3) if key == "pr" else year)
        found[key] = values.assign_attrs(re.findall(rf'(?m)^    {key}:(\w+) = "(.*)" ;', text))
    path = tmp_path / f"{name}.nc"
    found.to_netcdf(path)
    return path


@pytest.mark.parametrize(
    ("name", "days", "filled", "said"),
    [
        ("model_360_days", 360, 5, "360 days"),  # a year of 365
        ("model_365_days", 4 * 365, 1, "no leap days"),  # 1950 to 1953, with 29 February 1952
    ],
)
def test_climate_models_with_calendars_of_their_own(tmp_path, name, days, filled, said):
    path = file_of(tmp_path, name, time=days, lat=2, lon=2)
    ready = read_places(path, elevation=100.0).compute()
    assert ready["unfit"].values.tolist() == [""] * 4
    assert ready["filled_days"].values.tolist() == [filled] * 4
    assert any(said in each for each in ready.attrs["assumptions"])
    assert float(ready["tmax"].max()) == pytest.approx(295.0 * 1.02 - 273.15, abs=0.01)
    assert float(ready["rain"].max()) == pytest.approx(5e-3)  # m


def test_a_reanalysis_of_cities_with_a_share_of_humidity_and_rain_a_hair_below_nought(tmp_path):
    path = file_of(tmp_path, "reanalysis_of_cities")
    with xr.open_dataset(path) as opened:
        spoilt = opened.load()
    spoilt["pr"][:, 7] = -5.2e-10  # the least that the file itself holds: -0.00004 mm a day
    spoilt["pr"][4, 9] = -1e-5  # -0.9 mm: no rounding
    spoilt.to_netcdf(tmp_path / "cities.nc")
    ready = read_places(tmp_path / "cities.nc", elevation=100.0).compute()
    assert ready["place_name"].values.tolist()[:2] == ["Halifax", "Montréal"]
    assert ready["unfit"].values.tolist()[:4] == [""] * 4
    assert "not possible" in ready["unfit"].values[4]
    assert (ready["rain"].values[:4, 7] == 0.0).all()
    for name in ("humidity_days", "wind_days", "radiation_days"):  # none is estimated
        assert (ready[name].values[:4] == 0).all()
    # at most 61.2 W/m2 through a day of 86,400 s
    assert ready["solar_radiation"].values[:4].max() == pytest.approx(5.28768, abs=1e-3)
