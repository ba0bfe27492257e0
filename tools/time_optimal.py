"""A planned pace beside a general library of time-optimal path tracking, on the very same path.

toppra (MIT licence; Pham and Pham, IEEE Trans. Robotics 34(3), 2018, on reachability analysis)
solves on a grid along the path; the finer its grid, the nearer it comes to the optimum.
"""

import logging

import numpy as np
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
    """Time of the same path by the library, on a grid of so many mm."""
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


def our_pace(points, tolerance_mm):
    """Pace through the points, corners rounded within a tolerance, and its speed² at the nodes."""
    pace, (speed2, _) = _planned(points, tolerance_mm)
    return pace, speed2


def our_time(points, tolerance_mm):
    """The same, and its time."""
    pace, (_, node_s) = _planned(points, tolerance_mm)
    return pace, node_s[-1]


def _planned(points, tolerance_mm):
    n = len(points) - 1
    corner = np.full(n + 1, tolerance_mm)
    pace = Pace.along(points, corner, np.full(n, 1e6), TOP, LIMIT[:, None], None, silent)
    still = np.zeros(n + 1, np.bool_)
    return pace, pace.speeds_and_times(np.zeros(3), still, np.zeros(n + 1), None, silent)


def chords(curve, chord_mm):
    """A curve, given by close points, as chords of a length."""
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1))])
    at = np.linspace(0, along[-1], int(along[-1] / chord_mm) + 1)
    return np.stack([np.interp(at, along, curve[:, a]) for a in range(3)], axis=1)


def largest_share(unit, blend_mm, length_mm, node, speed2):
    """Greatest axis acceleration at any piece's end, as a share of its limit."""
    first, last = node[1:-1], node[2:] - 1
    parts = last - first
    vertex = np.repeat(np.arange(1, len(length_mm)), parts)
    nth = np.arange(len(vertex)) - np.repeat(np.cumsum(parts) - parts, parts)
    begin = np.repeat(first, parts) + nth
    rounded = blend_mm[vertex] > 0.0
    vertex, nth, begin = vertex[rounded], nth[rounded], begin[rounded]
    way = 2 * blend_mm[vertex] / (node[vertex + 1] - 1 - node[vertex])
    bend = (unit[vertex] - unit[vertex - 1]) / (2 * blend_mm[vertex])[:, None]
    u = ((speed2[begin + 1] - speed2[begin]) / (2 * way))[:, None]
    most = 0.0
    for k in (0, 1):
        slope = unit[vertex - 1] + bend * ((nth + k) * way)[:, None]
        pull = np.abs(slope * u + bend * speed2[begin + k][:, None])
        most = max(most, float((pull / LIMIT).max(initial=0.0)))
    straight = length_mm - blend_mm[:-1] - blend_mm[1:]
    tangent = np.abs(speed2[node[1:]] - speed2[node[1:] - 1]) / (2 * np.maximum(straight, 1e-9))
    pull = (tangent[:, None] * np.abs(unit))[straight > 1e-6]
    return max(most, float((pull / LIMIT).max(initial=0.0)))
