"""Progress on a terminal alone; dates and columns as people write them."""

import datetime
import io
import sys

import click
import numpy as np
import pytest
from click.testing import CliRunner

from bedtide.bed import example_text
from bedtide.errors import FieldError, Option, Pieces, SeveralErrors, TimeAxisError
from bedtide.report.options import (
    Date,
    _units_of,
    progress,
    reading_words,
    to_option,
    typed,
    weather_options,
)
from bedtide.weather import OPTIONS


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("stream", [Terminal, io.StringIO])
def test_progress_shows_each_step_on_a_terminal_alone(monkeypatch, stream):
    told = stream()
    monkeypatch.setattr(sys, "stderr", told)
    with progress(2) as begin:
        begin("Reading")
        begin("Running")
    seen = told.getvalue()
    assert seen == "" or seen.index("Reading") < seen.index("Running") < seen.index("100%")
    assert bool(seen) == told.isatty()
    with pytest.raises(KeyboardInterrupt), progress(2):
        raise KeyboardInterrupt


def test_dates():
    option = click.Option(["--from"])
    assert Date().convert(" 2027-07-10 ", option, None) == datetime.date(2027, 7, 10)
    for text in ("2027-13-01", "10.7.2027", "July", ""):
        with pytest.raises(TimeAxisError, match="--from"):
            Date().convert(text, option, None)


def test_columns_become_a_mapping():
    words = reading_words({"columns": ("Hi = tmax, F", "a=b=c"), "latitude": None})
    assert words == {
        "columns": {"Hi": "tmax, F", "a": "b=c"},
        "latitude": None,
        "borrow": None,
    }
    assert reading_words({"columns": ()})["columns"] is None
    for text in ("Hi", "Hi=", "Hi= "):
        with pytest.raises(FieldError, match="does not say what the column is"):
            reading_words({"columns": (text,)})


@pytest.mark.parametrize(
    ("option", "in_python", "on_the_command_line"),
    [
        (Option("missing", "-9999"), 'missing="-9999"', "--missing -9999"),
        (Option("impossible", "drop"), 'impossible="drop"', "--impossible drop"),
        (Option("decimal", ","), 'decimal=","', "--decimal ,"),
        (Option("rain_day", "to morning"), 'rain_day="to morning"', "--rain-day 'to morning'"),
        (Option("columns"), "columns", "--column"),
        (
            Option("columns", {"Hi": "tmax, F"}),
            'columns={"Hi": "tmax, F"}',
            "--column 'Hi=tmax, F'",
        ),
        (Option("start"), "start", "--weather-from"),
        (Option("max_gap_days"), "max_gap_days", "--max-gap-days"),
    ],
)
def test_an_option_is_spelled_as_it_is_given(option, in_python, on_the_command_line):
    error = FieldError("a.csv", "it is odd", hint=Pieces("Say  ", option, "  or {leave} it"))
    assert str(error).splitlines()[-1] == f"Say  {in_python}  or {{leave}} it."
    told = error.told(typed).splitlines()
    assert told == ["a.csv: it is odd.", f"Say  {on_the_command_line}  or {{leave}} it."]


def test_several_errors_and_what_they_are_about_are_spelled_too():
    errors = [FieldError(Option("end"), "no"), FieldError("b", "no", hint=Option("stamps"))]
    assert SeveralErrors(errors).told(typed) == "--weather-to: no.\n\nb: no.\n--stamps."
    assert str(SeveralErrors(errors)) == "end: no.\n\nb: no.\nstamps."


def test_every_option_of_reading_is_on_the_command_line():
    command = click.command(weather_options(lambda **words: None))
    params = {param.name: param for param in command.params}
    assert list(params) == list(OPTIONS)
    assert params["start"].opts == ["--weather-from"]
    assert params["columns"].opts == ["--column"]
    assert params["hour_stamp"].opts == ["--hour-stamp"]
    assert params["date_order"].type.choices == ("dmy", "mdy")
    assert params["latitude"].type is click.FLOAT
    assert params["max_gap_days"].type is click.INT
    assert params["point"].nargs == 2
    assert {name for name, param in params.items() if param.multiple} == {
        "columns", "missing", "accept", "borrow",
    }  # fmt: skip


def test_a_command_that_takes_the_days_itself_keeps_its_own_names_for_them():
    @click.command
    @to_option
    @weather_options
    def command(end, **reading):
        raise FieldError(Option("end"), typed(Option("end")), hint=typed(Option("start")))

    assert [param.opts for param in command.params if param.name in ("start", "end")] == [
        ["--to"], ["--weather-from"],
    ]  # fmt: skip
    error = CliRunner().invoke(command, []).exception
    assert (error.problem, error.hint) == ("--to", "--weather-from")


GAP = """# latitude: 40.4
# elevation: 660
date,tmax (C),tmin (C),rain (mm)
"""


@pytest.mark.parametrize(
    ("words", "first", "last"),
    [
        ("season", "--from", "--to"),
        ("weather", "--from", "--to"),
        ("compare --vary box.depth=40cm,45cm", "--weather-from", "--weather-to"),
        ("away --leave 2021-07-01 --days 9", "--weather-from", "--weather-to"),
        ("wet-spell", "--weather-from", "--weather-to"),
        ("now --level 5cm", "--weather-from", "--to"),
        ("build", "--weather-from", "--weather-to"),
    ],
)
def test_what_settles_a_long_gap_is_an_option_of_the_command(cli, tmp_path, words, first, last):
    days = np.arange("2017-01-01", "2021-12-31", dtype="M8[D]")
    lost = (days >= np.datetime64("2017-06-01")) & (days <= np.datetime64("2017-06-09"))
    lost |= (days >= np.datetime64("2021-06-03")) & (days <= np.datetime64("2021-07-04"))
    path = tmp_path / "gap.csv"
    rows = []
    for at, day in enumerate(days):
        warm = 18 - 9 * np.cos(2 * np.pi * at / 365.25) + at * 7 % 5 - at * 3 % 4
        rows.append(f"{day},{warm + 6:.1f},{warm - 5 - at % 3:.1f},{at * 5 % 9 if at % 4 else 0}\n")
    path.write_text(
        GAP + "".join(row for row, without in zip(rows, lost, strict=True) if not without)
    )
    command, *rest = words.split()
    bed = tmp_path / "bed.toml"
    bed.write_text(example_text())
    files = [path] if command == "weather" else [bed, path]
    refused = cli(command, *rest, *files)
    assert refused.exit_code == 2
    told = f"{first} 2017-06-10  and  {last} 2021-06-02"
    assert refused.stderr.count(told) == 1, refused.stderr
    settled = cli(command, *rest, first, "2017-06-10", last, "2021-06-02", *files)
    assert settled.exit_code == 0, settled.stderr


def test_what_is_typed_reaches_the_reader(cli, weather_file):
    words = ["--latitude", "95", "--column", "no"]
    assert "--column" in cli("weather", weather_file, *words).stderr
    for wrong, part in (
        (["--latitude", "95"], "--latitude: 95 degrees is out of range"),
        (["--latitude", "nan"], "--latitude: "),
        (["--elevation", "9000"], "--elevation: 9000 m is out of range"),
        (["--point", "95", "0"], "--point: 95 degrees of latitude"),
        (["--max-gap-days", "-1"], "--max-gap-days: -1 days is out of range"),
        (["--accept", "zero"], "Closest: zeros"),
        (["--time-zone", "Mars/Olympus", "--stamps", "UTC"], ""),
    ):
        result = cli("weather", weather_file, *wrong)
        assert result.exit_code == (2 if part else 0), result.output
        assert part in result.stderr


def test_units_are_those_of_the_first_bed(tmp_path):
    us, metric = tmp_path / "us.toml", tmp_path / "metric.toml"
    us.write_text('[box]\ndepth = "17 in"\nlength = "8 ft"\n', "utf-8")
    metric.write_text('[box]\ndepth = "42 cm"\nlength = "2.4 m"\n', "utf-8")
    assert _units_of({"files": (us, metric)}) == "us"
    assert _units_of({"files": (metric, us)}) == "metric"
    assert _units_of({"bed_file": us, "files": (metric,)}) == "us"
    assert _units_of({"files": ()}) == "metric"
