"""A mix from a grower's container."""

import math
from dataclasses import replace

import pytest

from bedtide.errors import ChoiceError, InputError, RangeError, SeveralErrors
from bedtide.mix import fit_bench, mean_water_content, media, medium


@pytest.mark.parametrize(("height", "porosity", "air"), [(0.2, 0.8, 0.2), (0.076, 0.85, 0.083)])
def test_drained_container_holds_what_was_measured(height, porosity, air):
    mix = fit_bench(height, porosity, air)
    assert porosity - mean_water_content(height, mix) == pytest.approx(air, abs=1e-9)
    assert mix.theta_s == porosity


@pytest.mark.parametrize("name", media())
def test_a_medium_is_found_again_from_its_own_container(name):
    known = medium(name)
    air = known.theta_s - float(mean_water_content(0.2, known))
    found = fit_bench(0.2, known.theta_s, air, like=known)
    assert found.alpha == pytest.approx(known.alpha, rel=1e-6, abs=0.0)
    assert found.theta_r == pytest.approx(known.theta_r)


def test_what_was_assumed_is_said():
    mix = fit_bench(0.2, 0.8, 0.2, like="coir", name="my coir")
    assert mix.name == "my coir"
    assert mix.n == medium("coir").n
    assert "20 cm" in mix.notes[0]
    assert "Taken from coir, not measured" in mix.notes[1]
    assert "bulk density" in mix.notes[1]
    assert mix.standing == "fitted to a bench measurement"


def test_residual_water_keeps_its_share_of_the_porosity():
    mix = fit_bench(0.2, 0.425, 0.08)
    assert mix.theta_r == pytest.approx(0.117 / 2)


def test_measured_density_is_taken():
    mix = fit_bench(0.2, 0.8, 0.2, bulk_density=300.0)
    assert mix.bulk_density == 300.0
    assert "bulk density" not in mix.notes[1]


def test_more_air_means_a_coarser_mix():
    assert fit_bench(0.2, 0.8, 0.3).alpha > fit_bench(0.2, 0.8, 0.2).alpha


@pytest.mark.parametrize(
    ("height", "porosity", "air", "words"),
    [
        (0.0, 0.8, 0.2, "height of the container"),
        (2.1, 0.8, 0.2, "height of the container"),
        (0.2, 0.19, 0.1, "total porosity"),
        (0.2, 1.1, 0.2, "total porosity"),
        (0.2, 0.8, 0.8, "part of the total porosity"),
        (0.2, 0.8, 0.85, "air after draining"),
        (0.2, 0.8, -0.1, "air after draining"),
        (0.2, math.nan, 0.1, "total porosity"),
        (0.2, 0.8, 0.75, "more or less than a mix like potting mix"),
    ],
)
def test_impossible_measurement_is_refused(height, porosity, air, words):
    with pytest.raises(InputError, match=words):
        fit_bench(height, porosity, air)


def test_impossible_fit_says_what_would_be_possible():
    with pytest.raises(RangeError) as caught:
        fit_bench(0.2, 0.8, 0.75)
    assert caught.value.expected.startswith("between ")
    assert "Measure again" in caught.value.hint
    assert "in a container 20 cm high" in caught.value.problem


@pytest.mark.parametrize("alpha", [0.51, 498.0])
def test_from_finest_to_coarsest_a_container_gives_its_mix(alpha):
    known = replace(medium("potting mix"), alpha=alpha, alpha_low=None, alpha_high=None)
    air = known.theta_s - float(mean_water_content(1.9, known))
    assert fit_bench(1.9, known.theta_s, air).alpha == pytest.approx(alpha, rel=1e-6)


@pytest.mark.parametrize("alpha", [0.4, 600.0])
def test_finer_or_coarser_than_any_mix_is_refused(alpha):
    known = replace(medium("potting mix"), alpha=alpha, alpha_low=None, alpha_high=None)
    air = known.theta_s - float(mean_water_content(1.9, known))
    with pytest.raises(RangeError, match="more or less than a mix like"):
        fit_bench(1.9, known.theta_s, air)


def test_several_mistakes_are_reported_together():
    with pytest.raises(SeveralErrors) as caught:
        fit_bench(-1.0, 0.8, -0.1)
    assert len(caught.value.errors) == 2


def test_unknown_model_medium_is_refused():
    with pytest.raises(ChoiceError, match="like"):
        fit_bench(0.2, 0.8, 0.2, like="unobtainium")
