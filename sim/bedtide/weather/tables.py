"""One reader for every table of weather: of a known layout, or of your own.

A table of your own has one header line, one row a day or several, units in the header. Lines before
the header that start with ``#`` may say where the station stands and what the columns are measured
in::

    # place: Home
    # latitude: 51.9
    # elevation: 30 m
    # wind height: 10 m
    # rain day: to morning
    # units: tmax = C, tmin = C, rain = mm
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from bedtide.errors import FieldError, FileError, InputError, Option, Pieces, choice
from bedtide.weather import ghcn
from bedtide.weather.columns import Heading, by_entry, by_name, with_units
from bedtide.weather.dates import MONTHS, Stamps, parse_stamps, stamps_from_columns
from bedtide.weather.layouts import PLAIN, Layout, Marks, above_header, cut, header_names
from bedtide.weather.options import CLOCKS_APART, Options
from bedtide.weather.preamble import Said, read_preamble
from bedtide.weather.record import (
    Column,
    Record,
    days_text,
    failed,
    mistake,
    note_traces,
    share_out,
)
from bedtide.weather.text import Table, Text, numbers, split_table

_UNIVERSAL = re.compile(r"utc|gmt|universal|zulu", re.IGNORECASE)
_SECONDS = re.compile(r"-?\d{9,10}")  # of universal time, since 1970
_TO_THE_HOUR = re.compile(
    r"(17|18|19|20|21)\d\d(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])([01]\d|2[0-4])"
)


def read_table(text: Text, layout: Layout, line: int, delimiter: str, options: Options) -> Record:
    """The record of a table whose header (or first row) stands on a line, counted from 0."""
    if layout.refuse:
        raise FileError(text.name, layout.refuse, expected="daily or hourly weather")
    said = read_preamble(text, line)
    above = above_header(text, line, layout) or {}
    table = _open(text, layout, line, delimiter)
    text.lines.clear()  # 100 MB of them are better let go
    for column, marks in layout.keep.items():
        if table.has(column):
            table.keep(np.flatnonzero(table.marked(column, *marks)))
    for column, marks in layout.leave.items():
        table.keep(np.flatnonzero(~table.marked(column, *marks)))
    named: dict[int, Heading] = {}
    notes, wrong, own = list[str](), list[InputError](), layout is PLAIN
    if own:
        mapping = {**said.units, **(options.columns or {})}
        named, notes, wrong = by_name(table, mapping, strict=options.every_column)
        wrong = [*said.errors, *wrong]
        layout = _of_your_own(table, named, said)
    elif not (layout.columns or layout.shape):
        return _place_alone(table, layout)
    if layout.shape == "months":
        table = ghcn.whole_lines(table)
    station = _one_station(table, layout.station, options, own)
    if layout.shape:
        table, layout = ghcn.in_days(table, layout, options)
    stamps = read_times(table, layout, above, options.date_order or layout.order or None)
    minutes = said.offset if layout.clock is None else layout.clock
    beside = int(stamps.clock)  # midnight may end its hour
    if stamps.clock and (stamps.offset is not None or minutes is not None or options.stamps):
        beside = CLOCKS_APART
    wanted = options.in_span(stamps.times, beside=beside)
    if wanted.any():  # what is wrong in other rows won't count
        table.keep(np.flatnonzero(wanted))
        stamps = stamps.taken(wanted)
    if not own:
        named, notes = by_entry(table, layout, options)
    headings, no_unit = with_units(table, named, said.meanings)
    record = _make_record(table, layout, stamps, headings, options, said)
    record.errors = [*wrong, *no_unit, *record.errors]
    record.notes += [*notes, *(note.replace("{source}", text.name) for note in layout.notes)]
    record.place = said.place or above.get("place", "") or (f"station {station}" if station else "")
    numbers_above = {"latitude", "longitude", "elevation"} & above.keys()
    _take_place(record, {name: [above[name]] for name in numbers_above})
    _take_place(record, {name: table.column(column) for name, column in layout.place.items()})
    if record.offset is None and minutes is not None and not record.daily:
        record.offset = np.full(len(record.times), minutes)
    if own:
        others = [name for i, name in enumerate(table.header) if not named[i].key]
        record.ignored = list(filter(str.strip, others))
        record.rain_day_said = not record.daily or said.rain_day is not None
    _finish(record, table, layout, options)
    return record


def _of_your_own(table: Table, named: Mapping[int, Heading], said: Said) -> Layout:
    """The layout of a table of your own, by the names of its columns and the lines above them."""
    date = {heading.key: table.header[i] for i, heading in named.items()}
    if {"date", "hour"} <= date.keys():
        date["clock"] = date["hour"]
    universal = _UNIVERSAL.search(date.get("date", "") + date.get("clock", ""))
    heights = (each.height for each in named.values() if each.height)
    update = {
        "date": date,
        "station": date.get("station", ""),
        "wind_height": said.wind_height or next(heights, None),
        "rain_day": said.rain_day or "midnight",
        "clock": 0.0 if universal else None,
    }
    return PLAIN.model_copy(update=update)


def _open(text: Text, layout: Layout, line: int, delimiter: str) -> Table:
    """The table of a layout, blanks and fixed widths made to tabs."""
    start = line + layout.rows + layout.skip
    if layout.names:
        names, start = list(layout.names), line
    elif layout.widths:
        names, start = list(layout.widths), line if layout.first else start
    else:
        names = header_names(text, line, delimiter, layout)
    last = None
    errors: list[InputError] = []
    if layout.until:
        below = range(start, len(text.lines))
        last = next((i for i in below if layout.until.match(text.lines[i])), None)
        if last is None and layout.after and text.lines[line - 1].strip() == layout.after:
            hint = "It may have been cut short"
            errors.append(
                FileError(text.name, f'there is no line "{layout.until.pattern}"', hint=hint)
            )
    if delimiter == "blanks" or layout.widths:
        at = list(layout.widths.values())
        cells = [
            [row[a:b].strip() for a, b in at] if at else row.split()
            for row in text.lines[start:last]
        ]
        if last:  # days of a month that are still to come have no more than their number
            cells = [row + [""] * (len(names) - 1) if len(row) == 1 else row for row in cells]
        rows = ["\t".join(row) for row in cells]
        whole = text.whole or bool(last) or "DAYS" in layout.widths  # which show it themselves
        text = Text(text.name, [*text.lines[:start], *rows], text.notes, whole)
        last, delimiter = None, "\t"
    if layout.names:
        wide = len(cut(text.lines[start], delimiter))
        names += [""] * (wide - len(names))
    table = split_table(text, names, start, delimiter, last=last)
    table.errors = errors + table.errors
    return table


def read_times(table: Table, layout: Layout, above: Mapping[str, str], order: str | None) -> Stamps:
    """Time of each row from its parts: which column has the date, the clock, the year and so on."""
    source, lines = table.name, table.lines
    date: dict[str, str] = {part: c for part, c in layout.date.items() if table.has(c)}
    name = date.get("unix", date.get("date", ""))
    texts = table.column(name)
    seconds = bool(texts) and "clock" not in date and all(map(_SECONDS.fullmatch, texts))
    if "unix" in date or (seconds and not all(map(_TO_THE_HOUR.fullmatch, texts))):
        values, errors, _ = numbers({name: texts}, lines, source=source)
        times = np.full(len(lines), np.datetime64("NaT", "s"))
        good = np.abs(values[name]) < 4.2e9
        times[good] = values[name][good].astype(np.int64).astype("datetime64[s]")
        return Stamps(times, True, np.zeros(len(times)), errors)
    if "clock" in date and name:
        clocks = map(_clock, table.column(date["clock"]))
        texts = [f"{day} {clock}" for day, clock in zip(texts, clocks, strict=True)]
    if name:
        return parse_stamps(texts, lines, source=source, name=name, order=order)
    parts: dict[str, Sequence[str]] = {}
    for part in ("year", "month", "day", "hour", "minute"):
        if part in date:
            parts[part] = table.column(date[part])
        elif part in above:
            said = above[part]
            number = str(MONTHS.get(said[:3].lower(), said))
            if not number.isdecimal():
                problem, wanted = (
                    f'"{said}" above its rows is not a {part}',
                    "Jan to Dec, or figures",
                )
                raise FieldError(source, problem, expected=wanted)
            parts[part] = [number] * len(lines)
    needed = ("year",) if "doy" in date else ("year", "month", "day")
    if lacking := [part for part in needed if part not in parts]:
        problem = f"there is no column for the {' and the '.join(lacking)} of its rows"
        raise FieldError(source, problem, expected=f"columns of {', '.join(date) or 'dates'}")
    return stamps_from_columns(
        {date.get(part, part): texts for part, texts in parts.items()},
        lines,
        source=source,
        day_of_year=table.column(date["doy"]) if "doy" in date else None,
    )


def _clock(text: str) -> str:
    """``7``, ``730``, ``0730 UTC`` and ``7:30`` as a clock time."""
    match = re.fullmatch(r"(\d{1,2}?)(\d\d)?( *(?:UTC|GMT|Z))?", text)
    return f"{match[1]}:{match[2] or '00'}{match[3] or ''}" if match else text


def _make_record(
    table: Table,
    layout: Layout,
    stamps: Stamps,
    headings: Mapping[int, Heading],
    options: Options,
    said: Said,
) -> Record:
    """A record of the columns that have a heading, numbers read and units made ours."""
    used = {table.header[i]: heading for i, heading in headings.items()}
    rain = [name for name, heading in used.items() if heading.key in ("rain", "rain_counter")]
    texts: dict[str, Sequence[str]] = {}
    missing: dict[str, Sequence[str]] = {}
    count = 0
    for i in headings:
        name, cells = table.header[i], table.columns[i]
        if layout.strip:
            marks = str.maketrans("", "", layout.strip)
            cells = [cell.translate(marks).strip() for cell in cells]
        zeros = {word.lower() for word in _of_column(layout.zero, table, i)}
        if zeros:
            none = [cell.strip().lower() in zeros for cell in cells]
            count += sum(none) if name in rain else 0
            cells = ["0" if no else cell for no, cell in zip(none, cells, strict=True)]
        texts[name] = cells
        own = _of_column(layout.missing_in, table, i)
        missing[name] = (*layout.missing, *options.missing, *own)
    values, errors, traces = numbers(
        texts,
        table.lines,
        source=table.name,
        decimal=options.decimal,
        missing=missing,
        traces=rain,
    )
    keys = {heading.key for heading in headings.values()}
    days = stamps.times.astype("datetime64[D]")
    one_a_day = {"tmax", "tmin"} <= keys and len(np.unique(days)) == len(days)
    daily = layout.daily or not stamps.clock or one_a_day
    times = stamps.times
    if daily:  # 24 o'clock of a day is still that day
        early = np.timedelta64(1 if stamps.ends else 0, "s")
        times = (times - early).astype("datetime64[D]").astype("datetime64[s]")
    columns: dict[str, Column] = {}
    several: dict[str, list[str]] = {}
    ours = {}
    for name, heading in used.items():
        key, unit = heading.key, heading.unit
        if unit is None:
            continue
        key = "rain" if daily and key == "rain_counter" else key
        ours[name] = values[name] * unit.factor + unit.offset
        several.setdefault(key, []).append(name)
        if key not in columns or np.isnan(columns[key].values).all():
            columns[key] = Column(name, unit.text, ours[name], unit.factor, unit.offset, unit.rate)
    for key in layout.average:
        if len(named := several.get(key, ())) > 1:
            columns[key].values = np.mean([ours[name] for name in named], axis=0)
            columns[key].name = " and ".join(named)
    record = Record(
        table.name,
        layout.name,
        times,
        table.lines,
        columns,
        daily=daily,
        latitude=said.latitude,
        longitude=said.longitude,
        elevation=said.elevation,
        place=said.place,
        wind_height=layout.wind_height,
        rain_day=layout.rain_day,
        ends=stamps.ends or layout.stamp == "end",
        notes=list(table.notes),
        errors=[*table.errors, *errors, *stamps.errors],
        offset=None if daily else stamps.offset,
    )
    if stamps.order:
        order = "day before month" if stamps.order == "dmy" else "month before day"
        record.notes.append(f"Dates of {record.source} were read as {order}, as they run on so.")
    note_traces(record, traces + count)
    return record


def _of_column(words: Mapping[str, Sequence[str]], table: Table, at: int) -> list[str]:
    """What an entry says of one column."""
    return [word for name, own in words.items() if table.at(name) == at for word in own]


def _one_station(table: Table, column: str, options: Options, own: bool) -> str:
    """Keep the rows of the station that is wanted, or of the only one; refuse to choose.

    A table of your own need not name its stations, and is not called by the name of one.
    """
    if not (column and table.has(column)):
        if options.station is not None and not own:
            raise FieldError(Option("station"), f"{table.name} does not name its stations")
        return ""
    stations = table.column(column)
    names = sorted(set(stations))
    if not names:
        return ""
    where, wanted = f"{table.name}, column {column}", names[0]
    if options.station is not None:
        wanted = choice(options.station, names, where=where)
    elif len(names) > 1:
        more = " ..." if len(names) > 8 else ""
        problem = f"it holds {len(names)} stations: {', '.join(names[:8])}{more}"
        hint = Pieces("Say which one:  ", Option("station", wanted))
        raise FieldError(where, problem, expected="one station", hint=hint)
    table.keep(np.flatnonzero([name == wanted for name in stations]))
    return "" if own else wanted


def _place_alone(table: Table, layout: Layout) -> Record:
    """Where a station stands, of late last, from a file that says no more."""
    none = np.empty(0, dtype=np.int64)
    record = Record(table.name, layout.name, none.astype("datetime64[s]"), none, {})
    table.keep(np.arange(len(table.lines))[-1:])
    _take_place(record, {name: table.column(column) for name, column in layout.place.items()})
    return record


def _take_place(record: Record, said: Mapping[str, Sequence[str]]) -> None:
    """Place from texts of each of its parts, the first that is one."""
    for name, texts in said.items():
        if name == "place":
            record.place = next(filter(None, texts), "") or record.place
        else:
            points = [text.replace(",", ".") for text in texts]
            values = pd.to_numeric(pd.Series(points, dtype=object), errors="coerce").to_numpy()
            if (known := values[np.abs(values) < 9000]).size:
                setattr(record, name, float(known[0]))


def _finish(record: Record, table: Table, layout: Layout, options: Options) -> None:
    """Marks, totals, daylight and the rest that an entry may ask for."""
    if layout.shape:
        ghcn.finish(record, table, layout, options)
    if layout.marks is not None:
        _apply_marks(record, table, layout.marks)
    if layout.ends is not None and table.has(layout.ends[0]):
        bad = table.lines[~table.marked(*layout.ends)][:1]
        if len(bad):
            what = f"it does not end with {layout.ends[1]}"
            record.errors.append(
                mistake(FieldError, record.source, bad, what, expected="a whole line")
            )
    if layout.daylight and (sun := record.columns.get("solar_radiation")) is not None:
        name = layout.daylight
        seconds, errors, _ = numbers({name: table.column(name)}, table.lines, source=record.source)
        sun.values = sun.values * seconds[name] / 86400.0
        record.errors += errors
    if layout.days and record.daily and "rain" in record.columns and table.has(layout.days):
        _share_totals(record, table, layout.days, options.multi_day)
    if layout.halves:
        _merge_halves(record)
    if layout.finished_first:
        good = record.times[~np.isnat(record.times)]
        record.rank = int(good.max().astype("datetime64[D]").astype(np.int64)) if len(good) else 0


def _share_totals(record: Record, table: Table, column: str, how: str) -> None:
    """Share out rain whose days a column counts; blank beside an amount is one day."""
    name = table.header[table.at(column) or 0]
    texts = {name: table.column(column)}
    periods, wrong, _ = numbers(texts, record.lines, source=record.source, decimal=".")
    record.errors += wrong
    if not record.errors:
        period = np.nan_to_num(periods[name], nan=1.0)
        amount = np.where(period > 1, record.columns["rain"].values, np.nan)
        record.errors += share_out(record, amount, period, how)


def _apply_marks(record: Record, table: Table, marks: Marks) -> None:
    only = {table.at(name) for name in marks.of}
    for key, column in record.columns.items():
        if only and table.at(column.name) not in only:
            continue
        stems = (column.name, re.split(r"[(\[]", column.name)[0].strip())
        names = (marks.column.replace("*", stem) for stem in stems)
        name = next(filter(table.has, names), "")
        if not name:
            continue
        texts = table.column(name)
        failed(record, key, table.marked(name, *marks.drop), marks.why)
        if key == "rain" and marks.trace:
            note_traces(record, int(table.marked(name, *marks.trace).sum()))
        for mark, what in marks.count.items():
            if count := texts.count(mark):
                of = days_text(count, of=record.source)
                record.notes.append(f"{column.name} of {of} {what}; used as it is.")


def _merge_halves(record: Record) -> None:
    """One row a day from the two 12-hour rows that some stations report."""
    days, first = np.unique(record.times, return_index=True)
    if len(days) == len(record.times) or np.isnat(record.times).any():
        return
    for key, column in record.columns.items():
        halves = pd.Series(column.values).groupby(record.times)
        column.values = np.asarray(halves.max() if key == "tmax" else halves.min())
    record.times, record.lines = days, record.lines[first]
