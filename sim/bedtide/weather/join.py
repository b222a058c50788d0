"""Several records to one: files of one station, a neighbour's columns, your own gauge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, InputError, Option, Pieces, TimeAxisError
from bedtide.weather.et0 import wind_at_2m
from bedtide.weather.record import GROUPS, Column, Record, days_text, listed, mistake

_FAR = {"latitude": 0.1, "longitude": 0.1, "elevation": 100.0}


def level_wind(record: Record, height: float | None) -> None:
    """Bring the wind of a record to 2 m, with a note where the height of its gauge is not known."""
    wind = record.columns.get("wind_speed")
    if wind is None:
        return
    stands = record.wind_height if height is None else height
    if stands is None:
        record.notes.append(
            f"Wind of {record.source}: taken as measured 2 m above the ground, as no height is "
            "given. If it was 10 m, the wind was a quarter less."
        )
        stands = 2.0
    wind.values = wind_at_2m(wind.values, stands)
    record.wind_height = 2.0


def join_records(records: Sequence[Record]) -> Record:
    """One record of all the days and columns of several files of one station."""
    if len(records) == 1:
        return records[0]
    _same_place(records)
    ordered = sorted(records, key=lambda record: record.rank)
    days = np.unique(np.concatenate([record.times for record in ordered]))
    columns: dict[str, Column] = {}
    owner: dict[str, NDArray[np.int64]] = {}
    ranks = np.array([record.rank for record in ordered])
    replaced = 0
    for number, record in enumerate(ordered):
        for key, column in record.on(days).columns.items():
            theirs = column.values
            if key not in columns:
                columns[key] = replace(column, values=np.full(len(days), np.nan))
                owner[key] = np.full(len(days), -1)
            mine = columns[key].values
            differ = np.flatnonzero(np.abs(mine - theirs) > 1e-6)
            clash = differ[ranks[owner[key][differ]] == record.rank]
            if len(clash):
                other = ordered[owner[key][clash[0]]]
                raise _clash(other, record, key, days[clash[0]])
            replaced += len(differ)
            new = np.isnan(mine) & ~np.isnan(theirs)
            mine[new], owner[key][new] = theirs[new], number
    joined = replace(
        ordered[0],
        source=" + ".join(record.source for record in records),
        times=days,
        lines=np.zeros(len(days), dtype=np.int64),
        columns=columns,
        ignored=sorted({name for record in records for name in record.ignored}),
        notes=_told_once(records),
        errors=[],
        rain_hours=_joined_hours([record.on(days) for record in ordered], columns.get("rain")),
    )
    for name in ("latitude", "longitude", "elevation", "place"):
        known = (value for r in ordered if (value := getattr(r, name)) not in (None, ""))
        setattr(joined, name, next(known, getattr(joined, name)))
    if replaced:
        joined.notes.append(
            f"{replaced} values differ between two of the files; those of the finished file were "
            "used."
        )
    return joined


def _told_once(records: Sequence[Record]) -> list[str]:
    """Notes of all files; what several of them say alike is told of the first and their number."""
    said: dict[str, list[str]] = {}
    for record in records:
        for note in record.notes:
            said.setdefault(note.replace(record.source, "\0"), []).append(record.source)
    return [
        note.replace("\0", first + (f" and {len(others)} more" if others else ""))
        for note, (first, *others) in said.items()
    ]


def _joined_hours(records: Sequence[Record], rain: Column | None) -> NDArray[np.float64] | None:
    """Hours of the rain that each day has, of a record that says the same of that day."""
    if rain is None or all(record.rain_hours is None for record in records):
        return None
    found = np.full((len(rain.values), 24), np.nan)
    for record in records:
        if record.rain_hours is not None:
            same = np.abs(record.columns["rain"].values - rain.values) <= 1e-6
            found[same] = record.rain_hours[same]
    return found


def _clash(other: Record, record: Record, key: str, day: np.datetime64) -> InputError:
    """That two records say other things of a day."""
    row, theirs = (int(np.searchsorted(each.times, day)) for each in (record, other))
    column, first = record.columns[key], other.columns[key]
    problem = (
        f"{column.as_written(row)} on {_day(day)}, but {other.source} says "
        f"{first.as_written(theirs)} on line {other.lines[theirs]}"
    )
    wanted = "files of one station that agree where they overlap"
    span = (Option("start"), "  and  ", Option("end"))
    hint = Pieces("Leave out one of the files, or choose days with  ", *span)
    at, name = record.lines[row : row + 1], column.name
    return mistake(
        TimeAxisError, record.source, at, problem, column=name, expected=wanted, hint=hint
    )


def _same_place(records: Sequence[Record]) -> None:
    for name, most in _FAR.items():
        given = [(r, v) for r in records if (v := getattr(r, name)) is not None]
        for record, value in given[1:]:
            if abs(value - given[0][1]) > most:
                first = given[0][0].source
                problem = f"its {name} is {value:g}, that of {first} is {given[0][1]:g}"
                hint = Pieces(
                    "To take missing columns from another station, use  ", Option("borrow")
                )
                raise FieldError(record.source, problem, expected="files of one station", hint=hint)


def shift_rain(record: Record) -> Record:
    """The record with the rain of 24 hours to a morning put on the day before."""
    if record.rain_day != "to morning" or "rain" not in record.columns:
        return record
    earlier = record.times - np.timedelta64(86400, "s")
    days = np.union1d(record.times, earlier)
    shifted, rain = record.on(days), replace(record, times=earlier).on(days)
    columns = shifted.columns | {"rain": rain.columns["rain"]}
    return replace(shifted, columns=columns, rain_hours=rain.rain_hours)


def borrow_columns(record: Record, other: Record) -> Record:
    """Columns that a record lacks altogether, from another station."""
    lacking = {
        name: [key for key in keys if key in other.columns]
        for name, keys in GROUPS.items()
        if not any(key in record.columns for key in keys)
    }
    lacking = {name: keys for name, keys in lacking.items() if keys}
    if not lacking:
        problem = f"there is nothing in it that {record.source} lacks"
        wanted = "a column of temperature, rain, humidity, wind or radiation"
        raise FieldError(other.source, problem, expected=wanted)
    both = np.isin(record.times, other.times)
    if not both.any():
        problem, wanted = f"it has no day of {record.source}", f"days {_span(record)}"
        raise TimeAxisError(other.source, problem, expected=wanted)
    lender = other.on(record.times)
    borrowed = {key: lender.columns[key] for keys in lacking.values() for key in keys}
    hours = lender.rain_hours if "rain" in lacking else record.rain_hours
    far = _distance(record, other)
    where = f", {far:.0f} km away" if far is not None else ""
    name = other.place or other.source
    count, verb = days_text(int(both.sum())), "is" if len(lacking) == 1 else "are"
    note = (
        f"{listed(list(lacking))} of {count} {verb} borrowed from {name} ({other.source}){where}; "
        f"its rain day: {other.rain_day}."
    )
    notes = [*record.notes, *other.notes, note[0].upper() + note[1:]]
    columns = record.columns | borrowed
    return replace(record, columns=columns, notes=notes, rain_hours=hours)


def own_rain(record: Record, gauge: Record) -> Record:
    """The record with the rain of a gauge of your own on the dates of its log, and its hours."""
    if "rain" not in gauge.columns:
        raise FieldError(gauge.source, "there is no rain in it", expected="date, rain (mm)")
    log, old = gauge.on(record.times), record.columns.get("rain")
    own = log.columns["rain"].values
    there = ~np.isnan(own)
    if not there.any():
        problem, wanted = f"none of its dates is in {record.source}", f"dates {_span(record)}"
        raise TimeAxisError(gauge.source, problem, expected=wanted)
    values = np.full(len(own), np.nan) if old is None else old.values
    rain = replace(old or log.columns["rain"], values=np.where(there, own, values))
    both = there & ~np.isnan(values)
    outside = (~np.isnan(gauge.columns["rain"].values)).sum() - there.sum()
    hours = record.rain_hours
    if hours is not None or log.rain_hours is not None:
        none = np.full((len(own), 24), np.nan)
        hours, theirs = (none if each is None else each for each in (hours, log.rain_hours))
        hours = np.where(there[:, None], theirs, hours)
    note = (
        f"Rain of {days_text(int(there.sum()))} is from your own gauge ({gauge.source}): "
        f"{own[there].sum():.1f} mm, where the station has "
    )
    note += f"{values[both].sum():.1f} mm" if both.any() else "no reading"
    note += f" on {both.sum():,} of them." if 0 < both.sum() < there.sum() else "."
    if outside:
        note += f" {days_text(int(outside), 'is', 'are', of='the log')} outside the record."
    notes = [*record.notes, *gauge.notes, note]
    return replace(record, columns=record.columns | {"rain": rain}, notes=notes, rain_hours=hours)


def _day(time: np.datetime64) -> str:
    return str(time.astype("datetime64[D]"))


def _span(record: Record) -> str:
    return f"from {_day(record.times[0])} to {_day(record.times[-1])}"


def _distance(a: Record, b: Record) -> float | None:
    """Great-circle distance of two stations [km]; None where a place is not known."""
    if None in (a.latitude, a.longitude, b.latitude, b.longitude):
        return None
    p, q = (math.radians(x or 0.0) for x in (a.latitude, b.latitude))
    half = math.radians((b.longitude or 0.0) - (a.longitude or 0.0)) / 2
    chord = math.sin((q - p) / 2) ** 2 + math.cos(p) * math.cos(q) * math.sin(half) ** 2
    return 2 * 6371.0 * math.asin(math.sqrt(min(chord, 1.0)))
