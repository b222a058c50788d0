"""Beaten beds and the choice, on made-up figures small enough to see through."""

import numpy as np
import pytest
import xarray as xr

from bedtide.many.choice import beaten, choose, scores


def comparison(**columns) -> xr.Dataset:
    """Figures of beds; by year the same as the mean unless given as lists."""
    defaults = {
        "refill_count": [10.0],
        "wet_days": [0.0],
        "limited_days": [0.0],
        "refill_volume": [1.0],
        "brimful_weight": [500.0],
        "mix_depth": [0.3],
        "rooted_days": [150.0],
    }
    beds = max(len(values) for values in columns.values())
    found = {}
    for name, plain in defaults.items():
        values = np.array(columns.get(name, plain * beds), dtype=float)
        if values.ndim == 1 and name not in ("brimful_weight", "mix_depth"):
            values = np.repeat(values[:, None], 4, axis=1)
        if values.ndim == 2:
            found[name] = (("bed", "year"), values)
            found[f"{name}_mean"] = ("bed", values.mean(axis=1))
        else:
            found[name] = ("bed", values)
    return xr.Dataset(found)


def test_beaten_by_hand():
    #        better in both, equal to it, worse in one, a trade-off
    assert beaten([[1, 1], [1, 1], [1, 2], [0, 3]]).tolist() == [False, False, True, False]


def test_what_beats_a_winner_of_a_third_beats_the_third():
    draw = np.random.default_rng(5)
    score = draw.integers(0, 4, (40, 3))
    lost = beaten(score)
    assert 0 < lost.sum() < 40
    front = score[~lost]
    for row in score[lost]:  # each is beaten by one that is itself not beaten
        assert ((front <= row).all(axis=1) & (front < row).any(axis=1)).any()


def test_differences_that_no_keeper_would_notice_do_not_count():
    found = comparison(refill_count=[10.2, 9.8], brimful_weight=[501.0, 504.0])
    assert all(mine == other for mine, other in scores(found))
    assert not choose(found).beaten.any()
    assert choose(found).reason == "none"


def test_roots_come_before_work():
    found = choose(comparison(refill_count=[20.0, 5.0], wet_days=[1.0, 9.0]))
    assert (found.pick, found.reason, found.rival) == (0, "want", 1)
    assert found.kept_up == 4


def test_what_decided_is_the_roots_even_where_the_pick_is_filled_less_too():
    found = choose(comparison(refill_count=[5.0, 9.0], wet_days=[1.0, 9.0]))
    assert (found.pick, found.reason) == (0, "want")


def test_two_days_of_want_more_are_let_pass_for_less_work():
    found = choose(comparison(refill_count=[20.0, 5.0], wet_days=[1.0, 2.0], limited_days=[0, 1]))
    assert (found.pick, found.reason) == (1, "fills")


def test_fewer_fills_come_before_less_weight():
    found = choose(comparison(refill_count=[9.0, 5.0], brimful_weight=[300, 500]))
    assert (found.pick, found.reason) == (1, "fills")


def test_then_the_lightest_then_the_least_water():
    assert choose(comparison(brimful_weight=[500, 300, 400])).pick == 1
    assert choose(comparison(brimful_weight=[500, 300, 400])).reason == "weight"
    found = choose(comparison(refill_volume=[1.0, 0.5]))
    assert (found.pick, found.reason) == (1, "water")


def test_a_bed_without_room_for_roots_is_not_chosen_where_another_has_it():
    columns = {"refill_count": [5.0, 9.0], "mix_depth": [0.12, 0.25]}
    found = choose(comparison(**columns))
    assert (found.pick, found.reason, found.beaten.tolist()) == (1, "room", [False, False])
    none_has = choose(comparison(refill_count=[5.0, 9.0], mix_depth=[0.12, 0.14]))
    assert none_has.pick == 0


def test_a_bed_that_fails_its_plants_is_not_good_for_being_filled_seldom():
    """Of 150 days with roots a tenth are 15: A lacks 16, B 15, and C is filled every other day."""
    found = choose(
        comparison(
            refill_count=[2.0, 30.0, 90.0],
            refill_volume=[0.1, 1.0, 3.0],
            limited_days=[16.0, 15.0, 14.0],
            wet_days=[0.0, 0.0, 1.0],
        )
    )
    assert found.fails.tolist() == [True, False, False]
    assert found.beaten.tolist() == [True, False, False]  # C lacks water on a day less than B
    assert (found.pick, found.rival, found.reason) == (1, 2, "fills")


def test_a_bed_that_keeps_its_plants_comes_before_a_roomy_one_that_starves_them():
    found = choose(comparison(limited_days=[80.0, 1.0], mix_depth=[0.3, 0.15]))
    assert (found.pick, found.reason, found.rival) == (1, "fails", 0)
    assert found.kept_up == 4
    all_fail = choose(comparison(limited_days=[80.0, 60.0]))
    assert (all_fail.pick, all_fail.reason) == (1, "want")
    assert all_fail.fails.all()


def test_years_are_counted_in_pairs():
    found = choose(comparison(refill_count=[[3, 3, 9, 9], [8, 8, 8, 8]]))
    assert (found.pick, found.reason) == (0, "fills")
    assert found.kept_up == 2
    tied = choose(comparison(refill_count=[[3, 3, 3, 9], [3, 4, 8, 8]]))
    assert (tied.pick, tied.kept_up) == (0, 3)  # a year in which they are equal is no worse


def test_a_single_bed_has_no_rival():
    found = choose(comparison(refill_count=[10.0]))
    assert (found.pick, found.rival, found.reason) == (0, None, "none")


@pytest.mark.parametrize("seed", range(20))
def test_the_choice_is_never_beaten(seed):
    draw = np.random.default_rng(seed)
    found = choose(
        comparison(
            refill_count=draw.integers(3, 9, 12),
            wet_days=draw.integers(0, 5, 12),
            limited_days=draw.integers(0, 5, 12),
            refill_volume=draw.choice([0.5, 1.0, 2.0], 12),
            brimful_weight=draw.choice([300.0, 400.0, 500.0], 12),
            mix_depth=draw.choice([0.15, 0.25], 12),
        )
    )
    assert not found.beaten[found.pick]


@pytest.mark.parametrize(
    ("columns", "pick", "reason"),
    [
        # room is counted to the centimetre: 19.6 cm are 20, 16 cm are not
        ({"refill_count": [5.0, 9.0], "mix_depth": [0.196, 0.25]}, 0, "fills"),
        ({"refill_count": [5.0, 9.0], "mix_depth": [0.16, 0.25]}, 1, "room"),
        # weight and water to two digits: 496 kg and 504 kg are both 500, 540 kg are not
        ({"brimful_weight": [504.0, 496.0]}, 0, "none"),
        ({"brimful_weight": [540.0, 500.0]}, 1, "weight"),
        ({"refill_volume": [0.62, 0.58]}, 1, "water"),
        ({"refill_count": [0.0, 0.0], "refill_volume": [0.5, 0.0]}, 1, "water"),
        # alike in all else, within the two days that are let pass: fewer days of want
        ({"wet_days": [1.0, 0.0], "limited_days": [0.0, 2.0]}, 0, "want"),
        ({"wet_days": [0.0, 2.0], "limited_days": [1.0, 0.0]}, 0, "want"),
        ({"wet_days": [2.0, 1.0]}, 1, "want"),
        ({"limited_days": [2.0, 1.0]}, 1, "want"),
    ],
)
def test_small_differences_one_by_one(columns, pick, reason):
    found = choose(comparison(**columns))
    assert (found.pick, found.reason) == (pick, reason)


def test_the_best_of_those_with_room_is_what_others_are_measured_by():
    """A has no room; of B with 3 days of want and C with 4, C is filled less: within two days."""
    found = choose(
        comparison(
            wet_days=[0.0, 3.0, 4.0], refill_count=[9.0, 5.0, 2.0], mix_depth=[0.12, 0.25, 0.25]
        )
    )
    assert (found.pick, found.rival, found.reason) == (2, 1, "fills")


def test_a_single_bed_was_never_better_than_another():
    assert choose(comparison(refill_count=[10.0])).kept_up == 0
