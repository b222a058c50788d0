"""Figures of a weather record, against sums of its own columns and of invented rows."""

import numpy as np
import pytest

from bedtide.answers.weather.summary import coverage, estimated_share, spells, summary_of, verdict
from bedtide.tables import samples_folder
from bedtide.weather import Suspicion, read_weather, suspicions
from helpers.plain_weather import with_fault


@pytest.fixture(scope="module")
def weather():
    return read_weather(samples_folder() / "brasaluz.csv")


def estimated(figures):
    names = ("humidity", "wind", "radiation")
    return {name: getattr(figures, f"days_estimated_{name}") for name in names}


def test_figures(weather):
    figures = summary_of(weather)
    assert (figures.from_, figures.to) == ("1995-01-01", "2024-12-31")
    assert figures.days == 10958
    assert figures.days_filled == figures.days_estimated == 0
    assert estimated(figures) == {"humidity": 0, "wind": 0, "radiation": 0}
    assert [month.month for month in figures.months] == list(range(1, 13))
    assert {month.whole_months for month in figures.months} == {30}
    total = float(weather["rain"].sum()) * 1000
    assert sum(month.rain_mm for month in figures.months) * 30 == pytest.approx(total)
    assert figures.rain_mm_a_year == pytest.approx(total / (10958 / 365.25))
    for month in figures.months:
        mean = month.reference_evapotranspiration_mm
        assert month.reference_evapotranspiration_mm_least < mean
        assert mean < month.reference_evapotranspiration_mm_most


def test_months_that_are_not_whole_are_scaled_up(table):
    may, june = summary_of(read_weather(table(days=45))).months
    assert (may.month, may.whole_months, june.month, june.whole_months) == (5, 1, 6, 0)
    assert may.rain_mm == pytest.approx(sum((i % 4) * 1.5 for i in range(31)))
    assert june.rain_mm == pytest.approx(sum((i % 4) * 1.5 for i in range(31, 45)) / 14 * 30)
    assert june.rain_mm_least is None


@pytest.mark.parametrize(("days", "rain"), [(364, None), (365, 819 / 365 * 365.25)])
def test_a_year_is_told_from_365_days_on(table, days, rain):
    """Of every four days three have 1.5, 3 and 4.5 mm: 91 times 9 mm and a dry day in 365."""
    figures = summary_of(read_weather(table(days=days)))
    assert figures.days_with_rain == 273
    assert figures.rain_mm_a_year == (rain if rain is None else pytest.approx(rain))


def test_what_it_says_of_itself(weather):
    figures = summary_of(weather)
    assert figures.place == "Brasaluz (invented)"
    assert "tmax (C) -> tmax, degC" in figures.columns_read
    assert figures.assumptions == ()
    assert figures.grade == "good"
    assert coverage(weather).shape == (30, 5)
    assert (estimated_share(weather) == 0).all()


def test_estimates_and_fillings_by_year(write, rows):
    head = "# latitude: 48\n# elevation: 0\ndate,tmax C,tmin C,rain mm,wind_2m_ms\n"
    body = rows(400, "2021-01-01")
    del body[100:102]
    record = read_weather(write(head + "\n".join(map(",".join, body)) + "\n"))
    figures = summary_of(record)
    assert figures.days_filled == 2
    assert estimated(figures) == {"humidity": 398, "wind": 0, "radiation": 398}
    assert estimated_share(record).to_dict() == {2021: 1.0, 2022: 1.0}


def test_spells_against_a_plain_search(good):
    rain = good["rain"].values
    days = good["time"].values.astype("datetime64[D]")
    for spell in spells(good):
        if spell.kind == "wet":
            best = max(rain[i : i + spell.days].sum() for i in range(len(rain) - spell.days + 1))
            assert spell.rain_mm == pytest.approx(best * 1000)
        at = int((np.datetime64(spell.from_) - days[0]).astype(int))
        part = slice(at, at + spell.days)
        et0 = good["et0"].values[part].sum() * 1000
        assert spell.reference_evapotranspiration_mm == pytest.approx(et0)
        assert spell.to == str(days[part][-1])
    assert [s.days for s in spells(good)] == [1, 3, 7, 14, 30, 7, 14, 30, 60, 90]
    # those longer than the record are left out
    assert [s.days for s in spells(good.isel(time=slice(10)))] == [1, 3, 7, 7]


def test_coverage_by_year_and_column(write, rows):
    head = "# latitude: 48\n# elevation: 0\ndate,tmax C,tmin C,rain mm,wind_2m_ms\n"
    body = rows(730, "2021-01-01")
    for row in body[365:500]:
        row[4] = ""
    table = coverage(read_weather(write(head + "\n".join(map(",".join, body)) + "\n")))
    assert table.index.tolist() == [2021, 2022]
    assert table["wind"].tolist() == pytest.approx([1.0, 230 / 365])
    assert table["temperature"].tolist() == [1.0, 1.0]
    assert table["humidity"].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("days", "said"),  # 2005 to 2009 have one leap day, 2005 to 2014 have two
    [
        (1, "It has 1 day; odds need at least 5 years, better 10."),
        (364, "It has 364 days; odds need at least 5 years, better 10."),
        (365, "It has 1.0 years; odds need at least 5, better 10."),
        (1826, "It has 5.0 years, enough for odds; 10 would be better."),
        (1800, "It has 4.9 years; odds need at least 5, better 10."),
        (3652, "10 years, all measured, nothing suspicious."),
        (3630, "It has 9.9 years, enough for odds; 10 would be better."),
    ],
)
def test_whole_years_are_whole_whatever_their_leap_days(weather, days, said):
    record = weather.sel(time=slice("2005-01-01", None)).isel(time=slice(days))
    assert verdict(record, []) == ("usable" if days <= 1800 else "good", (said,))


def test_a_leap_year_that_was_measured_whole_is_whole(good):
    assert (coverage(good).to_numpy() == 1.0).all()


def test_verdicts(good, table):
    short = read_weather(table(days=40))
    grade, reasons = verdict(short, [])
    assert grade == "usable"
    text = " ".join(reasons)
    assert "Humidity and radiation were estimated on every day" in text
    assert "odds need at least 5" in text
    stuck = with_fault(good, "tmax", ("2003-07-01", "2003-07-09"), lambda v: np.full_like(v, 21.3))
    assert verdict(stuck, suspicions(stuck))[0] == "usable"
    dry = with_fault(good, "rain", ("2003-11-01", "2003-11-30"), np.zeros_like)
    figures = summary_of(dry)
    assert figures.grade == "doubtful"
    assert [s.kind for s in figures.suspicious] == ["dry month"]
    assert "2003-11-01 to 2003-11-30" in figures.suspicious[0].sentence


FLAGS = {"humidity": 4, "wind": 8}


def with_stand_ins(good, **days):
    """The record without what was measured on its first days, so many of each."""
    record = good.copy(deep=True)
    for name, count in days.items():
        record["measured"].values[:count] -= FLAGS[name]
        record["estimated"].values[:count] += 1
    return record


def with_filled(good, count):
    record = good.copy(deep=True)
    record["filled"].values[:count] = True
    return record


ALL_DAYS = 4383  # twelve years from 2000 on, three of them with a leap day
AGAINST = {
    "nothing": (lambda good: good, "good", "12 years, all measured, nothing suspicious."),
    "few gaps": (
        lambda good: with_filled(good, 219), "good", "Gaps were filled on 219 of 4,383 days.",
    ),
    "more than one day in twenty": (
        lambda good: with_filled(good, 220), "doubtful", "Gaps were filled on 220 of 4,383 days.",
    ),
    "temperature alone": (
        lambda good: good.assign_attrs(et0_method="hargreaves"), "usable",
        "ET0 rests on temperature alone and can be a fifth or more off.",
    ),
    "ET0 of the file": (
        lambda good: good.assign_attrs(et0_method="ready-made"), "usable",
        "ET0 is the file's own and could not be checked.",
    ),
    "a tenth estimated": (
        lambda good: with_stand_ins(good, wind=438), "good",
        "Wind was estimated on 10 % of the days.",
    ),
    "more than a tenth": (
        lambda good: with_stand_ins(good, wind=439), "usable",
        "Wind was estimated on 10 % of the days.",
    ),
    "two on the same days": (
        lambda good: with_stand_ins(good, humidity=ALL_DAYS, wind=ALL_DAYS), "usable",
        "Humidity and wind were estimated on every day.",
    ),
    "two on others": (
        lambda good: with_stand_ins(good, humidity=1000, wind=2000), "usable",
        "Humidity or wind was estimated on 46 % of the days.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", AGAINST)
def test_what_speaks_against_a_record(good, case):
    change, grade, reason = AGAINST[case]
    assert verdict(change(good), []) == (grade, (reason,))


def stretch(first, last, kind="stuck"):
    return Suspicion(kind, "tmax", np.datetime64(first), np.datetime64(last), "It is odd.")


@pytest.mark.parametrize(
    ("found", "grade", "reason"),
    [
        ([stretch("2003-07-01", "2003-07-09")], "usable", "1 suspicious stretch on 9 days"),
        ([stretch("2003-07-01", "2003-07-09"), stretch("2003-07-08", "2003-07-10")], "usable",
         "2 suspicious stretches on 10 days"),
        ([stretch("2000-01-01", "2000-08-06")], "usable", "1 suspicious stretch on 219 days"),
        ([stretch("2000-01-01", "2000-08-07")], "doubtful", "1 suspicious stretch on 220 days"),
        ([stretch("2011-12-31", "2011-12-31", "no dry day")], "doubtful",
         "1 suspicious stretch on 1 day"),
        ([stretch("2003-11-01", "2003-11-30", "dry month")], "doubtful",
         "1 suspicious stretch on 30 days"),
    ],
)  # fmt: skip
def test_suspicious_stretches_count_by_their_days_and_kind(good, found, grade, reason):
    assert verdict(good, found) == (grade, (f"{reason}; see below.",))


def test_the_weightiest_reason_comes_first(good):
    record = with_filled(with_stand_ins(good, wind=ALL_DAYS), 100).isel(time=slice(2000))
    assert verdict(record, [stretch("2003-07-01", "2003-07-09", "dry month")]) == (
        "doubtful",
        (
            "1 suspicious stretch on 9 days; see below.",
            "Wind was estimated on every day.",
            "Gaps were filled on 100 of 2,000 days.",
            "It has 5.5 years, enough for odds; 10 would be better.",
        ),
    )
