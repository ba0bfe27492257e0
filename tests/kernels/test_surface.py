"""Errors square to the surface, row by row, against all rows at once in plain arrays."""

import numpy as np
import pytest

from kerfwright.kernels.surface import BINS, DROPPED, errors_of_rows, errors_reference

NEVER, FLOOR_MM, CELL_MM = -1, -12.0, 0.25


def _fields(rows, columns, seed):
    """A wavy surface with walls and holes, cut in part, and the same as run."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:rows, 0:columns] * CELL_MM
    height = (-2.0 + 0.8 * np.sin(x / 1.7) * np.cos(y / 2.3)).astype(np.float32)
    height[(x > 4.0) & (x < 5.0)] -= 3.0
    height[rng.random(height.shape) < 0.01] = FLOOR_MM
    run = height + rng.normal(0.0, 0.03, height.shape).astype(np.float32)
    run[rng.random(height.shape) < 0.01] = FLOOR_MM
    made = np.where(rng.random(height.shape) < 0.7, 5, NEVER).astype(np.int32)
    return height, run, made


def _strip(fields, first, end, tolerance=0.02):
    rows, columns = fields[0].shape
    error = np.empty((end - first, columns), np.float32)
    in_bin, sums = np.zeros(BINS, np.int64), np.empty(end - first)
    a, b = max(first - 2, 0), min(end + 2, rows)
    ends = errors_of_rows(
        *(np.ascontiguousarray(one[a:b]) for one in fields), NEVER, first - a, np.float32(CELL_MM),
        np.float32(FLOOR_MM), error, error.view(np.int32), np.float32(tolerance), in_bin, sums,
    )  # fmt: skip
    return error, ends, in_bin, sums


@pytest.mark.parametrize("shape", [(40, 60), (1, 30), (30, 1), (2, 2), (1, 1)])
def test_all_rows_are_those_of_the_definition(shape):
    fields = _fields(*shape, 1)
    expected = errors_reference(*fields, NEVER, CELL_MM, FLOOR_MM)
    error, (beyond, least, most), in_bin, sums = _strip(fields, 0, shape[0])
    assert np.array_equal(error, expected, equal_nan=True)
    known = expected[np.isfinite(expected)]
    assert (beyond, int(in_bin.sum())) == (int((np.abs(known) > 0.02).sum()), len(known))
    if len(known):
        assert (least, most) == (known.min(), known.max())
    else:
        assert (least, most) == (np.inf, -np.inf)
    assert sums == pytest.approx(np.nansum(expected, axis=1, dtype=np.float64), rel=1e-12)
    bins = np.abs(known).view(np.int32) >> DROPPED
    assert np.array_equal(in_bin, np.bincount(bins, minlength=BINS))


def test_strips_are_the_whole():
    fields = _fields(50, 40, 2)
    whole, ends, in_bin, sums = _strip(fields, 0, 50)
    assert np.isfinite(whole).sum() > 100
    parts = [_strip(fields, a, min(a + 7, 50)) for a in range(0, 50, 7)]
    assert np.array_equal(np.concatenate([part[0] for part in parts]), whole, equal_nan=True)
    assert sum(part[1][0] for part in parts) == ends[0]
    assert (min(part[1][1] for part in parts), max(part[1][2] for part in parts)) == ends[1:]
    assert np.array_equal(sum(part[2] for part in parts), in_bin)
    assert np.array_equal(np.concatenate([part[3] for part in parts]), sums)
