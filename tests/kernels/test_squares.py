"""Squares that a path may touch, against the same by many places along it."""

import numpy as np
import pytest

from kerfwright.kernels.squares import mark_squares, squares_reference


def _touched(point, mine, radius, side, piece, shape):
    corners = np.zeros((shape[0] + 1, shape[1] + 1), np.int32)
    mark_squares(point, mine, radius, side, piece, corners)
    many = corners.cumsum(axis=0).cumsum(axis=1)
    assert (many[-1].any(), many[:, -1].any()) == (False, False)
    return many[:-1, :-1]


@pytest.mark.parametrize("seed", range(4))
def test_short_moves_touch_what_the_definition_says(seed):
    rng = np.random.default_rng(seed)
    point = np.cumsum(rng.uniform(-1.2, 1.2, (200, 3)), axis=0) + 8.0
    mine = np.ones(199, np.bool_)
    found = _touched(point, mine, 1.6, 1.5, 4.0, (12, 15)) > 0
    # Each short move is looked at with its whole box: a superset, by less than a square.
    expected = squares_reference(point, 1.6, 1.5, (12, 15))
    assert (found | ~expected).all()
    wide = squares_reference(point, 1.6 + 1.2, 1.5, (12, 15))
    assert (wide | ~found).all()
    assert 0 < expected.sum() < expected.size


def test_long_moves_across_touch_few_beside_them():
    point = np.array([[-40.0, -40.0, -1.0], [140.0, 90.0, -1.0], [90.0, 10.0, -1.0]])
    found = _touched(point, np.ones(2, np.bool_), 3.0, 1.0, 4.0, (70, 100)) > 0
    expected = squares_reference(point, 3.0, 1.0, (70, 100))
    assert (found | ~expected).all()
    assert (squares_reference(point, 3.0 + 4.0, 1.0, (70, 100)) | ~found).all()
    assert found.sum() < 1.6 * expected.sum()


def test_moves_that_do_not_count_and_places_off_the_board():
    point = np.array([[2.0, 2.0, 0.0], [8.0, 2.0, 0.0], [1e12, 2.0, 0.0], [-1e12, -1e12, 0.0]])
    found = _touched(point, np.array([True, False, False]), 1.0, 1.0, 4.0, (10, 10))
    assert found.sum() == found.max() * 3 * 9
    assert (found[1:4, 1:10] == 1).all()
    beyond = np.array([[30.0, 30.0, 0.0], [40.0, 31.0, 0.0]])
    assert not _touched(beyond, np.ones(1, np.bool_), 1.0, 1.0, 4.0, (10, 10)).any()


def test_a_square_that_is_touched_again_at_once_is_counted_once():
    point = np.array([[5.2, 5.2, 0.0], [5.3, 5.2, 0.0], [5.4, 5.3, 0.0]])
    found = _touched(point, np.ones(2, np.bool_), 1.0, 1.0, 4.0, (10, 10))
    assert (found.max(), found.sum()) == (1, 9)
