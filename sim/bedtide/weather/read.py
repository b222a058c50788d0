"""Weather files to a checked, complete daily Dataset."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from bedtide.checks import choice, in_range
from bedtide.errors import FieldError, InputError, TimeAxisError, raise_all
from bedtide.weather.check import ACCEPTABLE, sky_errors, time_errors, value_errors
from bedtide.weather.clock import to_local_clock
from bedtide.weather.dataset import make_dataset
from bedtide.weather.dates import ORDERS
from bedtide.weather.estimate import Setting, fill_in
from bedtide.weather.et0 import METHODS, Method
from bedtide.weather.formats import plain
from bedtide.weather.gaps import fill_gaps
from bedtide.weather.hourly import to_days
from bedtide.weather.impossible import drop_impossible
from bedtide.weather.join import (
    borrow_columns,
    join_records,
    level_wind,
    own_rain,
    shift_rain,
)
from bedtide.weather.load import Paths, load_bytes, load_records
from bedtide.weather.record import RAIN_DAYS, Options, RainDay, Record
from bedtide.weather.text import decode

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["read_weather"]

_UNITS_OF_FILE = ("tenths", "metric", "standard")


def read_weather(
    path: Paths,
    *,
    latitude: float | None = None,
    elevation: float | None = None,
    columns: Mapping[str, str] | None = None,
    max_gap_days: int = 3,
    start: str | np.datetime64 | None = None,
    end: str | np.datetime64 | None = None,
    rain_day: RainDay | None = None,
    missing: Sequence[str] = (),
    decimal: Literal[".", ","] | None = None,
    date_order: Literal["dmy", "mdy"] | None = None,
    station: str | None = None,
    wind_height: float | None = None,
    stamps: str | None = None,
    time_zone: str | None = None,
    hour_stamp: Literal["start", "end"] = "start",
    setting: Setting = "inland",
    method: Method | None = None,
    impossible: Literal["refuse", "drop"] = "refuse",
    accept: Sequence[str] = (),
    units_of_file: Literal["tenths", "metric", "standard"] | None = None,
    multi_day: Literal["spread", "last"] = "spread",
    point: tuple[float, float] | None = None,
    borrow: Paths | None = None,
    gauge: str | Path | None = None,
) -> xr.Dataset:
    """Daily weather from files, checked, complete, with reference evapotranspiration.

    Everything is checked before anything is computed; all mistakes that are found are reported
    together, each with its line.

    Parameters
    ----------
    path : str, Path or sequence of these
        A file with one row a day or several, or several files of one station, which are joined by
        date. The kind of file is found from its content; zip and gzip are unpacked.
    latitude : float, optional
        Latitude, north positive [degree]; used where the file does not give it.
    elevation : float, optional
        Height above the sea [m]; used where the file does not give it.
    columns : mapping of str, optional
        Column of the file -> quantity, unit, both (``"tmax, F"``), or ``"ignore"``.
    max_gap_days : int, default 3
        Longest gap in temperature or rain that is filled [d].
    start, end : str or datetime64, optional
        First and last day to use; by default all.
    rain_day : {"midnight", "to morning", "from morning"}, optional
        Which 24 hours the rain under a date covers. By default what the format or the file says.
    missing : sequence of str, optional
        Texts or numbers that stand for "not measured", such as ``"-9999"``.
    decimal : {".", ","}, optional
        Decimal mark; by default found from the file, refused where it is not certain.
    date_order : {"dmy", "mdy"}, optional
        Order of dates such as 03/04/2021; without it they are refused.
    station : str, optional
        Which station to take from a file that holds several.
    wind_height : float, optional
        Height of the wind gauge above the ground [m]; by default what the file says.
    stamps : str, optional
        Time zone of clock times that do not say it themselves; by default local time.
    time_zone : str, optional
        Zone whose midnight begins a day, where the file's clock is another.
    hour_stamp : {"start", "end"}, default "start"
        Whether a row of an hourly file carries the time at which its hour starts or ends.
    setting : {"inland", "coast"}
        Where the site is, for radiation from temperature.
    method : {"penman-monteith", "hargreaves"}, optional
        Equation for reference evapotranspiration. By default Penman-Monteith, and Hargreaves
        where nothing is known of humidity, wind and radiation on any day.
    impossible : {"refuse", "drop"}
        Whether impossible values are an error, or count as not measured.
    accept : sequence of str, optional
        Checks to leave out: ``zeros``, ``sunshine``.
    units_of_file : {"tenths", "metric", "standard"}, optional
        Units of a file that does not say them (daily summaries of the US climate data centre).
    multi_day : {"spread", "last"}, default "spread"
        A rain total of several days is spread evenly over them, or put on the last.
    point : tuple of float, optional
        Latitude and longitude wanted from a grid [degree].
    borrow : str, Path or sequence of these, optional
        Files of another station, for columns that this one lacks altogether.
    gauge : str or Path, optional
        Log of a rain gauge of your own: a date and a rain column; it overrides the station's
        rain on its dates.

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
    >>> from bedtide.tables import samples_folder
    >>> weather = read_weather(samples_folder() / "mistlebeck.csv")
    >>> weather.sizes["time"] // 365
    30
    """
    if rain_day is not None:
        choice(rain_day, RAIN_DAYS, where="rain_day")
    if method is not None:
        choice(method, METHODS, where="method")
    choice(setting, ("inland", "coast"), where="setting")
    choice(impossible, ("refuse", "drop"), where="impossible")
    for word in accept:
        choice(word, ACCEPTABLE, where="accept")
    in_range(max_gap_days, 0, 60, where="max_gap_days", unit="days")
    options = _options(
        Options(
            columns=dict(columns or {}),
            missing=(missing,) if isinstance(missing, str) else tuple(map(str, missing)),
            decimal=decimal,
            date_order=date_order,
            station=station,
            units_of_file=units_of_file,
            wind_height=wind_height,
            stamps=stamps,
            time_zone=time_zone,
            hour_stamp=hour_stamp,
            multi_day=multi_day,
            point=point,
            every_column=isinstance(path, (str, Path)),
        )
    )

    def whole(paths: Paths, given: Options) -> tuple[Record, list[str], dict[str, float | None]]:
        return _one_record(
            load_records(paths, given),
            given,
            cut=lambda record: _cut(record, start, end, ends=given.hour_stamp == "end"),
            place={"latitude": latitude, "elevation": elevation},
            drop=impossible == "drop",
            accept=accept,
        )

    record, read, place = whole(path, options)
    rule = rain_day or record.rain_day
    record.rain_day = rule
    record = shift_rain(record, rule)
    other = replace(options, every_column=False, station=None, wind_height=None)
    if borrow is not None:
        lender, _, _ = whole(borrow, other)
        record = borrow_columns(record, shift_rain(lender, lender.rain_day))
    if gauge is not None:
        record = own_rain(record, _gauge(Path(gauge), other))
    known = _known_place(record, place)
    daily = fill_gaps(record, max_gap_days=int(max_gap_days), rain_day=rule)
    demand = fill_in(daily, **known, setting=setting)
    route: Method = "hargreaves" if demand.none_measured else "penman-monteith"
    return make_dataset(record, daily, demand, known, method or route, rule, read)


def _options(options: Options) -> Options:
    """The options, their words checked."""
    words = (
        ("decimal", options.decimal, (".", ",")),
        ("date_order", options.date_order, ORDERS),
        ("hour_stamp", options.hour_stamp, ("start", "end")),
        ("units_of_file", options.units_of_file, _UNITS_OF_FILE),
        ("multi_day", options.multi_day, ("spread", "last")),
    )
    for name, given, offered in words:
        if given is not None:
            choice(given, offered, where=name)
    if options.wind_height is not None:
        in_range(options.wind_height, 0.5, 200.0, where="wind_height", unit="m")
    if options.point is not None:
        if len(options.point) != 2:
            raise FieldError("point", "it is not two numbers", expected="latitude and longitude")
        in_range(options.point[0], -90.0, 90.0, where="point, latitude", unit="degrees")
        in_range(options.point[1], -180.0, 360.0, where="point, longitude", unit="degrees")
    return options


def _one_record(
    records: list[Record],
    options: Options,
    *,
    cut: Callable[[Record], None],
    place: dict[str, float | None],
    drop: bool,
    accept: Sequence[str],
) -> tuple[Record, list[str], dict[str, float | None]]:
    """Files of one station, checked one by one, as one daily record; what was read; the place."""
    found = dict(place)
    for name in place:
        said = [v for r in records if (v := getattr(r, name)) is not None]
        if said:
            found[name] = said[0]
    names = [record.place for record in records if record.place]
    full = [record for record in records if record.columns]
    read = [
        f"{column.name} -> {key}, {column.unit}"
        for record in full
        for key, column in record.columns.items()
    ]
    daily: list[Record] = []
    errors: list[InputError] = []
    for record in full:
        try:
            cut(record)
            made = _checked(record, options, drop=drop, accept=accept)
            if found.get("latitude") is not None:
                latitude = float(found["latitude"] or 0.0)
                in_range(latitude, -90.0, 90.0, where="latitude", unit="degrees")
                raise_all(sky_errors(made, latitude, accept=accept))
            level_wind(made, options.wind_height)
            daily.append(made)
        except InputError as error:
            errors += list(getattr(error, "errors", (error,)))
    raise_all(errors)
    joined = join_records(daily)
    rain = [record for record in daily if "rain" in record.columns]
    joined.rain_day = rain[0].rain_day if rain else joined.rain_day
    joined.place = joined.place or (names[0] if names else "")
    if names and joined.place.startswith("station "):
        joined.place = next((n for n in names if not n.startswith("station ")), joined.place)
    joined.latitude, joined.elevation = found.get("latitude"), found.get("elevation")
    return joined, list(dict.fromkeys(read)), found


def _gauge(path: Path, options: Options) -> Record:
    """Log of a rain gauge: days as they are written, in any order."""
    text = decode(load_bytes(path), path.name)
    record = plain.read(text, replace(options, columns={}))
    record.forgiving = True
    record = _checked(record, options, drop=False, accept=ACCEPTABLE)
    return shift_rain(record, record.rain_day)


def _cut(
    record: Record,
    start: str | np.datetime64 | None,
    end: str | np.datetime64 | None,
    *,
    ends: bool,
) -> None:
    """Leave the days from start to end; `ends` where rows of an hour carry its end."""
    if start is None and end is None:
        return
    early = np.timedelta64(1 if ends and not record.daily else 0, "s")
    days = (record.times - early).astype("datetime64[D]")
    keep = ~np.isnat(days)
    for name, given in (("start", start), ("end", end)):
        if given is None:
            continue
        try:
            if len(str(given)) < len("2021-03-04"):
                raise ValueError
            day = np.datetime64(str(given)[:10], "D")
        except ValueError:
            raise FieldError(name, f'"{given}" is not a date', expected="2021-03-04") from None
        keep &= (days >= day) if name == "start" else (days <= day)
    if not keep.any():
        known = days[~np.isnat(days)]
        span = f"{known.min()} to {known.max()}" if len(known) else "no date"
        raise TimeAxisError(
            record.source, "no day lies between start and end", expected=f"days within {span}"
        )
    record.select(np.flatnonzero(keep))


def _checked(record: Record, options: Options, *, drop: bool, accept: Sequence[str]) -> Record:
    """The record by day, after every check that needs no place; raises all that is wrong."""
    if drop:
        drop_impossible(record)
    errors: list[InputError] = [*record.errors, *time_errors(record)]
    errors += value_errors(record, accept=accept)
    raise_all(errors)
    if record.daily:
        return record
    raise_all(to_local_clock(record, options))
    daily = to_days(record, options)
    raise_all([*daily.errors, *value_errors(daily, accept=accept)])
    return daily


def _known_place(record: Record, place: Mapping[str, float | None]) -> dict[str, float]:
    bounds = {"latitude": (-90.0, 90.0, "degrees"), "elevation": (-430.0, 6000.0, "m")}
    unknown = [name for name in bounds if place.get(name) is None]
    if unknown:
        example = {"latitude": "# latitude: 51.9", "elevation": "# elevation: 30 m"}
        raise FieldError(
            record.source,
            f"the {' and the '.join(unknown)} of the station {'is' if len(unknown) == 1 else 'are'}"
            " not known",
            expected=f"lines such as  {'  and  '.join(example[n] for n in unknown)}  above the "
            "header",
            hint=f"Or give them as options: {', '.join(unknown)}; or in the bed description "
            "under [site]",
        )
    return {
        name: float(in_range(place[name] or 0.0, low, high, where=name, unit=unit))
        for name, (low, high, unit) in bounds.items()
    }
