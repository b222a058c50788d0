"""A made-up region of two by three places and two beds, as files."""

from pathlib import Path

import pytest
import xarray as xr

from bedtide.bed import example_text
from helpers.region import region_of


@pytest.fixture(scope="session")
def region() -> xr.Dataset:
    return region_of(2, 3, "2022-01-01", "2022-12-31")


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory, region: xr.Dataset) -> Path:
    """With region.nc, kitchen.toml and deep.toml; not to be written to."""
    found = tmp_path_factory.mktemp("region")
    region.to_netcdf(found / "region.nc")
    text = example_text()
    (found / "kitchen.toml").write_text(text, encoding="utf-8")
    deep = text.replace('"Kitchen bed"', '"Deep bed"').replace('depth = "17 in"', 'depth = "22 in"')
    assert deep.count("Deep bed") == 1
    (found / "deep.toml").write_text(deep, encoding="utf-8")
    return found


@pytest.fixture
def words(folder: Path) -> list[object]:
    """A command for both beds, in this process."""
    beds = ["--bed", folder / "kitchen.toml", "--bed", folder / "deep.toml"]
    return ["map", folder / "region.nc", *beds, "--workers", 1, "--units", "metric"]
