"""When the keeper fills and how much."""

from dataclasses import replace

import numpy as np
import pytest

from bedtide import run_season
from bedtide.balance.watering import due_days, rules_of
from bedtide.bed import Watering, capacity, plan_area
from helpers.beds import bed_with, layered
from helpers.plain_weather import plain_weather

DAYS = np.datetime64("2024-01-01") + np.arange(14)  # a Monday


@pytest.mark.parametrize(
    ("watering", "due"),
    [
        (Watering("never"), []),
        (Watering("below share", share=0.3), range(14)),
        (Watering("below share", share=0.3, check_every=5), [0, 5, 10]),
        (Watering("every n days", every=4), [3, 7, 11]),
        (Watering("weekdays", weekdays=(0, 3)), [0, 3, 7, 10]),
        (Watering("weekdays", weekdays=(6,)), [6, 13]),
    ],
)
def test_due_days(watering, due):
    assert list(np.flatnonzero(due_days(watering, DAYS))) == list(due)


def test_weekdays_are_those_of_the_calendar():
    sunday = due_days(Watering("weekdays", weekdays=(6,)), DAYS)
    assert [day.astype(object).isoweekday() for day in DAYS[sunday]] == [7, 7]


def test_rules_of_many_beds():
    bed = bed_with()
    fixed = replace(bed, watering=Watering("every n days", every=7, volume=0.024))
    rules = rules_of([bed, fixed], [DAYS, DAYS])
    assert rules.due.shape == (14, 2)
    assert list(rules.share) == [0.3, np.inf]
    assert rules.volume[0] == np.inf
    assert rules.volume[1] == pytest.approx(0.024 / plan_area(bed))  # 24 L on 1.2 m2: 20 mm
    assert rules.volume[1] == pytest.approx(0.020)


def refills(bed, weather):
    season = run_season(bed, weather)
    return season, np.flatnonzero(season["refill"].to_numpy() > 0)


def test_fills_to_the_lip_on_the_morning_after_the_share_is_passed():
    bed = bed_with()
    season, days = refills(bed, plain_weather("2023-06-01", 60))
    cap = capacity(bed, 0.09)
    share = season["store_share"].to_numpy()
    assert len(days) > 2
    for day in days:
        assert share[day - 1] < 0.3
        assert float(season["refill"][day]) == pytest.approx(
            cap - float(season["open_water"][day - 1])
        )
    others = np.setdiff1d(np.arange(1, 60), days)
    assert (share[others - 1] >= 0.3).all()


def test_looks_only_when_somebody_comes():
    rule = {"when": "below share", "share": "30 %", "check_every": "6 days"}
    _, days = refills(bed_with({"watering": rule}), plain_weather("2023-06-01", 60))
    assert len(days) > 2
    assert (days % 6 == 0).all()


def test_pours_a_fixed_volume_whatever_runs_over():
    rule = {"when": "every n days", "every": "10 days", "amount": "60 L"}
    season, days = refills(bed_with({"watering": rule}), plain_weather("2023-06-01", 40, et0_mm=1))
    assert list(days) == [9, 19, 29, 39]
    np.testing.assert_allclose(season["refill"][days] * 1.2 * 1000, 60.0)
    assert float(season["overflow"].sum()) > 0.05


def test_never_means_never():
    _, days = refills(bed_with({"watering": {"when": "never"}}), plain_weather("2023-06-01", 60))
    assert len(days) == 0


def test_water_out_of_reach_does_not_count_as_store():
    bed = layered("crates", wick_foot="5 cm")  # of 9 cm up to the lip
    season, days = refills(bed, plain_weather("2023-06-01", 60))
    water = season["open_water"].to_numpy()
    dead, cap = float(season["dead_storage"]), float(season["capacity"][0])
    for day in days:
        assert dead - 1e-9 <= water[day - 1] < dead + 0.3 * (cap - dead)
    assert (water > dead - 1e-9).all()
