"""Steps where they are run, against the same by plain arrays."""

import numpy as np
import pytest

from kerfwright.kernels.running import run_reference, run_steps


def _path(rng, segments):
    point = np.cumsum(rng.uniform(-1.0, 1.0, (segments + 1, 3)), axis=0)
    length = np.linalg.norm(np.diff(point, axis=0), axis=1)
    blend = np.zeros(segments + 1)
    blend[1:-1] = rng.uniform(0.0, 0.3, segments - 1) * (rng.random(segments - 1) < 0.7)
    return point, length, blend


def _window(rng, begin, end):
    """Steps of the segments ``begin`` to ``end``, in groups of any length."""
    segment_of = np.repeat(np.arange(begin, end), rng.integers(1, 6, end - begin)).astype(np.int64)
    many = len(segment_of)
    inner = np.flatnonzero(rng.random(many - 1) < 0.3) + 1
    group_first = np.concatenate([[0], inner, [many]]).astype(np.int64)
    return segment_of, rng.random(many) < 0.8, group_first


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("goes_on", [True, False])
def test_windows_are_run_as_the_definition_says(seed, goes_on):
    rng = np.random.default_rng(seed)
    point, length, blend = _path(rng, 30)
    begin, end = ((0, 30), (4, 17), (20, 30))[seed % 3]
    segment_of, follows, group_first = _window(rng, begin, end)
    many, groups = len(segment_of), len(group_first) - 1
    before, behind = seed % 2 * 3, (seed + 1) % 2 * 2
    offset = rng.normal(0.0, 0.1, (before + groups + behind, 3))
    steps, swing = rng.normal(0.0, 5.0, (many, 6)), rng.normal(0.0, 0.05, (many, 2, 3))
    rounded = np.zeros_like(point)
    turn = np.diff(np.diff(point, axis=0) / length[:, None], axis=0)
    rounded[1:-1] = 0.25 * blend[1:-1, None] * turn
    expected = run_reference(
        steps, segment_of, follows, group_first, goes_on, before, offset, rounded, swing
    )
    swings = np.full((len(offset), 3), -1.0, np.float32)
    run_steps(
        steps, segment_of, follows, group_first, goes_on, before, offset, point, length, blend,
        swing, swings,
    )  # fmt: skip
    assert np.abs(steps - expected).max() < 1e-12
    for own in range(groups):
        some = slice(*group_first[own : own + 2])
        assert swings[before + own] == pytest.approx(swing[some].mean(axis=(0, 1)), abs=1e-7)
    others = np.r_[0:before, before + groups : len(offset)]
    assert (swings[others] == -1.0).all()


def test_where_groups_meet_the_path_stays_whole():
    segment_of = np.zeros(6, np.int64)
    steps = np.repeat(np.arange(7.0), 2)[1:-1].reshape(6, 2).repeat(3, axis=1)
    offset = np.array([[0.1] * 3, [-0.3] * 3, [0.2] * 3])
    still = np.zeros((6, 2, 3))
    point, length, blend = np.array([[0.0] * 3, [6.0] * 3]), np.array([6.0 * 3**0.5]), np.zeros(2)
    swings = np.empty((3, 3), np.float32)
    run_steps(
        steps, segment_of, np.ones(6, np.bool_), np.array([0, 2, 4, 6]), False, 0, offset, point,
        length, blend, still, swings,
    )  # fmt: skip
    assert np.array_equal(steps[1:, :3], steps[:-1, 3:])
    assert steps[:, 0] == pytest.approx([0.1, 1.1, 1.9, 2.7, 3.95, 5.2], abs=1e-12)
