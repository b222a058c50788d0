"""A hundred megabytes of rows fit into a gigabyte of memory."""

import datetime
import subprocess
import sys
from pathlib import Path

import pytest

CLOCKS = [f"{hour:02d}:{minute:02d}" for hour in range(24) for minute in range(0, 60, 10)]
READ = r"""
import pathlib, re, sys
from bedtide.weather import read_weather
weather = read_weather(sys.argv[1], accept=["columns"])
# not ru_maxrss: a child begins with the memory of the process that started it
most = re.search(r"VmHWM:\s+(\d+)", pathlib.Path("/proc/self/status").read_text())[1]
print(weather.sizes["time"], most)
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="tells its memory on Linux only")
def test_a_hundred_megabytes_of_rows_take_less_than_a_gigabyte(tmp_path):
    path, day, days = tmp_path / "large.csv", datetime.date(1960, 1, 1), 20_000
    rest = [
        f"{10 + abs(at - 90) / 72 - at / 36:.2f},{50 + at % 40},{1 + at % 7}.5,"
        f"{100 if 40 < at < 110 else 0}.0,0.{at % 3 == 0:d}"
        for at in range(len(CLOCKS))
    ]
    with path.open("w") as file:
        file.write("# latitude: 45\n# elevation: 100 m\n# wind height: 2 m\n")
        file.write("date,temperature (C),rh (%),wind (m/s),radiation (W/m2),rain (mm)\n")
        for number in range(days):
            now = day + datetime.timedelta(days=number)
            file.writelines(
                f"{now} {clock},{more}\n" for clock, more in zip(CLOCKS, rest, strict=True)
            )
    assert path.stat().st_size > 100e6
    read = [sys.executable, "-c", READ, str(path)]
    done = subprocess.run(read, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-800:]
    count, kilobytes = map(int, done.stdout.split())
    assert count == days
    assert kilobytes < 1_000_000
