"""Many places are one place many times over, to the last bit."""

import netCDF4  # noqa: F401  (its import warns about numpy when it comes later)
import numpy as np
import pytest

from bedtide.weather import Options, one_place, open_places, read_weather, ready_places
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
        for name in ("latitude", "elevation"):
            assert alone.attrs[name] == mine.attrs[name]
