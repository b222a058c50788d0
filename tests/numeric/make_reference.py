"""Solve all cases and store them:  python tests/numeric/make_reference.py  (ten minutes).

Cases whose solver and numbers have not changed are kept; --all solves every one again.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from numeric.cases import (
    Case,
    Stored,
    cases,
    digest,
    solved,
    stored,
    stored_digest,
    write,
)


def main() -> None:
    marks = {case: digest(case) for case in cases()}
    kept = [case for case in cases() if stored_digest(case) == marks[case]]
    results: dict[Case, Stored] = {case: stored(case) for case in kept if "--all" not in sys.argv}
    for case in cases():
        if case in results:
            continue
        began = time.perf_counter()
        results[case] = solved(case)
        print(f"{time.perf_counter() - began:5.1f} s  {case.name}", flush=True)
        write(results, marks)  # after each, so that a stopped run can go on
    write(results, marks)


if __name__ == "__main__":
    main()
