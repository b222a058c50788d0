"""Where the marks of a drawing stand: figures to coordinates and to the text of SVG paths."""

from __future__ import annotations

import datetime
import math
from calendar import month_abbr, month_name
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby, pairwise
from typing import Any, NamedTuple

Values = Sequence[float | None]
_STEPS = (1.0, 2.0, 5.0, 10.0)
_LETTERS = 30.0  # width that the name of a month or a date takes


class Frame(NamedTuple):
    """The ground of a chart in its drawing: its corner, its size, how many days, how much."""

    left: float
    top: float
    width: float
    height: float
    days: int
    most: float

    def x(self, day: float) -> float:
        """Where the middle of a day stands, the first one 0."""
        return round(self.left + (day + 0.5) * self.width / self.days, 1)

    def y(self, value: float) -> float:
        """Where a value stands."""
        return round(self.top + self.height * (1.0 - value / self.most), 1)

    @property
    def bottom(self) -> float:
        """Where nought stands."""
        return self.top + self.height


def most(*series: Iterable[float | None]) -> float:
    """Upper end of an axis for values, with some room; one where all are nought."""
    largest = max((v for values in series for v in values if v is not None), default=0.0)
    return 1.08 * largest if largest > 0 else 1.0


def ticks(upper: float, wanted: int = 3) -> list[float]:
    """Round numbers from nought to an upper end.

    >>> ticks(47.0)
    [0.0, 20.0, 40.0]
    """
    scale = 10.0 ** math.floor(math.log10(upper / wanted))
    step = next(scale * s for s in _STEPS if scale * s * wanted >= upper * 0.85)
    return [round(step * at, 10) for at in range(int(upper / step + 1e-9) + 1)]


def reach(bars: Iterable[Mapping[str, Any]]) -> float:
    """Where the longest bar of a table ends, or the line over it."""
    ends = [max(bar["value"] + (bar.get("more") or 0.0), bar.get("high") or 0.0) for bar in bars]
    return float(max([*ends, 1e-9]))


# --- paths, in tenths of the units of the drawing ----------------------------------------------


def line(frame: Frame, values: Values) -> str:
    """Path through the days that have a value."""
    parts = groupby(enumerate(values), key=lambda day: day[1] is not None)
    return "".join(
        _path([(frame.x(day), frame.y(value or 0.0)) for day, value in part])
        for known, part in parts
        if known
    )


def area(frame: Frame, values: Sequence[float], under: Sequence[float] | None = None) -> str:
    """Path of a band from one series up to the sum of both, or from nought."""
    low = under if under is not None else [0.0] * len(values)
    foot = [(frame.x(day), frame.y(value)) for day, value in enumerate(low)]
    tops = [frame.y(a + b) for a, b in zip(low, values, strict=True)]
    roof = [(x, top) for (x, _), top in zip(foot, tops, strict=True)]
    return _path(roof + foot[::-1]) + "z"


def bars(frame: Frame, values: Values) -> str:
    """Path of a bar on each day that has more than nought."""
    foot, words, x, y = 10 * frame.bottom, [], 0.0, 0.0
    for day, value in enumerate(values):
        if value:
            right, top = 10 * frame.x(day), 10 * frame.y(value)
            words.append(f"m{right - x:.0f} {foot - y:.0f}v{top - foot:.0f}")
            x, y = right, top
    return "".join(words).replace(" -", "-")


def runs(frame: Frame, rows: Sequence[Sequence[int]], faces: Sequence[float]) -> list[Run]:
    """Bands of each class 0 to 4 and row, the rows from the floor up.

    The class that a row has most is drawn along all of it, the others over it.
    """
    width = 10 * frame.width / frame.days
    ends = [round(10 * frame.left + day * width) for day in range(frame.days + 1)]
    found = []
    for row, (low, high) in zip(rows, pairwise(faces), strict=True):
        top, bottom = 10 * frame.y(high), 10 * frame.y(low)
        start, thick = f"M{ends[0]} {(top + bottom) / 2:g}", bottom - top + 8.0
        ground = max(set(row), key=row.count)
        words, at, day = dict.fromkeys(set(row), start), dict.fromkeys(set(row), ends[0]), 0
        for kind, group in groupby(row):
            begin, day = ends[day], day + len(list(group))
            words[kind] += f"m{begin - at[kind]} 0h{ends[day] - begin}"
            at[kind] = ends[day]
        found.append(Run(ground, thick, f"{start}H{ends[-1]}"))
        found += [Run(kind, thick, words[kind]) for kind in sorted(words) if kind != ground]
    return found


class Run(NamedTuple):
    """Bands of one class in one row: class, thickness, and the path through their middle."""

    kind: int
    thick: float
    path: str


def _path(points: Sequence[tuple[float, float]]) -> str:
    """Path through points, those left out that lie on the way from the one before to the next."""
    at = [(round(10 * x), round(10 * y)) for x, y in points]
    kept = [at[0]]
    for here, after in pairwise(at[1:]):
        if not _between(kept[-1], here, after):
            kept.append(here)
    kept += at[1:][-1:]
    steps = [f"{x - a} {y - b}" for (a, b), (x, y) in pairwise(kept)] or ["1 0"]
    return f"M{kept[0][0]} {kept[0][1]}l" + " ".join(steps).replace(" -", "-")


def _between(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> bool:
    """Whether b lies on the straight way from a to c, to a tenth of a unit."""
    if not min(a[0], c[0]) <= b[0] <= max(a[0], c[0]):
        return False
    cross = (c[0] - a[0]) * (b[1] - a[1]) - (c[1] - a[1]) * (b[0] - a[0])
    return abs(cross) <= 0.5 * math.hypot(c[0] - a[0], c[1] - a[1])


# --- along a chart ----------------------------------------------------------------------------


class Axis(NamedTuple):
    """What a chart runs along: what it is, the name of each place, and those told below it."""

    head: str
    names: list[str]
    ticks: list[tuple[int, str]]


def dated(days: Sequence[str], width: float = 294.0) -> Axis:
    """Dates along a chart of some width: months are told below it, or dates of a short one.

    A date has its year where another one of the chart would be called the same without.

    >>> dated(["2024-01-31", "2024-02-01"])
    Axis(head='Day', names=['31 Jan', '1 Feb'], ticks=[(0, '31 Jan'), (1, '1 Feb')])
    """
    read = [datetime.date.fromisoformat(day) for day in days]
    names = brief = [f"{day.day} {month_abbr[day.month]}" for day in read]
    if len({*brief}) < len(brief):
        names = [f"{text} {day.year}" for text, day in zip(brief, read, strict=True)]
    room = max(int(width / _LETTERS), 2)
    months = [(at, month_abbr[day.month]) for at, day in enumerate(read) if day.day == 1]
    if len(read) > 75 and len(months) >= 2:
        return Axis("Day", names, months[:: math.ceil(len(months) / room)])
    step = max(math.ceil(len(read) * 1.7 / room), 1)
    return Axis("Day", names, [(at, brief[at]) for at in range(0, len(read), step)])


def yearly(days: Sequence[str]) -> Axis:
    """Dates of any year, some days apart: months are told below them.

    >>> yearly(["2001-01-26", "2001-01-31", "2001-02-05"])
    Axis(head='Date', names=['26 January', '31 January', '5 February'], ticks=[(2, 'Feb')])
    """
    read = [datetime.date.fromisoformat(day) for day in days]
    opens = [at for at, (one, two) in enumerate(pairwise(read), 1) if one.month != two.month]
    names = [f"{day.day} {month_name[day.month]}" for day in read]
    told = [(at, month_abbr[read[at].month]) for at in opens]
    return Axis("Date", names, told[:: 2 if len(told) > 9 else 1])


def counted(head: str, numbers: Sequence[int], lead: str = "") -> Axis:
    """Whole numbers along a chart, such as days since a start; round ones are told below it."""
    step = ticks(max(len(numbers), 6), 6)[1]
    told = [(at, str(number)) for at, number in enumerate(numbers) if number % step == 0]
    return Axis(head, [f"{lead}{number}" for number in numbers], told)


def by_month(days: Sequence[str]) -> list[tuple[str, list[tuple[int, int]]]]:
    """Months of the days, each with its days: number in the month and place in the list."""
    keys = groupby(enumerate(days), key=lambda day: day[1][:7])
    return [(month, [(int(day[8:]), at) for at, day in each]) for month, each in keys]
