"""Time every case, and check that the slow ways give what the fast ones give.

python tests/benchmarks/compare.py [--quick]

Rounds are interleaved: every case once, then every case again. Printed are the median and the
spread of the rounds, and the 95th percentile where that is asked. Work in this process runs on one
thread unless its name says otherwise, and is timed by the processor time that it takes, so that
other users of the machine disturb it less; two threads, new processes and a change of the play page
are timed by the clock. Nothing is asserted of time; that the ways agree is.
"""

# One thread, set before numpy is loaded.
from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

import plain_ways
from bedtide import compare, refills, run_many, wetness
from bedtide.balance import season_dataset
from bedtide.column import FIGURES
from bench_answers import Decisions, NewBed, OneBed
from bench_kernel import Extreme, Lines, Ordinary, Threads, Ways
from bench_page import Change, Page
from bench_places import Block
from bench_start import Start
from bench_weather import Record
from cases import crowd, extreme, ordinary, record, summer, whole, work

HERE = Path(__file__).parent
UNITS = {"us": 1e6, "ms": 1e3, "s": 1.0}


@dataclass
class Row:
    """One case: what is timed, how often it holds the unit of work, and what it is asked to take.

    Attributes
    ----------
    name, asked : str
        For the table.
    call : callable or None
        What is timed; None for the sum of the rows named in `parts`.
    size : float
        Units of work in a call, such as bed-days.
    unit : str
        Of the figure, a key of `UNITS`.
    clock : callable
        Seconds.
    against : str
        Row over which its ratio is printed.
    note : str
        For the end of the line.
    calls : int
        How often it is called in a round.
    slow : bool
        Whether the 95th percentile of the calls is told.
    before : callable or None
        What is done before each call and not timed.
    rounds : int
        In how many of the rounds it takes part.
    """

    name: str
    call: Callable[[], object] | None
    size: float = 1.0
    unit: str = "ms"
    asked: str = ""
    clock: Callable[[], float] = time.process_time
    against: str = ""
    note: str = ""
    calls: int = 1
    slow: bool = False
    parts: tuple[str, ...] = ()
    before: Callable[[], object] | None = None
    rounds: int = 100
    took: list[float] = field(default_factory=list)

    def figure(self, seconds: float) -> float:
        """Time of one unit of work in the unit of the row."""
        return seconds / self.size * UNITS[self.unit]


def ready(made: type[Any], *params: Any, **more: int) -> Any:
    """A benchmark, set up."""
    case = made()
    case.setup(*params, **more)
    return case


def kernel(kind: type[Any], group: str, asked: str, *, quick: bool) -> list[Row]:
    """A row for each bed of a kind, and one for all of them."""
    rows = []
    for name in kind.params:
        case = ready(kind, name, years=1 if quick else 30)
        counts, days = case.work()[2][0], case.work.bed_days
        cells = int(case.work.inputs.cells.number[0])
        note = f"{cells} cells, {counts[0] / days:.1f} steps, {counts[1] / days:.1f} passes a day"
        if counts[3]:
            note += f", safe on {counts[3] / days:.2%} of days"
        rows.append(Row(f"{group}: {name}", case.work, days, "us", note=note))
    names, days = tuple(row.name for row in rows), sum(row.size for row in rows)
    return [*rows, Row(f"{group}: all of them", None, days, "us", asked, parts=names)]


def threads(*, quick: bool) -> list[Row]:
    """The same beds on one thread and on two."""
    size = {"beds": 16, "years": 1} if quick else {}
    case = ready(Threads, 1, **size)
    days, clock = case.work.bed_days, time.perf_counter
    two, one = (
        Row(f"{beds} by the clock", lambda n=n: case.work(threads=n), days, "us", clock=clock)
        for n, beds in ((2, "two threads"), (1, "one thread"))
    )
    one.against, one.asked = two.name, "1.9 x two threads"
    return [two, one]


def ways(lines: Lines, *, quick: bool) -> list[Row]:
    """The same days by the compiled step and in other ways."""
    case = ready(Ways)
    fast, slow = case.years.bed_days, case.days.bed_days
    name, season = "example: compiled step", "season: compiled step"
    days = lines.work.bed_days
    return [
        Row(name, case.time_compiled, fast, "us"),
        Row("example: plain Python", case.time_plain_python, slow, "us", against=name),
        Row("example: copies of inputs, outputs", case.time_copies, fast, "us", against=name),
        Row(season, lines.time_compiled, days * lines.again, "us", note=lines.case.name),
        Row(
            "season: method of lines",
            lines.time_lines,
            days,
            "us",
            "> 1,000 x",
            against=season,
            rounds=1 if quick else 3,
        ),
    ]


def answers(*, quick: bool) -> list[Row]:
    """One bed with everything around it, and many."""
    one, new = ready(OneBed), ready(NewBed)
    beds, years = (8, 2) if quick else (200, 30)
    many = ready(Decisions, beds, years=years)
    bed_days = beds * years * 365
    clock = time.perf_counter
    return [
        Row(
            "a new bed made ready",
            new.time_new_beds,
            new.beds,
            asked="< 1 ms",
            before=new.setup,
        ),
        Row("one bed, one year, to a Dataset", one.time_a_year, asked="< 2 ms"),
        Row("one bed, 30 years, to a Dataset", one.time_30_years, asked="< 50 ms"),
        Row(
            f"compare {beds} beds x {years} years, all threads",
            lambda: many.time_compare(beds),
            unit="s",
            clock=clock,
            note=f"{bed_days / 1e6:.1f} M bed-days",
        ),
        Row(f"a week away in {years} years", lambda: many.time_away(beds), clock=clock),
    ]


def places(block: Block) -> list[Row]:
    """Three beds at some places with all that is around the column, and ET0 of the places."""
    bare, all_at_once = "places: bare column", "places: ET0 of all at once"
    days, each = block.bed_days, block.place_days
    return [
        Row(bare, block.time_column, days, "us", before=block.fresh),
        Row("places: a block", block.time_block, days, "us", "< 1.5 x", against=bare),
        Row(all_at_once, block.time_et0, each, "us"),
        Row("places: ET0 one by one", block.time_et0_one_by_one, each, "us", against=all_at_once),
    ]


def around(*, quick: bool) -> list[Row]:
    """Weather, and new processes."""
    weather, start, clock = ready(Record), Start(), time.perf_counter
    page = ready(Page)
    return [
        Row("read 30 years of daily weather", weather.time_read, asked="< 1000 ms"),
        Row("ET0 of 30 years", weather.time_demand),
        Row("what 30 years are worth", weather.time_report),
        Row("the first page of a process", page.time_page, asked="< 500 ms", before=page.forget),
        Row("a page after it", page.time_page),
        Row(
            "a change on the play page, by the clock",
            ready(Change).time_change,
            asked="95 % < 1000 ms",
            clock=clock,
            calls=2 if quick else 10,
            slow=True,
        ),
        Row("import bedtide, new process", start.time_import, clock=clock),
        Row("bedtide --help", start.time_help, clock=clock),
        Row("bedtide season, compiled before", start.time_season, asked="< 2000 ms", clock=clock),
    ]


def agree(lines: Lines, *, quick: bool) -> None:
    """Fail where two ways to the same answer differ."""
    beds = [*ordinary().values(), *extreme().values()]
    together, alone = work(beds, days=120), [work([bed], days=120) for bed in beds]
    figures = together()[0]
    assert np.array_equal(figures, together(threads=2)[0]), "two threads differ from one"
    assert np.array_equal(figures, plain_ways.one_bed_at_a_time(alone)), "alone differs from crowd"
    print(f"{len(beds)} beds together = each alone = on two threads, bit for bit")

    # A step is accepted within a hundredth of a millimetre, and rounding can tip one either way.
    days = summer(ordinary()["example"], 3 if quick else 20)
    off = np.abs(days()[0] - plain_ways.in_plain_python(days, plain_ways.plain_move()))
    worst = FIGURES[int(off.max(axis=(1, 2)).argmax())]
    assert off.max() < 2e-5, f"plain Python differs by {off.max()} in {worst}"
    print(f"compiled step = plain Python within {off.max():.0e} m or shares")

    # Bounds of tests/numeric, where every case is held to them.
    model, other = lines.found, lines.solved
    off = 1000 * np.abs(model.open_water - other.open_water)[other.open_water > 0.0005].max()
    taken = 100 * (model.transpiration.sum() / other.transpiration.sum() - 1)
    assert off < 3.0, f"the store is {off:.2f} mm from that of the method of lines"
    assert abs(taken) < 2.0, f"the plants get {taken:+.2f} % more than by the method of lines"
    print(f"compiled step = method of lines within {off:.1f} mm of the store, {taken:+.1f} % drunk")

    beds, years, weather = crowd(12), whole(2), record(2)
    found = compare(beds, weather, years=years)
    for number, bed in enumerate(beds):
        run = run_many([bed], weather, years.starts, days=years.days)
        for column, _ in enumerate(years.starts):
            season = season_dataset(run, weather, column=column)
            for reading in (refills(season), wetness(season)):
                for name in set(reading.data_vars) & set(found.data_vars):
                    mine, theirs = float(reading[name]), float(found[name][number, column])
                    same = np.isclose(mine, theirs, rtol=1e-12, atol=0.0, equal_nan=True)
                    assert same, f"{name} of bed {number}: {mine} and {theirs}"
    print(f"compare = the readings of each season, {len(beds)} beds, {len(years.starts)} years")

    weather = record(2 if quick else 30)
    off = np.abs(plain_ways.demand_year_by_year(weather) - weather["et0"].to_numpy()).max()
    assert off < 1e-12, off
    print("ET0 of a record = ET0 year by year")


def timed(rows: list[Row], rounds: int) -> None:
    """Every row once, then every row again."""
    for turn in range(rounds):
        for row in rows:
            for _ in range(row.calls if row.call is not None and turn < row.rounds else 0):
                if row.before is not None:
                    row.before()
                begun = row.clock()
                row.call()
                row.took.append(row.clock() - begun)
    by_name = {row.name: row for row in rows}
    for row in rows:
        if row.parts:
            parts = [by_name[name].took for name in row.parts]
            row.took = [sum(each) for each in zip(*parts, strict=True)]


def table(rows: list[Row]) -> None:
    """Print a line for each row."""
    middle = {row.name: row.figure(statistics.median(row.took)) for row in rows}
    width = max(len(row.name) for row in rows)
    print(f"\n{'case'.ljust(width)} {'median':>12} {'best to worst':>19}  ratio, asked")
    for row in rows:
        low, high = row.figure(min(row.took)), row.figure(max(row.took))
        ratio = f"{middle[row.name] / middle[row.against]:,.3g} x" if row.against else ""
        slow = f"95 %: {row.figure(float(np.percentile(row.took, 95))):.3g}" if row.slow else ""
        last = ", ".join(part for part in (ratio, slow, row.asked, row.note) if part)
        spread = f"{low:.3g} to {high:.3g}"
        print(
            f"{row.name.ljust(width)} {middle[row.name]:>9.3g} {row.unit:<2} {spread:>19}  {last}"
        )


def main() -> None:
    """Check, time, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="small cases, two rounds")
    quick = parser.parse_args().quick
    lines = ready(Lines)
    agree(lines, quick=quick)
    block = ready(Block, *((4, 2) if quick else ()))
    same = np.array_equal(block.time_et0(), block.time_et0_one_by_one())
    assert same, "ET0 of places differs from that of each"
    print("ET0 of places at once = one place after the other, bit for bit")
    rows = [
        *kernel(Ordinary, "ordinary", "<= 2.5 us", quick=quick),
        *kernel(Extreme, "extreme", "<= 8 us", quick=quick),
        *threads(quick=quick),
        *ways(lines, quick=quick),
        *answers(quick=quick),
        *places(block),
        *around(quick=quick),
    ]
    busy = os.getloadavg()[0]
    rounds = 2 if quick else 7
    print(f"{rounds} rounds, {os.cpu_count()} cores, {busy:.1f} processes busy as they begin")
    timed(rows, rounds)
    table(rows)
    size = ("--beds", "40", "--years", "2") if quick else ("--beds", "1000", "--years", "5")
    subprocess.run([sys.executable, HERE / "memory.py", *size], check=True)


if __name__ == "__main__":
    main()
