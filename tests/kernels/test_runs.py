"""Steps taken together take what they take one by one."""

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.kernels.runs import LEVEL_MM, make_runs, runs_reference
from kerfwright.prove.removal import Remover
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")


def rows(rng, many, turning=False):
    """Steps of 0.3 mm to and fro, up and down; some level, some straight down. (w, 6), (w,)"""
    points = [np.array([8.0, 8.0, -1.0])]
    heading = 0.3
    while len(points) <= many:
        if rng.random() < 0.1:
            heading += rng.uniform(-2.0, 2.0) if turning else np.pi
        level = rng.random() < 0.4
        for _ in range(rng.integers(1, 9)):
            dz = 0.0 if level else rng.normal(0.0, 0.1)
            way = 0.0 if rng.random() < 0.03 else 0.3
            step = [way * np.cos(heading), way * np.sin(heading), dz if way else -0.1]
            point = points[-1] + step
            points.append(np.clip(point, [2.0, 2.0, -3.5], [22.0, 18.0, -0.2]))
    points = np.array(points[: many + 1])
    follows = rng.random(many) > 0.05
    follows[0] = False
    return np.hstack([points[:-1], points[1:]]), follows


def groups_of(rng, many):
    inner = np.flatnonzero(rng.random(many - 1) < 0.3) + 1
    return np.concatenate([[0], inner, [many]]).astype(np.int64)


@pytest.mark.parametrize("level_mm", [LEVEL_MM, 0.05])
@pytest.mark.parametrize("seed", range(4))
def test_kernel_equals_reference(seed, level_mm):
    rng = np.random.default_rng(seed)
    steps, follows = rows(rng, 300, turning=seed % 2 == 1)
    group_first = groups_of(rng, 300)
    part, box = np.empty((300, 6)), np.empty((300, 6))
    part_follows, along = np.empty(300, np.bool_), np.empty(300, np.bool_)
    number, first = np.empty(300, np.int64), np.empty(301, np.int64)
    group_run = np.empty(len(group_first), np.int64)
    many = make_runs(
        steps, follows, group_first, 0.001, level_mm, part, part_follows, number, first, box, along,
        group_run,
    )  # fmt: skip
    expected = runs_reference(steps, follows, group_first, 0.001, level_mm)
    assert many == len(expected)
    parts = [one for run in expected for one in run]
    assert 1.2 * many < len(parts) < 0.9 * len(steps)  # all three differ
    assert number[: first[many]].tolist() == [one[0] for one in parts]
    assert first[: many + 1].tolist() == np.cumsum([0, *(len(run) for run in expected)]).tolist()
    assert np.array_equal(part[: len(parts), :3], [steps[one[0], :3] for one in parts])
    assert np.array_equal(part[: len(parts), 3:], [steps[one[-1], 3:] for one in parts])
    assert np.array_equal(part_follows[: len(parts)], [follows[one[0]] for one in parts])
    for run, steps_of in enumerate(expected):
        ends = steps[[i for one in steps_of for i in one]].reshape(-1, 3)
        assert np.array_equal(box[run], [*ends.min(axis=0), *ends.max(axis=0)])
    begins = [run[0][0] for run in expected]
    assert group_run[:-1].tolist() == np.searchsorted(begins, group_first[:-1]).tolist()
    assert group_run[-1] == many


@pytest.mark.parametrize(
    "tool", ["flat 6 mm", "ball 3 mm", "v 60 deg 6 mm", "bull 6 mm, corner 1 mm"]
)
@pytest.mark.parametrize("weighed", [False, True])
def test_together_they_take_what_they_take_alone(tool, weighed):
    rng = np.random.default_rng(3)
    tool = read_cutter(tool)
    steps, follows = rows(rng, 400)
    board = Board(length_mm=24.0, width_mm=20.0, thickness_mm=20.0, wood=WOOD)
    height, volume = [], []
    for group_first in (None, groups_of(rng, 400)):
        remover = Remover(Field.of_board(board, 0.25), 1, weighed=weighed)
        taken = remover.take(steps, follows, 0, tool, group_first)
        height.append(remover.field.maps()[0])
        volume.append(taken.volume.sum(dtype=float))
    off = np.abs(height[0] - height[1])
    # A cell whose centre lies on the rim is in or out by rounding; where walls are weighed, one at
    # the rim of the run is taken by the lowest of the parts that it touches.
    assert (off > 2e-5).mean() < (0.003 if weighed else 3e-4)
    assert volume[1] == pytest.approx(volume[0], rel=1e-3 if weighed else 1e-4)
