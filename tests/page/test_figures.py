"""What pages draw and tell is what the files of the same run hold, read back by other code."""

import json
import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from bedtide import example_bed
from bedtide.answers.away.summary import course_of
from bedtide.answers.season.days import days_of
from page.test_page import Tree
from page.test_positions import points


@pytest.fixture(scope="module")
def season(made, tmp_path_factory):
    """The page of a season, its elements, and the folder of the same run."""
    folder = tmp_path_factory.mktemp("out") / "results"
    path = made("season", "--out", str(folder))
    return Tree(path.read_text(encoding="utf-8")), folder


def cells(table, tree):
    """Text of the cells of a table, row by row."""
    rows = tree.all("tr", table)
    kinds = ("th", "td")
    return [[e["text"].strip() for e in tree.elements if e["tag"] in kinds and row in e["in"]]
            for row in rows]  # fmt: skip


def numbers(text):
    return [float(n.replace(",", "")) for n in re.findall(r"-?[\d,]*\.?\d+", text)]


def test_the_table_of_days_is_that_of_the_folder(season):
    tree, folder = season
    days = pd.read_csv(folder / "season.csv")
    figure = next(e for e in tree.all("figure") if e.get("class") == "days")
    text = tree.all("pre", figure)[0]["text"]
    heads, *rows = (row.split("\t") for row in text.strip().split("\n"))
    assert heads[:7] == ["Day", "Rain, L", "Fill, L", "Level, cm", "Air, %", "Plants, mm",
                         "Surface, mm"]  # fmt: skip
    assert len(rows) == len(days) == 275
    columns = ("rain_into_bed_L", "refill_L", "water_level_cm", "air_root_zone_percent",
               "transpiration_mm", "evaporation_mm")  # fmt: skip
    for at, name in enumerate(columns, 1):
        shown = np.array([float(row[at]) if row[at] else np.nan for row in rows])
        known = ~np.isnan(shown)
        limit = 0.56 if name in ("refill_L", "air_root_zone_percent") else 0.056
        assert np.abs(shown - days[name].clip(lower=0))[known].max() < limit, name
        assert known.all() or name.startswith("air")
    bare = days["root_depth_cm"] == 0
    assert [row[4] == "" for row in rows] == bare.tolist()


def test_the_level_is_drawn_where_its_axis_says(season):
    tree, folder = season
    level = pd.read_csv(folder / "season.csv")["water_level_cm"].to_numpy()
    (svg,) = (e for e in tree.all("svg") if "data-left" in e)
    (path,) = (e for e in tree.all("path", svg) if "f-level soft" in e.get("class", ""))
    texts = [e for e in tree.all("text", svg) if "end" in e.get("class", "")]
    # The panel is the second of four, each 112 high: its numbers stand 4 below their lines.
    panel = [e for e in texts if 112 < float(e["y"]) < 224]
    at = np.array([[float(e["text"]), float(e["y"]) - 4] for e in panel])
    slope, nought = np.polyfit(at[:, 0], at[:, 1], 1)
    corners = points(path["d"])
    top = corners[: np.argmax(np.diff(corners[:, 0]) <= 0) + 1]  # to the right, before it turns
    day = np.rint((top[:, 0] - 34) / 294 * level.size - 0.5).astype(int)
    assert np.abs((top[:, 1] - nought) / slope - level[day]).max() < 0.03
    x = 34 + 294 * (np.arange(level.size) + 0.5) / level.size
    drawn = (np.interp(x, top[:, 0], top[:, 1]) - nought) / slope
    assert np.abs(drawn - level).max() < 0.2  # x is rounded, and a fill raises it 3 cm in a day


def test_the_calendar_marks_the_days_of_the_folder(season):
    tree, folder = season
    days = pd.read_csv(folder / "season.csv", parse_dates=["date"])
    filled = days[days["refill_L"] > 0]["date"]
    title = next(e for e in tree.all("figcaption") if e["text"].strip() == "Calendar")
    svg = next(e for e in tree.all("svg", title["in"][-1]))
    _, marks = (e for e in tree.all("path", svg) if e.get("class") == "f-refill")  # key and days
    places = [points(f"M{part}")[0] * 10 for part in re.findall(r"M([^l]*)l", marks["d"])]
    # Squares are 9.7 apart from 34 on, months 15 from 38 on; a diamond begins 4.3 and 1 in.
    found = [(round((x - 38.3) / 9.7) + 1, round((y - 39) / 15) + 3) for x, y in places]
    assert found == [(day.day, day.month) for day in filled]


def test_the_account_has_the_figures_of_the_folder_and_closes(season):
    tree, folder = season
    told = json.loads((folder / "summary.json").read_text())
    tables = [cells(e, tree) for e in tree.all("table") if e.get("class") == "bars"]
    amounts = {row[0]: numbers(row[2])[0] for table in tables for row in table[1:]}
    for word, key in (
        ("poured in", "refill_litres"),
        ("rain caught", "rain_caught_litres"),
        ("the plants drank", "transpiration_litres"),
        ("dried off the surface", "evaporation_litres"),
        ("out of the overflow", "overflow_litres"),
    ):
        assert amounts[word] == pytest.approx(told[key], abs=0.51), word
    come, gone = (sum(amounts[row[0]] for row in table[1:]) for table in tables)
    assert come == pytest.approx(gone, abs=3)  # each is rounded to a litre
    widths = {}
    for rect in tree.all("rect"):
        row = next((e for e in rect["in"] if e["tag"] == "tr"), None)
        if row is not None:
            widths[row["text"].split("\n")[0]] = float(rect["width"])
    longest = max(amounts.values())
    for word, width in widths.items():
        assert width == pytest.approx(100 * amounts[word] / longest, abs=0.2), word


def test_air_by_height_is_the_room_that_water_leaves(season):
    _, folder = season
    bed = example_bed()
    with xr.open_dataset(folder / "season.nc") as run:
        run = run.load()
    days = days_of(run, bed, "metric")
    assert days["faces"][0] == 0
    assert days["faces"][-1] == pytest.approx(100 * float(run["surface_height"]), abs=0.006)
    for cell, height in enumerate(run["height"].to_numpy()):
        row = run["height"].size - 1 - cell  # the run goes down, the page up
        assert days["faces"][row] < 100 * height < days["faces"][row + 1]
        mix = bed.wick_mix if height < float(run["crown_height"]) else bed.top_mix
        for day in range(0, len(days["dates"]), 7):
            air = mix.theta_s - float(run["water_content"][day, cell])
            expected = sum(air >= limit for limit in (0.1, 0.2, 0.3, 0.4))
            assert days["air"][row][day] == expected, (cell, day)
    # The top third's mean is near the air that the run gives for the top 15 cm of 27.
    top = run["air_top"].resample(time="MS").mean().to_numpy() * 100
    assert np.abs(top - [thirds[0] for _, thirds in days["months"]]).max() < 8


def test_us_units_are_those_of_the_same_day(season):
    _, folder = season
    with xr.open_dataset(folder / "season.nc") as run:
        run = run.load()
    metric, us = (days_of(run, example_bed(), units) for units in ("metric", "us"))
    assert us["level"] == pytest.approx(np.array(metric["level"]) / 2.54, abs=0.011)
    assert us["rain"] == pytest.approx(np.array(metric["rain"]) / 3.785411784, abs=0.011)
    assert us["taken"] == pytest.approx(np.array(metric["taken"]) / 25.4, abs=0.011)


def test_of_a_long_run_the_last_year_is_drawn(season):
    _, folder = season
    with xr.open_dataset(folder / "season.nc") as run:
        run = run.load()
    times = run["time"].to_numpy()
    later = [run.assign_coords(time=times + np.timedelta64(275 * n, "D")) for n in range(3)]
    whole = xr.concat(later, "time", data_vars="minimal")
    days = days_of(whole, example_bed(), "metric")
    assert not days["whole"]
    assert len(days["dates"]) == 365
    assert days["dates"][-1] == str(whole["time"].to_numpy()[-1])[:10]


def test_beds_side_by_side_have_the_figures_of_the_folder(made, tmp_path):
    path = made("compare", "--out", str(tmp_path / "out"))
    told = json.loads((tmp_path / "out" / "compare.json").read_text())
    tree = Tree(path.read_text(encoding="utf-8"))
    tables = [cells(e, tree) for e in tree.all("table") if e.get("class", "")[:4] == "bars"]
    assert len(tables) == 4
    for bed in told["beds"]:
        fills, lacks, water, weight = (
            numbers(next(row[2] for row in table[1:] if row[0][:1] == bed["bed"]))[0]
            for table in tables
        )
        assert fills == pytest.approx(bed["refills_mean"], abs=0.51)
        assert lacks == pytest.approx(bed["wet_days_mean"] + bed["dry_days_mean"], abs=0.51)
        assert water == pytest.approx(bed["refill_litres_mean"], abs=0.51)
        assert weight == pytest.approx(bed["full_kg"], abs=0.51)


def test_the_course_of_a_stay_by_hand():
    # Three cases on two days; with so few, one in ten is the lowest and nine in ten the highest.
    share = [[1.0, 0.2], [0.9, 0.5], [0.4, 0.0]]
    both = dict.fromkeys(("store_share", "uptake_factor"), (("case", "day"), share))
    course = course_of(xr.Dataset(both))
    assert course["store"] == ([40, 0], [90, 20], [60, 50]) == course["need"]
