"""The pace against a general library of time-optimal path tracking, on the very same path.

toppra (MIT licence; Pham and Pham, IEEE Trans. Robotics 34(3), 2018, on reachability analysis)
solves on a grid along the path; the finer its grid, the nearer it comes to the optimum.
"""

import logging

import numpy as np
import pytest
from toppra import constraint
from toppra.algorithm import TOPPRA
from toppra.interpolator import AbstractGeometricPath

from kerfwright.basics.progress import silent
from kerfwright.trajectory.pace import Pace

TOP = np.array([4000.0, 4000.0, 1200.0]) / 60.0
LIMIT = np.array([400.0, 250.0, 120.0])


class Rounded(AbstractGeometricPath):
    """The polyline with its parabolic corners, by length along it."""

    dof = 3

    def __init__(self, points, pace):
        self.points, self.unit, self.d = points, pace.unit, pace.blend_mm
        n = len(pace.length_mm)
        ways = np.zeros(2 * n - 1)
        ways[0::2] = np.maximum(pace.length_mm - self.d[:-1] - self.d[1:], 0.0)
        ways[1::2] = 2 * self.d[1:n]
        self.edge = np.concatenate([[0.0], np.cumsum(ways)])

    def __call__(self, at, order=0):
        at = np.atleast_1d(np.asarray(at, float))
        k = np.clip(np.searchsorted(self.edge, at, side="right") - 1, 0, len(self.edge) - 2)
        way, i = (at - self.edge[k])[:, None], k // 2
        line = (k % 2 == 0)[:, None]
        j = np.minimum(i + 1, len(self.unit) - 1)
        p, q, d = self.unit[i], self.unit[j], np.maximum(self.d[i + 1], 1e-12)[:, None]
        if order == 0:
            corner = self.points[i + 1] - d * p + way * p + way**2 / (4 * d) * (q - p)
            return np.where(line, self.points[i] + (self.d[i][:, None] + way) * p, corner)
        if order == 1:
            return np.where(line, p, p + way / (2 * d) * (q - p))
        return np.where(line, 0.0, (q - p) / (2 * d))

    @property
    def path_interval(self):
        return np.array([0.0, self.edge[-1]])

    @property
    def waypoints(self):
        return None


def library_time(points, pace, grid_mm):
    logging.getLogger("toppra").setLevel(logging.ERROR)
    path = Rounded(points, pace)
    whole = path.edge[-1]
    grid = np.unique(np.concatenate([path.edge, np.linspace(0, whole, int(whole / grid_mm) + 1)]))
    grid = grid[np.concatenate([[True], np.diff(grid) > 1e-7])]
    grid[-1] = whole
    limits = [
        constraint.JointVelocityConstraint(np.stack([-TOP, TOP], 1)),
        constraint.JointAccelerationConstraint(
            np.stack([-LIMIT, LIMIT], 1),
            discretization_scheme=constraint.DiscretizationType.Interpolation,
        ),
    ]
    solver = TOPPRA(limits, path, gridpoints=grid, solver_wrapper="seidel")
    speed = solver.compute_parameterization(0, 0)[1]
    return (2 * np.diff(grid) / (speed[1:] + speed[:-1])).sum()


def our_time(points, tolerance_mm):
    n = len(points) - 1
    corner = np.full(n + 1, tolerance_mm)
    pace = Pace.along(points, corner, np.full(n, 1e6), TOP, LIMIT[:, None], None, silent)
    still = np.zeros(n + 1, np.bool_)
    return pace, pace.speeds_and_times(np.zeros(3), still, np.zeros(n + 1), None, silent)[1][-1]


def chords(curve, chord_mm):
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    at = np.linspace(0, along[-1], int(along[-1] / chord_mm) + 1)
    return np.stack([np.interp(at, along, curve[:, a]) for a in range(3)], axis=1)


T = np.linspace(0.0, 2 * np.pi, 100_001)
LISSAJOUS = np.stack([50 * np.sin(2 * T), 30 * np.sin(3 * T + 0.4), 2 * np.sin(5 * T)], axis=1)
HELIX = np.stack([12 * np.cos(2 * T), 12 * np.sin(2 * T), -T / np.pi], axis=1)
RNG = np.random.default_rng(1)
WANDERING = np.cumsum(RNG.normal(0.0, 2.0, (120, 3)) * [1, 1, 0.3], axis=0)
WIDE = np.cumsum(RNG.normal(0.0, 20.0, (25, 3)) * [1, 1, 0.3], axis=0)
X = np.arange(300) * 0.3
RELIEF = np.round(np.stack([X, 0 * X, 0.8 * np.sin(X / 3) + 0.2 * np.sin(X)], axis=1), 3)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # the library's own
@pytest.mark.parametrize(
    ("points", "tolerance_mm"),
    [
        pytest.param(chords(LISSAJOUS, 0.1), 0.01, id="smooth curve in chords of 0.1 mm"),
        pytest.param(chords(HELIX, 0.1), 0.01, id="helix in chords of 0.1 mm"),
        pytest.param(WANDERING, 0.05, id="short lines with sharp corners"),
        pytest.param(WIDE, 0.1, id="long lines with sharp corners"),
        pytest.param(RELIEF, 0.02, id="one line of a relief"),
    ],
)
def test_within_five_thousandths_of_time_optimal(points, tolerance_mm):
    pace, time = our_time(points, tolerance_mm)
    best = library_time(points, pace, 0.02)
    # Its grid keeps the library itself a little above the optimum: up to 0.6 % where corners are
    # as short as a few grid steps, seen by refining the grid.
    assert 0.99 <= time / best <= 1.005
