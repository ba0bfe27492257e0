"""The few largest of many, and the thin end of the chips: as from a whole order."""

import numpy as np
import pytest

from kerfwright.prove.judging import THINNEST_SHARE, _at_share
from kerfwright.prove.largest import largest


@pytest.mark.parametrize("many", [0, 1, 4, 5, 3000])
def test_the_largest_are_those_of_a_whole_order(many):
    rng = np.random.default_rng(many)
    for values in (rng.normal(size=many), rng.integers(0, 3, many).astype(float)):
        for count in (1, 4):
            order = np.argsort(-values, kind="stable")[:count]
            assert np.array_equal(largest(values, count), order)


def test_what_compares_with_nothing_comes_last():
    values = np.array([np.nan, 1.0, np.nan, 2.0])
    assert largest(values, 3).tolist() == [3, 1, 0]


@pytest.mark.parametrize("kinds", [2, 50, 10**6])
def test_a_tenth_of_the_time_is_found_without_putting_all_in_order(kinds):
    rng = np.random.default_rng(kinds)
    feed = rng.integers(0, kinds, 20_000).astype(np.float64)
    # In the second case the thin chips take no time, so that the look at some is not enough.
    for time in (np.full(len(feed), 0.25), np.where(feed > 0.6 * kinds, 1.0, 0.0)):
        order = np.argsort(feed, kind="stable")
        spent = np.cumsum(time[order])
        k = order[np.searchsorted(spent, THINNEST_SHARE * spent[-1])]
        assert _at_share(feed, time) == k
