"""A weather file to a checked, complete daily Dataset."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from bedtide.checks import choice, in_range
from bedtide.errors import FieldError, FileError, InputError, TimeAxisError, raise_all
from bedtide.terms import attributes
from bedtide.weather.check import (
    ACCEPTABLE,
    drop_impossible,
    sky_errors,
    time_errors,
    value_errors,
)
from bedtide.weather.clock import to_local_clock
from bedtide.weather.dates import ORDERS
from bedtide.weather.estimate import Demand, Setting, fill_in
from bedtide.weather.et0 import METHODS, Method, hargreaves, penman_monteith
from bedtide.weather.formats import FORMATS
from bedtide.weather.gaps import FLAGS, DailyColumns, count_text, fill_gaps
from bedtide.weather.hourly import to_days
from bedtide.weather.record import RAIN_DAYS, Options, RainDay, Record
from bedtide.weather.text import decode

if TYPE_CHECKING:
    import xarray as xr

__all__ = ["read_weather"]

_MOST_BYTES = 400_000_000


def read_weather(
    path: str | Path,
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
) -> xr.Dataset:
    """Daily weather from a file, checked, complete, with reference evapotranspiration.

    Everything is checked before anything is computed; all mistakes that are found are reported
    together, each with its line.

    Parameters
    ----------
    path : str or Path
        A text file with one row a day or several. The kind of file is found from its content.
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

    Returns
    -------
    Dataset
        Along ``time``: ``tmax``, ``tmin``, ``vapour_pressure``, ``rh_min``, ``wind_speed``,
        ``solar_radiation``, ``rain``, ``et0``, ``estimated`` (how many of humidity, wind and
        radiation are stand-ins that day), ``filled`` (a gap was filled that day) and ``measured``
        (flags of what was). Attributes hold the place, what was read and what was assumed.

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
    options = _options(
        columns, missing, decimal, date_order, station, wind_height, stamps, time_zone, hour_stamp
    )
    choice(setting, ("inland", "coast"), where="setting")
    choice(impossible, ("refuse", "drop"), where="impossible")
    for word in accept:
        choice(word, ACCEPTABLE, where="accept")
    if method is not None:
        choice(method, METHODS, where="method")
    if rain_day is not None:
        choice(rain_day, RAIN_DAYS, where="rain_day")
    in_range(max_gap_days, 0, 60, where="max_gap_days", unit="days")
    record = _read_file(Path(path), options)
    _cut(record, start, end)
    read = [f"{column.name} -> {key}, {column.unit}" for key, column in record.columns.items()]
    record = _checked(record, options, drop=impossible == "drop", accept=accept)
    place = _place(record, latitude, elevation)
    raise_all(sky_errors(record, place["latitude"], accept=accept))
    rule = rain_day or record.rain_day
    daily = fill_gaps(record, max_gap_days=int(max_gap_days), rain_day=rule)
    height = wind_height if wind_height is not None else record.wind_height
    demand = fill_in(daily, **place, wind_height=height, setting=setting)
    route: Method = "hargreaves" if demand.none_measured else "penman-monteith"
    return _dataset(record, daily, demand, place, method or route, rule, read)


def _options(
    columns: Mapping[str, str] | None,
    missing: Sequence[str],
    decimal: str | None,
    date_order: str | None,
    station: str | None,
    wind_height: float | None,
    stamps: str | None,
    time_zone: str | None,
    hour_stamp: str,
) -> Options:
    if decimal is not None:
        choice(decimal, (".", ","), where="decimal")
    if date_order is not None:
        choice(date_order, ORDERS, where="date_order")
    if wind_height is not None:
        in_range(wind_height, 0.5, 200.0, where="wind_height", unit="m")
    choice(hour_stamp, ("start", "end"), where="hour_stamp")
    words = (missing,) if isinstance(missing, str) else tuple(str(word) for word in missing)
    return Options(
        columns=dict(columns or {}),
        missing=words,
        decimal=decimal,
        date_order=date_order,
        station=station,
        wind_height=wind_height,
        stamps=stamps,
        time_zone=time_zone,
        hour_stamp=hour_stamp,
    )


def _read_file(path: Path, options: Options) -> Record:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise FileError(path.name, "it is larger than 400 MB", expected="one station's record")
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it can't be opened"
        raise FileError(str(path), f"it can't be read: {reason.lower()}") from None
    text = decode(data, path.name)
    for known in FORMATS:
        if known.recognise(text, options):
            return known.read(text, options)
    return FORMATS[-1].read(text, options)


def _cut(
    record: Record, start: str | np.datetime64 | None, end: str | np.datetime64 | None
) -> None:
    if start is None and end is None:
        return
    days = record.times.astype("datetime64[D]")
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


def _place(record: Record, latitude: float | None, elevation: float | None) -> dict[str, float]:
    place = {"latitude": record.latitude, "elevation": record.elevation}
    given = {"latitude": latitude, "elevation": elevation}
    bounds = {"latitude": (-90.0, 90.0, "degrees"), "elevation": (-430.0, 6000.0, "m")}
    found: dict[str, float] = {}
    unknown = []
    for name, value in place.items():
        chosen = given[name] if value is None else value
        if chosen is None:
            unknown.append(name)
        else:
            low, high, unit = bounds[name]
            found[name] = float(in_range(chosen, low, high, where=name, unit=unit))
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
    return found


def _dataset(
    record: Record,
    daily: DailyColumns,
    demand: Demand,
    place: dict[str, float],
    method: Method,
    rule: RainDay,
    read: list[str],
) -> xr.Dataset:
    import xarray as xr

    warm, cold = daily.columns["tmax"], daily.columns["tmin"]
    sentences = [*record.notes, *daily.sentences, *demand.sentences]
    estimated = demand.estimated
    if method == "hargreaves":
        et0 = hargreaves(days=daily.days, tmax=warm, tmin=cold, latitude=place["latitude"])
        total = len(daily.days)
        sentences.append(
            "Reference evapotranspiration was estimated from temperature alone (Hargreaves) "
            f"{count_text(total, total)}; it can be a fifth or more off."
        )
    else:
        et0 = penman_monteith(
            days=daily.days,
            tmax=warm,
            tmin=cold,
            vapour_pressure=demand.vapour_pressure,
            wind_speed=demand.wind_speed,
            solar_radiation=demand.solar_radiation,
            **place,
        )
    values = {
        "tmax": warm,
        "tmin": cold,
        "vapour_pressure": demand.vapour_pressure,
        "rh_min": demand.rh_min,
        "wind_speed": demand.wind_speed,
        "solar_radiation": demand.solar_radiation,
        "rain": daily.columns["rain"] / 1000.0,
        "et0": et0,
    }
    dataset = xr.Dataset(
        {name: ("time", np.asarray(value, dtype=np.float64)) for name, value in values.items()},
        coords={"time": daily.days.astype("datetime64[ns]")},
    )
    dataset["estimated"] = ("time", estimated)
    dataset["filled"] = ("time", daily.filled)
    dataset["measured"] = ("time", daily.measured)
    for name in values:
        dataset[name].attrs = attributes(name)
    dataset["estimated"].attrs = {
        "units": "1",
        "long_name": "columns estimated",
        "comment": "How many of humidity, wind and radiation are stand-ins that day.",
    }
    dataset["filled"].attrs = {
        "long_name": "gap filled",
        "comment": "Whether a gap in the record was filled that day.",
    }
    dataset["measured"].attrs = {
        "long_name": "measured that day",
        "flag_masks": np.array(list(FLAGS.values()), dtype=np.int8),
        "flag_meanings": " ".join(FLAGS),
    }
    dataset.attrs = {
        "latitude": place["latitude"],
        "elevation": place["elevation"],
        "place": record.place or Path(record.source).stem,
        "source": record.source,
        "format": record.format,
        "rain_day": rule,
        "et0_method": method,
        "columns_read": read,
        "columns_ignored": list(record.ignored),
        "assumptions": sentences,
    }
    return dataset
