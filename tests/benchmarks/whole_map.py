"""``bedtide map`` whole, from the command to its page, against the bare column of its bed-days.

    nice python tests/benchmarks/whole_map.py         # 100 places x 30 years x 3 beds
    nice python tests/benchmarks/whole_map.py 1000    # a thousand: ten minutes

Told is the processor time of all processes, starting, reading, writing and drawing included. The
column is timed before and after each run, on some of the same places, by its processor time, in as
many threads as there are workers: two at once are slower than one.
"""

import os
import re

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ[name] = "1"

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parents[1]))

from bedtide.balance import run_many
from bedtide.bed import Bed, example_text, read_bed
from bedtide.column import move
from bedtide.weather import Options, open_places, ready_places
from cases import inputs_of
from helpers.region import region_of

COLUMNS = 20
SOME = 20  # places that the bare column is timed on
DEPTHS = ("35 cm", "40 cm", "45 cm")


def column_time(grid: Path, beds: list[Bed], threads: int) -> float:
    """Processor time of the column a bed-day, at some of the places, in so many threads [s]."""
    some = slice(None, None, max(1, open_places([grid], Options()).sizes["place"] // SOME))
    ready = ready_places(open_places([grid], Options()).isel(place=some), Options())
    first, days = ready["time"].values[0].astype("M8[D]").item(), ready.sizes["time"]
    demand = run_many(beds, ready, [first], days=days, threads=1).demand
    taken = []
    for _ in range(3):
        inputs = inputs_of(beds, ready, [first], days=days, demand=demand)
        begun = time.process_time()
        move(*inputs, threads=threads)
        taken.append((time.process_time() - begun) / (len(beds) * ready.sizes["place"] * days))
    return median(taken)


def spent() -> float:
    """Processor time of the processes that were started and have ended [s]."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main(places: int) -> None:
    """Run it with one worker and with two, and print a line for each."""
    with tempfile.TemporaryDirectory() as folder:
        grid = Path(folder) / "grid.nc"
        made = region_of(places // COLUMNS, COLUMNS, "1995-01-01", "2024-12-31").astype("f4")
        made.to_netcdf(grid)
        files = [Path(folder) / f"{depth[:2]}.toml" for depth in DEPTHS]
        for file, depth in zip(files, DEPTHS, strict=True):
            text = example_text().replace('name = "Kitchen bed"', f'name = "Bed of {depth}"')
            file.write_text(re.sub('(?m)^depth = "[^"]*"', f'depth = "{depth}"', text, count=1))
        beds = [read_bed(file) for file in files]
        days = places * len(beds) * made.sizes["time"]
        for workers in (1, 2):
            bare = column_time(grid, beds, workers)
            words = [f"--bed={file}" for file in files] + [f"--out={folder}/{workers}"]
            command = [sys.executable, "-m", "bedtide", "map", str(grid), *words, "--json"]
            clock, before = time.monotonic(), spent()
            subprocess.run(
                [*command, f"--workers={workers}"], check=True, stdout=subprocess.DEVNULL
            )
            clock, used = time.monotonic() - clock, spent() - before
            column = (bare + column_time(grid, beds, workers)) / 2.0
            print(
                f"{workers} workers, {days:,} bed-days: {clock:.0f} s by the clock, processor "
                f"{used:.0f} s or {used / days * 1e6:.2f} us a bed-day, the column alone "
                f"{column * 1e6:.2f}: {used / days / column:.2f} times"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
