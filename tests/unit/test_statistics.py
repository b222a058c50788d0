"""Percentiles and chances by hand and against numpy and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bedtide.errors import RangeError
from bedtide.statistics import by_group, chance, percentile


def test_percentile_by_hand():
    # 9 values: the i-th stands at i / 10
    values = [30, 10, 20, 50, 40, 90, 80, 70, 60]
    assert percentile(values, 0.1) == 10
    assert percentile(values, 0.5) == 50
    assert percentile(values, 0.9) == 90
    assert percentile(values, 0.25) == pytest.approx(25)  # half way from the 2nd to the 3rd
    assert percentile(values, 0.02) == 10
    assert percentile(values, 0.99) == 90


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40),
    st.floats(0, 1),
)
def test_percentile_is_definition_6(values, share):
    expected = np.quantile(values, share, method="weibull")
    assert percentile(values, share) == pytest.approx(expected, rel=1e-9, abs=1e-6)


@given(
    st.lists(st.lists(st.integers(1, 60), min_size=0, max_size=15), min_size=1, max_size=6),
    st.sampled_from([0.0, 0.1, 0.25, 0.5, 0.9, 1.0]),
)
def test_percentiles_of_groups_are_numpys_weibull(groups, share):
    numbered = [(value, at) for at, group in enumerate(groups) for value in group][::-1]
    values, which = zip(*numbered, strict=True) if numbered else ((), ())
    rows = by_group(values, which, len(groups))
    other, found = percentile(rows, [0.3, share])
    assert np.array_equal(other, percentile(rows, 0.3), equal_nan=True)
    for number, group in enumerate(groups):
        expected = np.quantile(group, share, method="weibull") if group else np.nan
        assert found[number] == pytest.approx(expected, nan_ok=True)


def test_percentile_works_along_the_last_axis_and_leaves_nan_out():
    values = np.array([[1.0, np.nan, 3.0], [np.nan, np.nan, np.nan], [2.0, 8.0, 5.0]])
    np.testing.assert_array_equal(percentile(values, 0.5), [2.0, np.nan, 5.0])
    assert np.isnan(percentile([], 0.5))


def test_longer_than_was_looked_at_is_the_largest():
    values = [5.0, np.inf, 7.0, np.inf]  # positions 0.2, 0.4, 0.6, 0.8
    assert percentile(values, 0.4) == 7
    assert percentile(values, 0.2) == 5
    assert np.isinf(percentile(values, 0.45))
    assert np.isinf(percentile(values, 0.6))
    assert np.isinf(percentile(values, 0.95))


def test_few_values_reach_from_the_smallest_to_the_largest():
    assert [percentile([3.0, 9.0], share) for share in (0.0, 0.1, 0.5, 0.9, 1.0)] == [3, 3, 6, 9, 9]


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_a_share_that_is_none(share):
    with pytest.raises(RangeError, match="not a probability"):
        percentile([1.0], share)


@pytest.mark.parametrize(
    ("happened", "cases", "share"),
    [(30, 30, 30 / 31), (0, 30, 1 / 31), (4, 30, 4 / 30), (1, 1, 0.5), (0, 1, 0.5)],
)
def test_years_never_make_it_certain(happened, cases, share):
    found = chance(happened, cases)
    assert found.share == pytest.approx(share)
    assert 0 < found.share < 1
    assert found.low <= found.share <= found.high


@pytest.mark.parametrize(("happened", "cases"), [(0, 5), (1, 5), (4, 30), (30, 30), (1, 1)])
def test_range_of_a_chance_is_that_of_clopper_and_pearson(happened, cases):
    from scipy.stats import binomtest

    expected = binomtest(happened, cases).proportion_ci(0.8, method="exact")
    found = chance(happened, cases)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), abs=1e-9)


def test_dependent_cases_make_the_range_wider_not_the_share_surer():
    alone, together = chance(40, 50), chance(40, 50, independent=5)
    assert together.high - together.low > 2 * (alone.high - alone.low)
    few = chance(4, 5)
    assert (together.low, together.high) == pytest.approx((few.low, few.high))
    assert chance(50, 50, independent=5).share == pytest.approx(5 / 6)


@pytest.mark.parametrize(
    ("happened", "cases", "independent"), [(2, 1, None), (-1, 3, None), (0, 0, None), (1, 3, 4)]
)
def test_counts_that_do_not_fit(happened, cases, independent):
    with pytest.raises(RangeError, match="can't be"):
        chance(happened, cases, independent=independent)
