"""Compare very many beds over many years in a process of its own; how much memory that takes.

nice python tests/benchmarks/memory.py [--beds 10000] [--years 30]

Prints bed-days, seconds and the largest resident set, and fails if the first beds do not have the
same figures as they have alone.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time

import numpy as np

from bedtide import compare
from cases import crowd, record, whole

CHECKED = 3  # beds that are run alone as well
UNIT = 1 if sys.platform == "darwin" else 1024  # of the largest resident set [byte]


def largest() -> float:
    """Largest resident set of this process so far [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * UNIT / 1e6


def main() -> None:
    """Run it once."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--beds", type=int, default=10_000)
    parser.add_argument("--years", type=int, default=30)
    given = parser.parse_args()
    weather, years = record(given.years), whole(given.years)
    beds = crowd(given.beds)
    alone = [compare([bed], weather, years=years) for bed in beds[:CHECKED]]
    before = largest()
    bed_days = given.beds * len(years.starts) * years.days
    begun = time.perf_counter()
    done = 0

    def told(more: int) -> None:
        nonlocal done
        if sys.stderr.isatty() and (done + more) * 100 // bed_days > done * 100 // bed_days:
            print(f"\r{(done + more) * 100 // bed_days} %", end="", file=sys.stderr, flush=True)
        done += more

    found = compare(beds, weather, years=years, progress=told)
    took = time.perf_counter() - begun
    for number, one in enumerate(alone):
        for name in one.data_vars:
            together = found[name] if "bed" not in found[name].dims else found[name][[number]]
            assert np.array_equal(
                together.to_numpy(), one[name].to_numpy(), equal_nan=one[name].dtype.kind == "f"
            ), f"{name} of bed {number} is not that of the same bed alone"
    print(
        f"{given.beds:,} beds x {len(years.starts)} years: {bed_days / 1e6:.1f} M bed-days in "
        f"{took:.1f} s, {took / bed_days * 1e6:.2f} us each; at most {largest():,.0f} MB, "
        f"of which {before:,.0f} MB before it began"
    )


if __name__ == "__main__":
    main()
