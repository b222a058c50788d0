"""Time every case, and check that the slow ways give what the fast ones give.

python tests/benchmarks/compare.py [--quick]

Rounds are interleaved and run on one thread; what is printed is the median and the spread of a
round. Nothing is asserted of time; that the ways agree is.
"""

# One thread, set before numpy is loaded.
from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse
import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np

import plain_ways
from bedtide.profile import axes_of, look_up, place, stacked
from bench_daily import ManyBeds, OneBed
from bench_start import Start
from bench_tables import Tables
from bench_weather import Record
from cases import many, record, twelve_tables

DAYS = 365


def ready(made: type[Any], *params: int) -> Any:
    """A benchmark, set up."""
    case = made()
    if hasattr(case, "setup"):
        case.setup(*params)
    return case


def ways(*, quick: bool) -> list[tuple[str, str, Callable[[], object], Callable[[float], str]]]:
    """Name, target, what is timed, and how its seconds are told."""
    start, tables, one, weather = ready(Start), ready(Tables), ready(OneBed), ready(Record)
    found = [
        ("tables of a new bed", "< 300 ms", tables.time_a_new_bed, _ms),
        ("one bed, one year, to a Dataset", "< 30 ms", one.time_a_year, _ms),
        ("read 30 years of daily weather", "< 1000 ms", weather.time_read, _ms),
        ("ET0 of 30 years", "", weather.time_demand, _ms),
        ("what 30 years are worth", "", weather.time_report, _ms),
        ("import bedtide, new process", "", start.time_import, _ms),
        ("bedtide --help", "", start.time_help, _ms),
        ("bedtide season", "< 3000 ms", start.time_season, _ms),
    ]
    for beds in (1, 1000) if quick else ManyBeds.params:
        case = ready(ManyBeds, beds)
        big = beds >= 1000
        for name, target, method in (
            ("balance alone", ">= 8 M/s", "time_balance"),
            ("with every reading", ">= 3 M/s", "time_balance_and_readings"),
        ):
            found.append(
                (
                    f"{beds:,} beds, one year, {name}",
                    target if big else "",
                    lambda case=case, beds=beds, method=method: getattr(case, method)(beds),
                    lambda seconds, beds=beds: f"{beds * DAYS / seconds / 1e6:.2f} M bed-days/s",
                )
            )
    return found


def _ms(seconds: float) -> str:
    return f"{seconds * 1e3:.0f} ms"


def agree(*, quick: bool) -> None:
    """Fail where two ways to the same answer differ."""
    case = many(7 if quick else 60, days=90)
    together, alone = case.balance(), plain_ways.one_bed_at_a_time(case)
    for name, fast, slow in zip(together._fields, together, alone, strict=True):
        assert np.array_equal(fast, slow), f"{name}: one bed alone differs from the same in a crowd"
    print(f"{case.which.size} beds together = each alone, bit for bit")

    table = twelve_tables()[0]
    states = np.random.default_rng(1).uniform(
        [table.grid.dead, table.lower_bounds[0], table.upper_bounds[0]],
        [table.grid.cap, table.lower_bounds[1], table.upper_bounds[1]],
        (2000, 3),
    )
    stack = stacked([table])
    axes = axes_of(stack, np.zeros(len(states), dtype=np.intp))
    moved = look_up(stack.exchange, place(stack, axes, states.T))
    off = np.abs(plain_ways.exchange_by_scipy(table, states.T) - [moved.real, moved.imag]).max()
    assert off < 1e-7, off
    print(f"look-up = scipy's interpolator within {off * 1e3:.1e} mm")

    weather = record(2 if quick else 30)
    off = np.abs(plain_ways.demand_year_by_year(weather) - weather["et0"].to_numpy()).max()
    assert off < 1e-12, off
    print("ET0 of a record = ET0 year by year")


def main() -> None:
    """Print one line for each case."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="small cases, two rounds")
    quick = parser.parse_args().quick
    agree(quick=quick)
    cases = ways(quick=quick)
    took: list[list[float]] = [[] for _ in cases]
    for _ in range(2 if quick else 7):
        for seconds, (_, _, work, _) in zip(took, cases, strict=True):
            begun = time.perf_counter()
            work()
            seconds.append(time.perf_counter() - begun)
    width = max(len(name) for name, *_ in cases)
    print(f"{'case'.ljust(width)}  {'median':>20}  {'best to worst':>42}  target")
    for seconds, (name, target, _, told) in zip(took, cases, strict=True):
        spread = f"{told(min(seconds))} to {told(max(seconds))}"
        print(
            f"{name.ljust(width)}  {told(statistics.median(seconds)):>20}  {spread:>42}  {target}"
        )


if __name__ == "__main__":
    main()
