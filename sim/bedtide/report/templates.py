"""Words from templates: one set of filters for all answers, and text that fits the terminal.

A template is text with places for the figures of a summary. How its lines are read:

* lines run on as one paragraph until an empty line of the template (one that an expression leaves
  empty parts nothing), and are folded to the width;
* ``* `` begins a new line, ``- `` an item of a list, which is set in;
* lines with ``a │ b │ c`` are rows of a table, the first of them its heads; one that is too wide
  is told as several tables with the same first column;
* ``{{ part("answer") }}`` alone on a line begins a part, which a page takes by its name.

A name that someone gave stays one piece of one line: its bars, line ends and what steers a terminal
are replaced before it comes into a template.

Amounts come in the units of a summary's keys (litres, mm, cm) and go out in those of the reader.
"""

from __future__ import annotations

import calendar
import dataclasses
import datetime
import math
import os
import re
import shutil
import textwrap
from collections.abc import Callable, Iterable, Sequence
from functools import cache, partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from bedtide.errors import printable
from bedtide.units import (
    FOOT,
    POUND,
    SYSTEMS,
    System,
    bulk_text,
    depth_text,
    length_text,
    mass_text,
    sawn_text,
    trimmed,
    volume_text,
)

if TYPE_CHECKING:
    import jinja2

CELL: Final = " │ "  # the bar is that of a box, U+2502
_BREAK = "\ue000"  # stands for an empty line of a template
_PART = "\ue001"  # begins the line that names a part
_MARKS = ("* ", "- ")
_AMOUNT = re.compile(r"-?[\d,.]+(?: \d+/\d+|/\d+)?")
_LONG = 0.6  # share of the width that the first column of a table may take
_WIDEST = 100  # characters of a line, however wide the window


def render(
    template: str, *, units: System = "metric", width: int | None = None, **names: Any
) -> str:
    """Text of a template of the package, folded to `width`; unfolded where that is None."""
    return folded(environment(units).get_template(template).render(**one_line(names)), width)


def parts_of(
    template: str, *, units: System = "metric", **names: Any
) -> dict[str, list[str | list[list[str]]]]:
    """Paragraphs, items and tables of each part of a template, by the name of the part."""
    text = environment(units).get_template(template).render(**one_line(names))
    found = (part.partition("\n") for part in text.split(_PART)[1:])
    return {name.strip(): blocks_of(part) for name, _, part in found}


def line(template: str, *, units: System = "metric", **names: Any) -> str:
    """One sentence from a text with places for figures, for a picture or a notice."""
    return folded(environment(units).from_string(template).render(**one_line(names)), None)


def terminal_width() -> int:
    """Characters of a line: those of the terminal, at most 100 unless COLUMNS asks for more."""
    width = shutil.get_terminal_size((80, 24)).columns
    return width if "COLUMNS" in os.environ else min(width, _WIDEST)


# --- what a filter says -----------------------------------------------------------------------


def whole(number: float) -> str:
    """Nearest whole number, a half upward."""
    return f"{math.floor(number + 0.5):,}"


def mean(number: float) -> str:
    """A mean of counts: one decimal below ten, none where it is whole."""
    return whole(number) if abs(number - round(number)) < 0.05 or number >= 10 else f"{number:.1f}"


def counted(number: float, word: str, several: str = "") -> str:
    """A number and its word: 1 fill, 12 fills."""
    text = whole(number)
    return f"{text} {word if text == '1' else several or f'{word}s'}"


def days(number: float) -> str:
    """Days in words: 1 day, 12 days."""
    return counted(number, "day")


def month(value: int | str) -> str:
    """Name of a month from its number, or from 2023-06 with its year."""
    if isinstance(value, int):
        return calendar.month_name[value]
    return f"{calendar.month_name[int(value[5:7])]} {value[:4]}"


def day(date: str | datetime.date) -> str:
    """A date without its year: 10 July."""
    date = _date(date)
    return f"{date.day} {calendar.month_name[date.month]}"


def day_of_year(number: float) -> str:
    """A day of a year without 29 February from its number, 1 for 1 January."""
    return day(datetime.date(2001, 1, 1) + datetime.timedelta(days=round(number) - 1))


def weekday(date: str | datetime.date) -> str:
    """The day of the week of a date: Thursday."""
    return calendar.day_name[_date(date).weekday()]


def date(date: str | datetime.date) -> str:
    """A date: 10 July 2027."""
    return f"{day(date)} {_date(date).year}"


def span(first: str | datetime.date, last: str | datetime.date) -> str:
    """From a date to a date, saying nothing twice: 25 June to 6 July 2023."""
    start, end = _date(first), _date(last)
    if start == end:
        return date(end)
    if start.year != end.year:
        return f"{date(start)} to {date(end)}"
    return f"{start.day if start.month == end.month else day(start)} to {date(end)}"


def later(first: str | datetime.date, number: float) -> datetime.date:
    """The date some days after another."""
    return _date(first) + datetime.timedelta(days=int(number))


def listed(names: Iterable[Any], word: str = "and") -> str:
    """Names with commas, and a word before the last."""
    texts = [str(name) for name in names]
    return f" {word} ".join(filter(None, [", ".join(texts[:-1]), *texts[-1:]]))


def percent(number: float, digits: int = 0) -> str:
    """A share in hundredths with its sign."""
    return f"{number:z,.{digits}f} %"


def small(number: float) -> str:
    """A figure near nothing, such as an error: two digits."""
    return f"{number:.2g}"


def between(low: str, high: str) -> str:
    """From one amount to another, the unit said once: 6 to 9 L."""
    return low if low == high else f"{bare(low)} to {high}"


def within(middle: float, low: float, high: float) -> str:
    """A middle and, in brackets, the ends where they differ: 4 (3 to 8)."""
    ends = between(whole(low), whole(high))
    return f"{whole(middle)} ({ends})" if " " in ends else whole(middle)


def every(low: float, high: float, middle: float | None = None) -> str:
    """How often: every 3 to 5 days, or with a middle, about every 4 days (3 to 8)."""
    ends = between(whole(low), whole(high))
    if middle is None:
        return "every day" if ends == "1" else f"every {ends} days"
    often = "every day" if whole(middle) == "1" else f"every {whole(middle)} days"
    return f"about {often} ({ends})" if ends != whole(middle) else f"about {often}"


def months(first: int, last: int, year: str = "") -> str:
    """From which month to which, in a year or in every year: from May to September 2024."""
    if first == 1 and last == 12:
        return f"all through {year}" if year else "all the year round"
    names = [calendar.month_name[first], calendar.month_name[last]]
    that_year = f" {year}" if year and first <= last else ""
    if first == last:
        return f"in {names[0]}{that_year}"
    join = "in {} and {}" if last == first % 12 + 1 else "from {} to {}"
    return f"{join.format(*names)}{that_year}"


def bare(text: str) -> str:
    """An amount without its unit, for a column that names it."""
    found = _AMOUNT.match(text)
    return found[0] if found else text.split(" ")[0]


_PLAIN = (
    whole, mean, counted, days, month, day, day_of_year, weekday, date, listed, percent, small,
    bare, trimmed,
)  # fmt: skip
_PHRASES = (between, within, every, months, span, later)
_AMOUNTS: Final[dict[str, Callable[[float, System], str]]] = {
    "litres": lambda amount, units: volume_text(amount / 1e3, units),
    "mm": lambda amount, units: depth_text(amount / 1e3, units),
    "cm": lambda amount, units: length_text(amount / 1e2, units),
    "kg": mass_text,
    "sawn": lambda amount, units: sawn_text(amount / 1e3, units),  # 120.5 mm, 95 5/8 in
    "bulk": lambda amount, units: bulk_text(amount / 1e3, units),  # of mix or stone
    # of kilograms on a square metre
    "load": lambda amount, units: (
        f"{amount / POUND * FOOT**2:,.0f} lb/ft2" if units == "us" else f"{amount:,.0f} kg/m2"
    ),
    # of rain, without its unit: tenths of an inch, whole millimetres
    "rain": lambda amount, units: f"{amount / 25.4:.1f}" if units == "us" else f"{amount:.0f}",
}
"""Amounts in the reader's units by the name of their filter, which says what they come in."""


def both(amount: float, kind: str, units: System) -> str:
    """An amount of a kind in both systems of units, the reader's first."""
    first, other = SYSTEMS if units == SYSTEMS[0] else SYSTEMS[::-1]
    return f"{_AMOUNTS[kind](amount, first)} ({_AMOUNTS[kind](amount, other)})"


@cache
def environment(units: System, *, markup: bool = False) -> jinja2.Environment:
    """Templates of text, or those of a page, with the filters that both share."""
    import jinja2

    made = jinja2.Environment(
        loader=jinja2.FunctionLoader(_markup if markup else lambda name: parted(_markup(name))),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=markup,
        extensions=["jinja2.ext.do"],
    )
    made.filters |= {function.__name__: function for function in _PLAIN}
    for name, told in _AMOUNTS.items():
        made.filters[name] = lambda amount, told=told: told(amount, units)
    made.filters["both"] = lambda amount, kind: both(amount, kind, units)
    made.globals |= {function.__name__: function for function in _PHRASES}
    names = ("US gal", "in", "in") if units == "us" else ("L", "mm", "cm")
    made.globals |= dict(zip(("units", "volume", "depth", "length"), (units, *names), strict=True))
    if not markup:
        made.globals["part"] = _PART.__add__
        made.globals["said"] = made.get_template("report/said.j2").module
    return made


def _markup(name: str) -> str:
    """Text of a template of the package."""
    return (Path(__file__).parent.parent / name).read_text(encoding="utf-8")


def one_line(value: Any) -> Any:
    """A value, or a whole summary, with every text in it made a piece of one line."""
    if isinstance(value, str):
        return printable(re.sub(r"\s+", " ", value).replace(CELL.strip(), "|"))
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = (field.name for field in dataclasses.fields(value) if field.init)
        return dataclasses.replace(
            value, **{name: one_line(getattr(value, name)) for name in fields}
        )
    if isinstance(value, dict):
        return {key: one_line(each) for key, each in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return type(value)(*map(one_line, value))
    return type(value)(map(one_line, value)) if type(value) in (list, tuple) else value


def _date(value: str | datetime.date) -> datetime.date:
    return datetime.date.fromisoformat(value) if isinstance(value, str) else value


# --- text that fits ---------------------------------------------------------------------------


def parted(text: str) -> str:
    """Text whose empty lines part its paragraphs, made ready for `folded`."""
    return re.sub(r"(?m)^[ \t]*$", _BREAK, text)


def folded(text: str, width: int | None) -> str:
    """Lines of a template put together and folded to a width, tables made to line up."""
    lines: list[str] = []
    for block in blocks_of(text):
        lines += table(block, width) if isinstance(block, list) else _paragraph(block, width)
    return "\n".join(lines).strip("\n")


def blocks_of(text: str) -> list[str | list[list[str]]]:
    """Lines of a template put together: paragraphs, empty between them, and rows of tables."""
    blocks: list[str] = []
    for raw in filter(None, (line.strip() for line in text.split("\n"))):
        broken = blocks[-1:] in ([], [""])
        if not raw.strip(_BREAK):
            blocks += [] if broken else [""]
        elif raw.startswith(_PART):
            continue
        elif broken or raw.startswith(_MARKS) or CELL in raw or CELL in blocks[-1]:
            blocks.append(raw)
        else:
            blocks[-1] += f" {raw}"
    found: list[str | list[list[str]]] = []
    for is_row, group in groupby(blocks, key=lambda block: CELL in block):
        if is_row:
            found.append([[cell.strip() for cell in row.split(CELL)] for row in group])
        else:
            found += [re.sub(r" +(?=[.,;:)])", "", re.sub(r"\s+", " ", each)) for each in group]
    return found


def _paragraph(block: str, width: int | None) -> list[str]:
    """Lines of a sentence, or of an item of a list."""
    first, rest = ("  ", "    ") if block.startswith("- ") else ("", "")
    block = first + (block[2:] if block.startswith(_MARKS) else block)
    if width is None:
        return [block]
    fold = partial(textwrap.wrap, break_long_words=False, break_on_hyphens=False)
    return fold(block, max(width, 30), subsequent_indent=rest) or [""]


def table(rows: Sequence[Sequence[str]], width: int | None = None) -> list[str]:
    """Lines of a table: the first column to the left, the others to the right.

    One that is too wide is cut into several, each of them with the first column, which is folded
    where it is long.
    """
    if width is not None:
        rows = [part for row in rows for part in _folded_row(row, int(_LONG * width))]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lined = [[row[0].ljust(widths[0]), *map(str.rjust, row[1:], widths[1:])] for row in rows]
    parts = [[0]]  # the columns of each
    for column in range(1, len(widths)):
        room = sum(2 + widths[at] for at in [*parts[-1], column]) - 2
        if width is not None and room > width and len(parts[-1]) > 1:
            parts.append([0])
        parts[-1].append(column)
    tables = [["  ".join(row[at] for at in part).rstrip() for row in lined] for part in parts]
    return [line for part in tables for line in ["", *part]][1:]


def _folded_row(row: Sequence[str], most: int) -> list[list[str]]:
    """A row of a table as one line, or as several where its first cell is long."""
    first, *more = textwrap.wrap(row[0], most, subsequent_indent="  ") or [""]
    return [[first, *row[1:]], *([part, *[""] * (len(row) - 1)] for part in more)]
