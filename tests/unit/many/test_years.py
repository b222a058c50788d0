"""Which years of a record are run, counted by hand."""

import datetime

import pytest

from bedtide.errors import FieldError, RangeError
from bedtide.many import every_year, on_that_day, repeated, whole_years
from bedtide.many.years import some_years
from helpers.beds import bed_with
from helpers.plain_weather import plain_weather


def starts(weather, **words) -> list[str]:
    return [str(day) for day in whole_years(weather, **words).starts]


def test_a_two_year_record_holds_two_years_and_no_more():
    weather = plain_weather("2021-01-01", 730)
    found = whole_years(weather)
    assert found.starts == (datetime.date(2021, 1, 1), datetime.date(2022, 1, 1))
    assert (found.days, found.left_out) == (365, 0)


def test_the_last_day_of_a_leap_year_is_left_out_and_counted():
    found = whole_years(plain_weather("2023-01-01", 365 + 366))
    assert len(found.starts) == 2
    assert found.left_out == 1


def test_south_of_the_equator_a_year_begins_in_july():
    weather = plain_weather("2020-01-01", 3 * 365 + 1, latitude=-33.0)
    assert starts(weather) == ["2020-01-01", "2021-01-01", "2022-01-01"]  # three, not two
    longer = plain_weather("2020-01-01", 3 * 365 + 1 + 181, latitude=-33.0)
    assert starts(longer) == ["2020-07-01", "2021-07-01", "2022-07-01"]


@pytest.mark.parametrize(
    ("latitude", "begins"), [(0.5, "01-01"), (None, "01-01"), (-0.5, "07-01"), (48.0, "01-01")]
)
def test_a_year_begins_in_midwinter_also_near_the_equator_and_where_no_place_is_told(
    latitude, begins
):
    """June 2020 to January 2023: two years from either day, no more from its own first one."""
    weather = plain_weather("2020-06-20", 30 + 2 * 365 + 180, latitude=latitude or 0.0)
    if latitude is None:
        del weather.attrs["latitude"]
    assert {day[5:] for day in starts(weather)} == {begins}


def test_a_record_from_spring_to_spring_is_not_cut_down_to_calendar_years():
    assert starts(plain_weather("2021-04-10", 730)) == ["2021-04-10", "2022-04-10"]


def test_a_record_from_29_february_is_cut_into_years_too():
    assert starts(plain_weather("2020-02-29", 367)) == ["2020-03-01"]
    found = whole_years(plain_weather("2019-12-01", 100), first=(2, 1), last=(2, 29))
    assert [str(day) for day in found.starts] == ["2020-02-01"]
    assert found.days == 28


def test_the_same_season_of_every_year():
    weather = plain_weather("2021-06-01", 500)  # to 2022-10-13
    assert starts(weather, first=(5, 1), last=(9, 30)) == ["2022-05-01"]
    found = whole_years(weather, first=(6, 1), last=(6, 30))
    assert len(found.starts) == 2
    assert found.days == 30
    assert found.left_out == 440


def test_a_season_may_span_the_new_year():
    found = whole_years(plain_weather("2021-01-01", 800), first=(11, 1), last=(2, 28))
    assert [str(day) for day in found.starts] == ["2021-11-01", "2022-11-01"]
    assert found.days == 30 + 31 + 31 + 28


def test_a_season_is_one_day_long_or_all_of_the_year():
    weather = plain_weather("2021-01-01", 800)
    assert whole_years(weather, first=(6, 1), last=(6, 1)).days == 1
    assert whole_years(weather, first=(6, 1), last=(5, 31)).days == 365


def test_one_end_of_the_season_gives_the_whole_year_from_it_or_to_it():
    weather = plain_weather("2021-01-01", 800)
    assert starts(weather, first=(2, 1)) == ["2021-02-01", "2022-02-01"]
    assert starts(weather, last=(1, 31)) == ["2021-02-01", "2022-02-01"]


@pytest.mark.parametrize(
    ("days", "words", "told"),
    [
        (364, {}, "364 days from 2021-01-01 to 2021-12-30 hold no whole year"),
        (
            20,
            {"first": (1, 1), "last": (1, 31)},
            "20 days from 2021-01-01 to 2021-01-20 hold no whole season of 31 days",
        ),
    ],
)
def test_a_record_without_a_whole_one_says_so(days, words, told):
    with pytest.raises(RangeError) as found:
        whole_years(plain_weather("2021-01-01", days), **words)
    assert told in str(found.value)
    assert "--from" in found.value.hint


# --- full dates that return every year: by the calendar -----------------------------------------


def dated(*plantings, **overflow):
    mapping = {"planting": [dict(each, area_share="20 %") for each in plantings]}
    if overflow:
        mapping["overflow.change"] = [overflow]
    return bed_with(mapping)


FIRST, LAST = datetime.date(2027, 4, 1), datetime.date(2027, 6, 30)


@pytest.mark.parametrize(
    ("planted", "kept"),
    [
        ("2027-03-01", (3, 1)),  # radish: 35 days, to 4 April, so it stands on the first
        ("2027-02-20", None),  # to 26 March: over before
        ("2027-06-30", (6, 30)),  # on the last day
        ("2027-07-01", None),  # after it
        ("05-02", (5, 2)),  # of every year already
        ("2028-05-02", None),  # of another year
    ],
)
def test_what_stands_in_the_days_of_leaving_comes_every_year(planted, kept):
    bed = dated(
        {
            "crop": "radish",
            "planted": planted,
            "stages": ["10 days", "10 days", "10 days", "5 days"],
        }
    )
    plain, dropped = every_year(bed, FIRST, LAST)
    assert [each.planted for each in plain.plantings] == ([kept] if kept else [])
    assert dropped == ([] if kept else ["radish"])


def test_what_is_planted_on_the_way_ends_with_the_run():
    """Tomato from 1 June stands 145 days, past the 30th: it is cleared on 1 July of every year."""
    bed = dated({"crop": "tomato", "planted": "2027-06-01"})
    plain, _ = every_year(bed, FIRST, LAST)
    assert plain.plantings[0].removed == (7, 1)
    early, _ = every_year(dated({"crop": "tomato", "planted": "2027-04-01"}), FIRST, LAST)
    assert early.plantings[0].removed is None  # there on the first day already
    short = {"crop": "radish", "planted": "2027-06-01", "removed": "2027-06-20"}
    assert every_year(dated(short), FIRST, LAST)[0].plantings[0].removed == (6, 20)


def test_a_perennial_stands_in_every_year_from_its_planting_on():
    bed = dated({"crop": "strawberry", "planted": "2020-03-05"})
    plain, dropped = every_year(bed, FIRST, LAST)
    assert (plain.plantings[0].planted, dropped) == ((3, 5), [])
    for planted, removed, gone in (
        ("2027-07-05", "2030-05-01", True),
        ("2020-03-15", "2027-04-01", True),  # on the first morning
        ("2020-03-15", "2029-05-01", False),
    ):
        keys = {"crop": "strawberry", "planted": planted, "removed": removed}
        plain, dropped = every_year(dated(keys), FIRST, LAST)
        assert dropped == ["strawberry"] * gone
        assert [p.removed for p in plain.plantings] == [None] * (not gone)


def test_what_stands_for_more_than_a_year_must_say_so_by_month_and_day():
    long = {"crop": "tomato", "planted": "2026-05-10", "removed": "2027-12-01"}
    with pytest.raises(FieldError, match=r"planting 1 \(tomato\)"):
        every_year(dated(long), FIRST, LAST)


def test_each_planting_is_looked_at_whatever_stood_before_it_in_the_list():
    """Of every year, of another year, perennial, in these days: all in one bed, in both orders."""
    beds = [
        {"crop": "onion", "planted": "03-01"},
        {"crop": "lettuce", "planted": "2028-05-02"},
        {"crop": "strawberry", "planted": "2020-03-05"},
        {"crop": "radish", "planted": "2027-05-01"},
    ]
    days = {"onion": (3, 1), "strawberry": (3, 5), "radish": (5, 1)}
    for each in (beds, beds[::-1]):
        plain, dropped = every_year(dated(*each), FIRST, LAST)
        assert {p.crop.name: p.planted for p in plain.plantings} == days
        assert dropped == ["lettuce"]


def test_what_is_over_on_the_last_day_is_not_cut_short_nor_kept():
    """Radish of 35 days from 26 May: its last day is 29 June, and 30 June the first without it."""
    radish = {"crop": "radish", "stages": ["10 days", "10 days", "10 days", "5 days"]}
    plain, _ = every_year(dated(radish | {"planted": "2027-05-26"}), FIRST, LAST)
    assert plain.plantings[0].removed is None


def test_heights_of_the_overflow_that_return_every_year_already_stay():
    bed = dated(**{"from": "05-10", "to": "10-15", "height": "5 cm"})
    plain, _ = every_year(bed, FIRST, LAST)
    assert [(each.start, each.height) for each in plain.overflow.changes] == [
        ((5, 10), 0.05),
        ((10, 15), 0.09),
    ]


def test_29_february_is_the_28th():
    bed = dated({"crop": "tomato", "planted": "2028-02-29"})
    plain, _ = every_year(bed, datetime.date(2028, 3, 1), datetime.date(2028, 5, 1))
    assert plain.plantings[0].planted == (2, 28)
    assert on_that_day(datetime.date(2028, 2, 29), 2027) == datetime.date(2027, 2, 28)
    assert on_that_day(datetime.date(2028, 2, 29), 2024) == datetime.date(2024, 2, 29)
    assert on_that_day(datetime.date(2027, 3, 1), 2028) == datetime.date(2028, 3, 1)


def test_the_height_of_the_overflow_on_the_first_day_and_its_changes_return():
    change = {"from": "2027-05-10", "height": "5 cm"}
    plain, _ = every_year(dated(**change), FIRST, LAST)
    assert plain.overflow.height == 0.09
    assert [(each.start, each.height) for each in plain.overflow.changes] == [
        ((4, 1), 0.09),
        ((5, 10), 0.05),
    ]
    after, _ = every_year(dated(**change), datetime.date(2027, 6, 1), LAST)
    assert (after.overflow.height, after.overflow.changes) == (0.05, ())
    outside, _ = every_year(dated(**change), FIRST, datetime.date(2027, 5, 9))
    assert (outside.overflow.height, outside.overflow.changes) == (0.09, ())


def test_full_dates_of_one_year_come_round_and_it_is_said():
    bed = dated(
        {"crop": "radish", "planted": "2027-05-01"}, {"crop": "lettuce", "planted": "2028-05-02"}
    )
    plain, sentences = repeated(bed)
    assert [each.planted for each in plain.plantings] == [(5, 1)]
    assert "full dates from 2027-05-01 to 2028-04-29" in sentences[0]
    assert sentences[1].endswith("left out, as planted in another year: lettuce.")
    assert repeated(bed_with()) == (bed_with(), [])


def test_some_years_are_spread_from_the_wettest_to_the_driest():
    """Eight years of which each is drier than the one before: of four quarters, the later each."""
    rain = {f"{2000 + n}-06-15": 100.0 - 10.0 * n for n in range(8)}
    weather = plain_weather("2000-01-01", 8 * 365 + 2, rain_mm=rain)
    years = whole_years(weather)
    assert len(years.starts) == 8
    found = some_years(weather, years, 4)
    assert [day.year for day in found.starts] == [2001, 2003, 2005, 2007]
    assert (found.days, found.left_out) == (years.days, years.left_out)
    third = some_years(weather, years, 3)  # 8/6, 24/6 and 40/6 of the way: numbers 1, 4 and 6
    assert [day.year for day in third.starts] == [2001, 2004, 2006]
    assert some_years(weather, years, 8) is years
    assert len(some_years(weather, years, 7).starts) == 7
    rain = {f"{2000 + n}-06-15": 30.0 + 10.0 * n for n in range(8)}  # and the other way round
    turned = some_years(plain_weather("2000-01-01", 8 * 365 + 2, rain_mm=rain), years, 4)
    assert [day.year for day in turned.starts] == [2000, 2002, 2004, 2006]
