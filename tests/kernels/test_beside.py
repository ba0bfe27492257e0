"""Passes beside one another: the kernel, each place with each, and geometry."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from kerfwright.kernels.beside import LEFT, RIGHT, nearest_beside, nearest_beside_reference

LIMITS = np.array([0.8, 0.03, 0.4, 0.9])


@pytest.mark.parametrize("seed", range(4))
def test_kernel_equals_reference(seed):
    rng = np.random.default_rng(seed)
    at = rng.uniform(0.0, 12.0, (500, 3)) * [1.0, 1.0, 0.2]
    way = rng.normal(size=(500, 3)) * [1.0, 0.3, 0.1]
    way /= np.linalg.norm(way, axis=1)[:, None]
    asked = np.flatnonzero(rng.random(500) < 0.5)
    for within in (0.5, 3.0, 40.0):
        fast = nearest_beside(at, way, np.arange(500), asked, within, LIMITS)
        plain = nearest_beside_reference(at, way, asked, within, LIMITS)
        for one, other in zip(fast, plain, strict=True):
            assert one == pytest.approx(other, rel=1e-12)
    near = fast[0]
    assert (near >= 0).any(axis=0).all()
    # No nearer than the nearest place of all, by a general library.
    nearest = cKDTree(at).query(at[asked], k=2)[0][:, 1]
    some = near[:, LEFT] >= 0
    far = np.linalg.norm(at[near[some, LEFT]] - at[asked[some]], axis=1)
    assert (far >= nearest[some]).all()


def test_lines_to_and_fro_stand_apart_by_their_step_over():
    x = np.arange(0.0, 30.0, 1.0)
    lines = [np.column_stack([x, np.full(30, 0.4 * k), np.full(30, -0.1 * k)]) for k in range(5)]
    at = np.concatenate(lines)
    way = np.repeat([[1.0, 0, 0], [-1.0, 0, 0], [1.0, 0, 0], [-1.0, 0, 0], [1.0, 0, 0]], 30, axis=0)
    asked = np.arange(60, 90)  # the middle line runs to the right
    near, apart, slope = nearest_beside(at, way, np.arange(150), asked, 3.0, LIMITS)
    assert near[:, LEFT].tolist() == list(range(90, 120))
    assert near[:, RIGHT].tolist() == list(range(30, 60))
    assert apart == pytest.approx(np.hypot(0.4, 0.1))
    assert slope[:, LEFT] == pytest.approx(-0.25)
    assert slope[:, RIGHT] == pytest.approx(0.25)
    alone, _, _ = nearest_beside(at, 3.0 * way, asked, asked, 3.0, LIMITS)
    assert (alone == -1).all()
