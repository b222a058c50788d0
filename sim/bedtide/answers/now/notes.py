"""The keeper's notes: dips, fills and what else was seen, a line a note, read and added to."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from bedtide.answers.now.forecast import Known, full_on, water_at
from bedtide.bed import Bed, plan_area
from bedtide.errors import FieldError, InputError, TimeAxisError, choice, raise_all, shown
from bedtide.files import in_turn, write_text
from bedtide.units import parse
from bedtide.weather import decode, load, parse_stamps

KINDS: Final = ("dip", "fill", "overflow seen", "no overflow", "top watering", "harvest")
"""What can be noted."""

_COLUMNS: Final = {
    "date": ("date", "day", "when"),
    "what": ("what", "event", "kind", "note"),
    "value": ("value", "amount", "reading", "how much"),
    "unit": ("unit", "units"),
}
_TO_THE_LIP: Final = ("", "full", "to the lip")
_LIP: Final = "to the lip"  # may follow the litres that it took
_OF_BED: Final = "# bed:"
_EXPECTED: Final = {
    "fill": '"20 L" or "5 US gal", or nothing for a fill to the lip',
    "top watering": '"5 L" or "1 US gal"',
}
_DAY: Final = datetime.timedelta(days=1)


@dataclass(frozen=True)
class Note:
    """One line of the notes."""

    day: datetime.date
    what: str  # one of KINDS
    value: str  # as it was written, with its unit; empty where there is none
    where: str  # file and line


@dataclass(frozen=True)
class Sheet:
    """A file of notes as it stands."""

    lines: list[str]
    delimiter: str
    columns: dict[str, int]  # place of each column that is known
    width: int
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
    columns = dict(zip(_COLUMNS, range(len(_COLUMNS)), strict=True))
    width, rows, first = 3, [], True
    for number, line in enumerate(lines, start=1):
        if line.lower().startswith(_OF_BED) and (name := line[len(_OF_BED) :].strip()) != bed.name:
            raise FieldError(
                f"{path.name}, line {number}",
                f'these are the notes of "{shown(name)}"',
                expected=f'those of "{bed.name}"',
                hint="If the bed has a new name, write it there too",
            )
        cells = [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter), [])]
        if line.startswith("#") or not any(cells):
            continue
        if first and not any(map(str.isdigit, cells[0])):
            columns, width = _columns(cells, f"{path.name}, line {number}"), len(cells)
        else:
            rows.append((number, cells))
        first = False
    notes = _notes(path.name, rows, columns, width, bed, order)
    return Sheet(lines, delimiter, columns, width, notes)


def _columns(cells: Sequence[str], where: str) -> dict[str, int]:
    """Place of each column by its name."""
    found = {
        key: at
        for key, names in _COLUMNS.items()
        for at, cell in enumerate(cells)
        if cell.lower() in names
    }
    lacking = [key for key in ("date", "what", "value") if key not in found]
    if lacking:
        given = ", ".join(shown(cell) for cell in cells)
        expected = "a line of names such as  date,what,value  or none at all"
        problem = f"no column {' and '.join(lacking)} among {given}"
        raise FieldError(where, problem, expected=expected)
    return found


def _notes(
    source: str,
    rows: Sequence[tuple[int, list[str]]],
    columns: dict[str, int],
    width: int,
    bed: Bed,
    order: str | None,
) -> list[Note]:
    def cell(cells: list[str], key: str) -> str:
        at = columns.get(key)
        return cells[at] if at is not None and at < len(cells) else ""

    numbers = np.array([number for number, _ in rows], dtype=np.int64)
    texts = [cell(cells, "date") for _, cells in rows]
    stamps = parse_stamps(texts, numbers, source=source, name="date", order=order)
    errors: list[InputError] = list(stamps.errors)
    found = []
    for (number, cells), time in zip(rows, stamps.times, strict=True):
        where = f"{source}, line {number}"
        value = f"{cell(cells, 'value')} {cell(cells, 'unit')}".strip()
        try:
            what = choice(cell(cells, "what"), KINDS, where=f"{where}, what")
            if any(cells[max(width, 1 + max(columns.values())) :]):
                expected = 'a decimal comma in quotation marks, as "6,5 cm"'
                raise FieldError(where, "it has a field more", expected=expected)
            if not np.isnat(time):
                day = time.astype("datetime64[D]").item()
                note = Note(day, what, value, where)
                check_note(note, bed)
                found.append(note)
        except InputError as error:
            errors.append(error)
    raise_all(errors)
    return found


def check_note(note: Note, bed: Bed) -> None:
    """Refuse a value that the note can't have."""
    where = f"{note.where}, value"
    if note.what == "dip":
        water_at(note.value, bed, note.day, where=where)
    elif note.what == "harvest" and note.value:
        choice(note.value, [planting.crop.name for planting in bed.plantings], where=where)
    elif note.what in ("overflow seen", "no overflow") and note.value:
        raise FieldError(where, f'"{shown(note.value)}" says nothing here', expected="nothing")
    elif note.what == "overflow seen" and not np.isfinite(_as_it_ran(note, bed)[0]):
        raise FieldError(
            note.where,
            "the bed has no overflow that could have run",
            expected="a dip, or the outlet under [overflow] in the bed",
        )
    elif note.what == "top watering" or (
        note.what == "fill" and note.value.lower() not in _TO_THE_LIP
    ):
        try:
            amount = parse(_amount(note), "m3", where=where)
        except InputError as error:
            raise type(error)(where, error.problem, expected=_EXPECTED[note.what]) from None
        if amount <= 0.0:
            raise FieldError(where, "no water", expected=_EXPECTED[note.what])


# --- what they mean ---------------------------------------------------------------------------


def known_from_notes(
    notes: Sequence[Note], bed: Bed, first: datetime.date, last: datetime.date
) -> tuple[Bed, list[Known], int]:
    """The bed without what was harvested, what is known of its water, notes before the record.

    An overflow that was seen running tells of a full store on the next morning.
    """
    late = [note for note in notes if note.day > last + _DAY]
    raise_all(
        [
            TimeAxisError(
                note.where,
                f"{note.day} is after the weather, which ends on {last}",
                expected=f"{last + _DAY} at the latest",
                hint="Get newer weather, or see whether day and month are the right way round",
            )
            for note in late
        ]
    )
    known = []
    within = [note for note in notes if note.day >= first]
    for note in within:
        if note.what == "dip":
            water = water_at(note.value, bed, note.day, where=note.where)
            known.append(Known(note.day, "is", water))
        elif note.what == "fill" and note.value.lower() in _TO_THE_LIP:
            known.append(Known(note.day, "lip"))
        elif note.what in ("fill", "top watering"):
            amount = parse(_amount(note), "m3", where=note.where)
            if _amount(note) != note.value:
                known.append(Known(note.day, "lip", amount))
            else:
                known.append(Known(note.day, "added" if note.what == "fill" else "top", amount))
        elif note.what == "overflow seen" and note.day < last + _DAY:
            full = _as_it_ran(note, bed)[1] * plan_area(bed)
            known.append(Known(note.day + _DAY, "is", full))
        elif note.what == "no overflow":
            known.append(Known(note.day, "dry"))
        elif note.what == "harvest" and note.value:
            bed = _harvested(bed, note)
    return bed, sorted(known, key=lambda each: each.day), len(notes) - len(within)


def _as_it_ran(note: Note, bed: Bed) -> tuple[float, float]:
    """Lip and water up to it on a day with a running overflow: if blocked now, it was not then."""
    outlet = bed.overflow
    if outlet.state == "blocked":
        bed = replace(bed, overflow=replace(outlet, state="open"))
    return full_on(note.day, bed)


def _amount(note: Note) -> str:
    """The litres of a fill, of which may be said that it went to the lip."""
    if note.what == "fill" and note.value.lower().endswith(_LIP):
        return note.value[: -len(_LIP)].rstrip(" ,")
    return note.value


def _harvested(bed: Bed, note: Note) -> Bed:
    """The bed with a crop cleared on the day of a note."""
    plantings = []
    for planting in bed.plantings:
        if planting.crop.name == note.value.strip().lower():
            every = isinstance(planting.planted, tuple)
            day = (note.day.month, note.day.day) if every else note.day
            try:
                planting = replace(planting, removed=day)
            except InputError as error:
                raise FieldError(note.where, error.problem, expected=error.expected) from None
        plantings.append(planting)
    return replace(bed, plantings=tuple(plantings))


# --- adding -----------------------------------------------------------------------------------


def add_note(
    path: Path, bed: Bed, day: datetime.date, what: str, value: str, *, order: str | None = None
) -> Note:
    """Add a line to a file of notes, which is begun where there is none; old or new, never half."""
    note = Note(day, choice(what, KINDS, where="what"), value.strip(), "note")
    check_note(note, bed)
    with in_turn(path):
        _append(path, bed, note, order)
    return note


def _append(path: Path, bed: Bed, note: Note, order: str | None) -> None:
    """Write the file anew with one line more."""
    cells = {"date": str(note.day), "what": note.what, "value": note.value}
    if path.exists():
        sheet = read_sheet(path, bed, order=order)
        row = [""] * max(sheet.width, 3)
        for key, text in cells.items():
            row[sheet.columns[key]] = text
        lines, delimiter = list(sheet.lines), sheet.delimiter
    else:
        lines, delimiter = [f"{_OF_BED} {bed.name}", "date,what,value"], ","
        row = list(cells.values())
    written = io.StringIO()
    csv.writer(written, delimiter=delimiter, lineterminator="\n").writerow(row)
    write_text(path, "\n".join([*lines, written.getvalue()]))
