"""Many beds and starts as one run: its columns, its states and what it refuses."""

import datetime

import numpy as np
import pytest

from bedtide import run_many
from bedtide.balance import set_store
from bedtide.bed import capacity, level_of, lowest_roots, open_store
from bedtide.errors import RangeError
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

START = datetime.date(2023, 6, 1)
BEDS = [bed_with(), layered("crates", wick_foot="3 cm"), bed_with({"box.depth": "60 cm"})]


@pytest.fixture(scope="module")
def weather():
    return plain_weather("2023-05-01", 90, rain_mm={"2023-06-10": 30.0})


def test_columns_run_by_bed_and_then_by_start(weather):
    starts = [START, START + datetime.timedelta(days=5)]
    run = run_many(BEDS, weather, starts, days=20)
    assert run.series.open_water.shape == (20, 6)
    for b, bed in enumerate(BEDS):
        for s, start in enumerate(starts):
            alone = run_many([bed], weather, [start], days=20)
            column = 2 * b + s
            np.testing.assert_array_equal(
                run.series.open_water[:, column], alone.series.open_water[:, 0]
            )
    # the rain of 10 June is day 9 of the first start and day 4 of the second
    assert np.flatnonzero(run.rain[:, 0]).tolist() == [9]
    assert np.flatnonzero(run.rain[:, 1]).tolist() == [4]
    assert run.windows[:, 1].tolist() == list(range(36, 56))


def test_figures_of_a_run_are_told_to_those_who_wait(weather):
    told = []
    run_many(BEDS, weather, [START], days=20, progress=told.append)
    assert sum(told) == 60


def test_a_store_that_is_set_has_its_level_and_all_else_stays(weather):
    run = run_many(BEDS, weather, [START], days=20)
    wanted = np.array([0.010, 0.050, 0.0])
    found = set_store(run.end, BEDS, wanted)
    assert found.open_water.tolist() == wanted.tolist()
    assert found.level == pytest.approx(
        [float(level_of(water, bed)) for water, bed in zip(wanted, BEDS, strict=True)]
    )
    # crates with legs from 3 cm up: 2.7 cm below them, 81 % of void beside them
    assert found.level[1] == pytest.approx(0.03 + 0.023 / 0.81)
    assert found.level[2] == pytest.approx(0.01)  # the wall of an empty pipe
    for name in ("standing", "step", "content", "place", "mix_water"):
        np.testing.assert_array_equal(getattr(found, name), getattr(run.end, name), name)
    assert not np.array_equal(run.end.open_water, wanted)  # not changed itself


def test_a_run_from_a_store_that_was_set_begins_with_it(weather):
    run = run_many(BEDS, weather, [START], days=20)
    wanted = np.array(
        [float(open_store(h, bed)) for h, bed in zip((0.05, 0.06, 0.07), BEDS, strict=True)]
    )
    later = START + datetime.timedelta(days=20)
    second = run_many(BEDS, weather, [later], days=5, start=set_store(run.end, BEDS, wanted))
    assert second.start.open_water.tolist() == wanted.tolist()
    first_day = second.series
    left = wanted + first_day.refill[0] - first_day.rise[0] - first_day.overflow[0]
    assert first_day.open_water[0] == pytest.approx(left, abs=1e-15)
    assert (second.error < 1e-9).all()


def test_a_state_can_be_taken_apart_by_columns(weather):
    run = run_many(BEDS, weather, [START], days=20)
    for which in (slice(1, 3), np.array([2, 0])):
        part = run.end.columns(which)
        for name in run.end._fields:
            np.testing.assert_array_equal(getattr(part, name), getattr(run.end, name)[which])
    whole = run_many(BEDS, weather, [START + datetime.timedelta(days=20)], days=5, start=run.end)
    alone = run_many(
        BEDS[1:2], weather, [START + datetime.timedelta(days=20)], days=5,
        start=run.end.columns(slice(1, 2)),
    )  # fmt: skip
    np.testing.assert_array_equal(alone.series.mix_water[:, 0], whole.series.mix_water[:, 1])


def test_water_put_in_besides_is_a_refill(weather):
    given = np.zeros((20, 3))
    given[4] = 0.012, 0.0, 0.003
    never = [bed_with({"watering": {"when": "never"}})] * 3
    run = run_many(never, weather, [START], days=20, given=given)
    np.testing.assert_array_equal(run.series.refill, given)


def test_no_more_is_taken_out_than_is_there(weather):
    given = np.zeros((20, 2))
    given[4] = -0.5, -0.004
    bed = bed_with({"watering": {"when": "never"}, "start.level": "60 %"})
    run = run_many([bed] * 2, weather, [START], days=20, given=given)
    there = run.series.open_water[3, 0]
    assert 0.01 < there < 0.5
    assert run.series.refill[4].tolist() == [-there, -0.004]
    assert run.series.open_water[4, 0] < 0.002 < 0.008 < run.series.open_water[4, 1]
    every = np.ones((1, 5), dtype=bool)  # what is filled in that morning goes with it
    filled = run_many([bed], weather, [START], days=5, given=given[:5, :1], due=every)
    assert filled.series.refill[4, 0] == -filled.series.open_water[3, 0]


def test_the_lip_of_each_column_is_that_of_its_days(weather):
    elbow = {"height": "9 cm", "change": [{"from": "06-10", "to": "06-20", "height": "4 cm"}]}
    beds = [bed_with({"overflow": elbow}), bed_with(), bed_with({"overflow": {"state": "none"}})]
    starts = [START, START + datetime.timedelta(days=10)]
    run = run_many(beds, weather, starts, days=15)
    assert run.lip[:, 0].tolist() == [0.09] * 9 + [0.04] * 6
    assert run.lip[:, 1].tolist() == [0.04] * 9 + [0.09] * 6
    assert (run.lip[:, 2:4] == 0.09).all()
    assert np.isinf(run.lip[:, 4:]).all()


@pytest.mark.parametrize(
    ("changes", "height"),
    [
        ({}, 0.09),
        ({"overflow": {"height": "4 cm"}}, 0.04),
        ({"overflow": {"height": "9 cm", "state": "blocked"}}, 0.09),  # roots do not move
        ({"overflow": {"state": "none"}}, 0.12),  # up to the top of the pipes
        ({"overflow": {"height": "20 cm"}}, 0.12),
        (
            {"overflow": {"height": "5 cm",
                          "change": [{"from": "06-10", "to": "06-20", "height": "8 cm"}]}},
            0.08,
        ),
    ],
)  # fmt: skip
def test_roots_end_at_the_highest_lip_of_the_year(changes, height):
    assert lowest_roots(bed_with(changes)) == pytest.approx(height)


def test_roots_end_at_the_foot_of_the_mix_where_that_is_higher():
    assert lowest_roots(layered("crates", wick_foot="11 cm")) == pytest.approx(0.11)
    assert lowest_roots(layered("stone", void_share="40 %", wick_share="0 %")) == pytest.approx(
        0.15
    )


def test_a_start_level_is_a_share_of_what_the_mix_can_reach():
    weather = plain_weather("2023-06-01", 3)
    for share in (0.0, 0.25, 1.0):
        beds = [
            bed_with({"start.level": f"{100 * share:.0f} %"}),
            bed_with({"reservoir": {"form": "crates", "height": "15 cm", "void_share": "90 %",
                                    "wick_share": "10 %", "wick_foot": "3 cm"},
                      "start.level": f"{100 * share:.0f} %"}),
        ]  # fmt: skip
        run = run_many(beds, weather, [START], days=2)
        cap = [float(capacity(bed, 0.09)) for bed in beds]
        assert run.start.open_water[0] == pytest.approx(share * cap[0])
        # 2.7 cm are out of reach
        assert run.start.open_water[1] == pytest.approx(0.027 + share * (cap[1] - 0.027))


def test_bad_days_are_refused(weather):
    with pytest.raises(RangeError, match="0 is not a length of time"):
        run_many(BEDS, weather, [START], days=0)
    with pytest.raises(RangeError, match="60 days from 2023-06-01 are not all in the"):
        run_many(BEDS, weather, [START], days=60)
    with pytest.raises(RangeError, match="2023-04-30"):
        run_many(BEDS, weather, [START, datetime.date(2023, 4, 30)], days=5)


def test_the_first_start_that_can_not_be_is_named_with_the_days_that_can(weather):
    days = weather["time"].dt.strftime("%Y-%m-%d").values
    starts = [START, datetime.date(2022, 1, 1), datetime.date(2021, 1, 1)]
    with pytest.raises(RangeError, match="3 days from 2022-01-01") as caught:
        run_many(BEDS, weather, starts, days=3)
    assert caught.value.expected == f"days from {days[0]} to {days[-1]}"
