"""One reader for every table of weather: what a layout's entry says, done to the rows of a file.

The entries stand in `data/layouts.toml`, about a dozen lines each; a table of your own is the
layout without an entry, its columns understood by `names.py`.
"""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, BaseModel, ConfigDict, ValidationError

from bedtide.errors import FieldError, FileError, InputError, Option, Pieces, raise_all
from bedtide.weather.dates import Stamps, parse_stamps, stamps_from_columns
from bedtide.weather.names import Heading, Unit, plain, read_heading, unit_of
from bedtide.weather.options import Options, RainDay
from bedtide.weather.preamble import Said, read_preamble
from bedtide.weather.record import UNITS, Column, Record, days_text, mistake
from bedtide.weather.sheet import (
    Sheet,
    failed,
    no_unit,
    note_traces,
    one_station,
    place_from_columns,
    share_totals,
)
from bedtide.weather.text import DELIMITERS, Text, numbers, split_table

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
            names = _names(self.text, i, delimiter, layout)
            both = {plain(part) for name in names for part in (name, re.split(r"[(\[]", name)[0])}
            self._cells[key] = frozenset(both)
        return self._cells[key]


def _names(text: Text, line: int, delimiter: str, layout: Layout) -> list[str]:
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
        return (start, layout.delimiter or ",") if _above(text, start, layout) is not None else None
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
                and _above(text, i, layout) is not None
            ):
                return i, delimiter
    return None


def _above(text: Text, line: int, layout: Layout) -> dict[str, str] | None:
    """What the entry's pattern finds in the lines above; None where it must and does not."""
    if not layout.above:
        return {}
    match = re.search(layout.above, "\n".join(text.lines[: min(line, _SEARCHED)]), re.MULTILINE)
    return {k: v for k, v in match.groupdict().items() if v} if match else None


# reading ---------------------------------------------------------------------------------------


def read_layout(text: Text, layout: Layout, line: int, delimiter: str, options: Options) -> Record:
    """The record of a file of a known layout."""
    if layout.refuse:
        raise FileError(text.name, layout.refuse, expected="daily or hourly weather")
    said = read_preamble(text, line)
    above = _above(text, line, layout) or {}
    sheet = _open(text, layout, line, delimiter)
    text.lines.clear()  # 100 MB of them are better let go
    if not layout.columns:  # a file that says where the station stands, of late last
        none = np.empty(0, dtype=np.int64)
        record = Record(text.name, layout.name, none.astype("datetime64[s]"), none, {})
        sheet.keep(np.arange(len(sheet.lines))[-1:])
        place_from_columns(record, sheet, layout.place)
        return record
    for column, marks in layout.keep.items():
        if sheet.has(column):
            sheet.keep(np.flatnonzero(sheet.marked(column, *marks)))
    for column, marks in layout.leave.items():
        sheet.keep(np.flatnonzero(~sheet.marked(column, *marks)))
    station = ""
    if layout.station and sheet.has(layout.station):
        station = one_station(sheet, layout.station, options)
    elif options.station is not None:
        raise FieldError(Option("station"), f"{text.name} does not name its stations")
    date: Mapping[str, str] = (
        layout.date if isinstance(layout.date, dict) else {"date": layout.date}
    )
    stamps = read_times(sheet, date, above, options.date_order or layout.order or None)
    in_span = options.in_span(stamps.times, clock=stamps.clock)
    if in_span.any():  # what is wrong outside the days that are wanted does not count
        sheet.keep(np.flatnonzero(in_span))
        stamps = stamps.taken(in_span)
    headings, notes, wrong = _headings(sheet, layout, said, options)
    record = make_record(
        sheet, layout.name, stamps, headings, options, layout=layout, daily=layout.daily
    )
    record.errors += wrong
    record.notes += [note.format(source=text.name) for note in (*notes, *layout.notes)]
    record.wind_height = layout.wind_height
    record.rain_day = layout.rain_day
    record.ends = stamps.ends or layout.stamp == "end"
    record.place = said.place or above.get("place", "") or (f"station {station}" if station else "")
    for name in ("latitude", "longitude", "elevation"):
        value = getattr(said, name)
        setattr(record, name, float(above[name]) if name in above else value)
    place_from_columns(record, sheet, layout.place)
    minutes = said.offset
    if layout.clock:
        minutes = 0.0 if layout.clock == "UTC" else float(layout.clock)
    if record.offset is None and minutes is not None and not record.daily:
        record.offset = np.full(len(record.times), minutes)
    _finish(record, sheet, layout, options)
    return record


def _open(text: Text, layout: Layout, line: int, delimiter: str) -> Sheet:
    """The table of a layout, blanks and fixed widths made to tabs."""
    start = line + layout.rows + layout.skip
    if layout.names:
        names, start = list(layout.names), line
    elif layout.widths:
        names, start = list(layout.widths), line if layout.first else start
    else:
        names = _names(text, line, delimiter, layout)
    last = None
    errors: list[InputError] = []
    if layout.until:
        below = range(start, len(text.lines))
        last = next((i for i in below if re.match(layout.until, text.lines[i])), None)
        if last is None and layout.after and text.lines[line - 1].strip() == layout.after:
            hint = "It may have been cut short"
            errors.append(FileError(text.name, f'there is no line "{layout.until}"', hint=hint))
    if delimiter == "blanks" or layout.widths:
        at = list(layout.widths.values())
        rows = [
            "\t".join([row[a:b].strip() for a, b in at] if at else row.split())
            for row in text.lines[start:last]
        ]
        text = Text(text.name, [*text.lines[:start], *rows], text.notes, text.whole or bool(last))
        last, delimiter = None, "\t"
    if layout.names:
        wide = len(cut(text.lines[start], delimiter))
        names += [""] * (wide - len(names))
    elif not layout.widths:
        while names and not names[-1].strip():
            names.pop()
    table = split_table(text, start, delimiter, last=last, names=names)
    table.errors = errors + table.errors
    return Sheet(table)


def read_times(
    sheet: Sheet, date: Mapping[str, str], above: Mapping[str, str], order: str | None
) -> Stamps:
    """Time of each row from its parts: which column has the date, the clock, the year and so on."""
    source, lines = sheet.table.name, sheet.lines
    date = {part: name for part, name in date.items() if sheet.has(name)}
    if "unix" in date:
        values, errors, _ = numbers(
            {date["unix"]: sheet.column(date["unix"])}, lines, source=source
        )
        seconds = values[date["unix"]]
        times = np.full(len(seconds), np.datetime64("NaT", "s"))
        good = np.abs(seconds) < 4.2e9
        times[good] = seconds[good].astype(np.int64).astype("datetime64[s]")
        return Stamps(times, True, np.zeros(len(times)), errors)
    if "date" in date:
        name = date["date"]
        texts = sheet.column(name)
        if "clock" in date:
            clocks = map(_clock, sheet.column(date["clock"]))
            texts = [f"{day} {clock}" for day, clock in zip(texts, clocks, strict=True)]
        if texts and all(re.fullmatch(r"-?\d{9,10}", text) for text in texts):
            return read_times(sheet, {"unix": name}, above, order)
        return parse_stamps(texts, lines, source=source, name=name, order=order)
    parts: dict[str, Sequence[str]] = {}
    for part in ("year", "month", "day", "hour", "minute"):
        if part in date:
            parts[part] = sheet.column(date[part])
        elif part in above:
            month = above[part][:3].title()
            parts[part] = [str(_MONTHS.index(month) + 1) if month in _MONTHS else above[part]]
            parts[part] = list(parts[part]) * len(lines)
    return stamps_from_columns(
        {date.get(part, part): texts for part, texts in parts.items()},
        lines,
        source=source,
        day_of_year=sheet.column(date["doy"]) if "doy" in date else None,
    )


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _clock(text: str) -> str:
    """``7``, ``730``, ``0730 UTC`` and ``7:30`` as a clock time."""
    match = re.fullmatch(r"(\d{1,2}?)(\d\d)?( *(?:UTC|GMT|Z))?", text)
    return f"{match[1]}:{match[2] or '00'}{match[3] or ''}" if match else text


def _headings(
    sheet: Sheet, layout: Layout, said: Said, options: Options
) -> tuple[dict[int, Heading], list[str], list[InputError]]:
    """Meaning of each column by the entry, after what the person says of it."""
    wanted: dict[str, str] = dict(layout.columns)
    notes: list[str] = []
    errors: list[InputError] = []
    if layout.standard:
        units = options.units_of_file or _units_by_warmth(sheet, layout.columns)
        if units == "standard":
            wanted = {**wanted, **layout.standard}
        notes.append(f"The units of {sheet.table.name} were taken as {units}.")
    found: dict[int, Heading] = {}
    mine = {name.strip().lower(): meaning for name, meaning in (options.columns or {}).items()}
    for i, name in enumerate(sheet.table.header):
        if name.lower() in mine:
            given = {name: mine[name.lower()]}
            found[i] = read_heading(name, given, where=sheet.table.name)
    for name, meaning in wanted.items():
        at = sheet.at(name)
        if at is None or at in found:
            continue
        heading = heading_of(meaning)
        unit = heading.unit
        if unit is None:
            header = sheet.table.header[at]
            texts = re.findall(r"[(\[]([^)\]]*)[)\]]", header)
            texts.append(said.meanings.get(plain(header), ""))
            unit = next((u for text in texts if (u := unit_of(heading.key, text))), None)
        if unit is None:
            errors.append(no_unit(sheet, at, heading.key))
            continue
        found[at] = Heading(heading.key, unit, heading.height)
    measured = {at: heading for at, heading in found.items() if heading.key in UNITS}
    return measured, notes, errors


def _units_by_warmth(sheet: Sheet, columns: Mapping[str, str]) -> str:
    """Whether a file is in metric or US units, by its temperatures; refused where uncertain."""
    found = set()
    for name, meaning in columns.items():
        at = sheet.at(name)
        if at is None or meaning.split(",")[0] not in ("tmax", "temperature"):
            continue
        values = sheet.numbers(at)
        if len(values) and values.max() > 60.0:
            found.add("standard")
        elif len(values) >= 180 and 15.0 <= values.max() <= 50.0:
            found.add("metric")
    if len(found) == 1:
        return found.pop()
    raise FieldError(
        sheet.table.name,
        "it does not say its units, and its temperatures do not settle them",
        expected="metric (C, mm) or standard (F, in)",
        hint=Pieces("Say which, such as  ", Option("units_of_file", "metric")),
    )


def make_record(
    sheet: Sheet,
    kind: str,
    stamps: Stamps,
    headings: Mapping[int, Heading],
    options: Options,
    *,
    layout: Layout | None = None,
    daily: bool = False,
) -> Record:
    """A record of the columns that have a heading, numbers read and units made ours."""
    names = sheet.table.header
    used = {names[i]: i for i in headings}
    texts: dict[str, Sequence[str]] = {}
    zeros = {plain(name): words for name, words in (layout.zero if layout else {}).items()}
    rain = [names[i] for i, h in headings.items() if h.key in ("rain", "rain_counter")]
    count = 0
    for name, i in used.items():
        cells = sheet.table.columns[i]
        if layout and layout.strip:
            marks = str.maketrans("", "", layout.strip)
            cells = [cell.translate(marks).strip() for cell in cells]
        if words := zeros.get(plain(name)):
            low = {word.lower() for word in words}
            none = [cell.strip().lower() in low for cell in cells]
            count += sum(none) if name in rain else 0
            cells = ["0" if no else cell for no, cell in zip(none, cells, strict=True)]
        texts[name] = cells
    of_columns = {
        name: marks
        for name in used
        for known, marks in (layout.missing_in if layout else {}).items()
        if sheet.at(known) == used[name]
    }
    values, errors, traces = numbers(
        texts,
        sheet.lines,
        source=sheet.table.name,
        decimal=options.decimal,
        missing=[*(layout.missing if layout else ()), *options.missing],
        missing_in=of_columns,
        traces=rain,
    )
    keys = {heading.key for heading in headings.values()}
    days = stamps.times.astype("datetime64[D]")
    one_a_day = {"tmax", "tmin"} <= keys and len(np.unique(days)) == len(days)
    daily = daily or not stamps.clock or one_a_day
    times = stamps.times
    if daily:  # 24 o'clock of a day is still that day
        early = np.timedelta64(1 if stamps.ends else 0, "s")
        times = (times - early).astype("datetime64[D]").astype("datetime64[s]")
    columns: dict[str, Column] = {}
    several: dict[str, list[NDArray[np.float64]]] = {}
    for name, i in used.items():
        heading = headings[i]
        key, unit = heading.key, heading.unit
        if unit is None:
            continue
        key = "rain" if daily and key == "rain_counter" else key
        ours = values[name] * unit.factor + unit.offset
        several.setdefault(key, []).append(ours)
        if key not in columns or np.isnan(columns[key].values).all():
            columns[key] = Column(key, name, unit.text, ours, unit.factor, unit.offset, unit.rate)
    for key in layout.average if layout else ():
        if len(several.get(key, ())) > 1:
            columns[key].values = np.mean(several[key], axis=0)
            columns[key].name = " and ".join(n for n, i in used.items() if headings[i].key == key)
    record = Record(
        sheet.table.name,
        kind,
        times,
        sheet.lines,
        columns,
        daily=daily,
        notes=list(sheet.table.notes),
        errors=[*sheet.table.errors, *errors, *stamps.errors],
        offset=stamps.offset,
    )
    if stamps.order:
        said = "day before month" if stamps.order == "dmy" else "month before day"
        record.notes.append(f"Dates of {record.source} were read as {said}, as they run on so.")
    note_traces(record, traces + count)
    return record


def _finish(record: Record, sheet: Sheet, layout: Layout, options: Options) -> None:
    """Marks, totals, daylight and the rest that an entry may ask for."""
    if layout.marks is not None:
        _apply_marks(record, sheet, layout.marks)
    if layout.ends is not None and sheet.has(layout.ends[0]):
        bad = sheet.lines[~sheet.marked(*layout.ends)][:1]
        if len(bad):
            what = f"it does not end with {layout.ends[1]}"
            record.errors.append(
                mistake(FieldError, record.source, bad, what, expected="a whole line")
            )
    if layout.daylight and (sun := record.columns.get("solar_radiation")) is not None:
        name = layout.daylight
        seconds, errors, _ = numbers({name: sheet.column(name)}, sheet.lines, source=record.source)
        sun.values = sun.values * seconds[name] / 86400.0
        record.errors += errors
    if layout.days and "rain" in record.columns and sheet.has(layout.days):
        name = sheet.table.header[sheet.at(layout.days) or 0]
        share_totals(record, sheet.column(layout.days), name, options.multi_day)
    if layout.halves:
        _merge_halves(record)
    if layout.finished_first:
        good = record.times[~np.isnat(record.times)]
        record.rank = int(good.max().astype("datetime64[D]").astype(np.int64)) if len(good) else 0


def _apply_marks(record: Record, sheet: Sheet, marks: Marks) -> None:
    for key, column in list(record.columns.items()):
        known = [name for name in marks.of or (column.name,) if sheet.at(name) is not None]
        bare = re.split(r"[(\[]", column.name)[0].strip()
        if marks.of and column.name not in known and bare not in known:
            continue
        name = next(
            (n for stem in (column.name, bare) if sheet.has(n := marks.column.replace("*", stem))),
            "",
        )
        if not name:
            continue
        texts = sheet.column(name)
        failed(record, key, sheet.marked(name, *marks.drop), marks.why)
        if key == "rain" and marks.trace:
            note_traces(record, int(sheet.marked(name, *marks.trace).sum()))
        for mark, what in marks.count.items():
            if count := texts.count(mark):
                of = days_text(count, of=record.source)
                record.notes.append(f"{column.name} of {of} {what}; used as it is.")


def _merge_halves(record: Record) -> None:
    """One row a day from the two 12-hour rows that some stations report."""
    days, first = np.unique(record.times, return_index=True)
    if len(days) == len(record.times) or np.isnat(record.times).any():
        return
    group = np.searchsorted(days, record.times)
    for key, column in record.columns.items():
        best = np.full(len(days), np.nan)
        (np.fmax if key == "tmax" else np.fmin).at(best, group, column.values)
        column.values = best
    record.times, record.lines = days, record.lines[first]
