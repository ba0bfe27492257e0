"""The step that takes the last bridge, against trying all steps one after the other."""

import numpy as np
import pytest

from kerfwright.kernels.joining import parted_at_reference
from kerfwright.prove.pieces import _freed_at
from kerfwright.stock.field import NEVER


@pytest.mark.parametrize("seed", range(40))
def test_as_by_trying_each_step(seed, monkeypatch):
    rng = np.random.default_rng(seed)
    rows, columns = rng.integers(5, 24, 2)
    # A piece in the middle; around it lanes that are cut by random steps, some holes, and a rim.
    through = rng.integers(0, 60, (rows, columns)).astype(np.int32)
    through[rng.random((rows, columns)) < 0.35] = NEVER
    stands = rng.random((rows, columns)) < 0.9
    held = np.zeros((rows, columns), np.bool_)
    held[0], held[:, -1] = True, rng.random(rows) < 0.5
    piece = np.zeros_like(held)
    row, column = rows // 2, columns // 2
    piece[row, column] = True
    through[row, column], stands[row, column] = NEVER, True
    # So that it does come loose: nothing uncut leads to what is held.
    beside = [(row + a, column + b) for a, b in ((0, 1), (1, 0), (0, -1), (-1, 0))]
    for place in beside:
        if through[place] == NEVER:
            through[place] = rng.integers(0, 60)
    wanted = parted_at_reference(through, (through == NEVER) & stands, held, (row, column))
    for at_once in (3, 10**6):
        monkeypatch.setattr("kerfwright.prove.pieces._AT_ONCE", at_once)
        assert _freed_at(through, stands, piece, held) == wanted


def test_what_never_hung_on_anything():
    through = np.full((3, 5), NEVER, np.int32)
    through[:, 2] = (4, 2, 9)
    stands, held = np.ones((3, 5), np.bool_), np.zeros((3, 5), np.bool_)
    piece = np.zeros_like(held)
    piece[1, 0] = True
    assert _freed_at(through, stands, piece, held) == 2
    held[0, 4] = True
    assert _freed_at(through, stands, piece, held) == 9
