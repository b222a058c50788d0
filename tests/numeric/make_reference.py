"""Solve all cases and store them:  python tests/numeric/make_reference.py  (half an hour).

Cases whose solver and numbers have not changed are kept; --all solves every one again. A stopped
run goes on where it was. On several cores: start it with 1/2 and 2/2 (each solves every second).
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from numeric.cases import alone, cases, digest, read, solved, write


def main() -> None:
    share = [word for word in sys.argv[1:] if "/" in word] or ["1/1"]
    which, of = map(int, share[0].split("/"))
    marks = {case.name: digest(case) for case in cases()}
    kept = {} if "--all" in sys.argv else read()
    left = [case for case in cases() if kept.get(case.name, ("",))[0] != marks[case.name]]
    for case in left[which - 1 :: of]:
        began = time.process_time()
        found = solved(case)
        print(f"{time.process_time() - began:5.1f} s  {case.name}", flush=True)
        with alone():  # after each, so that a stopped run can go on
            known = {name: found for name, found in read().items() if found[0] == marks.get(name)}
            write(known | {case.name: (marks[case.name], found)})


if __name__ == "__main__":
    main()
