"""Which years of a record are run, counted by hand."""

import datetime

import pytest

from bedtide.errors import RangeError
from bedtide.many import whole_years
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


def test_a_record_from_spring_to_spring_is_not_cut_down_to_calendar_years():
    assert starts(plain_weather("2021-04-10", 730)) == ["2021-04-10", "2022-04-10"]


def test_a_record_from_29_february_is_cut_into_years_too():
    assert starts(plain_weather("2020-02-29", 367)) == ["2020-03-01"]
    assert starts(plain_weather("2019-12-01", 100), first=(2, 1), last=(2, 29)) == ["2020-02-01"]


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


def test_one_end_of_the_season_gives_the_whole_year_from_it_or_to_it():
    weather = plain_weather("2021-01-01", 800)
    assert starts(weather, first=(2, 1)) == ["2021-02-01", "2022-02-01"]
    assert starts(weather, last=(1, 31)) == ["2021-02-01", "2022-02-01"]


@pytest.mark.parametrize(("days", "words"), [(364, {}), (20, {"first": (1, 1), "last": (1, 31)})])
def test_a_record_without_a_whole_one_says_so(days, words):
    with pytest.raises(RangeError, match="hold no whole") as found:
        whole_years(plain_weather("2021-01-01", days), **words)
    assert "2021-01-01" in str(found.value)
    assert "--from" in found.value.hint
