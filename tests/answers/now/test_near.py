"""bedtide now --near: the days of a service go on after the record; where it fails, past years."""

import datetime
import functools
import json

import pytest

from bedtide.weather import fetch
from helpers.services import Reply, meteo, service, weather_of

DAY = datetime.timedelta(days=1)
TODAY = datetime.date.today()


@pytest.fixture
def record(tmp_path):
    """Two years of the weather that the service has too, up to five days ago."""
    names = "date,tmax (C),tmin (C),dew point (C),wind (m/s),solar radiation (MJ/m2),rain (mm)"
    lines = ["# latitude: 51.9", "# elevation: 3 m", "# wind height: 10 m", "# rain day: midnight"]
    lines.append(names)
    for at in range(730, 4, -1):
        day = TODAY - at * DAY
        lines.append(",".join([str(day), *(f"{value:g}" for value in weather_of(day)[:6])]))
    path = tmp_path / "record.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def ask(cli, monkeypatch, tmp_path, bed_file, record):
    """The command with a service on this machine in place of the real one."""
    monkeypatch.setattr(fetch, "_WAITS", {"busy": (), "broken": (), "no connection": ()})

    def run(reply: Reply, *words, weather=record):
        with service(reply) as there:
            near = functools.partial(
                fetch.fetch_forecast, address=there.address, cache=tmp_path / "cache"
            )
            monkeypatch.setattr("bedtide.weather.fetch_forecast", near, raising=False)
            files = [] if weather is None else [bed_file, weather]
            return cli("now", *files, "--near", "51.9,4.5", *words), there.asked

    return run


def test_a_service_goes_on_after_the_record(ask, tmp_path, record, cli, bed_file):
    result, asked = ask(Reply(meteo), "--level", "40 %", "--json")
    assert result.exit_code == 0, result.stderr
    query = asked[0].query
    assert (query["latitude"], query["longitude"]) == ("51.90", "4.50")
    assert query["start_date"] == str(TODAY - 4 * DAY)
    assert query["end_date"] == str(TODAY + 14 * DAY)
    assert query["daily"].startswith("temperature_2m_max,temperature_2m_min,dew_point_2m_mean")
    figures = json.loads(result.stdout)
    assert figures["weather_to"] == str(TODAY - 5 * DAY)
    assert (figures["today"], figures["recent_days"]) == (str(TODAY), 4)
    assert (figures["forecast_days"], figures["forecast_to"]) == (15, str(TODAY + 14 * DAY))
    assert "Open-Meteo, forecast" in figures["forecast_source"]
    # The same days given as files, the record with those that are over, say the same.
    lines = record.read_text(encoding="utf-8").splitlines()
    whole, ahead = tmp_path / "whole.csv", tmp_path / "ahead.csv"
    days = [TODAY + at * DAY for at in range(-4, 15)]
    more = [",".join([str(day), *(f"{value:g}" for value in weather_of(day)[:6])]) for day in days]
    whole.write_text("\n".join([*lines, *more[:4]]) + "\n", encoding="utf-8")
    ahead.write_text("\n".join([*lines[:5], *more[4:]]) + "\n", encoding="utf-8")
    again = cli("now", bed_file, whole, ahead, "--level", "40 %", "--json")
    assert again.exit_code == 0, again.stderr
    by_file = json.loads(again.stdout)
    for name in ("fill", "fill_litres", "empty", "empty_earliest", "cases", "ahead"):
        assert (
            by_file[name] == pytest.approx(figures[name])
            if name == "fill_litres"
            else (by_file[name] == figures[name])
        )


def test_the_words_say_which_days_are_whose(ask):
    result, _ = ask(Reply(meteo))
    said = " ".join(result.stdout.split())
    assert "(Open-Meteo, forecast) to " in said
    assert "(its first 4 days over by now)" in said


@pytest.mark.parametrize(
    ("reply", "message"),
    [
        (Reply("", 503), "it is out of order (status 503)"),
        (Reply('{"error": true, "reason": "no such day"}', 400), "no such day"),
        (Reply("<html>log in</html>"), "a page for browsers"),
        (Reply(meteo, short=40), "its answer broke off half way"),
    ],
)
def test_without_the_service_past_years_go_on(ask, cli, bed_file, record, reply, message):
    result, _ = ask(reply, "--level", "40 %")
    assert result.exit_code == 0
    assert message in result.stderr
    assert result.stderr.count("Open-Meteo, forecast:") == 1
    assert f"Past years alone go on, from {TODAY - 4 * DAY} on." in result.stderr
    assert result.stdout == cli("now", bed_file, record, "--level", "40 %").stdout


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--to", str(TODAY - 9 * DAY)], "--near: --to was given too"),
        (["--near", "Utrecht"], '"Utrecht" is not a latitude and a longitude'),
    ],
)
def test_what_does_not_go_together_is_refused(ask, words, message):
    result, asked = ask(Reply(meteo), *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert asked == []


def test_weather_that_ended_long_ago_is_refused(ask):
    result, asked = ask(Reply(meteo), weather=None)  # the built-in weather
    assert result.exit_code == 2
    assert "Open-Meteo, forecast: it has no days from" in result.stderr
    assert asked == []
