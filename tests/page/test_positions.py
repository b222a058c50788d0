"""Where marks stand: paths are read back by other code and compared with the figures."""

import re

import numpy as np
import pytest

from bedtide.report.page.positions import (
    Frame,
    area,
    bars,
    by_month,
    counted,
    dated,
    line,
    most,
    runs,
    ticks,
)

FRAME = Frame(left=30, top=10, width=300, height=80, days=100, most=40)


def points(path):
    """Corners of a path of M, m, l, H, h, V and v, in units of the drawing."""
    x = y = 0.0
    found = []
    for command, text in re.findall(r"([MmlHhVvz])([^MmlHhVvz]*)", path):
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", text)]
        for at in range(0, len(numbers), 1 if command in "HhVv" else 2):
            if command == "M":
                x, y = numbers[at : at + 2]
            elif command in "ml":
                x, y = x + numbers[at], y + numbers[at + 1]
            elif command in "Hh":
                x = numbers[at] + (x if command == "h" else 0.0)
            else:
                y = numbers[at] + (y if command == "v" else 0.0)
            found.append((x / 10, y / 10))
    return np.array(found)


def test_the_ground_of_a_chart():
    # 100 days over 300: the first is 3 wide and its middle 1.5 in; 10 of 40 is a quarter of 80 up.
    assert FRAME.x(0) == 31.5
    assert FRAME.x(99) == 328.5
    assert FRAME.y(0) == FRAME.bottom == 90
    assert FRAME.y(40) == 10
    assert FRAME.y(10) == 70


def test_a_line_passes_through_every_day():
    values = (20 + 15 * np.sin(np.arange(100) / 5)).tolist()
    drawn = points(line(FRAME, values))
    assert len(drawn) < 100  # what lies on the way is left out
    for day, value in enumerate(values):
        x, y = 31.5 + 3 * day, 90 - 2 * value
        assert np.interp(x, drawn[:, 0], drawn[:, 1]) == pytest.approx(y, abs=0.16)


def test_a_straight_line_is_two_points():
    assert len(points(line(FRAME, [10.0] * 100))) == 2
    assert len(points(line(FRAME, [0.4 * day for day in range(100)]))) == 2


def test_a_line_that_turns_back_keeps_its_corner():
    assert len(points(line(FRAME, [0.0, 40.0, 0.0]))) == 3


def test_days_without_a_value_part_a_line():
    path = line(FRAME, [None, 1.0, 2.0, None, 5.0, None])
    assert path.count("M") == 2
    assert points(path)[0] == pytest.approx((34.5, 88))


def test_an_area_goes_up_over_what_is_under_it_and_back():
    drawn = points(area(FRAME, [10.0, 20.0, 10.0], [5.0, 0.0, 5.0]))
    expected = [(31.5, 60), (34.5, 50), (37.5, 60), (37.5, 80), (34.5, 90), (31.5, 80)]
    assert drawn == pytest.approx(np.array(expected), abs=0.06)


def test_a_bar_stands_on_each_day_with_an_amount():
    drawn = points(bars(FRAME, [0.0, 30.0, None, 10.0]))
    assert drawn == pytest.approx(np.array([(34.5, 90), (34.5, 30), (40.5, 90), (40.5, 70)]))


def test_bands_cover_the_ground_in_their_class():
    rng = np.random.default_rng(3)
    classes = rng.integers(0, 5, (4, 100))
    faces = [0.0, 5.0, 12.0, 30.0, 40.0]
    painted = np.full((4, 100), -1)
    for run in runs(FRAME, classes.tolist(), faces):
        drawn = points(run.path)
        drawn = drawn[len(drawn) % 2 :]  # where the row begins
        for (left, y), (right, _) in zip(drawn[::2], drawn[1::2], strict=True):
            row = int(np.searchsorted(faces, (90 - y) / 2)) - 1
            days = slice(round((left - 30) / 3), round((right - 30) / 3))
            painted[row, days] = run.kind  # the later one over the earlier
            assert run.thick / 10 >= (faces[row + 1] - faces[row]) * 2
    assert (painted == classes).all()


@pytest.mark.parametrize(
    ("upper", "expected"),
    [
        (43.2, [0, 20, 40]),
        (1.0, [0, 0.5, 1]),
        (0.47, [0, 0.2, 0.4]),
        (9.0, [0, 5]),
        (108, [0, 50, 100]),
    ],
)
def test_ticks_are_few_and_round(upper, expected):
    assert ticks(upper) == pytest.approx(expected)


def test_the_end_of_an_axis():
    assert most([1.0, None], [2.0]) == pytest.approx(2.16)
    assert most([0.0], [None]) == 1.0


def test_months_are_named_in_a_long_run_and_dates_in_a_short_one():
    days = [str(d) for d in np.arange("2024-01-01", "2025-01-01", dtype="datetime64[D]")]
    told = dated(days, 294.0).ticks
    assert told[0] == (0, "Jan")
    assert all(days[at].endswith("-01") for at, _ in told)
    assert 294 / 366 * (told[1][0] - told[0][0]) >= 30
    assert dated(days[:3]).ticks == [(0, "1 Jan"), (1, "2 Jan"), (2, "3 Jan")]
    assert [at for at, _ in dated(days[:40]).ticks] == [0, 8, 16, 24, 32]
    assert dated(days).names[60] == "1 Mar"
    assert dated(["2023-03-01", *days]).names[61] == "1 Mar 2024"  # there are two of them


def test_numbers_are_told_where_they_are_round():
    # From 1 to 45: not more than about six of them, every tenth.
    assert counted("Days", range(1, 46)).ticks == [(9, "10"), (19, "20"), (29, "30"), (39, "40")]
    assert counted("Days", range(4)).ticks == [(0, "0"), (1, "1"), (2, "2"), (3, "3")]


def test_days_by_month():
    assert by_month(["2024-01-31", "2024-02-01", "2024-02-02"]) == [
        ("2024-01", [(31, 0)]), ("2024-02", [(1, 1), (2, 2)])
    ]  # fmt: skip
