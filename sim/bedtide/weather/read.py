"""Weather files to a checked, complete daily Dataset."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import (
    FieldError,
    FileError,
    InputError,
    Option,
    Pieces,
    TimeAxisError,
    in_range,
    printable,
    raise_all,
)
from bedtide.tables import attributes
from bedtide.weather.check import drop_impossible, sky_errors, time_errors, value_errors
from bedtide.weather.columns import read_heading
from bedtide.weather.et0 import EQUATIONS
from bedtide.weather.fill import (
    FLAGS,
    STAND_INS,
    DailyColumns,
    core_of,
    fill_gaps,
    fill_in,
    lacking,
)
from bedtide.weather.hourly import to_days, to_local_clock
from bedtide.weather.join import borrow_columns, join_records, level_wind, own_rain, shift_rain
from bedtide.weather.layouts import layout_of, no_header, tabled
from bedtide.weather.netcdf import read_netcdf
from bedtide.weather.options import (
    CLOCKS_APART,
    OPTIONS,
    READY_MADE,
    Options,
    Paths,
    answers_to,
    takes_options,
)
from bedtide.weather.record import Record
from bedtide.weather.suspicious import doubt_attributes, suspicions
from bedtide.weather.tables import read_table
from bedtide.weather.text import decode, load, unpacked

if TYPE_CHECKING:
    import xarray as xr

Floats = NDArray[np.float64]


@takes_options(Options)
def read_weather(path: Paths, options: Options) -> xr.Dataset:
    """Daily weather from files, checked, complete, with reference evapotranspiration.

    Everything is checked before anything is computed; all mistakes that are found are reported
    together, each with its line.

    Parameters
    ----------
    path : str, Path or sequence of these
        A file with one row a day or several, or several files of one station, which are joined by
        date. The kind of file is found from its content; zip and gzip are unpacked.
    OPTIONS

    Returns
    -------
    Dataset
        Along ``time``: ``tmax``, ``tmin``, ``vapour_pressure``, ``rh_min``, ``wind_speed``,
        ``solar_radiation``, ``rain``, ``et0``, ``estimated`` (how many of humidity, wind and
        radiation are stand-ins that day), ``filled`` (a gap was filled that day) and ``measured``
        (flags of what was). Where rain came by the hour or oftener also ``rain_hours``, along
        ``time`` and ``hour``. Attributes hold the place, what was read and what was assumed.

    Raises
    ------
    FileError
        If the file can't be read.
    InputError
        If anything in it, or in the arguments, is wrong.

    Examples
    --------
    >>> from bedtide import read_weather, sample_weather
    >>> weather = read_weather(sample_weather("mistlebeck"), start="2001-01-01", end="2001-12-31")
    >>> weather.sizes["time"]
    365
    """
    options = replace(options, every_column=isinstance(path, (str, Path)))
    record, read = _one_record(path, options)
    record = shift_rain(record)
    other = replace(options, every_column=False, station=None, wind_height=None, rain_day=None)
    if options.borrow is not None:
        lender, _ = _one_record(options.borrow, other)
        record = borrow_columns(record, shift_rain(lender))
    if options.gauge is not None:  # days as they are written, in any order
        log = replace(
            other, columns=None, impossible="refuse", accept=OPTIONS["accept"].choices, layout=None
        )
        gauge, _ = _one_record(options.gauge, log)
        record = own_rain(record, shift_rain(gauge))
    return _dataset(record, complete(record, options), read)


@dataclass(frozen=True)
class Complete:
    """A record without gaps, with all that reference evapotranspiration needs, and that."""

    daily: DailyColumns
    place: dict[str, float]  # latitude [degree] and elevation [m]
    method: str  # of its ET0
    et0: Floats  # [m d-1]


def complete(record: Record, options: Options) -> Complete:
    """Gaps filled, the rest estimated, and ET0 by the equation that it is best worked out by."""
    place = known_place(record)
    daily = fill_gaps(record, max_gap_days=options.max_gap_days, rain_day=record.rain_day)
    ready_made = "tmax" not in daily.columns
    if ready_made and options.method is not None:
        problem = f"{record.source} has no temperature to work ET0 out from"
        raise FieldError(Option("method"), problem)
    daily = fill_in(daily, **place, setting=options.setting)
    if ready_made:
        return Complete(daily, place, READY_MADE, daily.columns["et0"] / 1000.0)
    route = "hargreaves" if np.all(daily.estimated == len(STAND_INS)) else "penman-monteith"
    method = options.method or route
    equation, needed, of_place = EQUATIONS[method]
    given = {name: daily.columns[name] for name in needed}
    et0 = equation(days=daily.days, **given, **{name: place[name] for name in of_place})
    return Complete(daily, place, method, et0)


def dataset_of(whole: Complete) -> xr.Dataset:
    """Variables of a complete record, by the hour too, in the units of the glossary."""
    import xarray as xr

    daily = whole.daily
    values: dict[str, NDArray[Any]] = daily.columns | {name: getattr(daily, name) for name in ABOUT}
    values |= {"rain": daily.columns["rain"] / 1000.0, "et0": whole.et0}
    dataset = xr.Dataset(
        {name: ("time", values[name], attributes_of(name)) for name in VARIABLES},
        coords={"time": daily.days.astype("datetime64[ns]")},
        attrs={**whole.place, "et0_method": whole.method},
    )
    if daily.rain_hours is not None:
        dataset["rain_hours"] = (("time", "hour"), daily.rain_hours, attributes("rain_hours"))
        dataset = dataset.assign_coords(hour=("hour", np.arange(24), attributes("hour")))
    return dataset


@dataclass
class Gathered:
    """Files of one station as one daily record, and all that is wrong with them."""

    record: Record | None  # None where nothing can be read
    problems: list[InputError]
    read: tuple[str, ...] = ()  # columns, each with its quantity and unit


def gather(paths: Paths, options: Options) -> Gathered:
    """Read files, check them one by one, bring them to days and join them; nothing is refused."""
    several = [paths] if isinstance(paths, (str, Path)) else list(paths)
    if not several:
        raise FileError("weather", "no file was given", expected="at least one")
    problems: list[InputError] = []
    records: list[Record] = []
    for path in map(Path, several):
        with noted(problems):
            records += read_one(load(path), path.name, options)
    for record in records:
        problems += record.errors
        record.errors = []
        record.select(np.flatnonzero(~np.isnat(record.times)))
        east, record.longitude = record.longitude, None
        if east is not None:
            with noted(problems):
                in_range(east, -180.0, 360.0, where=f"{record.source}, longitude", unit="degrees")
                record.longitude = east - 360.0 if east > 180.0 else east
    waiting = "columns" in answers_to(problems)  # for a unit, perhaps all of them
    full = [record for record in records if len(record.times) and (record.columns or waiting)]
    place: dict[str, float | None] = {"latitude": None, "elevation": None}
    with noted(problems):
        place = place_of(records, options)
    read = [f"{c.name} -> {key}, {c.unit}" for each in full for key, c in each.columns.items()]
    daily: list[Record] = []
    for record in full:
        with noted(problems):
            daily.append(by_day(record, options, place["latitude"], problems))
    if not daily:
        if records and not problems:
            nothing, wanted = "there is no weather in it", "daily or hourly weather"
            problems.append(FieldError(records[0].source, nothing, expected=wanted))
        return Gathered(None, problems)
    joined = daily[0]
    with noted(problems):
        joined = join_records(daily)
    if rain := [record for record in daily if "rain" in record.columns]:
        joined.rain_day, joined.rain_day_said = rain[0].rain_day, rain[0].rain_day_said
    named = [record.place for record in records if record.place]
    spoken = [name for name in named if not name.startswith("station ")]
    joined.place = next(iter([*spoken, *named]), "")
    joined.latitude, joined.elevation = place["latitude"], place["elevation"]
    return Gathered(joined, problems, tuple(dict.fromkeys(read)))


@takes_options(Options)
def describe_weather(path: Paths, options: Options) -> Gathered:
    """What files hold, and all that keeps a season from running on them."""
    options = replace(options, every_column=isinstance(path, (str, Path)))
    found = gather(path, options)
    record, problems = found.record, found.problems
    if record is None:
        return found
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
            shifted = shift_rain(replace(record, columns=columns))
            fill_gaps(shifted, max_gap_days=options.max_gap_days, rain_day=record.rain_day)
    found.problems = list({problem.text: problem for problem in problems}.values())
    return found


@contextmanager
def noted(problems: list[InputError]) -> Iterator[None]:
    """Note what is refused, and go on."""
    try:
        yield
    except InputError as error:
        problems += error.errors


def by_day(
    record: Record, options: Options, latitude: float | None, problems: list[InputError]
) -> Record:
    """The record by day, what can't be weather left out; what is wrong is noted."""
    drop, accept = options.impossible == "drop", options.accept
    words = (options.columns or {}).items()  # for a kind of file that names its own columns
    ignored = {n.lower() for n, meaning in words if meaning.strip().lower() in ("ignore", "skip")}
    record.columns = {k: c for k, c in record.columns.items() if c.name.lower() not in ignored}
    record.ends = options.hour_stamp == "end" or (record.ends and not options.hour_stamp)
    record.rain_day_said |= options.rain_day is not None
    record.rain_day = options.rain_day or record.rain_day
    zoned = not record.daily and (record.offset is not None or options.stamps is not None)
    _cut_to(record, options, beside=CLOCKS_APART if zoned else 0)
    if drop:
        drop_impossible(record)
    problems += [*time_errors(record), *value_errors(record, accept=accept)]
    drop_impossible(record)  # what is noted already
    if not record.daily:
        problems += to_local_clock(record, options)
        _cut_to(record, options)
        record = to_days(record)
        problems += [*record.errors, *value_errors(record, accept=accept)]
        drop_impossible(record)
    if (np.diff(record.times) <= np.timedelta64(0, "s")).any():
        _, first = np.unique(record.times, return_index=True)
        record.select(first)
    if latitude is not None:
        problems += sky_errors(record, latitude, accept=accept, drop=drop)
    level_wind(record, options.wind_height)
    return record


def _one_record(paths: Paths, options: Options) -> tuple[Record, tuple[str, ...]]:
    """Files of one station as one daily record, and what was read; refuses all that is wrong."""
    found = gather(paths, options)
    raise_all(found.problems)
    assert found.record is not None
    return found.record, found.read


def place_of(records: Sequence[Record], options: Options) -> dict[str, float | None]:
    """Where the first file that says so was measured; else where the options say."""
    found: dict[str, float | None] = {}
    for name in ("latitude", "elevation"):
        found[name], about = getattr(options, name), OPTIONS[name]
        says = [(r.source, v) for r in records if (v := getattr(r, name)) is not None]
        for source, value in says[:1]:
            where = f"{source}, {name}"
            found[name] = float(in_range(value, *about.bounds, where=where, unit=about.unit))
    return found


def known_place(record: Record) -> dict[str, float]:
    """Latitude [degree] and elevation [m] of the station, refused where one is not known."""
    lines = {"latitude": "# latitude: 51.9", "elevation": "# elevation: 30 m"}
    unknown = [name for name in lines if getattr(record, name) is None]
    if unknown:
        verb = "is" if len(unknown) == 1 else "are"
        problem = f"the {' and the '.join(unknown)} of the station {verb} not known"
        wanted = f"lines such as  {'  and  '.join(lines[n] for n in unknown)}  above the header"
        options = [piece for name in unknown for piece in ("  and  ", Option(name))][1:]
        describe = " , or describe the place in the bed file under [site]"
        hint = Pieces("Or say  ", *options, describe)
        raise FieldError(record.source, problem, expected=wanted, hint=hint)
    return {name: float(getattr(record, name)) for name in lines}


def _cut_to(record: Record, options: Options, *, beside: int = 0) -> None:
    """Leave the days that are wanted and so many seconds `beside` them."""
    early = np.timedelta64(1 if record.ends and not record.daily else 0, "s")
    times = record.times - early
    keep = options.in_span(times, beside=beside)
    if not keep.any():
        days = times.astype("datetime64[D]")
        problem, wanted = "it has none of the days that are wanted", f"{days.min()} to {days.max()}"
        hint = Pieces("Mend  ", Option("start"), "  or  ", Option("end"))
        raise TimeAxisError(record.source, problem, expected=f"days within {wanted}", hint=hint)
    record.select(np.flatnonzero(keep))


def read_one(data: bytes, name: str, options: Options) -> list[Record]:
    """Records of a file from what it holds; of a zip file every member of a known kind."""
    members = unpacked(data, name)
    del data  # 100 MB of it are better let go
    if isinstance(members, bytes):
        if members[:3] == b"CDF" or members[:8] == b"\x89HDF\r\n\x1a\n":
            return [read_netcdf(members, name, options)]
        text = tabled(decode(members, name))
        del members
        found = layout_of(text, options)
        if found is None:
            raise no_header(text)
        return [read_table(text, *found, options)]
    records: list[Record] = []
    unknown: list[str] = []
    for label, content in members:
        try:
            text = decode(content, label)
        except FileError:
            continue
        text = tabled(text)
        if (found := layout_of(text, options)) is None:
            unknown.append(label)
        else:
            records.append(read_table(text, *found, options))
    if not any(record.columns for record in records):
        hint = f"Found: {', '.join(unknown[:5])}" if unknown else ""
        nothing = "no file in it is of a known kind"
        raise FileError(name, nothing, expected="daily or hourly weather", hint=hint)
    return records


ABOUT: dict[str, dict[str, Any]] = {
    "estimated": {
        "units": "1",
        "long_name": "columns estimated",
        "comment": "How many of humidity, wind and radiation are stand-ins that day.",
    },
    "filled": {
        "long_name": "gap filled",
        "comment": "Whether a gap in the record was filled that day.",
    },
    "measured": {
        "long_name": "measured that day",
        "flag_masks": np.array(list(FLAGS.values()), dtype=np.int8),
        "flag_meanings": " ".join(FLAGS),
    },
}


VARIABLES = (
    "tmax", "tmin", "vapour_pressure", "rh_min", "wind_speed", "solar_radiation", "rain", "et0",
    *ABOUT,
)  # fmt: skip
"""Variables of a record; where hours of rain are known, these as well."""


def attributes_of(name: str) -> dict[str, Any]:
    """Attributes of a variable of a record."""
    return dict(ABOUT[name] if name in ABOUT else attributes(name))


def _dataset(record: Record, whole: Complete, read: Sequence[str]) -> xr.Dataset:
    """The record as it is given out: its variables, and in attributes all that is told of it."""
    daily, method = whole.daily, whole.method
    sentences = [*record.notes, *daily.sentences]
    if not record.rain_day_said:
        sentences.append(
            "Rain: taken as fallen on its date, as the file does not say; a gauge that is read in "
            "the morning holds the rain of the day before."
        )
    if method == "hargreaves":
        sentences.append(
            "ET0: estimated from temperature alone (Hargreaves), so it can be a fifth or more off."
        )
    dataset = dataset_of(whole)
    dataset.attrs |= {
        "place": printable(record.place or Path(record.source).stem),
        "source": printable(record.source),
        "format": record.format,
        "rain_day": record.rain_day,
        "columns_read": [printable(name) for name in read],
        "columns_ignored": [printable(name) for name in record.ignored],
        "assumptions": [printable(sentence) for sentence in sentences],
    }
    given = daily.columns["et0"] / 1000.0
    known = ~np.isnan(given)
    if known.any() and method != READY_MADE:
        dataset.attrs["et0_given_days"] = int(known.sum())
        dataset.attrs["et0_given_ratio"] = float(given[known].sum() / whole.et0[known].sum())
    dataset.attrs |= doubt_attributes(suspicions(dataset))
    return dataset
