"""The layouts of tables that are known, and of which of them a text is.

The entries stand in `data/layouts.toml`, about a dozen lines each; a table of your own is the
layout without an entry, its columns understood by their names. JSON is made to a table first.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, lru_cache
from pathlib import Path
from typing import Annotated, Any, Literal

import pandas as pd
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    NonNegativeInt,
    PositiveInt,
    ValidationError,
)

from bedtide.errors import FieldError, FileError, InputError, Option, Pieces, raise_all, shown
from bedtide.tables import read_toml
from bedtide.toml_text import tables_of, text_of
from bedtide.weather.columns import Heading, heading_of, plain, read_heading
from bedtide.weather.options import Options, RainDay
from bedtide.weather.record import QUANTITIES
from bedtide.weather.text import DELIMITERS, Text

_SEARCHED = 200  # lines for a header
_DATES = ({"date"}, {"year", "month", "day"}, {"year", "doy"})  # one of which a header names
_LONGEST = 20_000  # characters of a line that may be a header


_Pattern = re.Pattern[str] | None
_Columns = dict[str, Annotated[Heading, BeforeValidator(heading_of)]]
_Minutes = Annotated[float, BeforeValidator(lambda said: 0.0 if said == "UTC" else said)]
_Date = Annotated[
    dict[Literal["date", "clock", "year", "month", "day", "doy", "hour", "minute", "unix"], str],
    BeforeValidator(lambda said: {"date": said} if isinstance(said, str) else said),
]


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
    first: _Pattern = None  # of the first rows, where there is no header
    above: _Pattern = None  # in the lines above; named groups give place, month and year
    names: tuple[str, ...] = ()  # of the columns, where there is no header
    widths: dict[str, tuple[int, int]] = {}  # of columns of fixed width, in characters from 0
    delimiter: Literal["", ",", ";", "\t", "|", "blanks"] = ""
    within: PositiveInt = _SEARCHED  # lines in which the header is looked for
    rows: Literal[1, 2] = 1  # of the header
    skip: NonNegativeInt = 0  # lines between header and rows
    until: _Pattern = None  # the line that ends the table
    after: str = ""  # where this stands above the header, `until` must come
    date: _Date = {"date": "date"}  # the column of each part
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
    place: dict[Literal["latitude", "longitude", "elevation", "place"], str] = {}  # by column
    wind_height: Annotated[float, Field(ge=0.5, le=200.0)] | None = None  # [m]
    rain_day: RainDay = "midnight"
    clock: _Minutes | None = None  # ahead of universal time, or UTC
    stamp: Literal["start", "end"] = "start"
    days: str = ""  # column with the days that a rain total covers
    daylight: str = ""  # column with the seconds over which radiation is a mean
    halves: bool = False  # two rows a day, one with the highest, one with the lowest
    shape: Literal["", "days", "elements", "months"] = ""  # of the global daily set: `ghcn`
    finished_first: bool = False  # of two files of a station the one that ends first is right
    notes: tuple[str, ...] = ()
    refuse: str = ""  # why such a file can't be used


PLAIN = Layout(name="plain table")
"""A table of your own."""


@cache
def layouts() -> tuple[Layout, ...]:
    """Every layout that has an entry."""
    return tuple(Layout(**entry) for entry in read_toml("layouts.toml")["layout"])


def own_layout(path: str | Path) -> Layout:
    """A layout that a person wrote: one entry in a file of its own."""
    name = Path(path).name
    entry = tables_of(text_of(Path(path), "a layout"), name, 'date = "Date"')
    entries = entry.get("layout", [entry])
    if not isinstance(entries, list) or len(entries) != 1 or not isinstance(entries[0], dict):
        raise FileError(
            name, f"it holds {len(entries)} layouts", expected="one, of keys and values"
        )
    try:
        made = Layout(**{"name": Path(path).stem, **entries[0]})
    except ValidationError as error:
        told: list[InputError] = []
        for one in error.errors():
            what = one["msg"].removeprefix("Value error, ")
            key = ".".join(str(part) for part in one["loc"] if part != "[key]")
            wanted = ""
            if one["type"] == "extra_forbidden":
                what, wanted = "there is no such key", f"one of {', '.join(Layout.model_fields)}"
            told.append(FieldError(f"{name}, {key}", what[0].lower() + what[1:], expected=wanted))
        raise_all(told)
        raise
    if not (made.header or made.first or made.names or made.widths) or not made.columns:
        problem = "it does not say how to know such a file, or what its columns are"
        wanted = 'header = ["Day", "Hi"]  and  columns = {Hi = "tmax, F", Lo = "tmin, F"}'
        raise FieldError(name, problem, expected=wanted)
    return made


# recognising -----------------------------------------------------------------------------------


def header_names(text: Text, line: int, delimiter: str, layout: Layout) -> list[str]:
    """Names of the columns on a header line, or on two that stand above the columns of a row."""
    lines = text.lines[line : line + layout.rows]
    below = line + layout.rows + layout.skip
    row = text.lines[below : below + 1]
    if layout.rows == 1 or not row:
        names = cut(lines[0], delimiter)
        while names and not names[-1]:
            names.pop()
        return names
    ends = [match.end() for match in re.finditer(r"\S+", row[0])]
    parts = zip([0, *ends], [*ends[:-1], 10_000], strict=False)
    return [" ".join(" ".join(each[a:b] for each in lines).split()) for a, b in parts]


def cut(line: str, delimiter: str) -> list[str]:
    """Cells of a line without outer blanks, a mark of a comment before it taken off."""
    line = line.lstrip("# ") if line.startswith("#") else line
    if delimiter == "blanks":
        return line.split()
    try:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
        return [cell.strip() for cell in cells]
    except csv.Error:
        return []


@lru_cache(maxsize=2048)
def _cells(line: str, delimiter: str) -> frozenset[str]:
    """Names on a line, letters and figures only, with and without their brackets."""
    names = cut(line, delimiter)
    return frozenset(plain(part) for name in names for part in (name, re.split(r"[(\[]", name)[0]))


def layout_of(text: Text, options: Options) -> tuple[Layout, int, str] | None:
    """The layout of a text, its header line (or first row) and delimiter; None where it has none.

    Refused where a person described a layout that it is not of.
    """
    own = None if options.layout is None else own_layout(options.layout)
    found = next(recognised(text, None if own is None else [own]), None)
    if found is None and own is not None:
        name = Path(str(options.layout)).name
        wanted = f"a header with {', '.join(own.header)}" if own.header else "its rows"
        raise FieldError(text.name, f"it is not of the layout in {name}", expected=wanted)
    return found or _plain_header(text, options)


def _plain_header(text: Text, options: Options) -> tuple[Layout, int, str] | None:
    """The first line that names a date and a weather column."""
    mapping = {name.strip().lower(): v for name, v in (options.columns or {}).items()}
    dated = any(meaning.strip().lower() == "date" for meaning in mapping.values())
    for i, line in enumerate(text.lines[:_SEARCHED]):
        if not line.strip() or line.startswith("#") or len(line) > _LONGEST:
            continue
        scores = {}
        for delimiter in filter(line.__contains__, DELIMITERS):
            cells = cut(line, delimiter)
            keys = {read_heading(cell).key for cell in cells}
            known = len(keys & QUANTITIES.keys())
            known += sum(cell.strip().lower() in mapping for cell in cells)
            if dated or any(date <= keys for date in _DATES):
                scores[delimiter] = known
        best = max(scores, key=scores.__getitem__, default="")
        if best and scores[best]:
            return PLAIN, i, best
    return None


def no_header(text: Text) -> InputError:
    """What is said where no line can be a header."""
    first = next((line for line in text.lines if line.strip() and not line.startswith("#")), "")
    hint = Pieces(
        "Name the columns of other headers with  ",
        Option("columns"),
        " , or describe the file in a layout of your own:  ",
        Option("layout", "MINE.toml"),
    )
    problem = "no line names a date and a weather column; the first line is "
    problem += f'"{shown(first.expandtabs(2), most=60)}"'
    wanted = "a header such as  date, tmax (C), tmin (C), rain (mm)"
    return FieldError(text.name, problem, expected=wanted, hint=hint)


def recognised(
    text: Text, known: Sequence[Layout] | None = None
) -> Iterator[tuple[Layout, int, str]]:
    """The layouts of which a text can be, with the header line (or first row) and delimiter."""
    for layout in layouts() if known is None else known:
        found = _by_rows(text, layout.first, layout) if layout.first else _by_header(text, layout)
        if found is not None and above_header(text, found[0], layout) is not None:
            yield layout, *found


def _by_rows(text: Text, pattern: re.Pattern[str], layout: Layout) -> tuple[int, str] | None:
    rows = [i for i, line in enumerate(text.lines[:60]) if line.strip()][:40]
    start = next((i for i in rows if pattern.match(text.lines[i])), None)
    if start is None or (start != rows[0] and not layout.above):
        return None
    whole = all(pattern.match(text.lines[i]) for i in [i for i in rows if i >= start][:5])
    return (start, layout.delimiter or ",") if whole else None


def _by_header(text: Text, layout: Layout) -> tuple[int, str] | None:
    exact = {plain(name) for name in layout.header if not name.endswith("*")}
    starts = [plain(name) for name in layout.header if name.endswith("*")]
    either, without = ({plain(name) for name in names} for names in (layout.either, layout.without))
    for i, line in enumerate(text.lines[: layout.within]):
        if not line.strip() or len(line) > _LONGEST:
            continue
        for delimiter in (layout.delimiter,) if layout.delimiter else DELIMITERS:
            if delimiter != "blanks" and delimiter not in line:
                continue
            if layout.rows == 2:
                cells = _cells("\t".join(header_names(text, i, delimiter, layout)), "\t")
            else:
                cells = _cells(line, delimiter)
            if (
                exact <= cells
                and all(any(cell.startswith(start) for cell in cells) for start in starts)
                and (not either or either & cells)
                and not without & cells
            ):
                return i, delimiter
    return None


def above_header(text: Text, line: int, layout: Layout) -> dict[str, str] | None:
    """What the entry's pattern finds in the lines above; None where it must and does not."""
    if not layout.above:
        return {}
    match = re.search(
        layout.above.pattern, "\n".join(text.lines[: min(line, _SEARCHED)]), re.MULTILINE
    )
    return {k: v for k, v in match.groupdict().items() if v} if match else None


# JSON made to a table -------------------------------------------------------------------------


def tabled(text: Text) -> Text:
    """Text as it is; JSON as lines of a table: what is said of the place, names, rows."""
    first = next((line.lstrip() for line in text.lines if line.strip()), "")
    if not first.startswith(("{", "[{", "[ {")) and first.strip() != "[":
        return text
    try:
        data = json.loads("\n".join(text.lines))
    except (json.JSONDecodeError, RecursionError) as error:
        line = getattr(error, "lineno", 1)
        raise FileError(
            f"{text.name}, line {line}", "it is not whole JSON", hint="It may have been cut short"
        ) from None
    head: list[str] = []
    if isinstance(data, list):
        rows = pd.DataFrame([row for row in data if isinstance(row, dict)], dtype=object)
    else:
        try:
            rows = _rows_of(data, head, text.name)
        except (AttributeError, TypeError, ValueError):
            raise _unknown(text.name) from None
    if not rows.size:
        raise FieldError(text.name, "there are no days or hours in it", expected="a list of rows")
    rows = rows.where(rows.notna(), "")
    lines = ["\t".join(map(str, row)) for row in (rows.columns, *rows.to_numpy())]
    notes = [*text.notes, f"The lines of {text.name} are counted as rows of its table."]
    return Text(text.name, [*head, *lines], notes)


def _rows_of(data: Mapping[str, Any], head: list[str], name: str) -> pd.DataFrame:
    """The table in one of the two shapes that services use; what they say of the place."""
    for key in ("latitude", "longitude", "elevation"):
        if isinstance(data.get(key), (int, float)):
            head.append(f"# {key}: {data[key]}")
    if isinstance(data.get("utc_offset_seconds"), (int, float)):
        head += ["latitude,longitude,utc_offset_seconds", f"-,-,{data['utc_offset_seconds']}"]
    for rows in ("daily", "hourly"):
        table = data.get(rows)
        if isinstance(table, dict) and "time" in table:
            units = {**data.get(f"{rows}_units", {}), "time": ""}
            columns = {
                f"{key} ({units[key]})" if units.get(key) else key: list(
                    values.values() if isinstance(values, dict) else values
                )
                for key, values in table.items()
            }
            if len({len(column) for column in columns.values()}) > 1:
                problem = "its columns have different lengths"
                raise FieldError(name, problem, hint="It may be cut short")
            return pd.DataFrame(columns, dtype=object)
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
    found = pd.DataFrame(table, index=days, dtype=object).rename_axis("YYYYMMDD").reset_index()
    return found if missing is None else found.mask(found == float(missing))


def _unknown(name: str) -> FieldError:
    return FieldError(
        name,
        "it is JSON of an unknown kind",
        expected="daily or hourly lists beside time, days under parameter, or a list of rows",
    )
