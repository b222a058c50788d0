"""What can't be right in a record, named by line."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import InputError, Option, Pieces, RangeError, TimeAxisError
from bedtide.weather.et0 import daylight_hours, extraterrestrial_radiation, saturation_pressure
from bedtide.weather.record import UNITS, Column, Record, days_text, mistake, runs

LIMITS: dict[str, tuple[float, float]] = {
    "tmax": (-90.0, 60.0),
    "tmin": (-90.0, 60.0),
    "temperature": (-90.0, 60.0),
    "dew_point": (-100.0, 40.0),
    "vapour_pressure": (0.0, 7.4),
    "rh_max": (0.0, 100.0),
    "rh_min": (0.0, 100.0),
    "rh_mean": (0.0, 100.0),
    "wind_speed": (0.0, 75.0),
    "solar_radiation": (0.0, 50.0),
    "sunshine": (0.0, 24.0),
    "et0": (-0.5, 30.0),
    "rain": (0.0, 2000.0),
    "rain_counter": (0.0, 2000.0),
}
"""What weather on Earth stays within [in the units of `record.UNITS`]; common practice."""
_RATE_LIMIT = {"solar_radiation": 1500 * 0.0864}
_SLACK = 0.5  # rounding of dew points and temperatures to whole degrees [K]
_SENTINELS = (
    -9999.9, -9999.0, -999.9, -999.0, -99.9, -99.0, -8888.0, -6999.0, 99.99, 999.0, 999.9,
    9999.0, 9999.9, 99999.0, 32700.0, 32766.0,
)  # fmt: skip
_LOOKED_AT = 30  # days of a column, at least, before it is taken for another
_LEAST_DAYS = 300  # days of zeros that are refused
_WINDIEST = 10.0  # mean wind of a year [m/s] that only capes and mountain tops have; our choice


def impossible_rows(record: Record) -> dict[str, tuple[Column, NDArray[np.int64], str]]:
    """Rows whose values no weather can have, by the name of the check."""
    found: dict[str, tuple[Column, NDArray[np.int64], str]] = {}
    columns = _judged(record)

    def note(kind: str, key: str, bad: NDArray[np.bool_], expected: str) -> None:
        rows = np.flatnonzero(bad)
        if len(rows):
            found[kind] = (columns[key], rows, expected)

    values = {key: column.values for key, column in columns.items()}
    with np.errstate(invalid="ignore", over="ignore"):
        for key, column in columns.items():
            if key == "temperature" and record.daily and {"tmax", "tmin"} <= columns.keys():
                continue  # a mean that is not needed is not judged
            low, high = LIMITS[key]
            if not record.daily and column.rate:
                high = _RATE_LIMIT.get(key, high)
            bad = (values[key] < low - 1e-9) | (values[key] > high + 1e-9)
            bad |= _stands_for_none(column, key)
            note(key, key, bad, _between(column, low, high))
        for highest, lowest, expected in (
            ("tmax", "tmin", "at least the lowest temperature"),
            ("rh_max", "rh_min", "at least the lowest"),
        ):
            if highest in columns and lowest in columns:
                below = values[highest] < values[lowest]
                note(f"{highest} below {lowest}", highest, below, expected)
        warm = values.get("tmax", values.get("temperature"))
        if warm is not None:
            most = {
                "dew_point": warm + _SLACK,
                "vapour_pressure": saturation_pressure(warm + _SLACK),
            }
            for key in filter(columns.__contains__, most):
                over = values[key] > most[key]
                if key in found:
                    over[found[key][1]] = False
                expected = "no more than saturated air of that temperature holds"
                note(f"{key} above saturation", key, over, expected)
    return found


def _judged(record: Record) -> dict[str, Column]:
    """The columns that matter: ready-made ET0 is no more than a check where it can be computed."""
    warm = record.columns.keys() & {"tmax", "tmin", "temperature"}
    return {key: c for key, c in record.columns.items() if key != "et0" or not warm}


def _stands_for_none(column: Column, key: str) -> NDArray[np.bool_]:
    """Values that could be weather but are what loggers write for "not measured"."""
    marks = {"dew_point": (-99.9, -99.0), "rain": (999.0, 999.9)}.get(key, ())
    found = np.zeros(len(column.values), dtype=bool)
    for mark in marks:
        found |= np.abs((column.values - column.offset) / column.factor - mark) <= 1e-6
    return found


def _between(column: Column, low: float, high: float) -> str:
    """Bounds in the file's own unit."""
    low, high = ((bound - column.offset) / column.factor for bound in (low, high))
    return f"between {low:.4g} and {high:.4g} {column.unit}"


def drop_impossible(record: Record) -> None:
    """Turn impossible values into "not measured", counted in the record's notes."""
    for kind, (column, rows, _) in impossible_rows(record).items():
        column.values[rows] = np.nan
        if kind == "tmax below tmin":
            record.columns["tmin"].values[rows] = np.nan
        if kind == "rh_max below rh_min":
            record.columns["rh_min"].values[rows] = np.nan
        record.notes.append(
            f"Impossible values of {column.name} in {record.source} were left out: {len(rows)}, "
            f"the first on line {record.lines[rows[0]]}."
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
    """Which of the odd steps do not come from clocks that were put back."""
    if not record.daily and odd.any():
        rows = np.flatnonzero(odd)
        odd[rows[_clock_change(times[rows + 1])]] = False
    return odd


def _clock_change(times: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Whether an hour that comes twice is the one when summer time ends.

    That is a Sunday between midnight and 3 o'clock, on one day of a calendar half-year.
    """
    days = times.astype("datetime64[D]")
    hour = (times - days.astype("datetime64[s]")).astype(np.int64) // 3600
    sunday = (days.astype(np.int64) + 3) % 7 == 6
    half = days.astype("datetime64[M]").astype(np.int64) // 6
    halves, which = np.unique(half, return_inverse=True)
    alone = np.asarray([len(np.unique(days[half == one])) == 1 for one in halves], dtype=bool)
    return np.asarray((hour <= 3) & sunday & alone[which])


def value_errors(record: Record, *, accept: Collection[str] = ()) -> list[InputError]:
    """Impossible values as messages, one for each kind, the first line named."""
    errors: list[InputError] = []
    for kind, (column, rows, expected) in impossible_rows(record).items():
        given = column.as_written(int(rows[0]))
        if kind == "tmax below tmin":
            low = record.columns["tmin"].as_written(int(rows[0]))
            problem = f"highest temperature {given} is below the lowest, {low}"
        elif kind in record.columns:
            problem = f"{given} is not possible"
        else:
            problem = f"{given} does not agree with the other columns"
        hint = _mend(column, rows, kind)
        errors.append(_refused(record, column, rows, problem, expected, hint))
    if record.daily and "zeros" not in accept:
        errors += _years_of_zeros(record)
    if record.daily and "columns" not in accept:
        errors += _taken_for_another(record)
    return errors


def _refused(
    record: Record,
    column: Column,
    rows: NDArray[np.int64],
    problem: str,
    expected: str,
    hint: str,
) -> InputError:
    lines, name = record.lines[rows], column.name
    return mistake(
        RangeError, record.source, lines, problem, column=name, expected=expected, hint=hint
    )


def _mend(column: Column, rows: NDArray[np.int64], kind: str) -> str:
    written = (column.values[rows] - column.offset) / column.factor
    for value in written:
        close = [s for s in _SENTINELS if abs(value - s) < 1e-6 * abs(s)]
        if close:
            number = f"{close[0]:g}"
            return Pieces(
                f'If {number} stands for "not measured", say  ', Option("missing", number)
            )
    if kind in ("tmax", "tmin", "temperature", "dew_point") and column.unit == "degC":
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
        what = ""
        if key == "dew_point" and "tmin" in record.columns:
            cold = record.columns["tmin"].values[known]
            above = float((values > cold + _SLACK).mean())
            if above > 0.5:
                what = f"is above the lowest temperature on {100 * above:.0f} % of the days"
        elif key == "wind_speed" and len(values) >= _LEAST_DAYS and values.mean() > _WINDIEST:
            what = f"has a mean of {values.mean():.0f} m/s; are its numbers km/h"
        elif key in ("tmax", "tmin", "rain"):
            if np.ptp(values) == 0 and key != "rain":
                what = f"is {column.as_written(int(known[0]))} on all {len(values)} days"
            elif key == "rain" and (values > 0).all():
                what = f"has not one dry day in {len(values)}"
            elif key != "rain" and (values == 0).mean() > 0.2:
                what = f"is exactly 0 on {(values == 0).sum()} of {len(values)} days"
            elif key == "tmax" and values.mean() > 48:
                what = f"has a mean of {values.mean():.0f} degC"
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
    for key in ("solar_radiation", "sunshine"):
        if key not in record.columns or key in accept or not len(days):
            continue
        column = record.columns[key]
        most = daylight_hours(days, latitude)
        if key != "sunshine":
            most = extraterrestrial_radiation(days, latitude)
        with np.errstate(invalid="ignore"):
            rows = np.flatnonzero(column.values > most + 1.0)
        if len(rows) and drop:
            column.values[rows] = np.nan
            record.notes.append(
                f"{column.name} of {days_text(len(rows), of=record.source)} left out: more than "
                f"the sun can give at latitude {latitude:g}."
            )
        elif len(rows):
            row = int(rows[0])
            what = "daylight" if key == "sunshine" else "reaches the top of the air"
            given = f"{column.as_written(row)} on {days[row]}"
            problem = f"{given} is more than {what} at latitude {latitude:g}"
            wanted = f"at most {most[row]:.1f} {UNITS[key]} on that day"
            hint = Pieces(
                "Check the unit of the column, the latitude, and its sign in the south; or leave "
                "such values out with  ",
                Option("impossible", "drop"),
            )
            errors.append(_refused(record, column, rows, problem, wanted, hint))
    return errors
