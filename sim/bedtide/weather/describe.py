"""What weather files hold, told even where a season can't run on them yet, and what they lack."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.constants import MONTH_LENGTHS
from bedtide.errors import InputError
from bedtide.weather.fill import core_of, fill_gaps, lacking
from bedtide.weather.join import GROUPS, shift_rain
from bedtide.weather.names import read_heading
from bedtide.weather.options import Options, Paths, answers_to, takes_options
from bedtide.weather.read import gather, known_place, noted
from bedtide.weather.record import Record, runs


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
    options = replace(options, every_column=isinstance(path, (str, Path)))
    found = gather(path, options)
    record, problems = found.record, found.problems
    if record is None:
        return None
    record.rain_day = options.rain_day or record.rain_day
    _missing(record, options, problems)
    days = record.times.astype("datetime64[D]")
    return Description(
        place=record.place,
        source=record.source,
        format=record.format,
        latitude=record.latitude,
        elevation=record.elevation,
        first=days[0],
        last=days[-1],
        days=len(days),
        columns_read=found.read,
        columns_ignored=tuple(record.ignored),
        gaps=tuple(_gaps(record)),
        months=_months(record),
        problems=tuple({problem.text: problem for problem in problems}.values()),
    )


def _missing(record: Record, options: Options, problems: list[InputError]) -> None:
    """Note a place that is not known, columns and days that a season needs."""
    with noted(problems):
        known_place(record)
    unsettled = {read_heading(name).key for name in answers_to(problems).get("columns", {})}
    core = core_of(record)
    absent = [key for key in core if key not in record.columns]
    if waiting := [key for key in absent if key not in unsettled]:
        problems.append(lacking(record, waiting))
    there = [record.columns[key] for key in core if key in record.columns]
    if there:  # for one that is absent another tells of its gaps
        columns = {**dict.fromkeys(absent, there[0]), **record.columns}
        with noted(problems):
            shifted = shift_rain(replace(record, columns=columns), record.rain_day)
            fill_gaps(shifted, max_gap_days=options.max_gap_days, rain_day=record.rain_day)


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
