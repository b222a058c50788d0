"""What can't be right in a record, named by line."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import InputError, Option, Pieces, RangeError, TimeAxisError
from bedtide.weather.et0 import daylight_hours, extraterrestrial_radiation, saturation_pressure
from bedtide.weather.record import QUANTITIES, Column, Record, days_text, failed, mistake, runs

_BRIGHTEST = 1500 * 0.0864  # of some rows a day: 1500 W m-2 [MJ m-2 d-1]
_SLACK = 0.5  # rounding of dew points and temperatures to whole degrees [K]
_SENTINELS = (
    -9999.9, -9999.0, -999.9, -999.0, -99.9, -99.0, -8888.0, -6999.0, 99.99, 999.0, 999.9,
    9999.0, 9999.9, 99999.0, 32700.0, 32766.0,
)  # fmt: skip
_NOT_MEASURED = {"dew_point": (-99.9, -99.0), "rain": (999.0, 999.9)}  # of loggers, yet weather
_LOOKED_AT = 30  # days of a column, at least, before it is taken for another
_LEAST_DAYS = 300  # days of zeros that are refused
_WINDIEST = 10.0  # mean wind of a year [m/s] that only capes and mountain tops have; our choice


class Check(NamedTuple):
    """A check of the values in a column."""

    column: Column
    bad: NDArray[np.bool_]  # rows that fail it
    expected: str
    problem: str = "{value} does not agree with the other columns"
    other: Column | None = None  # of which it is not known whether it is the wrong one
    alone: bool = False  # of the column by itself


def _failed(record: Record) -> list[tuple[Check, NDArray[np.int64]]]:
    """Checks that no weather fails, with the rows that do."""
    with np.errstate(invalid="ignore", over="ignore"):
        return [(each, np.flatnonzero(each.bad)) for each in _checks(record) if each.bad.any()]


def _checks(record: Record) -> Iterator[Check]:
    """What each column can hold by itself, and beside the others."""
    columns = _judged(record)
    values = {key: column.values for key, column in columns.items()}
    beyond: dict[str, NDArray[np.bool_]] = {}
    for key, column in columns.items():
        if key == "temperature" and record.daily and {"tmax", "tmin"} <= columns.keys():
            continue  # a mean that is not needed is not judged
        low, high = QUANTITIES[key].least, QUANTITIES[key].most
        if key == "solar_radiation" and column.rate and not record.daily:
            high = _BRIGHTEST
        beyond[key] = (values[key] < low - 1e-9) | (values[key] > high + 1e-9)
        for mark in _NOT_MEASURED.get(key, ()):
            beyond[key] |= np.abs(column.given(values[key]) - mark) <= 1e-6
        bounds = f"between {column.given(low):.4g} and {column.given(high):.4g} {column.unit}"
        yield Check(column, beyond[key], bounds, "{value} is not possible", alone=True)
    if {"tmax", "tmin"} <= columns.keys():
        below, expected = values["tmax"] < values["tmin"], "at least the lowest temperature"
        problem = "highest temperature {value} is below the lowest, {other}"
        yield Check(columns["tmax"], below, expected, problem, columns["tmin"])
    if {"rh_max", "rh_min"} <= columns.keys():
        below = values["rh_max"] < values["rh_min"]
        yield Check(columns["rh_max"], below, "at least the lowest", other=columns["rh_min"])
    warm = values.get("tmax", values.get("temperature"))
    if warm is not None:
        most = {"dew_point": warm + _SLACK, "vapour_pressure": saturation_pressure(warm + _SLACK)}
        expected = "no more than saturated air of that temperature holds"
        for key in filter(columns.__contains__, most):
            yield Check(columns[key], (values[key] > most[key]) & ~beyond[key], expected)


def _judged(record: Record) -> dict[str, Column]:
    """The columns that matter: ready-made ET0 is no more than a check where it can be computed."""
    warm = record.columns.keys() & {"tmax", "tmin", "temperature"}
    return {key: c for key, c in record.columns.items() if key != "et0" or not warm}


def drop_impossible(record: Record) -> None:
    """Turn impossible values into "not measured", counted in the record's notes."""
    for check, rows in _failed(record):
        for column in filter(None, (check.column, check.other)):
            column.values[rows] = np.nan
        record.notes.append(
            f"Impossible values of {check.column.name} in {record.source} were left out: "
            f"{len(rows)}, the first on line {record.lines[rows[0]]}."
        )


def time_errors(record: Record) -> list[InputError]:
    """Days or hours that come twice with other values; all else is put in order, with a note."""
    step = np.diff(record.times).astype(np.int64)
    if not len(step) or step.min() > 0:
        return []
    order = np.argsort(record.times, kind="stable")
    # the hour that comes twice when summer time ends is neither out of order nor double
    back = _not_clocks(record, record.times, step < 0)
    again = np.concatenate(([False], _same_time(record, record.times[order])))
    drop = again.copy()
    for column in record.columns.values():
        values = column.values[order]
        drop[1:] &= (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
    record.select(order[~drop])
    if back.any():
        newest = " (newest first)" if (step < 0).mean() > 0.9 else ""
        what = "days" if record.daily else "rows"
        note = f"The {what} of {record.source} were not in order{newest}; they were sorted."
        record.notes.append(note)
    if drop.any():
        count = days_text(int(drop.sum())) if record.daily else f"{int(drop.sum()):,} rows"
        record.notes.append(f"{count} came twice in {record.source} with the same values.")
    twice = np.flatnonzero(_same_time(record, record.times)) + 1
    if not len(twice):
        return []
    times, lines = record.times, record.lines
    first = lines[np.flatnonzero(times == times[twice[0]])[0]]
    when = str(times[twice[0]].astype(f"datetime64[{'D' if record.daily else 'm'}]"))
    problem = f"{when.replace('T', ' ')} is there twice, first on line {first}"
    wanted = f"one line for each {'day' if record.daily else 'time'}"
    return [mistake(TimeAxisError, record.source, lines[twice], problem, expected=wanted)]


def _same_time(record: Record, times: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Whether each row but the first has the time of the one before."""
    return _not_clocks(record, times, np.diff(times) == np.timedelta64(0, "s"))


def _not_clocks(
    record: Record, times: NDArray[np.datetime64], odd: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Which of the odd steps do not come from clocks that were put back.

    That is done on a Sunday between midnight and 3 o'clock, on one day of a calendar half-year.
    """
    rows = np.flatnonzero(odd)
    if record.daily or not len(rows):
        return odd
    index = pd.DatetimeIndex(times[rows + 1])
    half = index.year * 2 + (index.month > 6)
    alone = pd.Series(index.normalize()).groupby(half).transform("nunique").eq(1).to_numpy()
    odd[rows[(index.hour <= 3) & (index.day_of_week == 6) & alone]] = False
    return odd


def value_errors(record: Record, *, accept: Collection[str] = ()) -> list[InputError]:
    """Impossible values as messages, one for each kind, the first line named."""
    errors: list[InputError] = []
    for check, rows in _failed(record):
        column, first = check.column, int(rows[0])
        other = check.other.as_written(first) if check.other else ""
        problem = check.problem.format(value=column.as_written(first), other=other)
        hint = _mend(column, rows, alone=check.alone)
        errors.append(_refused(record, column, rows, problem, check.expected, hint))
    if record.daily and "zeros" not in accept:
        errors += _years_of_zeros(record)
    if record.daily and "columns" not in accept:
        errors += _taken_for_another(record)
    return errors


def _refused(
    record: Record, column: Column, rows: NDArray[np.int64], problem: str, *more: str
) -> InputError:
    """A mistake in some rows of a column; `more` is what was expected and how to mend it."""
    how = dict(zip(("expected", "hint"), more, strict=True))
    lines = record.lines[rows]
    return mistake(RangeError, record.source, lines, problem, column=column.name, **how)


def _mend(column: Column, rows: NDArray[np.int64], *, alone: bool) -> str:
    for value in column.given(column.values[rows]).tolist():
        if close := [mark for mark in _SENTINELS if abs(value - mark) < 1e-6 * abs(mark)]:
            number = f"{close[0]:g}"
            return Pieces(
                f'If {number} stands for "not measured", say  ', Option("missing", number)
            )
    if alone and column.unit == "degC":
        return "If the column is in degrees F, say so in its heading"
    return Pieces(
        "Mend the line, or leave such values out as not measured with  ",
        Option("impossible", "drop"),
    )


def _taken_for_another(record: Record) -> list[InputError]:
    """Columns that as a whole look like something else: rain for temperature, or none at all."""
    errors: list[InputError] = []
    for key, column in _judged(record).items():
        known = np.flatnonzero(~np.isnan(column.values))
        values = column.values[known]
        if len(values) < _LOOKED_AT:
            continue
        count, mean, zeros = len(values), values.mean(), (values == 0).sum()
        cold = record.columns["tmin"].values[known] if "tmin" in record.columns else np.inf
        above = float((values > cold + _SLACK).mean())
        same = f"is {column.as_written(int(known[0]))} on all {count} days"
        looks = (  # the columns that may look so, whether this one does, and what it looks like
            ("dew_point", above > 0.5,
             f"is above the lowest temperature on {100 * above:.0f} % of the days"),
            ("wind_speed", count >= _LEAST_DAYS and mean > _WINDIEST,
             f"has a mean of {mean:.0f} m/s; are its numbers km/h"),
            ("tmax tmin", np.ptp(values) == 0, same),
            ("rain", (values > 0).all(), f"has not one dry day in {count}"),
            ("tmax tmin", zeros > 0.2 * count, f"is exactly 0 on {zeros} of {count} days"),
            ("tmax", mean > 48, f"has a mean of {mean:.0f} degC"),
        )  # fmt: skip
        what = next((what for keys, so, what in looks if key in keys.split() and so), "")
        if what:
            problem = f"it should be {key}, but it {what}"
            wanted = f"a column of {key}; were two columns exchanged, or is it another unit?"
            hint = Pieces("If it is true, say  ", Option("accept", "columns"))
            errors.append(_refused(record, column, known[:1], problem, wanted, hint))
    return errors


def _years_of_zeros(record: Record) -> list[InputError]:
    errors: list[InputError] = []
    days = record.times.astype("datetime64[D]")
    for key, column in _judged(record).items():
        known = np.flatnonzero(~np.isnan(column.values) & ~np.isnat(days))
        zero = column.values[known] == 0.0
        stretches = [known[[a, b - 1]] for a, b in runs(zero, least=_LEAST_DAYS)]
        if stretches:
            first, last = stretches[0]
            problem = f"every day from {days[first]} to {days[last]} is zero"
            if more := len(stretches) - 1:
                problem += f" (and {more} more stretches)"
            true = ("If it is true (a desert), say  ", Option("accept", "zeros"))
            hint, day = Pieces(*true), np.timedelta64(1, "D")
            ends = (first == known[0], last == known[-1])
            if key not in ("rain", "tmax", "tmin", "temperature"):
                mend = Option("columns", {column.name: "ignore"})
            elif ends == (True, False):
                mend = Option("start", str(days[last] + day))
            else:
                mend = Option("end", str(days[first] - day))
            if sum(ends) == 1 or mend.name == "columns":
                hint = Pieces("Leave it out with  ", mend, " . ", *true)
            wanted = f"a record in which {key} was measured"
            errors.append(_refused(record, column, np.array([first]), problem, wanted, hint))
    return errors


def sky_errors(
    record: Record, latitude: float, *, accept: Collection[str] = (), drop: bool = False
) -> list[InputError]:
    """Radiation or sunshine that the sun can't give at this latitude; with `drop` left out."""
    days = record.times.astype("datetime64[D]")
    errors: list[InputError] = []
    for key, most_of, what in (
        ("solar_radiation", extraterrestrial_radiation, "reaches the top of the air"),
        ("sunshine", daylight_hours, "daylight"),
    ):
        if key not in record.columns or key in accept:
            continue
        column, most = record.columns[key], most_of(days, latitude)
        with np.errstate(invalid="ignore"):
            bad = column.values > most + 1.0
        if drop:
            failed(record, key, bad, f"more than the sun can give at latitude {latitude:g}")
        elif bad.any():
            rows = np.flatnonzero(bad)
            row = int(rows[0])
            given = f"{column.as_written(row)} on {days[row]}"
            problem = f"{given} is more than {what} at latitude {latitude:g}"
            wanted = f"at most {most[row]:.1f} {QUANTITIES[key].unit} on that day"
            hint = Pieces(
                "Check the unit of the column, the latitude, and its sign in the south; or leave "
                "such values out with  ",
                Option("impossible", "drop"),
            )
            errors.append(_refused(record, column, rows, problem, wanted, hint))
    return errors
