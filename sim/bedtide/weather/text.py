"""Text files as people have them: encoding, line ends, delimiter, decimal mark, numbers."""

from __future__ import annotations

import csv
import gzip
import io
import itertools
import re
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from bedtide.errors import FieldError, FileError, InputError, Option, Pieces, shown
from bedtide.units import THOUSANDS
from bedtide.weather.columns import plain
from bedtide.weather.record import mistake

DELIMITERS = (",", ";", "\t", "|")
MOST_BYTES = 200_000_000  # of text; 100 MB of rows take under 1 GB of memory
_BLOCK = 20_000  # rows that are held as fields at a time
_POINT = re.compile(r"[+-]?\d*\.\d*")
_MISSING = frozenset(
    ("", "na", "n/a", "nan", "null", "none", "-", "--", "---", "m", "missing", "#n/a")
)
"""What stands for "not measured" in any file, lower case."""
_TRACE = frozenset(("t", "tr", "trace"))
_COMMA = re.compile(r"[+-]?\d*,\d+")


@dataclass
class Text:
    """One text file."""

    name: str
    lines: list[str]  # without their ends
    notes: list[str] = field(default_factory=list)  # what was done to read it
    whole: bool = True  # its last line has an end


@dataclass
class Table:
    """Rows under one header, as text; a column is found by its name, letters and figures only.

    A name may lack what stands in brackets or behind a ``*``: ``Max Temp*`` is ``Max Temp (degC)``.
    A number is the place of a column whose name changes: ``1`` is the first. Of columns of one name
    it is the first.
    """

    name: str
    header: list[str]
    columns: list[Sequence[str]]
    lines: NDArray[np.int64]  # line of each row, counted from 1
    delimiter: str
    errors: list[InputError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.by_name: dict[str, int] = {}
        for i, name in enumerate(self.header):
            for known in (name, name.split("(")[0], name.split("[")[0]):
                self.by_name.setdefault(plain(known) or known.strip(), i)

    def at(self, name: str) -> int | None:
        """Index of a column."""
        if name.endswith("*"):
            start = plain(name)
            return next((i for known, i in self.by_name.items() if known.startswith(start)), None)
        at = self.by_name.get(plain(name) or name.strip())
        numbered = at is None and name.isdecimal() and 1 <= int(name) <= len(self.header)
        return int(name) - 1 if numbered else at

    def has(self, name: str) -> bool:
        """Whether there is such a column."""
        return self.at(name) is not None

    def column(self, name: str) -> list[str]:
        """Text of a column, outer spaces removed; blank where there is no such column."""
        at = self.at(name)
        if at is None:
            return [""] * len(self.lines)
        return [text.strip() for text in self.columns[at]]

    def numbers(self, at: int) -> NDArray[np.float64]:
        """The numbers in a column, whatever else is in it."""
        read, _, _ = numbers({"": self.columns[at]}, self.lines, source="")
        return read[""][~np.isnan(read[""])]

    def marked(self, name: str, *marks: str) -> NDArray[np.bool_]:
        """Rows in which a column holds one of these marks."""
        return np.asarray([text in marks for text in self.column(name)], dtype=bool)

    def keep(self, rows: NDArray[np.int64]) -> None:
        """Keep these rows."""
        if len(rows) < len(self.lines):
            self.columns = [[column[i] for i in rows] for column in self.columns]
            self.lines = self.lines[rows]


def load(path: Path) -> bytes:
    """Content of a file; refused beyond 200 MB."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _too_large(path.name)
        return path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it can't be opened"
        raise FileError(str(path), f"it can't be read: {reason.lower()}") from None
    except ValueError:
        raise FileError(repr(str(path)), "it is not a file name") from None


def unpacked(data: bytes, name: str) -> list[tuple[str, bytes]] | bytes:
    """Content of a file, unpacked where it is gzip; of a zip file each member, empty ones aside."""
    if data.startswith(b"\x1f\x8b"):
        kind = "gzip"
    elif data.startswith((b"PK\3\4", b"PK\5\6")):
        kind = "zip"
    else:
        return data
    try:
        if kind == "gzip":
            with gzip.open(io.BytesIO(data)) as packed:
                members = [("", packed.read(MOST_BYTES + 1))]
            size = len(members[0][1])
        else:
            archive = zipfile.ZipFile(io.BytesIO(data))
            size = sum(info.file_size for info in archive.infolist())
            within = archive.infolist() if size <= MOST_BYTES else []
            members = [(info.filename, archive.read(info)) for info in within if not info.is_dir()]
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, OSError):
        raise FileError(name, "it can't be unpacked", expected=f"a whole {kind} file") from None
    if size > MOST_BYTES:
        raise _too_large(name)
    if kind == "gzip":
        return members[0][1]
    if any(member == "xl/workbook.xml" for member, _ in members):
        raise FileError(name, "it is a spreadsheet", hint="Save it as CSV and give that file")
    return [(f"{name}/{each.rsplit('/', 1)[-1]}", held) for each, held in members if held.strip()]


def _too_large(name: str) -> FileError:
    return FileError(name, "it is larger than 200 MB", expected="one station's record")


def decode(data: bytes, name: str) -> Text:
    """Text of a file in UTF-8, UTF-16 with its mark, or Latin-1, with any line ends."""
    notes = []
    marked = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    wanted = "a CSV file"
    try:
        text = data.decode("utf-16" if marked else "utf-8-sig")
    except UnicodeDecodeError:
        if marked:
            raise FileError(name, "it is not a text file", expected=wanted) from None
        text = data.decode("latin-1")
        notes.append(f"{name} was read as Latin-1 text.")
    if "\x00" in text:
        hint = "If it is a spreadsheet, save it as CSV and give that file"
        raise FileError(name, "it is not a text file", expected=wanted, hint=hint)
    if text.lstrip()[:15].lower().startswith(("<!doctype", "<html", "<?xml")):
        hint = "Save the file behind the link, not the page that shows it"
        raise FileError(name, "it is a web page or XML", expected=wanted, hint=hint)
    if not text.strip():
        raise FileError(name, "it is empty", expected="a header line and one line for each day")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if whole := not lines[-1]:
        lines.pop()  # in place: after a copy the heap grows 100 MB further on large files
    return Text(name, lines, notes, whole)


def split_table(
    text: Text, names: Sequence[str], start: int, delimiter: str, *, last: int | None = None
) -> Table:
    """Rows of named columns from a line on (counted from 0), cut at the delimiter.

    Quotes are understood. Blank lines and lines that start with ``#`` are passed over, and so is
    the header where it comes again (files that were joined end to end), and blank fields after the
    last column where every row has them. Rows that do not fit are in `errors`.
    """
    rows = enumerate(_rows(text, start, last, delimiter), start=start + 1)
    header, width = list(names), len(names)
    same: dict[str, str] = {}  # each number once: 100 MB of rows hold few different ones
    columns: list[list[str]] = [[] for _ in header]
    lines: list[int] = []
    ragged: dict[str, list[int]] = {"fewer": [], "more": []}
    repeated, padded = 0, True
    while block := list(itertools.islice(rows, _BLOCK)):
        kept: list[list[str]] = []
        for number, row in block:
            more = row[width:]
            if not "".join(row).strip() or row[0].startswith("#"):
                continue
            if row[0].strip() == header[0] and [cell.strip() for cell in row[:width]] == header:
                repeated += 1
            elif len(row) < width:
                padded = False
                ragged["fewer"].append(number)
            elif more and (not padded or "".join(more).strip()):
                ragged["more"].append(number)
            else:
                padded = padded and (bool(more) or not row[0])
                kept.append(row[:width])
                lines.append(number)
        for column, cells in zip(columns, zip(*kept, strict=True), strict=bool(kept)):
            known = same.setdefault if len(set(cells)) < len(cells) / 2 else same.get
            column += [known(cell, cell) for cell in cells]
    notes = list(text.notes)
    if repeated:
        often = "once" if repeated == 1 else f"{repeated} times"
        notes.append(f"The header line came again {often} in {text.name}.")
    end, short = len(text.lines), ragged["fewer"]
    if not text.whole and last is None:
        above = text.lines[start:-1]
        if lines[-1:] == [end] and not _whole(text.lines[-1].rstrip(), above, columns[-1]):
            lines.pop()
            for column in columns:
                column.pop()
            short.append(end)
        if end in short:
            short.remove(end)
            notes.append(
                f"The last line of {text.name} (line {end}) has no line end and may have been cut "
                "short; it was left out."
            )
    at = np.asarray(lines, dtype=np.int64)
    table = Table(text.name, header, [*columns], at, delimiter, notes=notes)
    table.errors = [_ragged(text, table, bad, word) for word, bad in ragged.items() if bad]
    return table


def _whole(line: str, above: Sequence[str], ends: Sequence[str]) -> bool:
    """Whether a last line without line end can be seen to be whole, by its last field or length."""
    final, others = ends[-1].strip(), {cell.strip() for cell in ends[:-1]}
    if line.endswith('"') or not others:
        return True
    if _POINT.fullmatch(final) or any("." in other for other in others):
        decimals = {len(other.partition(".")[2]) for other in others}
        if len(decimals) == 1 or "." in final:
            return decimals == {len(final.partition(".")[2])}
    if not final or final in others:
        return len(others) == 1 or (bool(final) and not any(map(str.isdigit, final)))
    if {len(other) for other in others} == {len(final)}:
        return True
    return {len(each.rstrip()) for each in above[-200:]} == {len(line)}


def _ragged(text: Text, table: Table, bad: list[int], word: str) -> InputError:
    count = len(next(csv.reader([text.lines[bad[0] - 1]], delimiter=table.delimiter)))
    hint = "The file may have been cut short" if word == "fewer" else ""
    if word == "more" and table.delimiter == ",":
        hint = "If numbers in it have decimal commas, save it with semicolons between the columns"
    problem, wanted = f"it has {count} fields", f"{len(table.header)} as in the header line"
    return mistake(FieldError, text.name, np.asarray(bad), problem, expected=wanted, hint=hint)


def _rows(text: Text, first: int, last: int | None, delimiter: str) -> Iterator[list[str]]:
    """Fields of each line; a quotation mark that is not closed on its line is refused."""
    body = text.lines[first:last]
    reader = csv.reader(body, delimiter=delimiter, skipinitialspace=True)
    before = 0
    try:
        for row in reader:
            if reader.line_num != before + 1:
                break
            before = reader.line_num
            yield row
    except csv.Error:
        where = f"{text.name}, line {first + reader.line_num}"
        raise FileError(where, "it is not a line of a CSV file") from None
    if before != len(body):
        raise FileError(
            f"{text.name}, line {first + before + 1}",
            "a quotation mark is opened and not closed on that line",
            expected="as many closing as opening quotation marks",
        )


def numbers(
    columns: Mapping[str, Sequence[str]],
    lines: NDArray[np.int64],
    *,
    source: str,
    decimal: str | None = None,
    missing: Mapping[str, Sequence[str]] | None = None,
    traces: Sequence[str] = (),
) -> tuple[dict[str, NDArray[np.float64]], list[InputError], int]:
    """Numbers of several text columns of one file, NaN where missing; errors; count of traces.

    A decimal comma is understood where every number with a mark in these columns has one and it
    can't be a thousands separator, or where `decimal` says so. `missing` has what else stands for
    not measured in a column, `traces` names those in which ``T`` means too little to measure, and
    counts as 0.
    """
    marks = {name: [each.strip() for each in (missing or {}).get(name, ())] for name in columns}
    found = {name: _to_float(column, marks[name]) for name, column in columns.items()}
    if (decimal or _decimal_mark(columns, found)) == ",":
        for name, column in columns.items():
            swapped = [text if "." in text else text.replace(",", ".", 1) for text in column]
            values, odd = _to_float(swapped, marks[name])
            dotted = [i for i, text in enumerate(column) if "." in text]
            found[name] = values, np.union1d(odd, dotted).astype(np.int64)
    errors: list[InputError] = []
    count = 0
    for name, (values, odd) in found.items():
        if name in traces:
            trace = [i for i in odd.tolist() if columns[name][i].strip().lower() in _TRACE]
            values[trace] = 0.0
            count += len(trace)
            odd = np.setdiff1d(odd, trace)
        if len(odd):
            errors.append(_not_a_number(columns[name], odd, lines, source, name))
    return {name: values for name, (values, _) in found.items()}, errors, count


def _to_float(
    column: Sequence[str], missing: Sequence[str]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Floats, and the rows that are neither a number nor what stands for missing."""
    series = pd.Series(column, dtype=object)
    result = pd.to_numeric(series, errors="coerce").to_numpy(dtype=np.float64, copy=True)
    empty = np.flatnonzero(~np.isfinite(result))
    result[empty] = np.nan
    none = _MISSING.union(map(str.lower, missing))
    odd = [i for i in empty.tolist() if column[i].strip().lower() not in none]
    marks = pd.to_numeric(pd.Series(missing, dtype=object), errors="coerce").dropna()
    result[np.isin(result, marks.to_numpy(dtype=np.float64))] = np.nan
    return result, np.asarray(odd, dtype=np.int64)


def _decimal_mark(
    columns: Mapping[str, Sequence[str]],
    found: Mapping[str, tuple[NDArray[np.float64], NDArray[np.int64]]],
) -> str:
    """A comma where all marks are commas and one at least can't part thousands; else a point."""
    odd = (columns[name][i].strip() for name, (_, rows) in found.items() for i in rows)
    if not any(_COMMA.fullmatch(text) and not THOUSANDS.fullmatch(text) for text in odd):
        return "."
    pointed = any(_POINT.fullmatch(text.strip()) for column in columns.values() for text in column)
    return "." if pointed else ","


def _not_a_number(
    column: Sequence[str], bad: NDArray[np.int64], lines: NDArray[np.int64], source: str, name: str
) -> InputError:
    text = column[int(bad[0])].strip()
    hint = Pieces("If it stands for a day that was not measured, say so with  ", Option("missing"))
    if "," in text:
        commas = Option("decimal", ",")
        hint = Pieces("If commas mark decimals, say  ", commas, "  ; they can't part thousands")
    problem, wanted = (
        f'"{shown(text)}" is not a number',
        "a number with a decimal point, such as 12.4",
    )
    return mistake(FieldError, source, lines[bad], problem, column=name, expected=wanted, hint=hint)
