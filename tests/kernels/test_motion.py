"""The planner against closed forms, a plain reference, and the limits it must keep."""

from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

import numpy as np
import pytest

from kerfwright.kernels.motion import PARTS, look_back, plan_reference, prepare, run_forward

TOP = np.array([4000.0, 4000.0, 1200.0]) / 60.0
LIMIT = np.array([400.0, 250.0, 120.0])


@dataclass
class Planned:
    time: float
    unit: np.ndarray
    length: np.ndarray
    blend: np.ndarray
    node: np.ndarray
    speed2: np.ndarray
    node_s: np.ndarray


def run(
    points,
    feed,
    corner_mm=0.01,
    top=TOP,
    limit=LIMIT,
    jump=(0.0, 0.0, 0.0),
    stops=(),
    pieces=1,
    band=None,
    seen2=None,
):
    points = np.asarray(points, dtype=float)
    n = len(points) - 1
    feeds = np.full(n, float(feed))
    corner = np.full(n + 1, float(corner_mm))
    stop = np.zeros(n + 1, dtype=np.bool_)
    for vertex in stops:
        stop[vertex], corner[vertex] = True, 0.0
    unit, length, blend = np.empty((n, 3)), np.empty(n), np.empty(n + 1)
    node, limit = np.empty(n + 1, np.int64), limit.reshape(3, -1)
    cuts = np.linspace(0, n, pieces + 1).astype(int)
    for a, b in pairwise(cuts):
        prepare(a, b, points, corner, feeds, top, limit, unit, length, blend, node)
    speed2, node_s = np.empty(node[n] + 1), np.empty(node[n] + 1)
    path = unit, length, blend, node
    for a, b in list(pairwise(cuts))[::-1]:
        look_back(a, b, feeds, top, limit, band, np.array(jump), stop, seen2, *path, speed2)
    for a, b in pairwise(cuts):
        run_forward(a, b, feeds, top, limit, band, np.zeros(n + 1), *path, speed2, node_s)
    return Planned(node_s[-1], unit, length, blend, node, speed2, node_s)


def wandering(seed, n, step=2.0):
    rng = np.random.default_rng(seed)
    return np.cumsum(rng.normal(0.0, step, (n, 3)) * [1.0, 1.0, 0.3], axis=0)


@pytest.mark.parametrize(
    ("way_mm", "feed"), [(100.0, 40.0), (5.0, 60.0), (300.0, 200.0), (0.01, 50.0)]
)
def test_single_move_is_a_trapezoid_or_triangle(way_mm, feed):
    # Uniformly accelerated motion: s/v + v/a, or 2 sqrt(s/a) if v is never reached.
    time = run([[0, 0, 0], [way_mm, 0, 0]], feed).time
    v, a = min(feed, TOP[0]), LIMIT[0]
    expected = way_mm / v + v / a if way_mm > v * v / a else 2.0 * sqrt(way_mm / a)
    assert time == pytest.approx(expected, rel=1e-14)


def test_oblique_move_is_ruled_by_the_axis_that_tires_first():
    u = np.array([3.0, 4.0, 0.5]) / np.linalg.norm([3.0, 4.0, 0.5])
    v, a = min(60.0, (TOP / u).min()), (LIMIT / u).min()
    assert run([[0, 0, 0], u * 80.0], 60.0).time == pytest.approx(80.0 / v + v / a, rel=1e-13)


def test_cutting_a_line_into_pieces_changes_nothing():
    whole = run([[0, 0, 0], [100.0, 0, 0]], 40.0).time
    x = np.linspace(0.0, 100.0, 1001)
    pieces = run(np.stack([x, 0 * x, 0 * x], axis=1), 40.0).time
    assert pieces == pytest.approx(whole, rel=1e-5)


@pytest.mark.parametrize("radius_mm", [5.0, 20.0, 80.0])
def test_steady_speed_on_a_circle(radius_mm):
    # Centripetal acceleration v²/R at equal axis limits a: v = sqrt(a R).
    turn = np.linspace(0.0, 6 * np.pi, int(6 * np.pi * radius_mm / 0.1) + 1)
    points = np.stack([radius_mm * np.cos(turn), radius_mm * np.sin(turn), 0 * turn], axis=1)
    speed2 = run(points, 1000.0, top=np.full(3, 1e3), limit=np.full(3, 300.0)).speed2
    middle = sqrt(speed2[len(speed2) // 3])
    assert middle == pytest.approx(sqrt(300.0 * radius_mm), rel=1e-3)


@pytest.mark.parametrize("seed", range(12))
def test_kernel_equals_reference(seed):
    rng = np.random.default_rng(seed)
    points = wandering(seed, 40, step=rng.choice([0.2, 2.0, 20.0]))
    corner = rng.choice([0.005, 0.05, 0.5])
    feed = rng.choice([20.0, 60.0, 1e9])
    time = run(points, feed, corner).time
    n = len(points) - 1
    expected = plan_reference(points, np.full(n + 1, corner), np.full(n, feed), TOP, LIMIT)
    assert time == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize("seed", range(6))
def test_no_axis_is_asked_for_more_than_it_has(seed):
    points = wandering(seed, 4000, step=1.0)
    done = run(points, 1e9, 0.02)
    x, unit, first, last = done.speed2, done.unit, done.node[1:-1], done.node[2:] - 1
    parts = last - first
    assert set(parts.tolist()) <= set(range(1, PARTS + 1))
    assert parts.max() == PARTS
    vertex = np.repeat(np.arange(1, len(unit)), parts)
    nth = np.arange(len(vertex)) - np.repeat(np.cumsum(parts) - parts, parts)
    begins = np.repeat(first, parts) + nth
    way = (2 * done.blend[1:-1] / parts).repeat(parts)
    bend = (unit[vertex] - unit[vertex - 1]) / (2 * done.blend[vertex])[:, None]
    u = ((x[begins + 1] - x[begins]) / (2 * way))[:, None]
    for k in (0, 1):
        slope = unit[vertex - 1] + bend * ((nth + k) * way)[:, None]
        at = x[begins + k][:, None]
        assert (np.abs(slope * u + bend * at) <= LIMIT * (1 + 1e-5)).all()
        assert (np.abs(slope) * np.sqrt(at) <= TOP * (1 + 1e-9)).all()
    straight = done.length - done.blend[:-1] - done.blend[1:]
    ends, begins = x[done.node[1:]], x[done.node[1:] - 1]
    begins[1:] = x[last]
    begins[0] = x[0]
    tangent = np.abs(ends - begins) / (2 * np.maximum(straight, 1e-9))
    assert ((tangent[:, None] * np.abs(unit))[straight > 1e-6] <= LIMIT * (1 + 1e-5)).all()
    assert (np.abs(unit) * np.sqrt(begins)[:, None] <= TOP * (1 + 1e-9)).all()


def test_ranges_do_not_matter():
    points = wandering(3, 500)
    one, many = run(points, 50.0), run(points, 50.0, pieces=7)
    assert np.array_equal(one.speed2, many.speed2)
    assert np.array_equal(one.node_s, many.node_s)


def test_stop_costs_the_time_of_two_moves():
    corner = [[0, 0, 0], [50, 0, 0], [50, 50, 0]]
    stopping = run(corner, 40.0, stops=[1]).time
    assert stopping == pytest.approx(
        run(corner[:2], 40.0).time + run([corner[1], corner[2]], 40.0).time, rel=1e-13
    )
    assert run(corner, 40.0, 0.02).time < stopping


def test_speed_step_at_a_corner():
    # A right-angled corner taken at v asks each axis for a jump of v.
    points = [[0, 0, 0], [50, 0, 0], [50, 50, 0]]
    speed2 = run(points, 40.0, corner_mm=0.0, jump=(5.0, 3.0, 1.0)).speed2
    assert sqrt(speed2[1]) == pytest.approx(3.0)
    assert speed2[1] == speed2[2]
