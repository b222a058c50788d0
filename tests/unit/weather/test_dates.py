import numpy as np
import pytest

from bedtide.weather.dates import from_parts, parse_stamps


def stamps(*texts, order=None):
    lines = np.arange(2, 2 + len(texts))
    return parse_stamps(texts, lines, source="garden.csv", name="date", order=order)


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("2021-03-04", "2021-03-04T00:00"),
        ("2021-3-4", "2021-03-04T00:00"),
        ("2021/03/04", "2021-03-04T00:00"),
        ("20210304", "2021-03-04T00:00"),
        ("2021030405", "2021-03-04T05:00"),
        ("202103040530", "2021-03-04T05:30"),
        ("2021-03-04 05:30", "2021-03-04T05:30"),
        ("2021-03-04T05:30:15", "2021-03-04T05:30:15"),
        ("2021-03-04 24:00", "2021-03-05T00:00"),
        ("2021-03-04 1:05 PM", "2021-03-04T13:05"),
        ("2021-03-04 12:05 am", "2021-03-04T00:05"),
        ("4 Mar 2021", "2021-03-04T00:00"),
        ("04-March-2021", "2021-03-04T00:00"),
        ("2020-02-29", "2020-02-29T00:00"),
    ],
)
def test_year_first_or_month_by_name(text, time):
    # the second row forces the slow way, the first alone may take the fast one
    for found in (stamps(text), stamps(text, "2021/1/1")):
        assert found.errors == []
        assert found.times[0] == np.datetime64(time)


def test_day_and_month_only_where_declared():
    assert stamps("03/04/2021", order="dmy").times[0] == np.datetime64("2021-04-03")
    assert stamps("03/04/2021", order="mdy").times[0] == np.datetime64("2021-03-04")
    error = stamps("03/04/2021", "04/04/2021").errors[0]
    assert "line 2" in error.text
    assert 'date_order="dmy"' in error.text


@pytest.mark.parametrize(
    "text", ["2021-02-29", "2021-13-01", "2021-04-31", "1066-01-01", "2021-01-01 25:00"]
)
def test_a_day_that_does_not_exist_is_named(text):
    found = stamps("2021-01-01", text, "2021-01-02")
    assert np.isnat(found.times).tolist() == [False, True, False]
    assert "line 3" in found.errors[0].text
    assert "does not exist" in found.errors[0].text


@pytest.mark.parametrize("text", ["", "yesterday", "2021", "2021-03", "12:30", "2021-03-04x"])
def test_what_is_no_date_is_named(text):
    found = stamps("2021-01-01", text)
    assert "line 3, column date" in found.errors[0].text
    assert "is not a date" in found.errors[0].text


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("2021-03-04T05:00Z", 0), ("2021-03-04T05:00+10:00", 600), ("2021-03-04 05:00-0330", -210)],
)
def test_zone_of_a_time(text, minutes):
    assert stamps(text).offset[0] == minutes


def test_parts_refuse_fractions_of_a_calendar():
    times, exists = from_parts(
        np.array([2021, 2021, 2020]), np.array([2, 2, 2]), np.array([28, 29, 29])
    )
    assert exists.tolist() == [True, False, True]
    assert np.isnat(times).tolist() == [False, True, False]
