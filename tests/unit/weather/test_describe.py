"""What is told of files that can't be used yet, and the options that would settle it."""

import datetime

import numpy as np
import pytest

from bedtide.answers.weather.summary import described
from bedtide.errors import FieldError, Option, Pieces
from bedtide.weather import answers_to, describe_weather, read_weather

PLACE = ["# latitude: 50", "# elevation: 100 m"]


def rows(count=60, first="2021-03-01"):
    """Days of March and April 2021: tmax, tmin, rain and radiation of each."""
    start = datetime.date.fromisoformat(first)
    return [
        [str(start + datetime.timedelta(days=at)), 15 + at % 7, 4 + at % 3,
         0 if at % 3 else 6.0, 8 + at % 4]
        for at in range(count)
    ]  # fmt: skip


@pytest.fixture
def write(tmp_path):
    def made(header, body, above=PLACE, name="garden.csv"):
        lines = [*above, header, *(",".join(map(str, row)) for row in body)]
        path = tmp_path / name
        path.write_text("\n".join(lines) + "\n")
        return path

    return made


HEADER = "date,tmax (C),tmin (C),rain (mm),solar (MJ/m2)"


def texts(found):
    return "\n".join(problem.text for problem in found.problems)


def figures(found):
    """What is told of the record."""
    return described(found.record, found.read, (), "")


def month(found, number):
    return next(each for each in figures(found).months if each.month == number)


def test_days_columns_and_months_of_a_whole_file(write):
    found = describe_weather(write(HEADER, rows()))
    assert (figures(found).from_, figures(found).to, figures(found).days) == (
        "2021-03-01",
        "2021-04-29",
        60,
    )
    assert found.problems == []
    assert figures(found).gaps == ()
    assert len(found.read) == 4
    assert [each.month for each in figures(found).months] == [3, 4]
    # 31 days from the first: every third has 6 mm, 11 in March and 9 in the 29 days of April
    assert month(found, 3).rain_mm == pytest.approx(66.0)
    assert month(found, 4).rain_mm == pytest.approx(9 * 6.0 / 29 * 30)
    assert month(found, 3).highest_temperature_C == pytest.approx(
        np.mean([15 + at % 7 for at in range(31)])
    )
    assert [each.days for each in figures(found).months] == [31, 29]


def test_everything_is_told_without_a_place(write):
    found = describe_weather(write(HEADER, rows(), above=[]))
    assert found.record.latitude is None
    assert found.record.elevation is None
    assert figures(found).days == 60
    assert len(found.problems) == 1
    assert answers_to(found.problems) == {"latitude": None, "elevation": None}


def test_all_problems_come_at_once(write):
    body = rows(90)
    body[10][3] = -9999
    body[50:60] = []
    path = write("date,tmax (C),tmin (C),rain (mm),solar", body, above=["# elevation: 100 m"])
    found = describe_weather(path)
    said = texts(found)
    assert len(found.problems) == 4
    for part in ("column solar: its unit is not given", "-9999 mm is not possible", "latitude",
                 "missing from 2021-04-20 to 2021-04-29 (10 days)"):  # fmt: skip
        assert part in said
    answers = answers_to(found.problems)
    assert answers.pop("columns").keys() == {"solar"}
    assert answers == {
        "missing": ["-9999"],
        "latitude": None,
        "start": "2021-03-01",
        "end": "2021-04-19",
    }
    assert figures(found).days == 80
    # the value that can't be is left out of the months: 10 of the other 30 days have 6 mm
    assert month(found, 3).rain_mm == pytest.approx(6.0 * 11 / 30 * 31)
    # and with these answers a season can run
    weather = read_weather(path, **answers | {"latitude": 50.0}, columns={"solar": "MJ/m2"})
    assert weather.sizes["time"] == 50


def test_days_are_told_where_no_column_has_a_unit(write):
    found = describe_weather(write("date,tmax,tmin,rain", [row[:4] for row in rows()]))
    assert figures(found).days == 60
    assert len(found.problems) == 3
    assert answers_to(found.problems)["columns"].keys() == {"tmax", "tmin", "rain"}
    assert month(found, 3).highest_temperature_C is None


def test_a_column_that_waits_for_its_unit_is_not_called_missing(write):
    found = describe_weather(write("date,tmax (C),tmin (C),rain,solar (MJ/m2)", rows()))
    assert len(found.problems) == 1
    assert "column rain: its unit is not given" in texts(found)
    assert month(found, 3).rain_mm is None
    assert month(found, 3).lowest_temperature_C == pytest.approx(
        np.mean([4 + at % 3 for at in range(31)])
    )


@pytest.mark.parametrize(
    ("header", "answers"),
    [
        ("date,tmax (C),tmin (C),wet stuff,solar (MJ/m2)", {"columns": {"RAIN": "rain, UNIT"}}),
        ("date,tmax (C),cold stuff,rain (mm),solar (MJ/m2)", {"columns": {"LOWEST": "tmin, UNIT"}}),
    ],
)
def test_a_missing_column(write, header, answers):
    found = describe_weather(write(header, rows()))
    assert len(found.problems) == 1
    assert "not understood: " in texts(found)
    assert answers_to(found.problems) == answers
    assert figures(found).days == 60


def test_a_missing_column_with_no_other_to_take_for_it(write):
    body = [row[:3] for row in rows()]
    found = describe_weather(write("date,tmax (C),tmin (C)", body))
    assert answers_to(found.problems) == {"borrow": "FILE"}


def test_gaps_of_each_quantity(write):
    body = rows(60)
    for at in range(5, 9):
        body[at][4] = ""
    body[30][1] = body[40][1] = body[41][1] = ""
    found = describe_weather(write(HEADER, body, above=[]))
    gaps = {gap.quantity: gap for gap in figures(found).gaps}
    assert set(gaps) == {"temperature", "radiation"}
    sun, warm = gaps["radiation"], gaps["temperature"]
    assert (sun.days, sun.longest_days, sun.longest_from) == (4, 4, "2021-03-06")
    assert (warm.days, warm.longest_days, warm.longest_from) == (3, 2, "2021-04-10")


def test_days_twice_count_once_and_are_told(write):
    body = rows(30)
    body.insert(10, [*body[9][:3], 3.3, body[9][4]])
    found = describe_weather(write(HEADER, body))
    assert "is there twice" in texts(found)
    assert figures(found).days == 30


def test_hours_in_universal_time_are_described_too(write):
    body = [
        [f"2021-03-{1 + at // 24:02d}T{at % 24:02d}:00Z", 10 + at % 24 / 2, 0.1]
        for at in range(24 * 10)
    ]
    found = describe_weather(write("time,temp (C),rain (mm)", body, above=PLACE[:1]))
    assert "universal time" in texts(found)
    assert figures(found).days == 10
    assert month(found, 3).rain_mm == pytest.approx(2.4 * 31)
    assert set(answers_to(found.problems)) == {"time_zone", "elevation"}


def test_only_the_days_asked_for(write):
    found = describe_weather(write(HEADER, rows()), start="2021-04-01")
    assert (figures(found).from_, figures(found).days) == ("2021-04-01", 29)


def test_nothing_to_describe(tmp_path, write):
    path = tmp_path / "letter.txt"
    path.write_text("Dear neighbour,\nit rained.\n")
    assert describe_weather(path).record is None
    assert describe_weather(tmp_path / "gone.csv").record is None
    several = [write(HEADER, rows()), path]
    assert figures(describe_weather(several)).days == 60
    assert "letter.txt" in texts(describe_weather(several))


def test_the_first_option_with_a_value_answers():
    hint = Pieces("Say ", Option("stamps"), Option("time_zone", "UTC"), Option("accept", "zeros"))
    problems = [FieldError("a", "b", hint=hint), FieldError("a", "c", hint="Mend it")]
    assert answers_to(problems) == {"time_zone": "UTC"}
    again = [
        FieldError("a", "b", hint=Pieces(Option("missing", "-99"))),
        FieldError("a", "c", hint=Pieces(Option("missing", "-9"))),
        FieldError("a", "d", hint=Pieces(Option("columns", {"x": "ignore"}))),
        FieldError("a", "e", hint=Pieces(Option("columns", {"y": "F"}))),
    ]
    assert answers_to(again) == {"missing": ["-99", "-9"], "columns": {"x": "ignore", "y": "F"}}
