"""Circle segments against printed tables and worked examples; sources beside the values.

Tables: ``values/circle_segment.csv``, to half the last printed digit.
Worked examples, both read:

* a tank end 160 cm wide and 40 cm deep, radius 100 cm, 4472.95 cm2 (chrisandbev.pwp.blueyonder
  .co.uk, catswhiskers/tank2.htm, "Tank Volume calculation");
* a lying tank 10 m long, radius 0.725 m, filled to 0.2 m below its top, 15.138 m3
  (hackmath.net/en/math-problem/3613).
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from bedtide.bed.forms import chord, segment_area, segment_depth

TABLE = Path(__file__).parent / "values" / "circle_segment.csv"


def _rows():
    lines = [line for line in TABLE.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def _half_digit(text):
    """Half of the last printed digit; a trailing zero that was dropped makes it no smaller."""
    return 0.5 * 10.0 ** -len(text.partition(".")[2])


@pytest.mark.parametrize("row", _rows(), ids=lambda row: f"{row['id']} {row['depth']}")
def test_table(row):
    diameter = 0.1016  # any size: the table is relative
    depth = float(row["depth"]) * diameter
    area = segment_area(depth, diameter / 2) / diameter**2
    width = chord(depth, diameter / 2) / diameter
    assert area == pytest.approx(float(row["area"]), abs=_half_digit(row["area"]))
    assert width == pytest.approx(float(row["width"]), abs=_half_digit(row["width"]))
    assert segment_depth(segment_area(depth, diameter / 2), diameter / 2) == pytest.approx(depth)


def test_worked_example_tank_end():
    assert chord(40.0, 100.0) == pytest.approx(160.0, abs=0.5)
    assert segment_area(40.0, 100.0) == pytest.approx(4472.95, abs=0.005)


def test_worked_example_lying_tank():
    full = np.pi * 0.725**2
    above = segment_area(0.2, 0.725)
    assert chord(0.2, 0.725) == pytest.approx(1.0)
    assert 10.0 * (full - above) == pytest.approx(15.138, abs=0.0005)
    assert 10.0 * segment_area(2 * 0.725 - 0.2, 0.725) == pytest.approx(15.138, abs=0.0005)
