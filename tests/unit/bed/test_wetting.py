"""The key that says how well a mix supplies its surface when it is fed from below."""

import pytest

from bedtide.bed import bed_from_text, bed_text
from bedtide.errors import BedtideError
from bedtide.mix import medium
from helpers.beds import bed_with


def test_left_out_it_is_the_typical_one():
    bed = bed_with()
    assert bed.wick_mix.wetting == 1.4
    assert bed.top_mix.wetting == 1.4


def test_each_mix_has_its_own_and_keeps_all_else():
    bed = bed_with({"mix.top.wetting": 2})
    assert bed.wick_mix.wetting == 1.4
    top, table = bed.top_mix, medium("potting mix")
    assert top.wetting == 2.0
    same = ("theta_r", "theta_s", "alpha", "alpha_low", "alpha_high", "n", "k_s", "l", "k_s_low")
    assert [getattr(top, name) for name in same] == [getattr(table, name) for name in same]
    assert "wetting" in top.notes[-1]


def test_a_recipe_and_a_measured_mix_take_it_too():
    recipe = bed_with({"mix.top": {"recipe": {"peat": 3, "perlite": 1}, "wetting": 1.0}}).top_mix
    bench = {"height": "20 cm", "total_porosity": "85 %", "air_after_draining": "18 %"}
    measured = bed_with({"mix.top": {"bench": {**bench, "like": "peat"}, "wetting": 1.0}}).top_mix
    assert (recipe.wetting, measured.wetting) == (1.0, 1.0)


def test_the_description_reads_back_with_it():
    bed = bed_with({"mix.wick.wetting": 0.8, "mix.top.wetting": 3.5})
    assert bed_from_text(bed_text(bed)) == bed


@pytest.mark.parametrize("given", [0.5, 4.0])
def test_the_ends_are_taken(given):
    assert bed_with({"mix.top.wetting": given}).top_mix.wetting == given


@pytest.mark.parametrize("given", [0.49, 4.01, "much", True])
def test_what_no_mix_is_like_is_refused(given):
    with pytest.raises(BedtideError) as refused:
        bed_with({"mix.top.wetting": given})
    assert "mix.top.wetting" in str(refused.value)
    assert "between 0.5 and 4" in str(refused.value)
