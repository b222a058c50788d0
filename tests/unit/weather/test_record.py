"""A record: its lines in messages, its values as written, its stretches, rain of several days."""

import numpy as np
import pytest

from bedtide.errors import FieldError
from bedtide.weather.record import Column, Record, mistake, runs, share_out

NAN = np.nan


@pytest.mark.parametrize(
    ("lines", "where", "more"),
    [
        ([3], "line 3", ""),
        ([3, 3, 4], "line 3", " (also line 4)"),
        ([3, 9, 4], "line 3", " (also lines 9, 4)"),
        (range(3, 9), "line 3", " (also lines 4, 5, 6, 7, 8)"),
        (range(3, 10), "line 3", " (also lines 4, 5, 6, 7, 8 and 1 more)"),
        (range(3, 103), "line 3", " (also lines 4, 5, 6, 7, 8 and 94 more)"),
    ],
)
def test_a_mistake_names_its_first_line_and_five_others(lines, where, more):
    error = mistake(FieldError, "garden.csv", np.array(lines), "it is odd", column="rain")
    assert error.where == f"garden.csv, {where}, column rain"
    assert error.problem == f"it is odd{more}"


def test_a_value_is_told_as_it_was_written():
    """20 degC are 68 degF."""
    column = Column("Hi", "degF", np.array([0.0, 20.0]), factor=5 / 9, offset=-32 * 5 / 9)
    assert [column.as_written(row) for row in (0, 1)] == ["32 degF", "68 degF"]


def test_stretches_begin_and_end_where_the_flag_does():
    flag = np.array([1, 0, 1, 1, 0, 0, 1, 1, 1], dtype=bool)
    assert list(runs(flag)) == [(0, 1), (2, 4), (6, 9)]
    assert list(runs(flag, least=2)) == [(2, 4), (6, 9)]
    assert list(runs(~flag, least=3)) == []


@pytest.fixture
def shared():
    """What becomes of rain by day of June, and of its totals (amount, days) by day; the record."""

    def _shared(rain, totals, how="spread"):
        days = np.array([np.datetime64(f"2021-06-{day:02}") for day in rain], dtype="M8[s]")
        lines = np.arange(10, 10 + len(days))
        values = {"rain": np.array([*rain.values()], float), "tmax": np.full(len(days), 20.0)}
        columns = {key: Column(key, "mm", each) for key, each in values.items()}
        record = Record("log.csv", "plain table", days, lines, columns)
        told = [totals.get(day, (NAN, NAN)) for day in rain]
        amount, period = (np.array(each, dtype=float) for each in zip(*told, strict=True))
        errors = share_out(record, amount, period, how)
        number = record.times.astype("M8[D]").astype(int) - np.datetime64("2021-05-31").astype(int)
        order = np.argsort(number)
        found = dict(
            zip(number[order].tolist(), columns["rain"].values[order].tolist(), strict=True)
        )
        return found, record, errors

    return _shared


def test_a_total_is_spread_over_its_days_or_put_on_the_last(shared):
    rain = {1: NAN, 2: NAN, 3: NAN, 4: 5.0}
    found, record, errors = shared(rain, {3: (6.0, 3)})
    assert errors == []
    assert found == {1: 2.0, 2: 2.0, 3: 2.0, 4: 5.0}
    told = "Rain totals of several days in log.csv: 1, each spread evenly over its days."
    assert record.notes == [told]
    found, record, _ = shared(rain, {3: (6.0, 3)}, how="last")
    assert found == {1: 0.0, 2: 0.0, 3: 6.0, 4: 5.0}
    assert record.notes[0].endswith(": 1, each put on the last of its days.")


def test_days_that_have_no_row_get_one_of_the_line_of_their_total(shared):
    found, record, _ = shared({1: 0.0, 4: NAN, 5: 1.0}, {4: (9.0, 3)})
    assert found == {1: 0.0, 2: 3.0, 3: 3.0, 4: 3.0, 5: 1.0}
    assert record.lines.tolist() == [10, 11, 12, 11, 11]
    assert np.isnan(record.columns["tmax"].values).tolist() == [False] * 3 + [True] * 2


def test_two_days_are_several_and_one_is_none(shared):
    assert shared({1: NAN, 2: NAN}, {2: (4.0, 2)})[0] == {1: 2.0, 2: 2.0}
    found, record, errors = shared({1: 3.0, 2: 7.0}, {1: (3.0, 1), 2: (7.0, NAN)})
    assert (found, record.notes, errors) == ({1: 3.0, 2: 7.0}, [], [])


@pytest.mark.parametrize(
    ("how", "last"), [("spread", {3: 2.0, 4: 2.0}), ("last", {3: 0.0, 4: 4.0})]
)
def test_days_with_rain_of_their_own_keep_it(shared, how, last):
    """Of 10 mm in three days 6 fell on the first."""
    found, record, _ = shared({2: 6.0, 3: NAN, 4: NAN}, {4: (10.0, 3)}, how=how)
    assert found == {2: 6.0, **last}
    assert record.notes[1].startswith(
        "Of these cover days that have rain of their own: 1, the first on line 12 of log.csv;"
    )
    more, _, _ = shared({2: 12.0, 3: NAN, 4: NAN}, {4: (10.0, 3)}, how=how)
    assert more == {2: 12.0, 3: 0.0, 4: 0.0}


def test_a_total_of_more_than_sixty_days_is_refused(shared):
    found, _, errors = shared({30: NAN}, {30: (60.0, 60)})
    assert errors == []
    assert len(found) == 60
    assert set(found.values()) == {1.0}
    rain, totals = {1: 0.0, 20: NAN, 30: NAN}, {20: (60.0, 61), 30: (60.0, 365)}
    found, record, (error,) = shared(rain, totals)
    assert error.where == "log.csv, line 11"
    assert error.problem == "the rain total of 61 days is too long (also line 12)"
    assert error.expected == "at most 60 days"
    assert len(record.times) == 3


def test_half_a_day_is_no_length_of_a_total(shared):
    _, _, (error,) = shared({1: NAN, 2: NAN, 3: NAN}, {2: (4.0, 1.5), 3: (4.0, 2.5)})
    assert error.where == "log.csv, line 11"
    assert error.problem == "a rain total of 1.5 days"
