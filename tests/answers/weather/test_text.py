"""What is told of a weather record, from its figures: every state, both units, a small terminal."""

import dataclasses

import pytest

from bedtide.answers.weather.summary import Suspicious, summary_of
from bedtide.report.templates import render
from bedtide.tables import sample_weather
from bedtide.weather import read_weather


@pytest.fixture(scope="module")
def good():
    record = read_weather(sample_weather("mistlebeck"), start="2021-01-01")
    return summary_of(record)


def told(figures, units="metric", **changes) -> str:
    return render("answers/weather/text.j2", units=units, s=dataclasses.replace(figures, **changes))


def line(text: str, start: str) -> str:
    return next(each for each in text.splitlines() if each.startswith(start))


def test_the_verdict_stands_first(good):
    reasons = ("Gaps were filled on 2 days.", "It is short.")
    first = told(good, grade="usable", reasons=reasons).splitlines()[0]
    assert first == (
        "Mistlebeck (invented): a usable record. Gaps were filled on 2 days. It is short."
    )
    assert told(good, place="", grade="good").startswith(f"{good.source}: a good record. ")


@pytest.mark.parametrize(
    ("counts", "total", "expected"),
    [
        ((0, 0, 0), 0, "Estimated: nothing that ET0 rests on."),
        ((1461, 1461, 0), 1461, "Estimated: humidity and wind on every day."),
        ((0, 0, 146), 146, "Estimated: radiation on 146 days (10 %)."),
        ((1, 0, 0), 1, "Estimated: humidity on 1 day (0 %)."),
        (
            (146, 73, 73),
            219,
            "Estimated: humidity on 146 days (10 %), wind and radiation on 73 days (5 %); in all "
            "219 days (15 %).",
        ),
        ((0, 0, 0), 3, "Estimated: nothing but the gaps."),
    ],
)
def test_what_was_estimated(good, counts, total, expected):
    names = ("humidity", "wind", "radiation")
    changes = {f"days_estimated_{name}": n for name, n in zip(names, counts, strict=True)}
    text = told(good, days=1461, days_estimated=total, **changes)
    assert line(text, "Estimated") == expected


@pytest.mark.parametrize(
    ("filled", "expected"),
    [(0, "Gaps: none."), (1, "Gaps: 1 day was missing and filled."), (12, "Gaps: 12 days were")],
)
def test_gaps(good, filled, expected):
    assert line(told(good, days_filled=filled), "Gaps").startswith(expected)


def test_rain_and_when_it_is_read(good):
    text = told(good, rain_mm_a_year=1193.2, reference_evapotranspiration_mm_a_year=619.0)
    assert ": 1,193 mm a year, against 619 mm of ET0." in line(text, "Rain falls")
    short = told(
        good, days=60, days_with_rain=15, rain_mm_a_year=None,
        reference_evapotranspiration_mm_a_year=None,
    )  # fmt: skip
    assert line(short, "Rain falls") == "Rain falls on 25 % of the days."
    for day, words in (
        ("midnight", "Rain is counted from midnight to midnight."),
        ("to morning", "so it was put on the day before."),
        ("from morning", "Rain is counted for the 24 hours from the morning on."),
    ):
        assert words in told(good, rain_day=day)


def test_the_place(good):
    assert "33.9 degrees south, 1,250 m above the sea." in told(
        good, latitude=-33.9, elevation_m=1250.0
    )
    assert "4,101 ft above the sea." in told(good, "us", elevation_m=1250.0)


def test_months_by_hand(good):
    june = dataclasses.replace(
        good.months[5],
        days=120,
        whole_months=4,
        rain_mm=63.5,
        rain_mm_least=25.4,
        rain_mm_most=127.0,
        reference_evapotranspiration_mm=90.0,
        lowest_temperature_C=10.0,
        highest_temperature_C=20.0,
    )
    cells = line(told(good, months=(june,)), "June ").split()
    assert cells[:6] == ["June", "120", "64", "(25", "to", "127)"]
    assert cells[-3:] == ["3.0", "10", "20"]
    cells = line(told(good, "us", months=(june,)), "June ").split()
    assert cells[:6] == ["June", "120", "2.5", "(1.0", "to", "5.0)"]
    assert cells[-3:] == ["0.12", "50", "68"]  # 3 mm a day; 10 and 20 degrees Celsius
    cold = dataclasses.replace(june, lowest_temperature_C=-0.4, highest_temperature_C=-0.6)
    assert line(told(good, months=(cold,)), "June ").split()[-2:] == ["0", "-1"]
    once = dataclasses.replace(june, whole_months=1)
    assert "(" not in line(told(good, months=(once,)), "June ")
    never = dataclasses.replace(june, whole_months=0, rain_mm_least=None, rain_mm_most=None)
    assert "(" not in line(told(good, months=(never,)), "June ")


def test_what_is_suspicious_is_told_up_to_twenty(good):
    assert "Suspicious" not in told(good, suspicious=())
    odd = tuple(
        Suspicious(kind="dry month", from_="2021-11-01", to="2021-11-30", sentence=f"Odd {n}.")
        for n in range(23)
    )
    lines = told(good, suspicious=odd).splitlines()
    assert lines[-1] == "  and 3 more"
    assert sum(each.startswith("  Odd ") for each in lines) == 20
    assert "more" not in told(good, suspicious=odd[:20]).splitlines()[-1]


def test_columns_and_spells_that_are_not_there(good):
    text = told(good, columns_not_used=("Note", "Flag"), spells=good.spells[5:])
    assert "Not used: Note, Flag." in text
    assert "Wettest" not in text
    assert "Driest spells, by ET0 less rain:" in text
    assert "Not used" not in told(good, columns_not_used=())


@pytest.mark.parametrize("units", ["metric", "us"])
def test_nothing_is_wider_than_a_small_terminal(good, units):
    odd = Suspicious(kind="stuck", from_="2021-01-01", to="2021-02-01", sentence="Stuck. " * 30)
    for changes in ({}, {"suspicious": (odd,), "assumptions": ("Wind is assumed. " * 10,)}):
        figures = dataclasses.replace(good, **changes)
        text = render("answers/weather/text.j2", units=units, width=60, s=figures)
        assert max(map(len, text.splitlines())) <= 60
