"""Elements, the larger and the smaller of numbers, whole numbers: as Python has them."""

import itertools

import numpy as np
import pytest

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import NUMPY, kernel


@kernel(**BORROWING)
def _get(array, index):
    return array[index]


@kernel(**BORROWING)
def _put(array, index, value):
    array[index] = value


@kernel(**BORROWING)
def _ends(row):
    row[1] = row[0]
    row[-2] = row[-1]
    return row[0] - row[-1]


@kernel(**NUMPY)
def _largest(a, b, c):
    return max(a, b), max(a, b, c), max(b, a, 2), min(a, b), min(a, b, c), min(b, a, 2)


@kernel(**NUMPY)
def _whole(a):
    return int(a)


@kernel(**NUMPY)
def _own_array(count):
    """An array that is made here: its references are counted."""
    made = np.zeros((count, 2))
    for row in range(count):
        made[row, -1] = max(row, 3)
    return made[:, 1].copy()


def _arrays():
    rng = np.random.default_rng(3)
    for kind in (np.float64, np.float32, np.int64, np.int32, np.uint8, np.bool_):
        whole = rng.integers(0, 2 if kind is np.bool_ else 100, (6, 5, 4)).astype(kind)
        yield whole
        yield whole[1:5:2, ::-1, 1:3]  # as a part lies in its array
        yield whole[0]
        yield whole[:, 2, ::3]
        yield whole[0, 0]
        yield whole[:, 1, 1]
        yield np.asfortranarray(whole)


@pytest.mark.parametrize("array", list(_arrays()), ids=lambda a: f"{a.dtype}-{a.shape}-{a.strides}")
def test_an_element_is_found_and_put_by_any_index(array):
    sides = [(0, length - 1, -1, -length) for length in array.shape]
    for index in itertools.product(*sides):
        where = index if array.ndim > 1 else index[0]
        assert _get(array, where) == array[index]
        assert type(_get(array, where)) is type(array[index].item())
        if min(index) >= 0:
            unsigned = tuple(np.uint32(one) for one in index)
            assert _get(array, unsigned if array.ndim > 1 else unsigned[0]) == array[index]
        expected, got = array.copy(), array.copy(order="K")
        for value in (1, 0):
            expected[index] = value
            _put(got, where, value)
            assert np.array_equal(got, expected)


def test_an_array_that_must_not_change_is_read():
    fixed = np.arange(3.0)
    fixed.flags.writeable = False
    assert _get(fixed, -1) == 2.0


def test_an_index_that_is_known_beforehand():
    row = np.arange(5.0)
    assert _ends(row) == -4.0
    assert row.tolist() == [0.0, 0.0, 2.0, 4.0, 4.0]


@pytest.mark.parametrize(
    "numbers", list(itertools.product([-1.5, -0.0, 0.0, 3.0, np.nan], repeat=3)), ids=str
)
def test_the_larger_and_the_smaller_are_chosen_as_python_does(numbers):
    """The one after the other, so that it tells which of two equal ones, and where no number is."""
    got, expected = _largest(*numbers), _largest.py_func(*numbers)
    assert np.array_equal(np.array(got).view(np.int64), np.array(expected, float).view(np.int64))


def test_numbers_of_different_kinds_are_compared_in_the_wider():
    assert _largest(1, 2.5, np.float32(0.25)) == (2.5, 2.5, 2.5, 1.0, 0.25, 1.0)
    assert _largest(7, np.int32(-3), 2) == (7, 7, 7, -3, -3, -3)
    assert all(isinstance(one, int) for one in _largest(7, np.int32(-3), 2))


@pytest.mark.parametrize("number", [2.7, -2.7, np.float32(-0.5), 2**40 + 1, np.int32(-4), True])
def test_a_whole_number_is_cut_off_towards_nought(number):
    assert _whole(number) == int(number)


def test_an_array_made_within_is_handed_out_whole():
    assert _own_array(6).tolist() == [3.0, 3.0, 3.0, 3.0, 4.0, 5.0]
