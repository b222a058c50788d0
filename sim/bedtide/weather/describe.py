"""What weather files hold, told even where a season can't run on them yet, and what they lack."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.constants import MONTH_LENGTHS
from bedtide.errors import InputError, Option, Pieces
from bedtide.weather.check import drop_impossible, sky_errors, time_errors, value_errors
from bedtide.weather.fill import core_of, fill_gaps, lacking
from bedtide.weather.hourly import to_days, to_local_clock
from bedtide.weather.join import GROUPS, join_records, shift_rain
from bedtide.weather.names import read_heading
from bedtide.weather.options import Options, Paths, takes_options
from bedtide.weather.read import cut_to, known_place, place_of, read_one
from bedtide.weather.record import Record, runs
from bedtide.weather.text import load


@dataclass(frozen=True)
class Gap:
    """Days between the first and the last of a record on which a quantity was not measured."""

    quantity: str
    days: int
    longest: int  # [d]
    first: np.datetime64  # day of the longest stretch


@dataclass(frozen=True)
class Description:
    """What is known of a record before it can be used, and what is in the way."""

    place: str
    source: str
    format: str
    latitude: float | None  # [degree]; None where it is not known, as elevation
    elevation: float | None  # [m]
    first: np.datetime64
    last: np.datetime64
    days: int  # that have a row [d]
    columns_read: tuple[str, ...]
    columns_ignored: tuple[str, ...]
    gaps: tuple[Gap, ...]
    months: pd.DataFrame  # by month: days, mean rain of a month [mm], tmin and tmax [degC]
    problems: tuple[InputError, ...]


@takes_options(Options)
def describe_weather(path: Paths, options: Options) -> Description | None:
    """Days, columns, gaps, months and all problems of files; None where nothing can be read."""
    several = [path] if isinstance(path, (str, Path)) else list(path)
    options = replace(options, every_column=isinstance(path, (str, Path)))
    problems: list[InputError] = []
    records: list[Record] = []
    for each in map(Path, several):
        with _noted(problems):
            records += read_one(load(each), each.name, options)
    for record in records:
        problems += record.errors
        record.errors = []
        record.select(np.flatnonzero(~np.isnat(record.times)))
    waiting = "columns" in answers_to(problems)  # for a unit, perhaps all of them
    full = [one for one in records if len(one.times) and (one.columns or waiting)]
    columns = [f"{c.name} -> {k}, {c.unit}" for r in full for k, c in r.columns.items()]
    place: dict[str, float | None] = {"latitude": None, "elevation": None}
    with _noted(problems):
        place = place_of(records, options)
    daily = []
    for record in full:
        with _noted(problems):
            daily.append(_by_day(record, options, place["latitude"], problems))
    if not daily:
        return None
    joined = daily[0]
    with _noted(problems):
        joined = join_records(daily)
    joined.latitude, joined.elevation = place["latitude"], place["elevation"]
    joined.rain_day = options.rain_day or joined.rain_day
    _missing(joined, options, problems)
    unique = tuple({problem.text: problem for problem in problems}.values())
    days = joined.times.astype("datetime64[D]")
    return Description(
        place=next((record.place for record in records if record.place), ""),
        source=joined.source,
        format=joined.format,
        latitude=joined.latitude,
        elevation=joined.elevation,
        first=days[0],
        last=days[-1],
        days=len(days),
        columns_read=tuple(dict.fromkeys(columns)),
        columns_ignored=tuple(joined.ignored),
        gaps=tuple(_gaps(joined)),
        months=_months(joined),
        problems=unique,
    )


@contextmanager
def _noted(problems: list[InputError]) -> Iterator[None]:
    """Note what is refused, and go on."""
    try:
        yield
    except InputError as error:
        problems += error.errors


def _by_day(
    record: Record, options: Options, latitude: float | None, problems: list[InputError]
) -> Record:
    """The record by day, what can't be weather left out; what is wrong is noted."""
    record.ends = options.hour_stamp == "end" or (record.ends and not options.hour_stamp)
    cut_to(record, options.span)
    problems += time_errors(record)
    problems += value_errors(record, accept=options.accept)
    drop_impossible(record)
    if not record.daily:
        problems += to_local_clock(record, options)
        record = to_days(record, options)
        problems += [*record.errors, *value_errors(record, accept=options.accept)]
        drop_impossible(record)
    _, first = np.unique(record.times, return_index=True)
    record.select(first)
    if latitude is not None:
        drop = options.impossible == "drop"
        problems += sky_errors(record, latitude, accept=options.accept, drop=drop)
    return record


def _missing(record: Record, options: Options, problems: list[InputError]) -> None:
    """Note a place that is not known, columns and days that a season needs."""
    with _noted(problems):
        known_place(record)
    unsettled = {read_heading(name).key for name in answers_to(problems).get("columns", {})}
    core = core_of(record)
    absent = [key for key in core if key not in record.columns]
    if waiting := [key for key in absent if key not in unsettled]:
        problems.append(lacking(record, waiting))
    there = [record.columns[key] for key in core if key in record.columns]
    if there:  # for one that is absent another tells of its gaps
        columns = {**dict.fromkeys(absent, there[0]), **record.columns}
        with _noted(problems):
            shifted = shift_rain(replace(record, columns=columns), record.rain_day)
            fill_gaps(shifted, max_gap_days=options.max_gap_days, rain_day=record.rain_day)


def answers_to(problems: Sequence[InputError]) -> dict[str, Any]:
    """Of each problem the first option of its hint that has a value; a place has none."""
    found: dict[str, Any] = {}
    for problem in problems:
        parts = problem.hint.parts if isinstance(problem.hint, Pieces) else (problem.hint,)
        options = [part for part in parts if isinstance(part, Option)]
        valued = [option for option in options if option.value is not None][:1]
        spans = [option for option in options if option.name in ("start", "end") and option.value]
        asked = [option for option in options if option.name in ("latitude", "elevation")]
        for option in asked or (spans if len(spans) == 2 else valued):
            if option.name == "columns":
                found.setdefault("columns", {}).update(option.value)
            elif option.name in ("missing", "accept"):
                several = found.setdefault(option.name, [])
                several += [option.value] if option.value not in several else []
            else:
                found.setdefault(option.name, option.value)
    return found


def _gaps(record: Record) -> Iterator[Gap]:
    """Days without each group of quantities that the record has at all."""
    days = record.times.astype("datetime64[D]")
    every = np.arange(days[0], days[-1] + np.timedelta64(1, "D"))
    at = (days - days[0]).astype(np.int64)
    for name, keys in GROUPS.items():
        columns = [record.columns[key].values for key in keys if key in record.columns]
        if not columns:
            continue
        known = np.zeros(len(every), dtype=bool)
        together = np.all if name == "temperature" else np.any
        known[at] = together([~np.isnan(values) for values in columns], axis=0)
        stretches = list(runs(~known))
        if stretches:
            a, b = max(stretches, key=lambda stretch: stretch[1] - stretch[0])
            yield Gap(name, int((~known).sum()), b - a, every[a])


def _months(record: Record) -> pd.DataFrame:
    """By month: days, rain of a whole month [mm], mean lowest and highest temperature [degC]."""
    month = record.times.astype("datetime64[M]").astype(np.int64) % 12 + 1
    nothing: NDArray[np.float64] = np.full(len(month), np.nan)
    daily = pd.DataFrame(
        {
            name: record.columns[name].values if name in record.columns else nothing
            for name in ("rain", "tmin", "tmax")
        }
    )
    grouped = daily.groupby(month)
    table = grouped.mean()
    table["rain"] *= [MONTH_LENGTHS[number - 1] for number in table.index]
    table.insert(0, "days", grouped.size())
    return table.rename_axis("month")
