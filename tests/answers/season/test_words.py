"""What a grower reads: the answer first, in plain words, with the right figures in it."""

import dataclasses
import re

import pytest
import xarray as xr

from bedtide.answers.season.summary import Season, summary_of, wet_grade
from bedtide.report.templates import days, render, span
from helpers.seasons import bucket_year, by_hand, drought_by_hand


def figures(season: xr.Dataset, **changes: object) -> Season:
    return dataclasses.replace(summary_of(season), **changes)


def told(figures: Season, units: str = "metric") -> str:
    return render("answers/season/text.j2", units=units, s=figures)


def report(season: xr.Dataset, units: str = "metric") -> str:
    return told(summary_of(season), units)


def headline(figures: Season, units: str = "metric") -> str:
    return told(figures, units).splitlines()[0]


def test_the_answer_stands_first():
    lines = told(
        figures(
            bucket_year(),
            refills=31,
            refill_litres=1240.4,
            refill_litres_each_median=40.2,
            days_between_refills_median=9.0,
            days_between_refills_p10=6.2,
            days_between_refills_p90=13.6,
            intervals=30,
            filling_first_month=5,
            filling_last_month=9,
            wet_grade="briefly wet",
        )
    ).splitlines()
    assert lines[0] == (
        "Fill this bed about every 9 days (6 to 14) from May to September 2023: 31 fills, "
        "1,240 L in all, about 40 L each time."
    )
    assert lines[1] == "In brackets: 8 in 10 of the 30 gaps between fills were this long."


def test_us_units_say_which_gallon():
    first = headline(summary_of(by_hand()), units="us")
    # 80 L are 21.1 US gal, 40 L 10.6
    assert "2 fills, 21 US gal in all, about 11 US gal each time" in first


@pytest.mark.parametrize("season", [by_hand, drought_by_hand, bucket_year])
def test_us_report_has_no_metric_amount(season):
    text = report(season(), "us").split("Assumed")[0]
    assert not re.search(r"\d (L|cm|m)\b", text)
    assert not re.search(r"\bgal\b", text.replace("US gal", ""))
    # one figure is kept as everywhere: the balance error
    assert re.findall(r"[\d.]+ mm", text) == ["0.000001 mm"]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"filling_first_month": 7, "filling_last_month": 7}, "in July 2023"),
        ({"filling_first_month": 6, "filling_last_month": 7}, "in June and July 2023"),
        ({"filling_first_month": 11, "filling_last_month": 2}, "from November to February:"),
        ({"filling_first_month": 1, "filling_last_month": 12}, "all through 2023"),
        ({"to": "2024-02-01"}, "from May to October:"),
        ({"days_between_refills_median": 1.0, "days_between_refills_p10": 1.0}, "every day (1 to"),
        (
            {
                "days_between_refills_median": 5.0,
                "days_between_refills_p10": 5.0,
                "days_between_refills_p90": 5.0,
            },
            "about every 5 days from",
        ),
        ({"days_between_refills_median": 8.5}, "every 9 days"),
        ({"dry_days": 4}, "; even so the plants went short on 4 days."),
        ({"intervals": 0}, "Fill this bed from May to October 2023: 13 fills"),
    ],
)
def test_headline_cases(changes, expected):
    assert expected in headline(figures(bucket_year(), **changes))


def test_no_refill_is_told_as_it_is():
    wet = headline(figures(by_hand(), refills=0))
    assert wet.startswith("No fill was needed from 25 June to 6 July 2023")
    dry = headline(figures(by_hand(), refills=0, dry_days=1))
    assert dry == ("Not one fill from 25 June to 6 July 2023, and the plants went short on 1 day.")


def test_one_refill_names_its_day():
    assert headline(summary_of(drought_by_hand())) == (
        "One fill, 96 L on 5 August 2023, and the plants went short on 3 days."
    )
    good = headline(figures(drought_by_hand(), dry_days=0))
    assert good == "Fill this bed once: 96 L on 5 August 2023 was all it took."


def test_a_long_run_is_told_as_a_mean_year():
    first = headline(figures(bucket_year(days=731), refills=24, refill_litres=2000.0, days=731))
    assert "12 fills, 999 L a year, the mean of 2.0 years" in first


def test_few_gaps_are_called_what_they_are():
    lines = told(figures(bucket_year(), intervals=4)).splitlines()
    assert lines[1] == "In brackets: the shortest and the longest of 4 gaps between fills."
    assert "In brackets" not in report(by_hand())


def test_wet_days_have_their_limit_and_grade_beside_them():
    text = report(by_hand())
    assert (
        "Wet days (too little air for the roots): 3 of 12 days with plants; the longest "
        "spell was 2 days, from 2 July 2023. Grade: briefly wet (spells of up to 2 days; "
    ) in text


@pytest.mark.parametrize("grade", ["wet at times", "too wet to breathe"])
def test_a_bed_that_drowns_says_so_first(grade):
    first = headline(figures(by_hand(), wet_days=9, wet_grade=grade))
    assert first.startswith("Fill this bed about every 5 days")
    assert first.endswith(f". The roots lack air on 9 of 12 days: {grade}.")
    assert "lack air" not in headline(figures(by_hand(), wet_grade="briefly wet"))


def test_a_bed_with_air_that_does_not_reach_deep_enough_is_not_said_to_drown():
    """By hand: air enough on the whole, but on three days 10 % of it ends above 15 cm."""
    season = by_hand()
    season["air_root_zone"][:] = 0.27
    season["air_root_zone"][4] = 0.22
    season["air_depth_needed"][:] = 0.15
    season["aerated_depth"][:] = 0.16
    season["aerated_depth"][3:6] = [0.147, 0.131, 0.1499]
    found = summary_of(season)
    assert (found.wet_days, found.wet_days_air_not_deep) == (3, 3)
    assert found.wet_grade == "wet at times"
    text = " ".join(told(found).split())
    assert "each time. On 3 of 12 days air does not reach as deep as the roots need." in text
    assert (
        "The roots have air enough on the whole, 22 % at the least, but on the worst day 10 % air "
        "reaches only 13.1 cm down; they need it 15 cm down."
    ) in text
    assert "lack air" not in text
    long = told(dataclasses.replace(found, wet_grade="too wet low down"))
    assert "Grade: too wet low down (a spell of more than 7 days). More mix above" in long
    season["air_root_zone"][4] = 0.09  # a day on which the roots do lack air
    drowned = " ".join(report(season).split())
    assert "The roots lack air on 3 of 12 days: wet at times." in drowned
    assert "on the whole" not in drowned


@pytest.mark.parametrize(
    ("days", "grade"),
    [
        (0, "airy"),
        (1, "briefly wet"),
        (2, "briefly wet"),
        (3, "wet at times"),
        (7, "wet at times"),
        (8, "too wet to breathe"),
    ],
)
def test_grades(days, grade):
    assert wet_grade(days, rooted_days=100) == grade
    assert wet_grade(days, rooted_days=0) == "no plants"


def test_a_long_spell_by_depth_alone_has_a_grade_of_its_own():
    assert wet_grade(8, rooted_days=100, low_down=True) == "too wet low down"
    assert wet_grade(7, rooted_days=100, low_down=True) == "wet at times"


def test_dry_days_are_told_apart():
    assert (
        "3 of 6 days: 2 with no water that the mix can reach, 1 with water in it that the mix "
        "lifts too slowly. Over all the plants got 85 % of their need."
    ) in report(drought_by_hand())


def test_a_bed_without_plants_is_not_graded():
    season = by_hand()
    for name in ("root_depth", "transpiration", "transpiration_potential"):
        season[name] = season[name] * 0
    text = report(season)
    assert "Wet days: nothing was planted" in text
    assert "Dry days: nothing was growing" in text


def test_a_balance_error_is_shown_as_it_is():
    text = told(figures(by_hand(), balance_error_mm=0.0123))
    assert "Balance error: 0.012 mm" in text


def test_volumes_of_many_years_are_told_by_the_year():
    found = summary_of(bucket_year("2020-01-01", days=1461))
    text = told(found)
    poured = f"{found.refill_litres / 4:,.0f} L"
    assert f"Water in a year: {poured} poured in" in text
    assert f" {poured} a year, the mean of 4.0 years" in text.splitlines()[0]
    assert "Water out a year: the plants drank" in text
    assert " a year" not in told(summary_of(bucket_year()))


def test_water_that_nothing_reaches_is_said_to_be_out_of_reach():
    season = drought_by_hand()
    season["refill"] = season["refill"] * 0
    season["dead_storage"] = season["dead_storage"] * 0 + 1.0  # more than the overflow lets in
    found = summary_of(season)
    assert found.reservoir_litres_out_of_reach == found.reservoir_litres
    text = told(found)
    assert text.splitlines()[0].endswith("the mix can't reach the water in the reservoir.")
    assert "all of it out of the mix's reach" in text
    assert "with no water that the mix can reach" in text


def test_assumptions_are_listed_and_their_absence_said():
    assert "\nAssumed:\n  Wind was taken as 2 m/s on 3 of the days.\n" in report(by_hand())
    season = by_hand()
    season.attrs["assumptions"] = []
    assert "Assumed: nothing; every day was measured." in report(season)


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("season", [by_hand, drought_by_hand, bucket_year])
def test_words_that_growers_do_not_use_stay_out(season, units):
    text = report(season(), units).lower()
    for word in ("matric", "suction", "porosity", "field capacity", "afp", "percentile", "nan"):
        assert word not in text, word
    for word in ("summer", "winter", "spring", "autumn"):
        assert word not in text, word
    assert "none" not in text
    assert "  \n" not in text


def test_month_table_leaves_out_months_that_were_not_run():
    lines = report(by_hand()).split("\n\n")[2].splitlines()
    assert [line.split()[0] for line in lines] == ["Month", "June", "July"]
    assert lines[2].split() == ["July", "2023", "1", "28", "5", "35", "2", "0"]


@pytest.mark.parametrize(
    ("first", "last", "text"),
    [
        ("2023-06-25", "2023-07-06", "25 June to 6 July 2023"),
        ("2023-06-05", "2023-06-16", "5 to 16 June 2023"),
        ("2023-06-05", "2023-06-05", "5 June 2023"),
        ("2022-12-31", "2023-01-01", "31 December 2022 to 1 January 2023"),
    ],
)
def test_spans(first, last, text):
    assert span(first, last) == text


@pytest.mark.parametrize(("number", "text"), [(1, "1 day"), (0, "0 days"), (2.5, "3 days")])
def test_days(number, text):
    assert days(number) == text
