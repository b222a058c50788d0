"""What is said of a stay away: the answer first, honest of how sure, in plain words."""

import datetime
import json
import re

import pytest

from bedtide.answers.away.calendar_tables import calendar_summary
from bedtide.answers.away.calendar_words import calendar_headline, calendar_report
from bedtide.answers.away.leave_dates import away_calendar
from bedtide.answers.away.ranges import away_ranges
from bedtide.answers.away.run import away
from bedtide.answers.away.tables import away_summary
from bedtide.answers.away.words import away_headline, away_report
from bedtide.files import json_text
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)
TWO = [
    {"crop": "tomato", "planted": "05-10", "area_share": "60 %"},
    {"crop": "lettuce", "planted": "06-20", "area_share": "30 %"},
]


@pytest.fixture(scope="module")
def record():
    return read_weather(samples_folder() / "brasaluz.csv")


@pytest.fixture(scope="module")
def thirty(record):
    return away_summary(away(bed_with({"planting": TWO}), record, DAY, days=16))


@pytest.fixture(scope="module")
def two():
    weather = plain_weather("2021-01-01", 730)
    return away_summary(away(bed_with(), weather, DAY, days=16))


def with_(figures, **changes):
    return {**figures, **changes}


def test_the_answer_stands_first(thirty):
    figures = with_(thirty, days_safe=11, cases_lasting=4)
    assert away_headline(figures) == (
        "Likely to last 11 days (9 in 10 years; for typical values of mix and plants); "
        "16 days in 4 of 30 years."
    )
    assert away_report(figures)[0] == away_headline(figures)


def test_one_day_none_and_more_than_was_followed(thirty):
    assert "last 1 day (" in away_headline(with_(thirty, days_safe=1))
    assert "last less than 1 day (" in away_headline(with_(thirty, days_safe=0))
    assert "last 45 days or more (" in away_headline(with_(thirty, days_safe=None))


def test_few_years_never_speak_of_nine_in_ten(two):
    text = "\n".join(away_report(two))
    assert re.search(r"the shortest of 10 starts; for typical values", text.splitlines()[0])
    assert "9 in 10 years" not in text
    assert "Only 2 years of weather are independent" in text
    assert "make 10 starts of them" in text


@pytest.mark.parametrize("through", [0, 30])
def test_no_certainty_from_thirty_years(thirty, through):
    share = {0: 100 / 31, 30: 3000 / 31}[through]
    line = away_report(with_(thirty, cases_lasting=through, chance_percent=share))[1]
    assert "100 % (" not in line
    assert " 0 % (" not in line
    assert ("at most 3 %" if through == 0 else "good for 97 %") in line


def test_every_figure_printed_is_one_of_the_summary(thirty):
    text = "\n".join(away_report(thirty))
    assert f"Likely to last {thirty['days_safe']} days" in text
    assert f"16 days in {thirty['cases_lasting']} of 30 years" in text
    for measure in thirty["measures"]:
        days = "45+" if measure["days_safe"] is None else str(measure["days_safe"])
        through = re.escape(f"{measure['cases_lasting']} of 30")
        gain = r"\s+[-+]?\d+( or more)?" if measure["measure"] != "as it is" else ""
        assert re.search(rf"  {re.escape(days)}{gain}\s+{through}$", text, re.M), measure
    visit = next(m for m in thirty["measures"] if m["measure"] == "visit")
    assert f"Have {visit['litres_p90']:.0f} L ready" in text
    worst = thirty["case_list"][0]
    assert f"The bad years: {worst['days_lasted']} days in " in text
    assert str(worst["year"]) in text


def test_years_that_last_are_not_called_bad(thirty):
    line = next(line for line in away_report(thirty) if line.startswith("The bad years"))
    bad = line.split(". The best")[0]
    for days in re.findall(r"(\d+) days", bad):
        assert int(days) < 16


def test_measures_stand_in_order_of_what_they_buy(thirty):
    lines = away_report(thirty)
    start = next(i for i, line in enumerate(lines) if line.startswith("as it is"))
    gains = []
    for line in lines[start + 1 :]:
        found = re.search(r"\s([-+]\d+|0)\s+\d+ of 30$", line)
        if not found:
            break
        gains.append(int(found.group(1)))
    assert len(gains) == len(thirty["measures"]) - 1
    assert gains == sorted(gains, reverse=True)


def test_us_units_say_which_gallon_and_no_metric(thirty):
    text = "\n".join(away_report(thirty, units="us"))
    assert "US gal drum" in text
    assert not re.search(r"\d (L|kg|mm|cm)\b", text.replace("0.000001 mm", ""))


def test_words_of_growers(thirty, two, record):
    ranges = away_ranges(bed_with(), record, DAY, days=16)
    ranged = {**thirty, "range": away_summary(
        away(bed_with(), record, DAY, days=16, measures=[]), ranges=ranges)["range"]}  # fmt: skip
    for figures in (thirty, two, ranged):
        text = "\n".join(away_report(figures)).lower()
        for word in ("matric", "summer month", "field capacity", "winter", "nan", "inf ", "none "):
            assert word not in text, word


def test_dead_water_is_said_to_be_out_of_reach():
    weather = plain_weather("2021-01-01", 730)
    bed = layered("stone", void_share="40 %", wick_foot="5 cm")
    text = "\n".join(away_report(away_summary(away(bed, weather, DAY, days=5, measures=[]))))
    # 2 m by 0.6 m, 5 cm of stone with 40 % of void: 24 L
    assert "24 L of it out of the mix's reach and never counted" in text


def test_a_mix_that_lifts_too_slowly_is_said_to_be_the_cause():
    weather = plain_weather("2021-01-01", 730)
    bed = bed_with({"box.depth": "70 cm", "mix.top": {"medium": "pine bark coarse"}})
    lines = away_report(away_summary(away(bed, weather, DAY, days=10)))
    assert lines[1].startswith("That is the mix more than your absence: even filled every morning")
    assert "10 of 10 days" in lines[1]
    assert any(line.startswith("None of these changes buys a day") for line in lines)


def test_nothing_growing_is_said_at_once():
    weather = plain_weather("2021-01-01", 730)
    figures = away_summary(away(bed_with({"planting": []}), weather, DAY, days=10))
    lines = away_report(figures)
    assert lines[0].startswith("Nothing grows here then that could go short; the reservoir is ")
    assert not any("Chance" in line or "What each change" in line for line in lines)


def test_a_range_takes_the_place_of_the_number(thirty, record):
    bed = bed_with({"planting": TWO})
    ranges = away_ranges(bed, record, DAY, days=16)
    figures = away_summary(away(bed, record, DAY, days=16, measures=[]), ranges=ranges)
    found = figures["range"]["days_safe"]
    assert found["typical"] == figures["days_safe"]
    line = away_headline(figures)
    assert f"Likely to last {found['low']} to {found['high']} days (9 in 10 years; " in line
    assert f"{found['typical']} for typical values" in line
    text = "\n".join(away_report(figures))
    assert "What matters most is " in text
    assert "--range tells" not in text


def test_a_bed_that_would_fail_with_you_there_is_marked_and_not_in_the_range(thirty):
    ends = {"low": 5, "high": 9}
    doubt = {
        "typical": 8, "low": 6, "high": 9, "matters": "surface supply", "runs": 11,
        "alone": {
            "conductivity": {"low": 0, "high": 9},
            **dict.fromkeys(("retention", "surface supply", "water use"), ends),
        },
        "against": 0, "in_favour": None, "failing": ["low conductivity", "against"],
    }  # fmt: skip
    figures = with_(thirty, range={"days_safe": doubt, "cases_lasting": doubt})
    text = "\n".join(away_report(figures))
    assert "how well the mix lifts water: 0* and 9" in text
    assert "all of it against the plants: 0*; all in their favour: 45 or more" in text
    assert "how well the mix keeps its surface wet from below: 5 and 9" in text
    assert "What matters most is how well the mix keeps its surface wet from below. Look at" in text
    assert "You would have seen that" in text


def test_a_summary_is_json_with_more_than_was_followed_as_null():
    weather = plain_weather("2021-01-01", 730, et0_mm=0.5)
    stay = away(bed_with(), weather, DAY, days=10)
    figures = json.loads(json_text(away_summary(stay)))
    assert figures["days_safe"] is None
    assert figures["days_followed"] == 45
    assert figures["chances"][0] == {
        "days": 1, "cases_lasting": 10, "chance_percent": pytest.approx(200 / 3),
    }  # fmt: skip
    assert away_report(figures)


def test_the_calendar_in_words(record):
    figures = calendar_summary(away_calendar(bed_with(), record))
    fewest = min(row["days_safe"] for row in figures["dates"] if row["days_safe"] is not None)
    line = calendar_headline(figures)
    assert line.startswith(f"Likely to last {fewest} days at the worst time to leave, about ")
    lines = calendar_report(figures)
    assert lines[0] == line
    assert any(re.match(r"July +\d+ to \d+ +\d+ July: \d+$", row) for row in lines), lines
    assert any(re.match(r"January +60\+ +nothing grows then$", row) for row in lines), lines


def test_a_calendar_of_few_years_says_so(record):
    part = record.sel(time=slice("2001-01-01", "2003-12-31"))
    text = "\n".join(calendar_report(calendar_summary(away_calendar(bed_with(), part))))
    assert "9 in 10 years" not in text
    assert "Only 3 years of weather" in text
    assert "up to 10 days before and after" in text
