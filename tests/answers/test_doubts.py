"""What `bedtide weather` calls suspicious is said by every command that uses the record."""

import datetime
import json

import numpy as np
import pytest

from bedtide import compare, example_bed, read_weather, run_season
from bedtide.report.templates import line
from bedtide.weather import doubts

HEAD = "# place: Made up\n# latitude: 50\n# elevation: 100 m\ndate,tmax (C),tmin (C),rain (mm)\n"


def rows(year: int, times: float = 1.0) -> str:
    """A year of weather; its rain, about 550 mm, times a factor."""
    lines = []
    for at in range(365):
        day = datetime.date(year, 1, 1) + datetime.timedelta(days=at)
        warm = 14 - 10 * np.cos(2 * np.pi * at / 365) + at % 5 / 3
        rain = (3.0 + at % 7 / 2) * times if at % 3 == 0 else 0.0
        lines.append(f"{day},{warm:.1f},{warm - 8 - at % 4 / 2:.1f},{rain:.1f}")
    return "\n".join(lines) + "\n"


@pytest.fixture
def tenfold(tmp_path):
    """Two years, the second of which has its rain in tenths of a millimetre taken for mm."""
    path = tmp_path / "tenfold.csv"
    path.write_text(HEAD + rows(2021) + rows(2022, 12.0))
    return path


SENTENCE = "the rain of 2022 comes to"


def test_a_record_carries_its_doubts_and_a_run_those_of_its_days(tenfold):
    weather = read_weather(tenfold)
    assert len(doubts(weather)) == 1
    assert SENTENCE in doubts(weather)[0]
    days = np.arange("2021-01-01", "2021-12-31", dtype="datetime64[D]")
    assert doubts(weather, days) == []
    assert doubts(weather, days[-1:] + np.timedelta64(2, "D")) == doubts(weather)
    assert doubts(weather.drop_attrs()) == []
    bed = example_bed()
    in_doubt = run_season(bed, weather, start="2022-05-01", end="2022-05-09")
    assert in_doubt.attrs["weather_doubts"] == doubts(weather)
    sound = run_season(bed, weather, start="2021-05-01", end="2021-05-09")
    assert sound.attrs["weather_doubts"] == []
    assert compare([bed], weather).attrs["weather_doubts"] == doubts(weather)


def test_the_longest_stands_first(tmp_path):
    lines = rows(2022, 12.0).splitlines()
    day, _, *rest = lines[40].split(",")
    lines[40] = ",".join([day, "40.0", *rest])  # a jump of one day
    path = tmp_path / "two.csv"
    path.write_text(HEAD + "\n".join(lines) + "\n")
    found = doubts(read_weather(path))
    assert len(found) == 2
    assert SENTENCE in found[0]
    assert "degrees from the days before and after" in found[1]


@pytest.mark.parametrize(
    "words",
    [
        ("season", "--from", "2022-05-01", "--to", "2022-05-20"),
        ("compare",),
        ("wet-spell", "--spell", "3 days"),
        ("away", "--leave", "2027-07-10", "--days", "9", "--try", "none"),
        ("away", "--all-dates"),
    ],
)
def test_every_command_says_it_in_one_line(cli, bed_file, tmp_path, tenfold, words):
    command, *more = words
    if command == "compare":
        more = [*more, "--vary", "box.depth=40cm,45cm"]
    result = cli(command, bed_file, tenfold, *more)
    assert result.exit_code == 0, result.stderr
    said = " ".join(result.stdout.split())
    assert f"Doubtful weather: {SENTENCE}" in said
    assert said.count("Doubtful weather") == 1
    assert "Look at it with `bedtide weather` first." in said
    figures = json.loads(cli(command, bed_file, tenfold, *more, "--json").stdout)
    assert figures["weather_doubts"] == doubts(read_weather(tenfold))


def test_a_sound_record_is_not_doubted(cli, bed_file, tmp_path):
    path = tmp_path / "sound.csv"
    path.write_text(HEAD + rows(2021))
    result = cli("season", bed_file, path, "--from", "2021-05-01", "--to", "2021-05-20")
    assert result.exit_code == 0, result.stderr
    assert "oubt" not in result.stdout.split("Take care")[0]
    assert (
        json.loads(
            cli(
                "season", bed_file, path, "--from", "2021-05-01", "--to", "2021-05-20", "--json"
            ).stdout
        )["weather_doubts"]
        == []
    )


@pytest.mark.parametrize(
    ("sentences", "expected"),
    [
        ([], ""),
        (["odd."], "Doubtful weather: odd. Look at it with `bedtide weather` first."),
        (["odd?", "b."], "Doubtful weather: odd? And 1 more doubt. Look at it with"),
        (["odd?", "b.", "c."], "Doubtful weather: odd? And 2 more doubts. Look at it with"),
    ],
)
def test_the_line(sentences, expected):
    said = line("{{ said.doubts(doubts) }}", doubts=sentences)
    assert said.startswith(expected)
    assert bool(said) == bool(sentences)
    assert "\n" not in said
