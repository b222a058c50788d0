"""The keeper's notes: dips, fills and what else was seen, a line a note, read and added to."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from bedtide.answers.now.forecast import Known, Standing, ends, full_on, water_at
from bedtide.bed import Bed, plan_area
from bedtide.crop import Planting
from bedtide.errors import (
    FieldError,
    InputError,
    RangeError,
    TimeAxisError,
    choice,
    raise_all,
    shown,
)
from bedtide.files import in_turn, write_text
from bedtide.many import on_that_day
from bedtide.units import parse
from bedtide.weather import decode, load, parse_stamps

if TYPE_CHECKING:
    import xarray as xr

KINDS: Final = ("dip", "fill", "overflow seen", "no overflow", "top watering", "harvest")
"""What can be noted."""

_COLUMNS: Final = {
    "date": ("date", "day", "when"),
    "what": ("what", "event", "kind", "note"),
    "value": ("value", "amount", "reading", "how much"),
    "unit": ("unit", "units"),
}
_PLAIN: Final = ["date", "what", "value"]  # where no line names the columns; a unit may follow
_OF_BED: Final = "# bed:"
_LIP: Final = "to the lip"  # may follow the litres that it took
_EXPECTED: Final = {
    "fill": '"20 L" or "5 US gal", or nothing for a fill to the lip',
    "top watering": '"5 L" or "1 US gal"',
}
_DAY: Final = datetime.timedelta(days=1)
_PLAIN_YEAR: Final = 2001  # without a 29 February


@dataclass(frozen=True)
class Note:
    """One line of the notes."""

    day: datetime.date
    what: str  # one of KINDS
    value: str  # as it was written, with its unit; empty where there is none
    where: str  # file and line


class Sheet(NamedTuple):
    """A file of notes as it stands."""

    lines: list[str]
    delimiter: str
    columns: list[str]  # what each is, of the keys of _COLUMNS; empty for what is not known
    notes: list[Note]


def notes_beside(bed_file: Path) -> Path:
    """Where the notes of a bed are kept."""
    return bed_file.with_suffix(".notes.csv")


# --- reading ----------------------------------------------------------------------------------


def read_notes(path: Path, bed: Bed, *, order: str | None = None) -> list[Note]:
    """Notes of a file, those of each day in the order of its lines; all mistakes told together."""
    notes = read_sheet(path, bed, order=order).notes
    if not notes:
        raise FieldError(path.name, "there is no note in it", expected="lines of date, what, value")
    return sorted(notes, key=lambda note: note.day)


def read_sheet(path: Path, bed: Bed, *, order: str | None = None) -> Sheet:
    """A file of notes; its columns by name, or date, what, value and unit where it names none."""
    lines = decode(load(path), path.name).lines
    delimiter = max(",;\t", key=lambda mark: sum(mark in line for line in lines))
    rows = []
    for number, line in enumerate(lines, start=1):
        if line.lower().startswith(_OF_BED) and (name := line[len(_OF_BED) :].strip()) != bed.name:
            raise FieldError(
                f"{path.name}, line {number}",
                f'these are the notes of "{shown(name)}"',
                expected=f'those of "{bed.name}"',
                hint="If the bed has a new name, write it there too",
            )
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        if any(cells) and not line.startswith("#"):
            rows.append((number, cells))
    columns, keys = _PLAIN, [*_PLAIN, "unit"]
    if rows and not any(map(str.isdigit, rows[0][1][0])):
        number, names = rows.pop(0)
        columns = keys = _columns(names, f"{path.name}, line {number}")
    named = [dict(zip(keys, row, strict=False)) for _, row in rows]
    numbers = np.array([number for number, _ in rows], dtype=np.int64)
    dates = [each.get("date", "") for each in named]
    stamps = parse_stamps(dates, numbers, source=path.name, name="date", order=order)
    errors: list[InputError] = list(stamps.errors)
    notes = []
    for (number, row), each, time in zip(rows, named, stamps.times, strict=True):
        where = f"{path.name}, line {number}"
        try:
            what = choice(each.get("what", ""), KINDS, where=f"{where}, what")
            if any(row[len(keys) :]):
                expected = 'a decimal comma in quotation marks, as "6,5 cm"'
                raise FieldError(where, "it has a field more", expected=expected)
            if not np.isnat(time):
                value = f"{each.get('value', '')} {each.get('unit', '')}".strip()
                notes.append(Note(time.astype("datetime64[D]").item(), what, value, where))
                meaning(notes[-1], bed)
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    return Sheet(lines, delimiter, columns, notes)


def _columns(names: Sequence[str], where: str) -> list[str]:
    """What each column is by its name."""
    keys = {name: key for key, several in _COLUMNS.items() for name in several}
    found = [keys.get(name.lower(), "") for name in names]
    lacking = [key for key in _PLAIN if key not in found]
    if lacking:
        given = ", ".join(map(shown, names))
        raise FieldError(
            where,
            f"no column {' and '.join(lacking)} among {given}",
            expected="a line of names such as  date,what,value  or none at all",
        )
    return found


# --- what they mean ---------------------------------------------------------------------------


def meaning(note: Note, bed: Bed) -> Known | None:
    """What a note says of the water; a value that it can't have is refused.

    An overflow that was seen running tells of a full store on the next morning.
    """
    where, day, value = f"{note.where}, value", note.day, note.value
    if note.what == "dip":
        return Known(day, "is", water_at(value, bed, day, where=where))
    if note.what == "harvest":
        if value:
            choice(value, [planting.crop.name for planting in bed.plantings], where=where)
        return None
    if note.what in ("overflow seen", "no overflow"):
        if value:
            raise FieldError(where, f'"{shown(value)}" says nothing here', expected="nothing")
        if note.what == "no overflow":
            return Known(day, "dry")
        if bed.overflow.state == "blocked":  # it was not then
            bed = replace(bed, overflow=replace(bed.overflow, state="open"))
        lip, full = full_on(day, bed)
        if not np.isfinite(lip):
            raise FieldError(
                note.where,
                "the bed has no overflow that could have run",
                expected="a dip, or the outlet under [overflow] in the bed",
            )
        return Known(day + _DAY, "is", full * plan_area(bed))
    amount = value
    if note.what == "fill":
        if value.lower() in ("", "full", _LIP):
            return Known(day, "lip")
        if value.lower().endswith(_LIP):
            amount = value[: -len(_LIP)].rstrip(" ,")
    try:
        water = parse(amount, "m3", where=where)
    except InputError as error:
        raise type(error)(where, error.problem, expected=_EXPECTED[note.what]) from None
    if water <= 0.0:
        raise FieldError(where, "no water", expected=_EXPECTED[note.what])
    return Known(
        day, "top" if note.what != "fill" else "lip" if amount != value else "added", water
    )


def standing_of(
    bed: Bed,
    weather: xr.Dataset,
    *,
    level: str | None,
    filled: datetime.date | None,
    notes: Path | None,
    order: str | None,
) -> Standing:
    """What is known of a bed: by a reading of today, or its last fill, or its notes, or nothing."""
    first, last = ends(weather)
    today = last + _DAY
    if level is not None:
        water = water_at(level, bed, today, where="--level")
        return Standing(bed, [Known(today, "is", water)], "reading")
    if filled is not None:
        if not first <= filled <= today:
            raise RangeError(
                "--filled",
                f"{filled} is outside the weather record",
                expected=f"a day from {first} to {today}, the day after it",
            )
        return Standing(bed, [Known(filled, "lip")], "fill")
    if notes is None:
        return Standing(bed)
    return noted(read_notes(notes, bed, order=order), bed, weather)


def noted(notes: Sequence[Note], bed: Bed, weather: xr.Dataset) -> Standing:
    """What notes say of a bed on the days of a record and the next; what was harvested is gone."""
    first, last = ends(weather)
    raise_all(
        [
            TimeAxisError(
                note.where,
                f"{note.day} is after the weather, which ends on {last}",
                expected=f"{last + _DAY} at the latest",
                hint="Get newer weather, or see whether day and month are the right way round",
            )
            for note in notes
            if note.day > last + _DAY
        ]
    )
    within = [note for note in notes if note.day >= first]
    known = [said for note in within if (said := meaning(note, bed)) and said.day <= last + _DAY]
    for note in within:
        if note.what == "harvest" and note.value:
            bed = _harvested(bed, note, last + _DAY)
    known.sort(key=lambda each: each.day)
    return Standing(bed, known, "notes" if known else "record", len(notes) - len(within))


def _harvested(bed: Bed, note: Note, today: datetime.date) -> Bed:
    """The bed with a crop cleared on the day of a note, as it was planted last before.

    One that has been planted again by today is left as it is.
    """
    name, plantings = note.value.strip().lower(), list(bed.plantings)
    begun = {
        at: day
        for at, planting in enumerate(plantings)
        if planting.crop.name == name and (day := _planted(planting, note.day))
    }
    if not begun:
        expected = f"a day after that on which {name} was planted"
        raise FieldError(note.where, f"{name} was not yet planted on {note.day}", expected=expected)
    latest, day = max(begun.values()), on_that_day(note.day, _PLAIN_YEAR)
    for at in (at for at, each in begun.items() if each == latest):
        if not isinstance(plantings[at].planted, tuple):
            plantings[at] = replace(plantings[at], removed=note.day)
        elif latest.replace(year=latest.year + 1) > today:
            plantings[at] = replace(plantings[at], removed=(day.month, day.day))
    return replace(bed, plantings=tuple(plantings))


def _planted(planting: Planting, before: datetime.date) -> datetime.date | None:
    """When something was planted last before a day."""
    if not isinstance(planting.planted, tuple):
        return planting.planted if planting.planted < before else None
    day = datetime.date(before.year, *planting.planted)
    return day if day < before else day.replace(year=day.year - 1)


# --- adding -----------------------------------------------------------------------------------


def add_note(
    path: Path, bed: Bed, day: datetime.date, what: str, value: str, *, order: str | None = None
) -> Note:
    """Add a line to a file of notes, which is begun where there is none; old or new, never half."""
    note = Note(day, choice(what, KINDS, where="what"), value.strip(), "note")
    meaning(note, bed)
    with in_turn(path):
        sheet = Sheet([f"{_OF_BED} {bed.name}", ",".join(_PLAIN)], ",", _PLAIN, [])
        if path.exists():
            sheet = read_sheet(path, bed, order=order)
        cells = dict(zip(_PLAIN, (str(note.day), note.what, note.value), strict=True))
        written = io.StringIO()
        csv.writer(written, delimiter=sheet.delimiter, lineterminator="\n").writerow(
            [cells.get(key, "") for key in sheet.columns]
        )
        write_text(path, "\n".join([*sheet.lines, written.getvalue()]))
    return note
