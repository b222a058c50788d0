"""A runner, and a quick stand-in for the model where only the wiring is of interest."""

from collections.abc import Callable
from pathlib import Path

import pytest
import xarray as xr
from click.testing import CliRunner, Result

from bedtide import run_season
from bedtide.bed import example_text
from bedtide.cli import main
from bedtide.tables import sample_weather
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather
from helpers.seasons import bucket_year
from helpers.weather_text import HEAD, weather_rows

RunCli = Callable[..., Result]


@pytest.fixture(scope="session")
def compiled() -> None:
    """Have the step compiled before, so that no command has to say that it is being prepared."""
    run_season(bed_with(), plain_weather("2023-06-01", 2))


@pytest.fixture
def cli(compiled: None) -> RunCli:
    """Run the command line in-process; output and errors are kept apart."""

    def run(*words: object) -> Result:
        return CliRunner().invoke(main, [str(word) for word in words])

    return run


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> list[dict]:
    """Put a made-up season in place of the model; what it was asked for is in the list."""
    asked: list[dict] = []

    def run_season(bed, weather, *, start=None, end=None) -> xr.Dataset:
        asked.append({"bed": bed, "weather": weather, "start": start, "end": end})
        days = (end - start).days + 1
        season = bucket_year(str(start), days=days)
        season.attrs["title"] = bed.name
        season.attrs["weather_place"] = weather.attrs["place"]
        season.attrs["weather_source"] = weather.attrs["source"]
        season.attrs["assumptions"] = weather.attrs["assumptions"]
        return season

    monkeypatch.setattr("bedtide.balance.run_season", run_season)
    return asked


@pytest.fixture
def bed_file(tmp_path: Path) -> Path:
    """The example bed as a file."""
    path = tmp_path / "bed.toml"
    path.write_text(example_text(), encoding="utf-8")
    return path


@pytest.fixture
def weather_file(tmp_path: Path) -> Path:
    """Sixty days of weather as a file."""
    path = tmp_path / "weather.csv"
    path.write_text(HEAD + "\n".join(weather_rows(60)) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def two_years(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two years of the wet sample, as a file."""
    lines = sample_weather("mistlebeck").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[:4].isdigit() or line[:4] in ("2022", "2023")]
    path = tmp_path_factory.mktemp("weather") / "weather.csv"
    path.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return path


def left_in(folder: Path) -> list[str]:
    """Names of what is in a folder, sorted."""
    return sorted(path.name for path in folder.iterdir())
