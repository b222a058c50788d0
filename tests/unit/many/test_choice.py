"""Beaten beds and the choice, on made-up figures small enough to see through."""

import numpy as np
import pytest
import xarray as xr

from bedtide import example_bed
from bedtide.many import no_figures
from bedtide.many.choice import Scores, beaten, choose, ordered, scores, suited


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


def test_room_counts_only_in_beds_that_keep_their_plants():
    """The roomy bed fails; of the cramped ones the second wants 19 days more than the first."""
    found = comparison(
        mix_depth=[0.3, 0.1, 0.1], wet_days=[80.0, 1.0, 15.0], refill_count=[5.0, 50.0, 10.0]
    )
    assert choose(found).pick == 1


def test_beds_of_one_set_are_ordered_as_they_are_alone():
    draw = np.random.default_rng(3)
    shape = (60, 3)
    score = Scores(
        fills=draw.integers(1, 4, shape).astype(float),
        wet=draw.integers(0, 5, shape).astype(float),
        dry=draw.integers(0, 3, shape).astype(float),
        weight=draw.integers(1, 3, shape).astype(float),
        water=draw.integers(1, 3, shape).astype(float),
        lack=draw.integers(0, 2, shape) * 0.05,
        fails=draw.random(shape) < 0.5,
    )
    together = ordered(score)
    assert score.fails.all(axis=1).any()
    for row in range(60):
        alone = ordered(Scores(*(each[row] for each in score)))
        for mine, own in zip(together, alone, strict=True):
            np.testing.assert_array_equal(mine[row], own)


# --- which bed suits a place --------------------------------------------------------------------


def at_a_place(days) -> xr.Dataset:
    """Figures of two beds at two places, run for so many days at the first, none at the second."""
    figures = no_figures([example_bed(), example_bed()], 2, leave=False)
    figures["days"][:, 0] = days
    figures["rooted_days"][:, 0] = 200
    return figures


@pytest.mark.parametrize(
    ("wet", "dry", "fills", "water", "suits"),
    [
        ((0, 0), (0, 0), (30, 20), (1, 2), 1),  # fewer fills
        ((0, 3), (0, 0), (30, 20), (1, 2), 0),  # three days more of want than the best
        ((0, 1), (0, 1), (30, 20), (1, 2), 1),  # two are allowed
        ((0, 21), (0, 0), (30, 0), (1, 0), 0),  # 21 of 200 days with roots: it fails
        ((11, 0), (10, 30), (30, 0), (1, 0), -1),  # both fail
        ((0, 0), (0, 0), (20.4, 19.6), (2, 1), 1),  # both 20 fills: less water
        ((0, 0), (0, 0), (20, 20), (1, 1), 0),  # alike: the first
    ],
)
def test_which_bed_suits_by_hand(wet, dry, fills, water, suits):
    figures = at_a_place(365)
    named = {"wet_days": wet, "limited_days": dry, "refill_count": fills, "refill_volume": water}
    for name, values in named.items():
        figures[name][:, 0] = list(values)
    assert suited(figures).tolist() == [suits, -2]  # the second place is unfit


@pytest.mark.parametrize(("wet", "suits"), [((0, 5), 1), ((0, 7), 0)])
def test_a_run_of_two_years_is_judged_by_the_mean_of_them(wet, suits):
    """Two or three whole days of want a year more than the best."""
    figures = at_a_place(731)
    for name, values in {"wet_days": wet, "limited_days": (0, 0), "refill_count": (60, 40)}.items():
        figures[name][:, 0] = list(values)
    figures["refill_volume"][:, 0] = 1.0
    assert suited(figures).tolist() == [suits, -2]
