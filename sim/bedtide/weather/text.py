"""Text files as people have them: encoding, line ends, delimiter, decimal mark, numbers."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from bedtide.errors import FieldError, FileError, InputError
from bedtide.weather.record import named_lines

__all__ = ["DELIMITERS", "Table", "Text", "decode", "split_table"]

DELIMITERS = (",", ";", "\t", "|")
_POINT = re.compile(r"[+-]?\d*\.\d*")


@dataclass
class Text:
    """One text file.

    Attributes
    ----------
    name : str
        File name, for messages.
    lines : list of str
        Without line ends.
    notes : list of str
        What was done to read it.
    whole : bool
        Whether its last line ends with a line end.
    """

    name: str
    lines: list[str]
    notes: list[str] = field(default_factory=list)
    whole: bool = True


@dataclass
class Table:
    """Rows under one header, as text.

    Attributes
    ----------
    name : str
        File name.
    header : list of str
        Names, outer spaces and quotes removed.
    columns : list of sequence of str
        One for each name.
    lines : ndarray of int
        Line of each row, counted from 1.
    delimiter : str
        What stands between the fields.
    errors : list of InputError
        Rows that do not fit the header.
    notes : list of str
        What was done to read it.
    """

    name: str
    header: list[str]
    columns: list[Sequence[str]]
    lines: NDArray[np.int64]
    delimiter: str
    errors: list[InputError] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def decode(data: bytes, name: str) -> Text:
    """Text of a file in UTF-8, UTF-16 with its mark, or Latin-1, with any line ends.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages.

    Returns
    -------
    Text
        Lines without their ends.

    Raises
    ------
    FileError
        If it is empty or not text.
    """
    notes = []
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError:
            raise FileError(name, "it is not a text file", expected="a CSV file") from None
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
            notes.append(f"{name} was read as Latin-1 text.")
    if "\x00" in text:
        raise FileError(
            name,
            "it is not a text file",
            expected="a CSV file",
            hint="If it is a spreadsheet, save it as CSV and give that file",
        )
    if text.lstrip()[:15].lower().startswith(("<!doctype", "<html", "<?xml")):
        raise FileError(
            name,
            "it is a web page or XML",
            expected="a CSV file",
            hint="Save the file behind the link, not the page that shows it",
        )
    if not text.strip():
        raise FileError(name, "it is empty", expected="a header line and one line for each day")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    whole = text.endswith("\n")
    lines = text.split("\n")
    if whole:
        lines.pop()
    return Text(name, lines, notes, whole)


def split_table(text: Text, header_line: int, delimiter: str, *, last: int | None = None) -> Table:
    """Rows below a header line, cut at the delimiter; quotes are understood.

    Blank lines and lines that start with ``#`` are passed over, and so is the header where it
    comes again (files that were joined end to end).

    Parameters
    ----------
    text : Text
        The file.
    header_line : int
        Index of the header in `text.lines`, counted from 0 [1].
    delimiter : str
        What stands between the fields.
    last : int, optional
        Index of the first line that no longer belongs to the table [1].

    Returns
    -------
    Table
        With `errors` for rows that have more or fewer fields than the header.

    Raises
    ------
    FileError
        If a quote is opened and not closed on the same line.
    """
    body = text.lines[header_line:last]
    rows = _rows(body, delimiter, text.name, first_line=header_line + 1)
    header = [cell.strip() for cell in rows[0]]
    while header and not header[-1]:
        header.pop()
    width = len(header)
    kept: list[list[str]] = []
    lines: list[int] = []
    short: list[int] = []
    wide: list[int] = []
    repeated = 0
    first = rows[0]
    # blank fields after the last column are passed over where every row has them
    padded = all(len(row) > width for row in rows[1:] if row and not row[0].startswith("#"))
    for number, row in enumerate(rows[1:], start=header_line + 2):
        if len(row) == width and row[0]:
            if row[0].startswith("#"):
                continue
            if row == first:
                repeated += 1
                continue
        elif not row or not any(cell.strip() for cell in row) or row[0].startswith("#"):
            continue
        elif len(row) < width:
            short.append(number)
            continue
        elif len(row) > width:
            if not padded or any(cell.strip() for cell in row[width:]):
                wide.append(number)
                continue
            row = row[:width]
        kept.append(row)
        lines.append(number)
    doubtful = not text.whole and bool(lines) and lines[-1] == len(text.lines)
    doubtful = doubtful and not _ends_like_the_others(text.lines[-1], kept)
    if doubtful:
        kept.pop()
        lines.pop()
    table = Table(
        text.name,
        header,
        list(zip(*kept, strict=True)) if kept else [()] * width,
        np.asarray(lines, dtype=np.int64),
        delimiter,
        notes=list(text.notes),
    )
    if repeated:
        table.notes.append(f"The header line came again {repeated} times in {text.name}.")
    if doubtful:
        table.notes.append(
            f"The last line of {text.name} (line {len(text.lines)}) has no line end and may have "
            "been cut short; it was left out."
        )
    for bad, word in ((short, "fewer"), (wide, "more")):
        if bad:
            table.errors.append(_ragged(text, table, bad, word))
    return table


def _ends_like_the_others(line: str, rows: list[list[str]]) -> bool:
    """Whether the last field of a last line without line end can be seen to be whole."""
    final = rows[-1][-1].strip()
    others = {row[-1].strip() for row in rows[:-1]}
    if line.rstrip().endswith('"') or not others:
        return True
    if _POINT.fullmatch(final):
        decimals = {len(other.partition(".")[2]) if "." in other else 0 for other in others}
        return decimals == {len(final.partition(".")[2])}
    return final in others and len(others) == 1


def _ragged(text: Text, table: Table, bad: list[int], word: str) -> InputError:
    count = len(next(csv.reader([text.lines[bad[0] - 1]], delimiter=table.delimiter)))
    hint = ""
    if word == "more" and table.delimiter == ",":
        hint = "If numbers in it have decimal commas, save it with semicolons between the columns"
    elif word == "fewer":
        hint = "The file may have been cut short"
    return FieldError(
        f"{text.name}, line {bad[0]}",
        f"it has {count} fields{named_lines(np.asarray(bad[1:]))}",
        expected=f"{len(table.header)} as in the header line",
        hint=hint,
    )


def _rows(body: list[str], delimiter: str, name: str, first_line: int) -> list[list[str]]:
    reader = csv.reader(body, delimiter=delimiter, skipinitialspace=True)
    try:
        rows = list(reader)
    except csv.Error:
        raise FileError(
            f"{name}, line {first_line + reader.line_num - 1}", "it is not a line of a CSV file"
        ) from None
    if len(rows) != len(body):
        reader = csv.reader(body, delimiter=delimiter, skipinitialspace=True)
        before = 0
        for _ in reader:
            if reader.line_num != before + 1:
                break
            before = reader.line_num
        raise FileError(
            f"{name}, line {first_line + before}",
            "a quotation mark is opened and not closed on that line",
            expected="as many closing as opening quotation marks",
        )
    return rows
