"""bedtide now: the answer first, what it rests on, and mistakes named."""

import dataclasses
import datetime
import json
import re
from types import SimpleNamespace

import pytest
from icalendar import Calendar

from bedtide.answers.now.fit import Morning
from bedtide.answers.now.forecast import Days, Known, Standing
from bedtide.answers.now.summary import (
    Ahead,
    Case,
    Now,
    calendar_text,
    now_of,
    round_of,
    series_of,
)
from bedtide.report.templates import render
from helpers.beds import bed_with
from helpers.commands import left_in
from helpers.plain_weather import plain_weather

DAY = datetime.timedelta(days=1)


def cut(path, out, first: str, last: str):
    """The days of a weather file from a date to a date, as another file."""
    lines = path.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[:4].isdigit() or first <= line[:10] <= last]
    out.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return out


def test_the_first_line_says_when_and_how_much(cli, bed_file, two_years):
    result = cli(
        "now", bed_file, two_years, "--to", "2023-07-13", "--level", "40 %", "--units", "metric"
    )
    assert result.exit_code == 0, result.stderr
    first = " ".join(result.stdout.split("\n\n")[0].split())
    assert re.fullmatch(
        r"Fill \w+ \d+ \w+ \d{4}, about \d+ L; it would (be empty|not be empty within) .*\.", first
    ), first
    assert "as you read it" in result.stdout
    assert "1 past year (2022)" in " ".join(result.stdout.split())


def test_a_forecast_comes_after_the_record(cli, tmp_path, bed_file, two_years):
    record = cut(two_years, tmp_path / "record.csv", "2022-01-01", "2023-07-13")
    forecast = cut(two_years, tmp_path / "forecast.csv", "2023-07-12", "2023-07-20")
    result = cli("now", bed_file, record, forecast, "--json", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    assert figures["today"] == "2023-07-14"
    assert figures["forecast_to"] == "2023-07-20"
    assert figures["forecast_days"] == 7
    assert figures["forecast_overlap_days"] == 2
    assert left_in(tmp_path / "out") == ["now.csv", "now.ics", "now.json"]
    gap = cut(two_years, tmp_path / "gap.csv", "2023-07-16", "2023-07-20")
    result = cli("now", bed_file, record, gap)
    assert result.exit_code == 2
    assert "gap.csv: it begins on 2023-07-16, but the weather record ends on 2023-07-13" in (
        result.stderr
    )


def test_several_beds_are_one_list_by_day(cli, tmp_path, bed_file, two_years):
    other = tmp_path / "other.toml"
    text = bed_file.read_text(encoding="utf-8").replace("Kitchen bed", "Wall bed")
    other.write_text(text.replace('length = "8 ft"', 'length = "10 ft"'), encoding="utf-8")
    result = cli("now", bed_file, other, two_years, "--to", "2023-07-13", "--json")
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    each = {bed["bed"]: bed for bed in figures["beds"]}
    assert set(each) == {"Kitchen bed", "Wall bed"}
    for task in figures["tasks"]:
        assert task["litres"] == pytest.approx(sum(each[n]["fill_litres"] for n in task["beds"]))
        assert all(each[name]["fill"] == task["day"] for name in task["beds"])


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--level", "9"], '--level: "9" has no unit'),
        (["--level", "40 %", "--filled", "2023-07-10"], "--level and --filled: all were given"),
        (["--filled", "2023-09-10"], "--filled: 2023-09-10 is outside the weather record"),
        (["--to", "2025-01-01"], "--to: 2025-01-01 is outside the weather record"),
    ],
)
def test_a_wrong_option_is_one_clear_message(cli, tmp_path, bed_file, two_years, words, message):
    before = left_in(tmp_path)
    to = [] if "--to" in words else ["--to", "2023-07-13"]
    result = cli("now", bed_file, two_years, *to, *words, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert message in result.stderr
    assert result.stdout == ""
    assert left_in(tmp_path) == before


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("et0_mm", [0.0, 1.0, 6.0])
@pytest.mark.parametrize("rule", [{"when": "never"}, {"when": "weekdays", "weekdays": ["mon"]}])
def test_every_state_is_told_in_sixty_columns(units, et0_mm, rule):
    bed = bed_with({"watering": rule, "bed.name": "A bed with a name"})
    weather = plain_weather("2020-03-01", 1600, et0_mm=et0_mm)
    told = now_of(Standing(bed), Days(weather))
    for template, summary in (("text", told), ("round", round_of([told, told]))):
        text = render(f"answers/now/{template}.j2", units=units, width=60, s=summary)
        assert max(map(len, text.splitlines())) <= 60
        assert "None" not in text
        assert all(line.isprintable() for line in text.splitlines())
        if et0_mm == 6.0:
            assert text.startswith("Fill ")


def told(**changes) -> Now:
    """Invented figures of a bed on 14 July 2027."""
    figures = {
        "bedtide_version": "0", "bed": "Kitchen bed", "weather_place": "",
        "weather_source": "w.csv",
        "weather_doubts": (), "weather_to": "2027-07-13", "today": "2027-07-14",
        "known_from": "reading", "known_on": "2027-07-14",
         "level_cm": 6.0, "store_litres": 30.0,
        "usable_litres": 28.0, "usable_full_litres": 62.0, "rule": "below share",
        "fill": "2027-07-15", "fill_earliest": "2027-07-15", "fill_latest": "2027-07-16",
        "fill_litres": 47.0, "empty": "2027-07-17", "empty_earliest": "2027-07-16",
        "empty_latest": "2027-07-18", "cases_with_fill": 29, "thirst": 1.34,
        "fill_if_thirsty": "2027-07-15", "empty_if_thirsty": "2027-07-16", "forecast_days": 0,
        "forecast_to": None, "forecast_source": "", "recent_days": 0,
        "forecast_overlap_days": 0, "years": tuple(range(1998, 2027)),
        "days_ahead": 60, "crops_left_out": (), "notes_before": 0, "balance_error_mm": 0.0,
        "assumptions": (),
        "cases": (Case(year=1998, fill="2027-07-15", fill_litres=47.0, empty="2027-07-17"),),
        "ahead": (),
    }  # fmt: skip
    return Now(**figures | changes)


def test_a_round_has_the_beds_of_each_day_and_those_that_want_none():
    beds = [told(), told(bed="Wall", fill_litres=13.0), told(bed="Wet", fill=None)]
    found = round_of([*beds, told(bed="Soon", fill="2027-07-14", fill_litres=2.0)])
    tasks = [(each.day, each.beds, each.litres) for each in found.tasks]
    assert tasks == [
        ("2027-07-14", ("Soon",), 2.0),
        ("2027-07-15", ("Kitchen bed", "Wall"), 60.0),
    ]
    assert found.later == ["Wet"]


@pytest.mark.parametrize(
    ("changes", "first"),
    [
        ({}, "Fill Thursday 15 July 2027, about 47 L; it would be empty on Saturday."),
        (
            {"empty": "2027-07-22"},
            "Fill Thursday 15 July 2027, about 47 L; it would be empty on Thursday 22 July.",
        ),
        (
            {"empty": None},
            "Fill Thursday 15 July 2027, about 47 L; it would not be empty within 60 days.",
        ),
        (
            {"empty": "2027-07-14"},
            "Fill Thursday 15 July 2027, about 47 L; its usable water is gone before, on "
            "Wednesday 14 July.",
        ),
        ({"fill": None, "fill_litres": None, "empty": None}, "No fill is due within 60 days."),
    ],
)
def test_the_first_line_in_words(changes, first):
    text = render("answers/now/text.j2", width=None, s=told(**changes))
    assert text.splitlines()[0] == first


def test_the_calendar_has_a_whole_day_for_each_bed_that_wants_water():
    made = datetime.datetime(2027, 7, 14, 6, 30, tzinfo=datetime.UTC)
    beds = [told(), told(bed="Wall, bed"), told(fill=None, bed="Wet bed")]
    text = calendar_text(beds, "us", made)
    assert text.startswith(b"BEGIN:VCALENDAR\r\n")
    calendar = Calendar.from_ical(text)
    assert calendar["name"] == calendar["x-wr-calname"] == "Beds to fill"
    found = list(calendar.walk("VEVENT"))
    assert [str(event["summary"]) for event in found] == [
        "Fill Kitchen bed, about 12 US gal",  # 47 L over 3.785
        "Fill Wall, bed, about 12 US gal",
    ]
    assert found[0].decoded("dtstart") == datetime.date(2027, 7, 15)
    assert found[0].decoded("dtend") == datetime.date(2027, 7, 16)
    assert "empty on 17 July" in str(found[0]["description"])
    # A whole day has no hours, so no time zone moves it.
    assert b"DTSTART;VALUE=DATE:20270715\r\n" in text
    assert b"DTSTAMP:20270714T063000Z\r\n" in text
    # Asked again an hour later, the event of the bed moves; it is not a second one.
    later = calendar_text([told(fill="2027-07-16")], "metric", made + datetime.timedelta(hours=1))
    assert Calendar.from_ical(later)["name"] == "Fill Kitchen bed"
    again = Calendar.from_ical(later).walk("VEVENT")[0]
    assert again["uid"] == found[0]["uid"] != found[1]["uid"]
    minutes = (made - datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)).total_seconds() / 60
    assert found[0]["sequence"] == minutes
    assert again["sequence"] == minutes + 60
    assert again.decoded("dtstart") == datetime.date(2027, 7, 16)


def test_the_days_ahead_are_between_their_least_and_most():
    bed = bed_with()
    weather = plain_weather("2020-03-01", 1600, et0_mm=5.0, rain_mm={"2022-07-20": 20.0})
    summary = now_of(Standing(bed, [Known(datetime.date(2024, 7, 18), "lip")]), Days(weather))
    assert summary.ahead[0].date == summary.today == "2024-07-18"
    assert [day.usable_litres for day in summary.ahead][:3] == sorted(
        (day.usable_litres for day in summary.ahead[:3]), reverse=True
    )
    for day in summary.ahead:
        assert day.usable_litres_low <= day.usable_litres <= day.usable_litres_high
    # The one year with rain is the only one that differs, from the day of its rain on.
    spread = [day.usable_litres_high - day.usable_litres_low for day in summary.ahead]
    assert max(spread[:2]) == pytest.approx(0.0, abs=1e-9)
    assert max(spread) > 1.0
    drawn = series_of(summary, "us")["course"]
    first = summary.ahead[0].usable_litres
    assert drawn["usable_litres"][0] == pytest.approx(first / 3.785411784)
    assert drawn["date"][-1] > summary.empty_latest


def test_a_page_draws_the_days_until_it_is_empty_and_two_more():
    dates = [str(datetime.date(2027, 7, 14) + at * DAY) for at in range(60)]
    litres = {"usable_litres_low": 1.0, "usable_litres": 2.0, "usable_litres_high": 3.785411784}
    given = told(ahead=tuple(Ahead(date=date, **litres) for date in dates))  # empty on the 18th
    assert series_of(given, "metric")["course"] == {
        "date": dates[:7], **{name: [each] * 7 for name, each in litres.items()}, "full": [62.0]
    }  # fmt: skip
    assert series_of(given, "us")["course"]["usable_litres_high"] == pytest.approx([1.0] * 7)
    assert series_of(given, "metric")["learned"] is None
    lasting = dataclasses.replace(given, empty_latest=None)
    assert series_of(lasting, "metric")["course"]["date"] == dates
    mornings = (Morning(date="2027-07-14", described_cm=2.54, fitted_cm=5.08, read_cm=None),)
    learned = dataclasses.replace(given, fit=SimpleNamespace(mornings=mornings))
    for units, inch in (("us", 1.0), ("metric", 2.54)):
        drawn = series_of(learned, units)["learned"]
        assert drawn["described_cm"] == pytest.approx([inch])
        assert drawn["fitted_cm"] == pytest.approx([2 * inch])
        assert drawn["read_cm"] == [None]


def test_a_page_is_of_one_bed(cli, tmp_path, bed_file, two_years):
    other = tmp_path / "other.toml"
    other.write_text(bed_file.read_text(encoding="utf-8"), encoding="utf-8")
    page = tmp_path / "now.html"
    words = [two_years, "--to", "2023-07-13", "--page", page]
    result = cli("now", bed_file, other, *words)
    assert result.exit_code == 2
    assert "--page: 2 beds were given" in result.stderr
    assert not page.exists()
    assert cli("now", bed_file, *words).exit_code == 0
    assert "If nobody fills" in page.read_text(encoding="utf-8")


def test_beds_of_one_name_are_refused(cli, tmp_path, bed_file, two_years):
    other = tmp_path / "other.toml"
    other.write_text(bed_file.read_text(encoding="utf-8"), encoding="utf-8")
    result = cli("now", bed_file, other, two_years, "--to", "2023-07-13")
    assert result.exit_code == 2
    assert "other.toml, bed.name: " in result.stderr
    assert 'names its bed "Kitchen bed" too' in result.stderr


@pytest.mark.parametrize(("units", "cans"), [("metric", 10), ("us", 13)])
def test_cans_are_whole_and_enough(units, cans):
    # 47 L twice: 9.4 cans of 10 L; 24.8 US gal are 12.4 cans of 2 US gal.
    text = render("answers/now/round.j2", units=units, s=round_of([told(), told(bed="Wall bed")]))
    assert f"Cans of {'10 L' if units == 'metric' else '2 US gal'}" in text
    (row,) = (line for line in text.splitlines() if line.startswith("Thursday 15 July"))
    assert row.split()[-1] == str(cans)


def test_a_spreadsheets_notes_as_it_saves_them(cli, tmp_path, bed_file, two_years):
    notes = tmp_path / "n.csv"
    notes.write_bytes(
        b'\xef\xbb\xbf"Date";"What";"Value";"Unit";"Remark"\r\n"13.07.2023";"dip";"6,5";"cm";"slug;'
        b' again"\r\n;;;;\r\n"2.07.2023";"FILL";"20";"L";\r\n'
    )
    words = [bed_file, two_years, "--to", "2023-07-12", "--json"]
    result = cli("now", *words, "--log", notes)
    assert result.exit_code == 0, result.stderr
    figures = json.loads(result.stdout)
    assert (figures["known_from"], figures["known_on"]) == ("notes", "2023-07-13")
    assert figures["level_cm"] == pytest.approx(6.5, abs=0.01)
