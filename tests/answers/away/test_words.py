"""What is said of a stay away: the answer first, honest of how sure, in plain words."""

import dataclasses
import datetime
import json
import re

import pytest

from bedtide.answers.away.summary import Case, calendar_of, summary_of
from bedtide.bed import capacity, full_level, plan_area
from bedtide.files import json_text
from bedtide.many import Range
from bedtide.many.leaving import away_calendar
from bedtide.many.stay import away, away_ranges
from bedtide.report.templates import render
from bedtide.tables import samples_folder
from bedtide.weather import read_weather
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

DAY = datetime.date(2027, 7, 10)
TWO = [
    {"crop": "tomato", "planted": "05-01", "area_share": "60 %"},
    {"crop": "lettuce", "planted": "06-20", "area_share": "30 %"},
]
LONG = "mulch+shade+harvest tomato+visit+visit+top up"


@pytest.fixture(scope="module")
def record():
    return read_weather(samples_folder() / "brasaluz.csv")


def stay(bed, weather=None, **words):
    """Fixture of the figures of a stay, of 16 days in the record where nothing else is said."""

    @pytest.fixture(scope="module")
    def made(record):
        found = record.sel(time=weather) if isinstance(weather, slice) else weather
        run = away(bed, record if found is None else found, DAY, **{"days": 16} | words)
        return summary_of(run)

    return made


def calendar(bed, first, last, **words):
    """Fixture of the figures of a calendar, in years of the record."""

    @pytest.fixture(scope="module")
    def made(record):
        return calendar_of(away_calendar(bed, record.sel(time=slice(first, last)), **words))

    return made


TWO_YEARS = plain_weather("2021-01-01", 730)
BARK = {"box.depth": "70 cm", "mix.top": {"medium": "pine bark coarse"}}
thirty = stay(bed_with({"planting": TWO}))
two = stay(bed_with(), TWO_YEARS)
bark = stay(bed_with(BARK), TWO_YEARS, days=10)
bare = stay(bed_with({"planting": []}), TWO_YEARS, days=10)
easy = stay(bed_with(), plain_weather("2021-01-01", 730, et0_mm=0.5), days=10)
alone = stay(bed_with(), slice("2003-07-01", "2003-08-15"), days=30)
joined = stay(bed_with({"planting": TWO}), level=0.6, measures=[LONG])
# Stone with mix down to 5 cm, so that what stands below is out of reach.
dead = stay(
    layered("stone", void_share="40 %", wick_foot="5 cm"), TWO_YEARS, days=5, measures=[]
)  # fmt: skip
year = calendar(bed_with(), "1995", "2024")
ranged_year = calendar(bed_with(), "2001", "2012", draws=4)
few = calendar(bed_with(), "2001", "2003")
bare_year = calendar(bed_with({"planting": []}), "2001", "2012")


@pytest.fixture(scope="module")
def ranged(record):
    bed = bed_with({"planting": TWO})
    stay = away(bed, record, DAY, days=16, measures=[])
    return summary_of(stay, ranges=away_ranges(bed, record, DAY, days=16))


STAYS = ("thirty", "two", "ranged", "bark", "bare", "easy", "alone", "joined", "dead")
CALENDARS = ("year", "ranged_year", "few", "bare_year")


def told(figures, units="metric", width=None, **changes):
    template = "text" if hasattr(figures, "measures") else "calendar"
    changed = dataclasses.replace(figures, **changes)
    return render(f"answers/away/{template}.j2", units=units, width=width, s=changed)


def first(figures, **changes):
    return told(figures, **changes).splitlines()[0]


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("state", [*STAYS, *CALENDARS])
def test_every_state_is_told_within_sixty_columns(request, state, units):
    text = told(request.getfixturevalue(state), units, 60)
    assert max(map(len, text.splitlines())) <= 60
    assert "Check the level in the bed with a" in text.replace("\n", " ")
    text = re.sub("None of [0-9]+ (year|start)s lasted", "", text)
    for word in ("{", "}", "None", "nan", "inf ", " .", " ,", "( ", "\n\n\n", "│"):
        assert word not in text, word


@pytest.mark.parametrize("state", [*STAYS, *CALENDARS])
def test_words_of_growers(request, state):
    text = told(request.getfixturevalue(state)).lower()
    for word in ("matric", "summer month", "field capacity", "winter", "percentile"):
        assert word not in text, word


def test_the_answer_stands_first(thirty):
    text = told(thirty, days_safe=11, cases_lasting=4, chance_percent=400 / 30)
    assert text.startswith(
        "Likely to last 11 days (9 in 10 years): too short for your 16 days.\n"
        "4 of 30 years lasted: about 13 % ("
    )
    assert "): long enough for your 16 days." in first(thirty, days_safe=16)


def test_one_day_none_and_more_than_was_followed(thirty):
    assert "last 1 day (" in first(thirty, days_safe=1)
    assert "last less than 1 day (" in first(thirty, days_safe=0)
    assert "last 45 days or more (9 in 10 years): long enough" in first(thirty, days_safe=None)


def test_few_years_never_speak_of_nine_in_ten_years(two):
    text = told(two)
    assert "(the shortest of 10 starts): " in text.splitlines()[0]
    assert "9 in 10 years" not in text
    assert (
        "Only 2 years of weather. With so few years, dates 5 and 10 days either side are tried "
        "too; that is weaker evidence."
    ) in text
    assert first(two, days_shortest=two.days_safe - 1).startswith(
        f"Likely to last {two.days_safe} days (9 in 10 of 10 starts)"
    )


def test_the_only_start_is_called_so(alone):
    text = told(alone)
    assert "(the only start): too short for your 30 days." in text
    assert "The only start did not last: at most 50 %" in text
    assert "either side are tried" not in text


@pytest.mark.parametrize(
    ("through", "share", "words"),
    [
        (0, 100 / 31, "None of 30 years lasted: at most 3 % ("),
        (30, 3000 / 31, "All 30 years lasted: about 97 % ("),
    ],
)
def test_no_certainty_from_thirty_years(thirty, through, share, words):
    line = told(thirty, cases_lasting=through, chance_percent=share).splitlines()[1]
    assert words in line
    assert "100 % (" not in line
    assert " 0 % (" not in line
    assert ("not certain" in line) == (through == 30)


def test_years_without_weather_are_named(thirty):
    assert "Skipped, too much weather missing: 2005 and 2011." in told(
        thirty, years_with_gaps=(2005, 2011)
    )
    assert "Skipped" not in told(thirty)


def test_every_figure_printed_is_one_of_the_summary(thirty):
    text = told(thirty)
    assert f"Likely to last {thirty.days_safe} days" in text
    assert f"{thirty.cases_lasting} of 30 years lasted" in text
    for measure in thirty.measures:
        days = "45+" if measure.days_safe is None else str(measure.days_safe)
        through = re.escape(f"{measure.cases_lasting} of 30")
        gain = r"\s+([-+]\d+|0|\d+\+)" if measure.measure != "as it is" else ""
        assert re.search(rf"  {re.escape(days)}{gain}\s+{through}$", text, re.M), measure
    visit = next(m for m in thirty.measures if m.measure == "visit")
    assert f"Have {visit.litres_p90:.0f} L ready" in text
    worst = thirty.case_list[0]
    assert f"Shortest: {worst.days_lasted} days in " in text
    assert str(worst.year) in text


def test_years_that_last_are_not_among_the_shortest(thirty):
    line = next(line for line in told(thirty).splitlines() if line.startswith("Shortest"))
    days = re.findall(r"(\d+) days", line.split(". Longest")[0])
    assert days
    assert all(int(each) < 16 for each in days)


def test_years_are_counted_where_many_are_alike(thirty):
    cases = [
        dataclasses.replace(case, days_lasted=12 if at < 6 else 20)
        for at, case in enumerate(thirty.case_list)
    ]
    text = told(thirty, case_list=tuple(cases), days_shortest=12, days_longest=20)
    assert "Shortest: 12 days in 6 years. Longest: 20 days in 24 years." in text


def test_changes_stand_in_order_of_what_they_buy(thirty):
    lines = told(thirty).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("as it is"))
    gains = []
    for line in lines[start + 1 :]:
        found = re.search(r"\s([-+]\d+|0)\s+\d+ of 30$", line)
        if not found:
            break
        gains.append(int(found.group(1)))
    assert len(gains) == len(thirty.measures) - 1
    kept = [change.clears for change in thirty.changes[1:]].count(False)
    assert gains[:kept] == sorted(gains[:kept], reverse=True)
    assert gains[kept:] == sorted(gains[kept:], reverse=True)
    assert gains[kept] > gains[0], "a harvest buys most, and yet stands last: the crop is lost"


def test_a_visit_that_is_not_needed_says_so(two):
    assert "It would have lasted without." in told(two)
    lacking = tuple(
        dataclasses.replace(m, litres_p90=None, litres_median=None) for m in two.measures
    )
    assert "the bed was full on the day tried; no visit is needed" in told(two, measures=lacking)


def test_what_was_not_run_has_its_reason(two):
    assert "Nothing to gain, so not run: letting rain in (nothing keeps it out), a harvest" in told(
        two
    )
    assert "so not run: mulch+shade." in told(two, measures_left_out=("mulch+shade",))


def test_us_units_say_which_gallon_and_no_metric(thirty):
    text = told(thirty, "us")
    assert "US gal drum" in text
    assert not re.search(r"\d (L|kg|mm|cm)\b", text.replace("0.000001 mm", ""))


def test_dead_water_is_said_to_be_out_of_reach(dead):
    # 2 m by 0.6 m, 5 cm of stone with 40 % of void: 24 L
    assert "24 L of it out of the mix's reach and not counted" in told(dead)


def test_a_level_and_the_watering_before_are_told(joined):
    assert "is filled to 60 % of what the mix can reach on the morning" in told(joined)
    assert "has 30 days of the bed's own watering, is" in told(joined)
    assert "filling every morning (its own rule is never to fill)" in told(
        joined, kept_before="every morning"
    )
    assert "Each is filled to" in told(joined, spin_up_days=0)


def test_a_mix_that_lifts_too_slowly_is_said_to_be_the_cause(bark):
    lines = told(bark).splitlines()
    assert lines[1].startswith(
        "The mix is the problem, not your absence: even with daily filling, plants run short on "
        "10 of 10 days, in 10 of 10 starts."
    )
    assert any(line.startswith("No change tried buys a day") for line in lines)


def test_nothing_growing_is_said_at_once(bare):
    text = told(bare)
    assert text.startswith(
        "Nothing grows here then, so nothing can go short. The usable water is gone after "
    )
    assert "lasted:" not in text
    assert "What each change" not in text
    assert "lasts over 45 days." in first(bare, days_to_empty_median=None)


def test_a_range_without_an_end_is_no_range(ranged):
    endless = dataclasses.replace(ranged.range["days_safe"], typical=None, low=None, high=None)
    line = first(dataclasses.replace(ranged, range={**ranged.range, "days_safe": endless}))
    assert line.startswith(
        f"Likely to last {ranged.days_followed} days or more (9 in 10 years, for 9 in 10 of what "
        "your mix and plants may be): long enough for your 16 days."
    )


def test_a_range_takes_the_place_of_the_number(ranged):
    found = ranged.range["days_safe"]
    assert found.typical == ranged.days_safe
    line = first(ranged)
    assert f"Likely to last {found.low:.0f} to {found.high:.0f} days (9 in 10 years; " in line
    assert f"{found.typical} for a typical mix and plants, this range for 8 in 10 of what" in line
    assert "may be): maybe too short for your 16" in line
    text = told(ranged)
    assert "The days it lasts hang most on " in text
    assert "--range tells" not in text
    assert "long enough for your 3 days" in first(ranged, days_away=3)
    assert "): too short for your 40 days" in first(ranged, days_away=40)


def test_sets_that_would_fail_with_you_there_are_counted_and_not_in_the_range(thirty):
    doubt = Range(
        typical=8, low=6, high=None, matters="surface supply", runs=64, failing=13,
        influence={"surface supply": 0.7, "exposure": -0.5, "mulch": 0.1},
    )  # fmt: skip
    text = told(thirty, range={"days_safe": doubt, "cases_lasting": doubt} | {
        "cases_lasting": dataclasses.replace(doubt, high=9)})  # fmt: skip
    assert "Likely to last 6 to 45 or more days (" in text
    assert "In 13 of 64 sets the plants would go short even with the reservoir full" in text
    assert (
        "The days it lasts hang most on how well the mix keeps its surface wet from below" in text
    )
    assert "then on how much sun and wind the bed gets. Look at" in text
    assert "You would have seen that" in text


def test_a_summary_is_json_with_more_than_was_followed_as_null(easy):
    figures = json.loads(json_text(easy))
    assert figures["days_safe"] is None
    assert figures["calendar"] is None
    assert figures["range"] is None
    assert figures["days_followed"] == 45
    assert figures["chances"][0] == {
        "days": 1, "cases_lasting": 10, "chance_percent": pytest.approx(200 / 3),
    }  # fmt: skip
    assert "It outlasts the 45 days followed as it is: no change can show more." in told(easy)
    assert "The plants never go short in the 45 days followed." in told(easy)


def test_the_calendar_in_words(year):
    fewest = min(row.days_safe for row in year.dates if row.days_safe is not None)
    text = told(year)
    assert text.startswith(f"Likely to last {fewest} days at the worst time to leave, about ")
    assert re.search(r"^July +\d+ to \d+ +\d+ July: \d+$", text, re.M), text
    assert re.search(r"^January\* +60\+ +any day$", text, re.M), text
    assert "\n* Nothing grows when you leave.\n" in text
    assert "whenever you leave (9 in 10 years)" in first(year, fewest_days_safe=None)
    assert "last less than 1 day at" in first(year, fewest_days_safe=0)


def test_what_the_bed_holds_and_what_was_tried(two, bark):
    bed = bed_with()
    held = float(capacity(bed, full_level(bed))) * plan_area(bed) * 1000
    assert two.reservoir_litres == pytest.approx(held)
    assert two.shade_percent == 50
    assert (two.cases_short_before_empty, bark.cases_short_before_empty) == (0, 10)


def test_the_chance_is_the_share_of_the_years_and_what_they_can_tell(thirty):
    from scipy.stats import binomtest

    assert (thirty.leave, thirty.back, thirty.days_away) == ("2027-07-10", "2027-07-26", 16)
    assert 0 < thirty.cases_lasting < thirty.cases == 30
    assert thirty.chance_percent == pytest.approx(100 * thirty.cases_lasting / 30)
    ends = binomtest(thirty.cases_lasting, 30).proportion_ci(0.8, method="exact")
    assert thirty.chance_low_percent == pytest.approx(100 * ends.low)
    assert thirty.chance_high_percent == pytest.approx(100 * ends.high)


@pytest.mark.parametrize(
    ("days", "named"),
    [
        ([5, 5, 7, 8, 8, 9, 20, None], [(5, [2001, 2002]), (7, [2003]), (8, [2004, 2005])]),
        ([5, 15, 16, None], [(5, [2001]), (15, [2002])]),  # 16 days are the stay
        ([20, 21], [(20, [2001])]),
        ([None, None], []),
    ],
)
def test_the_worst_years_are_few_and_too_short(joined, days, named):
    cases = [
        Case(year=2001 + at, start=f"{2001 + at}-07-10", days_lasted=lasted, days_to_empty=None)
        for at, lasted in enumerate(days)
    ]
    found = dataclasses.replace(joined, case_list=tuple(cases), days_away=16)
    assert found.worst_years == named
    assert found.best_years == [2001 + at for at, lasted in enumerate(days) if lasted == days[-1]]


def test_the_mix_fails_in_more_than_a_tenth_of_the_cases(joined):
    three = dataclasses.replace(joined, cases=30, cases_short_even_if_filled=3)
    assert not three.mix_fails
    assert dataclasses.replace(three, cases_short_even_if_filled=4).mix_fails


def test_what_outlasts_the_days_followed_buys_most(joined):
    first = joined.measures[0]
    last_day = dataclasses.replace(first, measure="mulch", days_safe=45, cases_lasting=30)
    longer = dataclasses.replace(first, measure="drum", days_safe=None, cases_lasting=29)
    found = dataclasses.replace(joined, measures=(first, last_day, longer))
    assert found.days_followed == 45
    assert [change.measure for change in found.changes] == [first.measure, "drum", "mulch"]


def test_a_calendar_begins_with_its_midwinter(year):
    assert [m.month for m in year.by_month] == list(range(1, 13))
    south = dataclasses.replace(year, first_month=7).by_month
    assert [m.month for m in south] == [*range(7, 13), *range(1, 7)]
    assert {type(date.season_left) for date in year.dates} == {int, type(None)}  # whole days


def test_the_calendar_with_its_range(ranged_year):
    text = told(ranged_year)
    low, high = ranged_year.fewest_days_safe_low, ranged_year.fewest_days_safe_high
    assert text.startswith(f"Likely to last {low:.0f} to {high:.0f} days at the worst time")
    assert re.search(r"^July +\d+ to \d+ +\d+ July: \d+ +\d+ to \d+$", text, re.M), text


def test_a_calendar_beside_a_stay(thirty, few):
    text = told(thirty, calendar=few)
    assert "Days it lasts, by the day you leave (9 in 10 starts):" in text
    assert text.index("What each change buys") < text.index("Days it lasts, by the day")


def test_a_calendar_of_few_years_says_so(few):
    text = told(few)
    assert "9 in 10 years" not in text
    assert "Only 3 years of weather" in text
    assert "up to 10 days before and after" in text


def test_a_season_that_ends_meanwhile_is_told_and_no_other(two):
    words = "From 20 July on nothing grows here: the season of tomato is over"
    text = told(two, season_ends="2027-07-20", days_safe=None)
    assert text.startswith("Likely to last until its crops are over (")
    assert words in text
    assert "nothing grows here" not in told(two, season_ends="2027-07-28")
    assert "nothing grows here" not in told(two)
