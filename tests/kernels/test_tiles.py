"""A field laid out plain, cell by cell."""

import numpy as np
import pytest

from kerfwright.kernels.tiles import BLOCK, TILE, lay_out


def _cell(store, place, tiles_x, row, column, untouched):
    """One cell by the definition: tiles in rows, blocks of 8 x 8 in rows, cells in rows."""
    at = place[row // TILE * tiles_x + column // TILE]
    if at < 0:
        return untouched
    r, c = row % TILE, column % TILE
    block = r // BLOCK * (TILE // BLOCK) + c // BLOCK
    return store[at].reshape(-1, BLOCK, BLOCK)[block, r % BLOCK, c % BLOCK]


@pytest.mark.parametrize("kind", [np.float32, np.int32])
@pytest.mark.parametrize(
    "span",
    [(0, 256, 0, 384), (5, 141, 3, 300), (127, 129, 127, 129), (60, 61, 250, 383), (9, 9, 4, 7)],
)  # fmt: skip
def test_each_cell_is_the_stored_one(kind, span):
    rng = np.random.default_rng(3)
    store = rng.integers(0, 1_000_000, (4, TILE * TILE)).astype(kind)
    place = np.array([2, -1, 0, -1, 3, 1], np.int64)
    first, end, left, right = span
    out = np.empty((end - first, right - left), kind)
    lay_out(store, place, 3, first, left, kind(-7), out)
    expected = [
        [_cell(store, place, 3, row, column, -7) for column in range(left, right)]
        for row in range(first, end)
    ]
    assert np.array_equal(out, np.array(expected, kind).reshape(out.shape))
