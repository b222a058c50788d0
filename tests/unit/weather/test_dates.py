import numpy as np
import pytest

from bedtide.weather.dates import from_parts, parse_stamps, stamps_from_columns


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


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("01/02/49", "2049-02-01"), ("01/02/50", "1950-02-01"), ("01/02/00", "2000-02-01"),
        ("01/02/99", "1999-02-01"), ("1700-01-01", "1700-01-01"), ("2200-12-31", "2200-12-31"),
        ("2021-03-04 12:00 pm", "2021-03-04T12:00"), ("2021-03-04 1:00 am", "2021-03-04T01:00"),
    ],
)  # fmt: skip
def test_years_of_two_figures_ends_of_history_and_noon(text, time):
    found = stamps(text, order="dmy")
    assert found.errors == []
    assert found.times[0] == np.datetime64(time)
    assert found.order == ""  # it was said


@pytest.mark.parametrize(
    "text", ["2021-03-04 0:30 pm", "2021-03-04 13:30 pm", "03 Foo 2021", "1699-12-31", "2201-01-01"]
)
def test_hours_months_and_years_that_are_none(text):
    for texts in ((text,), (text, "2021/01/02")):
        found = stamps(*texts)
        assert np.isnat(found.times[0])
        assert f'line 2, column date: "{text}" does not exist' in found.errors[0].text


def test_rows_after_one_that_is_no_date_are_read():
    found = stamps("2021/01/01", "soon", "2021/01/03", "later")
    assert np.isnat(found.times).tolist() == [False, True, False, True]
    assert found.times[2] == np.datetime64("2021-01-03")
    assert '"soon" is not a date (also line 5)' in found.errors[0].text


@pytest.mark.parametrize(
    ("hours", "ends"), [((1, 12, 24), True), ((0, 12, 24), False), ((1, 12, 23), False)]
)
def test_a_clock_that_runs_from_1_to_24_ends_its_hours(hours, ends):
    assert stamps(*(f"2021/03/04 {hour:02d}:00" for hour in hours)).ends is ends


def test_times_of_day_are_a_clock():
    assert stamps("2021-03-04 05:00").clock
    assert stamps("2021/03/04 05:00").clock
    assert not stamps("2021-03-04").clock
    assert not stamps("2021/03/04").clock


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (("12/03/2021", "13/03/2021"), "dmy"),
        (("03/12/2021", "03/13/2021"), "mdy"),
        (("13/03/2021",), None),  # one date alone settles nothing
        (("13/03/2021", "03/13/2021"), None),
        (("11/03/2021", "12/03/2021"), None),
    ],
)
def test_order_of_day_and_month_by_a_date_that_can_be_read_in_one_way(texts, order):
    found = stamps(*texts)
    assert found.order == (order or "")
    assert bool(found.errors) is (order is None)
    if order:
        assert found.times.tolist() == [
            np.datetime64(f"2021-03-{day}T00:00:00").item() for day in (12, 13)
        ]


def from_columns(day_of_year=None, **columns):
    texts = {name: list(map(str, values)) for name, values in columns.items()}
    lines = np.arange(2, 2 + len(next(iter(texts.values()))))
    return stamps_from_columns(texts, lines, source="a.csv", day_of_year=day_of_year)


def test_columns_of_parts():
    found = from_columns(year=[2021, 2021], month=[3, 12], day=[4, 31])
    assert found.times.tolist() == [
        np.datetime64(f"2021-{day}T00:00:00").item() for day in ("03-04", "12-31")
    ]
    assert (found.clock, found.ends, found.errors) == (False, False, [])
    hours = from_columns(year=[2021] * 2, month=[3] * 2, day=[4] * 2, hour=[1, 24])
    assert hours.times[1] == np.datetime64("2021-03-05")
    assert (hours.clock, hours.ends) == (True, True)
    joined = from_columns(year=[2021] * 2, month=[3] * 2, day=[4] * 2, hour=[130, 1530])
    assert joined.times.astype(str).tolist() == ["2021-03-04T01:30:00", "2021-03-04T15:30:00"]
    apart = from_columns(year=[2021], month=[3], day=[4], hour=[23], minute=[59])
    assert apart.times[0] == np.datetime64("2021-03-04T23:59")


def test_days_of_the_year():
    found = from_columns(["60", "365", "60", "366"], year=[2021, 2021, 2020, 2020])
    days = ["2021-03-01", "2021-12-31", "2020-02-29", "2020-12-31"]
    assert found.times.tolist() == [np.datetime64(f"{day}T00:00:00").item() for day in days]
    assert not found.clock
    for day, year in (("366", 2021), ("0", 2021), ("367", 2020), ("1.5", 2021)):
        bad = from_columns([day], year=[year])
        assert np.isnat(bad.times[0])
        assert f'line 2: the date "{year}-{day}" does not exist' in bad.errors[0].text
    hour = from_columns(["32"], year=[2021], hour=[5])
    assert hour.times[0] == np.datetime64("2021-02-01T05:00")
    assert hour.clock


@pytest.mark.parametrize(
    "parts",
    [(1699, 1, 1), (2201, 1, 1), (2021, 0, 1), (2021, 1, 0), (2021, 12, 32), (2021, 1, 1, -1),
     (2021, 1, 1, 25), (2021, 1, 1, 24, 1), (2021, 1, 1, 24, 0, 1), (2021, 1, 1, 0, 60),
     (2021, 1, 1, 0, -1), (2021, 1, 1, 0, 0, 60), (2021, 1, 1, 0, 0, -1), (1900, 2, 29)],
)  # fmt: skip
def test_parts_beyond_their_bounds(parts):
    times, exists = from_parts(*(np.array([part]) for part in parts))
    assert not exists[0]
    assert np.isnat(times[0])


def test_parts_at_their_bounds():
    for parts, time in (
        ((1700, 1, 1), "1700-01-01T00:00:00"), ((2200, 12, 31), "2200-12-31T00:00:00"),
        ((2021, 1, 31, 23, 59, 59), "2021-01-31T23:59:59"),
        ((2021, 12, 31, 24), "2022-01-01T00:00:00"), ((2000, 2, 29), "2000-02-29T00:00:00"),
    ):  # fmt: skip
        times, exists = from_parts(*(np.array([part]) for part in parts))
        assert exists[0]
        assert str(times[0]) == time
