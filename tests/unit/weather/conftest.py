"""Small weather files made on the spot."""

import numpy as np
import pytest

from bedtide.tables import samples_folder
from bedtide.weather import read_weather

PLACE = "# latitude: 48.0\n# elevation: 200 m\n"


@pytest.fixture
def write(tmp_path):
    """Write text, lines of it or bytes to a file and return its path."""

    def _write(text, name="garden.csv", encoding="utf-8"):
        path = tmp_path / name
        text = "\n".join(text) + "\n" if isinstance(text, list) else text
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return _write


@pytest.fixture
def rows():
    """Rows of a daily table: date, tmax, tmin, rain, wind, from 1 May 2021 on."""

    def _rows(days=10, first="2021-05-01"):
        dates = np.datetime64(first) + np.arange(days)
        return [
            [str(d), f"{20 + i % 5}.0", f"{10 + i % 3}.5", f"{(i % 4) * 1.5}", f"{1 + i % 3}.2"]
            for i, d in enumerate(dates)
        ]

    return _rows


@pytest.fixture
def table(write, rows):
    """Write a daily table, rows changed by a function."""

    def _table(change=None, days=10, header="date,tmax (C),tmin (C),rain (mm),wind at 2 m (m/s)"):
        body = rows(days)
        if change is not None:
            body = change(body) or body
        return write(PLACE + header + "\n" + "\n".join(",".join(r) for r in body) + "\n")

    return _table


@pytest.fixture(scope="module")
def good():
    return read_weather(samples_folder() / "mistlebeck.csv", start="2000-01-01", end="2011-12-31")
