"""The layouts of tables that are known, and of which of them a text is.

The entries stand in `data/layouts.toml`, about a dozen lines each; a table of your own is the
layout without an entry, its columns understood by `names.py`. JSON is made to a table first.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from bedtide.errors import FieldError, FileError, InputError, raise_all
from bedtide.weather.names import Heading, Unit, plain, unit_of
from bedtide.weather.options import RainDay
from bedtide.weather.record import UNITS
from bedtide.weather.text import DELIMITERS, Text

_SEARCHED = 200  # lines for a header
_LONGEST = 20_000  # characters of a line that may be a header
_MEANING = re.compile(r"(?P<key>\w+)(?:\s*,\s*(?:(?P<factor>[\d.]+)\s+)?(?P<unit>\S.*))?")


def _pattern(text: str) -> str:
    try:
        re.compile(text)
    except re.error as error:
        raise ValueError(f"it is not a regular expression: {error}") from None
    return text


def _meant(columns: dict[str, str]) -> dict[str, str]:
    for meaning in columns.values():
        heading_of(meaning)
    return columns


def heading_of(meaning: str) -> Heading:
    """What an entry says of a column: ``rain, 0.1 mm``; without a unit the file must say it."""
    match = _MEANING.fullmatch(meaning.strip())
    key = match["key"] if match else meaning
    if match is None or key not in UNITS:
        raise ValueError(f'"{meaning}" is none of {", ".join(UNITS)}, with a unit')
    if match["unit"] is None:
        return Heading(key)
    unit = unit_of(key, match["unit"])
    if unit is None:
        raise ValueError(f'"{match["unit"]}" is not a unit of {key}')
    if match["factor"] is not None:
        factor = float(match["factor"])
        text = f"{match['factor']} {unit.text}"
        unit = Unit(text, factor * unit.factor, unit.offset, unit.rate)
    return Heading(key, unit)


_Pattern = Annotated[str, AfterValidator(_pattern)]
_Columns = Annotated[dict[str, str], AfterValidator(_meant)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Marks(_Frozen):
    """Marks beside values: in which column, ``Q*`` being that of each value, and what they do."""

    column: str
    of: tuple[str, ...] = ()  # only beside these columns
    drop: tuple[str, ...] = ()  # not measured
    trace: tuple[str, ...] = ()  # too little rain to measure
    count: dict[str, str] = {}  # used as it is, and told
    why: str = "the service marks them doubtful"


class Layout(_Frozen):
    """One layout of tables, as its entry describes it."""

    name: str
    whose: str = ""
    how: str = ""  # to get such a file
    tried: bool = False  # on real files
    header: tuple[str, ...] = ()  # names that the header must hold
    either: tuple[str, ...] = ()  # of which it must hold one
    without: tuple[str, ...] = ()  # which it must not hold
    first: _Pattern = ""  # of the first rows, where there is no header
    above: _Pattern = ""  # in the lines above; named groups give place, month and year
    names: tuple[str, ...] = ()  # of the columns, where there is no header
    widths: dict[str, tuple[int, int]] = {}  # of columns of fixed width, in characters from 0
    delimiter: Literal["", ",", ";", "\t", "|", "blanks"] = ""
    within: int = _SEARCHED  # lines in which the header is looked for
    rows: Literal[1, 2] = 1  # of the header
    skip: int = 0  # lines between header and rows
    until: _Pattern = ""  # the line that ends the table
    after: str = ""  # where this stands above the header, `until` must come
    date: str | dict[str, str] = "date"
    order: Literal["", "dmy", "mdy"] = ""
    daily: bool = False  # whatever the clock says
    columns: _Columns = {}
    standard: _Columns = {}  # instead, where the file was ordered in US units
    average: tuple[str, ...] = ()  # quantities whose several columns are averaged
    missing: tuple[str, ...] = ()
    missing_in: dict[str, tuple[str, ...]] = {}
    zero: dict[str, tuple[str, ...]] = {}  # words of a column that mean none; of rain a trace
    strip: str = ""  # characters beside the numbers
    marks: Marks | None = None
    keep: dict[str, tuple[str, ...]] = {}  # rows by what a column holds
    leave: dict[str, tuple[str, ...]] = {}
    ends: tuple[str, str] | None = None  # a column and what each row must have in it
    station: str = ""
    place: dict[str, str] = {}  # latitude, longitude, elevation, place by column
    wind_height: float | None = None
    rain_day: RainDay = "midnight"
    clock: str = ""  # UTC, or minutes ahead of it
    stamp: Literal["start", "end"] = "start"
    days: str = ""  # column with the days that a rain total covers
    daylight: str = ""  # column with the seconds over which radiation is a mean
    halves: bool = False  # two rows a day, one with the highest, one with the lowest
    finished_first: bool = False  # of two files of a station the one that ends first is right
    notes: tuple[str, ...] = ()
    refuse: str = ""  # why such a file can't be used


@cache
def layouts() -> tuple[Layout, ...]:
    """Every layout that has an entry."""
    text = files("bedtide").joinpath("data/layouts.toml").read_text(encoding="utf-8")
    return tuple(Layout(**entry) for entry in tomllib.loads(text)["layout"])


def own_layout(path: str | Path) -> Layout:
    """A layout that a person wrote: one entry in a file of its own."""
    name = Path(path).name
    try:
        entry = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        reason = (error.strerror or "it can't be opened").lower()
        raise FileError(str(path), f"it can't be read: {reason}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FileError(name, f"it is not TOML: {error}") from None
    entries = entry.get("layout", [entry])
    if not isinstance(entries, list) or len(entries) != 1:
        raise FileError(name, f"it holds {len(entries)} layouts", expected="one")
    try:
        made = Layout(**{"name": Path(path).stem, **entries[0]})
    except (ValidationError, TypeError) as error:
        raise_all(_told(error, name))
        raise
    if not (made.header or made.first or made.names or made.widths) or not made.columns:
        problem = "it does not say how to know such a file, or what its columns are"
        wanted = 'header = ["Day", "Hi"]  and  columns = {Hi = "tmax, F", Lo = "tmin, F"}'
        raise FieldError(name, problem, expected=wanted)
    return made


def _told(error: Exception, name: str) -> list[InputError]:
    if not isinstance(error, ValidationError):
        return [FileError(name, "it is not an entry of a layout", expected="keys and values")]
    told: list[InputError] = []
    for one in error.errors():
        key = ".".join(map(str, one["loc"]))
        what = one["msg"].removeprefix("Value error, ")
        expected = ""
        if one["type"] == "extra_forbidden":
            what, expected = "there is no such key", f"one of {', '.join(Layout.model_fields)}"
        told.append(FieldError(f"{name}, {key}", what[0].lower() + what[1:], expected=expected))
    return told


# recognising -----------------------------------------------------------------------------------


class Lines:
    """The first lines of a text as sets of cells, cut at each delimiter once."""

    def __init__(self, text: Text) -> None:
        self.text = text
        self._cells: dict[tuple[int, str, int], frozenset[str]] = {}

    def cells(self, i: int, delimiter: str, layout: Layout) -> frozenset[str]:
        """Names on a line, letters and figures only, with and without their brackets."""
        key = (i, delimiter, layout.rows)
        if key not in self._cells:
            names = header_names(self.text, i, delimiter, layout)
            both = {plain(part) for name in names for part in (name, re.split(r"[(\[]", name)[0])}
            self._cells[key] = frozenset(both)
        return self._cells[key]


def header_names(text: Text, line: int, delimiter: str, layout: Layout) -> list[str]:
    """Names of the columns on a header line, or on two that stand above the columns of a row."""
    lines = text.lines[line : line + layout.rows]
    below = line + layout.rows + layout.skip
    row = text.lines[below : below + 1]
    if layout.rows == 1 or not row:
        return cut(lines[0], delimiter)
    ends = [match.end() for match in re.finditer(r"\S+", row[0])]
    parts = zip([0, *ends], [*ends[:-1], 10_000], strict=False)
    return [" ".join(" ".join(each[a:b] for each in lines).split()) for a, b in parts]


def cut(line: str, delimiter: str) -> list[str]:
    """Cells of a line, a mark of a comment before it taken off."""
    line = line.lstrip("# ") if line.startswith("#") else line
    if delimiter == "blanks":
        return line.split()
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return []


def recognised(
    text: Text, known: Sequence[Layout] | None = None
) -> Iterator[tuple[Layout, int, str]]:
    """The layouts of which a text can be, with the header line (or first row) and delimiter."""
    lines = Lines(text)
    for layout in layouts() if known is None else known:
        found = _find(lines, layout)
        if found is not None:
            yield layout, *found


def _find(lines: Lines, layout: Layout) -> tuple[int, str] | None:
    text = lines.text
    if layout.first:
        rows = [i for i, line in enumerate(text.lines[:60]) if line.strip()][:40]
        start = next((i for i in rows if re.match(layout.first, text.lines[i])), None)
        follow = [text.lines[i] for i in rows if start is not None and i >= start][:5]
        if start is None or not all(re.match(layout.first, line) for line in follow):
            return None
        if start and not layout.above:
            return None
        known = above_header(text, start, layout) is not None
        return (start, layout.delimiter or ",") if known else None
    wanted = [name for name in layout.header if not name.endswith("*")]
    exact = {plain(name) for name in wanted}
    starts = [plain(name) for name in layout.header if name.endswith("*")]
    for i, line in enumerate(text.lines[: layout.within]):
        if not line.strip() or len(line) > _LONGEST:
            continue
        for delimiter in (layout.delimiter,) if layout.delimiter else DELIMITERS:
            if delimiter != "blanks" and delimiter not in line:
                continue
            cells = lines.cells(i, delimiter, layout)
            if (
                exact <= cells
                and all(any(cell.startswith(start) for cell in cells) for start in starts)
                and (not layout.either or any(plain(name) in cells for name in layout.either))
                and not any(plain(name) in cells for name in layout.without)
                and above_header(text, i, layout) is not None
            ):
                return i, delimiter
    return None


def above_header(text: Text, line: int, layout: Layout) -> dict[str, str] | None:
    """What the entry's pattern finds in the lines above; None where it must and does not."""
    if not layout.above:
        return {}
    match = re.search(layout.above, "\n".join(text.lines[: min(line, _SEARCHED)]), re.MULTILINE)
    return {k: v for k, v in match.groupdict().items() if v} if match else None


# JSON made to a table -------------------------------------------------------------------------


def is_json(text: Text) -> bool:
    """Whether a text begins as JSON does."""
    first = next((line.lstrip() for line in text.lines if line.strip()), "")
    return first.startswith(("{", "[{", "[ {")) or first.strip() == "["


def json_table(text: Text) -> Text:
    """Lines of a table: what is said of the place, names, and one row a day or hour."""
    try:
        data = json.loads("\n".join(text.lines))
    except (json.JSONDecodeError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        raise FileError(
            f"{text.name}, line {line}", "it is not whole JSON", hint="It may have been cut short"
        ) from None
    head: list[str] = []
    if isinstance(data, list):
        rows = [row for row in data if isinstance(row, dict)]
        names = list(dict.fromkeys(name for row in rows for name in row))
        columns = [[row.get(name) for row in rows] for name in names]
    else:
        try:
            names, columns = _columns(data, head, text.name)
        except (AttributeError, TypeError, ValueError):
            raise _unknown(text.name) from None
    if not names or not columns[0]:
        raise FieldError(text.name, "there are no days or hours in it", expected="a list of rows")
    lines = [*head, "\t".join(map(str, names))]
    for cells in zip(*columns, strict=True):
        lines.append("\t".join("" if cell is None else str(cell) for cell in cells))
    notes = [*text.notes, f"The lines of {text.name} are counted as rows of its table."]
    return Text(text.name, lines, notes)


def _columns(data: Mapping[str, Any], head: list[str], name: str) -> tuple[list[str], list[Any]]:
    """Names and columns of the two shapes that services use; what they say of the place."""
    for key in ("latitude", "longitude", "elevation"):
        if isinstance(data.get(key), (int, float)):
            head.append(f"# {key}: {data[key]}")
    if isinstance(data.get("utc_offset_seconds"), (int, float)):
        head += ["latitude,longitude,utc_offset_seconds", f"-,-,{data['utc_offset_seconds']}"]
    for rows in ("daily", "hourly"):
        table = data.get(rows)
        if isinstance(table, dict) and "time" in table:
            units = data.get(f"{rows}_units", {})
            names = [f"{n} ({units[n]})" if units.get(n) and n != "time" else n for n in table]
            columns = [_listed(values) for values in table.values()]
            return names, _same_length(columns, name)
    features = data.get("features") or [data]
    feature = features[0] if isinstance(features, list) and features else {}
    table = feature.get("properties", {}).get("parameter") if isinstance(feature, dict) else None
    if not isinstance(table, dict) or not table:
        raise _unknown(name)
    place = feature.get("geometry", {}).get("coordinates", [])
    for key, value in zip(("longitude", "latitude", "elevation"), place, strict=False):
        head.append(f"# {key}: {value}")
    header = data.get("header", {})
    missing = header.get("fill_value", header.get("fillValue"))
    days = list(dict.fromkeys(day for values in table.values() for day in values))
    columns = [days]
    for values in table.values():
        column = [values.get(day) for day in days]
        none = None if missing is None else float(missing)
        columns.append([None if none is not None and cell == none else cell for cell in column])
    return ["YYYYMMDD", *table], columns


def _unknown(name: str) -> FieldError:
    return FieldError(
        name,
        "it is JSON of an unknown kind",
        expected="daily or hourly lists beside time, days under parameter, or a list of rows",
    )


def _listed(values: Any) -> list[Any]:
    return list(values.values()) if isinstance(values, dict) else list(values)


def _same_length(columns: Sequence[list[Any]], name: str) -> list[Any]:
    if len({len(column) for column in columns}) > 1:
        raise FieldError(name, "its columns have different lengths", hint="It may be cut short")
    return list(columns)
