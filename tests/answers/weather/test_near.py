"""bedtide weather --near: a place becomes a file, which every command reads."""

import datetime
import functools

import pytest

from bedtide.weather import fetch
from helpers.services import Reply, power, service


@pytest.fixture
def there(monkeypatch, tmp_path):
    """A service on this machine in place of the real ones."""
    with service(Reply(power)) as made:
        near = functools.partial(
            fetch.fetch_weather, address=made.address, cache=tmp_path / "cache"
        )
        monkeypatch.setattr("bedtide.weather.fetch_weather", near, raising=False)
        yield made


def test_a_place_becomes_a_file_and_is_described(cli, tmp_path, there):
    path = tmp_path / "home.csv"
    result = cli("weather", "--near", "51.9,4.5", "--from", "2019", "--to", "2020", "--save", path)
    assert result.exit_code == 0, result.stderr
    assert f"Written: {path}" in result.stderr
    assert result.stdout.startswith("51.90 N, 4.50 E (NASA POWER): ")
    assert "1 January 2019 to 31 December 2020: 731 days, 51.9 degrees north, 12 m" in result.stdout
    asked = there.asked[0].query
    assert (asked["start"], asked["end"]) == ("20190101", "20191231")
    # the file alone says the same
    assert cli("weather", path).stdout == result.stdout


def test_a_season_runs_on_the_file(cli, tmp_path, there, bed_file):
    path = tmp_path / "home.csv"
    cli("weather", "--near", "51.9,4.5", "--from", "2020-05-01", "--to", "2020-05-20",
        "--save", path)  # fmt: skip
    result = cli("season", bed_file, path)
    assert result.exit_code == 0, result.stderr
    assert "NASA POWER" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("51.9,4.5", "51.90", "4.50"),
        ("-33.9,151.2", "-33.90", "151.20"),
        ("33.9S,151.2E", "-33.90", "151.20"),
        ("40.7 N, 74.0 W", "40.70", "-74.00"),
    ],
)
def test_how_a_place_is_written(cli, tmp_path, there, text, latitude, longitude):
    words = ("--from", "2020-05-01", "--to", "2020-05-09", "--save", tmp_path / "a.csv")
    result = cli("weather", "--near", text, *words)
    assert result.exit_code == 0, result.stderr
    asked = there.asked[0].query
    assert (asked["latitude"], asked["longitude"]) == (latitude, longitude)


def test_thirty_years_where_no_day_is_given(cli, tmp_path, there):
    result = cli("weather", "--near", "51.9,4.5", "--save", tmp_path / "a.csv")
    assert result.exit_code == 0, result.stderr
    last = datetime.date.today() - datetime.timedelta(days=10)
    assert there.asked[0].query["start"] == f"{last.year - 30}0101"
    assert there.asked[-1].query["end"] == f"{last:%Y%m%d}"


def test_a_service_that_refuses_is_a_message(cli, tmp_path, monkeypatch):
    with service(Reply("", 404)) as gone:
        near = functools.partial(fetch.fetch_weather, address=gone.address, cache=tmp_path)
        monkeypatch.setattr("bedtide.weather.fetch_weather", near, raising=False)
        result = cli("weather", "--near", "51.9,4.5", "--save", tmp_path / "a.csv")
    assert result.exit_code == 2
    assert "NASA POWER: it refused (status 404)" in result.stderr
    assert not (tmp_path / "a.csv").exists()
