"""Recipes by volume."""

import numpy as np
import pytest

from bedtide.errors import ChoiceError, InputError
from bedtide.mix import blend, medium, water_content
from bedtide.mix.hydraulics import conductivity

SUCTIONS = np.geomspace(0.01, 5.0, 30)


def test_one_part_is_the_medium_itself():
    alone = blend({"peat": 2})
    assert alone == medium("peat")


def test_a_medium_blended_with_itself_stays_as_it_is():
    peat = medium("peat")
    twin = blend({"peat": 1, blend({"peat": 1}, name="same peat"): 1})
    assert water_content(SUCTIONS, twin) == pytest.approx(water_content(SUCTIONS, peat), abs=1e-6)
    assert conductivity(SUCTIONS, twin) == pytest.approx(
        conductivity(SUCTIONS, peat), rel=1e-4, abs=0.0
    )


def test_blend_lies_between_its_parts():
    parts = {"peat": 1, "perlite": 1}
    mixed = blend(parts)
    held = np.array([water_content(SUCTIONS, medium(name)) for name in parts])
    assert (water_content(SUCTIONS, mixed) > held.min(axis=0) - 0.01).all()
    assert (water_content(SUCTIONS, mixed) < held.max(axis=0) + 0.01).all()
    assert mixed.theta_s == pytest.approx((0.906 + 0.940) / 2)
    assert mixed.bulk_density == pytest.approx(105.0)
    assert mixed.k_s == pytest.approx(np.sqrt(40.0 * 20.0))


@pytest.mark.parametrize(
    ("parts", "points", "times"),
    [
        ({"peat": 3, "perlite": 1}, 2.0, 1.2),
        ({"peat": 1, "pine bark fine": 3}, 2.0, 2.0),
        ({"peat": 1, "pine bark coarse": 1}, 4.0, 3.5),
        ({"coir": 3, "perlite": 1}, 2.0, 1.2),
    ],
)
def test_refit_is_as_close_as_its_note_and_the_docs_say(parts, points, times):
    mixed = blend(parts)
    total = sum(parts.values())
    held = sum(w / total * water_content(SUCTIONS, medium(p)) for p, w in parts.items())
    said = float(mixed.notes[1].split("within ")[1].split(" points")[0])
    assert np.abs(water_content(SUCTIONS, mixed) - held).max() <= (said + 0.05) / 100
    assert said <= points
    wicking = np.geomspace(0.02, 1.0, 30)
    rate = sum(w / total * np.log(conductivity(wicking, medium(p))) for p, w in parts.items())
    factor = float(mixed.notes[1].split("factor of ")[1].split(" ")[0])
    off = np.abs(np.log(conductivity(wicking, mixed)) - rate).max()
    assert off <= np.log(factor * 1.06)
    assert factor <= times


def test_parts_and_shares_are_the_same_and_order_does_not_matter():
    by_parts = blend({"peat": 3, "perlite": 1}, name="mix")
    by_shares = blend({"perlite": 0.25, "peat": 0.75}, name="mix")
    for field in ("theta_r", "theta_s", "alpha", "n", "k_s", "l"):
        assert getattr(by_parts, field) == pytest.approx(
            getattr(by_shares, field), rel=1e-4, abs=0.0
        )


def test_spread_is_the_widest_of_the_parts():
    mixed = blend({"peat": 1, "pine bark fine": 1})
    assert mixed.k_s_low == pytest.approx(mixed.k_s / 5.0)  # bark 4 of 20; peat 10 of 40
    assert mixed.k_s_high == pytest.approx(mixed.k_s * 5.0)  # bark 100 of 20; peat 80 of 40
    assert mixed.l_low == pytest.approx(max(-2.0, mixed.l - 0.7))  # peat -1 of -0.3; bark less
    assert mixed.l_high == pytest.approx(mixed.l + 0.8)  # peat 0.5 of -0.3
    assert mixed.alpha_low == pytest.approx(mixed.alpha * 21.1 / 29.11)  # bark
    assert mixed.alpha_high == pytest.approx(mixed.alpha * 41.9 / 29.11)


def test_blend_says_that_it_is_an_approximation_and_names_all_sources():
    mixed = blend({"peat": 1, "perlite": 1})
    assert "approximation" in mixed.standing
    assert "approximation" in mixed.notes[0]
    assert {"heiskanen_1990", "perlite_grades"} <= set(mixed.sources)
    assert mixed.name == "50% peat, 50% perlite"


def test_more_bark_wicks_worse():
    rates = [
        float(conductivity(0.2, blend({"peat": 10 - bark, "pine bark fine": bark})))
        for bark in (2, 4, 7)
    ]
    assert rates[0] > rates[1] > rates[2]


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ({}, "no medium"),
        ({"peat": 0}, "recipe, peat"),
        ({"peat": -1, "perlite": 2}, "recipe, peat"),
        ({"peat": float("nan")}, "recipe, peat"),
        ({"peat": 0.5, "perlite": 0.3}, "add up to 80 %"),
    ],
)
def test_impossible_recipe_is_refused(parts, words):
    with pytest.raises(InputError, match=words):
        blend(parts)


def test_unknown_part_is_refused_with_its_place():
    with pytest.raises(ChoiceError, match=r"recipe"):
        blend({"peet": 1, "perlite": 1})
