"""Clock times of a file to the clock by which its days are cut."""

from __future__ import annotations

import datetime
import re
import zoneinfo

import numpy as np
import pandas as pd

from bedtide.errors import ChoiceError, FieldError, InputError, nearest_names
from bedtide.weather.record import Options, Record

__all__ = ["to_local_clock", "zone_of"]

_OFFSET = re.compile(r"(?:UTC|GMT)?([+-])(\d{1,2}):?(\d{2})?")


def zone_of(text: str, *, where: str) -> datetime.tzinfo:
    """Time zone from its name or its distance from universal time.

    Parameters
    ----------
    text : str
        ``UTC``, ``+10:00`` or a name such as ``Europe/Berlin``.
    where : str
        For the message.

    Returns
    -------
    tzinfo
        The zone.

    Raises
    ------
    ChoiceError
        If there is no such zone.
    """
    if match := _OFFSET.fullmatch(text.strip()):
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        if minutes < 24 * 60:
            sign = 1 if match[1] == "+" else -1
            return datetime.timezone(datetime.timedelta(minutes=sign * minutes))
    try:
        return zoneinfo.ZoneInfo(text.strip())
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        close = nearest_names(text, zoneinfo.available_timezones())
        raise ChoiceError(
            where,
            f'"{text}" is not a time zone',
            expected="a name such as Europe/Berlin, or +10:00, or UTC",
            hint=f"Closest: {', '.join(close)}" if close else "",
        ) from None


def to_local_clock(record: Record, options: Options) -> list[InputError]:
    """Move the times of a record to the clock by which its days are to be cut.

    Times that say their distance from universal time are moved to `time_zone` where it is
    given; else they are left as they are if they are local, and refused if they are universal.
    Times that say nothing are local, unless `stamps` names their zone.

    Parameters
    ----------
    record : Record
        Several rows a day; changed in place.
    options : Options
        ``stamps`` and ``time_zone``.

    Returns
    -------
    list of InputError
        Empty, or the one thing that must be said.
    """
    if record.daily or not len(record.times):
        return []
    try:
        home = options.time_zone and zone_of(options.time_zone, where="time_zone")
        theirs = options.stamps and zone_of(options.stamps, where="stamps")
    except InputError as error:
        return [error]
    offset = record.offset
    if offset is not None and np.isnan(offset).any():
        row = int(np.flatnonzero(np.isnan(offset))[0])
        return [
            FieldError(
                f"{record.source}, line {record.lines[row]}",
                "its time does not say its zone while others do",
                expected="all times with their zone, or none",
            )
        ]
    if offset is None and not theirs:
        record.notes.append(
            f"The times of {record.source} were taken as local clock time; days run from midnight "
            "to midnight by it."
        )
        return []
    if offset is not None and not home:
        if not offset.any():
            return [
                FieldError(
                    record.source,
                    "its times are universal time, so its days would begin at another hour than "
                    "midnight where you are",
                    expected="the time zone of the place",
                    hint='Say  time_zone = "Europe/Berlin"  (or yours), or  time_zone = "UTC"',
                )
            ]
        record.notes.append(f"Days of {record.source} run by the local time that it gives.")
        return []
    if offset is not None:
        seconds = record.times.astype("datetime64[s]").astype(np.int64) - (offset * 60).astype(int)
        universal = pd.DatetimeIndex(seconds.astype("datetime64[s]")).tz_localize("UTC")
    else:
        index = pd.DatetimeIndex(record.times)
        # of an hour that comes twice the first is summer time; one that comes once is not
        summer = index.duplicated(keep="last")
        universal = index.tz_localize(
            theirs, ambiguous=summer, nonexistent="shift_forward"
        ).tz_convert("UTC")
        home = home or theirs
    local = universal.tz_convert(home).tz_localize(None)
    record.times = local.to_numpy().astype("datetime64[s]")
    record.notes.append(
        f"Days of {record.source} run from midnight to midnight in {options.time_zone or home}."
    )
    return []
