"""When the keeper fills and how much."""

import numpy as np
import pytest

from bedtide import run_season
from bedtide.balance.demand import due_days
from bedtide.bed import Watering, capacity
from helpers.beds import LAYER, bed_with, layered
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
        lacking = cap - float(season["open_water"][day - 1])
        # the circle of a pipe is followed in 256 pieces
        assert float(season["refill"][day]) == pytest.approx(lacking, abs=1e-6)
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
    np.testing.assert_allclose(season["refill"][days] * 1.2 * 1000, 60.0)  # litres on 1.2 m2
    assert float(season["overflow"].sum()) > 0.05


def test_a_fixed_volume_below_a_share_waits_for_the_share():
    rule = {"when": "below share", "share": "40 %", "amount": "12 L"}
    season, days = refills(bed_with({"watering": rule}), plain_weather("2023-06-01", 60))
    share = season["store_share"].to_numpy()
    assert len(days) > 2
    np.testing.assert_allclose(season["refill"][days], 0.010)  # 12 L on 1.2 m2
    assert (share[days - 1] < 0.4).all()
    others = np.setdiff1d(np.arange(1, 60), days)
    assert (share[others - 1] >= 0.4).all()


def test_fills_to_the_lip_of_the_day():
    elbow = {"height": "9 cm", "change": [{"from": "06-15", "to": "07-10", "height": "4 cm"}]}
    rule = {"when": "every n days", "every": "1 day"}
    bed = bed_with({"watering": rule, "overflow": elbow})
    season, days = refills(bed, plain_weather("2023-06-01", 50))
    water, poured = season["open_water"].to_numpy(), season["refill"].to_numpy()
    filled = water[days[1:] - 1] + poured[days[1:]]
    lip = np.where((days[1:] >= 14) & (days[1:] < 39), 0.04, 0.09)
    np.testing.assert_allclose(filled, capacity(bed, lip), atol=1e-6)
    assert set(lip) == {0.04, 0.09}


def test_a_full_store_is_not_filled():
    """Closed and bare: nothing is drawn, so nothing is poured."""
    bare = {"planting": [], "surface": {"open_to_rain": "0 %", "covered": "100 %"}}
    rule = {"watering": {"when": "every n days", "every": "1 day"}}
    season, _ = refills(bed_with({**bare, **rule}), plain_weather("2023-06-01", 30))
    assert float(season["refill"].sum()) < 1e-4
    assert float(season["overflow"].sum()) < 1e-4


def test_never_means_never():
    _, days = refills(bed_with({"watering": {"when": "never"}}), plain_weather("2023-06-01", 60))
    assert len(days) == 0


def test_water_out_of_reach_does_not_count_as_store():
    """Legs down to 5 cm, a lip at 9: 4.5 cm below them are dead, 3.24 cm beside them are not.

    Filled when 30 % of these are left, that is at 45 + 9.72 mm; by all of the water it would be at
    30 % of 77.4 mm, which never comes.
    """
    bed = layered("crates", wick_foot="5 cm")
    season, days = refills(bed, plain_weather("2023-06-01", 60))
    water = season["open_water"].to_numpy()
    assert float(season["dead_storage"]) == pytest.approx(0.045)
    assert float(season["capacity"][0]) == pytest.approx(0.0774)
    assert len(days) > 3
    for day in days:
        assert water[day - 1] < 0.045 + 0.3 * 0.0324
        assert float(season["refill"][day]) == pytest.approx(0.0774 - water[day - 1], abs=1e-6)
    others = np.setdiff1d(np.arange(1, 60), days)
    assert (water[others - 1] >= 0.045 + 0.3 * 0.0324).all()


def test_water_out_of_reach_stays_where_it_is():
    """In a drought the plants draw all that the legs reach and not a drop of the rest."""
    bed = bed_with(
        {
            "reservoir": {"form": "crates", **LAYER, "wick_foot": "5 cm"},
            "watering": {"when": "never"},
            "planting.0.area_share": "100 %",
        }
    )
    season = run_season(bed, plain_weather("2023-06-01", 90, et0_mm=7.0))
    water = season["open_water"].to_numpy()
    assert water[0] > 0.070
    assert water[-30:] == pytest.approx(np.full(30, 0.045), abs=5e-5)
    assert water.min() > 0.045 - 5e-5
    # and what is dead is a store of zero
    assert float(season["store_share"][-1]) == pytest.approx(0.0, abs=1e-3)
