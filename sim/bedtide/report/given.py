"""What a command was given: its bed or beds, its weather, its days; the built-in ones else."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from bedtide.errors import FieldError, FileError, InputError, RangeError, raise_all

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed
    from bedtide.many import Variant

ALL_LENGTHS: Final = "3, 7, 14 days"
"""Rainy spells that are looked for where none is asked for; our choice."""

_THREE_WAYS: Final = """Three ways to daily weather, which is then given after the bed
  a file that you have:  BED.toml WEATHER.csv
  a place:  bedtide weather --near LAT,LON --from 1995 --save WEATHER.csv  downloads it
  a climate:  bedtide weather --like "hot dry summer" --save WEATHER.csv  makes it up"""
_DAY: Final = datetime.timedelta(days=1)
_WHOLE: Final = 400  # days; a record up to this length is run whole


# --- beds -------------------------------------------------------------------------------------


def given_bed(bed_file: Path | None) -> Bed:
    """Bed of the file with its fit, if one is beside it; the built-in example without a file."""
    from bedtide.bed import example_bed, read_bed, with_fit

    if bed_file is None:
        return example_bed()
    try:
        return with_fit(read_bed(bed_file), bed_file)
    except FileError as error:
        if bed_file.suffix.lower() == ".toml" or not bed_file.is_file():
            raise
        wanted = "a bed description first, and the weather after it:  BED.toml WEATHER.csv"
        raise FileError(error.where, error.problem, expected=wanted) from None


def split_files(files: Sequence[Path]) -> tuple[list[Path], list[Path]]:
    """Bed descriptions, which end in .toml, and weather files, which do not."""
    beds = [path for path in files if path.suffix.lower() == ".toml"]
    return beds, [path for path in files if path not in beds]


def compared_beds(bed_files: Sequence[Path], vary: Sequence[str]) -> list[Variant]:
    """Every bed of every file with every combination of what is varied."""
    from bedtide.bed import document_of, example_text, fit_beside, read_bed, read_mapping, with_fit
    from bedtide.many import MOST_BEDS, parse_choices, varied_beds

    choices = parse_choices(vary)
    errors: list[InputError] = []
    made: list[tuple[str, list[Variant]]] = []  # of each file
    files: list[Path | None] = [*bed_files]
    for path in files or [None]:
        name = "built-in example" if path is None else path.name
        try:
            mapping = document_of(example_text()) if path is None else read_mapping(path)
            own = varied_beds(mapping, choices, where=name)
            if path is not None and fit_beside(path).exists():
                plain = read_bed(path)
                beds = [with_fit(each.bed, path, described=plain) for each in own]
                own = [replace(each, bed=bed) for each, bed in zip(own, beds, strict=True)]
            made.append((name, own))
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    found: list[Variant] = []
    names = [own[0].bed.name for _, own in made]
    for name, (file, own) in zip(names, made, strict=True):
        called = f"{name} ({file})" if names.count(name) > 1 else name
        found += [replace(each, origin=called) for each in own] if len(made) > 1 else own
    if len(found) > MOST_BEDS:
        too_many, most = f"that makes {len(found)} beds", f"at most {MOST_BEDS}"
        raise FieldError("compare", too_many, expected=most)
    return found


# --- weather ----------------------------------------------------------------------------------


def given_weather(
    bed_file: Path | None,
    weather_files: Sequence[Path],
    bed: Bed,
    reading: Mapping[str, Any],
    *,
    start: datetime.date | None = None,
    end: datetime.date | None = None,
) -> xr.Dataset:
    """Weather of the files; the built-in one where there is neither a bed nor a weather file.

    Where neither the weather file nor an option says where it was measured, the bed's site does.
    Only the days from `start` to `end` are read, where these are given, and one more on each side
    for rain that belongs to a neighbouring day; what is suspicious is looked for in the whole.
    """
    from bedtide.report.options import reading_words
    from bedtide.tables import sample_weather
    from bedtide.weather import read_weather

    words = reading_words(reading)
    for path in weather_files:
        _there(path)
    if not weather_files and bed_file is not None:
        raise FieldError("weather", f"{bed_file} was given, but no weather file", hint=_THREE_WAYS)
    files = one_or_all(weather_files or [sample_weather()])
    for name in ("latitude", "elevation"):
        if words[name] is None:
            words[name] = getattr(bed.site, name)
    days = {"start": str(start - _DAY)} if start is not None else {}
    days |= {"end": str(end + _DAY)} if end is not None else {}
    weather = read_weather(files, **words | days)
    if days:
        with suppress(InputError):  # what is wrong outside of these days does not count
            whole = read_weather(files, **words)
            weather.attrs |= {name: whole.attrs[name] for name in ("doubts", "doubt_days")}
    return weather


def _there(path: Path) -> None:
    """Refuse a file that is not there; what else is wrong with it is told when it is read."""
    with suppress(OSError, ValueError):
        try:
            path.stat()
        except FileNotFoundError:
            raise FileError(str(path), "there is no such file", hint=_THREE_WAYS) from None


def one_or_all(files: Sequence[Path]) -> Path | list[Path]:
    """The file where there is one, else the list of them."""
    return files[0] if len(files) == 1 else list(files)


# --- days -------------------------------------------------------------------------------------


def dates_in_order(start: datetime.date | None, end: datetime.date | None) -> None:
    """Refuse a last day before the first."""
    if start is not None and end is not None and end < start:
        raise RangeError("--to", f"{end} is before --from, {start}", expected=f"{start} or later")


def season_span(
    weather: xr.Dataset, *, start: datetime.date | None = None, end: datetime.date | None = None
) -> tuple[datetime.date, datetime.date]:
    """First and last day of a season.

    Without both dates a record of up to 400 days is run whole. Of a longer one the last whole
    year is, but for its last day at most: from 1 January, or south of the equator from 1 July, so
    that a summer is not cut in two. With one date given, the other end is that of the record.
    """
    dates_in_order(start, end)
    days = weather["time"].to_numpy().astype("datetime64[D]")
    first, last = days[0].astype(object), days[-1].astype(object)
    for name, day in (("--from", start), ("--to", end)):
        if day is not None and not first <= day <= last:
            begins = f"{first} or later, where the weather begins"
            bound = begins if day < first else f"{last} or earlier, where the weather ends"
            raise RangeError(name, f"{day} is outside the weather record", expected=bound)
    if start is not None or end is not None or days.size <= _WHOLE:
        return start or first, end or last
    month = 1 if weather.attrs["latitude"] >= 0 else 7
    for year in range(last.year, first.year - 1, -1):
        opens = datetime.date(year, month, 1)
        closes = datetime.date(year + 1, month, 1) - _DAY
        if first <= opens and closes <= last + _DAY:  # rain of a morning's day lacks the last
            return opens, min(closes, last)
    return last - datetime.timedelta(days=364), last
