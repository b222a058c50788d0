"""Which beds are given, and which days a season covers."""

import datetime

import numpy as np
import pytest
import xarray as xr

from bedtide.bed import example_text
from bedtide.errors import RangeError
from bedtide.report.given import compared_beds, season_span


def record(start: str, days: int, latitude: float = 50.0) -> xr.Dataset:
    time = np.datetime64(start, "ns") + np.arange(days) * np.timedelta64(1, "D")
    return xr.Dataset(coords={"time": time}, attrs={"latitude": latitude})


@pytest.mark.parametrize(
    ("start", "days", "latitude", "span"),
    [
        ("2023-05-01", 60, 50, ("2023-05-01", "2023-06-29")),
        ("2023-01-01", 400, 50, ("2023-01-01", "2024-02-04")),
        ("2020-03-01", 1500, 50, ("2023-01-01", "2023-12-31")),
        ("2020-01-01", 1827, 50, ("2024-01-01", "2024-12-31")),
        ("2020-01-01", 1827, -35, ("2023-07-01", "2024-06-30")),
        # its rain days begin in the morning, so the last day has no rain and is not there
        ("2020-01-01", 1826, 50, ("2024-01-01", "2024-12-30")),
        ("2023-02-01", 500, 50, ("2023-06-16", "2024-06-14")),  # no whole year: the last 365 days
    ],
)
def test_without_dates(start, days, latitude, span):
    found = season_span(record(start, days, latitude))
    assert tuple(str(day) for day in found) == span


def test_one_date_leaves_the_other_end_to_the_record():
    weather = record("2020-01-01", 1827)
    day = datetime.date(2021, 6, 1)
    assert season_span(weather, start=day) == (day, datetime.date(2024, 12, 31))
    assert season_span(weather, end=day) == (datetime.date(2020, 1, 1), day)
    assert season_span(weather, start=day, end=day) == (day, day)


@pytest.mark.parametrize(
    ("start", "end", "where", "expected"),
    [
        (
            datetime.date(2019, 12, 31),
            None,
            "--from",
            "2020-01-01 or later, where the weather begins",
        ),
        (None, datetime.date(2025, 1, 1), "--to", "2024-12-31 or earlier, where the weather ends"),
        (datetime.date(2022, 1, 2), datetime.date(2022, 1, 1), "--to", "2022-01-02 or later"),
    ],
)
def test_dates_that_make_no_sense(start, end, where, expected):
    with pytest.raises(RangeError) as caught:
        season_span(record("2020-01-01", 1827), start=start, end=end)
    assert (caught.value.where, caught.value.expected) == (where, expected)


def test_beds_of_one_name_are_told_apart_by_their_files(tmp_path):
    for file, name in (("a.toml", "Left"), ("b.toml", "Right"), ("c.toml", "Right")):
        text = example_text().replace('"Kitchen bed"', f'"{name}"')
        (tmp_path / file).write_text(text)
    paths = [tmp_path / file for file in ("a.toml", "b.toml", "c.toml")]
    labels = [each.label for each in compared_beds(paths, [])]
    assert labels == ["Left", "Right (b.toml)", "Right (c.toml)"]
    varied = [each.label for each in compared_beds(paths[1:], ["box.depth=40cm,44cm"])]
    assert varied == [f"Right ({f}.toml), box depth {d} cm" for f in "bc" for d in (40, 44)]
    both = compared_beds(paths[1:], ["box.depth=40cm,44cm", "overflow.height=6cm"])
    apart = [each.label_without("box.depth") for each in both]
    assert apart == [f"Right ({f}.toml), overflow height 6 cm" for f in "bbcc"]
    assert compared_beds(paths[:1], [])[0].label_without("box.depth") == ""
    (_, deep) = compared_beds(paths[:1], ["box.depth=40cm,44cm"])
    assert deep.label_without("box.depth") == ""
