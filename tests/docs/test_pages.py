"""The pages that are made from code, or must keep up with it, do."""

import dataclasses
import re
import runpy
from pathlib import Path

import pytest

from bedtide.answers.season.days import table_of_days
from bedtide.answers.season.summary import GRADES, summary_of
from bedtide.answers.weather.summary import summary_of as summary_of_weather
from bedtide.files import plain
from bedtide.tables import cautions_text, sample_weather
from bedtide.weather import read_weather
from helpers.seasons import by_hand

DOCS = Path(__file__).parents[2] / "docs"


def section(title: str) -> str:
    text = (DOCS / "outputs.md").read_text(encoding="utf-8")
    return text.split(f"## {title}\n")[1].split("\n## ")[0]


def test_terms_page_is_up_to_date():
    made = runpy.run_path(str(DOCS / "make_terms.py"))["page"]()
    assert (DOCS / "terms.md").read_text(encoding="utf-8") == made, "python docs/make_terms.py"


def test_every_column_of_the_daily_table_is_explained_in_order():
    named = re.findall(r"^\| `(\w+)` \|", section("season.csv"), flags=re.MULTILINE)
    assert named == list(table_of_days(by_hand()))


def test_every_key_of_the_summary_is_explained_in_order():
    rows = re.findall(r"^\| (`.*?) \|", section("summary.json"), flags=re.MULTILINE)
    named = [key for row in rows for key in re.findall(r"`(\w+)`", row)]
    assert named == list(plain(summary_of(by_hand())))


def test_every_key_of_a_month_is_explained():
    text = section("summary.json").split("The keys of a month:")[1]
    for key in plain(summary_of(by_hand()))["months"][0]:
        assert f"`{key}`" in text, key


def test_every_key_of_the_weather_is_explained_in_order():
    record = read_weather(sample_weather(), start="2020-01-01")
    summary = summary_of_weather(record)
    own = {
        "own_evapotranspiration_days": 9,
        "own_evapotranspiration_ratio": 1.0,
    }  # where it has any
    assert not own.keys() & plain(summary).keys()
    figures = plain(dataclasses.replace(summary, **own))
    text = section("weather.json")
    rows = re.findall(r"^\| (`.*?) \|", text, flags=re.MULTILINE)
    assert [key for row in rows for key in re.findall(r"`(\w+)`", row)] == list(figures)
    for part in ("months", "spells"):
        for key in figures[part][0]:
            assert f"`{re.sub('_(least|most)$', '', key)}`" in text, key


@pytest.mark.parametrize(("grade", "most"), GRADES)
def test_every_grade_stands_on_the_page_of_words_with_its_limit(grade, most):
    text = (DOCS / "words.md").read_text(encoding="utf-8")
    limit = f"up to {most} days" if most else "none"
    assert f"| {grade} | {limit} |" in text


def test_cautions_name_every_hazard():
    text = cautions_text().lower()
    for word in (
        "weight",
        "structural engineer",
        "mosquito",
        "children",
        "air gap",
        "vacuum breaker",
        "liner",
        "arsenic",
        "frost",
        "grey water",
        "rules of your place",
    ):
        assert word in text, word
