"""How the tiles of a window are shared out between threads."""

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.prove.removal import MOST_AT_ONCE, Remover
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=600.0, width_mm=100.0, thickness_mm=12.0, wood=WOOD)


def _portions(many, threads, in_spans=()):
    remover = Remover(Field.of_board(BOARD, 0.5), threads)
    layers = np.full(len(remover.field.place), -1, np.int64)
    layers[list(in_spans)] = 0
    remover._many[: len(many)] = many
    touched = np.argsort(-np.array(many), kind="stable")
    return [one.tolist() for one in remover._portions(touched, layers)]


def test_heavy_tiles_are_shared_out_one_by_one():
    many = [500, 480, 490, 510, *[10] * 16]
    portions = _portions(many, 2)
    assert portions[:4] == [[3], [0], [2], [1]]
    assert sum(len(one) for one in portions) == len(many)
    assert max(len(one) for one in portions) > 2


@pytest.mark.parametrize("threads", [1, 2, 3])
def test_each_tile_is_in_one_portion_and_the_last_stand_alone(threads):
    many = np.random.default_rng(threads).integers(1, 400, 20).tolist()
    portions = _portions(many, threads, in_spans=(4, 11))
    assert sorted(tile for one in portions for tile in one) == list(range(20))
    assert [4] in portions
    assert [11] in portions
    assert max(len(one) for one in portions) <= MOST_AT_ONCE
    # Of what is left none has more than half of a thread's share, but for single tiles.
    whole = [one for one in portions if one not in ([4], [11])]
    left = [sum(many[tile] for one in whole[k:] for tile in one) for k in range(len(whole))]
    for one, rest in zip(whole, left, strict=True):
        assert len(one) == 1 or sum(many[tile] for tile in one) <= rest / (2 * threads)
    assert len(whole[-1]) == 1


@pytest.mark.parametrize("threads", [1, 2])
def test_closed_it_takes_no_more(threads):
    remover = Remover(Field.of_board(BOARD, 0.5), threads)
    steps = np.array([[10.0, 20.0, -2.0, 500.0, 20.0, -2.0]])
    cutter = read_cutter("flat 6 mm, 2 flutes")
    if threads == 1:
        remover.close()
        taken = remover.take(steps, np.zeros(1, np.bool_), 0, cutter)
        assert taken.volume.sum() == 0.0
        assert remover.field.heights().min() == 0.0
        return
    taken = remover.take(steps, np.zeros(1, np.bool_), 0, cutter)
    assert taken.volume.sum() > 0.0
    remover.close()
    with pytest.raises(RuntimeError):
        remover.take(steps, np.zeros(1, np.bool_), 0, cutter)
