"""Pieces are found where the board was cut, as if on the map of all of it."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from kerfwright.kernels.tiles import TILE
from kerfwright.prove.pieces import _Wood
from kerfwright.stock.field import Field

ROWS, COLUMNS = 3 * TILE - 40, 4 * TILE - 9


@dataclass(frozen=True)
class Level:
    """A start like any board's: it makes the map go over all of it."""

    hollow = False

    def heights(self, x_mm, y_mm):
        return np.zeros((len(y_mm), len(x_mm))), np.full((len(y_mm), len(x_mm)), -18.0)


def cut_in(tiles):
    """A board with random grooves right through, in some tiles."""
    field = Field(
        cell_mm=1.0, rows=ROWS, columns=COLUMNS, floor_mm=-18.0, place=np.full(12, -1),
        **{name: np.empty((0, TILE**2), np.float32) for name in ("height_mm", "beneath_mm")},
        top_mm=np.empty((0, 256), np.float32),
        **{name: np.empty((0, TILE**2), np.int32) for name in ("made_by", "through_at")},
    ).with_room(np.array(tiles))  # fmt: skip
    rng = np.random.default_rng(4)
    for tile in range(len(tiles)):
        # Blocks of 8 x 8 cells: some gone, so that what is between falls apart.
        gone = np.repeat(rng.uniform(size=256) < 0.5, 64)
        field.through_at[tile, gone] = 8  # by step 7
    return field


@pytest.mark.parametrize(
    "tiles",
    [
        pytest.param([5], id="in the middle"),
        pytest.param([1, 5, 9], id="from front to back: two parts beyond"),
        pytest.param([4, 5, 6, 7], id="from left to right"),
        pytest.param([0], id="in a corner"),
        pytest.param([2, 11], id="at two edges"),
    ],
)
def test_as_on_the_map_of_the_whole_board(tiles):
    field = cut_in(tiles)
    part, whole = _Wood.of(field), _Wood.of(replace(field, start=Level()))
    assert whole.label.shape == (ROWS, COLUMNS) == part.shape
    assert part.label.size < whole.label.size
    assert whole.label.max() > 5
    assert np.array_equal(part.cells(), whole.cells())
    assert part.boxes() == whole.boxes()
    for box in (
        (slice(0, ROWS), slice(0, COLUMNS)),
        (slice(3, 9), slice(COLUMNS - 30, COLUMNS)),
        (slice(130, 250), slice(100, 300)),
    ):
        for name in ("label", "height_mm", "through_at"):
            over = part.over(getattr(part, name), box)
            assert np.array_equal(over, whole.over(getattr(whole, name), box))
            assert np.array_equal(over, getattr(whole, name)[box])
