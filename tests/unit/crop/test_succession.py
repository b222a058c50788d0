"""What follows what in the same part of a bed, by a plain ledger of days."""

import datetime

import numpy as np
import pytest

from bedtide.crop import Planting, crop, crop_days
from bedtide.errors import RangeError

DATE = datetime.date
LETTUCE, TOMATO, KALE = crop("lettuce"), crop("tomato"), crop("kale")
YEAR = np.datetime64("2021-01-01") + np.arange(365)


def asked(plantings):
    return crop_days(plantings, YEAR, wind_speed=np.full(365, 2.0), rh_min=np.full(365, 45.0))


def ledger(plantings):
    """Whether some day of eight years finds two plantings in one part, counted day by day."""
    taken = set()
    for planting in plantings:
        month, day = planting.planted
        for year in range(1999, 2008):
            today = DATE(year, month, day)
            left = sum(planting.stages or planting.crop.stages)
            while (
                left if planting.removed is None else (today.month, today.day) != planting.removed
            ):
                if (planting.part, today) in taken:
                    return True
                taken.add((planting.part, today))
                today += datetime.timedelta(days=1)
                left -= 1
    return False


def test_what_meets_in_a_part_is_refused_and_nothing_else():
    drawn = np.random.default_rng(14)
    verdicts = []
    for _ in range(60):
        plantings = []
        for _ in range(int(drawn.integers(2, 4))):
            start = DATE(2001, 1, 1) + datetime.timedelta(days=int(drawn.integers(0, 365)))
            stages = tuple(int(n) for n in drawn.integers(5, 50, 4))
            end = start + datetime.timedelta(days=int(drawn.integers(20, 250)))
            removed = (end.month, end.day) if drawn.random() < 0.5 else None
            part = "ab"[int(drawn.integers(0, 2))]
            planted = (start.month, start.day)
            plantings.append(Planting(LETTUCE, planted, 0.1, 1.0, stages, removed, part))
        meets = ledger(plantings)
        verdicts.append(meets)
        if meets:
            with pytest.raises(RangeError, match="in the part"):
                asked(plantings)
        else:
            asked(plantings)
    assert 10 < sum(verdicts) < 50


def test_both_are_named_with_their_dates_and_a_way_out():
    salad = Planting(LETTUCE, (4, 1), 0.3, part="left")
    tomato = Planting(TOMATO, (5, 1), 0.3, part="left")
    with pytest.raises(RangeError) as caught:
        asked([salad, tomato])
    assert (
        'in the part "left" lettuce (04-01 to 06-14) meets tomato (05-01 to 09-22)'
        in caught.value.problem
    )
    assert "removed on the day on which the next is planted" in caught.value.hint
    asked([Planting(LETTUCE, (4, 1), 0.3, removed=(5, 1), part="left"), tomato])
    asked([salad, Planting(TOMATO, (5, 1), 0.3, part="right")])
    asked([Planting(LETTUCE, (4, 1), 0.3), Planting(TOMATO, (5, 1), 0.3)])  # anywhere


def test_a_crop_over_the_new_year_meets_the_one_of_spring():
    kale = Planting(KALE, (8, 1), 0.3, removed=(4, 20), part="left")
    with pytest.raises(RangeError, match=r"kale \(08-01 to 04-19\) meets lettuce \(04-10 to 06-23"):
        asked([kale, Planting(LETTUCE, (4, 10), 0.3, part="left")])
    asked([kale, Planting(LETTUCE, (4, 20), 0.3, part="left")])


def test_a_perennial_leaves_room_for_nothing_else():
    sage = Planting(crop("sage"), (3, 15), 0.3, part="left")
    with pytest.raises(RangeError, match=r"sage \(all year\) meets lettuce"):
        asked([sage, Planting(LETTUCE, (10, 1), 0.3, part="left")])
    once = Planting(crop("sage"), DATE(2022, 3, 15), 0.3, part="left")
    asked([Planting(LETTUCE, DATE(2021, 4, 10), 0.3, part="left"), once])
    with pytest.raises(RangeError, match=r"sage \(from 2023-03-15 on\)"):
        asked([Planting(LETTUCE, DATE(2023, 4, 10), 0.3, part="left"), once])


def test_a_part_has_one_size():
    with pytest.raises(RangeError, match="lettuce takes 30% of the bed and tomato 40%"):
        asked(
            [
                Planting(LETTUCE, (3, 1), 0.3, removed=(5, 1), part="left"),
                Planting(TOMATO, (5, 1), 0.4, part="left"),
            ]
        )


def test_the_bed_is_never_bare_where_one_crop_follows_the_other():
    # Lettuce for 40 days to 9 June, tomato to 9 November, then bare until the 1st of May.
    found = asked(
        [
            Planting(LETTUCE, (5, 1), 1.0, removed=(6, 10), part="all of it"),
            Planting(TOMATO, (6, 10), 1.0, removed=(11, 10), part="all of it"),
        ]
    )
    live = found.root_depth > 0.0
    assert live.sum() == 31 + 9 + 21 + 31 + 31 + 30 + 31 + 9
    assert np.flatnonzero(live)[[0, -1]].tolist() == [120, 312]
    assert found.kcb_each[159].tolist() == [pytest.approx(0.15 + 20 / 30 * 0.75), 0.0]
    assert found.kcb_each[160].tolist() == [0.0, 0.15]
