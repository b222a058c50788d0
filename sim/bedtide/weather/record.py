"""What one weather file holds, before it is checked: columns in our units with their lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import InputError

__all__ = [
    "RAIN_DAYS",
    "UNITS",
    "Column",
    "Options",
    "RainDay",
    "Record",
    "days_text",
    "named_lines",
    "runs",
]

RainDay = Literal["midnight", "to morning", "from morning"]
RAIN_DAYS: tuple[RainDay, ...] = ("midnight", "to morning", "from morning")

UNITS = {
    "tmax": "degC",
    "tmin": "degC",
    "temperature": "degC",
    "dew_point": "degC",
    "vapour_pressure": "kPa",
    "rh_max": "%",
    "rh_min": "%",
    "rh_mean": "%",
    "wind_speed": "m/s",
    "solar_radiation": "MJ/m2",
    "sunshine": "h",
    "rain": "mm",
    "rain_counter": "mm",
}
"""Every quantity that a record can hold, with the unit it has inside this folder."""


@dataclass(frozen=True)
class Options:
    """How the person wants files to be understood; the words of `read_weather`.

    Attributes
    ----------
    columns : mapping of str
        Column of the file -> quantity, unit or both.
    missing : tuple of str
        Texts that stand for "not measured", beside the usual ones.
    decimal : str or None
        Decimal mark; found from the file where None.
    date_order : str or None
        ``dmy`` or ``mdy`` for dates such as 03/04/2021.
    station : str or None
        Which station of a file that holds several.
    units_of_file : str or None
        ``metric``, ``standard`` or ``tenths``, where a format leaves it open.
    wind_height : float or None
        Height of the wind gauge [m].
    stamps : str or None
        Time zone of the clock times in the file where they do not say it.
    time_zone : str or None
        Zone whose midnight begins a day.
    hour_stamp : str
        Whether an hour's row carries the time of its ``start`` or ``end``.
    multi_day : str
        A rain total of several days is ``spread`` evenly or put on the ``last`` day.
    point : tuple of float or None
        Latitude and longitude wanted from a grid [degree].
    every_column : bool
        Whether a name in `columns` that the file lacks is a mistake (not so among several files).
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    missing: tuple[str, ...] = ()
    decimal: str | None = None
    date_order: str | None = None
    station: str | None = None
    units_of_file: str | None = None
    wind_height: float | None = None
    stamps: str | None = None
    time_zone: str | None = None
    hour_stamp: str = "start"
    multi_day: str = "spread"
    point: tuple[float, float] | None = None
    every_column: bool = True


@dataclass
class Column:
    """One column of a file.

    Attributes
    ----------
    quantity : str
        A key of `UNITS`.
    name : str
        What the file calls it.
    unit : str
        The file's unit, as people write it.
    values : ndarray of float
        In the unit of `UNITS`; NaN where nothing was measured.
    factor, offset : float
        Ours = `factor` x the file's + `offset`.
    rate : bool
        In a file with several rows a day: whether rows are rates to be averaged to a day
        (True) or amounts to be added up.
    """

    quantity: str
    name: str
    unit: str
    values: NDArray[np.float64]
    factor: float = 1.0
    offset: float = 0.0
    rate: bool = False

    def as_written(self, row: int) -> str:
        """The value of a row in the file's own unit, for messages."""
        value = (float(self.values[row]) - self.offset) / self.factor
        return f"{round(value, 4):g} {self.unit}"


@dataclass
class Record:
    """One file, as far as its format tells.

    Attributes
    ----------
    source : str
        File name.
    format : str
        Name of the format, a key of the list of formats.
    times : ndarray of datetime64[s]
        One for each row: midnight of the day, or the clock time.
    lines : ndarray of int
        Line in the file, for messages.
    columns : dict of Column
        By quantity.
    daily : bool
        One row a day, or several.
    latitude, elevation : float or None
        Place [degree], [m].
    longitude : float or None
        East positive [degree].
    place : str
        Name of the place.
    wind_height : float or None
        Height of the wind gauge [m].
    rain_day : str
        Which 24 hours the rain under a date covers.
    forgiving : bool
        The format is known for unsorted and doubled rows: sort them, drop exact doubles.
    ignored : list of str
        Columns that are not used.
    notes : list of str
        Plain sentences on what was done to read the file.
    errors : list of InputError
        What was found wrong while reading.
    rank : int
        Of two records with different values for one day, the lower rank is right.
    offset : ndarray of float or None
        What each row says its clock is ahead of universal time [min]; NaN where it says nothing.
    rain_hours : ndarray of float or None, shape (rows, 24)
        Share of each clock hour in the rain of the day, zeros where there was none; NaN on days
        of which only the sum is known, None where that is so of all.
    """

    source: str
    format: str
    times: NDArray[np.datetime64]
    lines: NDArray[np.int64]
    columns: dict[str, Column]
    daily: bool = True
    latitude: float | None = None
    elevation: float | None = None
    longitude: float | None = None
    place: str = ""
    wind_height: float | None = None
    rain_day: RainDay = "midnight"
    forgiving: bool = False
    ignored: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    errors: list[InputError] = field(default_factory=list)
    rank: int = 0
    offset: NDArray[np.float64] | None = None
    rain_hours: NDArray[np.float64] | None = None

    def select(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows, in this order."""
        self.times, self.lines = self.times[rows], self.lines[rows]
        if self.offset is not None:
            self.offset = self.offset[rows]
        if self.rain_hours is not None:
            self.rain_hours = self.rain_hours[rows]
        for column in self.columns.values():
            column.values = column.values[rows]


def named_lines(lines: NDArray[np.int64], *, most: int = 5) -> str:
    """The other lines with the same fault, for the end of a message: `` (also lines 7, 9)``.

    Parameters
    ----------
    lines : ndarray of int
        Line numbers after the first [1].
    most : int, default 5
        How many to name [1].

    Returns
    -------
    str
        Empty where there is no other line.
    """
    if len(lines) == 0:
        return ""
    shown = ", ".join(str(int(line)) for line in lines[:most])
    more = len(lines) - most
    rest = f" and {more} more" if more > 0 else ""
    return f" (also {'line' if len(lines) == 1 else 'lines'} {shown}{rest})"


def days_text(count: int, one: str = "", many: str = "", *, of: str = "") -> str:
    """``1 day of garden.csv has`` or ``3 days of garden.csv have``.

    Parameters
    ----------
    count : int
        How many [d].
    one, many : str, optional
        Verb after one day and after several.
    of : str, optional
        File.

    Returns
    -------
    str
        For a sentence.
    """
    words = [f"{count:,}", "day" if count == 1 else "days"]
    words += ["of", of] if of else []
    verb = one if count == 1 else many
    return " ".join([*words, verb] if verb else words)


def runs(flag: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """First and one-past-last index of each stretch where the flag is set.

    Parameters
    ----------
    flag : ndarray of bool, shape (time,)
        Any flag by day.

    Yields
    ------
    tuple of int
        Start, stop [1].
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flag.astype(np.int8), [0]))))
    yield from zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
